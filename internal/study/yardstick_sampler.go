package study

import (
	"math"
	"math/rand/v2"
	"sort"
)

// target is a density to sample: known up to a constant as
//
//	log density = reference(x) + ratio(x)
//
// where the reference is one that can be drawn from directly.
type target struct {
	d         int
	draw      func(r *rand.Rand, x []float64)
	reference func(x []float64) float64
	ratio     func(x []float64) float64 // -Inf outside
	normal    []bool                    // coordinates whose reference is N(0,1)
	feature   featureFunc               // for the warp
}

// particle is one point with its two logs.
type particle struct {
	x          []float64
	ref, ratio float64
}

func (p *particle) set(q *particle) {
	copy(p.x, q.x)
	p.ref, p.ratio = q.ref, q.ratio
}

func newParticle(d int) *particle { return &particle{x: make([]float64, d)} }

// sampler holds what the moves need.
type sampler struct {
	t       *target
	r       *rand.Rand
	warp    *warp
	archive [][]float64 // rests to take differences of
	factor  *factor     // of the archive's covariance
	scale   float64     // of the walk
	guess   *mixture    // independent proposals; nil: none yet
	trial   *particle
	at, to  []float64 // rests of the present point and of the trial
	tried   [moves]int
	taken   [moves]int
	calls   int
}

// The kinds of move.
const (
	moveWalk        = iota // normal step of the archive's covariance
	moveDifference         // step along differences of the archive (ter Braak 2006)
	movePrior              // some coordinates moved within their prior, the tight ones following
	moveIndependent        // fresh point from the mixture
	moves
)

func newSampler(t *target, r *rand.Rand) *sampler {
	return &sampler{t: t, r: r, scale: 1, trial: newParticle(t.d), warp: newWarp(t.d, t.feature), at: make([]float64, t.d), to: make([]float64, t.d)}
}

// evaluate fills in a particle's logs.
func (s *sampler) evaluate(p *particle) {
	p.ref = s.t.reference(p.x)
	p.ratio = s.t.ratio(p.x)
	s.calls++
}

// learn takes the warp, the archive and its covariance from points of the
// target.
func (s *sampler) learn(points [][]float64, population int) {
	s.warp.learn(points, population)
	s.archive = s.archive[:0]
	for _, p := range points {
		rest := make([]float64, len(p))
		s.warp.rests(p, rest)
		s.archive = append(s.archive, rest)
	}
	_, cov := moments(s.archive)
	s.factor = newFactor(cov)
}

// step moves p once at the temperature beta, leaving the density
// exp(reference + beta ratio) as it is.
func (s *sampler) step(p *particle, beta float64) {
	u := s.r.Float64()
	kind := moveWalk
	switch {
	case s.guess != nil && u < 0.45:
		kind = moveIndependent
	case u > 0.75:
		kind = movePrior
	case u > 0.6:
		kind = moveDifference
	}
	s.tried[kind]++
	q := s.trial
	d := s.t.d
	logs := 0.0 // log of the proposal's backward over forward density
	s.warp.rests(p.x, s.at)
	switch kind {
	case moveWalk:
		step := s.scale * 2.38 / math.Sqrt(float64(d))
		if s.r.IntN(4) == 0 {
			step *= 0.25
		}
		s.factor.draw(s.r, s.at, step, s.to)
		s.warp.points(s.to, q.x)
	case moveDifference:
		a, b := s.archive[s.r.IntN(len(s.archive))], s.archive[s.r.IntN(len(s.archive))]
		gamma := 1.0
		if s.r.IntN(5) > 0 {
			gamma = 2.38 / math.Sqrt(2*float64(d)) * math.Exp(0.8*s.r.NormFloat64()-0.3)
		}
		for k := range s.to {
			s.to[k] = s.at[k] + gamma*(a[k]-b[k])
		}
		s.warp.points(s.to, q.x)
	case movePrior:
		logs = s.priorMove(p, q)
	case moveIndependent:
		s.guess.draw(s.r, s.to)
		s.warp.points(s.to, q.x)
		logs = s.guess.log(s.at) - s.guess.log(s.to)
	}
	s.evaluate(q)
	gain := q.ref - p.ref + beta*(q.ratio-p.ratio) + logs
	if gain >= 0 || s.r.Float64() < math.Exp(gain) {
		p.set(q)
		s.taken[kind]++
	}
}

// priorMove proposes new values of a few coordinates, reversibly within their
// prior N(0,1); those behind them that follow in the warp keep their rests. It
// returns the log of the proposal's backward over forward density.
func (s *sampler) priorMove(p, q *particle) (logs float64) {
	w := s.warp
	b := [...]float64{1, 0.6, 0.25, 0.1}[s.r.IntN(4)]
	some := [...]float64{0, 0.2, 0.6}[s.r.IntN(3)]
	sure := s.r.IntN(w.first)
	if s.r.IntN(4) == 0 {
		sure = s.r.IntN(len(w.order) - 1)
		some = 0
	}
	for pos, k := range w.order {
		x := s.at[k] + w.follow(pos)
		if (pos == sure || pos < w.first && s.r.Float64() < some) && s.t.normal[k] {
			x = math.Sqrt(1-b*b)*p.x[k] + b*s.r.NormFloat64()
			logs += (x*x - p.x[k]*p.x[k]) / 2
		}
		q.x[k] = x
		w.see(pos, q.x)
	}
	return logs
}

// anneal brings a population from the reference to the target by sequential
// Monte Carlo (Del Moral, Doucet and Jasra 2006): the ratio is raised from
// nothing to its full weight in stages, each chosen so that the weights keep
// half of the population alive, then the population is drawn anew by weight and
// moved. Starting from all of the prior, it finds every mode of weight. Nil if
// the target is nowhere above zero.
func (s *sampler) anneal(population, sweeps int) (particles []*particle, stages int) {
	particles = make([]*particle, population)
	for i := range particles {
		p := newParticle(s.t.d)
		s.t.draw(s.r, p.x)
		s.evaluate(p)
		particles[i] = p
	}
	if math.IsInf(best(particles).ratio, -1) {
		return nil, 0
	}
	beta := 0.0
	weights := make([]float64, population)
	for beta < 1 {
		stages++
		next := nextTemperature(particles, beta, 0.5, weights)
		particles = resample(s.r, particles, weights)
		beta = next
		points := make([][]float64, population)
		for i, p := range particles {
			points[i] = append([]float64(nil), p.x...)
		}
		for half := range 2 {
			if half == 1 {
				for i, p := range particles {
					copy(points[i], p.x)
				}
			}
			s.learn(points, population)
			s.guess = fitMixture(s.r, s.archive, 1, 0)
			for range (sweeps + 1) / 2 {
				tried, taken := s.tried[moveWalk], s.taken[moveWalk]
				for _, p := range particles {
					s.step(p, beta)
				}
				if n := s.tried[moveWalk] - tried; n > 0 {
					rate := float64(s.taken[moveWalk]-taken) / float64(n)
					s.scale = math.Min(math.Max(s.scale*math.Exp(0.3*(rate-0.25)/0.25), 0.02), 2)
				}
			}
		}
		if stages > 400 {
			break
		}
	}
	return particles, stages
}

// nextTemperature finds the next beta at which the effective number of
// particles is the given part, and the weights for it.
func nextTemperature(ps []*particle, beta, part float64, weights []float64) float64 {
	weigh := func(b float64) float64 {
		best := math.Inf(-1)
		for _, p := range ps {
			best = math.Max(best, p.ratio)
		}
		var s1, s2 float64
		for i, p := range ps {
			w := math.Exp((b - beta) * (p.ratio - best))
			weights[i] = w
			s1 += w
			s2 += w * w
		}
		return s1 * s1 / s2 / float64(len(ps))
	}
	if weigh(1) >= part {
		return 1
	}
	lo, hi := 0.0, 1-beta
	for range 60 {
		mid := (lo + hi) / 2
		if weigh(beta+mid) >= part {
			lo = mid
		} else {
			hi = mid
		}
	}
	step := math.Max(hi, 1e-9)
	weigh(beta + step)
	return beta + step
}

// resample draws the population anew by weight (systematic).
func resample(r *rand.Rand, ps []*particle, weights []float64) []*particle {
	sum := 0.0
	for _, w := range weights {
		sum += w
	}
	out := make([]*particle, 0, len(ps))
	u, acc, i := r.Float64(), weights[0]/sum*float64(len(ps)), 0
	for k := range ps {
		for acc < u+float64(k) && i < len(ps)-1 {
			i++
			acc += weights[i] / sum * float64(len(ps))
		}
		p := newParticle(len(ps[i].x))
		p.set(ps[i])
		out = append(out, p)
	}
	return out
}

// weighted is one value with its weight.
type weighted struct{ value, weight float64 }

// quantiles returns those of weighted values, which it sorts.
func quantiles(w []weighted, at ...float64) []float64 {
	sort.Slice(w, func(i, j int) bool { return w[i].value < w[j].value })
	sum := 0.0
	for _, x := range w {
		sum += x.weight
	}
	out := make([]float64, len(at))
	acc, k := 0.0, 0
	for _, x := range w {
		acc += x.weight
		for k < len(at) && acc >= at[k]*sum {
			out[k] = x.value
			k++
		}
	}
	for ; k < len(at); k++ {
		out[k] = w[len(w)-1].value
	}
	return out
}

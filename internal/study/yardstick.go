package study

import (
	"fmt"
	"math"
	"math/rand/v2"

	"seatproof/rig"
	"seatproof/trace"
)

// BruteOptions sets how hard the yardstick works. The zero value is a full run.
type BruteOptions struct {
	Seed uint64
	// Effective is the effective number of draws of ln q to reach (0: 4,000),
	// Calls the number of computed holds after which it gives up (0: 800,000).
	Effective float64
	Calls     int
	// Population is the number of particles that anneal from the prior (0: 800),
	// Sweeps how often each is moved at a stage (0: 6).
	Population, Sweeps int
	// Doubt is the doubt of the shut-off [samples either side] (0: 2).
	Doubt float64
	// Dry takes a port that was said to be dry at its word: then no vapour beyond
	// a half-normal of 100 Pa.
	Dry bool
}

func (o BruteOptions) filled() BruteOptions {
	if o.Effective == 0 {
		o.Effective = 4000
	}
	if o.Calls == 0 {
		o.Calls = 800_000
	}
	if o.Population == 0 {
		o.Population = 800
	}
	if o.Sweeps == 0 {
		o.Sweeps = 6
	}
	if o.Doubt == 0 {
		o.Doubt = 2
	}
	return o
}

// Yardstick is the brute-force posterior of one trace's leak.
type Yardstick struct {
	Median, Low, High float64 // m³/s of free air at 50 kPa, equal-tailed 95 %
	Upper             float64 // m³/s, 95 % quantile
	Share             struct {
		Median, Low, High         float64 // equal-tailed 95 %
		ShortestLow, ShortestHigh float64 // shortest 95 %
		UnderFifth, OverFourFifth float64 // chances of s < 0.2 and s > 0.8
	}
	Tau float64 // s, median

	RHat      float64                                                // split R-hat of ln q/V over the chains, about 1
	Effective float64                                                // effective number of draws of ln q/V
	Tails     float64                                                // the same for the worse of its 2.5 and 97.5 % quantiles
	ShareRHat float64                                                // of the share's coordinate
	Converged bool                                                   // R-hats under 1.02, and 400 effective draws in the bulk and in the tails
	Calls     int                                                    // holds computed
	Stages    int                                                    // of annealing
	Taken     struct{ Walk, Difference, Prior, Independent float64 } // parts of the moves that were
	Samples   int                                                    // points of the hold in the fit
	Noise     float64                                                // Pa
	ChiSquare float64                                                // reduced, of the best draw, where the noise is normal; else 0
}

// chains is how many chains the last part runs, from starts that the annealing
// left all over the posterior.
const chains = 8

// Brute returns the posterior of the leak behind one trace by brute force:
// every held sample, the full model of docs/model.md §3 with all nuisances of
// §4 as free figures (law, edge, load, wall, conduction, vapour, gauge, lag,
// shut-off, air, volumes, rig leak), no bins, no linearisation, no normal approximation.
// It was written apart from the estimator and shares nothing with it but the
// gas laws; it is told where the shut-off is, within o.Doubt samples.
//
// A population is annealed from the prior to the posterior; it teaches the
// moves, and starts eight chains of Metropolis moves from all over it. The
// volume only turns q/V into q, so it is integrated out and drawn at the end.
//
// It takes 6 to 20 s for most traces on one core, and a minute or two for long
// dense ones of little noise. It needs a rig that states both volumes, rig
// leak, accuracy, span, air pressure and temperature, and a vented trace of
// single samples; else an error says what is missing. A result that is not
// Converged is returned as such, without an error.
func Brute(t Truth, g rig.Rig, tr *trace.Trace, o BruteOptions) (Yardstick, error) {
	o = o.filled()
	rec, err := recordingOf(t, tr, o.Doubt)
	if err != nil {
		return Yardstick{}, err
	}
	b, err := newBelief(&g, rec, o.Doubt, o.Dry)
	if err != nil {
		return Yardstick{}, err
	}
	r := rand.New(rand.NewPCG(o.Seed, 1))
	var w curve
	var f figures
	centre := rec.roughTotal(b)
	const wide = 1.0
	tg := &target{d: b.dimension(), normal: make([]bool, b.dimension())}
	for k := range tg.normal {
		tg.normal[k] = k != atTotal
	}
	tg.feature = b.feature
	tg.draw = func(r *rand.Rand, x []float64) {
		for k := range x {
			x[k] = r.NormFloat64()
		}
		x[atTotal] = centre + wide*x[atTotal]
	}
	tg.reference = func(x []float64) float64 {
		u := (x[atTotal] - centre) / wide
		s := u * u
		for _, v := range x[1:] {
			s += v * v
		}
		return -s / 2
	}
	tg.ratio = func(x []float64) float64 {
		for _, v := range x {
			if math.IsNaN(v) {
				return math.Inf(-1)
			}
		}
		if math.Abs(x[atTotal]-centre) > 8 || !b.figures(x, &f) {
			return math.Inf(-1)
		}
		w.run(&f.conduct, rec.end+b.doubt, 0.5*math.Max(1000, 0.03*f.start))
		u := (x[atTotal] - centre) / wide
		l := rec.logLikelihood(&w, f.gauge, f.start, f.late) + f.log + u*u/2
		if math.IsNaN(l) {
			return math.Inf(-1)
		}
		return l
	}
	s := newSampler(tg, r)
	ps, stages := s.anneal(o.Population, o.Sweeps)
	if ps == nil {
		return Yardstick{}, fmt.Errorf("yardstick: no draw of the prior is possible: check rig against trace")
	}
	if rec.chance.quantised {
		// noise under half a step is better judged against a curve than by
		// differences: once more, now that there is a curve
		rec.setNoise(rec.bestNoise(best(ps), b))
		b.zero, b.start = rec.zero, rec.start
		b.startSD = math.Hypot(rec.start.sd, 0.0005*(rec.start.mean-rec.zero.mean))
		for _, p := range ps {
			s.evaluate(p)
		}
		for range 10 {
			for _, p := range ps {
				s.step(p, 1)
			}
		}
	}
	y := Yardstick{Stages: stages, Samples: len(rec.time), Noise: rec.chance.noise}
	// a chain may come on a thin tail that the moves were not taught: then they
	// learn more from the population, and the chains start anew
	first := o
	first.Calls = o.Calls / 2
	s.teach(ps, first)
	draws, ok := s.chains(ps, first)
	if !ok {
		s.teach(ps, o)
		draws, _ = s.chains(ps, o)
	}
	y.summarise(draws, b, r)
	if !rec.chance.quantised {
		p := best(ps)
		b.figures(p.x, &f)
		w.run(&f.conduct, rec.end+b.doubt, 500)
		y.ChiSquare = -2 * rec.logLikelihood(&w, f.gauge, f.start, f.late) / float64(len(rec.time))
	}
	y.Calls = s.calls
	rate := func(k int) float64 { return float64(s.taken[k]) / math.Max(1, float64(s.tried[k])) }
	y.Taken.Walk, y.Taken.Difference, y.Taken.Prior, y.Taken.Independent = rate(moveWalk), rate(moveDifference), rate(movePrior), rate(moveIndependent)
	y.Converged = y.RHat < 1.02 && y.ShareRHat < 1.02 && math.Min(y.Effective, y.Tails) >= 400
	if !(y.Median > 0) || math.IsInf(y.High, 0) || math.IsNaN(y.High) {
		return y, fmt.Errorf("yardstick: no finite posterior: median %g, high %g m³/s", y.Median, y.High)
	}
	return y, nil
}

func best(ps []*particle) *particle {
	b := ps[0]
	for _, p := range ps {
		if p.ref+p.ratio > b.ref+b.ratio {
			b = p
		}
	}
	return b
}

// roughTotal returns a first guess of the log of the leak over the volume
// [1/s], from the whole fall as a seep: only the centre of a wide start.
func (r *recording) roughTotal(b *belief) float64 {
	n := len(r.value)
	k := max(1, n/20)
	var lost, time float64
	for i := range k {
		lost += (r.value[i] - r.value[n-1-i]) / float64(k)
		time += (r.time[n-1-i] - r.time[i]) / float64(k)
	}
	mean := (r.value[0]+r.value[n-1])/2 - r.zero.mean
	rate := math.Max(lost, 20) / time / b.pressure
	d := mean * (2*b.pressure - mean) / (50e3 * (2*b.pressure - 50e3))
	return math.Log(math.Max(rate/math.Max(d, 0.1), 1.05*b.rigMean/b.volume))
}

// bestNoise returns the noise [Pa] that makes the samples likeliest about the
// particle's curve and about constant levels before it.
func (r *recording) bestNoise(p *particle, b *belief) float64 {
	var f figures
	var w curve
	b.figures(p.x, &f)
	w.run(&f.conduct, r.end+b.doubt, 500)
	keep := r.chance
	defer func() { r.chance = keep }()
	top, noise := math.Inf(-1), keep.noise
	for k := range 161 {
		n := r.step * 0.1 * math.Pow(5, float64(k)/160)
		r.chance = newChanceTable(math.Min(n, 0.499*r.step), r.step)
		l := r.logLikelihood(&w, f.gauge, f.start, f.late)
		for _, flat := range [][]float64{r.vented, r.steady} {
			at := levelOf(flat, r.chance)
			for _, v := range flat {
				l += r.chance.log(v - at.mean)
			}
		}
		if l > top {
			top, noise = l, r.chance.noise
		}
	}
	return noise
}

// draw is what is kept of one step of a chain, as coordinates.
type draw struct{ total, rig, share, tau float64 }

// teach moves the population on, round after round, and lets the warp and the
// guess learn from it, until it spreads no further and the guess is taken as
// often as it will be. What it leaves is then kept fixed: a chain whose moves
// learn from its own past does not settle on the right density.
func (s *sampler) teach(ps []*particle, o BruteOptions) {
	const (
		sweeps, keep = 12, 3 // of a round, and each how many-th is learnt from
		rounds       = 4     // learnt from together
		young        = 6     // rounds in which the last one only is
		least, most  = 9, 40 // rounds
	)
	var points [][]float64
	var before [][]float64
	last, flat := 0.0, 0
	for k := range most {
		points = points[max(0, len(points)-(rounds-1)*len(ps)*sweeps/keep):]
		if k < young {
			points = nil
		}
		s.tried, s.taken = [moves]int{}, [moves]int{}
		for i := range sweeps {
			for _, p := range ps {
				s.step(p, 1)
			}
			if i%keep == keep-1 {
				for _, p := range ps {
					points = append(points, append([]float64(nil), p.x...))
				}
			}
		}
		rate := float64(s.taken[moveIndependent]) / math.Max(1, float64(s.tried[moveIndependent]))
		s.learn(points, len(ps))
		s.guess = fitMixture(s.r, s.archive, 1+min(5, len(points)/2000), 15)
		_, cov := moments(points)
		if settled(cov, before) && rate < 1.05*last {
			flat++
		}
		before, last = cov, math.Max(last, rate)
		if flat >= 3 && k+1 >= least || s.calls > o.Calls*2/3 {
			break
		}
	}
}

// settled says whether no coordinate's spread grew by more than a twenty-fifth.
func settled(cov, before [][]float64) bool {
	for k := range before {
		if cov[k][k] > 1.08*before[k][k] {
			return false
		}
	}
	return before != nil
}

// chains moves eight chains from the population, in blocks, until they are
// worth enough independent draws; false if they were not by o.Calls.
func (s *sampler) chains(ps []*particle, o BruteOptions) ([][]draw, bool) {
	s.tried, s.taken = [moves]int{}, [moves]int{}
	order := s.r.Perm(len(ps))
	state := make([]*particle, chains)
	out := make([][]draw, chains)
	flow, share := make([][]float64, chains), make([][]float64, chains)
	for c := range chains {
		state[c] = newParticle(s.t.d)
		state[c].set(ps[order[c]])
	}
	block := max(100, min(2500, o.Calls/160))
	for {
		for c, p := range state {
			for range block {
				s.step(p, 1)
				d := draw{total: p.x[atTotal], rig: p.x[atRig], share: p.x[atShare], tau: p.x[atTau]}
				out[c] = append(out[c], d)
				flow[c] = append(flow[c], d.total)
				share[c] = append(share[c], d.share)
			}
		}
		if effectiveSize(flow) >= o.Effective && effectiveSize(share) >= o.Effective/4 && tailSize(flow) >= o.Effective/4 && splitRHat(flow) < 1.01 {
			return out, true
		}
		if s.calls >= o.Calls {
			return out, false
		}
	}
}

// summarise turns the chains into the yardstick's figures. Each draw of q/V
// meets four volumes, weighted by what the draw says of them.
func (y *Yardstick) summarise(out [][]draw, b *belief, r *rand.Rand) {
	var flow, share, tau []weighted
	logFlow := make([][]float64, len(out))
	coordinate := make([][]float64, len(out))
	low, high := 0.0, 0.0
	x := make([]float64, b.dimension())
	var f figures
	for c, ds := range out {
		for i, d := range ds {
			x[atTotal], x[atRig] = d.total, d.rig
			if !b.figures(x, &f) {
				f.rig, f.total = 0, math.Exp(d.total)
			}
			logFlow[c] = append(logFlow[c], math.Log(f.total-f.rig))
			coordinate[c] = append(coordinate[c], d.share)
			s := shareQuantile(normalCDF(d.share))
			share = append(share, weighted{s, 1})
			if s < 0.2 {
				low++
			}
			if s > 0.8 {
				high++
			}
			if i%4 == 0 {
				tau = append(tau, weighted{math.Sqrt(0.1) * math.Exp(math.Log(2/0.05)/2/z95*d.tau), 1})
			}
			sum := b.volumeFactor(f.rig)
			for range 4 {
				v := b.drawVolume(r)
				q := v * (f.total - f.rig)
				if b.rigSD == 0 {
					q = v*f.total - b.rigMean
				}
				flow = append(flow, weighted{math.Max(q, 0), b.tilt(v, f.rig) / sum})
			}
		}
	}
	q := quantiles(flow, 0.025, 0.5, 0.95, 0.975)
	y.Low, y.Median, y.Upper, y.High = q[0], q[1], q[2], q[3]
	q = quantiles(share, 0.025, 0.5, 0.975)
	y.Share.Low, y.Share.Median, y.Share.High = q[0], q[1], q[2]
	n := float64(len(share))
	y.Share.UnderFifth, y.Share.OverFourFifth = low/n, high/n
	keep := int(math.Ceil(0.95 * n))
	width := math.Inf(1)
	for i := 0; i+keep-1 < len(share); i++ {
		if d := share[i+keep-1].value - share[i].value; d < width {
			width = d
			y.Share.ShortestLow, y.Share.ShortestHigh = share[i].value, share[i+keep-1].value
		}
	}
	y.Tau = quantiles(tau, 0.5)[0]
	y.RHat, y.Effective = splitRHat(logFlow), effectiveSize(logFlow)
	y.ShareRHat, y.Tails = splitRHat(coordinate), tailSize(logFlow)
}

package leak

import (
	"math"
	"slices"
	"sort"
)

// slowLeak is the leak over the volume [1/s] below which one start is enough.
const slowLeak = 0.04

// settle finds the posterior of a hold. Where the wall's heat shows, it is taken
// both as a film's alone and with a part by conduction, and the wall time
// constant is walked along its range, each step linearised anew: one Gaussian
// does not hold for it. Summits that fit nearly as well share the range.
func (f *fit) settle() *posterior {
	post := &posterior{f: f, scale: 1, best: math.Inf(-1)}
	tops := f.search()
	parts := loadParts(f.k.held)
	for _, part := range parts {
		if len(parts) > 1 {
			f.load = part
			for i := range tops {
				tops[i].load = part.mean
			}
			tops = f.climbOn(tops, 12)
		}
		if f.settleWall(post, tops, false) {
			film := slices.Clone(tops)
			for i := range film {
				film[i].mix = 0
			}
			f.settleWall(post, film, true)
		}
	}
	post.integrate()
	return post
}

// filmPrior is the prior probability that the wall's heat goes through a film
// alone, one exponential; else conduction's part of it is anything from 0 to 1.
const filmPrior = 0.5

// settleWall adds the parts of one kind of wall, from points near its summits. It
// returns whether the wall's heat moves the leak: if not, one kind will do.
func (f *fit) settleWall(post *posterior, tops []point, film bool) (matters bool) {
	f.film = film
	defer func() { f.film, f.logTau, f.tauSD = false, priorLogTau, priorLogTauSD }()
	prior := math.Log(f.load.weight * (1 - filmPrior))
	if film {
		prior = math.Log(f.load.weight * filmPrior)
		tops = f.climbOn(tops, 10)
	}
	best := math.Inf(-1)
	for i, p := range tops {
		// each summit has the range up to halfway to its neighbours
		lo, hi := math.Log(0.01), math.Log(6)
		if i > 0 {
			lo = (tops[i-1].logT + p.logT) / 2
		}
		if i < len(tops)-1 {
			hi = (tops[i+1].logT + p.logT) / 2
		}
		f.logTau, f.tauSD = priorLogTau, priorLogTauSD
		l := f.linearise(p)
		sd, moves := f.tauDoubt(l, &p)
		if len(tops) == 1 && moves < 0.015 {
			post.parts = append(post.parts, part{l: l, film: film, prior: prior})
			return false
		}
		if len(tops) == 1 && sd < 0.02 {
			post.parts = append(post.parts, part{l: l, film: film, prior: prior})
			continue
		}
		f.walkTau(post, walk{p, math.Max(sd, 0.02), lo, hi, prior}, &best)
	}
	return true
}

// tauDoubt returns the posterior sd of the logarithm of tau, and how much of
// the leak it moves.
func (f *fit) tauDoubt(l *linear, p *point) (sd, moves float64) {
	g := f.gaussian(l, p, 2)
	i := own + colTau - kept
	c, ok := inverseColumn(gaussSize, i, func(a, b int) float64 { return g.m[a][b] })
	if !ok || c[i] <= 0 {
		return 0, 0
	}
	sd = math.Sqrt(c[i])
	return sd, math.Abs(c[iA]) / sd / math.Max(p.a, 1e-9)
}

// walk is a way along the logarithm of tau, from a summit.
type walk struct {
	from   point
	sd     float64 // of the logarithm of tau there
	lo, hi float64
	prior  float64
}

// walkTau adds parts along the logarithm of tau, a step of its doubt apart, until
// they no longer count beside the best: the prior as a sum of normal pieces, each
// half a step wide.
func (f *fit) walkTau(post *posterior, w walk, best *float64) {
	step := math.Min(1.5*w.sd, 0.5)
	mid := w.from.logT
	add := func(p point, logT float64) (point, float64) {
		f.logTau, f.tauSD = logT, step/2
		p.logT = logT
		q, _ := f.improve(p, 3)
		x := (logT - priorLogTau) / priorLogTauSD
		prior := w.prior - x*x/2 + math.Log(step/(math.Sqrt(2*math.Pi)*priorLogTauSD)) - math.Log(step/2)
		post.parts = append(post.parts, part{l: f.linearise(q), film: f.film, prior: prior})
		z := post.integratePart(len(post.parts) - 1)
		*best = math.Max(*best, z)
		return q, z
	}
	q0, _ := add(w.from, mid)
	for _, way := range []float64{1, -1} {
		q := q0
		for k := 1; k <= 7; k++ {
			logT := mid + way*step*float64(k)
			if logT < w.lo || logT > w.hi {
				break
			}
			var z float64
			q, z = add(q, logT)
			if z < *best-6 {
				break
			}
		}
	}
}

// start is where a search begins.
type start struct{ tau, share, inertia float64 }

// starts of the search: with one alone it can end in a false summit, a wall time
// constant of seconds with a flow 15 to 25 % low, or the mirror of that.
var starts = [...]start{{0.2, 0.5, 0.5}, {0.2, 0.02, 0.1}, {0.6, 0.9, 0.5}, {2, 0.3, 0.3}}

// search returns the summits: a climb in the parameters that matter most from
// each start, then one in all; those that fit nearly as well as the best, in
// order of tau.
func (f *fit) search() []point {
	var tops []point
	for i, s := range starts {
		b := f.begin(s.tau)
		b.s = s.share
		b.inert = f.inertia * s.inertia
		q, _ := f.climb(b, 12)
		same := false
		for _, t := range tops {
			same = same || math.Abs(t.logT-q.logT) < 0.1 && math.Abs(t.s-q.s) < 0.1
		}
		if !same {
			tops = append(tops, q)
		}
		// a slow leak has no false summits
		if i == 0 && q.a < slowLeak {
			break
		}
	}
	tops = f.climbOn(tops, 12)
	tops = f.loosen(tops)
	if len(tops) == 1 {
		tops[0] = f.sharpenVapour(tops[0])
	}
	return tops
}

// climbOn climbs from each point in everything at once, and returns the summits
// that count, in order of tau, at least a third of its logarithm apart.
func (f *fit) climbOn(from []point, rounds int) []point {
	type summit struct {
		p point
		c float64
	}
	var all []summit
	best := math.Inf(1)
	for _, t := range from {
		q, c := f.improve(t, rounds)
		all = append(all, summit{q, c})
		best = math.Min(best, c)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].c < all[j].c })
	var tops []point
	for _, s := range all {
		if s.c > best+14 {
			break
		}
		same := false
		for _, t := range tops {
			same = same || math.Abs(t.logT-s.p.logT) < 0.35
		}
		if !same {
			tops = append(tops, s.p)
		}
	}
	sort.SliceStable(tops, func(i, j int) bool { return tops[i].logT < tops[j].logT })
	return tops
}

// sharpenVapour finds the time constant of a vapour that shows so clearly that
// the coarse ones would not fit it, and sets the fit's own about it.
func (f *fit) sharpenVapour(p point) point {
	info := 0.0
	for i, b := range f.hold.bins {
		x := (1 - math.Exp(-b.time/p.tauV)) * f.weight[i]
		info += x * x
	}
	if p.vap*math.Sqrt(info) < 15 { // its own standard deviations
		return p
	}
	try := func(logTau float64) (point, float64) {
		f.vapTau[vapourTaus/2] = math.Exp(logTau)
		return f.improve(p, 6)
	}
	at := math.Log(p.tauV)
	_, best := try(at)
	for k := range 9 {
		if q, c := try(math.Log(f.fades.longest) * float64(k) / 8); c < best {
			p, best, at = q, c, math.Log(f.fades.longest)*float64(k)/8
		}
	}
	for step := 0.25; step > 0.01; step /= 2 {
		for _, way := range []float64{-1, 1} {
			if q, c := try(at + way*step); c < best {
				p, best, at = q, c, at+way*step
				break
			}
		}
	}
	// how far it may lie on either side: where the fit is worse by 1
	side := func(way float64) float64 {
		const least, most = 0.005, 1.5
		for d := 0.02; d < most; d *= 2 {
			if _, c := try(at + way*d); c > best+0.3 {
				return math.Min(most, math.Max(least, d/math.Sqrt(c-best)))
			}
		}
		return most
	}
	down, up := side(-1), side(1)
	for k, x := range [vapourTaus]float64{-1.4, -0.6, 0, 0.6, 1.4} {
		if x < 0 {
			x *= down
		} else {
			x *= up
		}
		f.vapTau[k] = math.Exp(at + x)
	}
	return p
}

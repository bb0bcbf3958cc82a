package leak

import "math"

// starts are the wall time constants [s] that the search starts from: one alone
// can end in a false minimum.
var starts = [...]float64{0.15, 0.4, 1.2}

// slowLeak is the leak over the volume [1/s] below which one start is enough.
const slowLeak = 0.01

// settle finds the posterior of a hold. Where the wall's heat shows, it is taken
// both as a film's alone and with a part by conduction, and the wall time
// constant is walked along its range, each step linearised anew: one Gaussian
// does not hold for it.
func (f *fit) settle() *posterior {
	post := &posterior{f: f, scale: 1, best: math.Inf(-1)}
	p := f.search()
	if moves := f.settleWall(post, p, false); moves {
		p.mix = 0
		f.settleWall(post, p, true)
	}
	post.integrate()
	return post
}

// filmPrior is the prior probability that the wall's heat goes through a film
// alone, one exponential; else conduction's part of it is anything from 0 to 1.
const filmPrior = 0.5

// settleWall adds the parts of one kind of wall, from a point near its best. It
// returns whether the wall's heat moves the leak: if not, one kind will do.
func (f *fit) settleWall(post *posterior, p point, film bool) (matters bool) {
	f.film = film
	defer func() { f.film, f.logTau, f.tauSD = false, priorLogTau, priorLogTauSD }()
	prior := math.Log(1 - filmPrior)
	if film {
		prior = math.Log(filmPrior)
		p, _ = f.improve(p, 10)
	}
	l := f.linearise(p)
	post.parts = append(post.parts, part{l: l, film: film, prior: prior})
	sd, moves := f.tauDoubt(l, &p)
	if moves < 0.004 {
		return false
	}
	if sd >= 0.02 {
		f.walkTau(post, p, sd, film, prior)
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

// walkTau replaces the last part by parts along the logarithm of tau, a step of
// its doubt apart, until they no longer count: the prior as a sum of normal
// pieces, each half a step wide.
func (f *fit) walkTau(post *posterior, p point, sd float64, film bool, prior float64) {
	post.parts = post.parts[:len(post.parts)-1]
	step := math.Min(1.5*sd, 0.5)
	mid := p.logT
	best := math.Inf(-1)
	add := func(p point, logT float64) (point, float64) {
		f.logTau, f.tauSD = logT, step/2
		p.logT = logT
		q, _ := f.improve(p, 3)
		x := (logT - priorLogTau) / priorLogTauSD
		w := prior - x*x/2 + math.Log(step/(math.Sqrt(2*math.Pi)*priorLogTauSD)) - math.Log(step/2)
		post.parts = append(post.parts, part{l: f.linearise(q), film: film, prior: w})
		z := post.integratePart(len(post.parts) - 1)
		best = math.Max(best, z)
		return q, z
	}
	q0, _ := add(p, mid)
	for _, way := range []float64{1, -1} {
		q := q0
		for k := 1; k <= 7; k++ {
			logT := mid + way*step*float64(k)
			if logT < math.Log(0.01) || logT > math.Log(6) {
				break
			}
			var z float64
			q, z = add(q, logT)
			if z < best-6 {
				break
			}
		}
	}
}

// search returns the most probable point: a climb in the five parameters that
// matter most from each start, then one in all from each different summit.
func (f *fit) search() (p point) {
	var tops []point
	for i, tau := range starts {
		q, _ := f.climb(f.begin(tau), 12)
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
	best := math.Inf(1)
	for _, t := range tops {
		if q, c := f.improve(t, 12); c < best {
			p, best = q, c
		}
	}
	return f.sharpenVapour(p, best)
}

// sharpenVapour finds the time constant of a vapour that shows so clearly that
// the coarse ones would not fit it, and sets the fit's own about it.
func (f *fit) sharpenVapour(p point, best float64) point {
	info := 0.0
	for i, b := range f.hold.bins {
		x := (1 - math.Exp(-b.time/p.tauV)) * f.weight[i]
		info += x * x
	}
	if p.vap*math.Sqrt(info) < 40 { // its own standard deviations
		return p
	}
	try := func(logTau float64) (point, float64) {
		f.vapTau[vapourTaus/2] = math.Exp(logTau)
		return f.improve(p, 6)
	}
	at := math.Log(p.tauV)
	for k := range 9 {
		if q, c := try(math.Log(60) * float64(k) / 8); c < best {
			p, best, at = q, c, math.Log(60)*float64(k)/8
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
	_, up := try(at + 0.05)
	sd := 0.05 / math.Sqrt(math.Max(up-best, 0.01))
	gap := math.Min(math.Max(sd, 0.005), 0.4)
	for k := range f.vapTau {
		f.vapTau[k] = math.Exp(at + gap*float64(k-vapourTaus/2))
	}
	return p
}

package leak

import (
	"math"

	"seatproof/num"
)

// cell is one value of the nuisances that are gone through one by one.
type cell struct {
	e, de float64
	mix   float64
	tau   int
	logW  float64 // its prior weight
}

// node integrates over leak, share and vapour at one cell of the rest: for a
// given cell the prediction is linear in the two flows and the vapour. It
// returns the logarithm of the evidence, and appends the atoms if keep is set.
func (p *posterior) node(c cell, keep bool) float64 {
	l := p.l
	inv := 1 / p.scale
	v := colVapour + c.tau
	uO := [2]float64{1, c.e} // along opening and edge
	var oo, os, oa, gO float64
	for i, x := range uO {
		oo += x * (l.n[i][colOpening] + c.e*l.n[i][colEdge])
		os += x * l.n[i][colSeep]
		oa += x * l.n[i][v]
		gO += x * (l.h[i] - l.n[i][colMix]*c.mix)
	}
	ss, sa := l.n[colSeep][colSeep], l.n[colSeep][v]
	gS := l.h[colSeep] - l.n[colSeep][colMix]*c.mix
	aa := l.n[v][v]
	gA := l.h[v] - l.n[v][colMix]*c.mix
	base := -0.5 * (l.c - 2*l.h[colMix]*c.mix + l.n[colMix][colMix]*c.mix*c.mix)
	weight := p.prior + c.logW
	oo, os, ss, oa, sa, gO, gS, aa, gA, base = oo*inv, os*inv, ss*inv, oa*inv, sa*inv, gO*inv, gS*inv, aa*inv, gA*inv, base*inv
	rawAA := aa
	if p.f.fades.sd > 0 {
		aa += p.f.fades.precision()
	}
	g := nodeSums{oo, os, ss, oa, sa, gO, gS, aa, rawAA, gA, base, weight, p.f.fades.top}
	lo, hi := shareRange(oo, os, ss, oa, sa, aa, gO, gS, gA)
	step := (hi - lo) / shareNodes
	at := atom{part: p.part, ds: step / 2, e: c.e, de: c.de, mix: c.mix, tau: c.tau}
	sum := newLogSum()
	slab := math.Log(1-2*pureShare) + math.Log(step)
	for i := range shareNodes {
		at.s = lo + step*(float64(i)+0.5)
		p.atShare(&g, &at, slab, keep, &sum)
	}
	at.pure, at.ds = true, 0
	for _, s := range []float64{0, 1} {
		at.s = s
		p.atShare(&g, &at, math.Log(pureShare), keep, &sum)
	}
	return sum.log()
}

// logSum adds figures given by their logarithms.
type logSum struct{ top, sum float64 }

func newLogSum() logSum { return logSum{top: math.Inf(-1)} }

func (s *logSum) add(x float64) {
	switch {
	case x <= s.top-30:
	case x <= s.top:
		s.sum += math.Exp(x - s.top)
	case math.IsInf(s.top, -1):
		s.top, s.sum = x, 1
	default:
		s.sum = s.sum*math.Exp(s.top-x) + 1
		s.top = x
	}
}

func (s *logSum) log() float64 {
	if math.IsInf(s.top, -1) {
		return s.top
	}
	return s.top + math.Log(s.sum)
}

// nodeSums is the Gaussian of the two flows (o, s) and the vapour (a) at a cell.
type nodeSums struct {
	oo, os, ss, oa, sa, gO, gS float64
	aa, rawAA, gA              float64 // the vapour's, with its prior and without
	base                       float64 // log likelihood at no leak
	weight                     float64 // log prior weight
	top                        float64 // Pa, most vapour there can be
}

// atShare integrates over leak and vapour at one share of prior weight prior
// (logarithm), and adds to the evidence. A port may have no vapour at all: that
// has a part of its own, which stands for all time constants at the first one.
func (p *posterior) atShare(g *nodeSums, at *atom, prior float64, keep bool, sum *logSum) {
	s := at.s
	t := 1 - s
	paa := s*s*g.oo + 2*s*t*g.os + t*t*g.ss
	if !(paa > 0) {
		return
	}
	paA := s*g.oa + t*g.sa
	ga := s*g.gO + t*g.gS
	pA := g.aa - paA*paA/paa
	hA := g.gA - paA*ga/paa
	best := g.base + 0.5*ga*ga/paa
	p.bestWithout = math.Max(p.bestWithout, best)
	if raw := g.rawAA - paA*paA/paa; raw > 0 && hA > 0 {
		p.bestWith = math.Max(p.bestWith, best+0.5*hA*hA/raw)
	}
	w0 := best - 0.5*math.Log(paa) + prior + g.weight
	sd := 1 / math.Sqrt(paa)
	add := func(vap, width, logW float64) {
		mean := (ga - paA*vap) / paa
		cut := 1.0
		if mean < 5*sd {
			cut = num.NormalCDF(mean / sd)
			logW += math.Log(cut + 1e-300)
		}
		sum.add(logW)
		if keep && logW > p.best-16 {
			p.best = math.Max(p.best, logW)
			w := paA / paa * width // the width of the vapour's cell goes into the leak
			at.mean, at.vap, at.cutFactor, at.logW = mean, vap, cut, logW
			at.sd = math.Sqrt(sd*sd + w*w/12)
			p.atoms = append(p.atoms, *at)
		}
	}
	switch {
	case !keep:
		add(0, 0, w0+p.f.fades.logNone)
	case at.tau == 0:
		add(0, 0, w0+p.f.fades.logNone+logVapourTaus)
	}
	// vapour: normal, cut to [0, top]
	muA, sdA := g.top/2, 1e9
	if pA > 1e-30 {
		muA, sdA = hA/pA, 1/math.Sqrt(pA)
	}
	a0, a1 := math.Max(0, muA-4.5*sdA), math.Min(g.top, muA+4.5*sdA)
	if muA < 0 {
		a0, a1 = 0, math.Min(g.top, math.Min(math.Max(a1, 0)+sdA, 10*sdA*sdA/-muA))
	}
	if muA > g.top {
		a0, a1 = math.Max(0, g.top-math.Min(4.5*sdA, 10*sdA*sdA/(muA-g.top))), g.top
	}
	if a1 <= a0 {
		return
	}
	nodes := vapourNodes
	if w := paA / paa * (a1 - a0); w*w < 0.02*sd*sd {
		nodes = 2
	}
	dA := (a1 - a0) / float64(nodes)
	density := (1 - p.f.fades.none) * p.f.fades.density() // a half-normal's square is in pA
	slab := w0 + math.Log(dA*density)
	for k := range nodes {
		vap := a0 + dA*(float64(k)+0.5)
		add(vap, dA, slab-0.5*pA*vap*vap+hA*vap)
	}
}

// shareRange returns where in [0, 1] the share can lie, from the Gaussian of the
// two flows with the vapour integrated out.
func shareRange(oo, os, ss, oa, sa, aa, gO, gS, gA float64) (lo, hi float64) {
	if aa > 0 {
		oo, os, ss = oo-oa*oa/aa, os-oa*sa/aa, ss-sa*sa/aa
		gO, gS = gO-oa*gA/aa, gS-sa*gA/aa
	}
	like := func(s float64) float64 {
		t := 1 - s
		paa := s*s*oo + 2*s*t*os + t*t*ss
		if !(paa > 0) {
			return math.Inf(-1)
		}
		g := s*gO + t*gS
		if g <= 0 {
			return -0.5 * math.Log(paa)
		}
		return 0.5*g*g/paa - 0.5*math.Log(paa)
	}
	// stationary point of g²/paa: the free optimum of the share
	det := oo*ss - os*os
	best := 0.5
	if det > 0 {
		xo, xs := (ss*gO-os*gS)/det, (oo*gS-os*gO)/det
		if xo+xs > 0 {
			best = math.Min(1, math.Max(0, xo/(xo+xs)))
		}
	}
	if l0, l1, lb := like(0), like(1), like(best); l0 > lb || l1 > lb {
		if l0 > l1 {
			best = 0
		} else {
			best = 1
		}
	}
	top := like(best)
	edge := func(end float64) float64 {
		if top-like(end) < 12 {
			return end
		}
		in, out := best, end
		for range 18 {
			m := (in + out) / 2
			if top-like(m) < 12 {
				in = m
			} else {
				out = m
			}
		}
		return out
	}
	return edge(0), edge(1)
}

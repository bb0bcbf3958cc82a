package leak

import (
	"math"
	"sort"
)

// atom is a piece of the posterior: a leak over volume that is normal, cut at
// zero, for one share, edge, conduction mix and vapour.
type atom struct {
	part      int
	logW      float64
	mean, sd  float64 // 1/s
	s, ds     float64 // middle and half-width of the cell of the share
	e, de     float64
	mix       float64
	vap       float64 // Pa
	tau       int     // index into vapourTau
	cutFactor float64 // P(leak >= 0)
	pure      bool    // exactly an opening or a seep
}

// Priors that physics gives no figure for. A leak is most often one leak, which
// flows one way: the share is 0, 1 or anything between with a third each. A port
// has no vapour at all as often as some.
var (
	pureShare = 1.0 / 3
	noVapour  = 0.5

	logNoVapour   = math.Log(noVapour)
	logVapourTaus = math.Log(vapourTaus)
)

// dryVapour is the sd [Pa] of the half-normal vapour of a port said to be dry.
const dryVapour = 100.0

const (
	shareNodes  = 20
	vapourNodes = 6
)

// posterior integrates over everything that is not Gaussian.
type posterior struct {
	f     *fit
	l     *linear // the part being integrated
	part  int
	prior float64 // its log prior weight
	film  bool
	parts []part
	scale float64 // the misfit's widening: variances are multiplied by it
	atoms []atom
	best  float64 // largest log weight of an atom so far
	// largest log likelihood with and without vapour
	bestWith, bestWithout float64
}

// part is a hold linearised about one point, where one point is not enough:
// for a film's heat and for conduction, and for wall time constants along a
// range.
type part struct {
	l      *linear
	film   bool
	prior  float64 // log weight
	weight float64 // of its atoms
}

// cell is one value of the nuisances that are gone through one by one.
type cell struct {
	e, de float64
	mix   float64
	tau   int
	logW  float64 // its prior weight
}

// integrate fills the atoms from all parts.
func (p *posterior) integrate() {
	p.atoms = p.atoms[:0]
	p.best, p.bestWith, p.bestWithout = math.Inf(-1), math.Inf(-1), math.Inf(-1)
	for i := range p.parts {
		p.integratePart(i)
	}
	p.normalise()
}

// integratePart appends the atoms of one part and returns its log evidence.
func (p *posterior) integratePart(i int) float64 {
	p.l, p.part, p.film = p.parts[i].l, i, p.parts[i].film
	p.prior = p.parts[i].prior - p.l.det
	l := p.l
	a := math.Max(l.at.a, 1e-9)
	sens := func(k int, sd float64) bool { return l.n[k][k]/p.scale*sd*sd > 0.03 }
	mixes, mixStep := []float64{0}, 1.0
	if !p.film {
		mixes[0] = 0.5
		if sens(colMix, 0.29) {
			lo, hi := p.rangeOf(func(x float64) (z float64) {
				z = math.Inf(-1)
				for _, e := range []float64{0.1, 0.5, 0.9, l.at.e} {
					z = math.Max(z, p.node(cell{e, 0, x, 2, 0}, false))
				}
				return z
			})
			mixes = middles(lo, hi, 5)
			mixStep = (hi - lo) / 5
		}
	}
	edges, half := []float64{0.5}, 0.5
	if sens(colEdge, 0.29*a) {
		lo, hi := p.rangeOf(func(x float64) (z float64) {
			z = math.Inf(-1)
			for _, mix := range mixes {
				z = math.Max(z, p.node(cell{x, 0, mix, 2, 0}, false))
			}
			return z
		})
		edges = middles(lo, hi, 6)
		half = (edges[1] - edges[0]) / 2
	}
	weight := math.Log(mixStep * 2 * half / vapourTaus)
	sum := newLogSum()
	for _, mix := range mixes {
		for _, e := range edges {
			for j := range vapourTaus {
				sum.add(p.node(cell{e, half, mix, j, weight}, true))
			}
		}
	}
	return sum.log()
}

// middles returns the middles of n equal parts of a range.
func middles(lo, hi float64, n int) []float64 {
	m := make([]float64, n)
	for i := range m {
		m[i] = lo + (hi-lo)*(float64(i)+0.5)/float64(n)
	}
	return m
}

// rangeOf returns where in [0, 1] a nuisance can lie, given its log evidence.
func (p *posterior) rangeOf(evidence func(x float64) float64) (lo, hi float64) {
	const k = 17
	var z [k]float64
	best := math.Inf(-1)
	for i := range z {
		z[i] = evidence(float64(i) / (k - 1))
		best = math.Max(best, z[i])
	}
	first, last := k-1, 0
	for i := range z {
		if z[i] > best-6 {
			first, last = min(first, i), max(last, i)
		}
	}
	// between that and its neighbours, where the evidence is down by 6
	cut := func(in, out float64) float64 {
		for range 5 {
			m := (in + out) / 2
			if evidence(m) > best-6 {
				in = m
			} else {
				out = m
			}
		}
		return out
	}
	at := func(i int) float64 { return float64(i) / (k - 1) }
	lo, hi = 0, 1
	if first > 0 {
		lo = cut(at(first), at(first-1))
	}
	if last < k-1 {
		hi = cut(at(last), at(last+1))
	}
	return lo, hi
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
	top := p.f.k.vapourMax
	if p.f.k.vapourDry {
		aa += 1 / (dryVapour * dryVapour)
		top = 8 * dryVapour
	}
	g := nodeSums{oo, os, ss, oa, sa, gO, gS, aa, rawAA, gA, base, weight, top}
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
			cut = normalCDF(mean / sd)
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
		add(0, 0, w0+logNoVapour)
	case at.tau == 0:
		add(0, 0, w0+logNoVapour+logVapourTaus)
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
	density := (1 - noVapour) / g.top // uniform
	if p.f.k.vapourDry {              // half-normal: its square is in pA
		density = (1 - noVapour) * 2 / (dryVapour * math.Sqrt(2*math.Pi))
	}
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

// normalise turns log weights into weights that add to 1, and drops what does
// not count.
func (p *posterior) normalise() {
	top := math.Inf(-1)
	for i := range p.atoms {
		top = math.Max(top, p.atoms[i].logW)
	}
	keep := p.atoms[:0]
	sum := 0.0
	for _, a := range p.atoms {
		if a.logW > top-16 {
			a.logW = math.Exp(a.logW - top)
			sum += a.logW
			keep = append(keep, a)
		}
	}
	p.atoms = keep
	for i := range p.parts {
		p.parts[i].weight = 0
	}
	for i := range p.atoms {
		a := &p.atoms[i]
		a.logW /= sum
		p.parts[a.part].weight += a.logW
	}
}

// main returns the part with the most weight.
func (p *posterior) main() int {
	best := 0
	for i := range p.parts {
		if p.parts[i].weight > p.parts[best].weight {
			best = i
		}
	}
	return best
}

// centre returns the mean of the heaviest part as a point.
func (p *posterior) centre() point {
	m := p.main()
	l := p.parts[m].l
	whole := math.Max(p.parts[m].weight, 1e-300)
	var z [kept]float64
	var a, s, e, mix, vap, tau float64
	for _, t := range p.atoms {
		if t.part != m {
			continue
		}
		w := t.logW / whole
		q := t.mean
		if q < 0 {
			q = t.sd * 0.5
		}
		z[colOpening] += w * q * t.s
		z[colEdge] += w * q * t.s * t.e
		z[colSeep] += w * q * (1 - t.s)
		z[colVapour+t.tau] += w * t.vap
		a += w * q
		s += w * q * t.s
		e += w * q * t.s * t.e
		mix += w * t.mix
		vap += w * t.vap
		tau += w * t.vap * math.Log(vapourTau[t.tau])
	}
	z[colMix] = mix
	q := l.at
	q.a = a
	if a > 0 {
		q.s = s / a
	}
	if s > 0 {
		q.e = e / s
	}
	q.mix, q.vap = mix, vap
	if vap > 0 {
		q.tauV = math.Exp(tau / vap)
	}
	x := l.othersAt(&z)
	q.v0 += x[colV0-kept]
	q.logT = math.Min(math.Log(5), math.Max(math.Log(0.02), q.logT+x[colTau-kept]))
	q.shut += x[colShut-kept]
	q.logL = math.Min(math.Log(2), math.Max(math.Log(1e-3), q.logL+x[colLag-kept]))
	q.pa += x[colPressure-kept]
	q.gain += x[colGain-kept]
	q.bow += x[colBow-kept]
	q.zero += x[colZero-kept]
	q.rig += x[colRig-kept]
	q.slipW = math.Min(0.6, math.Max(0, q.slipW+x[colSlip-kept]))
	q.inert = math.Max(0, q.inert+x[colInertia-kept])
	return q
}

// draws returns n equally likely draws of leak over volume, share and edge. The
// draws are a fixed low-discrepancy set: the same posterior gives the same.
// mixed leaves out the shares that are exactly 0 or 1.
func (p *posterior) draws(n int, mixed bool) []Draw {
	out := make([]Draw, 0, n)
	whole := 1.0
	if mixed {
		whole = 0
		for _, t := range p.atoms {
			if !t.pure {
				whole += t.logW
			}
		}
	}
	seq := newSequence(3)
	acc, next := 0.0, 0.5/float64(n)
	var u [3]float64
	last := 0
	for i, t := range p.atoms {
		if mixed && t.pure {
			continue
		}
		last = i
		acc += t.logW / whole
		for next < acc && len(out) < n {
			seq.next(u[:])
			out = append(out, t.draw(u))
			next += 1 / float64(n)
		}
	}
	for len(out) < n && len(p.atoms) > 0 {
		seq.next(u[:])
		out = append(out, p.atoms[last].draw(u))
	}
	return out
}

func (t *atom) draw(u [3]float64) Draw {
	q := u[0]
	if t.cutFactor < 1 {
		q = 1 - t.cutFactor + q*t.cutFactor
	}
	return Draw{
		Flow:  math.Max(0, t.mean+t.sd*normalQuantile(q)),
		Share: math.Min(1, math.Max(0, t.s+t.ds*(2*u[1]-1))),
		Edge:  math.Min(1, math.Max(0, t.e+t.de*(2*u[2]-1))),
	}
}

// sequence is an additive low-discrepancy sequence: multiples of powers of the
// generalised golden ratio, modulo 1.
type sequence struct {
	step, at []float64
}

func newSequence(d int) *sequence {
	g := 1.5
	for range 60 { // g^(d+1) = g + 1
		g = math.Pow(1+g, 1/float64(d+1))
	}
	s := &sequence{step: make([]float64, d), at: make([]float64, d)}
	x := 1.0
	for i := range d {
		x /= g
		s.step[i], s.at[i] = x, 0.5
	}
	return s
}

func (s *sequence) next(u []float64) {
	for i := range s.at {
		s.at[i] += s.step[i]
		if s.at[i] >= 1 {
			s.at[i]--
		}
		u[i] = s.at[i]
	}
}

// quantiles returns the values of sorted x at fractions q.
func quantile(x []float64, q float64) float64 {
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	u := q*float64(n) - 0.5
	i := int(math.Floor(u))
	if i < 0 {
		return x[0]
	}
	if i >= n-1 {
		return x[n-1]
	}
	w := u - float64(i)
	return x[i]*(1-w) + x[i+1]*w
}

// equalTailed returns median and equal-tailed 95 % interval of sorted x.
func equalTailed(x []float64) Interval {
	return Interval{quantile(x, 0.5), quantile(x, 0.025), quantile(x, 0.975)}
}

// shortest returns median and shortest 95 % interval of x in [0, 1], which it
// sorts.
func shortest(x []float64) Interval {
	sort.Float64s(x)
	n := len(x)
	if n == 0 {
		return Interval{0.5, 0, 1}
	}
	k := int(math.Ceil(0.95 * float64(n)))
	best, at := math.Inf(1), 0
	for i := 0; i+k-1 < n; i++ {
		if w := x[i+k-1] - x[i]; w < best {
			best, at = w, i
		}
	}
	return Interval{quantile(x, 0.5), x[at], x[at+k-1]}
}

func normalCDF(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

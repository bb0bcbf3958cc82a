package leak

import "math"

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
	tau       int     // index into the fit's vapTau
	cutFactor float64 // P(leak >= 0)
	pure      bool    // exactly an opening or a seep
}

// Priors that physics gives no figure for. A leak is most often one leak, which
// flows one way: the share is 0, 1 or anything between with a third each. A port
// has no vapour at all as often as some, unless it was said to be wet (fading.go).
var (
	pureShare = 1.0 / 3

	logVapourTaus = math.Log(vapourTaus)
)

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
	p.l, p.part = p.parts[i].l, i
	p.prior = p.parts[i].prior - p.l.det
	l := p.l
	a := math.Max(l.at.a, 1e-9)
	sens := func(k int, sd float64) bool { return l.n[k][k]/p.scale*sd*sd > 0.03 }
	mixes, mixStep := []float64{0}, 1.0
	if !p.parts[i].film {
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

// variance returns the variance of the leak over the volume.
func (p *posterior) variance() float64 {
	var m, s float64
	for i := range p.atoms {
		a := &p.atoms[i]
		m += a.logW * math.Max(a.mean, 0)
	}
	for i := range p.atoms {
		a := &p.atoms[i]
		d := math.Max(a.mean, 0) - m
		s += a.logW * (d*d + a.sd*a.sd)
	}
	return s
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
		tau += w * t.vap * math.Log(p.f.vapTau[t.tau])
	}
	z[colMix] = mix
	q := l.at
	q.a = math.Min(a, largestLeak)
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
	clip := func(v, lo, hi float64) float64 { return math.Min(hi, math.Max(lo, v)) }
	q.v0 = clip(q.v0+x[colV0-kept], 0, q.pa*0.999)
	q.logT = math.Min(math.Log(5), math.Max(math.Log(0.02), q.logT+x[colTau-kept]))
	first := p.f.hold.first()
	q.shut = clip(q.shut+x[colShut-kept], first-0.5, first+0.5)
	q.logL = math.Min(math.Log(2), math.Max(math.Log(1e-3), q.logL+x[colLag-kept]))
	q.pa = clip(q.pa+x[colPressure-kept], 40e3, 120e3)
	q.gain = clip(q.gain+x[colGain-kept], -0.5, 0.5)
	q.bow = clip(q.bow+x[colBow-kept], -0.5, 0.5)
	q.zero = clip(q.zero+x[colZero-kept], -1e5, 1e5)
	q.cold = clip(q.cold+x[colCold-kept], -1, 1)
	q.rig = clip(q.rig+x[colRig-kept], -p.f.rig, 1)
	q.slipW = math.Min(0.6, math.Max(0, q.slipW+x[colSlip-kept]))
	q.inert = math.Max(0, q.inert+x[colInertia-kept])
	q.load = clip(q.load+x[colLoad-kept], 0, mostLoad)
	return q
}

package leak

import "math"

// Parameters of the hold in the Gaussian approximation: the leak's own, then
// the marginalised columns of linear.go.
const (
	iA = iota // leak over volume
	iS        // share
	iE        // edge
	iMix
	iVap
	own
	gaussSize = own + others
)

// gaussian is the log posterior about a point to second order: ½ dᵀ m d - gᵀ d.
type gaussian struct {
	m     [gaussSize][gaussSize]float64
	g     [gaussSize]float64
	prior [gaussSize]float64 // what of the diagonal is the prior's
}

// gaussian turns the linearised hold into one about the parameters, with the
// priors of the bounded ones as normal ones of the same variance. tau is the
// index of the vapour's time constant.
func (f *fit) gaussian(l *linear, p *point, tau int) *gaussian {
	a := math.Max(p.a, 1e-9)
	dir := [iMix][3]float64{ // along opening, edge, seep
		iA: {p.s, p.s * p.e, 1 - p.s},
		iS: {a, a * p.e, -a},
		iE: {0, a * p.s, 0},
	}
	out := new(gaussian)
	var mc [gaussSize][columns]float64 // rows of the full matrix along each parameter
	single := func(i int) int {
		switch {
		case i == iMix:
			return colMix
		case i == iVap:
			return colVapour + tau
		default:
			return kept + i - own
		}
	}
	for i := range gaussSize {
		if i < iMix {
			for c := range columns {
				for q := range 3 {
					mc[i][c] += dir[i][q] * l.full[q][c]
				}
			}
			for q := range 3 {
				out.g[i] += dir[i][q] * l.rhs[q]
			}
		} else {
			mc[i] = l.full[single(i)]
			out.g[i] = l.rhs[single(i)]
		}
	}
	for i := range gaussSize {
		for j := 0; j <= i; j++ {
			s := 0.0
			if j < iMix {
				for q := range 3 {
					s += mc[i][q] * dir[j][q]
				}
			} else {
				s = mc[i][single(j)]
			}
			out.m[i][j], out.m[j][i] = s, s
		}
	}
	pr := &out.prior
	pr[iS], pr[iE], pr[iMix] = 12, 12, 12
	if f.film {
		pr[iMix] = 1e9
	}
	pr[iVap] = f.fades.precision()
	off := [own]float64{iS: 0.5 - p.s, iE: 0.5 - p.e, iMix: 0.5 - p.mix, iVap: -p.vap}
	if f.film {
		off[iMix] = -p.mix
	}
	for i := range own {
		out.m[i][i] += pr[i]
		out.g[i] += pr[i] * off[i]
	}
	for i := own; i < gaussSize; i++ {
		pr[i] = l.prior[kept+i-own]
	}
	return out
}

// priorCost returns twice the negative log prior of a point.
func (f *fit) priorCost(p *point) float64 {
	sq := func(x, sd float64) float64 {
		if sd <= 0 {
			return 0
		}
		return x * x / (sd * sd)
	}
	c := 12*((p.s-0.5)*(p.s-0.5)+(p.e-0.5)*(p.e-0.5)+(p.mix-0.5)*(p.mix-0.5)) +
		sq(p.slipW-f.slip, f.slipSD) + sq(p.inert-f.inertia/2, math.Max(f.inertia/math.Sqrt(12), 1e-5)) + sq(p.load-f.load.mean, f.load.sd) +
		sq(p.logT-f.logTau, f.tauSD) + sq(p.shut, f.shutSD) +
		sq(p.pa-f.k.pa, math.Max(f.k.paSD, 1)) + sq(p.gain, f.k.gainSD) + sq(p.bow, f.k.bowSD) +
		sq(p.cold, coldSD) + sq(p.zero, math.Max(f.zeroSD, 1e-3)) + sq(p.rig, math.Max(f.rigSD, 1e-12))
	c += p.vap * p.vap * f.fades.precision()
	if f.k.lagLogSD > 0 {
		c += sq(p.logL-math.Log(math.Max(f.k.lag, 1e-4)), f.k.lagLogSD)
	}
	return c
}

// largestLeak bounds the leak over the volume [1/s].
const largestLeak = 100

// step returns the point moved by d, kept within its bounds, and which
// parameters the bounds hold back.
func (f *fit) step(p *point, d *[gaussSize]float64) (q point, held [gaussSize]bool) {
	q = *p
	move := func(i int, x *float64, lo, hi float64) {
		*x += d[i]
		if *x < lo {
			*x, held[i] = lo, true
		}
		if *x > hi {
			*x, held[i] = hi, true
		}
	}
	inf := math.Inf(1)
	move(iA, &q.a, 1e-9, largestLeak)
	move(iS, &q.s, 0, 1)
	move(iE, &q.e, 0, 1)
	if f.film {
		move(iMix, &q.mix, 0, 0)
	} else {
		move(iMix, &q.mix, 0, 1)
	}
	move(iVap, &q.vap, 0, f.fades.top)
	o := func(c int) int { return own + c - kept }
	move(o(colV0), &q.v0, 0, q.pa*0.999)
	move(o(colTau), &q.logT, math.Log(0.01), math.Log(6))
	move(o(colShut), &q.shut, f.hold.first()-0.5, f.hold.first()+0.5)
	move(o(colLag), &q.logL, math.Log(1e-3), math.Log(2))
	move(o(colPressure), &q.pa, 40e3, 120e3)
	move(o(colGain), &q.gain, -0.5, 0.5)
	move(o(colBow), &q.bow, -0.5, 0.5)
	move(o(colZero), &q.zero, -inf, inf)
	move(o(colRig), &q.rig, -f.rig, inf)
	move(o(colCold), &q.cold, -1, 1)
	move(o(colSlip), &q.slipW, 0, 0.6)
	move(o(colInertia), &q.inert, 0, math.Max(f.inertia, 1e-9))
	move(o(colLoad), &q.load, 0, mostLoad)
	return q, held
}

// improve climbs to the most probable point in everything at once: damped
// Gauss-Newton steps with bounds (a parameter that a bound holds back leaves
// the step). It returns the sum of squares reached, priors included.
func (f *fit) improve(p point, rounds int) (point, float64) {
	const tau = vapourTaus / 2
	p.tauV = f.vapTau[tau]
	r := make([]float64, len(f.data))
	cost := func(p *point) float64 {
		f.residuals(p, r)
		return dot(r, r) + f.priorCost(p)
	}
	best := cost(&p)
	damp := 1e-4
	for range rounds {
		l := f.linearise(p)
		// the vapour column counts from no vapour: carry its part to the point
		g := f.gaussian(l, &p, tau)
		for i := range gaussSize {
			g.g[i] -= (g.m[i][iVap] - priorDiagonal(g, i)) * p.vap
		}
		moved := false
		for range 7 {
			d, ok := f.boundedStep(g, &p, damp)
			if !ok {
				damp *= 10
				continue
			}
			q, _ := f.step(&p, &d)
			if c := cost(&q); c < best {
				gain := best - c
				p, best = q, c
				damp = math.Max(damp*0.2, 1e-8)
				moved = gain > 0.05
				break
			}
			damp = math.Max(damp*10, 1e-3)
		}
		if !moved {
			break
		}
	}
	return p, best
}

// priorDiagonal is the prior's part of m[i][iVap].
func priorDiagonal(g *gaussian, i int) float64 {
	if i == iVap {
		return g.prior[iVap]
	}
	return 0
}

// boundedStep solves for the step, again without the parameters that their
// bounds hold back.
func (f *fit) boundedStep(g *gaussian, p *point, damp float64) (d [gaussSize]float64, ok bool) {
	var fixed [gaussSize]bool
	for range 4 {
		d, ok = g.solve(damp, &fixed)
		if !ok {
			return d, false
		}
		_, held := f.step(p, &d)
		more := false
		for i := range held {
			if held[i] && !fixed[i] {
				fixed[i], more = true, true
			}
		}
		if !more {
			return d, true
		}
		// a held parameter goes to its bound, the rest are solved with it there
		g2 := *g
		for i := range fixed {
			if !fixed[i] {
				continue
			}
			to := f.toBound(p, i, d[i])
			for j := range gaussSize {
				g2.g[j] -= g2.m[j][i] * to
			}
			d[i] = to
		}
		free, ok := g2.solve(damp, &fixed)
		if !ok {
			return d, false
		}
		for i := range free {
			if !fixed[i] {
				d[i] = free[i]
			}
		}
		if _, held := f.step(p, &d); !anyNew(held, fixed) {
			return d, true
		}
	}
	return d, true
}

func anyNew(held, fixed [gaussSize]bool) bool {
	for i := range held {
		if held[i] && !fixed[i] {
			return true
		}
	}
	return false
}

// toBound returns how far parameter i may go in the direction of d.
func (f *fit) toBound(p *point, i int, d float64) float64 {
	var one [gaussSize]float64
	one[i] = d
	q, _ := f.step(p, &one)
	return q.get(i) - p.get(i)
}

// get returns parameter i of a point.
func (p *point) get(i int) float64 {
	return [gaussSize]float64{
		iA: p.a, iS: p.s, iE: p.e, iMix: p.mix, iVap: p.vap,
		own + colV0 - kept: p.v0, own + colTau - kept: p.logT, own + colShut - kept: p.shut,
		own + colLag - kept: p.logL, own + colPressure - kept: p.pa, own + colGain - kept: p.gain,
		own + colBow - kept: p.bow, own + colZero - kept: p.zero, own + colRig - kept: p.rig,
		own + colSlip - kept: p.slipW, own + colInertia - kept: p.inert, own + colLoad - kept: p.load, own + colCold - kept: p.cold,
	}[i]
}

// solve solves m d = g with the diagonal raised by damp, for the parameters
// that are not fixed (those get 0).
func (g *gaussian) solve(damp float64, fixed *[gaussSize]bool) (d [gaussSize]float64, ok bool) {
	var c [gaussSize][gaussSize]float64
	var scale [gaussSize]float64
	for i := range gaussSize {
		if !(g.m[i][i] > 0) {
			return d, false
		}
		scale[i] = 1 / math.Sqrt(g.m[i][i])
	}
	for i := range gaussSize {
		if fixed[i] {
			continue
		}
		for j := 0; j <= i; j++ {
			if fixed[j] {
				continue
			}
			s := g.m[i][j] * scale[i] * scale[j]
			if i == j {
				s += damp + 1e-12
			}
			for q := range j {
				s -= c[i][q] * c[j][q]
			}
			if i == j {
				if s < 1e-15 {
					return d, false
				}
				c[i][i] = math.Sqrt(s)
			} else {
				c[i][j] = s / c[j][j]
			}
		}
	}
	for i := range gaussSize {
		if fixed[i] {
			continue
		}
		s := g.g[i] * scale[i]
		for j := range i {
			s -= c[i][j] * d[j]
		}
		d[i] = s / c[i][i]
	}
	for i := gaussSize - 1; i >= 0; i-- {
		if fixed[i] {
			continue
		}
		s := d[i]
		for j := i + 1; j < gaussSize; j++ {
			s -= c[j][i] * d[j]
		}
		d[i] = s / c[i][i]
	}
	for i := range d {
		d[i] *= scale[i]
	}
	return d, true
}

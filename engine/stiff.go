package engine

import (
	"math"

	"seatproof/gas"
)

// A leak that is large for its cylinder holds the gas close to the port's pressure:
// every small difference is made good within a fraction of a degree, and turns round
// at the least cause. The physics are plain (such a cylinder hardly compresses), and
// an explicit method takes thousands of steps over it, or stops at one reversal after
// another. Where [walker.walk] gives up, the cycle is walked again here, by a method
// that is stable however fast the pressures meet: Rosenbrock's with four stages, of
// order 3 with an estimate of order 2, L-stable ("Rodas3": Sandu, Verwer, Blom, Spee,
// Carmichael and Potra, Atmospheric Environment 31, 1997; coefficients from memory,
// held by TestStiffOrder).
//
// An opening's law is made straight where the pressures differ by less than calmDrop
// of themselves: there its root has no slope that a step could be chosen by.

const (
	calmDrop       = 1e-5  // about 1 Pa
	stiffTolerance = 1e-6  // of a step, at the least
	stiffLongest   = 0.035 // rad: the peak is sought between the ends of steps
	stiffSteps     = 20_000
)

// sums are the rates in the order that the method works on: s, m, and what is added
// up.
type sums [7]float64

func (r *rates) sums() sums {
	return sums{r.entropy, r.mass, r.wall, r.enthalpy, r.leak, r.rings, r.work}
}

// calmOpenings is [cell.openings] with the side chosen by the pressures at hand, and
// straight where they are nearly equal.
func (c *cell) calmOpenings(q *port, p, rootRT float64) (flow, rings float64) {
	high, low, root, sign := p, q.pressure, rootRT, 1.0
	if q.side >= in {
		high, low, root, sign = q.pressure, p, c.rootAir, -1
	}
	unit, r := gas.PsiMax, low/high
	if r > gas.CriticalRatio {
		if drop := (high - low) / high; drop < calmDrop {
			u := drop / calmDrop
			unit = psi(calmDrop) * u * (1.5 - 0.5*u) // value and slope of a root at u = 1
		} else {
			unit = psi(drop)
		}
	}
	unit *= sign * high / root
	area := q.rounded
	if q.sharp != 0 {
		area += q.sharp * gas.SharpEdgeCd(r)
	}
	return unit * area, unit * q.rings
}

// stiffWalk is [walker.walk] by the stiff method.
func (w *walker) stiffWalk(tol float64, whole bool) (Cycle, error) {
	c := &w.cell
	c.calm, c.squared, c.burning, c.lit = true, false, false, false
	tol = math.Max(tol, stiffTolerance)
	var y Cycle
	y.Start = c.m0
	w.x, w.s, w.m, w.total = c.start, 1, 1, rates{}
	y.Peak, y.PeakAt = c.p0, c.start
	stops, n := c.stops(whole)
	h := 1e-3
	w.cell.rates(w.x, w.s, w.m, &w.k[0])
	for i := 0; i < n; {
		step, last := h, false
		if left := stops[i] - w.x; left <= 1.05*h {
			step, last = left, true
		}
		if y.Steps+y.Rejected > stiffSteps || !(step > 1e-13) {
			return y, &NotSolved{Angle: w.x, Steps: y.Steps}
		}
		d, e := w.stiffTry(step, tol)
		if !(e <= 1) {
			y.Rejected++
			h = step * 0.1
			if e < 1e6 {
				h = step * math.Max(0.1, safety*math.Pow(e, -1.0/3))
			}
			continue
		}
		before := w.k[0].logp
		va, _ := c.volume(w.x)
		pa, _ := c.state(w.s, w.m, va)
		t := &w.total
		w.x, w.s, w.m = w.x+step, w.s+d[0], w.m+d[1]
		t.wall, t.enthalpy, t.leak, t.rings, t.work = t.wall+d[2], t.enthalpy+d[3], t.leak+d[4], t.rings+d[5], t.work+d[6]
		y.Steps++
		if last {
			w.x = stops[i]
		} else {
			h = math.Min(step*math.Min(mostGrowth, safety*math.Pow(math.Max(e, 1e-9), -1.0/3)), stiffLongest)
		}
		c.rates(w.x, w.s, w.m, &w.k[0])
		w.stiffPeak(&y, step, pa, before)
		if !last {
			continue
		}
		if stops[i] == 0 {
			y.Trapped = w.m * c.m0
		}
		if b := c.burn; b != nil && stops[i] == b.Start {
			w.light()
		} else if b != nil && stops[i] == b.End {
			c.burning = false
		}
		c.rates(w.x, w.s, w.m, &w.k[0])
		i++
	}
	w.finish(&y)
	return y, nil
}

// stiffPeak looks for the highest pressure in the step that ended here and began
// with the pressure pa and the slope a of its logarithm: by the cubic through both
// ends, which a pressure held at the port's can throw off by no more than it moved.
func (w *walker) stiffPeak(y *Cycle, h, pa, a float64) {
	c := &w.cell
	v, _ := c.volume(w.x)
	pb, _ := c.state(w.s, w.m, v)
	if pb > y.Peak {
		y.Peak, y.PeakAt = pb, w.x
	}
	b := w.k[0].logp
	if !(a > 0 && b < 0) {
		return
	}
	rise := math.Log(pb / pa)
	u := a / (a - b)
	p := pa * math.Exp(u*u*(3-2*u)*rise+h*(u*(1-u)*(1-u)*a-u*u*(1-u)*b))
	if p > y.Peak && p < 1.01*math.Max(pa, pb) {
		y.Peak, y.PeakAt = p, w.x-(1-u)*h
	}
}

// stiffTry takes one step of length h and returns what it adds, and its error over
// the tolerance.
func (w *walker) stiffTry(h, tol float64) (d sums, e float64) {
	c, f0 := &w.cell, w.k[0].sums()
	var r rates
	// Slopes by s, by m and by the angle, one-sided. The method keeps its order with
	// slopes that are nearly right.
	const part = 1e-9
	slope := func(dx, ds, dm float64) (j sums) {
		c.rates(w.x+dx, w.s+ds, w.m+dm, &r)
		f := r.sums()
		for i := range j {
			j[i] = (f[i] - f0[i]) / (dx + ds + dm)
		}
		return j
	}
	js, jm, jx := slope(0, part*w.s, 0), slope(0, 0, part*w.m), slope(part, 0, 0)
	const gamma = 0.5
	g := 1 / (gamma * h)
	a, b, cc, dd := g-js[0], -jm[0], -js[1], g-jm[1]
	det := a*dd - b*cc
	// solve returns u of (g - J) u = rhs; only s and m drive the slopes
	solve := func(rhs sums) (u sums) {
		u[0], u[1] = (rhs[0]*dd-b*rhs[1])/det, (a*rhs[1]-cc*rhs[0])/det
		for i := 2; i < len(u); i++ {
			u[i] = (rhs[i] + js[i]*u[0] + jm[i]*u[1]) / g
		}
		return u
	}
	var u1, u2, u3, u4, rhs sums
	for i := range rhs {
		rhs[i] = f0[i] + h*0.5*jx[i]
	}
	u1 = solve(rhs)
	for i := range rhs {
		rhs[i] = f0[i] + 4*u1[i]/h + h*1.5*jx[i]
	}
	u2 = solve(rhs)
	c.rates(w.x+h, w.s+2*u1[0], w.m+2*u1[1], &r)
	f := r.sums()
	for i := range rhs {
		rhs[i] = f[i] + (u1[i]-u2[i])/h
	}
	u3 = solve(rhs)
	c.rates(w.x+h, w.s+2*u1[0]+u3[0], w.m+2*u1[1]+u3[1], &r)
	f = r.sums()
	for i := range rhs {
		rhs[i] = f[i] + (u1[i]-u2[i]-8.0/3*u3[i])/h
	}
	u4 = solve(rhs)
	for i := range d {
		d[i] = 2*u1[i] + u3[i] + u4[i]
	}
	if !(w.s+d[0] > 0 && w.m+d[1] > 0) {
		return d, math.NaN()
	}
	// s and m over themselves: little gas may be left
	return d, math.Sqrt((sq(u4[0]/w.s)+sq(u4[1]/w.m)+sq(u4[6]))/3) / tol
}

func sq(x float64) float64 { return x * x }

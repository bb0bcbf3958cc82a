package study

import (
	"math"

	"seatproof/gas"
)

// conduct are the figures of one hold, as the yardstick's model takes them.
// The flows are in volumes of the vessel a second: only q/V shapes a hold.
type conduct struct {
	total, rig float64 // 1/s, whole leak and the rig's part of it, at 50 kPa vacuum
	share      float64 // opening's share of the seat's leak at 50 kPa
	edge       float64 // 0 rounded .. 1 sharp
	start      float64 // Pa, vacuum at shut-off
	tau        float64 // s, wall time constant at room density
	mix        float64 // 0..1, part of the wall's heat that goes by conduction
	vapour     float64 // Pa
	tauVapour  float64 // s
	lag        float64 // s, of the gauge
	pressure   float64 // Pa, the room's
	wall       float64 // wall's temperature over the room's
	slip       float64 // 12 lambda·p/h [Pa], what slip adds to p1 + p2
	inertia    float64 // i of m + i m² = (1+i) D
	load       float64 // n of gap = gap50 (F/F50)^-n
	press      press
}

// press is what presses the valve: an area the vacuum pulls at and a force
// beside. The zero value, with no load, is not asked.
type press struct {
	area float64 // m²
	push float64 // N
}

// of returns the force [N] at the vacuum v [Pa], of which the last 500 Pa no
// longer count (docs/model.md §1: the gap stays bounded).
func (s press) of(v float64) float64 {
	const least = 500
	u := v / least
	return s.area*least*math.Sqrt(math.Sqrt(1+u*u*u*u)) + s.push
}

// j0Zero are the zeros of the Bessel function J0, for the modes of conduction
// in a round bore (Abramowitz and Stegun 1964, table 9.5); six modes, as many
// as the forward model keeps.
var j0Zero = [...]float64{2.404825557695773, 5.520078110286311, 8.653727912911013, 11.791534439014282, 14.930917708487786, 18.071063967910923}

// modes are the exponential mode and those of conduction.
const modes = 1 + len(j0Zero)

// modeRate holds the modes' decay rates, in 1/tau at room density.
var modeRate = func() (r [modes]float64) {
	r[0] = 1
	for k, j := range j0Zero {
		r[k+1] = j * j / 8
	}
	return r
}()

// stride holds the coefficients of one step of the exponential Runge-Kutta
// scheme ETDRK4 (Cox and Matthews, J. Comput. Phys. 176 (2002) 430) for all
// modes: with z = -rate·size the modes decay exactly, however large the step.
type stride struct {
	size               float64 // in tau of scaled time
	half, whole        [modes]float64
	phi                [modes]float64
	first, mid, fourth [modes]float64
}

// strides are the allowed steps: each 22 % longer than the one before, so
// that a step is never more than about a fifth of the time since shut-off.
var strides = func() (s [60]stride) {
	size := 0.02
	for i := range s {
		s[i].size = size
		for k, r := range modeRate {
			z := -r * size
			s[i].half[k] = math.Exp(z / 2)
			s[i].whole[k] = math.Exp(z)
			s[i].phi[k] = math.Expm1(z/2) / (-r)
			f1, f2, f3 := etdrk4(z)
			s[i].first[k], s[i].mid[k], s[i].fourth[k] = size*f1, 2*size*f2, size*f3
		}
		size *= 1.22
	}
	return s
}()

// etdrk4 returns the weights of ETDRK4 over the step for z < 0; near zero by
// their series, since the closed forms cancel there.
func etdrk4(z float64) (f1, f2, f3 float64) {
	if z < -1 {
		e, c := math.Exp(z), z*z*z
		return (-4 - z + e*(4-3*z+z*z)) / c, (2 + z + e*(z-2)) / c, (-4 - 3*z - z*z + e*(4-z)) / c
	}
	// with e^z = sum z^n/n!: the coefficient of z^(m+3) in each numerator
	inv := func(n int) float64 { return 1 / math.Gamma(float64(n)+1) }
	power := 1.0
	for m := range 24 {
		n := m + 3
		f1 += power * (4*inv(n) - 3*inv(n-1) + inv(n-2))
		f2 += power * (inv(n-1) - 2*inv(n))
		f3 += power * (4*inv(n) - inv(n-1))
		power *= z
	}
	return f1, f2, f3
}

// flows evaluates the leak laws of one conduct at a pressure.
type flows struct {
	c                   *conduct
	opening, seep, rigs float64 // weights, 1/s
	slip50, plain50     float64
	cd50                float64
	force50             float64 // N
}

func newFlows(c *conduct) flows {
	pa := c.pressure
	r50 := (pa - gas.StatedVacuum) / pa
	f := flows{c: c, cd50: gas.SharpEdgeCd(r50)}
	f.opening = (c.total - c.rig) * c.share / nozzle(r50)
	f.seep = (c.total - c.rig) * (1 - c.share)
	f.plain50 = gas.StatedVacuum * (2*pa - gas.StatedVacuum)
	f.rigs = c.rig / f.plain50
	f.slip50 = gas.StatedVacuum * (2*pa - gas.StatedVacuum + c.slip)
	f.force50 = c.press.of(gas.StatedVacuum)
	return f
}

// nozzle is the flow function of an isentropic nozzle over sqrt(2g/(g-1)), in
// air: r^(10/7) - r^(12/7) under the root, held at the critical ratio.
func nozzle(r float64) float64 {
	const critical = 0.5282817877171742
	switch {
	case r <= critical:
		return nozzleMost
	case r >= 1:
		return 0
	}
	b := math.Exp(2.0 / 7 * math.Log(r))
	b2 := b * b
	return math.Sqrt(b2 * b2 * b * (1 - b))
}

// nozzleMost is psi* over sqrt(2g/(g-1)).
var nozzleMost = gas.PsiMax / math.Sqrt(2*gas.Gamma/(gas.Gamma-1))

// at returns the leak [1/s] at the absolute pressure p. A gap that is k times
// that at 50 kPa passes k³ without slip, k² of what slip adds, and has k times
// the inertia for the same flow.
func (f *flows) at(p float64) float64 {
	pa := f.c.pressure
	v := pa - p
	if v <= 0 {
		return 0
	}
	r := p / pa
	a := f.opening * nozzle(r)
	if f.c.edge != 0 {
		a *= 1 + f.c.edge*(gas.SharpEdgeCd(r)/f.cd50-1)
	}
	k := 1.0
	if f.c.load > 0 && f.seep > 0 {
		k = math.Pow(f.c.press.of(v)/f.force50, -f.c.load)
	}
	d := v * k * k * (k*(pa+p) + f.c.slip) / f.slip50
	if i := f.c.inertia; i > 0 {
		d = 2 * (1 + i) * d / (1 + math.Sqrt(1+4*i*k*(1+i)*d))
	}
	return a + f.seep*d + f.rigs*v*(pa+p)
}

// curve is a computed hold: what the gauge shows (before its zero, gain and
// bow), as a cubic on each interval and the tail of the lag,
//
//	shown(t0+u) = c0 + c1 u + c2 u² + c3 u³ + tail exp(-u/lag)
type curve struct {
	lag   float64
	dried float64   // exp(-t/tau_v) at the last node
	at    []float64 // s after shut-off, node times
	poly  [][5]float64
}

// run computes the hold up to the time end [s] after shut-off, or until the
// vacuum is under floor [Pa], and puts it in the curve. State: the mass over
// that of the same volume of room air, y, and the modes δ of the gas's
// temperature over the room's, θ = wall + Σ weight δ, p = pa y θ, with
//
//	y' = a,   δ' = ((g-θ) a - rate δ/tau)/y
//
// stepped in the scaled time dx = dt/(y tau), in which each mode decays at a
// constant rate and so exactly. Before shut-off the pump drew what leaked and
// the gas was at rest, which gives the start.
func (w *curve) run(c *conduct, end, floor float64) {
	f := newFlows(c)
	var weight, delta, da, db [modes]float64
	weight[0] = 1 - c.mix
	for k, j := range j0Zero {
		weight[k+1] = c.mix * 4 / (j * j)
	}
	p := c.pressure - c.start
	a := f.at(p)
	// at rest: src = g a (1-θ) = rate δ/tau
	sum := 0.0
	for k := range modes {
		sum += weight[k] / modeRate[k]
	}
	b := c.tau * gas.Gamma * a * sum
	th := (c.wall + b) / (1 + b)
	for k := range modes {
		delta[k] = c.tau * gas.Gamma * a * (1 - th) / modeRate[k]
	}
	y, t := p/(c.pressure*th), 0.0
	n := modes
	if c.mix == 0 {
		n = 1
	}
	theta := func(d *[modes]float64) float64 {
		s := c.wall
		for k := range n {
			s += weight[k] * d[k]
		}
		return s
	}
	w.lag, w.dried = c.lag, 1
	w.at, w.poly = w.at[:0], w.poly[:0]
	shown := c.start
	v, slope := c.start, -w.rise(c, &weight, &delta, n, y, th, a)
	j := 0
	for {
		// stride: no more than a step in vacuum that the laws' bends allow
		perX := math.Abs(slope) * y * c.tau
		most := math.Min(0.12*v, 0.04*c.pressure)
		for j > 0 && perX*strides[j].size > most {
			j--
		}
		st := &strides[j]
		h := st.size
		// four stages
		n1 := c.tau * (gas.Gamma - th) * a
		y1, t1 := c.tau*a*y, c.tau*y
		for k := range n {
			da[k] = st.half[k]*delta[k] + st.phi[k]*n1
		}
		ya := y + h/2*y1
		tha := theta(&da)
		aa := f.at(c.pressure * ya * tha)
		n2 := c.tau * (gas.Gamma - tha) * aa
		y2, t2 := c.tau*aa*ya, c.tau*ya
		for k := range n {
			db[k] = st.half[k]*delta[k] + st.phi[k]*n2
		}
		yb := y + h/2*y2
		thb := theta(&db)
		ab := f.at(c.pressure * yb * thb)
		n3 := c.tau * (gas.Gamma - thb) * ab
		y3, t3 := c.tau*ab*yb, c.tau*yb
		for k := range n {
			db[k] = st.half[k]*da[k] + st.phi[k]*(2*n3-n1)
		}
		yc := y + h*y3
		thc := theta(&db)
		ac := f.at(c.pressure * yc * thc)
		n4 := c.tau * (gas.Gamma - thc) * ac
		y4, t4 := c.tau*ac*yc, c.tau*yc
		for k := range n {
			delta[k] = st.whole[k]*delta[k] + st.first[k]*n1 + st.mid[k]*(n2+n3) + st.fourth[k]*n4
		}
		y += h / 6 * (y1 + 2*(y2+y3) + y4)
		dt := h / 6 * (t1 + 2*(t2+t3) + t4)
		th = theta(&delta)
		p = c.pressure * y * th
		a = f.at(p)
		next := c.pressure - p
		nextSlope := -w.rise(c, &weight, &delta, n, y, th, a)
		shown = w.add(c, t, dt, v, slope, next, nextSlope, shown)
		t, v, slope = t+dt, next, nextSlope
		if !(t < end) || !(v > floor) || len(w.at) > 3000 {
			break
		}
		if j < len(strides)-1 {
			j++
		}
	}
}

// rise returns dp/dt [Pa/s].
func (w *curve) rise(c *conduct, weight, delta *[modes]float64, n int, y, th, a float64) float64 {
	dth := 0.0
	for k := range n {
		dth += weight[k] * ((gas.Gamma-th)*a - modeRate[k]*delta[k]/c.tau) / y
	}
	return c.pressure * (a*th + y*dth)
}

// add puts one interval of the vacuum, a cubic by its ends and slopes, through
// the gauge's lag and takes the vapour off; it returns what the gauge shows at
// the interval's end, vapour left out. A first-order lag answers a cubic v by
// v - lag v' + lag² v” - lag³ v”' and a decaying tail: exact.
func (w *curve) add(c *conduct, t, h, v0, s0, v1, s1, shown float64) float64 {
	c2, c3 := cubic(h, v0, s0, v1, s1)
	l := c.lag
	q := [5]float64{
		v0 - l*(s0-l*(2*c2-l*6*c3)),
		s0 - l*(2*c2-l*6*c3),
		c2 - l*3*c3,
		c3,
		0,
	}
	tail := shown - q[0]
	q[4] = tail
	shown = q[0] + h*(q[1]+h*(q[2]+h*q[3])) + tail*math.Exp(-h/l)
	if c.vapour > 0 {
		e0 := w.dried
		e1 := math.Exp(-(t + h) / c.tauVapour)
		w.dried = e1
		a0, a1 := c.vapour*(1-e0), c.vapour*(1-e1)
		d0, d1 := c.vapour*e0/c.tauVapour, c.vapour*e1/c.tauVapour
		k2, k3 := cubic(h, a0, d0, a1, d1)
		q[0] -= a0
		q[1] -= d0
		q[2] -= k2
		q[3] -= k3
	}
	w.at = append(w.at, t)
	w.poly = append(w.poly, q)
	return shown
}

// cubic returns the coefficients of u² and u³ of the cubic through both ends.
func cubic(h, v0, s0, v1, s1 float64) (c2, c3 float64) {
	m := (v1 - v0) / h
	return (3*m - 2*s0 - s1) / h, (s0 + s1 - 2*m) / (h * h)
}

// shownAt returns what the gauge shows u seconds into interval i.
func (w *curve) shownAt(i int, u float64) float64 {
	q := &w.poly[i]
	s := q[0] + u*(q[1]+u*(q[2]+u*q[3]))
	if x := u / w.lag; math.Abs(q[4]) > 0.002 && x < 25 {
		s += q[4] * math.Exp(-x)
	}
	return s
}

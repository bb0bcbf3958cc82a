package num

import "math"

// Solve integrates dy/dt = f(t, y) from t0 to t1 >= t0, starting from y0, by
// the explicit Runge-Kutta pair of Dormand and Prince, orders 5 and 4, with
// adaptive steps. f fills dydt and keeps neither slice; y0 is not changed.
//
// Each step's error is held under Rel |y| + Abs Scale (root mean square over
// the components). An event is located to the rounding of t, with the error of
// a step, not of the interpolation. Where f jumps (a valve is shut), end one
// Solve and begin the next: steps must not cross a jump.
//
// Errors are *[StepError]; the solution up to there comes with them. Mildly
// stiff problems are solved, slowly; use [SolveStiff] when a time constant is
// a thousand times shorter than the span.
//
// Source: Dormand and Prince, J. Comp. Appl. Math. 6 (1980) 19; step control
// and dense output as in Hairer, Nørsett, Wanner, Solving Ordinary
// Differential Equations I, II.4 to II.6.
func Solve(f func(t float64, y, dydt []float64), t0, t1 float64, y0 []float64, o Options) (*Solution, error) {
	w, err := o.tolerance(len(y0))
	if err != nil {
		return nil, err
	}
	c := &counted{f: f}
	return drive(newDopri(c, w, len(y0)), c, w, t0, t1, y0, o)
}

// Coefficients of the pair.
const (
	dpC2, dpC3, dpC4, dpC5 = 1. / 5, 3. / 10, 4. / 5, 8. / 9

	dpA21                             = 1. / 5
	dpA31, dpA32                      = 3. / 40, 9. / 40
	dpA41, dpA42, dpA43               = 44. / 45, -56. / 15, 32. / 9
	dpA51, dpA52, dpA53, dpA54        = 19372. / 6561, -25360. / 2187, 64448. / 6561, -212. / 729
	dpA61, dpA62, dpA63, dpA64, dpA65 = 9017. / 3168, -355. / 33, 46732. / 5247, 49. / 176, -5103. / 18656
	dpA71, dpA73, dpA74, dpA75, dpA76 = 35. / 384, 500. / 1113, 125. / 192, -2187. / 6784, 11. / 84

	dpE1, dpE3, dpE4, dpE5, dpE6, dpE7 = 71. / 57600, -71. / 16695, 71. / 1920, -17253. / 339200, 22. / 525, -1. / 40

	dpD1, dpD3, dpD4 = -12715105075. / 11282082432, 87487479700. / 32700410799, -10690763975. / 1880347072
	dpD5, dpD6, dpD7 = 701980252875. / 199316789632, -1453857185. / 822651844, 69997945. / 29380423
)

// dopri is the [method] of Solve.
type dopri struct {
	f                           *counted
	w                           tolerance
	t                           float64
	y, y1, ys                   []float64 // current, end of try, sixth stage
	k1, k2, k3, k4, k5, k6, k7e []float64
	e                           []float64
}

func newDopri(f *counted, w tolerance, n int) *dopri {
	d := &dopri{f: f, w: w}
	buf := make([]float64, 11*n)
	for i, p := range []*[]float64{&d.y, &d.y1, &d.ys, &d.k1, &d.k2, &d.k3, &d.k4, &d.k5, &d.k6, &d.k7e, &d.e} {
		*p = buf[i*n : (i+1)*n : (i+1)*n]
	}
	return d
}

func (d *dopri) start(t float64, y []float64) bool {
	d.t = t
	copy(d.y, y)
	return d.f.eval(t, d.y, d.k1)
}

func (d *dopri) try(h float64) float64 {
	y, ys := d.y, d.ys
	for i := range y {
		ys[i] = y[i] + h*dpA21*d.k1[i]
	}
	if !d.f.eval(d.t+dpC2*h, ys, d.k2) {
		return math.NaN()
	}
	for i := range y {
		ys[i] = y[i] + h*(dpA31*d.k1[i]+dpA32*d.k2[i])
	}
	if !d.f.eval(d.t+dpC3*h, ys, d.k3) {
		return math.NaN()
	}
	for i := range y {
		ys[i] = y[i] + h*(dpA41*d.k1[i]+dpA42*d.k2[i]+dpA43*d.k3[i])
	}
	if !d.f.eval(d.t+dpC4*h, ys, d.k4) {
		return math.NaN()
	}
	for i := range y {
		ys[i] = y[i] + h*(dpA51*d.k1[i]+dpA52*d.k2[i]+dpA53*d.k3[i]+dpA54*d.k4[i])
	}
	if !d.f.eval(d.t+dpC5*h, ys, d.k5) {
		return math.NaN()
	}
	for i := range y {
		ys[i] = y[i] + h*(dpA61*d.k1[i]+dpA62*d.k2[i]+dpA63*d.k3[i]+dpA64*d.k4[i]+dpA65*d.k5[i])
	}
	if !d.f.eval(d.t+h, ys, d.k6) {
		return math.NaN()
	}
	for i := range y {
		d.y1[i] = y[i] + h*(dpA71*d.k1[i]+dpA73*d.k3[i]+dpA74*d.k4[i]+dpA75*d.k5[i]+dpA76*d.k6[i])
	}
	if !d.f.eval(d.t+h, d.y1, d.k7e) {
		return math.NaN()
	}
	for i := range y {
		d.e[i] = h * (dpE1*d.k1[i] + dpE3*d.k3[i] + dpE4*d.k4[i] + dpE5*d.k5[i] + dpE6*d.k6[i] + dpE7*d.k7e[i])
	}
	return d.w.norm(d.e, d.y, d.y1)
}

func (d *dopri) end() []float64 { return d.y1 }

func (d *dopri) dense(h float64, coef []float64) {
	n := len(d.y)
	for i := range d.y {
		diff := d.y1[i] - d.y[i]
		b := h*d.k1[i] - diff
		coef[i] = d.y[i]
		coef[n+i] = diff
		coef[2*n+i] = b
		coef[3*n+i] = diff - h*d.k7e[i] - b
		coef[4*n+i] = h * (dpD1*d.k1[i] + dpD3*d.k3[i] + dpD4*d.k4[i] + dpD5*d.k5[i] + dpD6*d.k6[i] + dpD7*d.k7e[i])
	}
}

func (d *dopri) advance(h float64) bool {
	d.t += h
	d.y, d.y1 = d.y1, d.y
	d.k1, d.k7e = d.k7e, d.k1 // first same as last
	return true
}

// stiff compares the last two stages, which differ little in y and are both at
// t+h: their slope estimates the leading eigenvalue; 3.25 is the edge of the
// method's stability (Hairer and Wanner, Solving ODEs II, IV.2).
func (d *dopri) stiff(h float64) bool {
	up, down := 0.0, 0.0
	for i := range d.y {
		a, b := d.k7e[i]-d.k6[i], d.y1[i]-d.ys[i]
		up += a * a
		down += b * b
	}
	return down > 0 && h*math.Sqrt(up/down) > 3.25
}

func (d *dopri) control() (exponent, memory float64) { return 0.2, 0.04 }

func (d *dopri) slope() []float64 { return d.k1 }

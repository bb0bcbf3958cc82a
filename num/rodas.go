package num

import "math"

// SolveStiff integrates like [Solve], by an L-stable Rosenbrock method of
// orders 4 and 3 (RODAS): for small systems in which something settles much
// faster than the rest moves, such as gas that takes the temperature of the
// wall. The Jacobian is found by central differences with steps relative to y
// (and to Abs Scale/Rel where y is near 0), so f must be smooth within those.
//
// Source: Hairer and Wanner, Solving Ordinary Differential Equations II,
// second edition, IV.7 and IV.10, method RODAS. Errors as for Solve.
func SolveStiff(f func(t float64, y, dydt []float64), t0, t1 float64, y0 []float64, o Options) (*Solution, error) {
	w, err := o.tolerance(len(y0))
	if err != nil {
		return nil, err
	}
	c := &counted{f: f}
	return drive(newRodas(c, w, len(y0)), c, w, t0, t1, y0, o)
}

const rdGamma = 0.25

// Coefficients of RODAS in the transformed form that needs no products with
// the Jacobian.
var (
	rdAlpha = [6]float64{0, 0.386, 0.21, 0.63, 1, 1}
	rdD     = [6]float64{0.25, -0.1043, 0.1035, -0.03620000000000023, 0, 0}
	rdA     = [5][4]float64{
		{},
		{1.544},
		{0.9466785280815826, 0.2557011698983284},
		{3.314825187068521, 2.896124015972201, 0.9986419139977817},
		{1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950},
	}
	rdC = [6][5]float64{
		{},
		{-5.6688},
		{-2.430093356833875, -0.2063599157091915},
		{-0.1073529058151375, -9.594562251023355, -20.47028614809616},
		{7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160},
		{8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054},
	}
	rdD2 = [5]float64{10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823, 1.025137723295662}
	rdD3 = [5]float64{-0.6762803392806898, 6.087714651680015, 16.43084320892478, 24.76722511418386, -6.594389125716872}
)

// rodas is the [method] of SolveStiff.
type rodas struct {
	f      *counted
	w      tolerance
	n      int
	t      float64
	y, y1  []float64
	f0, ft []float64
	ys, fs []float64
	k      [6][]float64
	jac    []float64 // row-major n by n
	lu     []float64
	pivot  []int
	fresh  bool // jac and ft belong to the current point
}

func newRodas(f *counted, w tolerance, n int) *rodas {
	r := &rodas{f: f, w: w, n: n, pivot: make([]int, n), jac: make([]float64, n*n), lu: make([]float64, n*n)}
	buf := make([]float64, 12*n)
	parts := []*[]float64{&r.y, &r.y1, &r.f0, &r.ft, &r.ys, &r.fs}
	for i := range r.k {
		parts = append(parts, &r.k[i])
	}
	for i, p := range parts {
		*p = buf[i*n : (i+1)*n : (i+1)*n]
	}
	return r
}

func (r *rodas) start(t float64, y []float64) bool {
	r.t, r.fresh = t, false
	copy(r.y, y)
	return r.f.eval(t, r.y, r.f0)
}

// derivatives fills the Jacobian and the slope in time, for a step near h.
func (r *rodas) derivatives(h float64) bool {
	up, down := r.ys, r.fs
	copy(r.y1, r.y)
	for j := range r.y {
		d := 6e-6 * math.Max(math.Abs(r.y[j]), r.w.abs[j]/r.w.rel) // about eps^(1/3)
		hi, lo := r.y[j]+d, r.y[j]-d
		r.y1[j] = hi
		okUp := r.f.eval(r.t, r.y1, up)
		r.y1[j] = lo
		okDown := r.f.eval(r.t, r.y1, down)
		r.y1[j] = r.y[j]
		switch { // at the edge of the domain one side must do
		case okUp && okDown:
		case okUp:
			copy(down, r.f0)
			lo = r.y[j]
		case okDown:
			copy(up, r.f0)
			hi = r.y[j]
		default:
			return false
		}
		for i := range r.y {
			r.jac[i*r.n+j] = (up[i] - down[i]) / (hi - lo)
		}
	}
	d := math.Max(1e-5*h, 2e-8*math.Abs(r.t)) // forward, so that it stays within the span
	if d > h {
		d = h
	}
	td := r.t + d
	if !r.f.eval(td, r.y, up) {
		return false
	}
	for i := range r.ft {
		r.ft[i] = (up[i] - r.f0[i]) / (td - r.t)
	}
	r.fresh = true
	return true
}

func (r *rodas) try(h float64) float64 {
	if !r.fresh && !r.derivatives(h) {
		return math.NaN()
	}
	for i := range r.lu {
		r.lu[i] = -r.jac[i]
	}
	for i := range r.n {
		r.lu[i*r.n+i] += 1 / (h * rdGamma)
	}
	if !factor(r.lu, r.pivot, r.n) {
		return math.NaN()
	}
	copy(r.ys, r.y)
	fs := r.f0
	for s := range 6 {
		switch {
		case s == 5: // stiffly accurate: the last stage is the embedded solution
			for i := range r.ys {
				r.ys[i] += r.k[4][i]
			}
		case s > 0:
			for i := range r.ys {
				sum := r.y[i]
				for j := range s {
					sum += rdA[s][j] * r.k[j][i]
				}
				r.ys[i] = sum
			}
		}
		if s > 0 {
			if !r.f.eval(r.t+rdAlpha[s]*h, r.ys, r.fs) {
				return math.NaN()
			}
			fs = r.fs
		}
		for i := range r.ys {
			sum := fs[i] + h*rdD[s]*r.ft[i]
			for j := range s {
				sum += rdC[s][j] / h * r.k[j][i]
			}
			r.k[s][i] = sum
		}
		substitute(r.lu, r.pivot, r.n, r.k[s])
	}
	for i := range r.y1 {
		r.y1[i] = r.ys[i] + r.k[5][i]
	}
	if !allFinite(r.y1) {
		return math.NaN()
	}
	return r.w.norm(r.k[5], r.y, r.y1)
}

func (r *rodas) end() []float64 { return r.y1 }

func (r *rodas) dense(_ float64, coef []float64) {
	n := r.n
	for i := range n {
		c3, c4 := 0.0, 0.0
		for j := range 5 {
			c3 += rdD2[j] * r.k[j][i]
			c4 += rdD3[j] * r.k[j][i]
		}
		coef[i], coef[n+i], coef[2*n+i], coef[3*n+i], coef[4*n+i] = r.y[i], r.y1[i]-r.y[i], c3, c4, 0
	}
}

func (r *rodas) advance(h float64) bool {
	r.t += h
	r.y, r.y1 = r.y1, r.y
	r.fresh = false
	return r.f.eval(r.t, r.y, r.f0)
}

func (r *rodas) stiff(float64) bool { return false }

func (r *rodas) control() (exponent, memory float64) { return 0.25, 0 }

func (r *rodas) slope() []float64 { return r.f0 }

// factor makes a (row-major, n by n) into its LU factors with row exchanges;
// false if it is singular or not finite.
func factor(a []float64, pivot []int, n int) bool {
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i*n+k]) > math.Abs(a[p*n+k]) {
				p = i
			}
		}
		pivot[k] = p
		if v := a[p*n+k]; v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
		if p != k {
			for j := range n {
				a[k*n+j], a[p*n+j] = a[p*n+j], a[k*n+j]
			}
		}
		for i := k + 1; i < n; i++ {
			f := a[i*n+k] / a[k*n+k]
			a[i*n+k] = f
			for j := k + 1; j < n; j++ {
				a[i*n+j] -= f * a[k*n+j]
			}
		}
	}
	return true
}

// substitute solves a x = b with the factors of a, in place.
func substitute(a []float64, pivot []int, n int, b []float64) {
	for k := range n {
		b[k], b[pivot[k]] = b[pivot[k]], b[k]
	}
	for i := range n {
		for j := range i {
			b[i] -= a[i*n+j] * b[j]
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			b[i] -= a[i*n+j] * b[j]
		}
		b[i] /= a[i*n+i]
	}
}

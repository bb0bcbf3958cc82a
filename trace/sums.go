package trace

import "math"

// sums holds running sums of powers of time and of value, so that a line or a
// bend can be fitted to any stretch of a trace in constant time.
type sums struct {
	t, u   []float64 // the series itself
	origin float64   // time that powers are taken about
	p      [][8]float64
}

// newSums returns the running sums of the series u against t. The series are
// kept, not copied, and not changed.
func newSums(t, u []float64) *sums {
	s := &sums{t: t, u: u, p: make([][8]float64, len(t)+1)}
	if len(t) > 0 {
		s.origin = t[len(t)/2]
	}
	var a [8]float64
	for i := range t {
		addPowers(&a, t[i]-s.origin, u[i])
		s.p[i+1] = a
	}
	return s
}

// addPowers adds the point (x, y) to the sums a: n, Σx, Σx², Σx³, Σx⁴, Σy, Σxy, Σx²y.
func addPowers(a *[8]float64, x, y float64) {
	x2 := x * x
	a[0]++
	a[1] += x
	a[2] += x2
	a[3] += x2 * x
	a[4] += x2 * x2
	a[5] += y
	a[6] += x * y
	a[7] += x2 * y
}

// moments returns the sums over points i..j-1 with time taken about the time
// at: n, Σx, Σx², Σx³, Σx⁴, Σy, Σxy, Σx²y.
func (s *sums) moments(i, j int, at float64) [8]float64 {
	var d [8]float64
	if j-i <= 64 || s.t[j-1]-s.t[i] < 0.5 {
		// short beside the trace: the running sums would cancel to nothing
		for k := i; k < j; k++ {
			addPowers(&d, s.t[k]-at, s.u[k])
		}
		return d
	}
	for k := range d {
		d[k] = s.p[j][k] - s.p[i][k]
	}
	h := s.origin - at // x' = x + h
	h2 := h * h
	return [8]float64{
		d[0],
		d[1] + h*d[0],
		d[2] + 2*h*d[1] + h2*d[0],
		d[3] + 3*h*d[2] + 3*h2*d[1] + h2*h*d[0],
		d[4] + 4*h*d[3] + 6*h2*d[2] + 4*h2*h*d[1] + h2*h2*d[0],
		d[5],
		d[6] + h*d[5],
		d[7] + 2*h*d[6] + h2*d[5],
	}
}

// mean returns the mean of points i..j-1.
func (s *sums) mean(i, j int) float64 {
	if j <= i {
		return math.NaN()
	}
	return (s.p[j][5] - s.p[i][5]) / float64(j-i)
}

// slope returns the least-squares slope of points i..j-1, 0 for fewer than
// two or for equal times.
func (s *sums) slope(i, j int) float64 {
	if j-i < 2 {
		return 0
	}
	m := s.moments(i, j, s.t[i])
	den := m[0]*m[2] - m[1]*m[1]
	if den <= 0 {
		return 0
	}
	return (m[0]*m[6] - m[1]*m[5]) / den
}

// bend fits, to points i..j-1, two parabolas joined at the time at, k being the
// first point at or after it: one that rises less and less before it, and one
// that falls less and less after it, as a pump and a leak do (a parabola that
// bends the other way is made a line). It returns what is left of Σ(y-ȳ)² (less
// that sum) and how far the second has fallen at the last point.
func (s *sums) bend(i, j, k int, at float64) (left, fall float64) {
	b := s.moments(i, k, at)
	a := s.moments(k, j, at)
	mean := s.mean(i, j)
	n := b[0] + a[0]
	// unknowns: level; slope and curve before; slope and curve after
	eq := linear5{
		m: [5][5]float64{
			{n, b[1], b[2], a[1], a[2]},
			{b[1], b[2], b[3], 0, 0},
			{b[2], b[3], b[4], 0, 0},
			{a[1], 0, 0, a[2], a[3]},
			{a[2], 0, 0, a[3], a[4]},
		},
		r: [5]float64{
			b[5] + a[5] - mean*n,
			b[6] - mean*b[1], b[7] - mean*b[2],
			a[6] - mean*a[1], a[7] - mean*a[2],
		},
	}
	x := eq.solve(31)
	// the slope at the join rises before it and falls after it
	wrong := [5]float64{1: -1, 2: 1, 3: 1, 4: -1}
	use := uint(31)
	for range 3 {
		was := use
		for q, sign := range wrong {
			if x[q]*sign > 0 {
				use &^= 1 << q
			}
		}
		if use == was {
			break
		}
		x = eq.solve(use)
	}
	for q := range x {
		left -= x[q] * eq.r[q]
	}
	h := s.t[j-1] - at
	return left, -x[3]*h - x[4]*h*h
}

// linear5 is five symmetric linear equations.
type linear5 struct {
	m [5][5]float64
	r [5]float64
}

// solve solves for the unknowns whose bit is set in use, the others being 0, by
// Cholesky elimination of the scaled equations with a weak ridge, so that a few
// points are enough.
func (e *linear5) solve(use uint) (x [5]float64) {
	var idx [5]int
	n := 0
	for i := range 5 {
		if use>>i&1 == 1 && e.m[i][i] > 0 {
			idx[n] = i
			n++
		}
	}
	var c [5][5]float64
	var y, scale [5]float64
	for i := range n {
		scale[i] = 1 / math.Sqrt(e.m[idx[i]][idx[i]])
	}
	for i := range n {
		for j := 0; j <= i; j++ {
			v := e.m[idx[i]][idx[j]] * scale[i] * scale[j]
			if i == j {
				v += 1e-8
			}
			for q := range j {
				v -= c[i][q] * c[j][q]
			}
			if i == j {
				c[i][i] = math.Sqrt(math.Max(v, 1e-9))
			} else {
				c[i][j] = v / c[j][j]
			}
		}
		v := e.r[idx[i]] * scale[i]
		for q := range i {
			v -= c[i][q] * y[q]
		}
		y[i] = v / c[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for q := i + 1; q < n; q++ {
			y[i] -= c[q][i] * y[q]
		}
		y[i] /= c[i][i]
	}
	for i := range n {
		x[idx[i]] = y[i] * scale[i]
	}
	return x
}

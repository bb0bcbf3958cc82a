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
		x, y := t[i]-s.origin, u[i]
		x2 := x * x
		a[0]++
		a[1] += x
		a[2] += x2
		a[3] += x2 * x
		a[4] += x2 * x2
		a[5] += y
		a[6] += x * y
		a[7] += x2 * y
		s.p[i+1] = a
	}
	return s
}

// moments returns the sums over points i..j-1 with time taken about the time
// at: n, Σx, Σx², Σx³, Σx⁴, Σy, Σxy, Σx²y.
func (s *sums) moments(i, j int, at float64) [8]float64 {
	var d [8]float64
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

// bend fits, to points i..j-1, a curve that is a line before the time at and a
// parabola after it, joined there, and returns what is left of Σ(y-ȳ)²
// (less that sum) and how far the parabola has fallen at the last point.
func (s *sums) bend(i, j int, at float64, k int) (left, fall float64) {
	// k is the first point at or after at
	b := s.moments(i, k, at)
	a := s.moments(k, j, at)
	mean := s.mean(i, j)
	// parameters: level, slope before, slope after, curve after
	n := b[0] + a[0]
	yb, ya := b[5]-mean*b[0], a[5]-mean*a[0]
	m := [4][5]float64{
		{n, b[1], a[1], a[2], yb + ya},
		{b[1], b[2], 0, 0, b[6] - mean*b[1]},
		{a[1], 0, a[2], a[3], a[6] - mean*a[1]},
		{a[2], 0, a[3], a[4], a[7] - mean*a[2]},
	}
	rhs := [4]float64{m[0][4], m[1][4], m[2][4], m[3][4]}
	scale := s.t[j-1] - s.t[i] + 1e-9
	// keep it solvable with few points: a weak ridge, in units of the window
	m[1][1] += 1e-9 * n * scale * scale
	m[2][2] += 1e-9 * n * scale * scale
	m[3][3] += 1e-9 * n * scale * scale * scale * scale
	x := solve4(m)
	for q := range x {
		left -= x[q] * rhs[q]
	}
	h := s.t[j-1] - at
	return left, -x[2]*h - x[3]*h*h
}

// solve4 solves four linear equations by elimination with row exchange.
func solve4(m [4][5]float64) [4]float64 {
	for c := 0; c < 4; c++ {
		p := c
		for r := c + 1; r < 4; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		m[c], m[p] = m[p], m[c]
		if m[c][c] == 0 {
			continue
		}
		for r := 0; r < 4; r++ {
			if r == c {
				continue
			}
			f := m[r][c] / m[c][c]
			for k := c; k < 5; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	var x [4]float64
	for c := range x {
		if m[c][c] != 0 {
			x[c] = m[c][4] / m[c][c]
		}
	}
	return x
}

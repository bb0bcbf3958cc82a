package num

import (
	"fmt"
	"math"
)

// NonNegative is the outcome of [NNLS].
type NonNegative struct {
	X   []float64
	RSS float64 // sum of the weighted squares of the residuals

	// Dual is the certificate: how fast half the RSS would fall if a figure grew,
	//
	//	Dual = A'W(b - A X)
	//
	// X is the least squares if and only if Dual is 0 wherever X > 0 and nowhere
	// above 0 (Karush, Kuhn and Tucker). Off is the worst breach of that, over the
	// length of the weighted column and the greater of those of the weighted b and
	// of what the columns add up to.
	Dual []float64
	Off  float64

	Free       []bool // X was found by least squares, not held at zero
	Iterations int
}

// NNLS returns the x >= 0 that makes the weighted sum of squares
//
//	sum over i of weight[i] (b[i] - sum over j of a[i*len(x)+j] x[j])²
//
// least, by the active-set method of Lawson and Hanson; columns are scaled to
// equal length first and each unweighted problem is solved by Householder
// reflections (not by normal equations). a is row-major, len(b) rows of columns
// entries; nil weights are all 1. None of them is changed. A column of zeros, and
// one that the free columns already make, stays at zero; there may be fewer rows
// than columns. Where several x do as well one of them is returned.
//
// The error is a *[FitError]: no rows or columns, sizes that do not fit, figures
// that are not finite, a weight below zero.
//
// Source: C. L. Lawson and R. J. Hanson, Solving Least Squares Problems, 1974,
// chapter 23, algorithm NNLS (from memory).
func NNLS(a []float64, columns int, b, weight []float64) (*NonNegative, error) {
	rows := len(b)
	if err := checkNNLS(a, rows, columns, b, weight); err != nil {
		return nil, err
	}
	p := newNonNegative(a, rows, columns, b, weight)
	for limit := 30 * columns; ; p.steps++ {
		if p.steps >= limit {
			return nil, &FitError{fmt.Sprintf("non-negative: no end after %d steps", limit)}
		}
		j := p.enter()
		if j < 0 {
			break
		}
		p.free[j] = true
		p.settle(j)
	}
	return p.outcome(), nil
}

func checkNNLS(a []float64, rows, columns int, b, weight []float64) error {
	bad := func(format string, args ...any) error {
		return &FitError{"non-negative: " + fmt.Sprintf(format, args...)}
	}
	switch {
	case rows == 0 || columns < 1:
		return bad("%d rows and %d columns: both must be 1 or more", rows, columns)
	case len(a) != rows*columns:
		return bad("%d entries for %d rows of %d columns", len(a), rows, columns)
	case weight != nil && len(weight) != rows:
		return bad("%d weights for %d rows", len(weight), rows)
	}
	for i, x := range a {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return bad("row %d, column %d: %g is not finite", i/columns+1, i%columns+1, x)
		}
	}
	for i, x := range b {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return bad("row %d: %g is not finite", i+1, x)
		}
	}
	for i, w := range weight {
		if !(w >= 0) || math.IsInf(w, 0) {
			return bad("row %d: a weight of %g, which must be 0 or more", i+1, w)
		}
	}
	return nil
}

// nonNegative is a problem on its way: columns weighted and of length 1.
type nonNegative struct {
	rows, columns int
	col           [][]float64
	b             []float64
	length        []float64 // of each weighted column; 0 for one of zeros
	size          float64   // length of the weighted b
	x             []float64 // of the scaled columns
	free, barred  []bool
	steps         int
}

func newNonNegative(a []float64, rows, columns int, b, weight []float64) *nonNegative {
	p := &nonNegative{
		rows: rows, columns: columns, b: make([]float64, rows), col: make([][]float64, columns),
		length: make([]float64, columns), x: make([]float64, columns), free: make([]bool, columns), barred: make([]bool, columns),
	}
	root := func(i int) float64 {
		if weight == nil {
			return 1
		}
		return math.Sqrt(weight[i])
	}
	for i := range b {
		p.b[i] = root(i) * b[i]
	}
	p.size = norm(p.b)
	for j := range p.col {
		c := make([]float64, rows)
		for i := range c {
			c[i] = root(i) * a[i*columns+j]
		}
		p.length[j] = norm(c)
		for i := range c {
			if p.length[j] > 0 {
				c[i] /= p.length[j]
			}
		}
		p.col[j] = c
	}
	return p
}

// norm is the length of a vector, safe from overflow.
func norm(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum = math.Hypot(sum, x)
	}
	return sum
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// residual is b - A x.
func (p *nonNegative) residual() []float64 {
	r := append([]float64(nil), p.b...)
	for j, x := range p.x {
		if x != 0 {
			for i := range r {
				r[i] -= x * p.col[j][i]
			}
		}
	}
	return r
}

// tiny is the part of a length below which it counts as rounding.
const tiny = 1e-13

// enter returns the column at zero that the sum of squares falls fastest with,
// -1 where it falls with none. A column that the free ones already make, or that
// rounding alone would free, is barred until another step was taken.
func (p *nonNegative) enter() int {
	r := p.residual()
	for {
		best, at := tiny*p.size, -1
		for j := range p.col {
			if p.free[j] || p.barred[j] || p.length[j] == 0 {
				continue
			}
			if d := dot(p.col[j], r); d > best {
				best, at = d, j
			}
		}
		if at < 0 {
			return -1
		}
		p.free[at] = true
		z, sound := p.solve()
		p.free[at] = false
		if sound && z[at] > 0 {
			return at
		}
		p.barred[at] = true
	}
}

// settle moves x to the least squares of the free columns, giving up those that
// would fall below zero on the way.
func (p *nonNegative) settle(entered int) {
	for {
		z, _ := p.solve()
		step, stop := 1.0, -1
		for j := range z {
			if p.free[j] && z[j] <= 0 {
				if s := p.x[j] / (p.x[j] - z[j]); s < step || stop < 0 {
					step, stop = s, j
				}
			}
		}
		if stop < 0 {
			p.x = z
			clear(p.barred)
			return
		}
		for j := range z {
			p.x[j] += step * (z[j] - p.x[j])
			if p.free[j] && j != entered && p.x[j] <= tiny*p.size || j == stop {
				p.x[j], p.free[j] = 0, false
			}
		}
	}
}

// solve returns the least squares of the free columns, zeros elsewhere, and
// whether those columns are independent.
func (p *nonNegative) solve() (z []float64, sound bool) {
	z, sound = make([]float64, p.columns), true
	var which []int
	var q [][]float64 // the columns, turned step by step into R
	rest := append([]float64(nil), p.b...)
	for j, f := range p.free {
		if f {
			which, q = append(which, j), append(q, append([]float64(nil), p.col[j]...))
		}
	}
	n := len(which)
	if n > p.rows {
		return z, false
	}
	for k := range n {
		v := q[k][k:]
		length := norm(v)
		if length < 1e-11 { // of columns of length 1
			return z, false
		}
		if v[0] > 0 {
			length = -length
		}
		h := append([]float64(nil), v...)
		h[0] -= length
		if s := dot(h, h); s > 0 {
			for m := k; m <= n; m++ {
				c := rest
				if m < n {
					c = q[m]
				}
				f := 2 * dot(h, c[k:]) / s
				for i := range h {
					c[k+i] -= f * h[i]
				}
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		s := rest[k]
		for m := k + 1; m < n; m++ {
			s -= q[m][k] * z[which[m]]
		}
		z[which[k]] = s / q[k][k]
	}
	return z, sound
}

func (p *nonNegative) outcome() *NonNegative {
	r := p.residual()
	out := &NonNegative{X: make([]float64, p.columns), Dual: make([]float64, p.columns), Free: p.free, RSS: dot(r, r), Iterations: p.steps}
	size := math.Max(p.size, norm(p.x))
	for j := range p.col {
		d := dot(p.col[j], r)
		out.Dual[j] = d * p.length[j]
		if p.length[j] > 0 {
			out.X[j] = p.x[j] / p.length[j]
		}
		if p.free[j] {
			d = math.Abs(d)
		}
		if size > 0 {
			out.Off = math.Max(out.Off, d/size)
		}
	}
	return out
}

package leak

import (
	"math"

	"seatproof/num"
)

// curve is a distribution of the logarithm of a flow on even cells: first the
// mass about each, then the chance of lying below its upper end.
type curve struct {
	low, step float64 // middle of the first cell, width
	cell      []float64
}

// curveMargin is how far beyond the level's cells one more test may lie [of the
// logarithm].
const curveMargin = 4

// newCurve returns an empty curve over n cells and a margin on both sides.
func newCurve(low, step float64, n int) *curve {
	m := int(curveMargin/step) + 1
	return &curve{low - float64(m)*step, step, make([]float64, n+2*m)}
}

// add adds masses at the level's cells, smeared by a normal of sd s.
func (c *curve) add(mass []float64, s float64) {
	margin := (len(c.cell) - len(mass)) / 2
	far := min(margin, int(6*s/c.step)+1)
	kernel := make([]float64, 2*far+1)
	if s < 0.1*c.step {
		kernel[far] = 1
	} else {
		for d := range kernel {
			x := float64(d-far) * c.step
			kernel[d] = num.NormalCDF((x+c.step/2)/s) - num.NormalCDF((x-c.step/2)/s)
		}
	}
	normalise(kernel)
	for j, m := range mass {
		if m < 1e-12 {
			continue
		}
		out := c.cell[j+margin-far : j+margin+far+1]
		for d, k := range kernel {
			out[d] += m * k
		}
	}
}

// sum turns masses into chances of lying below.
func (c *curve) sum() {
	acc, whole := 0.0, sumOfAll(c.cell)
	for j, m := range c.cell {
		acc += m / whole
		c.cell[j] = acc
	}
}

// curveOf returns the curve of a mixture of normals.
func curveOf(m normals) *curve {
	mean, sd := m.moments()
	const n, wide = 480, 8
	c := &curve{low: mean - wide*sd, step: 2 * wide * sd / n, cell: make([]float64, n)}
	for j := range c.cell {
		c.cell[j] = m.below(c.low + c.step*(float64(j)+0.5))
	}
	return c
}

// below returns the chance that the logarithm lies below x.
func (c *curve) below(x float64) float64 {
	u := (x-c.low)/c.step + 0.5 // cells below x
	j := int(math.Floor(u))
	switch {
	case math.IsNaN(u) || j < 0:
		return 0
	case j >= len(c.cell):
		return 1
	case j == 0:
		return c.cell[0] * u
	}
	return c.cell[j-1] + (c.cell[j]-c.cell[j-1])*(u-float64(j))
}

// common is the error that all tests share: it multiplies the flow (which the
// curves hold already) and adds to it.
type common struct {
	factor float64 // sd of the logarithm
	shift  float64 // m³/s, sd
}

// commonOf returns the common error of tests on one rig. It is the same error in
// all, so a weighted mean of the tests has the weighted mean of their sds; the
// weight of a test is that of its own error and a usual scatter.
func commonOf(tests []ownError) common {
	var c common
	sum := 0.0
	for i := range tests {
		o := &tests[i]
		w := 1 / (o.sd*o.sd + betweenMedian*betweenMedian*o.median*o.median)
		c.factor += w * o.factor
		c.shift += w * o.shift
		sum += w
	}
	return common{c.factor / sum, c.shift / sum}
}

// The common added error is summed over 25 nodes from -3 to 3 of its sd.
const (
	shiftStep = 0.25
	shiftHalf = 12
)

// below returns the chance that the flow lies below q: that of the curve less
// the common added error, known to be none below zero.
//
//	P(X - D < q | X > D),  X by the curve, D ~ N(0, shift²)
func (m common) below(c *curve, q float64) float64 {
	if q <= 0 {
		return 0
	}
	if m.shift == 0 {
		return c.below(math.Log(q))
	}
	under, whole := 0.0, 0.0
	for i := -shiftHalf; i <= shiftHalf; i++ {
		z := shiftStep * float64(i)
		w, d := math.Exp(-z*z/2), z*m.shift
		cut := 0.0
		if d > 0 {
			cut = c.below(math.Log(d))
		}
		whole += w * (1 - cut)
		if q+d > 0 {
			under += w * math.Max(0, c.below(math.Log(q+d))-cut)
		}
	}
	return under / whole
}

// quantile returns the flow below which the chance is p.
func (m common) quantile(c *curve, p float64) float64 {
	lo, hi := c.low-c.step, c.low+c.step*float64(len(c.cell))
	if m.shift > 0 {
		lo, hi = math.Min(lo, math.Log(m.shift)-7), math.Max(hi, math.Log(m.shift)+2)
	}
	for hi-lo > 1e-7 {
		x := (lo + hi) / 2
		if m.below(c, math.Exp(x)) < p {
			lo = x
		} else {
			hi = x
		}
	}
	return math.Exp((lo + hi) / 2)
}

// interval returns median and equal-tailed 95 % interval of the flow.
func (m common) interval(c *curve) Interval {
	return Interval{m.quantile(c, 0.5), m.quantile(c, 0.025), m.quantile(c, 0.975)}
}

// atZero returns the density of the flow at zero over its peak: at zero from the
// chance of lying below a twentieth of its spread, elsewhere from cells of a
// third of it.
func (m common) atZero(c *curve) float64 {
	width := (m.quantile(c, 0.84) - m.quantile(c, 0.16)) / 2
	near, h := 0.05*width, 0.3*width
	peak, last := 0.0, 0.0
	for i := 1; i <= 24; i++ {
		b := m.below(c, h*float64(i))
		peak = math.Max(peak, (b-last)/h)
		last = b
	}
	if !(peak > 0) {
		return 0
	}
	return m.below(c, near) / near / peak
}

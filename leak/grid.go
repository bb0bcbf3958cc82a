package leak

import (
	"math"

	"seatproof/num"
)

// The grid on which tests are put together that are not told well from zero.
const (
	gridStep = 0.05 // of ln Q
	gridMost = 400
)

// levelGrid is the grid of ln Q of one set of tests, and its prior: density
// 1/(Q + Q0) in Q, flat in the logarithm where the tests resolve Q and flat in
// Q below; Q0 is twice the smallest own sd.
type levelGrid struct {
	low, step float64
	flow      []float64 // Q at each cell
	prior     []float64
}

func newLevelGrid(tests []ownError) *levelGrid {
	q0, low, high := math.Inf(1), math.Inf(1), math.Inf(-1)
	for i := range tests {
		q0 = math.Min(q0, 2*tests[i].sd)
	}
	for i := range tests {
		o := &tests[i]
		top := math.Max(o.median, o.mean+4*o.sd)
		high = math.Max(high, math.Log(top)+3)
		if o.plain() {
			low = math.Min(low, math.Log(o.median)-4)
		} else {
			low = math.Min(low, math.Log(math.Min(q0/80, top/400)))
		}
	}
	g := &levelGrid{low: low, step: gridStep}
	n := int((high-low)/g.step) + 1
	if n > gridMost {
		n = gridMost
		g.step = (high - low) / float64(n-1)
	}
	g.flow, g.prior = make([]float64, n), make([]float64, n)
	for j := range g.flow {
		g.flow[j] = math.Exp(low + g.step*float64(j))
		g.prior[j] = g.flow[j] / (g.flow[j] + q0)
	}
	return g
}

// of returns, for each node of sigma_b and cell of ln Q, the log likelihood of
// what was read of a test, and the chance that less would have been read.
func (g *levelGrid) of(o *ownError) (logL, below []float64) {
	n := len(g.flow)
	logL, below = make([]float64, scatterNodes*n), make([]float64, scatterNodes*n)
	if o.plain() {
		u, x := o.relative(), math.Log(o.median)
		for k := range scatterNodes {
			v := 1 / plainWeight(k, u)
			size, norm := 1/math.Sqrt(v), math.Log(u/math.Sqrt(v))
			for j := range n {
				d := (x - g.low - g.step*float64(j)) * size
				logL[k*n+j] = norm - d*d/2
				below[k*n+j] = num.NormalCDF(d)
			}
		}
		return logL, below
	}
	// a normal in the flow, which the scatter then smears
	density, less := make([]float64, n), make([]float64, n)
	for j, q := range g.flow {
		d := (o.mean - q) / o.sd
		density[j] = math.Exp(-d * d / 2)
		less[j] = num.NormalCDF(d)
	}
	if o.mean < 0 { // the most likely flow is none
		for j, q := range g.flow {
			density[j] = math.Exp(-q * (q - 2*o.mean) / (2 * o.sd * o.sd))
		}
	}
	for k := range scatterNodes {
		s := math.Exp(nodeLog(k))
		l := logL[k*n : (k+1)*n]
		g.smear(l, density, s)
		g.smear(below[k*n:(k+1)*n], less, s)
		for j, x := range l {
			l[j] = math.Log(x + 1e-300)
		}
	}
	return logL, below
}

// smear sets out to the mean of f over flows that are lognormal about each cell
// with sd s: a sum over normal scores, f taken linear between cells and constant
// beyond the ends.
func (g *levelGrid) smear(out, f []float64, s float64) {
	n := len(f)
	dz := 0.5
	if s > 0.6 {
		dz = 0.25
	}
	half := int(math.Round(3.5 / dz))
	sum := 0.0
	for m := -half; m <= half; m++ {
		sum += math.Exp(-math.Pow(dz*float64(m), 2) / 2)
	}
	for j := range out {
		out[j] = 0
	}
	for m := -half; m <= half; m++ {
		z := dz * float64(m)
		w := math.Exp(-z*z/2) / sum
		move := s * z / g.step
		whole := math.Floor(move)
		k := int(whole)
		a, b := w*(1-move+whole), w*(move-whole)
		// cells j with 0 <= j+k and j+k+1 < n lie inside
		from, to := max(0, min(n, -k)), max(0, min(n, n-1-k))
		for j := 0; j < from; j++ {
			out[j] += w * f[0]
		}
		for j := max(from, to); j < n; j++ {
			out[j] += w * f[n-1]
		}
		if to > from {
			o, x := out[from:to], f[from+k:to+k+1]
			for j := range o {
				o[j] += a*x[j] + b*x[j+1]
			}
		}
	}
}

// poolOnGrid makes the joint posterior on the grid.
func poolOnGrid(tests []ownError, s *Scatter) *pool {
	g := newLevelGrid(tests)
	n := len(g.flow)
	logL, below := make([][]float64, len(tests)), make([][]float64, len(tests))
	joint, mass := make([]float64, scatterNodes*n), make([]float64, scatterNodes*n)
	for i := range tests {
		logL[i], below[i] = g.of(&tests[i])
		for j, l := range logL[i] {
			joint[j] += l
		}
	}
	p := &pool{common: commonOf(tests), tail: make([]float64, len(tests))}
	p.evidence = g.weigh(mass, joint, nil)
	p.weight = posteriorOf(p.evidence, s)
	whole := make([]float64, n) // sigma_b summed out
	for k, w := range p.weight {
		row := mass[k*n : (k+1)*n]
		w /= sumOfAll(row)
		for j := range row {
			row[j] *= w
			whole[j] += row[j]
		}
	}
	p.level, p.next = newCurve(g.low, g.step, n), newCurve(g.low, g.step, n)
	p.level.add(whole, p.common.factor)
	for k := range scatterNodes {
		p.next.add(mass[k*n:(k+1)*n], math.Hypot(p.common.factor, math.Exp(nodeLog(k))))
	}
	p.level.sum()
	p.next.sum()
	p.upper = p.common.atZero(p.level) > 0.15
	if len(tests) < 2 {
		return p
	}
	for i := range tests {
		without := posteriorOf(g.weigh(mass, joint, logL[i]), s)
		less := 0.0
		for k, w := range without {
			row, hit := mass[k*n:(k+1)*n], 0.0
			for j, m := range row {
				hit += m * below[i][k*n+j]
			}
			less += w * hit / sumOfAll(row)
		}
		p.tail[i] = 2 * math.Min(less, 1-less)
	}
	return p
}

// weigh sets mass to the likelihood of the cells, less that of one test, times
// prior, scaled to its own largest, and returns the log evidence of each node.
func (g *levelGrid) weigh(mass, joint, less []float64) []float64 {
	n := len(g.flow)
	top := math.Inf(-1)
	for j, l := range joint {
		if less != nil {
			l -= less[j]
		}
		mass[j] = l
		top = math.Max(top, l)
	}
	evidence := make([]float64, scatterNodes)
	for k := range evidence {
		row := mass[k*n : (k+1)*n]
		for j, l := range row {
			row[j] = 0
			if l -= top; l > -60 {
				row[j] = g.prior[j] * math.Exp(l)
			}
		}
		evidence[k] = top + math.Log(sumOfAll(row))
	}
	return evidence
}

// sumOfAll adds up x; it is never 0.
func sumOfAll(x []float64) float64 {
	sum := 1e-300
	for _, v := range x {
		sum += v
	}
	return sum
}

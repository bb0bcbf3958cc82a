package leak

import (
	"math"
	"sort"

	"seatproof/num"
)

// draws returns n equally likely draws of leak over volume, share and edge. The
// draws are a fixed low-discrepancy set: the same posterior gives the same.
// mixed leaves out the shares that are exactly 0 or 1.
func (p *posterior) draws(n int, mixed bool) []Draw {
	out := make([]Draw, 0, n)
	whole := 1.0
	if mixed {
		whole = 0
		for _, t := range p.atoms {
			if !t.pure {
				whole += t.logW
			}
		}
	}
	seq := num.NewSequence(3)
	acc, next := 0.0, 0.5/float64(n)
	var u [3]float64
	last := 0
	for i, t := range p.atoms {
		if mixed && t.pure {
			continue
		}
		last = i
		acc += t.logW / whole
		for next < acc && len(out) < n {
			seq.Next(u[:])
			out = append(out, t.draw(u))
			next += 1 / float64(n)
		}
	}
	for len(out) < n && len(p.atoms) > 0 {
		seq.Next(u[:])
		out = append(out, p.atoms[last].draw(u))
	}
	return out
}

func (t *atom) draw(u [3]float64) Draw {
	q := u[0]
	if t.cutFactor < 1 {
		q = 1 - t.cutFactor + q*t.cutFactor
	}
	return Draw{
		Flow:  math.Max(0, t.mean+t.sd*normalQuantile(q)),
		Share: math.Min(1, math.Max(0, t.s+t.ds*(2*u[1]-1))),
		Edge:  math.Min(1, math.Max(0, t.e+t.de*(2*u[2]-1))),
	}
}

// quantile returns the values of sorted x at fractions q.
func quantile(x []float64, q float64) float64 {
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	u := q*float64(n) - 0.5
	i := int(math.Floor(u))
	if i < 0 {
		return x[0]
	}
	if i >= n-1 {
		return x[n-1]
	}
	w := u - float64(i)
	return x[i]*(1-w) + x[i+1]*w
}

// equalTailed returns median and equal-tailed 95 % interval of sorted x.
func equalTailed(x []float64) Interval {
	return Interval{quantile(x, 0.5), quantile(x, 0.025), quantile(x, 0.975)}
}

// shortest returns median and shortest 95 % interval of x in [0, 1], which it
// sorts.
func shortest(x []float64) Interval {
	sort.Float64s(x)
	n := len(x)
	if n == 0 {
		return Interval{0.5, 0, 1}
	}
	k := int(math.Ceil(0.95 * float64(n)))
	best, at := math.Inf(1), 0
	for i := 0; i+k-1 < n; i++ {
		if w := x[i+k-1] - x[i]; w < best {
			best, at = w, i
		}
	}
	return Interval{quantile(x, 0.5), x[at], x[at+k-1]}
}

func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

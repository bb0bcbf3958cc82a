package trace

import (
	"math"
	"slices"
)

// gridFinder finds the step between values as written: 0.05 in 78.30, 78.35,
// 78.45; 0.0488 in what a converter of 0.0488 a count makes of it.
type gridFinder struct {
	diffs    []float64 // differences of neighbours that differ
	decimals int       // most decimals written
	largest  float64   // |value|
	found    float64
	certain  bool
}

const (
	enoughDiffs = 30
	mostDiffs   = 1024
)

// look gathers differences until there are enough.
func (g *gridFinder) look(v []float64, decimals int) {
	more := decimals > g.decimals
	g.decimals = max(g.decimals, decimals)
	for _, x := range v[:min(len(v), 64)] {
		g.largest = math.Max(g.largest, math.Abs(x))
	}
	if g.certain && !more || len(v) < 2 {
		return
	}
	stride := max(1, len(v)/(2*mostDiffs))
	for i := 1; i < len(v) && len(g.diffs) < mostDiffs; i += stride {
		if d := math.Abs(v[i] - v[i-1]); d > 0 {
			g.diffs = append(g.diffs, d)
		}
	}
	if len(g.diffs) < 64 && stride > 1 { // values that rarely change
		for i := 1; i < len(v) && len(g.diffs) < mostDiffs; i++ {
			if d := math.Abs(v[i] - v[i-1]); d > 0 {
				g.diffs = append(g.diffs, d)
			}
		}
	}
	g.found = findGrid(g.diffs, g.decimals, g.largest)
	g.certain = len(g.diffs) >= enoughDiffs
}

// step returns the step, 0 if no grid is evident.
func (g *gridFinder) step() float64 { return g.found }

// spikeStep returns the step that spikes are measured by: while few values
// differed it may be as large as the smallest difference seen.
func (g *gridFinder) spikeStep() float64 {
	if g.certain || len(g.diffs) == 0 {
		return g.found
	}
	return math.Max(g.found, slices.Min(g.diffs))
}

// findGrid returns the largest step of which nearly all differences are whole
// multiples within what rounding to that many decimals does: the last decimal
// itself if no larger one fits; 0 where the figures are written so fine that
// they show no grid at all.
func findGrid(diffs []float64, decimals int, largest float64) float64 {
	if decimals > 15 || decimals < -9 {
		return 0
	}
	last := math.Pow10(-decimals) // unit of the last decimal
	fine := last < 1e-7*largest   // as good as none
	d := slices.Clone(diffs)
	slices.Sort(d)
	if n := len(d); n >= 3 {
		need := max(2, n/200)
		for i := 0; i+need <= n && i < n/2; i++ {
			// a cluster of equal differences, within the rounding
			width := math.Max(2.02*last, 1e-9*d[i])
			j := i
			for j < n && d[j] <= d[i]+width {
				j++
			}
			if j-i < need {
				continue
			}
			if q := refine(d, d[(i+j)/2], last); q > 0 {
				return q
			}
			break
		}
	}
	if fine {
		return 0
	}
	return last
}

// refine makes a step of a first guess q by using ever larger multiples, and
// returns it if nearly all differences fit, else 0.
func refine(d []float64, q, last float64) float64 {
	if q < 1.5*last {
		return 0 // the last decimal itself
	}
	round := 1.02 * last // two values, each rounded by half a unit
	sure := math.Max(last, 1e-9*q)
	for range 12 {
		top := 0.25 * q / sure * q // beyond, multiples are not certain
		kd, kk := 0.0, 0.0
		for _, x := range d {
			if k := math.Round(x / q); k > 0 && x <= math.Max(top, 1.5*q) && math.Abs(x-k*q) < 0.3*q {
				kd += k * x
				kk += k * k
			}
		}
		if kk == 0 {
			return 0
		}
		q = kd / kk
		next := math.Max(round/math.Sqrt(kk), 1e-12*q)
		if next >= sure {
			break
		}
		sure = next
	}
	// an exact multiple of the last decimal is taken as written
	if k := math.Round(q / last); k >= 1 && math.Abs(q-k*last) < 0.02*last {
		exact := k * last
		if fits(d, exact, last/100, sure/1e3) {
			return tidy(exact)
		}
	}
	if q >= 4*last && fits(d, q, round, sure) {
		return q
	}
	return 0
}

// fits says whether nearly all differences are multiples of q.
func fits(d []float64, q, round, sure float64) bool {
	good, judged := 0, 0
	for _, x := range d {
		k := math.Round(x / q)
		tolerance := round + k*sure
		if tolerance > 0.25*q {
			continue // says nothing
		}
		judged++
		if k > 0 && math.Abs(x-k*q) <= tolerance {
			good++
		}
	}
	return judged >= 3 && good*100 >= judged*97
}

// tidy rounds to twelve digits: 5 × 0.01 is 0.05.
func tidy(x float64) float64 {
	e := math.Pow10(11 - int(math.Floor(math.Log10(x))))
	return math.Round(x*e) / e
}

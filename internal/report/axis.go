package report

import (
	"math"
	"strconv"
)

// axis maps figures to pixels and knows its ticks.
type axis struct {
	from, to float64 // figures
	a, b     float64 // pixels
	log      bool
}

// at returns the pixel of x, kept inside the axis.
func (s axis) at(x float64) float64 {
	f := (x - s.from) / (s.to - s.from)
	if s.log {
		f = math.Log(x/s.from) / math.Log(s.to/s.from)
	}
	if math.IsNaN(f) {
		f = 0
	}
	return s.a + min(1, max(0, f))*(s.b-s.a)
}

// step returns the step of 1, 2 or 5 times a power of ten that parts span into
// about n pieces, and the decimals its multiples need.
func step(span float64, n int) (float64, int) {
	raw := span / float64(n)
	if !(raw > 0) || math.IsInf(raw, 0) {
		return 1, 0
	}
	exp := math.Floor(math.Log10(raw))
	base := math.Pow(10, exp)
	size := 10 * base
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*base*1.0001 {
			size = m * base
			break
		}
	}
	if size >= 10*base*0.999 {
		exp++
	}
	return size, int(max(0, -exp))
}

// linear returns an axis over the figures lo to hi, widened to whole steps, of
// about n steps.
func linear(lo, hi, a, b float64, n int) (axis, []float64, int) {
	if !(hi > lo) {
		lo, hi = lo-1, lo+1
	}
	size, decimals := step(hi-lo, n)
	lo, hi = math.Floor(lo/size+1e-9)*size, math.Ceil(hi/size-1e-9)*size
	return axis{from: lo, to: hi, a: a, b: b}, multiples(lo, hi, size), decimals
}

// within returns the multiples of a step inside lo to hi, for an axis that
// ends where its figures end.
func within(lo, hi float64, n int) ([]float64, int) {
	size, decimals := step(hi-lo, n)
	return multiples(math.Ceil(lo/size-1e-9)*size, hi, size), decimals
}

func multiples(lo, hi, size float64) []float64 {
	var ticks []float64
	first := math.Round(lo / size)
	for i := 0.0; i < 50; i++ {
		x := (first + i) * size
		if x > hi+size*1e-6 {
			break
		}
		ticks = append(ticks, x)
	}
	return ticks
}

// decades returns the figures 1, 2, 5 times powers of ten from lo to hi.
func decades(lo, hi float64) []float64 {
	var ticks []float64
	if !(lo > 0) || !(hi > lo) || math.IsInf(hi, 0) {
		return nil
	}
	for e := math.Floor(math.Log10(lo)); e <= math.Log10(hi); e++ {
		for _, m := range []float64{1, 2, 5} {
			if x := m * math.Pow(10, e); x >= lo*0.999 && x <= hi*1.001 {
				ticks = append(ticks, x)
			}
		}
	}
	return ticks
}

// label writes a tick.
func label(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if s == "-0" {
		return "0"
	}
	if s[0] == '-' {
		return "−" + s[1:]
	}
	return s
}

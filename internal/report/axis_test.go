package report

import (
	"math"
	"slices"
	"testing"
)

func TestStep(t *testing.T) {
	for _, c := range []struct {
		span     float64
		n        int
		size     float64
		decimals int
	}{
		{40, 4, 10, 0}, {7, 4, 2, 0}, {0.3, 4, 0.1, 1}, {1, 4, 0.5, 1}, {76, 6, 20, 0}, {0.07, 5, 0.02, 2},
		{9.5, 1, 10, 0}, {0.95, 1, 1, 0}, {0, 4, 1, 0}, {math.NaN(), 4, 1, 0}, {math.Inf(1), 4, 1, 0},
	} {
		size, decimals := step(c.span, c.n)
		if math.Abs(size/c.size-1) > 1e-9 || decimals != c.decimals {
			t.Errorf("step(%v, %d) = %v, %d; want %v, %d", c.span, c.n, size, decimals, c.size, c.decimals)
		}
	}
}

func TestAxes(t *testing.T) {
	a, ticks, d := linear(61.3, 75.9, 200, 0, 4)
	if !slices.Equal(ticks, []float64{60, 65, 70, 75, 80}) || d != 0 {
		t.Errorf("linear: ticks %v, %d decimals", ticks, d)
	}
	if a.at(60) != 200 || a.at(80) != 0 || a.at(70) != 100 {
		t.Errorf("linear: 60, 70, 80 at %v, %v, %v", a.at(60), a.at(70), a.at(80))
	}
	if a.at(500) != 0 || a.at(-500) != 200 || a.at(math.NaN()) != 200 {
		t.Error("figures outside, or none at all, leave the axis")
	}
	l := axis{from: 1, to: 100, a: 0, b: 100, log: true}
	if math.Abs(l.at(10)-50) > 1e-9 {
		t.Errorf("log: 10 at %v, want 50", l.at(10))
	}
	if got := decades(4, 130); !slices.Equal(got, []float64{5, 10, 20, 50, 100}) {
		t.Errorf("decades(4, 130) = %v", got)
	}
	for _, c := range [][2]float64{{0, 1}, {-1, 1}, {2, 1}, {1, math.Inf(1)}, {math.NaN(), 1}} {
		if got := decades(c[0], c[1]); got != nil {
			t.Errorf("decades(%v) = %v, want none", c, got)
		}
	}
	if got := label(-5, 0); got != "−5" {
		t.Errorf("label(-5) = %q", got)
	}
	if got := label(-0.0001, 0); got != "0" {
		t.Errorf("label(-0.0001) = %q", got)
	}
}

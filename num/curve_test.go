package num

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

func TestMonotone(t *testing.T) {
	// a pump's curve, invented: falling, with a flat piece and a steep one
	x := []float64{0, 20e3, 40e3, 60e3, 70e3, 78e3}
	y := []float64{10, 7, 7, 2, 1.9, 0}
	m, err := NewMonotone(x, y)
	if err != nil {
		t.Fatal(err)
	}
	for i := range x {
		near(t, fmt.Sprintf("through point %d", i), m.At(x[i]), y[i], 1e-12)
	}
	for v, last := 0.0, m.At(0); v <= 78e3; v += 10 {
		got := m.At(v)
		if got > last+1e-12 {
			t.Fatalf("rises at %g: %g after %g", v, got, last)
		}
		if s := m.Slope(v); s > 1e-18 {
			t.Fatalf("slope %g at %g", s, v)
		}
		last = got
	}
	near(t, "before", m.At(-5), 10, 0)
	near(t, "behind", m.At(1e6), 0, 0)
	near(t, "slope behind", m.Slope(1e6), 0, 0)
	near(t, "slope by difference", m.Slope(50e3), (m.At(50e3+1)-m.At(50e3-1))/2, 1e-9)
	if lo, hi := m.Span(); lo != 0 || hi != 78e3 {
		t.Errorf("span %g to %g", lo, hi)
	}
	for _, v := range []float64{5e3, 50e3, 75e3} {
		back, err := m.Invert(m.At(v))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "there and back", back, v, 1e-8)
	}
	var b *BracketError
	if _, err := m.Invert(11); !errors.As(err, &b) {
		t.Errorf("beyond the curve: got error %v, want a *BracketError", err)
	}
	if _, err := m.Invert(math.NaN()); err == nil {
		t.Error("inverting NaN: no error")
	}
	line, err := NewMonotone([]float64{0, 78e3}, []float64{10, 0}) // two points: a straight line
	if err != nil {
		t.Fatal(err)
	}
	near(t, "straight line", line.At(39e3), 5, 1e-14)
	if (&Monotone{}).At(3) != 0 || (&Monotone{}).Slope(3) != 0 {
		t.Error("zero curve is not 0")
	}
	for name, xy := range map[string][2][]float64{
		"one point": {{1}, {1}}, "lengths": {{1, 2}, {1}}, "order": {{1, 2, 2}, {1, 2, 3}},
		"not a number": {{1, math.NaN()}, {1, 2}}, "infinite": {{1, 2}, {1, math.Inf(1)}},
	} {
		_, err := NewMonotone(xy[0], xy[1])
		var e *CurveError
		if !errors.As(err, &e) || e.Error() == "" {
			t.Errorf("%s: got error %v, want a *CurveError", name, err)
		}
	}
}

// Quantiles as every table prints them; t of 16 degrees of freedom is that of
// GUM H.1 (2.92 at 99 %, 2.12 at 95 %).
func TestDistributions(t *testing.T) {
	for _, c := range []struct{ p, want float64 }{
		{0.5, 0}, {0.95, 1.644854}, {0.975, 1.959964}, {0.995, 2.575829}, {0.999, 3.090232}, {0.025, -1.959964}, {1e-9, -5.997807},
	} {
		got, err := NormalQuantile(c.p)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("normal quantile %g", c.p), got, c.want, 6e-7)
		near(t, "and back", NormalCDF(got), c.p, 1e-15)
	}
	near(t, "Z95", NormalCDF(Z95), 0.975, 1e-15)
	near(t, "density", NormalDensity(1), 0.24197072451914337, 1e-16)
	for _, c := range []struct{ p, nu, want, tol float64 }{
		{0.995, 16, 2.92, 5e-3}, {0.975, 16, 2.12, 5e-3}, {0.975, 1, 12.706, 5e-4}, {0.995, 16, 2.92078, 5e-6}, {0.975, 1e12, 1.959964, 6e-7},
	} {
		got, err := StudentQuantile(c.p, c.nu)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("t quantile %g, %g", c.p, c.nu), got, c.want, c.tol)
	}
	for _, c := range []struct{ p, k, want float64 }{{0.95, 1, 3.841}, {0.95, 10, 18.307}, {0.025, 4, 0.484}} {
		got, err := ChiSquareQuantile(c.p, c.k)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("chi-square quantile %g, %g", c.p, c.k), got, c.want, 6e-4)
	}
	nan := math.NaN()
	for name, err := range map[string]error{
		"normal 1.1": second(NormalQuantile(1.1)), "normal NaN": second(NormalQuantile(nan)),
		"t 0": second(StudentQuantile(0, 5)), "t nu": second(StudentQuantile(0.5, 0)), "t NaN": second(StudentQuantile(nan, 5)),
		"chi 1": second(ChiSquareQuantile(1, 5)), "chi k": second(ChiSquareQuantile(0.5, nan)), "chi inf": second(ChiSquareQuantile(0.5, math.Inf(1))),
	} {
		var v *ValueError
		if !errors.As(err, &v) {
			t.Errorf("%s: got error %v, want a *ValueError", name, err)
		}
	}
}

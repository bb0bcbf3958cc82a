package report

import (
	"math"
	"testing"
)

func TestFigure(t *testing.T) {
	for _, c := range []struct {
		x      float64
		digits int
		want   string
	}{
		{9.6, 2, "9.6"}, {28, 2, "28"}, {140, 2, "140"}, {9.96, 2, "10"}, {0.0196, 2, "0.020"},
		{1413, 2, "1400"}, {149.83, 4, "149.8"}, {0, 2, "0"}, {-1.25, 2, "-1.2"},
		{math.NaN(), 2, "–"}, {math.Inf(1), 2, "–"},
	} {
		if got := Figure(c.x, c.digits); got != c.want {
			t.Errorf("Figure(%v, %d) = %q, want %q", c.x, c.digits, got, c.want)
		}
	}
}

func TestChance(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{0, "under 0.1 %"}, {0.00099, "under 0.1 %"}, {0.001, "0.1 %"}, {0.002, "0.2 %"}, {0.025, "2.5 %"},
		{0.0994, "9.9 %"}, {0.0999, "10 %"}, {0.31, "31 %"}, {0.78, "78 %"}, {0.994, "99 %"}, {0.9966, "99.7 %"},
		{0.9991, "above 99.9 %"}, {1, "above 99.9 %"}, {math.NaN(), "–"},
	} {
		if got := Chance(c.p); got != c.want {
			t.Errorf("Chance(%v) = %q, want %q", c.p, got, c.want)
		}
	}
}

// 1 inHg (conventional) is 3386.389 Pa and 1 psi 6894.757 Pa (NIST SP 811,
// App. B.8): 4 kPa of vacuum in each unit a person may choose.
func TestVacuumUnits(t *testing.T) {
	want := map[string]string{"kPa": "4.0 kPa", "mbar": "40 mbar", "inHg": "1.2 inHg", "mmHg": "30 mmHg", "psi": "0.58 psi"}
	for _, name := range VacuumUnits {
		u, ok := UnitNamed(name)
		if !ok {
			t.Fatalf("UnitNamed(%q): unknown", name)
		}
		if got := (Style{Unit: u}).lost(4e3); got != want[name] {
			t.Errorf("4 kPa in %s = %q, want %q", name, got, want[name])
		}
	}
	if _, ok := UnitNamed("bar"); ok {
		t.Error("UnitNamed(bar): known, want none")
	}
}

package unit

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

func TestSignificant(t *testing.T) {
	tests := []struct {
		x      float64
		digits int
		want   string
	}{
		{9.6, 2, "9.6"}, {28.4, 2, "28"}, {142, 2, "140"}, {0.0619, 2, "0.062"},
		{99.7, 2, "100"}, {9.96, 2, "10"}, {0.996, 2, "1.0"}, {9, 2, "9.0"},
		{-3.14159, 3, "-3.14"}, {0, 2, "0"}, {math.Copysign(0, -1), 2, "0"},
		{123456, 2, "120000"}, {1e-6, 2, "0.0000010"}, {9.99e-7, 3, "9.99e-7"}, {9.99e-7, 2, "0.0000010"},
		{1e14, 1, "100000000000000"}, {1e15, 1, "1e15"}, {-2.5e20, 2, "-2.5e20"},
		{0.1, 0, "0.1"}, {101325, 0, "101325"}, {1.0 / 3, 0, "0.3333333333333333"}, {5, 1, "5"},
		{math.NaN(), 2, "not known"}, {math.Inf(1), 2, "not known"},
	}
	for _, tt := range tests {
		if got := Significant(tt.x, tt.digits); got != tt.want {
			t.Errorf("Significant(%v, %d) = %q, want %q", tt.x, tt.digits, got, tt.want)
		}
	}
}

// TestSignificantIsRounding: what is printed is within half a unit of the last
// digit, whatever the size.
func TestSignificantIsRounding(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		x := math.Exp(60*r.Float64()-30) * (1 - 2*float64(r.IntN(2)))
		digits := 1 + r.IntN(6)
		s := Significant(x, digits)
		y, err := strconv.ParseFloat(s, 64)
		half := 0.5 * math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-float64(digits-1))
		if err != nil || math.Abs(y-x) > half*(1+1e-9) {
			t.Errorf("Significant(%v, %d) = %q, off by %v, at most %v", x, digits, s, math.Abs(y-x), half)
		}
	}
}

func TestFormat(t *testing.T) {
	tests := []struct {
		m      Measured
		dim    Dimension
		unit   string
		digits int
		want   string
	}{
		{Exactly(9.63e-6 / 60), FlowDim, "cm3/min", 2, "9.6 cm³/min"},
		{Exactly(142.3e-6 / 60), FlowDim, "cm³/min", 2, "140 cm³/min"},
		{About(95e-6, 6e-6), VolumeDim, "cc", 2, "95 ± 6 cm³"},
		{About(95.37e-6, 28.5e-6), VolumeDim, "cm³", 2, "95 ± 28 cm³"}, // 28.5 ties to even
		{About(100900, 100), PressureDim, "kPa", 2, "100.9 ± 0.1 kPa"},
		{About(100912, 123), PressureDim, "kPa", 2, "100.91 ± 0.12 kPa"},
		{About(100912, 123), PressureDim, "Pa", 2, "100910 ± 120 Pa"},
		{About(100912, 123), PressureDim, "Pa", 1, "100900 ± 100 Pa"},
		{About(0.3, 6), PressureDim, "Pa", 2, "0.3 ± 6.0 Pa"},
		{About(-0.01, 6), PressureDim, "Pa", 2, "0 ± 6 Pa"},
		{About(292.15, 3), TemperatureDim, "°C", 2, "19 ± 3 °C"},
		{About(292.15, 5), TemperatureDim, "°F", 2, "66.2 ± 9.0 °F"},
		{About(math.Pi/4, math.Pi/180), AngleDim, "deg", 2, "45 ± 1°"},
		{Exactly(0.285), RatioDim, "%", 2, "28 %"}, // 28.499999999999996
		{Exactly(9.5), RatioDim, "1", 2, "9.5"},
		{Exactly(101325), PressureDim, "atm", 0, "1 atm"},
		{Exactly(101325), PressureDim, "no such unit", 0, "101325 Pa"},
		{Exactly(101325), PressureDim, "cm3", 0, "101325 Pa"},
		{Measured{}, PressureDim, "kPa", 2, "not known"},
		{Exactly(math.NaN()), PressureDim, "kPa", 2, "not known"},
		{About(1, math.Inf(1)), PressureDim, "kPa", 2, "not known"},
		{Exactly(5), 0, "kPa", 2, "0.0050 kPa"},
		{Exactly(5), 0, "none", 2, "5.0"},
	}
	for _, tt := range tests {
		if got := Format(tt.m, tt.dim, tt.unit, tt.digits); got != tt.want {
			t.Errorf("Format(%v, %v, %q, %d) = %q, want %q", tt.m, tt.dim, tt.unit, tt.digits, got, tt.want)
		}
	}
}

// TestStableEverywhere: random figures in every unit, as a person types them
// and as a program computes them, keep their value through print and parse.
func TestStableEverywhere(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, u := range units {
		if u.Name == "1" {
			continue
		}
		for range 50 {
			x := strconv.FormatFloat(math.Exp(20*r.Float64()-10), 'g', 1+r.IntN(17), 64)
			text := x + " ± " + strconv.FormatFloat(r.Float64(), 'g', 1+r.IntN(17), 64) + " " + u.Name
			q, err := Parse(text, u.Dim)
			if err != nil {
				t.Fatalf("Parse(%q): %v", text, err)
			}
			stable(t, text, q)
			// A computed figure need not have an exact text in this unit, but
			// settles after one round.
			computed := Quantity{About(q.Value*r.Float64(), q.Value*r.Float64()/3), q.Dim, u.Name}
			once, err := Parse(computed.String(), u.Dim)
			if err != nil {
				t.Fatalf("computed %q: %v", computed, err)
			}
			stable(t, computed.String(), once)
			if math.Abs(once.Value-computed.Value) > 1e-15*(computed.Value+u.Shift*u.Factor) ||
				math.Abs(once.Spread-computed.Spread) > 1e-15*computed.Spread {
				t.Errorf("computed %v prints %q = %v", computed.Measured, computed, once.Measured)
			}
		}
	}
}

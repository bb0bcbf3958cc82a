package unit

import (
	"errors"
	"strings"
	"testing"
)

func TestParseRange(t *testing.T) {
	tests := []struct {
		text      string
		dim       Dimension
		low, high float64
		print     string
	}{
		{"0..100 kPa", PressureDim, 0, 100e3, "0..100 kPa"},
		{"-101..0 kPa", PressureDim, -101e3, 0, "-101..0 kPa"},
		{"\u2212101 … 0 kPa", PressureDim, -101e3, 0, "-101..0 kPa"},
		{"0 kPa..100 kPa", PressureDim, 0, 100e3, "0..100 kPa"},
		{"0 kPa..100", PressureDim, 0, 100e3, "0..100 kPa"},
		{"0 to 100 kPa", PressureDim, 0, 100e3, "0..100 kPa"},
		{"0 – 100 kPa", PressureDim, 0, 100e3, "0..100 kPa"},
		{"–101 – 0 kPa", PressureDim, -101e3, 0, "-101..0 kPa"},
		{"0 mbar..1 bar", PressureDim, 0, 100e3, "0..1 bar"},
		{"0,5...1,5 L/min", FlowDim, 0.5e-3 / 60, 1.5e-3 / 60, "0.5..1.5 L/min"},
		{"-30..60 °C", TemperatureDim, 243.15, 333.15, "-30..60 °C"},
		{"-10..10 deg", AngleDim, -10 * 0.017453292519943295, 10 * 0.017453292519943295, "-10..10°"},
	}
	for _, tt := range tests {
		r, err := ParseRange(tt.text, tt.dim)
		if err != nil || !near(r.Low, tt.low) || !near(r.High, tt.high) || r.String() != tt.print {
			t.Errorf("ParseRange(%q) = %v..%v (%v), %v; want %v..%v (%s)", tt.text, r.Low, r.High, r, err, tt.low, tt.high, tt.print)
		}
	}
	bad := []struct{ text, says string }{
		{"0..100", `"0..100 kPa"`},
		{"100 kPa", "two figures"},
		{"0-100 kPa", "with .. between"},
		{"100..0 kPa", "low end"},
		{"5..5 kPa", "low end"},
		{"0..100 ± 1 kPa", "no ±"},
		{"0..100 cm3", "unit of volume"},
		{"..100 kPa", "no figure"},
		{"0..", "no figure"},
		{"", "no figure"},
	}
	for _, tt := range bad {
		_, err := ParseRange(tt.text, PressureDim)
		if err == nil || !strings.Contains(err.Error(), tt.says) || !strings.Contains(err.Error(), tt.text) {
			t.Errorf("ParseRange(%q): error %v, want one that says %q", tt.text, err, tt.says)
		}
	}
	if _, err := ParseRange("0..100", PressureDim); !errors.As(err, new(*MissingUnitError)) {
		t.Errorf("ParseRange(0..100): %T, want a *MissingUnitError", err)
	}
}

func TestParseSeat(t *testing.T) {
	tests := []struct {
		text              string
		diameter, contact Measured
	}{
		{"27 mm x 0.3 mm", Exactly(27e-3), Exactly(0.3e-3)},
		{"27mm×0,3mm", Exactly(27e-3), Exactly(0.3e-3)},
		{"27 mm * 0.3 mm", Exactly(27e-3), Exactly(0.3e-3)},
		{"27 X 0.3 mm", Exactly(27e-3), Exactly(0.3e-3)},
		{"27 ± 0.1 mm x 0.3 ± 0.1 mm", About(27e-3, 0.1e-3), About(0.3e-3, 0.1e-3)},
		{"1 in x 12 thou", Exactly(25.4e-3), Exactly(12 * 25.4e-6)},
	}
	for _, tt := range tests {
		d, c, err := ParseSeat(tt.text)
		if err != nil || !near(d.Value, tt.diameter.Value) || !near(c.Value, tt.contact.Value) ||
			!near(d.Spread, tt.diameter.Spread) || !near(c.Spread, tt.contact.Spread) || !d.Known || !c.Known {
			t.Errorf("ParseSeat(%q) = %v, %v, %v; want %v, %v", tt.text, d, c, err, tt.diameter, tt.contact)
		}
	}
	for _, tt := range []struct{ text, says string }{
		{"27 mm", "diameter and its contact width"},
		{"27 x 0.3", "needs a unit"},
		{"0.3 mm x 27 mm", "diameter comes first"},
		{"27 mm x 0 mm", "above zero"},
		{"-27 mm x 0.3 mm", "above zero"},
		{"27 kPa x 0.3 mm", "unit of pressure"},
		{"27 mm x 0.3 mm x 2 mm", "unknown unit"},
		{"x", "no figure"},
	} {
		_, _, err := ParseSeat(tt.text)
		if err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("ParseSeat(%q): error %v, want one that says %q", tt.text, err, tt.says)
		}
	}
}

func TestPressureAndVacuum(t *testing.T) {
	if got := Pressure(51325).Below(101325); got != 50e3 {
		t.Errorf("51325 Pa in a room of 101325 Pa is a vacuum of %v, want 50000", got)
	}
	if got := Vacuum(50e3).In(101325); got != 51325 {
		t.Errorf("50 kPa of vacuum in a room of 101325 Pa is %v, want 51325", got)
	}
}

func TestMeasured(t *testing.T) {
	// 1.96 sd is the 95 % half-width (JCGM 100:2008, table G.1).
	if got := About(5, 1.96).SD(); got < 0.99999 || got > 1.00002 {
		t.Errorf("sd of ± 1.96 = %v, want 1", got)
	}
	if got := (Measured{}).Or(About(1, 2)); got != About(1, 2) {
		t.Errorf("unknown or guess = %v", got)
	}
	if got := Exactly(3).Or(About(1, 2)); got != Exactly(3) {
		t.Errorf("known or guess = %v", got)
	}
}

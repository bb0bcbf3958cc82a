package unit

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// TestNIST checks every factor against the digits that NIST SP 811 (2008),
// appendix B.8, prints, and, where a unit is defined exactly, against that.
func TestNIST(t *testing.T) {
	tests := []struct {
		unit   string
		digits int
		want   string // as printed, without its power of ten
		exact  float64
	}{
		// NIST SP 811 B.8.
		{"inHg", 7, "3386.389", 25.4 * 13.5951 * 9.80665},
		{"mmHg", 7, "133.3224", 13.5951 * 9.80665},
		{"Torr", 7, "133.3224", 101325. / 760},
		{"mbar", 2, "100", 100},
		{"hPa", 2, "100", 100},
		{"bar", 2, "100000", 1e5},
		{"psi", 7, "6894.757", 0.45359237 * 9.80665 / (0.0254 * 0.0254)},
		{"inH2O", 7, "249.0889", 249.08891},
		{"mmH2O", 6, "9.80665", 9.80665},
		{"atm", 6, "101325", 101325},
		{"cfm", 7, "0.0004719474", 28.316846592e-3 / 60},
		// The same appendix, digits from memory; the exact definitions beside
		// them (inch 25.4 mm, foot 0.3048 m) decide.
		{"in", 3, "0.0254", 0.0254},
		{"ft", 4, "0.3048", 0.3048},
		{"thou", 3, "0.0000254", 2.54e-5},
		{"in³", 7, "0.00001638706", 16.387064e-6},
		{"ft³", 7, "0.02831685", 28.316846592e-3},
		{"L", 1, "0.001", 1e-3},
		{"cm³", 1, "0.000001", 1e-6},
		{"cmHg", 7, "1333.224", 10 * 13.5951 * 9.80665},
		{"cmH2O", 6, "98.0665", 98.0665},
		{"°", 7, "0.01745329", math.Pi / 180},
		{"r/min", 7, "0.1047198", math.Pi / 30},
		{"rev/s", 7, "6.283185", 2 * math.Pi},
		{"h", 4, "3600", 3600},
		{"L/min", 7, "0.00001666667", 1e-3 / 60},
		{"cm³/min", 7, "1.666667e-8", 1e-6 / 60},
		{"m³/h", 7, "0.0002777778", 1. / 3600},
	}
	for _, tt := range tests {
		u, ok := UnitOf(tt.unit)
		if !ok || u.Name != tt.unit {
			t.Errorf("UnitOf(%q) = %q, %v", tt.unit, u.Name, ok)
			continue
		}
		if got := Significant(u.Factor, tt.digits); got != tt.want {
			t.Errorf("%s: factor %v prints as %s, NIST prints %s", tt.unit, u.Factor, got, tt.want)
		}
		if math.Abs(u.Factor/tt.exact-1) > 4e-16 { // relative: two roundings
			t.Errorf("%s: factor %.17g, want %.17g", tt.unit, u.Factor, tt.exact)
		}
	}
}

// TestConversions: 1 atm is 29.921256 inHg and 760 Torr; mmHg and Torr differ
// by 1.4e-7 (NIST SP 811 B.8 and its footnotes).
func TestConversions(t *testing.T) {
	tests := []struct {
		x        float64
		from, to string
		want     float64
		within   float64 // relative
	}{
		{1, "atm", "inHg", 29.921256, 2e-8},
		{1, "atm", "Torr", 760, 1e-15},
		{1, "atm", "psi", 14.695949, 3e-8}, // from memory, follows from the exact definitions
		{1, "mmHg", "Torr", 1 + 1.4e-7, 5e-9},
		{1, "cfm", "L/min", 28.316846592, 1e-15},
		{1, "mPa", "MPa", 1e-9, 1e-15},
		{6000, "r/min", "Hz", 100, 1e-15},
		{180, "°", "rad", math.Pi, 1e-15},
		{32, "°F", "°C", 0, 0},        // exact, NIST SP 811 B.8
		{212, "°F", "°C", 100, 1e-14}, // the same
		{-40, "°C", "°F", -40, 1e-14},
		{20, "°C", "K", 293.15, 0},
		{50, "%", "1", 0.5, 0},
		{62, "cc", "cm³", 62, 0},
	}
	for _, tt := range tests {
		got, err := Convert(tt.x, tt.from, tt.to)
		if err != nil || math.Abs(got-tt.want) > tt.within*math.Abs(tt.want)+5e-14*bool2float(tt.want == 0) {
			t.Errorf("Convert(%v, %q, %q) = %.12g, %v; want %.12g", tt.x, tt.from, tt.to, got, err, tt.want)
		}
	}
}

func bool2float(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func TestDifferences(t *testing.T) {
	for _, tt := range []struct {
		unit string
		x    float64
		want float64
	}{{"°C", 3, 3}, {"°F", 9, 5}, {"K", 3, 3}, {"kPa", 2, 2000}} {
		if got, err := ToSIDifference(tt.x, tt.unit); err != nil || got != tt.want {
			t.Errorf("ToSIDifference(%v, %q) = %v, %v; want %v", tt.x, tt.unit, got, err, tt.want)
		}
		if got, err := FromSIDifference(tt.want, tt.unit); err != nil || got != tt.x {
			t.Errorf("FromSIDifference(%v, %q) = %v, %v; want %v", tt.want, tt.unit, got, err, tt.x)
		}
	}
}

// TestSpellings: all spellings of one unit find it, exactly written ones first.
func TestSpellings(t *testing.T) {
	tests := []struct {
		want string
		dim  Dimension
		all  string // separated by |
	}{
		{"cm³", VolumeDim, "cm³|cm3|cc|ml|mL|cm^3|CC|CM3"},
		{"L", VolumeDim, "L|l"},
		{"in³", VolumeDim, "in³|in3|cu in"},
		{"kPa", PressureDim, "kPa|KPA|kpa|KPa"},
		{"mPa", PressureDim, "mPa"},
		{"MPa", PressureDim, "MPa"},
		{"mbar", PressureDim, "mbar|MBAR|mBar"},
		{"Mbar", PressureDim, "Mbar"}, // exact: SI prefixes are case-sensitive
		{"hPa", PressureDim, "hPa|HPA|hpa"},
		{"inHg", PressureDim, "inHg|in Hg|in. Hg|inhg|INHG|InHg|\"Hg|″Hg"},
		{"mmHg", PressureDim, "mmHg|mm Hg|MMHG"},
		{"Torr", PressureDim, "Torr|torr|TORR"},
		{"mTorr", PressureDim, "mTorr|mtorr"},
		{"inH2O", PressureDim, "inH2O|inH₂O|in H2O|INH2O"},
		{"psi", PressureDim, "psi|PSI|lbf/in²"},
		{"L/min", FlowDim, "L/min|l/min|L / min|LPM|L/MIN|lpm"},
		{"cm³/min", FlowDim, "cm³/min|cm3/min|cc/min|ml/min|mL/min|ML/MIN|CC/MIN"},
		{"cfm", FlowDim, "cfm|CFM|ft³/min|ft3/min"},
		{"L/h", FlowDim, "L/h|l/h|L/hr"},
		{"m³/h", FlowDim, "m³/h|m3/h|M3/H"},
		{"m³/s", FlowDim, "m³/s|m3/s"},
		{"L/s", FlowDim, "L/s"},
		{"m", LengthDim, "m"},
		{"mm", LengthDim, "mm|MM"},
		{"µm", LengthDim, "µm|um|μm|UM"},
		{"in", LengthDim, "in|inch|\"|IN"},
		{"°C", TemperatureDim, "°C|C|degC|deg C|℃|ºC|°c"},
		{"°F", TemperatureDim, "°F|F|℉"},
		{"K", TemperatureDim, "K"},
		{"s", TimeDim, "s|S|sec"},
		{"ms", TimeDim, "ms|MS|msec"},
		{"Ms", TimeDim, "Ms"},
		{"min", TimeDim, "min|MIN|minutes"},
		{"h", TimeDim, "h|hr|H"},
		{"°", AngleDim, "°|deg|º"},
		{"rad", AngleDim, "rad"},
		{"r/min", SpeedDim, "r/min|rpm|RPM|1/min|rev/min|min⁻¹|min-1"},
		{"rev/s", SpeedDim, "rev/s|1/s|s⁻¹"},
		{"Hz", SpeedDim, "Hz|hz"},
		{"rad/s", SpeedDim, "rad/s"},
		{"%", RatioDim, "%"},
		{"1", RatioDim, "1"},
	}
	for _, tt := range tests {
		for _, s := range strings.Split(tt.all, "|") {
			u, ok := UnitOf(s)
			if !ok || u.Name != tt.want || u.Dim != tt.dim {
				t.Errorf("UnitOf(%q) = %q (%v), %v; want %q (%v)", s, u.Name, u.Dim, ok, tt.want, tt.dim)
			}
			if _, err := Parse("1 "+s, tt.dim); err != nil && s != "1" {
				t.Errorf("Parse(%q): %v", "1 "+s, err)
			}
		}
	}
	for _, s := range []string{"", "MPA", "mpa", "M", "k", "n", "MHZ", "TPa", "/", "cm3/", "/h", "kPa/s", "m/s", "1/", "psia"} {
		if u, ok := UnitOf(s); ok {
			t.Errorf("UnitOf(%q) = %q, want none", s, u.Name)
		}
	}
}

// TestTableHasNoClash: no spelling in the table means two units, and no
// prefix makes a unit of another name. "mL" is the cm³ on purpose.
func TestTableHasNoClash(t *testing.T) {
	seen := make(map[string]string)
	for _, d := range definitions {
		for _, s := range append(strings.Fields(d.aliases), key(d.name)) {
			if other, ok := seen[s]; ok && other != d.name {
				t.Errorf("%q is both %s and %s", s, other, d.name)
			}
			seen[s] = d.name
			if s != key(s) {
				t.Errorf("alias %q of %s is looked up as %q and never found", s, d.name, key(s))
			}
		}
	}
	for _, d := range definitions {
		if !d.prefixed {
			continue
		}
		for _, p := range prefixes {
			for _, prefix := range p.spellings {
				s := prefix + d.name
				want := p.spellings[0] + d.name
				if s == "mL" {
					want = "cm³"
				}
				u, ok := UnitOf(s)
				if !ok || u.Name != want {
					t.Errorf("UnitOf(%q) = %q, %v; want %q", s, u.Name, ok, want)
				}
				if f := d.num / d.den * p.num / p.den; math.Abs(u.Factor/f-1) > 1e-15 {
					t.Errorf("%s: factor %v, want %v", s, u.Factor, f)
				}
			}
		}
	}
	for _, s := range everyday {
		if _, ok := units[key(s)]; !ok {
			if _, ok := exactly(key(s)); !ok {
				t.Errorf("everyday unit %q is not in the table", s)
			}
		}
	}
	for d := PressureDim; d <= RatioDim; d++ {
		for _, s := range []string{d.SIUnit(), dimensions[d].everyday} {
			if u, ok := UnitOf(s); !ok || u.Dim != d {
				t.Errorf("%v names %q as its unit", d, s)
			}
		}
		if u, _ := UnitOf(d.SIUnit()); u.Factor != 1 {
			t.Errorf("%v: the SI unit %q has factor %v", d, d.SIUnit(), u.Factor)
		}
	}
}

// TestUnitOfAgreesWithFunctions: the cheap factor and the exact conversion
// agree to rounding.
func TestUnitOfAgreesWithFunctions(t *testing.T) {
	var names []string
	for s := range units {
		names = append(names, s)
	}
	slices.Sort(names)
	for _, s := range names {
		u, ok := UnitOf(s)
		if !ok {
			t.Fatalf("UnitOf(%q) not found", s)
		}
		for _, x := range []float64{0, 1, -7.25, 101.3} {
			want := (x + u.Shift) * u.Factor
			if got := u.ToSI(x); math.Abs(got-want) > 4e-16*math.Abs(want) {
				t.Errorf("%s: ToSI(%v) = %v, by factor %v", s, x, got, want)
			}
			if back := u.FromSI(u.ToSI(x)); math.Abs(back-x) > 1e-13*(math.Abs(x)+math.Abs(u.Shift)) {
				t.Errorf("%s: %v comes back as %v", s, x, back)
			}
		}
	}
}

package unit

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	const inHg = 3386.388640341 // Pa, conventional (NIST SP 811 B.8)
	tests := []struct {
		text          string
		dim           Dimension
		value, spread float64
		unit, print   string
	}{
		{"95 ± 6 cm³", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"95 +- 6 cm3", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"95 +/- 6 cc", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"95±6ml", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"95 cm3 ± 6 cm3", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"95 cm3 ± 6", VolumeDim, 95e-6, 6e-6, "cm³", "95 ± 6 cm³"},
		{"0.1 L ± 6 mL", VolumeDim, 100e-6, 6e-6, "L", "0.1 ± 0.006 L"},
		{"95 cm3 ± 30 %", VolumeDim, 95e-6, 28.5e-6, "cm³", "95 ± 28.5 cm³"},
		{"-40 kPa ± 5 %", PressureDim, -40e3, 2e3, "kPa", "-40 ± 2 kPa"},
		{"0 ± 0.2 kPa", PressureDim, 0, 200, "kPa", "0 ± 0.2 kPa"},
		{"0.0 kPa ± 0 %", PressureDim, 0, 0, "kPa", "0 kPa"},
		{"0,62 mm", LengthDim, 0.62e-3, 0, "mm", "0.62 mm"},
		{"0,625 mm", LengthDim, 0.625e-3, 0, "mm", "0.625 mm"},
		{"1013,25 hPa", PressureDim, 101325, 0, "hPa", "1013.25 hPa"},
		{"1.234 m", LengthDim, 1.234, 0, "m", "1.234 m"},
		{"1,234.5 mm", LengthDim, 1.2345, 0, "mm", "1234.5 mm"},
		{"1.234,5 mm", LengthDim, 1.2345, 0, "mm", "1234.5 mm"},
		{"1,234,567 Pa", PressureDim, 1234567, 0, "Pa", "1234567 Pa"},
		{"1.234.567 Pa", PressureDim, 1234567, 0, "Pa", "1234567 Pa"},
		{"101 325 Pa", PressureDim, 101325, 0, "Pa", "101325 Pa"},
		{"101\u202f325,5\u00a0Pa", PressureDim, 101325.5, 0, "Pa", "101325.5 Pa"},
		{"1 234 567.5 Pa", PressureDim, 1234567.5, 0, "Pa", "1234567.5 Pa"},
		{"\u221221 inHg", PressureDim, -21 * inHg, 0, "inHg", "-21 inHg"},
		{"21½ inHg", PressureDim, 21.5 * inHg, 0, "inHg", "21.5 inHg"},
		{"21 ½ inHg", PressureDim, 21.5 * inHg, 0, "inHg", "21.5 inHg"},
		{"21 1/2 inHg", PressureDim, 21.5 * inHg, 0, "inHg", "21.5 inHg"},
		{"-21 1/2 inHg", PressureDim, -21.5 * inHg, 0, "inHg", "-21.5 inHg"},
		{"21½ ± ¼ inHg", PressureDim, 21.5 * inHg, 0.25 * inHg, "inHg", "21.5 ± 0.25 inHg"},
		{"3/8 in", LengthDim, 9.525e-3, 0, "in", "0.375 in"},
		{"½ in", LengthDim, 12.7e-3, 0, "in", "0.5 in"},
		{".5 mm", LengthDim, 0.5e-3, 0, "mm", "0.5 mm"},
		{"5. mm", LengthDim, 5e-3, 0, "mm", "5 mm"},
		{"+5 mm", LengthDim, 5e-3, 0, "mm", "5 mm"},
		{"1e3 Pa", PressureDim, 1000, 0, "Pa", "1000 Pa"},
		{"1.5E-3 m3", VolumeDim, 1.5e-3, 0, "m³", "0.0015 m³"},
		{"19 ± 3 °C", TemperatureDim, 292.15, 3, "°C", "19 ± 3 °C"},
		{"19 °C ± 3 K", TemperatureDim, 292.15, 3, "°C", "19 ± 3 °C"},
		{"293.15 K ± 9 °F", TemperatureDim, 293.15, 5, "K", "293.15 ± 5 K"},
		{"50 ± 9 °F", TemperatureDim, 283.15, 5, "°F", "50 ± 9 °F"},
		{"20 C", TemperatureDim, 293.15, 0, "°C", "20 °C"},
		{"300 K ± 1 %", TemperatureDim, 300, 3, "K", "300 ± 3 K"},
		{"250 r/min", SpeedDim, 250 * math.Pi / 30, 0, "r/min", "250 r/min"},
		{"800 1/min", SpeedDim, 800 * math.Pi / 30, 0, "r/min", "800 r/min"},
		{"45°", AngleDim, math.Pi / 4, 0, "°", "45°"},
		{"45 ± 1 deg", AngleDim, math.Pi / 4, math.Pi / 180, "°", "45 ± 1°"},
		{"95 ± 6 %", RatioDim, 0.95, 0.06, "%", "95 ± 6 %"},
		{"2 cfm", FlowDim, 2 * 28.316846592e-3 / 60, 0, "cfm", "2 cfm"},
		{"10 L/min", FlowDim, 10e-3 / 60, 0, "L/min", "10 L/min"},
		{"0.8 ± 0.3 cm3/min", FlowDim, 0.8e-6 / 60, 0.3e-6 / 60, "cm³/min", "0.8 ± 0.3 cm³/min"},
		{"5 ml/h", FlowDim, 5e-6 / 3600, 0, "cm³/h", "5 cm³/h"},
	}
	for _, tt := range tests {
		q, err := Parse(tt.text, tt.dim)
		if err != nil {
			t.Errorf("Parse(%q): %v", tt.text, err)
			continue
		}
		if !near(q.Value, tt.value) || !near(q.Spread, tt.spread) || q.Unit != tt.unit || q.Dim != tt.dim || !q.Known {
			t.Errorf("Parse(%q) = %v ± %v %s, want %v ± %v %s", tt.text, q.Value, q.Spread, q.Unit, tt.value, tt.spread, tt.unit)
		}
		if got := q.String(); got != tt.print {
			t.Errorf("Parse(%q).String() = %q, want %q", tt.text, got, tt.print)
		}
	}
	// Decimal units lose nothing: the float64 nearest to the SI figure.
	if q, _ := Parse("62 ± 3 cm3", VolumeDim); q.Measured != About(62e-6, 3e-6) {
		t.Errorf("62 ± 3 cm3 = %v, want exactly 62e-6 ± 3e-6", q.Measured)
	}
}

// near: equal to 4 roundings of float64, relative.
func near(got, want float64) bool { return math.Abs(got-want) <= 1e-15*math.Abs(want) }

func TestParseIn(t *testing.T) {
	tests := []struct {
		text  string
		dim   Dimension
		field string
		want  string
	}{
		{"21", PressureDim, "inHg", "21 inHg"},
		{"21½", PressureDim, "inHg", "21.5 inHg"},
		{"71 kPa", PressureDim, "inHg", "71 kPa"},
		{"95 ± 6", VolumeDim, "cm3", "95 ± 6 cm³"},
		{"95 ± 10 %", VolumeDim, "cm3", "95 ± 9.5 cm³"},
		{"95 ± 6 cm3", VolumeDim, "L", "95 ± 6 cm³"},
		{"9.5", RatioDim, "1", "9.5"},
		{"9.5", RatioDim, "%", "9.5 %"},
		{"0.5 %", RatioDim, "1", "0.5 %"},
	}
	for _, tt := range tests {
		q, err := ParseIn(tt.text, tt.dim, tt.field)
		if err != nil || q.String() != tt.want {
			t.Errorf("ParseIn(%q, %v, %q) = %v, %v; want %s", tt.text, tt.dim, tt.field, q, err, tt.want)
		}
	}
	for _, field := range []string{"", "nonsense", "kPa"} {
		if _, err := ParseIn("5 cm3", VolumeDim, field); err == nil {
			t.Errorf("ParseIn with field unit %q of a volume: no error", field)
		}
	}
	if _, err := ParseIn("0.5 ± 10 %", RatioDim, "1"); err == nil {
		t.Error("ParseIn(\"0.5 ± 10 %\") in a plain ratio could mean two things, want an error")
	}
}

func TestParseErrors(t *testing.T) {
	var (
		missing MissingUnitError
		wrong   WrongUnitError
		prefix  UnknownPrefixError
		unknown UnknownUnitError
		figure  FigureError
	)
	tests := []struct {
		text string
		dim  Dimension
		want any
		says string
	}{
		{"62", VolumeDim, missing, `a volume needs a unit, such as "62 cm3"`},
		{"62 ± 3", VolumeDim, missing, `"62 ± 3 cm3"`},
		{"95 ± 6 %", VolumeDim, missing, `"95 cm3 ± 6 %"`},
		{"0.5", RatioDim, missing, `"0.5 %"`},
		{"45", AngleDim, missing, `an angle needs a unit, such as "45 deg"`},
		{"62 kPa", VolumeDim, wrong, "kPa is a unit of pressure, but a volume is needed: give it in cm3"},
		{"62 mm", VolumeDim, wrong, "mm is a unit of length"},
		{"5 %", PressureDim, wrong, "% is a unit of ratio"},
		{"62 cm3 ± 3 kPa", VolumeDim, wrong, "kPa is a unit of pressure"},
		{"78 ± 2 cm", PressureDim, wrong, "cm is a unit of length"},
		{"5 qkPa", PressureDim, prefix, `unknown prefix "qk" in front of Pa`},
		{"5 XPa", PressureDim, prefix, `unknown prefix "X" in front of Pa`},
		{"5 TPa", PressureDim, prefix, `unknown prefix "T" in front of Pa`},
		{"5 pm", LengthDim, prefix, `unknown prefix "p" in front of m`},
		{"5 xbar", PressureDim, prefix, `unknown prefix "x" in front of bar`},
		{"5 TL/min", FlowDim, prefix, `unknown prefix "T" in front of L`},
		{"5 kpsi", PressureDim, prefix, "psi takes no prefix"},
		{"5 furlong", LengthDim, unknown, `unknown unit "furlong"`},
		{"5 kPs", PressureDim, unknown, "did you mean kPa?"},
		{"5 inGh", PressureDim, unknown, "did you mean inHg?"},
		{"5 L/mni", FlowDim, unknown, "did you mean L/min?"},
		{"5 m/s", FlowDim, unknown, `unknown unit "m/s"`},
		{"5 MPA", PressureDim, unknown, "could mean mPa or MPa"},
		{"5 slpm", FlowDim, unknown, "standard conditions"},
		{"5 psig", PressureDim, unknown, "write psi"},
		{"5 cm3 kPa", VolumeDim, unknown, `unknown unit "cm3 kPa"`},
		{"", VolumeDim, figure, "no figure"},
		{"  ", VolumeDim, figure, "no figure"},
		{"kPa", PressureDim, figure, "no figure"},
		{"±5 kPa", PressureDim, figure, "no figure"},
		{"5 ± kPa", PressureDim, figure, "no figure"},
		{"NaN kPa", PressureDim, figure, "no figure"},
		{"Inf kPa", PressureDim, figure, "no figure"},
		{"-inf kPa", PressureDim, figure, "no figure"},
		{"5 ± NaN kPa", PressureDim, figure, "no figure"},
		{"--5 kPa", PressureDim, figure, "no figure"},
		{"1e16 kPa", PressureDim, figure, "too large"},
		{"1e999 kPa", PressureDim, figure, "too large"},
		{"1 nm ± 1 Gm", LengthDim, figure, "too large"},
		{"5 ± -1 kPa", PressureDim, figure, "negative"},
		{"5 ± 1 ± 1 kPa", PressureDim, figure, "more than one ±"},
		{"1,234 mm", LengthDim, figure, "could mean 1.234 or 1234"},
		{"12,500 Pa", PressureDim, figure, "could mean 12.500 or 12500"},
		{"12,34.5 Pa", PressureDim, figure, "thousands"},
		{"1,23,456 Pa", PressureDim, figure, "thousands"},
		{"0,123.5 Pa", PressureDim, figure, "thousands"},
		{"1.2.3 Pa", PressureDim, figure, "thousands"},
		{"5 5 kPa", PressureDim, figure, "two figures"},
		{"0-100 kPa", PressureDim, figure, "two figures"},
		{"21 3/2 inHg", PressureDim, figure, "not a fraction below one"},
		{"1/0 inHg", PressureDim, figure, "divides by zero"},
		{"20 °C ± 5 %", TemperatureDim, figure, "scale starts"},
		{"0 kPa ± 5 %", PressureDim, figure, "percentage of zero"},
		{"-300 °C", TemperatureDim, figure, "absolute zero"},
		{"5 k\xffPa", PressureDim, figure, "UTF-8"},
		{strings.Repeat("9", 300) + " kPa", PressureDim, figure, "too long"},
	}
	for _, tt := range tests {
		_, err := Parse(tt.text, tt.dim)
		if err == nil {
			t.Errorf("Parse(%q, %v): no error", tt.text, tt.dim)
			continue
		}
		if got, want := reflect.TypeOf(err).Elem(), reflect.TypeOf(tt.want); got != want {
			t.Errorf("Parse(%q, %v): error %v is a %v, want %v", tt.text, tt.dim, err, got, want)
		}
		if !strings.Contains(err.Error(), tt.says) {
			t.Errorf("Parse(%q, %v): error %q does not say %q", tt.text, tt.dim, err, tt.says)
		}
	}
	_, err := Parse("62 kPa", VolumeDim)
	if e := (*WrongUnitError)(nil); !errors.As(err, &e) || e.Is != PressureDim || e.Needs != VolumeDim || e.Unit != "kPa" {
		t.Errorf("Parse(62 kPa) as a volume: %#v", err)
	}
	if _, err := Convert(1, "kPa", "cm3"); !errors.As(err, new(*WrongUnitError)) {
		t.Errorf("Convert kPa to cm3: %v", err)
	}
	if _, err := FromSI(1, "foo"); !errors.As(err, new(*UnknownUnitError)) {
		t.Errorf("FromSI to foo: %v", err)
	}
}

// FuzzParse: whatever is read prints, and what is printed reads back to the
// same figure, to the last bit, and prints the same again. Nothing read is
// NaN, infinite or of negative spread.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"95 ± 6 cm³", "95 +- 6 cm3", "95 cm3 ± 30 %", "0,62 mm", "\u221221½ inHg", "21 1/2 inHg", "19 ± 3 °C", "66 ± 9 °F",
		"101\u202f325 Pa", "1,234.5 mm", "1,234 mm", "10 L/min", "2 cfm", "800 1/min", "45°", "0.5 %", "5 qkPa", "62", "NaN kPa",
		"0.1 L ± 6 mL", "-40 kPa ± 5 %", "1e-300 nm", "1e15 Gm", "29.921256 inHg ± 1 mbar", "-459.67 °F", "1 nm ± 1 m", "0..100 kPa",
		"27 mm x 0.3 mm",
	} {
		for d := PressureDim; d <= RatioDim; d++ {
			f.Add(s, uint8(d))
		}
	}
	f.Fuzz(func(t *testing.T, text string, d uint8) {
		dim := Dimension(d)
		if q, err := Parse(text, dim); err == nil {
			stable(t, text, q)
		}
		if q, err := ParseIn(text, dim, dim.SIUnit()); err == nil {
			stable(t, text, q)
		}
		if r, err := ParseRange(text, dim); err == nil {
			if again, err := ParseRange(r.String(), dim); err != nil || again != r {
				t.Errorf("range %q = %v, prints %q, reads back %v, %v", text, r, r, again, err)
			}
		}
		if d, c, err := ParseSeat(text); err == nil && !(c.Value > 0 && d.Value > 2*c.Value) {
			t.Errorf("seat %q = %v, %v", text, d, c)
		}
		if u, ok := UnitOf(text); ok {
			if v, ok := UnitOf(u.Name); !ok || v != u {
				t.Errorf("unit %q is %+v, whose name is %+v", text, u, v)
			}
		}
	})
}

func stable(t *testing.T, text string, q Quantity) {
	t.Helper()
	if !finite(q.Value) || !finite(q.Spread) || q.Spread < 0 || !q.Known {
		t.Errorf("%q = %v", text, q.Measured)
	}
	printed := q.String()
	again, err := ParseIn(printed, q.Dim, q.Unit)
	if err != nil || again != q {
		t.Errorf("%q = %#v, prints %q, reads back %#v, %v", text, q, printed, again, err)
	}
	if q.Unit != "1" {
		if plain, err := Parse(printed, q.Dim); err != nil || plain != q {
			t.Errorf("%q prints %q, reads back without a field's unit as %#v, %v", text, printed, plain, err)
		}
	}
	if s := again.String(); s != printed {
		t.Errorf("%q prints %q, then %q", text, printed, s)
	}
}

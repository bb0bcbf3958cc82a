package rigfile

import (
	"math/rand/v2"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

// TestGaugeLine: a gauge's line is written, read back to the last bit, and edited
// where it stands.
func TestGaugeLine(t *testing.T) {
	d := rand.New(rand.NewPCG(3, 7))
	for range 300 {
		r := rig.Rig{Gauge: rig.Gauge{Class: 1.6, Line: &rig.GaugeLine{
			Offset: unit.About(800*d.NormFloat64(), 300*d.Float64()), Slope: unit.About(0.02*d.NormFloat64(), 0.01*d.Float64()), Correlation: 2*d.Float64() - 1,
		}}}
		if d.IntN(2) == 0 {
			r.Gauge.Line.Bow = unit.Exactly(500 * d.Float64())
		}
		var b strings.Builder
		if err := Write(&b, r); err != nil {
			t.Fatal(err)
		}
		back, err := Read(strings.NewReader(b.String()), "x")
		if err != nil || !same(back, r) {
			t.Fatalf("%v\n%s%+v\n%+v", err, b.String(), back.Gauge.Line, r.Gauge.Line)
		}
	}
	const file = "# mine\n[gauge]\nclass = \"2.5\" # on the dial\nline_slope = \"-0.8 ± 0.4 %\" # March\n"
	r, err := Read(strings.NewReader(file), "x")
	if err != nil || r.Gauge.Line == nil || r.Gauge.Line.Slope.Value != -0.008 || r.Gauge.Line.Offset.Known {
		t.Fatalf("%+v, %v", r.Gauge, err)
	}
	r.Gauge.Line.Slope = unit.About(-0.011, 0.003)
	text, err := Edit(file, r)
	if want := "# mine\n[gauge]\nclass = \"2.5\" # on the dial\nline_slope = \"-1.1 ± 0.3 %\" # March\n"; err != nil || text != want {
		t.Errorf("%v\n%s", err, text)
	}
	for text, want := range map[string]string{
		"line_slope = \"40 %\"": "more than 30 %", "line_correlation = \"1.2\"": "no correlation", "line_offset = \"3\"": "unit",
		"line_correlation = true": "must be a figure",
	} {
		if _, err := Read(strings.NewReader("[gauge]\n"+text+"\n"), "x"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

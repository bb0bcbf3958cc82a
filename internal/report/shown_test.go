package report

import (
	"strings"
	"testing"

	"seatproof/leak"
	"seatproof/trace"
)

// A share that is all but zero or one is said in whole per cents.
func TestShares(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		full      bool
		want      string
	}{
		{2.2e-6, 0.0067, false, "0 to 1 %"},
		{0.973, 0.999994, false, "97 to 100 %"},
		{0.287, 0.6, true, "28.7 to 60.0 %"},
	} {
		if got := (Style{Full: c.full}).shares(leak.Interval{Low: c.low, High: c.high}); got != c.want {
			t.Errorf("shares(%g, %g, full %v) = %q, want %q", c.low, c.high, c.full, got, c.want)
		}
	}
}

// No line ends between a figure and its unit.
func TestWrapKeepsUnits(t *testing.T) {
	for line := range strings.SplitSeq(wrapAt("lost 26 kPa in 15 s, air pressure under 0.1 % of it", "", 10), "\n") {
		if endsInDigit(line) {
			t.Errorf("a line ends in a figure: %q", line)
		}
	}
}

func TestNamedByFile(t *testing.T) {
	for _, c := range []struct {
		file, port string
		want       bool
	}{
		{"cylinder-1-intake.csv", "cylinder 1 intake", true},
		{"traces/Cylinder_1_intake.log", "cylinder 1 intake", true},
		{"c:\\traces\\cylinder 1 intake.csv", "cylinder 1 intake", true},
		{"c1i.csv", "cylinder 1 intake", false},
		{"cylinder-1-intake-2.csv", "cylinder 1 intake", false},
	} {
		if got := (&Outcome{File: c.file, Port: c.port}).namedByFile(); got != c.want {
			t.Errorf("file %q of port %q: named by file %v, want %v", c.file, c.port, got, c.want)
		}
	}
}

// The vent's first samples, which the hold may still hold, are not drawn as
// part of it; those far from its end are, fitted or not.
func TestHeldEndsBeforeTheVent(t *testing.T) {
	o := &Outcome{Reading: &leak.Reading{Curve: []leak.CurvePoint{{Time: 0}, {Time: 40}}}}
	for i := range 412 {
		o.Sketch.Hold = append(o.Sketch.Hold, Point{Time: float64(i) / 10})
	}
	if got := o.held(); got[len(got)-1].Time != 40.6 {
		t.Errorf("drawn to %g s, want 40.6: half a second off at most", got[len(got)-1].Time)
	}
	o.Sketch.Hold = o.Sketch.Hold[:403]
	if got := o.held(); got[len(got)-1].Time != 40 {
		t.Errorf("drawn to %g s, want the fit's end, 40", got[len(got)-1].Time)
	}
	o.Reading.Curve = nil
	if got := o.held(); len(got) != 403 {
		t.Errorf("without a fit %d points are drawn, want all 403", len(got))
	}
}

// A gauge that stuck shows no steady reading, and its drawing names none.
func TestStuckGaugeIsNotSteady(t *testing.T) {
	tr, _ := inventedTrace(5)
	phases := []trace.Phase{{Name: trace.Pull, From: 4, To: 10, First: 100, Last: 249}, {Name: trace.Steady, From: 10, To: 64, First: 250, Last: 1599}}
	o := &Outcome{File: "a.csv", Reading: &leak.Reading{Phases: phases, Refusal: &leak.Refusal{Code: leak.GaugeStuck, Figure: 60e3}}, Sketch: NewSketch(tr, phases, 0)}
	if s := plot(o, Style{}, sheetPlot); !strings.Contains(s, ">stood still<") || strings.Contains(s, ">"+string(trace.Steady)+"<") {
		t.Error("the drawing of a stuck gauge calls it steady")
	}
	o.Reading.Refusal.Code = leak.GaugeZero
	if s := plot(o, Style{}, sheetPlot); !strings.Contains(s, ">"+string(trace.Steady)+"<") {
		t.Error("the drawing of another refusal does not name the steady phase")
	}
}

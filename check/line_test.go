package check

import (
	"math"
	"testing"
	"time"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/unit"
)

var day = time.Date(2026, 3, 14, 10, 0, 0, 0, time.FixedZone("", 3600))

// agree fails where got is further than tol from want.
func agree(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.10g, want %.10g ± %.2g", what, got, want, tol)
	}
}

// TestGUMH3: the calibration of a thermometer, JCGM 100:2008 (GUM), H.3: data and
// results as printed there, and recomputed to more digits.
func TestGUMH3(t *testing.T) {
	x := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	f, err := FitLine(x, b, 20, 0)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "y1", f.Intercept, -0.1712, 5e-5)
	agree(t, "u(y1)", f.InterceptSD, 0.0029, 5e-5)
	agree(t, "y2", f.Slope, 0.00218, 5e-6)
	agree(t, "u(y2)", f.SlopeSD, 0.00067, 5e-6)
	agree(t, "r", f.Correlation, -0.930, 5e-4)
	agree(t, "s", f.S, 0.0035, 5e-5)
	y, u := f.At(30)
	agree(t, "b(30 °C)", y, -0.1494, 5e-5)
	agree(t, "u(b(30 °C))", u, 0.0041, 5e-5)
	agree(t, "b(30 °C) recomputed", y, -0.14937681, 1e-8)
	agree(t, "u(b(30 °C)) recomputed", u, 0.00413860, 1e-8)
}

// TestGaugeLineIsH3: the same data as a gauge's line give the same correction and
// its standard deviation, Student's factor for nine degrees of freedom taken off.
func TestGaugeLineIsH3(t *testing.T) {
	x := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	var pairs []Pair
	for i := range x { // a gauge of 0 to 30 kPa whose errors are those of the thermometer
		pairs = append(pairs, Pair{Reading: unit.About(x[i]*1e3, 1e-3), Reference: unit.About((x[i]+b[i])*1e3, 1e-3)})
	}
	g := rig.Gauge{Span: rig.Span{High: 30e3, Known: true}, Accuracy: unit.Exactly(0.02)}
	second := rig.Gauge{Span: g.Span, Accuracy: unit.Exactly(1e-9)}
	r, err := AgainstGauge(day, pairs, g, second)
	if err != nil {
		t.Fatal(err)
	}
	c := r.Line.Correct(30e3)
	agree(t, "correction at 30", c.Value-30e3, -149.37681, 1e-3)
	agree(t, "its sd", c.Spread/2.2621571628, 4.13860, 1e-3) // t of 0.975, 9 degrees
	if r.Verdict != Passed || r.Kind != KindGauge {
		t.Errorf("%v %v %v", r.Kind, r.Verdict, r.Evidence)
	}
}

// TestClass: EN 837-1:1996 Table 11: class 1.6 on -1 to 0 bar may err by 1.6 kPa.
func TestClass(t *testing.T) {
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Class: 1.6, Division: 200}
	second := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Class: 0.1, Resolution: 10}
	for _, c := range []struct {
		name string
		off  float64 // Pa at 80 kPa
		want Verdict
	}{{"within", 800, Passed}, {"at the limit", 1600, Unsure}, {"beyond", 2400, Failed}, {"beyond below", -2400, Failed}} {
		var pairs []Pair
		pairs = append(pairs, Pair{unit.Exactly(0), unit.Exactly(0), true})
		for _, v := range []float64{20e3, 40e3, 60e3, 80e3} {
			pairs = append(pairs, Pair{Reading: unit.Exactly(v + c.off*v/80e3), Reference: unit.Exactly(v)})
		}
		r, err := AgainstGauge(day, pairs, g, second)
		if err != nil || r.Verdict != c.want {
			t.Errorf("%s: %v, want %v; %v, error %v", c.name, r.Verdict, c.want, r.Evidence, err)
		}
		// a gain is what the line finds, and takes off
		if l := r.Line; l == nil || math.Abs(l.Correct(60e3+c.off*60/80).Value-60e3) > 60 {
			t.Errorf("%s: line %+v does not correct", c.name, l)
		}
		if !r.Line.Bow.Known || r.Line.Bow.Value > 500 {
			t.Errorf("%s: bow %+v", c.name, r.Line.Bow)
		}
	}
	for percent, want := range map[float64]float64{0.05: 0.1, 1.5: 1.6, 3.9: 4} {
		if got, ok := classFor(percent, Classes); !ok || got != want {
			t.Errorf("%v %%: class %v", percent, got)
		}
	}
	if _, ok := classFor(4.1, Classes); ok {
		t.Error("4.1 %: it has no class")
	}
}

// TestSecondGaugeCounts: a line is never surer than the second gauge's gain, and
// two points, one of them vented, will do.
func TestSecondGaugeCounts(t *testing.T) {
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.03), Resolution: 10}
	second := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.005), Resolution: 10}
	r, err := AgainstGauge(day, []Pair{{unit.Exactly(120), unit.Exactly(-40), true}, {unit.Exactly(76e3), unit.Exactly(74.9e3), false}}, g, second)
	if err != nil {
		t.Fatal(err)
	}
	if r.Line.Slope.Spread < 0.005 || r.Line.Slope.Spread > 0.0052 {
		t.Errorf("slope %+v: its ± is the second gauge's, 0.5 %%", r.Line.Slope)
	}
	// open to the room the truth is 0, and the second gauge's own zero comes off
	agree(t, "at 120 Pa", r.Line.Correct(120).Value, 0, 1e-9)
	agree(t, "at 76 kPa", r.Line.Correct(76e3).Value, 74.94e3, 1e-6)
	if r.Line.Bow.Known {
		t.Error("two points tell no bow")
	}
	if _, err := AgainstGauge(day, []Pair{{unit.Exactly(120), unit.Exactly(-40), true}}, g, second); err == nil {
		t.Error("one point makes no line")
	}
}

// TestColumn: rho g0 h. The inch of water at 60 °F is 248.84 Pa, at 39.2 °F 249.082
// (NIST SP 811:2008, B.8); 998.2 kg/m³ at 20 °C.
func TestColumn(t *testing.T) {
	for _, c := range []struct{ h, kelvin, want, tol float64 }{
		{0.0254, 288.7056, 248.84, 0.01}, {0.0254, 277.15, 249.082, 0.001}, {1, 293.15, 9788.998, 0.01},
	} {
		p, err := ColumnPressure(unit.Exactly(c.h), unit.Exactly(c.kelvin))
		if err != nil {
			t.Fatal(err)
		}
		agree(t, "column", p.Value, c.want, c.tol)
		if p.Spread < 0.0027*p.Value || p.Spread > 0.004*p.Value {
			t.Errorf("± %v of %v: the latitude's 0.27 %%", p.Spread, p.Value)
		}
	}
	if _, err := ColumnPressure(unit.Exactly(1), unit.Exactly(320)); err == nil {
		t.Error("hot water has another density")
	}
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Class: 2.5, Division: 2e3}
	r, err := AgainstColumn(day, []ColumnPoint{{unit.Exactly(0), unit.Exactly(0)}, {unit.Exactly(20.2e3), unit.Exactly(2)}}, unit.Measured{}, g)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "two metres", r.Line.Correct(20.2e3).Value, 998.2*gas.Gravity*2, 1)
	if r.Method != ByColumn || r.Verdict != Passed || r.Line.Bow.Known {
		t.Errorf("%v %v, bow %+v: two metres of water say nothing of the rest of the scale", r.Method, r.Verdict, r.Line.Bow)
	}
	if _, err := AgainstColumn(day, []ColumnPoint{{unit.Exactly(0), unit.Exactly(0)}, {unit.Exactly(20e3), unit.Exactly(20)}}, unit.Measured{}, g); err == nil {
		t.Error("no vacuum lifts water 20 m")
	}
}

// TestZero: within the class, beyond it, and as near as can't be told.
func TestZero(t *testing.T) {
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Class: 1, Division: 500}
	for v, want := range map[float64]Verdict{0: Passed, 400: Passed, 1000: Unsure, 1800: Failed, -1800: Failed} {
		r, err := Zero(day, unit.Exactly(v), g)
		if err != nil || r.Verdict != want {
			t.Errorf("%v Pa: %v, want %v, error %v", v, r.Verdict, want, err)
		}
	}
	if _, err := Zero(day, unit.Measured{}, g); err == nil {
		t.Error("no reading, no check")
	}
}

// TestIndividuals: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2:
// limits 55.8041 and 45.8159.
func TestIndividuals(t *testing.T) {
	x := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	c, err := Individuals(x)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "mean", c.Mean, 50.81, 1e-9)
	agree(t, "mean moving range", c.MovingRange, 1.8778, 5e-5)
	agree(t, "upper", c.Upper, 55.8041, 5e-5)
	agree(t, "lower", c.Lower, 45.8159, 5e-5)
	if len(c.Out) > 0 {
		t.Errorf("out: %v", c.Out)
	}
	if _, err := Individuals(x[:1]); err == nil {
		t.Error("one figure makes no chart")
	}
}

// TestBlankedSeries: mean and the ± of one more pull by hand, a pull that is out, a
// drift, one pull, and figures that no pump gives.
func TestBlankedSeries(t *testing.T) {
	var r rig.Rig
	r.Gauge.Resolution = 10
	r.Air.Pressure = unit.Exactly(100e3)
	kPa := func(x ...float64) []float64 {
		for i := range x {
			x[i] *= 1e3
		}
		return x
	}
	res, err := BlankedSeries(day, kPa(77.1, 76.4, 76.9, 76.6, 77.0), r)
	if err != nil || res.Verdict != Passed {
		t.Fatalf("%v %v", res, err)
	}
	// mean 76.8, s = sqrt(0.34/4) = 0.29155, t(4) = 2.77645, sqrt(1.2)
	agree(t, "mean", res.Value.Value, 76.8e3, 1e-6)
	agree(t, "± of one more", res.Value.Spread, 2.7764451*math.Sqrt(0.34/4*1.2)*1e3, 0.01)
	for _, c := range []struct {
		name  string
		pulls []float64
		want  Verdict
	}{
		{"one out", kPa(77.1, 77.0, 77.1, 77.0, 77.1, 77.0, 75.0, 77.1, 77.0, 77.1, 77.0, 77.1), Failed},
		{"warms up", kPa(74, 74.6, 75.1, 75.7, 76.2), Failed},
		{"tires", kPa(77, 76.4, 75.9, 75.3, 74.8), Failed},
		{"three", kPa(77, 76.9, 77.1), Found},
		{"one", kPa(77), Found},
	} {
		res, err := BlankedSeries(day, c.pulls, r)
		if err != nil || res.Verdict != c.want {
			t.Errorf("%s: %v, want %v: %v, error %v", c.name, res.Verdict, c.want, res.Evidence, err)
		}
	}
	res, _ = BlankedSeries(day, kPa(74, 74.6, 75.1, 75.7, 76.2), r)
	agree(t, "of a drift the last", res.Value.Value, 76.22e3, 30)
	res, _ = BlankedSeries(day, kPa(77.2, 76.9), r)
	agree(t, "of two, no more than a pump's 3 %", res.Value.Spread, 0.03*77.05e3, 1e-6)
	r.Gauge.Resolution = 500
	res, _ = BlankedSeries(day, kPa(77, 77, 77, 77, 77), r)
	agree(t, "no less than half a step", res.Value.Spread, 1.959963984540054*250/math.Sqrt(3)*math.Sqrt(1.2), 1e-6)
	for _, bad := range [][]float64{nil, kPa(110), {23.1}, kPa(77, math.NaN())} {
		if _, err := BlankedSeries(day, bad, r); err == nil {
			t.Errorf("%v: no error", bad)
		}
	}
}

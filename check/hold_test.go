package check

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"seatproof/gas"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// cm3 is a leak rate in cm³/min.
func cm3(x float64) float64 { return x * 1e-6 / 60 }

func span3(median, low, high float64) leak.Interval {
	return leak.Interval{Median: cm3(median), Low: cm3(low), High: cm3(high)}
}

// reading makes a reading of a leak whose draws are spread evenly over its interval.
func reading(i leak.Interval, upper bool) *leak.Reading {
	r := &leak.Reading{Leak: &i, UpperLimitOnly: upper, Source: leak.FromHold}
	for k := range 1000 {
		r.Draws = append(r.Draws, leak.Draw{Flow: i.Low + (i.High-i.Low)*(float64(k)+0.5)/1000})
	}
	return r
}

// TestRigLeak: a tenth of a limit of 23 cm³/min is 2.3.
func TestRigLeak(t *testing.T) {
	for _, c := range []struct {
		name  string
		is    leak.Interval
		upper bool
		limit float64
		want  Verdict
	}{
		{"tight", span3(0.5, 0.3, 0.8), false, 23, Passed},
		{"upper limit", span3(0.4, 0, 1.1), true, 23, Passed},
		{"weeps", span3(9, 8, 10), false, 23, Failed},
		{"near", span3(2.3, 1.5, 3), false, 23, Unsure},
		{"no limit", span3(9, 8, 10), false, 0, Found},
	} {
		r, err := RigLeak(day, reading(c.is, c.upper), cm3(c.limit), rig.PumpStopped)
		if err != nil || r.Verdict != c.want {
			t.Errorf("%s: %v, want %v, error %v", c.name, r.Verdict, c.want, err)
		}
		if (r.Do == "") != (c.want == Passed || c.want == Found) {
			t.Errorf("%s: what to do: %q", c.name, r.Do)
		}
	}
	if _, err := RigLeak(day, &leak.Reading{Refusal: &leak.Refusal{Code: leak.NoHold}}, 0, ""); err == nil || !strings.Contains(err.Error(), "no-hold") {
		t.Errorf("refused: %v", err)
	}
	if _, err := RigLeak(day, &leak.Reading{}, 0, ""); err == nil {
		t.Error("without a volume there is no leak")
	}
}

// TestKnownLeak: right, not above the blank, low, high.
func TestKnownLeak(t *testing.T) {
	known, blank := span3(30, 25, 36), span3(0.5, 0.2, 1)
	for _, c := range []struct {
		is   leak.Interval
		want KnownOutcome
	}{
		{span3(31, 29, 33), KnownRight}, {span3(24, 22, 26), KnownRight}, {span3(0.9, 0.7, 1.2), KnownNotAbove},
		{span3(15, 14, 17), KnownLow}, {span3(50, 47, 55), KnownHigh}, {span3(1, 0, 3), KnownNotAbove},
	} {
		if got := JudgeKnown(c.is, known, &blank); got != c.want {
			t.Errorf("%v: %v, want %v", c.is, got, c.want)
		}
		r, err := KnownLeak(day, reading(c.is, false), known, &blank)
		if want := map[bool]Verdict{true: Passed, false: Failed}[c.want == KnownRight]; err != nil || r.Verdict != want {
			t.Errorf("%v: %v, want %v, error %v", c.is, r.Verdict, want, err)
		}
	}
}

// TestShutOffSeep: the difference, and its ± as a root of squares.
func TestShutOffSeep(t *testing.T) {
	r, err := ShutOffSeep(day, span3(5, 4, 6), span3(1, 0.5, 1.5), cm3(23))
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "seep", r.Value.Value/cm3(1), 4, 1e-9)
	agree(t, "±", r.Value.Spread/cm3(1), 1.118034, 1e-6)
	if r.Verdict != Failed {
		t.Errorf("%v", r.Verdict)
	}
	r, _ = ShutOffSeep(day, span3(1.2, 1, 1.4), span3(1, 0.8, 1.2), cm3(23))
	if r.Verdict != Passed {
		t.Errorf("tight: %v", r.Verdict)
	}
}

// TestDryness: a leak stays, vapour falls from pull to pull.
func TestDryness(t *testing.T) {
	pulls := func(x ...float64) (out []leak.Interval) {
		for _, v := range x {
			out = append(out, span3(v, v*0.7, v*1.3))
		}
		return out
	}
	for _, c := range []struct {
		name  string
		pulls []leak.Interval
		want  Verdict
	}{
		{"leak", pulls(20, 20.4, 19.8, 20.1, 20.2), Passed},
		{"moisture", pulls(40, 31, 25, 22, 20), Failed},
		{"scatter", pulls(20, 30, 15, 27, 18), Unsure},
		{"rises", pulls(20, 20.3, 20.8, 21.1, 21.5), Passed},
		{"two", pulls(20, 15), Unsure},
		{"nothing at all", pulls(0, 0, 0), Passed},
	} {
		r, err := Dryness(day, c.pulls)
		if err != nil || r.Verdict != c.want {
			t.Errorf("%s: %v, want %v: %v, error %v", c.name, r.Verdict, c.want, r.Evidence, err)
		}
	}
	if _, err := Dryness(day, pulls(20)); err == nil {
		t.Error("one pull tells nothing")
	}
}

// TestPumpCurve: steady readings on leaks of known flow give the curve they were
// made from: 10 L/min straight to 78 kPa, and one that sags.
func TestPumpCurve(t *testing.T) {
	var r rig.Rig
	r.Gauge.Resolution = 10
	r.Pump.Blanked = unit.About(78e3, 500)
	lpm := func(x float64) float64 { return x * 1e-3 / 60 }
	make := func(bend float64) (pts []OnKnownLeak) {
		for _, v := range []float64{70e3, 4e3, 45e3} {
			q := lpm(10) * (1 - v/78e3) * (1 - bend*v/78e3*(1-v/78e3))
			pts = append(pts, OnKnownLeak{Vacuum: unit.About(v, 100), Flow: unit.About(q, 0.1*q)})
		}
		return pts
	}
	res, err := PumpCurve(day, make(0), r)
	if err != nil || res.Verdict != Passed {
		t.Fatalf("%v %v", res, err)
	}
	agree(t, "free flow", res.Value.Value/lpm(1), 10, 1e-9)
	if res.Value.Spread < 0.1*res.Value.Value {
		t.Errorf("± %v: never better than the leaks", res.Value)
	}
	r2 := Apply(r, []Result{res}, day)
	c, err := r2.Pump.Here(100e3)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{10e3, 45e3, 76e3} {
		agree(t, "flow", c.Flow(v)/lpm(1), 10*(1-v/78e3), 1e-6)
	}
	sags, err := PumpCurve(day, make(0.8), r)
	if err != nil || !strings.Contains(sags.Evidence[1].String(), "less than a straight line") {
		t.Errorf("%v %v", sags.Evidence, err)
	}
	r.Pump.FreeFlow = unit.Exactly(lpm(25))
	if said, err := PumpCurve(day, make(0), r); err != nil || !strings.Contains(said.Evidence[1].String(), "Stated is a free flow of 25 L/min") {
		t.Errorf("a label of 25 L/min on a pump of 10: %v %v", said.Evidence, err)
	}
	r.Pump.FreeFlow = unit.Measured{}
	wrong := make(0)
	wrong[0].Flow = unit.About(lpm(9), lpm(0.5))
	if res, err := PumpCurve(day, wrong, r); err != nil || res.Verdict != Failed {
		t.Errorf("flow that grows with the vacuum: %v %v", res.Verdict, err)
	}
	if _, err := PumpCurve(day, nil, r); err == nil {
		t.Error("no leak, no curve")
	}
}

// TestPumpCurveRigLeak: the pump moves what the rig leaks as well, a seep of q at 50 kPa:
// at v it passes q (pa² - (pa-v)²)/(pa² - (pa-50 kPa)²), in a room at 80 kPa 63/55 of it
// at 70 kPa.
func TestPumpCurveRigLeak(t *testing.T) {
	var r rig.Rig
	r.Gauge.Resolution = 10
	r.Pump.Blanked = unit.About(78e3, 500)
	r.Air.Pressure = unit.Exactly(80e3)
	own := cm3(400)
	r.RigLeak = unit.About(own, cm3(40))
	pump := func(v float64) float64 { return 10e-3 / 60 * (1 - v/78e3) }
	agree(t, "at 70 kPa", seepShape(70e3, 80e3), 63./55, 1e-12)
	var pts []OnKnownLeak
	for _, v := range []float64{20e3, 50e3, 70e3} {
		q := pump(v) - own*(80e3*80e3-(80e3-v)*(80e3-v))/(80e3*80e3-30e3*30e3)
		pts = append(pts, OnKnownLeak{Vacuum: unit.About(v, 100), Flow: unit.About(q, 0.1*q)})
	}
	res, err := PumpCurve(day, pts, r)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "free flow", res.Value.Value/cm3(1), 10e3, 1e-6)
	if len(res.Curve) != 5 {
		t.Fatalf("a curve of %d points", len(res.Curve))
	}
	for _, p := range res.Curve {
		agree(t, "flow", p.Flow/cm3(1), pump(float64(p.Vacuum))/cm3(1), 1e-6)
	}
}

// TestHoseLoss: what a pipe of 3 mm and 2 m loses is found back as 3 mm.
func TestHoseLoss(t *testing.T) {
	var r rig.Rig
	r.Gauge.Resolution = 10
	r.Air.Pressure, r.Air.Temperature = unit.Exactly(100e3), unit.Exactly(293.15)
	r.Hose.Length, r.Hose.Bore = unit.About(2, 0.01), unit.About(3e-3, 0.1e-3)
	q := 5e-3 / 60
	pipe := gas.Pipe{Diameter: 3e-3, Length: 2}
	far, err := pipe.Downstream(gas.FreeAirMass(q, 100e3, 293.15), 60e3, 293.15)
	if err != nil {
		t.Fatal(err)
	}
	e := HoseEnds{AtPump: unit.Exactly(100e3 - far), AtPort: unit.Exactly(40e3), Flow: unit.About(q, 0.05*q)}
	res, err := HoseLoss(day, e, r)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "bore", res.Value.Value, 3e-3, 1e-8)
	if res.Verdict != Passed || res.Value.Spread <= 0 {
		t.Errorf("%+v", res)
	}
	r.Hose.Bore = unit.About(6e-3, 0.1e-3)
	if res, err = HoseLoss(day, e, r); err != nil || res.Verdict != Failed {
		t.Errorf("a hose said to be 6 mm: %v, %v", res.Verdict, err)
	}
	e.AtPump = unit.Exactly(40.001e3)
	if res, err = HoseLoss(day, e, r); err != nil || res.Verdict != Passed || res.Value.Known {
		t.Errorf("no loss: %+v, %v", res, err)
	}
	e.AtPump = unit.Exactly(30e3)
	if _, err = HoseLoss(day, e, r); err == nil {
		t.Error("deeper at the port than at the pump")
	}
}

// TestHeadTemperature: 3.4 % per 10 K.
func TestHeadTemperature(t *testing.T) {
	for warm, want := range map[float64]Verdict{0: Passed, 3: Unsure, 15: Failed, -12: Failed} {
		r, err := HeadTemperature(day, unit.About(293+warm, 0.5), unit.About(293, 0.5))
		if err != nil || r.Verdict != want {
			t.Errorf("%v K: %v, want %v, error %v", warm, r.Verdict, want, err)
		}
	}
	if _, err := HeadTemperature(day, unit.Exactly(31), unit.Exactly(293)); err == nil {
		t.Error("31 K is no head")
	}
}

// TestResultsKeep: a result is plain data.
func TestResultsKeep(t *testing.T) {
	a, err := BlankedSeries(day, []float64{77e3, 76.9e3, 77.1e3, 77e3, 76.8e3}, rig.Rig{})
	if err != nil {
		t.Fatal(err)
	}
	a.Line = &rig.GaugeLine{Offset: unit.About(1, 2), Slope: unit.About(0.01, 0.02), Correlation: -0.3}
	text, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	var b Result
	if err := json.Unmarshal(text, &b); err != nil || !b.At.Equal(a.At) {
		t.Fatalf("%v, %v", b.At, err)
	}
	if !strings.Contains(string(text), `"unit":"Pa"`) {
		t.Errorf("no unit in %s", text)
	}
	for _, d := range []unit.Dimension{0, unit.PressureDim, unit.FlowDim, unit.VolumeDim, unit.LengthDim, unit.RatioDim, unit.TemperatureDim} {
		x := Result{Dim: d, Evidence: []Sentence{say("{}", exactly(1, d))}}
		text, err := json.Marshal(x)
		var y Result
		if err != nil || json.Unmarshal(text, &y) != nil || y.Dim != d || y.Evidence[0].Figures[0].Dim != d {
			t.Errorf("%v: %s came back as %v", d, text, y)
		}
	}
	b.At = a.At
	if !reflect.DeepEqual(a, b) {
		t.Errorf("kept as\n%+v\nwas\n%+v", b, a)
	}
}

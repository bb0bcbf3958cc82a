package crosscheck

import (
	"errors"
	"math"
	"testing"

	"seatproof/engine"
	"seatproof/unit"
)

func made() engine.Given {
	return engine.Given{Bore: unit.Exactly(72e-3), Stroke: unit.Exactly(81.8e-3), Ratio: unit.About(9.5, 0.3)}
}

// A gauge on a warm sound engine of this ratio shows some 10 to 15 bar (common
// practice, no source); a leak takes from it, a larger one more, and a cylinder of a
// fifth of the volume loses a greater part by the same leak.
func TestCrankingForecast(t *testing.T) {
	var last CrankingForecast
	for i, q := range []float64{0, 23, 500, 3000} {
		f, err := Cranking{Engine: made()}.Forecast(exact(q*cm3, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		if f.Without.Median < 9e5 || f.Without.Median > 18e5 {
			t.Errorf("without a leak: %.3g bar", f.Without.Median/1e5)
		}
		if i == 0 {
			near(t, "no leak", f.With.Median, f.Without.Median, 1e-6)
		} else if !(f.With.Median < last.With.Median && f.Cost.Median > last.Cost.Median) {
			t.Errorf("%g cm³/min: %.4g bar, %.3g lost; before %.4g, %.3g", q, f.With.Median/1e5, f.Cost.Median, last.With.Median/1e5, last.Cost.Median)
		}
		last = f
	}
	small := made()
	small.Bore, small.Stroke = unit.Exactly(46e-3), unit.Exactly(54e-3)
	f, err := Cranking{Engine: small}.Forecast(exact(3000*cm3, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	if f.Cost.Median <= last.Cost.Median {
		t.Errorf("90 cm³ loses %.3g, 333 cm³ %.3g", f.Cost.Median, last.Cost.Median)
	}
	two, err := Cranking{Engine: made()}.Forecast(exact(1500*cm3, 0, 0), exact(1500*cm3, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	// a seep's conductance adds up but for the cap by inertia, which is of each slot
	if math.Abs(two.Cost.Median/last.Cost.Median-1) > 0.3 {
		t.Errorf("two halves of a leak cost %.3g, the whole %.3g", two.Cost.Median, last.Cost.Median)
	}
}

// A gauge's hose takes compression: with the chamber's own room again in it a ratio
// of 9 is one of 5 (arithmetic), and a small cylinder loses most by a hose. Nothing
// known of it makes the forecast wider than a gauge that adds nothing.
func TestCrankingGaugeRoom(t *testing.T) {
	g := made()
	g.Ratio = unit.Exactly(9)
	chamber := engine.Cylinder{Bore: g.Bore.Value, Stroke: g.Stroke.Value, Ratio: 9}.Clearance()
	twice := Cranking{Engine: g, Gauge: unit.Exactly(chamber)}
	with, err := twice.engine()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ratio", with.Ratio.Value, 5, 1e-12)
	if with.Ratio.Spread != 0 {
		t.Errorf("± %g out of nothing", with.Ratio.Spread)
	}
	forecast := func(gauge unit.Measured) Interval {
		f, err := Cranking{Engine: g, Gauge: gauge}.Forecast(exact(0, 0, 0))
		if err != nil {
			t.Fatal(err)
		}
		return f.With
	}
	none, hose, guess := forecast(unit.Exactly(0)), forecast(unit.Exactly(5e-6)), forecast(unit.Measured{})
	if !(hose.Median < guess.Median && guess.Median < none.Median) {
		t.Errorf("no room %.4g, guessed %.4g, 5 cm³ %.4g bar", none.Median/1e5, guess.Median/1e5, hose.Median/1e5)
	}
	_, err = Cranking{Engine: g, Gauge: unit.Exactly(-1e-6)}.Forecast(exact(0, 0, 0))
	refused(t, err, "gauge")
	_, err = Cranking{Engine: g, Gauge: unit.Exactly(1e-3)}.Forecast(exact(0, 0, 0))
	refused(t, err, "gauge")
}

// The states of a port are all gone through, whichever port it is.
func TestStatesApart(t *testing.T) {
	for i := range steps {
		seen := map[int]bool{}
		for k := range samples {
			seen[apart(k, i)] = true
		}
		if len(seen) != samples {
			t.Errorf("step %d goes through %d of %d states", steps[i], len(seen), samples)
		}
	}
}

func TestCrankingRefuses(t *testing.T) {
	_, err := Cranking{Engine: made()}.Forecast()
	refused(t, err, "leak")
	_, err = Cranking{Engine: made()}.Forecast(Leak{Port: air})
	refused(t, err, "leak")
	var f *engine.Fault
	if _, err = (Cranking{}).Forecast(exact(cm3, 0, 0)); !errors.As(err, &f) || f.Field != "bore" {
		t.Errorf("an engine of which nothing is known: %v", err)
	}
}

func TestStand(t *testing.T) {
	f := Interval{5, 4, 6}
	for _, c := range []struct {
		seen   unit.Measured
		rising bool
		want   Stands
	}{
		{unit.Exactly(5), true, Agrees}, {unit.Exactly(7), true, More}, {unit.Exactly(7), false, Less}, {unit.Exactly(3), true, Less},
		{unit.Exactly(3), false, More}, {unit.About(7, 1.5), true, Agrees}, {unit.About(3, 1.5), false, Agrees}, {unit.About(7, 0.5), true, More},
	} {
		if got := Stand(c.seen, f, c.rising); got != c.want {
			t.Errorf("%v against 4 to 6, rising %v: %s, want %s", c.seen, c.rising, got, c.want)
		}
	}
	l := LiquidForecast{Paper: Times{Interval: Interval{60, 20, math.Inf(1)}}, Drop: Times{Interval: Interval{600, 200, 900}}}
	for _, c := range []struct {
		seen  Seen
		after float64
		want  Stands
	}{{SeenDry, 1e6, Agrees}, {SeenPaper, 5, More}, {SeenPaper, 500, Agrees}, {SeenDrop, 5, More}, {SeenDrop, 1000, Less}} {
		if got := l.Stand(c.seen, unit.Exactly(c.after)); got != c.want {
			t.Errorf("%s after %g s: %s, want %s", c.seen, c.after, got, c.want)
		}
	}
	l.Paper.High = 100
	if got := l.Stand(SeenDry, unit.Exactly(120)); got != Less {
		t.Errorf("dry for 120 s where it is wet by 100: %s", got)
	}
}

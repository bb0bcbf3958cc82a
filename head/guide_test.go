package head

import (
	"math"
	"slices"
	"strings"
	"testing"

	"seatproof/gas"
	"seatproof/unit"
)

// A guide's leak goes with its clearance cubed: 5.5 mm, 35 mm long, 0.05 mm less
// or more 0.02 mm. The ends of the forecast are those of the annulus law at the
// ends of clearance and eccentricity, and 0.01 mm of doubt is a factor of several.
func TestGuideForecast(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Exhaust)
	p.Valves = p.Valves[:1]
	v := b.Job.valve(p.Valves[0])
	v.Stem, v.Guide, v.Clearance = unit.Exactly(5.5e-3), unit.Exactly(35e-3), unit.About(0.05e-3, 0.02e-3)
	g := b.Job.forecastGuides(p, 101325, 293.15)
	if len(g.Guessed) != 0 {
		t.Errorf("guessed %v of what was given", g.Guessed)
	}
	at := func(clearance, e float64) float64 {
		q, err := gas.FreeAirAt(gas.Annulus{Stem: 5.5e-3, Length: 35e-3, Clearance: clearance, Eccentricity: e}, 50e3, 101325, 293.15)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	if g.Flow.Low < at(0.03e-3, 0) || g.Flow.Low > at(0.04e-3, 0) {
		t.Errorf("low end %.3g cm³/min, annulus %.3g to %.3g", g.Flow.Low*6e7, at(0.03e-3, 0)*6e7, at(0.04e-3, 0)*6e7)
	}
	if g.Flow.High < at(0.06e-3, 0.5) || g.Flow.High > at(0.07e-3, 1) {
		t.Errorf("high end %.3g cm³/min, annulus %.3g to %.3g", g.Flow.High*6e7, at(0.06e-3, 0.5)*6e7, at(0.07e-3, 1)*6e7)
	}
	if r := g.Flow.High / g.Flow.Low; r < 4 {
		t.Errorf("from end to end only %.2f times", r)
	}
	// docs/model.md §1: 0.04 ± 0.01 mm over 41 mm, from the middle to the wall, is 15
	// to 175 from one end of everything to the other; 95 % lies within
	v.Guide, v.Clearance = unit.Exactly(41e-3), unit.About(0.04e-3, 0.01e-3)
	if f := b.Job.forecastGuides(p, 101325, 293.15).Flow; f.Low*6e7 < 15 || f.Low*6e7 > 30 || f.High*6e7 > 175 || f.High*6e7 < 110 {
		t.Errorf("%.3g to %.3g cm³/min, want within 15 to 175", f.Low*6e7, f.High*6e7)
	}
	v.Guide, v.Clearance = unit.Exactly(35e-3), unit.About(0.05e-3, 0.02e-3)
	// nothing given: wider, and said
	v.Stem, v.Guide, v.Clearance = unit.Measured{}, unit.Measured{}, unit.Measured{}
	w := b.Job.forecastGuides(p, 0, 0)
	if !slices.Equal(w.Guessed, []string{"stem", "guide length", "clearance"}) || w.Flow.High/w.Flow.Low < 2*g.Flow.High/g.Flow.Low {
		t.Errorf("guessed %v, %v", w.Guessed, w.Flow)
	}
	if s := w.Words(1); !strings.HasPrefix(s, "the guide alone may pass ") || !strings.HasSuffix(s, " cm³/min: close it off and test") {
		t.Errorf("%q", s)
	}
	// the smaller the clearance, the less; a clearance as wide as itself is no fault
	v.Clearance = unit.About(0.02e-3, 0.02e-3)
	if s := b.Job.forecastGuides(p, 0, 0); s == nil || s.Flow.Median >= w.Flow.Median || !(s.Flow.Low >= 0) || math.IsInf(s.Flow.High, 0) {
		t.Errorf("small clearance: %+v", s)
	}
}

// The forecast is told and never taken off: a leak rate is the same whatever the
// guide's sizes.
func TestGuideNeverTakenOff(t *testing.T) {
	var leaks []float64
	for _, c := range []float64{0.01e-3, 0.2e-3} {
		b := newBook(t)
		p := b.port(1, Exhaust)
		for _, id := range p.Valves {
			b.Job.valve(id).Clearance = unit.Exactly(c)
		}
		b.test(1, p, reading(60, 0.05))
		leaks = append(leaks, b.card().of(p).Leak.Median)
	}
	if leaks[0] != leaks[1] {
		t.Errorf("%v", leaks)
	}
}

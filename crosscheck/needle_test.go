package crosscheck

import (
	"errors"
	"testing"

	"seatproof/unit"
)

func pump(litres, kPa float64) Pump {
	return Pump{Free: unit.Exactly(litres / 6e4), Blanked: unit.Exactly(kPa * 1e3), Exact: true}
}

// Arithmetic of a straight line and a choked nozzle: 2 inHg below the 78 kPa of a
// 10 L/min pump is 0.868 L/min, 0.0729 mm² effective, which on 70 L/min moves the
// needle 0.286 inHg; 15 of 23.03 inHg is 3.487 L/min and takes 1.147 inHg off the
// large one.
func TestNeedleOnAnotherPump(t *testing.T) {
	small, large := pump(10, 78), pump(70, 78)
	for _, c := range []struct{ below, litres, mm2, large float64 }{
		{2, 0.868, 0.0729, 0.286},
		{78000/inHg - 15, 3.487, 0.2926, 1.147},
	} {
		f, err := small.Forecast(exact(c.litres/6e4, 1, 0))
		if err != nil {
			t.Fatal(err)
		}
		if c.below == 2 { // deeper than 53 kPa the nozzle is choked, and its flow that at 50 kPa nearly
			near(t, "below on the small pump", f.Below.Median/inHg, c.below, 0.01)
		}
		to, err := small.Translate(unit.Exactly(c.below*inHg), large, air)
		if err != nil {
			t.Fatal(err)
		}
		// of whatever kind the leak is: a rounded opening is within
		if to.Below.Low/inHg > c.large*1.001 || to.Below.High/inHg < c.large*0.999 {
			t.Errorf("%g inHg below: on the large pump %.3g to %.3g, want %.3g within", c.below, to.Below.Low/inHg, to.Below.High/inHg, c.large)
		}
		s := state{Draw: Draw{Share: 1}, room: room, temp: temp, width: 0.08, length: 1e-3}
		w, err := s.way(c.litres / 6e4)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "effective area, mm²", w.opening.Area*1e6, c.mm2, 0.005)
		v, err := stands(w, &s, &line{free: 70 / 6e4, blanked: 78e3})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "below on the large pump", (78e3-v)/inHg, c.large, 0.005)
	}
}

// Forwards and backwards, and to the same pump.
func TestNeedleRoundTrip(t *testing.T) {
	p := Pump{Free: unit.About(10/6e4, 1/6e4), Blanked: unit.About(78e3, 1e3)}
	for _, q := range []float64{50, 500, 3000} {
		f, err := p.Forecast(exact(q*cm3, 0.5, 0.5))
		if err != nil {
			t.Fatal(err)
		}
		b, err := p.Leak(unit.Exactly(f.Below.Median), air)
		if err != nil {
			t.Fatal(err)
		}
		if b.Low > q*cm3 || b.High < q*cm3 {
			t.Errorf("%g cm³/min: %.3g kPa below means %.3g to %.3g", q, f.Below.Median/1e3, b.Low/cm3, b.High/cm3)
		}
	}
	same, err := pump(10, 78).Translate(unit.Exactly(3*inHg), pump(10, 78), air)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "on the same pump", same.Below.Median, 3*inHg, 1e-4)
	near(t, "on the same pump, lowest", same.Below.Low, 3*inHg, 1e-4)
}

func TestNeedleRefuses(t *testing.T) {
	good := pump(10, 78)
	leak := exact(1e-6, 0, 0)
	_, err := Pump{Blanked: good.Blanked}.Forecast(leak)
	refused(t, err, "free flow")
	_, err = pump(-1, 78).Forecast(leak)
	refused(t, err, "free flow")
	_, err = pump(10, 0).Forecast(leak)
	refused(t, err, "blanked")
	_, err = pump(10, 110).Forecast(leak)
	refused(t, err, "blanked")
	_, err = good.Forecast(Leak{Port: air})
	refused(t, err, "leak")
	_, err = good.Leak(unit.Exactly(-1), air)
	refused(t, err, "below")
	_, err = good.Leak(unit.Exactly(79e3), air)
	refused(t, err, "below")
	_, err = good.Translate(unit.Exactly(1e3), pump(70, 200), air)
	refused(t, err, "blanked")
}

// bent is a pump that draws evenly to half its blanked reading, and from there along
// a straight line to nothing.
type bent struct{ free, blanked float64 }

func (b bent) Blanked() float64       { return b.blanked }
func (b bent) Flow(v float64) float64 { return b.free * min(1, max(0, 2-2*v/b.blanked)) }

// A curve is gone by, not the straight line of its ends: near the blanked reading this
// one draws twice as much. A straight one is the line itself.
func TestNeedleOnACurve(t *testing.T) {
	flat := pump(10, 78)
	curved := flat
	curved.Curve = bent{10 / 6e4, 70e3} // stretched to the 78 kPa of today
	a, err := flat.Leak(unit.Exactly(2*inHg), air)
	if err != nil {
		t.Fatal(err)
	}
	b, err := curved.Leak(unit.Exactly(2*inHg), air)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "leak of the curve against the line's", b.Median/a.Median, 2, 0.02)
	f, err := curved.Forecast(exact(b.Median, 0.5, 0.5))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "and back, inHg", f.Below.Median/inHg, 2, 0.05)
}

// What can't be is said in the unit in which it was typed.
func TestNeedleBelowInItsUnit(t *testing.T) {
	for _, c := range []struct {
		below float64
		want  string
	}{
		{-1, "a needle -1 inHg below a blanked reading of 23.03 inHg can't be: give how far below it stands, 0 or more and less than that"},
		{25, "a needle 25 inHg below a blanked reading of 23.03 inHg can't be: give how far below it stands, 0 or more and less than that"},
	} {
		_, err := pump(10, 78).Leak(unit.Exactly(c.below*inHg), air)
		var in *InputError
		if !errors.As(err, &in) || in.Field != "below" {
			t.Fatalf("%g inHg: %v", c.below, err)
		}
		if got := in.In("inHg", inHg); got != c.want {
			t.Errorf("%g inHg: %q, want %q", c.below, got, c.want)
		}
	}
}

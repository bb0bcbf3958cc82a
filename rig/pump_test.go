package rig

import (
	"math"
	"testing"

	"seatproof/unit"
)

const (
	litreMin = 1e-3 / 60 // m³/s
	room     = 101325.0  // Pa
)

func mustHere(t testing.TB, p Pump, pa float64) *Curve {
	t.Helper()
	c, err := p.Here(pa)
	if err != nil {
		t.Fatalf("%+v here at %v Pa: %v", p, pa, err)
	}
	return c
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %.3g", what, got, want, tol)
	}
}

// Two numbers are a straight line, q0 (1 - v/v0). On a pump of 10 L/min and
// 78 kPa a needle that hangs 2 inHg (6.7728 kPa) below the blanked reading is a
// leak of 0.868 L/min, and one that stands at 15 of 23.03 inHg is one of
// 3.488 L/min (worked out by hand from that line; the habit is common practice,
// no source).
func TestCurveOfTwoNumbers(t *testing.T) {
	c := mustHere(t, Pump{FreeFlow: unit.Exactly(10 * litreMin), Blanked: unit.Exactly(78e3)}, room)
	const inHg = 3386.389 // NIST SP 811, conventional inch of mercury
	for _, p := range []struct{ vacuum, want, tol float64 }{
		{0, 10, 1e-12},
		{39e3, 5, 1e-12},
		{78e3 - 2*inHg, 0.868, 5e-4},
		{15 * inHg, 3.4877, 1e-4},
		{78e3, 0, 1e-12},
		{90e3, 0, 0},
		{-5e3, 10, 1e-12}, // above the room: no more than at none
	} {
		near(t, "flow [L/min] at "+unit.Significant(p.vacuum, 6)+" Pa", c.Flow(p.vacuum)/litreMin, p.want, p.tol)
	}
	near(t, "slope [L/min per kPa]", c.Slope(40e3)*1e3/litreMin, 10.0/78, 1e-12)
	near(t, "blanked", c.Blanked(), 78e3, 1e-9)
	if !c.Guessed() {
		t.Error("a line through two numbers does not say that it is a guess")
	}
}

// Points are joined by straight lines, in whatever order they are given, and
// carried on to no flow.
func TestCurveOfPoints(t *testing.T) {
	points := []PumpPoint{{40e3, 4.6 * litreMin}, {0, 10 * litreMin}, {78e3, 0}}
	c := mustHere(t, Pump{Curve: points, FreeFlow: unit.Exactly(99), Blanked: unit.Measured{}}, room)
	if c.Guessed() {
		t.Error("a curve of points calls itself a guess")
	}
	for _, p := range []struct{ vacuum, want float64 }{{0, 10}, {20e3, 7.3}, {40e3, 4.6}, {59e3, 2.3}, {78e3, 0}, {79e3, 0}} {
		near(t, "flow [L/min]", c.Flow(p.vacuum)/litreMin, p.want, 1e-9)
	}
	near(t, "slope below 40 kPa", c.Slope(10e3)/litreMin, 5.4/40e3, 1e-12)
	near(t, "slope above 40 kPa", c.Slope(60e3)/litreMin, 4.6/38e3, 1e-12)
	if points[0].Vacuum != 40e3 {
		t.Error("the caller's points were sorted")
	}
	// the last line goes on: 10 to 5 in 40 kPa, 5 to 2 in 24, none at 80
	open := mustHere(t, Pump{Curve: []PumpPoint{{0, 10 * litreMin}, {40e3, 5 * litreMin}, {64e3, 2 * litreMin}}}, room)
	near(t, "blanked, carried on", open.Blanked(), 80e3, 1e-6)
	near(t, "flow, carried on", open.Flow(72e3)/litreMin, 1, 1e-9)
	// today's blanked reading stretches the vacuum: half way stays half way
	tired := mustHere(t, Pump{Curve: points, Blanked: unit.Exactly(39e3)}, room)
	near(t, "flow of a tired pump", tired.Flow(20e3)/litreMin, 4.6, 1e-9)
	near(t, "its blanked reading", tired.Blanked(), 39e3, 1e-9)
}

// A diaphragm pump reaches a pressure ratio, so a data sheet's figure shrinks
// with the room's pressure: v0' = pa (1 - p_end/pa_rated). At 1,600 m (83,524
// Pa by the US Standard Atmosphere 1976) 78 kPa rated at sea level become
// 64.297 kPa. A reading taken here is taken as it is.
func TestRatedElsewhere(t *testing.T) {
	const high = 83524
	rated := Pump{FreeFlow: unit.Exactly(10 * litreMin), Blanked: unit.Exactly(78e3), RatedAt: unit.Exactly(101325)}
	near(t, "rated at sea level", mustHere(t, rated, high).Blanked(), 83524*(1-23325.0/101325), 1e-6)
	near(t, "the same, by hand", mustHere(t, rated, high).Blanked(), 64297, 1)
	near(t, "rated where it stands", mustHere(t, rated, 101325).Blanked(), 78e3, 1e-6)
	here := rated
	here.RatedAt = unit.Measured{}
	near(t, "read here", mustHere(t, here, high).Blanked(), 78e3, 0)
	curve := Pump{Curve: []PumpPoint{{0, 10 * litreMin}, {40e3, 4.6 * litreMin}, {78e3, 0}}, RatedAt: unit.Exactly(101325)}
	c := mustHere(t, curve, high)
	near(t, "end of a rated curve", c.Blanked(), 64297, 1)
	near(t, "flow on a rated curve", c.Flow(40e3*high/101325.0)/litreMin, 4.6, 1e-9)
}

// No pump gives a flow that is no number, below zero, or rising with the
// vacuum; what can't be one is an error.
func TestCurveIsSound(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, p := range map[string]Pump{
		"nothing":            {},
		"flow alone":         {FreeFlow: unit.Exactly(1e-4)},
		"blanked alone":      {Blanked: unit.Exactly(78e3)},
		"one point":          {Curve: []PumpPoint{{0, 1e-4}}},
		"no flow":            {FreeFlow: unit.Exactly(0), Blanked: unit.Exactly(78e3)},
		"no vacuum":          {FreeFlow: unit.Exactly(1e-4), Blanked: unit.Exactly(0)},
		"blanked not finite": {FreeFlow: unit.Exactly(1e-4), Blanked: unit.Exactly(nan)},
		"curve without flow": {Curve: []PumpPoint{{0, 0}, {78e3, 0}}},
	} {
		if c, err := p.Here(room); err == nil {
			t.Errorf("%s: got %+v, want an error", name, c)
		}
	}
	for name, p := range map[string]Pump{
		"two numbers":          {FreeFlow: unit.Exactly(1e-4), Blanked: unit.Exactly(78e3)},
		"a point twice":        {Curve: []PumpPoint{{0, 1e-4}, {40e3, 5e-5}, {40e3, 5e-5}, {78e3, 0}}},
		"a step down":          {Curve: []PumpPoint{{0, 1e-4}, {40e3, 5e-5}, {40e3, 4e-5}, {78e3, 0}}},
		"both at no vacuum":    {Curve: []PumpPoint{{0, 1e-4}, {0, 0}}},
		"a curve that rises":   {Curve: []PumpPoint{{0, 1e-4}, {40e3, 2e-4}, {78e3, 0}}},
		"flat at its end":      {Curve: []PumpPoint{{0, 1e-4}, {40e3, 5e-5}, {60e3, 5e-5}}},
		"flow not finite":      {FreeFlow: unit.Exactly(inf), Blanked: unit.Exactly(78e3)},
		"rated in a hole":      {FreeFlow: unit.Exactly(1e-4), Blanked: unit.Exactly(78e3), RatedAt: unit.Exactly(50e3)},
		"points far too close": {Curve: []PumpPoint{{0, 1e-4}, {1e-300, 5e-5}, {78e3, 0}}},
	} {
		c, err := p.Here(room)
		if err != nil {
			continue
		}
		last := inf
		for v := -1e3; v < 110e3; v += 250 {
			q, s := c.Flow(v), c.Slope(v)
			if !(q >= 0) || math.IsInf(q, 0) || !(s >= 0) || math.IsInf(s, 0) {
				t.Errorf("%s: at %v Pa got flow %v, slope %v", name, v, q, s)
				break
			}
			if name != "a curve that rises" && q > last {
				t.Errorf("%s: at %v Pa the flow rose from %v to %v", name, v, last, q)
				break
			}
			last = q
		}
	}
}

// Known tells exactly the pumps that Here takes.
func TestPumpKnown(t *testing.T) {
	two := []PumpPoint{{0, 1e-4}, {78e3, 0}}
	for _, p := range []Pump{
		{}, {FreeFlow: unit.Exactly(1e-4)}, {Blanked: unit.Exactly(78e3)}, {Curve: two[:1]},
		{FreeFlow: unit.Exactly(1e-4), Blanked: unit.Exactly(78e3)}, {Curve: two},
	} {
		if _, err := p.Here(room); p.Known() != (err == nil) {
			t.Errorf("%+v: known %v, here %v", p, p.Known(), err)
		}
	}
}

package engine

import (
	"math"
	"testing"
)

// Air of most checks, and a flow of 1 cm³/min.
const (
	room   = 101325.0
	warm   = 293.15
	perMin = 1 / 60e6
)

// made is a square cylinder of the swept volume [cm³] as the model's figures are
// stated for: ratio 9.5, closing 50°, wall 330 K, rings 0.3 mm² per litre.
func made(swept float64) Cylinder {
	b := math.Cbrt(4 * swept * 1e-6 / math.Pi)
	return Cylinder{Bore: b, Stroke: b, Rod: 1.75 * b, Ratio: 9.5, IntakeCloses: 50 * degree, ExhaustOpens: 50 * degree, Rings: 0.3e-9 * swept, Wall: 330}
}

func cranked(rpm float64) Run {
	return Run{Speed: rpm * perMinute, Intake: room, Room: room, Temp: warm}
}

func idling() Run {
	r := cranked(850)
	r.Intake, r.Burn = 35e3, &DefaultBurn
	return r
}

func tested(flow, share, edge float64) Leak {
	return Leak{Flow: flow * perMin, Share: share, Edge: edge, Room: room, Temp: warm}
}

func solved(t testing.TB, c Cylinder, r Run, leaks ...Leak) Cycle {
	t.Helper()
	y, err := c.Cycle(r, leaks...)
	if err != nil {
		t.Fatalf("%+v %+v %+v: %v", c, r, leaks, err)
	}
	return y
}

// near fails where got is not within tol of want, absolute.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g (off by %.2g, allowed %.2g)", what, got, want, got-want, tol)
	}
}

// close fails where got is not within rel of want, relative.
func close(t testing.TB, what string, got, want, rel float64) {
	t.Helper()
	near(t, what, got, want, rel*math.Abs(want))
}

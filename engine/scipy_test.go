package engine

import (
	_ "embed"
	"encoding/json"
	"testing"
)

//go:embed testdata/cycles.json
var cyclesJSON []byte

// cycleCase is one cycle of testdata/cycles.py.
type cycleCase struct {
	Name                                    string
	Bore, Stroke, Rod, Ratio, Closes, Opens float64
	Rings, Twall, Seat, Contact             float64
	Heat                                    string
	Rpm, Intake, Room, Temp, Energy         float64
	Burn                                    []float64
	Leaks                                   []struct {
		Flow, Share, Edge, Room, Temp float64
		Intake                        bool
	}
	Result struct{ Peak, PeakAt, Trapped, Work, Wall, End float64 }
}

func (k cycleCase) made() (Cylinder, Run, []Leak) {
	c := Cylinder{Bore: k.Bore, Stroke: k.Stroke, Rod: k.Rod, Ratio: k.Ratio, IntakeCloses: k.Closes * degree, ExhaustOpens: k.Opens * degree, Rings: k.Rings, Wall: k.Twall, SeatWidth: k.Seat, Contact: k.Contact}
	if k.Heat == "woschni" {
		c.Heat = Woschni
	}
	r := Run{Speed: k.Rpm * perMinute, Intake: k.Intake, Room: k.Room, Temp: k.Temp}
	if k.Burn != nil {
		r.Burn = &Burn{Start: k.Burn[0] * degree, End: k.Burn[1] * degree, A: 5, M: 2, Energy: k.Energy}
	}
	var leaks []Leak
	for _, l := range k.Leaks {
		leaks = append(leaks, Leak{Flow: l.Flow, Share: l.Share, Edge: l.Edge, Room: l.Room, Temp: l.Temp, Intake: l.Intake})
	}
	return c, r, leaks
}

func scipyCases(t testing.TB) []cycleCase {
	var cases []cycleCase
	if err := json.Unmarshal(cyclesJSON, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 15 {
		t.Fatalf("%d cases in testdata/cycles.json", len(cases))
	}
	return cases
}

// The same cycles by SciPy's DOP853 at 1e-12, written from the formulas in other
// unknowns (mass and temperature, by time): testdata/cycles.py.
func TestAgainstSciPy(t *testing.T) {
	for _, k := range scipyCases(t) {
		t.Run(k.Name, func(t *testing.T) {
			c, r, leaks := k.made()
			y := solved(t, c, r, leaks...)
			w := k.Result
			close(t, "peak", y.Peak, w.Peak, 1e-8)
			close(t, "trapped mass", y.Trapped, w.Trapped, 1e-8)
			close(t, "mass at exhaust opening", y.End, w.End, 1e-7)
			near(t, "peak's angle", y.PeakAt, w.PeakAt, 1e-5)
			unit := k.Intake * c.Swept()
			near(t, "work over pressure times swept volume", y.Work/unit, w.Work/unit, 1e-7)
			near(t, "heat to the wall, the same", y.Wall/unit, w.Wall/unit, 1e-7)
			// and tightened: nothing but the tolerance stands between them
			y, err := c.solve(r, leaks, 1e-13, true)
			if err != nil {
				t.Fatal(err)
			}
			close(t, "peak, tightened", y.Peak, w.Peak, 1e-9)
			close(t, "trapped mass, tightened", y.Trapped, w.Trapped, 1e-9)
		})
	}
}

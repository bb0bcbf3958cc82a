package web

import (
	"math"
	"testing"
	"time"

	"seatproof/check"
	"seatproof/crosscheck"
	"seatproof/head"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// The habit of 2 inHg, the needle's forecast and the drop limit speak of one pump: as
// its checks found it today, by its curve where it has one, in its room.
func TestOnePump(t *testing.T) {
	const inHg = 3386.388640341
	now := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	const pa = 84e3 // 1,600 m
	room := rig.Air{Pressure: unit.Exactly(pa)}
	points := []rig.PumpPoint{{Vacuum: 0, Flow: 12 / 6e4}, {Vacuum: 30e3, Flow: 9 / 6e4}, {Vacuum: 60e3, Flow: 5 / 6e4}, {Vacuum: 78e3, Flow: 0}}
	today := []check.Result{{Kind: check.KindBlanked, At: now.Add(-time.Hour), Dim: unit.PressureDim, Verdict: check.Found, Value: unit.About(55e3, 1e3)}}
	for _, c := range []struct {
		name    string
		pump    rig.Pump
		checks  []check.Result
		blanked float64
	}{
		{"two numbers as read", rig.Pump{FreeFlow: unit.Exactly(10 / 6e4), Blanked: unit.Exactly(62e3)}, nil, 62e3},
		{"rated at sea level", rig.Pump{FreeFlow: unit.Exactly(10 / 6e4), Blanked: unit.About(78e3, 2e3), RatedAt: unit.Exactly(101.325e3)}, nil, 78e3 * pa / 101.325e3},
		{"read otherwise today", rig.Pump{FreeFlow: unit.Exactly(10 / 6e4), Blanked: unit.Exactly(62e3)}, today, 55e3},
		{"a curve alone", rig.Pump{Curve: points}, nil, 78e3},
		{"a curve, and a blanked reading of today", rig.Pump{Curve: points}, today, 55e3},
	} {
		s := &Server{Config: Config{ReadRig: func(string) (rig.Rig, []RigFault) { return rig.Rig{Pump: c.pump, Air: room}, nil }}}
		b := bench{job: head.Job{RigID: "r"}, rigs: map[string]string{"r": ""}, checks: map[string][]check.Result{"r": c.checks}, now: now}
		p, curve := s.rigPump(b), s.pumpOf(b)
		if p == nil || curve == nil {
			t.Errorf("%s: no pump", c.name)
			continue
		}
		if math.Abs(p.Blanked.Value-c.blanked) > 1 {
			t.Errorf("%s: blanked reading %.4g, want %.4g", c.name, p.Blanked.Value, c.blanked)
		}
		air := crosscheck.Port{Room: pa, Temp: 293.15}
		opening, seep, err := limit.OfDrop(2*inHg, curve, pa, 293.15)
		if err != nil {
			t.Fatal(err)
		}
		says, err := p.Leak(unit.Exactly(2*inHg), air)
		if err != nil {
			t.Fatal(err)
		}
		if low, high := min(opening, seep), max(opening, seep); says.Median < 0.98*low || says.Median > 1.02*high || says.Low > 1.01*low || says.High < 0.99*high {
			t.Errorf("%s: the habit lets %.4g cm³/min pass (%.4g to %.4g), the limit of that drop is %.4g or %.4g", c.name, says.Median*6e7, says.Low*6e7, says.High*6e7, opening*6e7, seep*6e7)
		}
		f, err := p.Forecast(crosscheck.Leak{Port: air, Draws: []crosscheck.Draw{{Flow: opening, Share: 1}}})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Below.Median/inHg-2) > 0.03 {
			t.Errorf("%s: a leak of that limit stands %.3g inHg below, want 2", c.name, f.Below.Median/inHg)
		}
	}
	// a measured curve is surer than the line through two numbers
	s := &Server{Config: Config{ReadRig: func(string) (rig.Rig, []RigFault) { return rig.Rig{Pump: rig.Pump{Curve: points}, Air: room}, nil }}}
	if p := s.rigPump(bench{job: head.Job{RigID: "r"}, now: now}); p == nil || !p.Exact {
		t.Errorf("a curve of points has the doubt of a straight line: %+v", p)
	}
}

package check

import (
	"math"
	"testing"

	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// TestCardLimits: the wall card of a small engine stands on what it can spare, of a
// leak taken as a seep, and the doubt of that makes its figures the safer; of a
// large engine on workmanship, whatever is said of the engine; what is typed goes
// before both.
func TestCardLimits(t *testing.T) {
	job := func(bore float64, spread float64) CardJob {
		j := CardJob{Rig: rig.Rig{
			Volume: unit.About(40e-6, 2e-6), RigLeak: unit.About(0.3*perMin, 0.1*perMin), Pump: rig.Pump{FreeFlow: unit.Exactly(10e-3 / 60), Blanked: unit.About(78e3, 0.5e3)},
			Gauge: rig.Gauge{Kind: rig.GaugeDigital, Unit: "kPa", Resolution: 100, Accuracy: unit.Exactly(0.005), Span: rig.Span{High: 100e3, Known: true}},
			Air:   rig.Air{Pressure: unit.About(100.6e3, 0.2e3), Temperature: unit.Exactly(293.15)},
		}, Ports: []CardPort{
			{Name: "Intake port", Volume: unit.About(30e-6, 3e-6), Valves: []float64{19e-3}},
			{Name: "Exhaust port", Volume: unit.About(25e-6, 3e-6), Valves: []float64{17e-3}},
		}}
		j.Engine.Bore, j.Engine.Stroke, j.Engine.Ratio = unit.Exactly(bore), unit.Exactly(bore), unit.About(9.5, spread)
		return j
	}
	small, err := MakeCard(job(33e-3, 0.1))
	if err != nil {
		t.Fatal(err)
	}
	by, _ := small.Ports[0].Rules.Decides(0)
	if by.Kind != limit.ByCost || len(small.Ports[0].Rules) != 2 || math.Abs(small.Ports[0].One/by.Seep-1) > 1e-9 {
		t.Errorf("a small engine's port: %.3g by %+v", small.Ports[0].One*6e7, by)
	}
	if sum := small.Ports[0].One + small.Ports[1].One; math.Abs(sum/by.All-1) > 1e-9 {
		t.Errorf("the valves' parts make %.3g of %.3g", sum*6e7, by.All*6e7)
	}
	if len(small.Guesses) == 0 {
		t.Error("nothing of the engine is named as guessed")
	}
	large, err := MakeCard(job(86e-3, 0.1))
	if err != nil {
		t.Fatal(err)
	}
	none := job(86e-3, 0.1)
	none.Engine = Engine{}
	bare, err := MakeCard(none)
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range large.Ports {
		if by, _ := l.Rules.Decides(0); by.Kind != limit.ByWorkmanship || l.One != bare.Ports[i].One || *l.Holds[0].Lose != *bare.Ports[i].Holds[0].Lose {
			t.Errorf("a large engine's %s: %.3g by %q, without an engine %.3g", l.Name, l.One*6e7, by.Kind, bare.Ports[i].One*6e7)
		}
	}
	if a, b := small.Ports[0].Holds[0].Lose, bare.Ports[0].Holds[0].Lose; a == nil || b == nil || *a >= *b {
		t.Errorf("a small engine's port may lose %v, by workmanship alone %v", a, b)
	}
	typed := job(33e-3, 0.1)
	typed.Ports[0].Typed = limit.Plain(limit.ByMaker, 40e-6/60, 0)
	own, err := MakeCard(typed)
	if err != nil {
		t.Fatal(err)
	}
	if l := own.Ports[0]; l.One != 40e-6/60 || l.Rules[0].Kind != limit.ByMaker {
		t.Errorf("a maker's figure became %.3g by %+v", l.One*6e7, l.Rules)
	}
	bad := job(33e-3, 0.1)
	bad.Engine.Rod = unit.Exactly(10e-3)
	if _, err := MakeCard(bad); err == nil {
		t.Error("a rod shorter than the throw is taken")
	}
}

// TestCardDoubtOfCost: the less is known of the engine, the less a port may lose.
func TestCardDoubtOfCost(t *testing.T) {
	l := CardLine{One: 10, All: 20}
	over := func(limit float64) float64 { return 1 / (1 + math.Pow(limit/8, 6)) }
	v := limit.Valve{{Kind: limit.ByCost, Opening: 10, Seep: 10, SeepSD: 0.3, OpeningSD: 0.3}}
	l.steps, _ = v.Factors(0)
	one, all := l.overLimits(over)
	if !(one > 1.05*over(10)) || !(all > over(20)) {
		t.Errorf("chances %.4f and %.4f with doubt, %.4f and %.4f without", one, all, over(10), over(20))
	}
	l.steps, _ = limit.Valve{limit.Plain(limit.ByWorkmanship, 10, 0)}.Factors(0)
	if one, all := l.overLimits(over); one != over(10) || all != over(20) {
		t.Errorf("chances %g and %g of limits without doubt", one, all)
	}
}

package practise

import (
	"math"
	"testing"
	"time"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// blankHeld is a hold of 60 s on the blank.
func blankHeld(t *testing.T, runs bool, faults ...Fault) *trace.Trace {
	t.Helper()
	b, err := New(Setup{Seed: 4, Rate: 20, Faults: faults, RunsOn: runs})
	if err != nil {
		t.Fatal(err)
	}
	tr, _ := record(t, b, 0, Blank, 60)
	return tr
}

// A shut-off valve that passes shows with the pump stopped and not with it running on,
// and the rig's check finds what it passes; of a sound one it finds none.
func TestValvePassesIsFound(t *testing.T) {
	on := check.OnBlank(Stated())
	read := func(tr *trace.Trace) leak.Interval {
		t.Helper()
		i, err := check.AnswerOf("blank", leak.Read(tr, on, leak.Options{}))
		if err != nil {
			t.Fatal(err)
		}
		return i
	}
	for _, c := range []struct {
		name   string
		faults []Fault
		want   float64 // cm³/min
		is     check.Verdict
	}{
		{"passes 10 cm³/min", []Fault{{Name: ValvePasses, Strength: 10 * cm3min}}, 10, check.Failed},
		{"passes 3 cm³/min", []Fault{{Name: ValvePasses, Strength: 3 * cm3min}}, 3, check.Failed},
		{"sound", nil, 0, check.Passed},
	} {
		stopped, running := read(blankHeld(t, false, c.faults...)), read(blankHeld(t, true, c.faults...))
		r, err := check.ShutOffSeep(time.Time{}, stopped, running, 23*cm3min)
		if err != nil {
			t.Fatal(c.name, err)
		}
		if r.Verdict != c.is {
			t.Errorf("%s: %s, want %s: %v", c.name, r.Verdict, c.is, r.Evidence)
		}
		if got, half := r.Value.Value/cm3min, r.Value.Spread/cm3min; math.Abs(got-c.want) > half || half > 1+0.2*c.want {
			t.Errorf("%s: found %.3g ± %.2g cm³/min", c.name, got, half)
		}
	}
}

// A narrow hose is found by the gauge at both ends, on a known leak with the pump on:
// the bore found is the one that was put in, and it fails against the one stated. A hold
// is the same at both ends. The pipe itself is checked against textbooks in package gas.
func TestNarrowHoseIsFound(t *testing.T) {
	const flow = 6000 * cm3min
	for _, bore := range []float64{1.5e-3, 2e-3, 2.5e-3} {
		var steady, later [2]float64
		for i, faults := range [][]Fault{{{Name: NarrowHose, Strength: bore}}, {{Name: NarrowHose, Strength: bore}, {Name: GaugeAtPump, Strength: 1}}} {
			b, err := New(Setup{Seed: 5, Faults: faults})
			if err != nil {
				t.Fatal(err)
			}
			if err := b.Put(0, KnownOf(flow)); err != nil {
				t.Fatal(err)
			}
			for at := range 40 { // the zero, as vented
				steady[i] -= b.Shown(float64(at)*0.05) / 40
			}
			if err := b.Pump(2); err != nil {
				t.Fatal(err)
			}
			for at := range 40 {
				steady[i] += b.Shown(8+float64(at)*0.05) / 40
			}
			if err := b.ShutOff(10); err != nil {
				t.Fatal(err)
			}
			b.Shown(10.2)
			later[i] = b.Vacuum()
		}
		if math.Abs(later[0]-later[1]) > 0.02*later[0] {
			t.Errorf("%g mm: in the hold %.0f and %.0f Pa at its ends", bore*1e3, later[0], later[1])
		}
		r := Stated()
		r.Hose = rig.Hose{Bore: unit.Exactly(4e-3), Length: unit.Exactly(HoseLength)}
		o, err := gas.OpeningFor(flow, gas.StatedVacuum, air, airTemp, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		q, err := gas.FreeAirAt(o, steady[0], air, airTemp)
		if err != nil {
			t.Fatal(err)
		}
		found, err := check.HoseLoss(time.Time{}, check.HoseEnds{AtPump: unit.Exactly(steady[1]), AtPort: unit.Exactly(steady[0]), Flow: unit.About(q, 0.05*q)}, r)
		if err != nil {
			t.Fatalf("%g mm: %v", bore*1e3, err)
		}
		if found.Verdict != check.Failed {
			t.Errorf("%g mm where 4 are stated: %s", bore*1e3, found.Verdict)
		}
		if d := found.Value; math.Abs(d.Value-bore) > d.Spread || d.Spread > 0.1*bore {
			t.Errorf("%g mm: found %.3g ± %.2g mm, from %.0f Pa at the pump and %.0f at the port", bore*1e3, d.Value*1e3, d.Spread*1e3, steady[1], steady[0])
		}
	}
	if _, err := New(Setup{Faults: []Fault{{Name: NarrowHose, Strength: 2e-3}}}); err != nil {
		t.Error(err)
	}
}

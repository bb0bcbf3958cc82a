package head

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// Whatever was tested, in whatever order and with whatever conditions, of whatever
// valves: metal is advised only when a test says each of dry and clean, plate,
// turned and guide, since the last work; lapping never of a valve that is coated,
// nitrided, titanium or hollow or of which nothing is said, nor of a wide band;
// and an advice has its grounds, a step that only looks is no advice.
func TestAdviceWhateverWasTested(t *testing.T) {
	metal := []string{"lap", "cut", "true the seat", "replace"}
	rapid.Check(t, func(rt *rapid.T) {
		b := newBook(t)
		p := b.port(2, Intake)
		if rapid.Bool().Draw(rt, "one valve") {
			p.Valves = p.Valves[:1]
		}
		coats := []Coating{CoatingNotSaid, CoatingNone, CoatingHard, CoatingNitrided, CoatingTitanium, CoatingHollow}
		widths := []unit.Measured{{}, unit.Exactly(1.2e-3), unit.Exactly(2.4e-3)}
		for _, id := range p.Valves {
			v := b.Job.valve(id)
			v.Coating = rapid.SampledFrom(coats).Draw(rt, "coat")
			v.Contact = rapid.SampledFrom(widths).Draw(rt, "contact")
		}
		type tried struct{ clean, placed, turned, guide bool }
		var did tried
		tests, state := 0, StateNotSaid
		for at := range int64(rapid.IntRange(1, 7).Draw(rt, "steps")) {
			if tests > 0 && rapid.IntRange(0, 7).Draw(rt, "work") == 0 {
				b.work(at+1, WorkCut, p.Valves...)
				did, tests, state = tried{}, 0, StateCut
				continue
			}
			c := asItRuns
			c.Wet = rapid.SampledFrom([]rig.Liquid{rig.WetNothing, rig.WetNothing, rig.WetNotSaid}).Draw(rt, "wet")
			c.Guide = rapid.SampledFrom([]Guide{GuideOpen, GuideClosed, GuideNotSaid}).Draw(rt, "guide")
			c.State = state
			if state == StateNotSaid {
				c.State = rapid.SampledFrom([]State{StateAsFound, StateNotSaid}).Draw(rt, "state")
			}
			c.Placed, c.Turned = rapid.Bool().Draw(rt, "placed"), rapid.Bool().Draw(rt, "turned")
			if rapid.IntRange(0, 3).Draw(rt, "masks") == 0 {
				c.Masked = p.Valves[:rapid.IntRange(0, len(p.Valves)).Draw(rt, "masked")]
			}
			q := rapid.SampledFrom([]float64{3, 40, 150, 300}).Draw(rt, "leak")
			b.test(at+1, p, reading(q, 0.05), func(x *Conditions) { *x = c })
			did.clean = did.clean || c.Wet == rig.WetNothing && state == StateCut
			did.guide = did.guide || c.Guide == GuideClosed
			if tests > 0 {
				did.placed, did.turned = did.placed || c.Placed, did.turned || c.Turned
			}
			tests++
			if c.State == StateAsFound && state == StateNotSaid {
				state = StateAsFound
			}
		}
		got := b.card().of(p)
		do := got.Next.Do
		touches := ""
		for _, m := range metal {
			if strings.Contains(do, m) {
				touches = m
			}
		}
		if touches != "" && do != "test again, its seats were cut" && do != "test again, its seat was cut" {
			if did != (tried{true, true, true, true}) {
				rt.Fatalf("%q with %+v", do, did)
			}
			if got.Advice == nil || got.Advice.Kind != AdviceMend {
				rt.Fatalf("%q is no advice: %+v", do, got.Advice)
			}
		}
		if a := got.Advice; a != nil && a.Kind == AdviceMend {
			for _, g := range a.Grounds {
				if len(g.Tests) == 0 {
					rt.Fatalf("%q without the ground %q", do, g.Words)
				}
			}
		}
		if strings.Contains(do, "lap") {
			card := b.card()
			for _, id := range p.Valves {
				v := b.Job.valve(id)
				if card.valve(id).Standing == Leaks && (v.Coating != CoatingNone || v.Contact.Value > wideBand) {
					rt.Fatalf("%q: %s, %v", do, v.Coating, v.Contact)
				}
			}
		}
		if math.IsNaN(got.OneLimit) {
			rt.Fatal("no limit")
		}
	})
}

// Where every seat is masked and it still leaks, no valve is blamed and nothing is
// cut.
func TestRestLeaks(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	for i, masked := range [][]string{{}, {}, p.Valves[:1], p.Valves[1:], p.Valves} {
		b.test(int64(i), p, reading(140, 0.05), func(c *Conditions) {
			c.Masked, c.Placed, c.Turned = masked, i > 0, i > 0
		})
	}
	b.test(9, p, reading(140, 0.05), func(c *Conditions) { c.Guide = GuideClosed })
	card := b.card()
	got := card.of(p)
	if got.Standing != Leaks || !strings.HasPrefix(got.Next.Do, "look for what is left: guide, insert, crack, plate or another opening") {
		t.Errorf("%s: %q", got.Standing, got.Next.Do)
	}
	if got.Apart == nil || got.Apart.Rest == nil || limit.Judge(got.Apart.Rest.Over, false) != limit.Leaks {
		t.Fatalf("apart: %v", got.Apart == nil)
	}
	for _, v := range got.Apart.Valves {
		if s := card.valve(v.ID).Standing; s == Leaks {
			t.Errorf("%s: %s", v.ID, s)
		}
	}
	if g := got.Apart.Guides; g == nil || g.Over > 0.5 {
		t.Errorf("guides %+v", g)
	}
}

// A test with the guides closed off beside one with them open gives the guides'
// own leak.
func TestGuideMeasured(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Exhaust)
	for i := range 3 {
		b.test(int64(i), p, reading(140, 0.03))
		b.test(int64(10+i), p, reading(12, 0.03), func(c *Conditions) { c.Guide = GuideClosed })
	}
	a := b.card().of(p).Apart
	if a == nil || a.Guides == nil {
		t.Fatal("no leak of the guides")
	}
	if q := a.Guides.Leak; q.Low*6e7 > 128 || q.High*6e7 < 128 || q.Low*6e7 < 60 || q.High*6e7 > 260 {
		t.Errorf("guides %.3g (%.3g to %.3g) cm³/min, want about 128", q.Median*6e7, q.Low*6e7, q.High*6e7)
	}
}

package head

import (
	"slices"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

// The list of a head as the design board has it: what leaks, what can't be told,
// what lapsed, what was not tested; the rig before all if it was not checked
// today.
func TestTodoInOrder(t *testing.T) {
	b := newBook(t)
	b.Today = 1
	b.test(1, b.port(1, Exhaust), reading(6, 0.05))
	b.test(2, b.port(1, Intake), reading(7, 0.05))
	b.test(3, b.port(2, Exhaust), reading(140, 0.05), func(c *Conditions) { c.State = StateAsFound })
	b.test(4, b.port(2, Intake), reading(28, 0.05))
	b.test(5, b.port(3, Exhaust), reading(150, 0.05))
	b.work(6, WorkCut, b.port(3, Exhaust).Valves...)
	card := b.card()
	want := []struct {
		kind     TodoKind
		head, do string
	}{
		{TodoCheck, "Check the rig first.", "A blank must hold, a known leak must be called leaking."},
		{TodoLeaks, "Cylinder 2 exhaust leaks.", "Dry and clean both seats, then test."},
		{TodoCant, "Cylinder 2 intake:", "Mask the left valve, then test again."},
		{TodoLapsed, "Cylinder 3 exhaust:", "Test again, its seats were cut."},
		{TodoTest, "Cylinder 3 intake:", "Plug the injector hole, then test."},
	}
	if len(card.Next) != len(want) {
		t.Fatalf("%+v", card.Next)
	}
	for i, w := range want {
		if g := card.Next[i]; g.Kind != w.kind || g.Head != w.head || g.Do != w.do {
			t.Errorf("%d: %s %q %q, want %s %q %q", i, g.Kind, g.Head, g.Do, w.kind, w.head, w.do)
		}
	}
	if g := card.Next[2]; !slices.Equal(g.Valves, b.port(2, Intake).Valves[:1]) {
		t.Errorf("masks %v", g.Valves)
	}
	if card.Next[3].At != 6*60000 {
		t.Errorf("work at %d", card.Next[3].At)
	}
	// a check today takes the first away; one of another rig, or of yesterday, does not
	b.Job.RigID, b.Today = "r1", 60000
	for _, c := range []struct {
		check Check
		first TodoKind
	}{
		{Check{RigID: "r1", At: 90000}, TodoLeaks},
		{Check{RigID: "r2", At: 90000}, TodoCheck},
		{Check{RigID: "r1", At: 59999}, TodoCheck},
	} {
		b.Checks = []Check{c.check}
		if k := b.card().Next[0].Kind; k != c.first {
			t.Errorf("check %+v: first %s", c.check, k)
		}
	}
	b.Checks, b.Today = nil, 0
	if k := b.card().Next[0].Kind; k != TodoLeaks {
		t.Errorf("no day given: first %s", k)
	}
}

// Nothing is advised about metal before dry and clean, plate, turn, guide and
// mask were each tried since the last work (physics.md §9).
func TestMetalComesLast(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	at := int64(0)
	made := func(change func(c *Conditions)) {
		at++
		q := 140.0
		c := Conditions{}
		if change(&c); slices.Equal(c.Masked, p.Valves[1:]) {
			q = 4 // the right valve was it
		}
		b.test(at, p, reading(q, 0.05), change)
	}
	steps := []struct {
		want string
		done func(c *Conditions)
	}{
		{"dry and clean both seats", func(*Conditions) {}},
		{"put the plate down again", func(c *Conditions) { c.Placed = true }},
		{"turn the valves and drop them", func(c *Conditions) { c.Turned = true }},
		{"close the guides off", func(c *Conditions) { c.Guide = GuideClosed }},
		{"mask the left valve", func(c *Conditions) { c.Masked = p.Valves[:1] }},
		{"mask the right valve", func(c *Conditions) { c.Masked = p.Valves[1:] }}, // else it is not told from what comes by no seat
		{"true the seat of the right valve, log it", nil},
	}
	made(func(c *Conditions) { c.State = StateAsFound })
	for _, s := range steps {
		got := b.card().of(p)
		if got.Standing != Leaks || !strings.HasPrefix(got.Next.Do, s.want) {
			t.Fatalf("%s: next %q, want %q", got.Standing, got.Next.Do, s.want)
		}
		if s.done != nil {
			made(s.done)
		}
	}
	// work begins it all again
	at++
	b.work(at, WorkCut, p.Valves...)
	made(func(c *Conditions) { c.State = StateCut })
	if got := b.card().of(p).Next.Do; !strings.HasPrefix(got, "put the plate down again") {
		t.Errorf("after work: %q", got)
	}
}

// A port that holds with its guide closed off has a guide that leaks.
func TestGuideLeaks(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Exhaust)
	b.test(1, p, reading(140, 0.05))
	b.test(2, p, reading(140, 0.05), func(c *Conditions) { c.Placed, c.Turned = true, true })
	b.test(3, p, reading(4, 0.05), func(c *Conditions) { c.Guide = GuideClosed })
	if got := b.card().of(p); got.Standing != Leaks || !strings.HasPrefix(got.Next.Do, "see to the guides") {
		t.Errorf("%s: %q", got.Standing, got.Next.Do)
	}
}

// Lapping is never suggested for a valve that does not bear it, nor for a wide
// band (physics.md §9).
func TestLapping(t *testing.T) {
	for _, c := range []struct {
		coating Coating
		contact float64
		want    string
		laps    bool
	}{
		{CoatingNone, 1.2e-3, "lap the seat lightly, or cut it, log it, then test", true},
		{CoatingNone, 2.4e-3, "narrow the band with top and throat cuts, log it, then test", false},
		{CoatingNotSaid, 1.2e-3, "true the seat, log it, then test", false},
		{CoatingHard, 1.2e-3, "true the seat, or replace the valve, log it, then test", false},
		{CoatingNitrided, 1.2e-3, "true the seat, or replace the valve, log it, then test", false},
		{CoatingTitanium, 1.2e-3, "true the seat, or replace the valve, log it, then test", false},
		{CoatingHollow, 1.2e-3, "true the seat, or replace the valve, log it, then test", false},
	} {
		j, f := Layout(Scheme{Cylinders: 1, Valves: 2, Bore: unit.Exactly(80e-3)})
		if len(f) > 0 {
			t.Fatal(f)
		}
		j.ID = "j1"
		b := &book{Records{Job: j}}
		p := b.port(1, Intake)
		v := b.Job.valve(p.Valves[0])
		v.Coating, v.Contact = c.coating, unit.Exactly(c.contact)
		b.test(1, p, reading(300, 0.05))
		b.test(2, p, reading(300, 0.05), func(c *Conditions) { c.Placed, c.Turned = true, true })
		b.test(3, p, reading(300, 0.05), func(c *Conditions) { c.Guide = GuideClosed })
		got := b.card().of(p).Next
		if got.Do != c.want {
			t.Errorf("%s, %v mm: %q, want %q", c.coating, c.contact*1e3, got.Do, c.want)
		}
		if laps := strings.Contains(got.Do, "lap"); laps != c.laps {
			t.Errorf("%s: %q", c.coating, got.Do)
		}
	}
}

// A head that holds and was not tested as it will run has one more thing to do
// for each port; one that was has nothing.
func TestNothingLeftToDo(t *testing.T) {
	b := newBook(t)
	b.Today = 1
	for i := range b.Job.Ports {
		b.test(int64(i), &b.Job.Ports[i], reading(4+0.1*float64(i), 0.05), func(c *Conditions) {
			if i == 0 {
				c.Held = rig.HeldThumb
			}
		})
	}
	card := b.card()
	if len(card.Next) != 2 || card.Next[1].Kind != TodoSignOff || !strings.Contains(card.Next[1].Reason, "held by a thumb") {
		t.Errorf("%+v", card.Next)
	}
	b.test(9, &b.Job.Ports[0], reading(4, 0.05))
	if card = b.card(); len(card.Next) != 0 || card.SignOff != 6 {
		t.Errorf("%d count, %+v", card.SignOff, card.Next)
	}
}

// The worst of several that leak comes first: leak over its limit.
func TestWorstFirst(t *testing.T) {
	b := newBook(t)
	for i, q := range []float64{150, 0, 400, 0, 200, 0} {
		if q > 0 {
			b.test(int64(i), &b.Job.Ports[i], reading(q, 0.05))
		}
	}
	var got []string
	for _, n := range b.card().Next[:3] {
		got = append(got, n.Port)
	}
	if !slices.Equal(got, []string{"p3", "p5", "p1"}) {
		t.Errorf("%v", got)
	}
	for i, want := range []int{3, 0, 1, 0, 2, 0} {
		if p := b.card().Ports[i]; p.Rank != want {
			t.Errorf("%s: place %d, want %d", p.Name, p.Rank, want)
		}
	}
}

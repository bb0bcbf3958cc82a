package head

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// Work on a valve of the port lapses its verdict, and keeps the old figure; work
// on another port, or before the test, does not.
func TestLapse(t *testing.T) {
	for _, c := range []struct {
		name   string
		work   func(b *book, p *Port)
		lapses bool
	}{
		{"no work", func(*book, *Port) {}, false},
		{"on a valve of it", func(b *book, p *Port) { b.work(20, WorkCut, p.Valves[1]) }, true},
		{"on all of the head", func(b *book, _ *Port) { b.work(20, WorkCleaned) }, true},
		{"on another port", func(b *book, _ *Port) { b.work(20, WorkCut, b.port(2, Exhaust).Valves...) }, false},
		{"before the test", func(b *book, p *Port) { b.work(9, WorkCut, p.Valves...) }, false},
		{"at the same time", func(b *book, p *Port) { b.work(10, WorkLapped, p.Valves...) }, true},
		{"on another head", func(b *book, p *Port) { b.work(20, WorkCut, p.Valves...); b.Work[0].JobID = "j2" }, false},
		{"any kind", func(b *book, p *Port) { b.work(20, WorkOther, p.Valves[0]) }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBook(t)
			p := b.port(2, Intake)
			id := b.test(10, p, reading(140, 0.05))
			c.work(b, p)
			card := b.card()
			got := card.of(p)
			if (got.Standing == Lapsed) != c.lapses {
				t.Fatalf("%s", got.Standing)
			}
			if !c.lapses {
				return
			}
			if got.Leak != nil || got.Old == nil || math.Abs(got.Old.Leak.Median/cm3min-140) > 1e-9 || got.Old.Standing != Leaks {
				t.Errorf("old figure %+v beside %+v", got.Old, got.Leak)
			}
			if got.Old.Work != "w1" || len(got.Aside) != 1 || got.Aside[0].Test != id || !got.Aside[0].Lapsed {
				t.Errorf("%+v, %+v", got.Old, got.Aside)
			}
			if v := card.valve(p.Valves[0]); v.Standing != Lapsed {
				t.Errorf("valve %s", v.Standing)
			}
			if got.OneLimit == 0 {
				t.Error("no limit to test against")
			}
			// tested again it has a verdict, and still the old figure
			b.test(30, p, reading(6, 0.05))
			got = b.card().of(p)
			if got.Standing != Holds || got.Old == nil || len(got.Counted) != 1 {
				t.Errorf("tested again: %s, %+v", got.Standing, got.Old)
			}
		})
	}
}

// A test that says another state than the one before it shows work that nobody
// logged.
func TestStateSaysWork(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	first := b.test(1, p, reading(150, 0.05), func(c *Conditions) { c.State = StateAsFound })
	b.test(2, p, reading(148, 0.05), func(c *Conditions) { c.State = StateNotSaid })
	second := b.test(3, p, reading(7, 0.05), func(c *Conditions) { c.State = StateCut })
	got := b.card().of(p)
	if got.Standing != Holds || !slices.Equal(got.Counted, []string{second}) {
		t.Errorf("%s, counted %v", got.Standing, got.Counted)
	}
	if got.Old == nil || got.Old.Standing != Leaks || got.Old.Why != "worked on since: said to be cut now" {
		t.Errorf("old %+v", got.Old)
	}
	if i := slices.IndexFunc(got.Aside, func(a Aside) bool { return a.Test == first }); i < 0 || !got.Aside[i].Lapsed {
		t.Errorf("aside %+v", got.Aside)
	}
}

// The sign-off counts only tests made clean, dry and as they will run, and says
// what keeps one out.
func TestSignOff(t *testing.T) {
	for _, c := range []struct {
		change func(c *Conditions)
		why    string
	}{
		{func(*Conditions) {}, ""},
		{func(c *Conditions) { c.State = StateAssembled }, ""},
		{func(c *Conditions) { c.State = StateCut }, ""},
		{func(c *Conditions) { c.Held = rig.HeldNothing }, "valves held by the vacuum alone"},
		{func(c *Conditions) { c.Held = rig.HeldNotSaid }, "not said how the valves were held"},
		{func(c *Conditions) { c.Held = rig.HeldLightSpring }, "valves held by a light spring"},
		{func(c *Conditions) { c.Wet = rig.WetNotSaid }, "not said whether the seats were dry"},
		{func(c *Conditions) { c.Wet = rig.WetWhiteSpirit }, "seats wet with white spirit"},
		{func(c *Conditions) { c.Guide = GuideClosed }, "guide closed off"},
		{func(c *Conditions) { c.Guide = GuideNotSaid }, "not said whether the guide was open"},
		{func(c *Conditions) { c.Plugged = No }, "other openings not plugged"},
		{func(c *Conditions) { c.Plugged = NotSaid }, "not said whether other openings were plugged"},
		{func(c *Conditions) { c.State = StateAsFound }, "as found, not cleaned"},
		{func(c *Conditions) { c.State = StateNotSaid }, "not said whether it was clean"},
	} {
		b := newBook(t)
		p := b.port(1, Intake)
		b.test(1, p, reading(5, 0.05), c.change)
		card := b.card()
		got := card.of(p)
		if got.SignOff != (c.why == "") || c.why != "" && !slices.Equal(got.Off, []string{c.why}) {
			t.Errorf("%q: counts %v, %v", c.why, got.SignOff, got.Off)
		}
		if want := map[bool]int{true: 1}[c.why == ""]; card.SignOff != want {
			t.Errorf("%q: %d ports count", c.why, card.SignOff)
		}
	}
	// an exhaust port without other openings need not say; work logged says the state
	b := newBook(t)
	p := b.port(1, Exhaust)
	b.work(1, WorkLapped, p.Valves...)
	b.test(2, p, reading(5, 0.05), func(c *Conditions) { c.Plugged, c.State = NotSaid, StateNotSaid })
	if got := b.card().of(p); !got.SignOff {
		t.Errorf("does not count: %v", got.Off)
	}
}

func TestRefusedAndNotTested(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	b.test(1, p, refused())
	b.test(2, p, nil)
	card := b.card()
	if c := card.of(p); c.Standing != Refused || c.SignOff || c.Reading == nil || c.Reading.Refusal == nil {
		t.Errorf("%s, %+v", c.Standing, c.Reading)
	}
	if v := card.valve(p.Valves[0]); v.Standing != Refused {
		t.Errorf("valve %s", v.Standing)
	}
	counts := map[Standing]int{}
	for _, n := range card.Counts {
		counts[n.Standing] = n.Ports
	}
	if len(card.Counts) != len(Standings) || counts[Refused] != 1 || counts[NotTested] != 5 {
		t.Errorf("%v", card.Counts)
	}
	// what only could not be read
	b = newBook(t)
	b.test(1, b.port(1, Intake), nil)
	if c := b.card().of(b.port(1, Intake)); c.Standing != Refused {
		t.Errorf("%s", c.Standing)
	}
	// a test in the tray is nobody's
	b = newBook(t)
	b.test(1, b.port(1, Intake), reading(5, 0.05))
	b.Tests[0].JobID, b.Tests[0].PortID = "", ""
	if c := b.card().of(b.port(1, Intake)); c.Standing != NotTested {
		t.Errorf("%s", c.Standing)
	}
}

// The same records in another order make the same card.
func TestCardOrder(t *testing.T) {
	b := newBook(t)
	for i := range 20 {
		p := &b.Job.Ports[i%6]
		b.test(int64(i), p, reading(8+3*float64(i), 0.05), func(c *Conditions) {
			if i%5 == 0 {
				c.Held = rig.HeldThumb
			}
		})
	}
	b.work(11, WorkCut, b.Job.Ports[1].Valves...)
	b.work(13, WorkLapped, b.Job.Ports[2].Valves...)
	want, err := json.Marshal(b.card())
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		rng.Shuffle(len(b.Tests), func(i, k int) { b.Tests[i], b.Tests[k] = b.Tests[k], b.Tests[i] })
		rng.Shuffle(len(b.Work), func(i, k int) { b.Work[i], b.Work[k] = b.Work[k], b.Work[i] })
		if got, _ := json.Marshal(b.card()); string(got) != string(want) {
			t.Fatal("another order, another card")
		}
	}
}

// A card of readings that were kept says what that of the originals says.
func TestCardOfKept(t *testing.T) {
	b := newBook(t)
	for i := range b.Job.Ports {
		b.test(int64(i), &b.Job.Ports[i], reading(6+9*float64(i), 0.1))
		b.test(int64(10+i), &b.Job.Ports[i], reading(7+9*float64(i), 0.1))
	}
	want := b.card()
	for i := range b.Tests {
		b.Tests[i].Reading = b.Tests[i].Reading.Keep().Reading()
	}
	for i, p := range b.card().Ports {
		w := want.Ports[i]
		if p.Standing != w.Standing || p.Next.Do != w.Next.Do || p.Rank != w.Rank {
			t.Errorf("%s: kept %s, %q; original %s, %q", p.Name, p.Standing, p.Next.Do, w.Standing, w.Next.Do)
		}
	}
}

// The words of the standings, as every screen has them.
func TestStandingWords(t *testing.T) {
	want := []string{"holds", "leaks", "can't tell yet", "lapsed", "refused", "not tested"}
	for i, s := range Standings {
		if s.Words() != want[i] {
			t.Errorf("%s: %q", s, s.Words())
		}
		if b, err := json.Marshal(s); err != nil || strings.Contains(string(b), " ") {
			t.Errorf("code %s, %v", b, err)
		}
	}
}

// A guess is told once, where it widened most.
func TestGuessesOnce(t *testing.T) {
	b := newBook(t)
	for i := range 3 {
		r := reading(5, 0.05)
		r.Guessed = []leak.Guess{{Input: "volume", Guess: unit.About(95e-6, 28e-6), Dim: unit.VolumeDim, Widened: 1.1 + 0.1*float64(i%2)}}
		b.test(int64(i), &b.Job.Ports[i], r)
	}
	if g := b.card().Guesses; len(g) != 1 || g[0].Widened < 1.19 {
		t.Errorf("%+v", g)
	}
}

package head

import (
	"encoding/json"
	"testing"

	"seatproof/unit"
)

// cardText is a card as it is sent, and what its ports were taken apart into.
func cardText(t testing.TB, c *Card) string {
	t.Helper()
	b, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A card made of what was kept is the card made anew, to the last bit, whatever
// changes between the two; and what no card asks for any more is forgotten.
func TestKeptIsTheSame(t *testing.T) {
	b := newBook(t)
	b.Cost = cheap(2000, 400, 0.1)
	p, q, r := b.port(1, Intake), b.port(2, Intake), b.port(3, Exhaust)
	var kept Kept
	same := func(what string) string {
		t.Helper()
		b.Kept = nil
		anew := cardText(t, b.card())
		b.Kept = &kept
		for _, again := range []string{"", ", once more"} {
			if got := cardText(t, b.card()); got != anew {
				t.Fatalf("%s%s: the card differs from one made anew:\n%s\n%s", what, again, got, anew)
			}
		}
		return anew
	}
	b.test(1, p, reading(140, 0.05))
	b.test(2, q, reading(15, 0.1))
	b.test(3, r, reading(26, 0.05))
	before := same("first tests")
	many := len(kept.made)
	if many < 3 {
		t.Fatalf("%d things kept of a leaking port and two that can't be told", many)
	}
	changes := []struct {
		name string
		do   func()
	}{
		{"one more test of another port", func() { b.test(4, b.port(3, Intake), reading(6, 0.05)) }},
		{"a mask", func() {
			b.test(5, p, reading(9, 0.05), func(c *Conditions) { c.Masked, c.Placed, c.Turned = p.Valves[:1], true, true })
		}},
		{"the same test read otherwise", func() { b.Tests[0].Reading = reading(141, 0.05) }},
		{"the same leak, otherwise doubtful", func() { b.Tests[1].Reading = reading(15, 0.12) }},
		{"strict", func() { b.Job.Limit.Strict = true }},
		{"another gap", func() { b.Job.Limit.Gap = unit.Exactly(3.1e-6) }},
		{"a valve measured", func() { b.Job.valve(p.Valves[0]).Head = unit.About(26.5e-3, 0.5e-3) }},
		{"the guide closed off", func() {
			b.test(6, p, reading(120, 0.05), func(c *Conditions) { c.Guide, c.Placed, c.Turned = GuideClosed, true, true })
		}},
	}
	for _, c := range changes {
		c.do()
		after := same(c.name)
		if after == before {
			t.Errorf("%s: changed nothing: the check is empty", c.name)
		}
		before = after
	}
	b.work(9, WorkCut)
	same("all cut")
	if len(kept.made) > 1 { // what the verdict was that lapsed
		t.Errorf("%d things kept of ports that have lapsed", len(kept.made))
	}
}

package head

import (
	"slices"
	"strings"
	"testing"

	"seatproof/limit"
)

// TestAllMaskedComesBeforeMetal: with one of two valves masked and never both,
// what the other is left with may come by no seat at all. It is not blamed alone,
// and a mask that tells is asked for before metal is touched; with that made
// the valve is blamed where little is left, and is not where all is.
func TestAllMaskedComesBeforeMetal(t *testing.T) {
	for _, c := range []struct {
		rest float64
		want Standing
	}{{2, Leaks}, {197, Holds}} {
		b := newBook(t)
		p := b.port(1, Intake)
		b.test(1, p, reading(200, 0.01))
		b.test(2, p, reading(200, 0.01), func(c *Conditions) { c.Placed = true })
		b.test(3, p, reading(200, 0.01), func(c *Conditions) { c.Turned = true })
		b.test(4, p, reading(200, 0.01), func(c *Conditions) { c.Guide = GuideClosed })
		b.test(5, p, reading(199, 0.01), func(c *Conditions) { c.Masked = p.Valves[1:] })
		card := b.card()
		if v := card.valve(p.Valves[0]); v.Standing == Leaks && !v.OneOf || card.of(p).Standing != Leaks {
			t.Errorf("the valve left open %s (one of: %v), the port %s", v.Standing, v.OneOf, card.of(p).Standing)
		}
		next := card.of(p).Next
		if !strings.HasPrefix(next.Do, "mask ") || len(card.Next[0].Valves) == 0 {
			t.Errorf("next %q, masks %v", next.Do, card.Next[0].Valves)
		}
		b.test(6, p, reading(c.rest, 0.01), func(c *Conditions) { c.Masked = p.Valves })
		card = b.card()
		next = card.of(p).Next
		if got := card.valve(p.Valves[0]).Standing; (got == Leaks) != (c.want == Leaks) {
			t.Errorf("%g left with both masked: the valve %s; next %q", c.rest, got, next.Do)
		}
		if metal := strings.Contains(next.Do, "seat of"); metal != (c.want == Leaks) {
			t.Errorf("%g left with both masked: next %q", c.rest, next.Do)
		}
	}
}

// TestSoleValveOrNoSeat: where masks cleared all valves but one, and nothing was
// tested with all of them masked, that one is not told from what comes by no seat.
func TestSoleValveOrNoSeat(t *testing.T) {
	p := &Port{ID: "p1", Valves: []string{"v1", "v2"}}
	speaks := &group{judged: judged{verdict: limit.Leaks}}
	masked := []*group{{judged: judged{verdict: limit.Leaks, open: []string{"v1"}}}}
	a := &Apart{Valves: []ValveLeak{{ID: "v1", Standing: CantTellYet}, {ID: "v2", Standing: Holds, Known: true}}}
	at, oneOf := valveStandings(p, speaks, masked, a)
	if at["v1"] != CantTellYet || at["v2"] != Holds || oneOf {
		t.Errorf("not told: %v, one of %v", at, oneOf)
	}
	j := newBook(t).Job
	w := portWork{card: &PortCard{}, port: p, speaks: speaks, masked: masked, apart: a, valves: at, history: triedAll()}
	if s := j.leakStep(&w); !strings.HasPrefix(s.Do, "mask both valves") || !slices.Equal(w.mask, p.Valves) {
		t.Errorf("next %q, masks %v", s.Do, w.mask)
	}
	a.Valves[0].Standing, a.Valves[0].Known = Leaks, true
	a.Rest = &OpeningLeak{Over: 0}
	if at, _ := valveStandings(p, speaks, masked, a); at["v1"] != Leaks {
		t.Errorf("told: %v", at)
	}
}

// triedAll is a history in which all was tried that comes before masks.
func triedAll() history {
	first := &Tested{Test{Conditions: asItRuns}, reading(200, 0.01)}
	all := &Tested{Test{Conditions: asItRuns}, reading(200, 0.01)}
	all.Conditions.Placed, all.Conditions.Turned, all.Conditions.Guide = true, true, GuideClosed
	return history{eras: []era{{tests: []*Tested{first, all}, state: StateCleaned}}, current: true}
}

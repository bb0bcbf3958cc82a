package head

import (
	"slices"
	"strings"
	"testing"

	"seatproof/leak"
)

// warned is a made trace that warns.
func warned(q float64, codes ...leak.WarningCode) *leak.Reading {
	r := reading(q, 0.05)
	for _, c := range codes {
		r.Warnings = append(r.Warnings, leak.Warning{Code: c, Figure: 10})
	}
	return r
}

// A port that holds by a figure in doubt is marked, its step comes before all but
// the rig's check, and it does not count for the sign-off; a warning that leaves
// the figure standing changes nothing. Rule: docs/model.md §9.
func TestHoldsInDoubt(t *testing.T) {
	for code, do := range map[leak.WarningCode]string{
		leak.WetPort: "dry the port", leak.FallStops: "dry the port", leak.HoldBreaks: "wipe seat", leak.Oiled: "wipe seat",
		leak.Slowing: "hold a blank", leak.Drift: "wait", leak.Gaps: "",
	} {
		b := newBook(t)
		b.Today = 1
		b.test(1, b.port(1, Exhaust), reading(140, 0.05))
		p := b.port(3, Intake)
		b.test(2, p, warned(6, leak.Gaps, code))
		card := b.card()
		got := card.of(p)
		if got.Standing != Holds || got.Retest != (do != "") || got.SignOff != (do == "") || card.SignOff != map[bool]int{true: 1}[do == ""] {
			t.Errorf("%s: %s, retest %v, counts %v, %d in all", code, got.Standing, got.Retest, got.SignOff, card.SignOff)
		}
		if !strings.HasPrefix(got.Next.Do, do) || (got.Next.Reason == "") != (do == "") {
			t.Errorf("%s: next %+v, want %q", code, got.Next, do)
		}
		kinds := []TodoKind{card.Next[0].Kind, card.Next[1].Kind}
		want := []TodoKind{TodoCheck, TodoRetest}
		if do == "" {
			want[1] = TodoLeaks
		}
		if !slices.Equal(kinds, want) {
			t.Errorf("%s: first %v, want %v", code, kinds, want)
		}
		if do != "" && (!slices.ContainsFunc(got.Off, func(o string) bool { return strings.HasPrefix(o, "in doubt: ") }) || card.Next[1].Head != "Cylinder 3 intake holds, but test it again.") {
			t.Errorf("%s: off %v, %q", code, got.Off, card.Next[1].Head)
		}
	}
}

// The step of a doubt stands before that of any verdict.
func TestDoubtAsksFirst(t *testing.T) {
	for _, q := range []float64{6, 28, 140} {
		b := newBook(t)
		p := b.port(2, Intake)
		b.test(1, p, warned(q, leak.FallStops))
		if got := b.card().of(p); !strings.HasPrefix(got.Next.Do, "dry the port") || got.SignOff || got.Retest != (got.Standing == Holds) {
			t.Errorf("%v cm³/min: %s, %q, counts %v, retest %v", q, got.Standing, got.Next.Do, got.SignOff, got.Retest)
		}
	}
}

// Tested again without a doubt, the port stands on what was tested since, and
// the doubtful test is kept aside; a doubt that comes last stands, with all tests.
func TestDoubtIsSettled(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	doubtful := b.test(1, p, warned(60, leak.FallStops))
	again := b.test(2, p, reading(6, 0.05))
	got := b.card().of(p)
	if got.Standing != Holds || got.Retest || !got.SignOff || !slices.Equal(got.Counted, []string{again}) {
		t.Errorf("%s, retest %v, counts %v, on %v", got.Standing, got.Retest, got.SignOff, got.Counted)
	}
	if len(got.Aside) != 1 || got.Aside[0].Test != doubtful || got.Aside[0].Lapsed || !strings.Contains(strings.Join(got.Aside[0].Why, ", "), "its fall stops") {
		t.Errorf("aside: %+v", got.Aside)
	}
	b.test(3, p, warned(6, leak.HoldBreaks))
	if got = b.card().of(p); !got.Retest || got.SignOff || len(got.Counted) != 2 {
		t.Errorf("a doubt that comes last: retest %v, counts %v, on %v", got.Retest, got.SignOff, got.Counted)
	}
}

// Valves that a masked test clears are in doubt with it.
func TestMaskedInDoubt(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	b.test(1, p, reading(20, 0.05))
	for i, id := range p.Valves {
		b.test(int64(2+i), p, warned(5, leak.WarningCode(map[int]string{1: string(leak.Oiled)}[i])), func(c *Conditions) { c.Masked = []string{id} })
	}
	if got := b.card().of(p); got.Standing != Holds || got.Doubt != leak.Oiled || !got.Retest || got.SignOff {
		t.Errorf("%s, doubt %q, retest %v, counts %v", got.Standing, got.Doubt, got.Retest, got.SignOff)
	}
}

// No reading, and one that was refused, has no figure to doubt.
func TestNothingToDoubt(t *testing.T) {
	r := refused()
	r.Warnings = []leak.Warning{{Code: leak.Oiled}}
	for _, x := range []*leak.Reading{nil, r, reading(5, 0.1)} {
		if code, step := Doubt(x); code != "" || step != (Step{}) {
			t.Errorf("%+v: %s, %+v", x, code, step)
		}
	}
}

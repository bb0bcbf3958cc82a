package head

import (
	"fmt"
	"math"
	"testing"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/unit"
)

// flowsAs says of a reading that its tests tell how the leak flows.
func flowsAs(r *leak.Reading, kind leak.Kind, share float64) *leak.Reading {
	is := *r
	is.Kind, is.Share = kind, &leak.Interval{Median: share, Low: share - 0.03, High: share + 0.03}
	is.Draws = nil
	for _, d := range r.Draws {
		d.Share = share
		is.Draws = append(is.Draws, d)
	}
	return &is
}

// What is left for a slot in a leak that is told to be an opening bounds the share
// of each of its parts, by hand: of 100 of which 0.95 is an opening, 5 seep. One
// of 80 is an opening by 1 - 5/80 = 0.9375 at least, one of 15 by 0.6667, one of 5
// may be a seep. A set that is not open says nothing of a valve; the tightest of
// several counts.
func TestShareOfAPart(t *testing.T) {
	s := &apartSystem{n: 3, rest: 2, guide: -1, told: []apartTold{{[]float64{1, 1, 1}, 0.95}}}
	x := []float64{80, 15, 5}
	for i, want := range []float64{0.9375, 0.666667, 0} {
		if got := s.shareOf(i, x); math.Abs(got-want) > 1e-6 {
			t.Errorf("share of %g in 100: %.6f, want %.6f", x[i], got, want)
		}
	}
	s.told = append(s.told, apartTold{[]float64{0, 1, 1}, 0.98}) // 20, of which 0.4 seep
	for i, want := range []float64{0.9375, 1 - 0.4/15, 1 - 0.4/5} {
		if got := s.shareOf(i, x); math.Abs(got-want) > 1e-6 {
			t.Errorf("with the first sealed off, share of %g: %.6f, want %.6f", x[i], got, want)
		}
	}
	if got := s.shareOf(0, []float64{0, 1, 1}); got != 0 {
		t.Errorf("of no leak at all %g is an opening", got)
	}
}

// A valve taken apart by masks is held against the limit of how its leak flows, as
// the card holds the whole port: 13 cm³/min is well within what a valve may pass
// as an opening (200 · 27/101 = 53, workmanship 23), and over what it may as a seep
// (10.7). Where nothing tells, it is a seep.
func TestApartByKind(t *testing.T) {
	standing := map[string]Standing{}
	limits := map[string]float64{}
	for _, as := range []string{"", "opening", "seep", "mixed"} {
		b := newBook(t)
		b.Cost = cheap(200, 40, 0.02)
		p := b.port(1, Intake)
		for i, q := range []float64{13.3, 13.3, 0.3, 13.2, 0.3, 13.1, 0.3} {
			r := reading(q, 0.03)
			if q > 1 {
				switch as {
				case "opening":
					r = flowsAs(r, leak.KindOpening, 0.96)
				case "seep":
					r = flowsAs(r, leak.KindSeep, 0.04)
				case "mixed":
					r = flowsAs(r, leak.KindMixed, 0.5)
				}
			}
			b.test(int64(i), p, r, func(c *Conditions) {
				c.Placed, c.Turned = i > 0, i > 0
				switch {
				case i < 2:
				case q > 1:
					c.Masked = p.Valves[1:]
				default:
					c.Masked = p.Valves[:1]
				}
			})
		}
		card := b.card()
		a := card.of(p).Apart
		if a == nil || !a.Valves[0].Known {
			t.Fatalf("%q: not taken apart", as)
		}
		standing[as], limits[as] = a.Valves[0].Standing, a.Valves[0].Limit/cm3min
		if s := a.Valves[1].Standing; s != Holds {
			t.Errorf("%q: the valve beside it %s", as, s)
		}
	}
	for as, want := range map[string]Standing{"": CantTellYet, "seep": CantTellYet, "opening": Holds, "mixed": Holds} {
		if standing[as] != want {
			t.Errorf("told as %q: %s, want %s (limit %.2f cm³/min)", as, standing[as], want, limits[as])
		}
	}
	// As an opening workmanship decides; half and half 1/(0.5/53.5 + 0.5/10.7) = 17.8.
	for as, want := range map[string]float64{"": 10.69, "seep": 10.69, "opening": 23, "mixed": 17.8} {
		if math.Abs(limits[as]-want) > 0.04*want {
			t.Errorf("told as %q: limit %.2f cm³/min, want %.2f", as, limits[as], want)
		}
	}
}

// A limit that does not ask how a leak flows gives the same answer to the last bit
// whatever the tests say of it.
func TestApartPlainLimitAsksNoKind(t *testing.T) {
	var first string
	for _, as := range []leak.Kind{"", leak.KindOpening} {
		b := newBook(t)
		b.Job.Limit.Basis, b.Job.Limit.Flow = limit.ByOwn, unit.Exactly(20*cm3min)
		p := b.port(1, Intake)
		for i, q := range []float64{30, 4} {
			r := reading(q, 0.03)
			if as != "" {
				r.Kind, r.Share = as, &leak.Interval{Median: 0.95, Low: 0.9, High: 1}
			}
			b.test(int64(i), p, r, func(c *Conditions) {
				if i > 0 {
					c.Masked, c.Placed, c.Turned = p.Valves[:1], true, true
				}
			})
		}
		a := b.card().of(p).Apart
		text := fmt.Sprint(a.Valves[0], a.Valves[1])
		if first == "" {
			first = text
		} else if text != first {
			t.Errorf("told as %s: %s, else %s", as, text, first)
		}
	}
}

package head

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"seatproof/limit"
	"seatproof/unit"
)

// siamesed is a head of two cylinders whose exhaust valves of 30 mm share a port;
// the intake valves of 36 mm have one each.
func siamesed(t testing.TB) (*book, *Port) {
	t.Helper()
	j, f := Layout(Scheme{
		Form: FormInline, Cylinders: 2, Valves: 2, Exhaust: PortPairs, Bore: unit.Exactly(80e-3), Stroke: unit.Exactly(82e-3),
		IntakeHead: unit.Exactly(36e-3), ExhaustHead: unit.Exactly(30e-3),
	})
	if len(f) > 0 {
		t.Fatal(f)
	}
	j.ID = "j1"
	b := &book{Records{Job: j, Cost: cheap(200, 40, 0.02)}}
	p := b.port(1, Exhaust)
	if !slices.Equal(p.Cylinders, []int{1, 2}) || len(p.Valves) != 2 {
		t.Fatalf("%+v", p)
	}
	return b, p
}

// fiveValved is a head of two cylinders with three intake valves each of 27 mm on
// one port.
func fiveValved(t testing.TB) (*book, *Port) {
	t.Helper()
	j, f := Layout(Scheme{
		Form: FormInline, Cylinders: 2, Valves: 5, Bore: unit.Exactly(81e-3), Stroke: unit.Exactly(77e-3),
		IntakeHead: unit.Exactly(27e-3), ExhaustHead: unit.Exactly(29e-3),
	})
	if err := f.Err(); err != nil {
		t.Fatal(err)
	}
	j.ID = "j1"
	b := &book{Records{Job: j, Cost: cheap(200, 40, 0.02)}}
	p := b.port(1, Intake)
	if len(p.Valves) != 3 {
		t.Fatalf("%+v", p)
	}
	return b, p
}

// A port between cylinders goes by each valve's own part of its own cylinder: of 40
// cm³/min in a cylinder of 36 and 30 mm the exhaust valve has 40 · 30/66 = 18.18,
// and the port of two cylinders twice that; a valve of 34 mm in the second has
// 40 · 34/70 = 19.43. Three valves of one cylinder share one: 40 · 27/139 = 7.77
// each, 23.31 in all.
func TestCostOfSharedPorts(t *testing.T) {
	check := func(what string, c *PortCard, one, all float64) {
		t.Helper()
		r := c.rowOf(limit.ByCost)
		if !r.Decides || math.Abs(r.One/cm3min-one) > 0.005 || math.Abs(r.All/cm3min-all) > 0.01 {
			t.Errorf("%s: least %.3f, all %.3f cm³/min (decides: %v), want %.2f and %.2f", what, r.One/cm3min, r.All/cm3min, r.Decides, one, all)
		}
	}
	b, p := siamesed(t)
	b.test(1, p, reading(8, 0.05))
	check("siamesed", b.card().of(p), 18.18, 36.36)
	b.Job.valve(p.Valves[1]).Head = unit.Exactly(34e-3)
	check("siamesed, unlike", b.card().of(p), 18.18, 18.18+19.43)
	b, p = fiveValved(t)
	b.test(1, p, reading(3, 0.05))
	check("three of one cylinder", b.card().of(p), 7.77, 23.31)
}

// Within the least of one valve's limits clears every valve of the port, whichever
// cylinder it is of; above the sum at least one leaks; between, a mask is asked for.
func TestVerdictsOfSharedPorts(t *testing.T) {
	for _, c := range []struct {
		of   func(testing.TB) (*book, *Port)
		q    float64
		want Standing
		mask bool
	}{
		{siamesed, 5, Holds, false}, {siamesed, 27, CantTellYet, true}, {siamesed, 150, Leaks, false},
		{fiveValved, 2.5, Holds, false}, {fiveValved, 13, CantTellYet, true}, {fiveValved, 100, Leaks, false},
	} {
		b, p := c.of(t)
		b.test(1, p, reading(c.q, 0.05))
		card := b.card()
		got := card.of(p)
		if got.Standing != c.want {
			t.Errorf("%d valves of cylinders %v, %g cm³/min: %s, want %s", len(p.Valves), p.Cylinders, c.q, got.Standing, c.want)
		}
		for _, id := range p.Valves {
			if v := card.valve(id); v.Standing != c.want || v.OneOf != (c.want == Leaks) {
				t.Errorf("%g cm³/min: valve %s %s, one of %v", c.q, id, v.Standing, v.OneOf)
			}
		}
		if masks := card.Next[0].Port == p.ID && len(card.Next[0].Valves) > 0; masks != c.mask {
			t.Errorf("%g cm³/min: next %q", c.q, got.Next.Do)
		}
	}
}

// What a mask leaves is judged by the valves that are left, of whichever cylinder:
// with cylinder 1's valve masked 4 of 150 cm³/min are left, so it leaks and that of
// cylinder 2 holds, though no test was made of it alone.
func TestMaskBetweenCylinders(t *testing.T) {
	b, p := siamesed(t)
	b.test(1, p, reading(150, 0.03))
	b.test(2, p, reading(4, 0.03), func(c *Conditions) { c.Masked = p.Valves[:1] })
	card := b.card()
	first, second := card.valve(p.Valves[0]), card.valve(p.Valves[1])
	if first.Standing != Leaks || first.OneOf || second.Standing != Holds {
		t.Errorf("cylinder 1 %s (one of: %v), cylinder 2 %s", first.Standing, first.OneOf, second.Standing)
	}
	m := card.of(p).Masked
	if len(m) != 1 || !slices.Equal(m[0].Open, p.Valves[1:]) || m[0].Verdict != limit.Holds {
		t.Errorf("masked: %+v", m)
	}
	if words := b.Job.MaskWords(p.ID, p.Valves[:1]); words != "valve of cylinder 1 masked" {
		t.Errorf("masked: %q", words)
	}
}

// Plans for ports of two cylinders and of three valves end with every valve told
// rightly, in no more tests than the port has valves and one; and never ask for
// what is no valve of the port.
func TestMaskPlanOfSharedPorts(t *testing.T) {
	runs := 2
	if testing.Short() {
		runs = 1
	}
	for _, c := range []struct {
		name  string
		of    func(testing.TB) (*book, *Port)
		truth []float64
	}{
		{"siamesed, the first", siamesed, []float64{150, 2, 1}},
		{"siamesed, the second", siamesed, []float64{2, 150, 1}},
		{"five-valved, the middle", fiveValved, []float64{1, 150, 1, 0.5}},
		{"five-valved, the first", fiveValved, []float64{150, 1, 1, 0.5}},
	} {
		if testing.Short() && c.truth[0] > 100 { // one of each kind of port does
			continue
		}
		b, p := c.of(t)
		b.Job.Limit.NoCost = true // by workmanship: real costs take time, and change nothing here
		most := 0
		for k := range runs {
			took, at := settle(&b.Job, p, c.truth, rand.New(rand.NewPCG(uint64(k), 4)), func(c *PortCard, _ int) ([]string, bool) {
				if c.Apart == nil || c.Apart.Plan == nil {
					return nil, false
				}
				mask := c.Apart.Plan.Mask
				for _, id := range mask {
					if !slices.Contains(p.Valves, id) {
						t.Errorf("asked to mask %s, which is none of %v", id, p.Valves)
					}
				}
				return mask, true
			})
			if took == 0 {
				t.Errorf("%s: not settled in ten tests", c.name)
			}
			most = max(most, took)
			for i, s := range at {
				if (s == Leaks) != (c.truth[i] > 30) {
					t.Errorf("%s: valve %d %s", c.name, i+1, s)
				}
			}
		}
		t.Logf("%s: at most %d tests with masks", c.name, most)
		if most > len(p.Valves)+1 {
			t.Errorf("%s: %d tests with masks for %d valves", c.name, most, len(p.Valves))
		}
	}
}

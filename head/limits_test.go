package head

import (
	"math"
	"testing"

	"seatproof/engine"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/unit"
)

// rowOf returns a rule's row of a port.
func (c *PortCard) rowOf(k limit.Kind) PortLimit {
	for _, l := range c.Limits {
		if l.Kind == k {
			return l
		}
	}
	return PortLimit{}
}

// cheap stands for an engine that can spare so much [cm³/min], all valves of a
// cylinder together, known to sd.
func cheap(opening, seep, sd float64) CostFinder {
	return func(_ engine.Given, share, _, _ float64) (engine.CostLimit, error) {
		k := share / 0.02 * cm3min
		return engine.CostLimit{Opening: opening * k, Seep: seep * k, OpeningSD: sd, SeepSD: sd}, nil
	}
}

// The stricter of workmanship and cost decides, and both are shown. Valves of 27,
// 27, 23.5 and 23.5 mm share what the cylinder can spare by their diameters.
func TestStricterDecides(t *testing.T) {
	for _, c := range []struct {
		name string
		cost CostFinder
		set  func(l *Limit)
		want limit.Kind
		one  float64 // cm³/min
	}{
		{"a cylinder that spares much", cheap(2000, 400, 0.1), nil, limit.ByWorkmanship, 23},
		{"one that spares little", cheap(200, 40, 0.1), nil, limit.ByCost, 40 * 27 / 101.0},
		{"half of it", cheap(200, 40, 0.1), func(l *Limit) { l.Cost = unit.Exactly(0.01) }, limit.ByCost, 20 * 27 / 101.0},
		{"cost set aside", cheap(200, 40, 0.1), func(l *Limit) { l.NoCost = true }, limit.ByWorkmanship, 23},
		{"the maker's figure", cheap(200, 40, 0.1), func(l *Limit) { l.Basis, l.Flow = limit.ByMaker, unit.Exactly(60*cm3min) }, limit.ByMaker, 60},
		{"a figure typed in, as earlier heads have it", cheap(200, 40, 0.1), func(l *Limit) { l.Flow = unit.Exactly(30 * cm3min) }, limit.ByOwn, 30},
		{"a basis without its figure", cheap(2000, 400, 0.1), func(l *Limit) { l.Basis = limit.ByMaker }, limit.ByWorkmanship, 23},
		{"a drop on no pump", cheap(2000, 400, 0.1), func(l *Limit) { l.Basis, l.Drop = limit.ByDrop, unit.Exactly(6.8e3) }, limit.ByWorkmanship, 23},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBook(t)
			b.Cost = c.cost
			if c.set != nil {
				c.set(&b.Job.Limit)
			}
			p := b.port(2, Intake)
			b.test(1, p, reading(10, 0.05))
			got := b.card().of(p)
			first := got.Limits[0]
			if first.Kind != c.want || !first.Decides || math.Abs(first.One/cm3min-c.one) > 0.01*c.one+0.3*b01(c.want == limit.ByWorkmanship) {
				t.Errorf("%s decides at %.2f cm³/min, want %s at %.2f", first.Kind, first.One/cm3min, c.want, c.one)
			}
			if got.OneLimit != first.One || math.Abs(got.AllLimit-2*first.One) > 1e-12 {
				t.Errorf("judged by %g and %g, the first row says %g", got.OneLimit, got.AllLimit, first.One)
			}
			for _, k := range []limit.Kind{limit.ByWorkmanship, limit.ByCost} {
				if r := got.rowOf(k); !(r.One > 0) || !(r.Gap > 0) || !(r.CostSeep > 0) || !(r.CostOpening > 0) {
					t.Errorf("%s: %+v", k, r)
				}
			}
		})
	}
}

func b01(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// A limit is told in the others' terms: the workmanship limit is a gap of 3 µm,
// the cost limit 2 % of cranking pressure.
func TestLimitInOtherTerms(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	b.test(1, p, reading(10, 0.05))
	c := b.card().of(p)
	if g := c.rowOf(limit.ByWorkmanship).Gap; math.Abs(g-3e-6) > 1e-9 {
		t.Errorf("the workmanship limit is a gap of %.4g µm", g*1e6)
	}
	r := c.rowOf(limit.ByCost)
	if math.Abs(r.CostSeep-0.02) > 1e-9 || math.Abs(r.CostOpening-0.02) > 1e-9 {
		t.Errorf("the cost limit costs %.4g as a seep, %.4g as an opening", r.CostSeep, r.CostOpening)
	}
	// physics of the engine: five to six times more as a seep, less near the cap
	if x := r.Opening / r.Seep; x < 3 || x > 7 {
		t.Errorf("an opening may pass %.2f times a seep", x)
	}
}

// A leak of which the tests tell that it is an opening is held against the limit
// of an opening; one of which they don't is taken as a seep.
func TestKindOfLeakDecidesItsCost(t *testing.T) {
	b := newBook(t)
	b.Cost = cheap(200, 40, 0.1)
	p := b.port(1, Intake)
	r := reading(18, 0.05)
	b.test(1, p, r)
	if c := b.card().of(p); c.Standing == Holds || c.As != leak.KindSeep {
		t.Errorf("taken as a %s of 18 cm³/min against 10.7: %s", c.As, c.Standing)
	}
	known := *r
	known.Kind, known.Share = leak.KindOpening, &leak.Interval{Median: 0.95, Low: 0.9, High: 1}
	known.Draws = nil
	for _, d := range r.Draws {
		d.Share = 0.95
		d.Flow *= 0.5
		known.Draws = append(known.Draws, d)
	}
	known.Leak = &leak.Interval{Median: r.Leak.Median / 2, Low: r.Leak.Low / 2, High: r.Leak.High / 2}
	b.Tests[0].Reading = &known
	seep := known
	seep.Share = nil
	c := b.card().of(p)
	b.Tests[0].Reading = &seep
	s := b.card().of(p)
	if c.As != leak.KindOpening || !(*c.OverOne < 0.5**s.OverOne) {
		t.Errorf("as an %s over by %.3g, as a seep by %.3g", c.As, *c.OverOne, *s.OverOne)
	}
}

// Two limits near each other pull the least below either: a chance over them is
// above that over each alone. Against brute force: draws of both limits.
func TestNearLimitsBothCount(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	r := reading(14, 0.05)
	b.test(1, p, r)
	work := func() float64 { c := b.card().of(p); return c.rowOf(limit.ByWorkmanship).One }()
	b.Cost = cheap(1000, work/cm3min*101/27, 0.4) // the same figure, in doubt
	got := *b.card().of(p).OverOne
	sum, n := 0.0, 2000
	for i := range n {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(n)-1)
		sum += r.ChanceOver(math.Min(work, work*math.Exp(0.4*z))) / float64(n)
	}
	if math.Abs(got-sum) > 0.01 {
		t.Errorf("chance of being over %.4f, by brute force %.4f", got, sum)
	}
	if alone := r.ChanceOver(work); !(got > alone) {
		t.Errorf("chance %.4f, over workmanship alone %.4f", got, alone)
	}
}

// An engine that can't be has no cost limit, and says why; workmanship decides.
func TestNoCostOfAnImpossibleEngine(t *testing.T) {
	b := newBook(t)
	b.Job.Engine.Rod = unit.Exactly(20e-3) // shorter than the throw
	p := b.port(1, Intake)
	b.test(1, p, reading(10, 0.05))
	c := b.card().of(p)
	if r := c.rowOf(limit.ByCost); r.One != 0 || r.Fault == "" || r.Counts || c.Limits[0].Kind != limit.ByWorkmanship {
		t.Errorf("%+v", c.Limits)
	}
}

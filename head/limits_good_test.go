package head

import (
	"math"
	"strings"
	"testing"

	"seatproof/limit"
	"seatproof/unit"
)

// goodBook is a head whose first intake port is known good.
func goodBook(t *testing.T) (*book, *Port) {
	t.Helper()
	b := newBook(t)
	b.Cost = cheap(2000, 400, 0.1)
	good := b.port(1, Intake)
	b.Job.Limit.Basis, b.Job.Limit.Good = limit.ByGoodPort, good.ID
	return b, good
}

// The limit by a port known good is twice what it passes, by the diameters of the
// valves: 6 cm³/min through two of 27 mm are 2 · 6 · 27/54 = 6 a valve of 27 mm
// and 2 · 6 · 23.5/54 = 5.222 a valve of 23.5, with the doubt of the good port's
// own test.
func TestKnownGoodPort(t *testing.T) {
	b, good := goodBook(t)
	b.test(1, good, reading(6, 0.05))
	for _, c := range []struct {
		side      Side
		flow      float64
		one       float64
		want      Standing
		otherwise Standing // by workmanship
	}{
		{Intake, 2, 6, Holds, Holds},
		{Intake, 60, 6, Leaks, CantTellYet},
		{Exhaust, 2, 5.2222, Holds, Holds},
		{Exhaust, 60, 5.2222, Leaks, CantTellYet},
	} {
		p := b.port(2, c.side)
		b.Tests = b.Tests[:1]
		b.test(2, p, reading(c.flow, 0.05))
		got := b.card().of(p)
		first := got.Limits[0]
		if first.Kind != limit.ByGoodPort || !first.Decides || math.Abs(first.One/cm3min-c.one) > 0.001*c.one {
			t.Errorf("%s: %s decides at %.4f cm³/min, want %s at %.4f", c.side, first.Kind, first.One/cm3min, limit.ByGoodPort, c.one)
		}
		if got.OneLimit != first.One || math.Abs(got.AllLimit-2*first.One) > 1e-12 {
			t.Errorf("%s: judged by %g and %g, the row says %g", c.side, got.OneLimit, got.AllLimit, first.One)
		}
		if math.Abs(first.SD-0.05) > 1e-6 { // ln(high/low)/3.92 of the good port
			t.Errorf("%s: sd of the limit %.4f, want that of the good port, 0.05", c.side, first.SD)
		}
		if got.Standing != c.want {
			t.Errorf("%s of %g cm³/min: %s, want %s", c.side, c.flow, got.Standing, c.want)
		}
		b.Job.Limit.Basis = ""
		if got := b.card().of(p); got.Standing != c.otherwise {
			t.Errorf("%s of %g cm³/min by workmanship: %s, want %s", c.side, c.flow, got.Standing, c.otherwise)
		}
		b.Job.Limit.Basis = limit.ByGoodPort
	}
	// In the others' terms: the gap of that leak round that valve.
	r := b.card().of(b.port(2, Exhaust)).rowOf(limit.ByGoodPort)
	if want, err := limit.GapOf(r.Seep, 23.5e-3, 101325, 293.15); err != nil || r.Gap != want || !(r.CostSeep > 0) {
		t.Errorf("in the others' terms %+v, want a gap of %g, %v", r, want, err)
	}
}

// Where the good port tells no figure, it is said, and workmanship and cost decide.
func TestKnownGoodPortWithoutFigure(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(b *book, good *Port)
	}{
		{"not tested", func(*book, *Port) {}},
		{"refused", func(b *book, good *Port) { b.test(1, good, refused()) }},
		{"\"less than\" only", func(b *book, good *Port) {
			r := reading(6, 0.05)
			r.UpperLimitOnly = true
			b.test(1, good, r)
		}},
		{"wet", func(b *book, good *Port) {
			b.test(1, good, reading(6, 0.05), func(c *Conditions) { c.Wet = "petrol" })
		}},
		{"with a mask only", func(b *book, good *Port) {
			b.test(1, good, reading(6, 0.05), func(c *Conditions) { c.Masked = good.Valves[:1] })
		}},
		{"worked on since", func(b *book, good *Port) {
			b.test(1, good, reading(6, 0.05))
			b.work(2, WorkCut, good.Valves...)
		}},
		{"a port that is not there", func(b *book, good *Port) {
			b.test(1, good, reading(6, 0.05))
			b.Job.Limit.Good = "p99"
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, good := goodBook(t)
			c.do(b, good)
			p := b.port(2, Intake)
			b.test(9, p, reading(10, 0.05))
			got := b.card().of(p)
			if r := got.rowOf(limit.ByGoodPort); r.One != 0 || r.Counts || !strings.Contains(r.Fault, "no leak rate") {
				t.Errorf("the good port's row: %+v", r)
			}
			if first := got.Limits[0]; first.Kind != limit.ByWorkmanship || !first.Decides {
				t.Errorf("%s decides", first.Kind)
			}
		})
	}
}

// A drop below the blanked reading, on the pump of the rig: twice the pump, twice
// the limit; the row says the drop that was set, and workmanship beside it which
// drop it means.
func TestDropDecides(t *testing.T) {
	const inHg = 3386.389
	limits := map[float64]float64{}
	for _, flow := range []float64{10, 20} {
		b := newBook(t)
		b.Cost = cheap(2000, 400, 0.1)
		b.Pump = pumpOf(t, flow)
		b.Job.Limit.Basis, b.Job.Limit.Drop = limit.ByDrop, unit.Exactly(2*inHg)
		p := b.port(2, Intake)
		b.test(1, p, reading(10, 0.05))
		got := b.card().of(p)
		r := got.Limits[0]
		if r.Kind != limit.ByDrop || !r.Decides || r.Set != 2*inHg || got.OneLimit != r.One {
			t.Errorf("%g L/min: %+v", flow, r)
		}
		if math.Abs(r.Drop-2*inHg) > 0.01 {
			t.Errorf("%g L/min: the limit of a drop of %g Pa moves the needle by %g", flow, 2*inHg, r.Drop)
		}
		if want := 0.868305 * flow * 1e3 / 10; math.Abs(r.Opening/cm3min-want) > 1e-3*want { // by hand, on the straight line
			t.Errorf("%g L/min: as an opening %.1f cm³/min, want %.1f", flow, r.Opening/cm3min, want)
		}
		limits[flow] = r.One
		// The straight line again: 78 kPa times what a slot passes there, over the free
		// flow. A slot without slip passes as v (2 pa - v).
		w := got.rowOf(limit.ByWorkmanship)
		v := 78e3 - w.Drop
		seep := w.Seep * v * (2*101325 - v) / (50e3 * (2*101325 - 50e3)) // without slip
		if want := 78e3 * seep / (flow * 1e3 * cm3min); math.Abs(w.Drop-want) > 0.05*want {
			t.Errorf("%g L/min: workmanship means a drop of %.0f Pa, by hand %.0f", flow, w.Drop, want)
		}
	}
	if r := limits[20] / limits[10]; math.Abs(r-2) > 0.02 { // inertia only
		t.Errorf("twice the pump lets %.4f times as much pass", r)
	}
}

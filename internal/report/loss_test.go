package report

import (
	"math"
	"testing"

	"seatproof/engine"
	"seatproof/head"
	"seatproof/leak"
	"seatproof/unit"
)

// Draws of a figure have its middle and its ±, none below zero, and the way of
// flowing that was stated.
func TestLeakDraws(t *testing.T) {
	for _, c := range []struct {
		kind  leak.Kind
		share float64 // mean
	}{{leak.KindOpening, 1}, {leak.KindSeep, 0}, {leak.KindUnresolved, 0.5}} {
		const q, s = 1e-6, 0.2e-6
		var mean, square, share float64
		d := LeakDraws(unit.About(q, s), c.kind)
		for _, x := range d {
			n := float64(len(d))
			mean, square, share = mean+x.Flow/n, square+x.Flow*x.Flow/n, share+x.Share/n
		}
		if sd := math.Sqrt(square - mean*mean); math.Abs(mean/q-1) > 1e-6 || math.Abs(1.96*sd/s-1) > 0.01 || math.Abs(share-c.share) > 1e-9 {
			t.Errorf("%s: mean %g, ± %g, share %g; want %g, %g, %g", c.kind, mean, 1.96*sd, share, q, s, c.share)
		}
		for _, x := range LeakDraws(unit.About(q, 1.9*q), c.kind) {
			if x.Flow < 0 {
				t.Fatalf("%s: a draw of %g", c.kind, x.Flow)
			}
		}
	}
}

// Leaks of one cylinder add up, and each keeps its way of flowing.
func TestLeaksTogether(t *testing.T) {
	a := LossLeak{Kind: leak.KindOpening, Draws: LeakDraws(unit.Exactly(3e-6), leak.KindOpening)}
	b := LossLeak{Kind: leak.KindSeep, Draws: LeakDraws(unit.Exactly(1e-6), leak.KindSeep)}
	for _, d := range together([]LossLeak{a, b}).Draws {
		if math.Abs(d.Flow-4e-6) > 1e-15 || math.Abs(d.Share-0.75) > 1e-12 {
			t.Fatalf("3 through an opening and 1 as a seep make %g with a share of %g", d.Flow, d.Share)
		}
	}
}

// An intake valve leaks to its port, which is at the manifold's pressure at idle: it
// loses more there than an exhaust valve with the same leak, and as much on the
// starter. Each leak flows by the air of its own test.
func TestLossByPort(t *testing.T) {
	e := head.Engine{Bore: unit.Exactly(48e-3), Stroke: unit.Exactly(49.7e-3), CompressionRatio: unit.Exactly(9.5)}
	ask := LossAsk{Room: 101325, Temp: 293.15}
	ask.Engine, ask.Guessed = EngineGiven(&e)
	of := func(x ...LossLeak) CylinderLoss {
		ask.Cylinders = []LossCylinder{{Leaks: x}}
		l, err := LossOf(ask)
		if err != nil {
			t.Fatal(err)
		}
		return l.Cylinders[0]
	}
	seep := LossLeak{Kind: leak.KindSeep, Draws: LeakDraws(unit.Exactly(100e-6/60), leak.KindSeep)}
	intake := seep
	intake.Intake = true
	a, b := of(seep).Cost, of(intake).Cost
	if r := b.Idle.Share.Median / a.Idle.Share.Median; !(r > 1.08 && r < 1.25) {
		t.Errorf("at idle an intake valve loses %v times what an exhaust valve does", r)
	}
	if a.Cranking != b.Cranking {
		t.Errorf("on the starter %v and %v", a.Cranking, b.Cranking)
	}
	high := seep
	high.Room = 83.5e3 // the same flow at 50 kPa of vacuum in thinner air is a wider seat
	if r := of(high).Cost.Cranking.Share.Median / a.Cranking.Share.Median; !(r > 1.03 && r < 1.12) {
		t.Errorf("tested at 83.5 kPa it costs %v times as much here", r)
	}
}

// A leak of the limit itself is over it as often as not, and costs the share that
// the limit stands for; a hundredth of it is never over.
func TestLossOfTheLimit(t *testing.T) {
	e := head.Engine{Bore: unit.Exactly(0.072), Stroke: unit.Exactly(0.0818)}
	ask := LossAsk{Room: 101325, Temp: 293.15}
	ask.Engine, ask.Guessed = EngineGiven(&e)
	of := func(q float64, kind leak.Kind) *Loss {
		ask.Cylinders = []LossCylinder{{Leaks: []LossLeak{{Kind: kind, Draws: LeakDraws(unit.Exactly(q), kind)}}}}
		l, err := LossOf(ask)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	limit, err := ask.Engine.CostLimit(CostShare, ask.Room, ask.Temp)
	if err != nil {
		t.Fatal(err)
	}
	l := of(limit.Seep, leak.KindSeep)
	if c := l.Cylinders[0]; math.Abs(c.Over-0.5) > 1e-9 || math.Abs(c.Cost.Cranking.Share.Median/CostShare-1) > 0.1 {
		t.Errorf("a leak of the limit: chance over %g, lost %g; want 0.5 and %g", c.Over, c.Cost.Cranking.Share.Median, CostShare)
	}
	if got := at(l.Curve.Flows, l.Curve.Seep, limit.Seep); math.Abs(got.Median/CostShare-1) > 0.1 {
		t.Errorf("the curve has %g lost at the limit, want %g", got.Median, CostShare)
	}
	if c := of(limit.Opening/100, leak.KindOpening).Cylinders[0]; c.Over > 1e-6 {
		t.Errorf("a hundredth of the limit: chance over %g", c.Over)
	}
	// the same leak takes less of a larger cylinder
	for i := 1; i < len(l.Others); i++ {
		var less engine.Estimate = l.Others[i].Lost
		if less.Median >= l.Others[i-1].Lost.Median || l.Others[i].Limit.Seep <= l.Others[i-1].Limit.Seep {
			t.Errorf("in %g m³ %g is lost, in %g m³ %g", l.Others[i].Swept, less.Median, l.Others[i-1].Swept, l.Others[i-1].Lost.Median)
		}
	}
}

// A leak has the figure that its port's row has, however the draws were thinned.
func TestLossOneFigure(t *testing.T) {
	draws := LeakDraws(unit.About(0.11e-6, 0.01e-6), leak.KindSeep)
	r := &leak.Reading{Leak: &leak.Interval{Median: 0.1117e-6, Low: 0.1e-6, High: 0.12e-6}, Kind: leak.KindSeep, Draws: draws}
	l := LeakOf("intake port", r, nil, true)
	if got := flowOf(l); got != *r.Leak {
		t.Errorf("%v of a reading that says %v", got, *r.Leak)
	}
	if got, want := (Style{}).lossFlow(l), "6.7 cm³/min (6.0 to 7.2)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

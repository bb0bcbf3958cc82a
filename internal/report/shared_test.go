package report

import (
	"math"
	"slices"
	"testing"

	"seatproof/crosscheck"
	"seatproof/engine"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/leak"
	"seatproof/unit"
)

// A port between two cylinders: where masks told which valve leaks, its cylinder has
// the leak, for what it costs and for what a cranking gauge shows alike; where nothing
// told, each has a part that may be anything.
func TestPortBetweenCylinders(t *testing.T) {
	j, f := head.Layout(head.Scheme{
		Form: head.FormInline, Cylinders: 2, Valves: 2, Exhaust: head.PortPairs, Bore: unit.Exactly(80e-3), Stroke: unit.Exactly(82e-3),
		IntakeHead: unit.Exactly(36e-3), ExhaustHead: unit.Exactly(30e-3),
	})
	if err := f.Err(); err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(j.Ports, func(p head.Port) bool { return len(p.Cylinders) == 2 })
	p := &j.Ports[at]
	share := func(id string, known bool, median, low, high float64) head.ValveLeak {
		return head.ValveLeak{ID: id, Known: known, OpeningLeak: head.OpeningLeak{Share: head.Estimate{Median: median, Low: low, High: high}}}
	}
	told := &head.Apart{Valves: []head.ValveLeak{share(p.Valves[0], true, 0.95, 0.9, 0.99), share(p.Valves[1], true, 0.03, 0, 0.08)}}
	untold := &head.Apart{Valves: []head.ValveLeak{share(p.Valves[0], false, 0.5, 0, 1), share(p.Valves[1], false, 0.5, 0, 1)}}
	rd := &leak.Reading{Room: gas.SeaLevelPressure, RoomTemp: 293.15, Leak: &leak.Interval{Median: 5e-6, Low: 5e-6, High: 5e-6}, Draws: LeakDraws(unit.Exactly(5e-6), leak.KindSeep)}
	for _, c := range []struct {
		name               string
		apart              *head.Apart
		one, two, one2half float64 // middle part in each cylinder; how far the first may go
	}{
		{"nothing told", nil, 0.5, 0.5, 0.025},
		{"masks that tell nothing", untold, 0.5, 0.5, 0.025},
		{"the first cylinder's valve leaks", told, 0.95, 0.03, 0.9},
	} {
		ports := make([]PortRead, len(j.Ports))
		for i := range ports {
			ports[i].Card = &head.PortCard{ID: j.Ports[i].ID}
		}
		ports[at].Card = &head.PortCard{ID: p.ID, Counted: []string{"t"}, Reading: rd, Apart: c.apart}
		ask := LossOfHead(&j, ports)
		for k, want := range []float64{c.one, c.two} {
			draws := ask.Cylinders[k].Leaks[0].Draws
			flows := make([]float64, len(draws))
			valve := make([]engine.Leak, len(draws))
			for i, d := range draws {
				flows[i] = d.Flow / 5e-6
				valve[i] = engine.Leak{Flow: d.Flow, Share: d.Share, Edge: d.Edge, Room: gas.SeaLevelPressure, Temp: 293.15}
			}
			slices.Sort(flows)
			if got := flows[len(flows)/2]; math.Abs(got-want) > 0.02 {
				t.Errorf("%s: cylinder %d has %.3g of the leak, want %.3g", c.name, k+1, got, want)
			}
			if least := flows[len(flows)/40]; k == 0 && math.Abs(least-c.one2half) > 0.02 {
				t.Errorf("%s: cylinder 1 has at least %.3g of it, want %.3g", c.name, least, c.one2half)
			}
			lost, err := ask.Engine.Loss(valve)
			if err != nil {
				t.Fatal(err)
			}
			l := crosscheck.Leak{Port: crosscheck.Port{Room: gas.SeaLevelPressure, Temp: 293.15}, Part: PartOf(&j, p, ports[at].Card, k+1)}
			for _, d := range rd.Draws {
				l.Draws = append(l.Draws, crosscheck.Draw{Flow: d.Flow, Share: d.Share, Edge: d.Edge})
			}
			gauge, err := crosscheck.Cranking{Engine: ask.Engine}.Forecast(l)
			if err != nil {
				t.Fatal(err)
			}
			if a, b := lost.Cranking.Share.Median, gauge.Cost.Median; math.Abs(a/b-1) > 0.1 {
				t.Errorf("%s: cylinder %d loses %.3g by its cost, %.3g by the cranking gauge", c.name, k+1, a, b)
			}
		}
	}
	if part := PartOf(&j, &j.Ports[0], nil, j.Ports[0].Cylinders[0]); len(j.Ports[0].Cylinders) == 1 && part.At(0.3) != 1 {
		t.Errorf("a port of one cylinder counts with %v", part.At(0.3))
	}
}

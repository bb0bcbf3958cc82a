package check

import (
	"math"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/unit"
)

// A pump keeps its pressure ratio: 78 kPa at sea level are 61.2 at 2,000 m
// (79,495 Pa there, ISO 2533), and 60 kPa are reached up to where the air is at
// 60/78 of sea level's.
func TestAltitude(t *testing.T) {
	c, err := Choose(plainParts())
	if err != nil {
		t.Fatal(err)
	}
	at, highest := c.Altitudes(&c.Rigs[0])
	within(t, "2000 m", at[2].Blanked, 79495.22*78e3/101325, 1e-4)
	pa, err := gas.StandardPressure(highest)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "highest", pa, 101325*60./78, 1e-6)
	// with the same free flow the needle drops in proportion to what there is to drop
	within(t, "drop at 2000 m", at[2].Needle/at[0].Needle, at[2].Blanked/at[0].Blanked, 2e-3)
}

// The drop at another altitude is where the gauge sits: at the altitude of the choice
// itself, sea level, it is that of the table of drops, at either end of a thin hose.
func TestAltitudeGauge(t *testing.T) {
	var drops []float64
	for _, at := range []rig.GaugePlace{rig.GaugeAtPort, rig.GaugeAtPump} {
		p := plainParts()
		p.Ports[0].Limit = 500 * perMin
		p.Hoses[0].Hose = rig.Hose{Bore: unit.Exactly(1.5e-3), Length: unit.Exactly(2), GaugeAt: at}
		c, err := Choose(p)
		if err != nil {
			t.Fatal(err)
		}
		elsewhere, _ := c.Altitudes(&c.Rigs[0])
		d := c.Rigs[0].Ports[0].Drops[1]
		if d.Times != 1 {
			t.Fatalf("the second drop is that of %g limits", d.Times)
		}
		within(t, "drop at sea level, gauge at the "+string(at), elsewhere[0].Needle, d.Needle, 1e-9)
		drops = append(drops, elsewhere[0].Needle)
	}
	if !(drops[0] > drops[1]+1e3) {
		t.Errorf("at the port it drops %g Pa, at the pump %g: the hose takes the rest", drops[0], drops[1])
	}
}

// Every rig is weighed at sea level as well, or, from there, at 2,000 m: what it says
// is what weighing the list in that room says. The air pressures are those of ISO 2533.
func TestElsewhere(t *testing.T) {
	for _, c := range []struct {
		name         string
		here, there  float64 // Pa
		at           float64 // m
		readHere     bool
		wantsSmaller bool // there the pump pulls less deep
	}{
		{"from sea level to 2,000 m", 101325, 79495.22, 2000, false, true},
		{"from 2,000 m to sea level", 79495.22, 101325, 0, false, false},
		{"bad weather at sea level", 99500, 79495.22, 2000, false, true},
		{"from a room at 84 kPa, read there", 84e3, 101325, 0, true, false},
	} {
		parts := func(pa float64) Parts {
			p := plainParts()
			p.Air.Pressure = unit.Exactly(pa)
			p.Ports[0].Limit = 20 * perMin
			return p
		}
		p := parts(c.here)
		p.Pumps[0].Pump.Blanked.Spread = 0 // then it is 3 % of itself in both rooms
		q := parts(c.there)
		q.Pumps[0].Pump.Blanked.Spread = 0
		if c.readHere {
			p.Pumps[0].ReadHere = true
			p.Pumps[0].Pump.Blanked.Value = 60e3
			q.Pumps[0].Pump.Blanked.Value = 60e3 * c.there / c.here
		}
		here, err := Choose(p)
		if err != nil {
			t.Fatal(c.name, err)
		}
		there, err := Choose(q)
		if err != nil {
			t.Fatal(c.name, err)
		}
		x, y := here.Rigs[0], there.Rigs[0]
		e := x.Elsewhere
		if e == nil {
			t.Errorf("%s: nothing is said of it", c.name)
			continue
		}
		s := y.Ports[y.Worst]
		within(t, c.name+": altitude", e.At, c.at, 1e-9)
		within(t, c.name+": air", e.Pressure, c.there, 1e-6)
		within(t, c.name+": blanked", e.Blanked, y.Blanked, 1e-5)
		within(t, c.name+": drop", e.Needle, s.Drops[1].Needle, 1e-4)
		within(t, c.name+": least by the hold", e.Thumb.Low, s.Thumb.Low, 1e-4)
		within(t, c.name+": least by the needle", e.Steady.Low, s.Steady.Low, 1e-4)
		within(t, c.name+": most by the needle", e.Steady.High, s.Steady.High, 1e-4)
		if e.Tells != y.Tells {
			t.Errorf("%s: it tells %d, weighed there %d", c.name, e.Tells, y.Tells)
		}
		if (e.Blanked < x.Blanked) != c.wantsSmaller || math.Abs(e.Needle-x.Ports[0].Drops[1].Needle) < 1 {
			t.Errorf("%s: blanked %.0f here, %.0f there; drops %.1f and %.1f", c.name, x.Blanked, e.Blanked, x.Ports[0].Drops[1].Needle, e.Needle)
		}
	}
}

package check

import (
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

// The slips of data sheets, and sheets that are sound: a table. Units are those of
// NIST SP 811; what power a flow takes is derived (isothermal compression).
func TestSlips(t *testing.T) {
	const (
		litre = 1e-3 / 60            // m³/s in a L/min
		cfm   = 28.316846592e-3 / 60 // in a ft³/min
	)
	flows := func(v ...float64) []Stated {
		var out []Stated
		for _, x := range v {
			out = append(out, Stated{"some", x})
		}
		return out
	}
	sound := PumpPart{Name: "p", Pump: rig.Pump{FreeFlow: unit.Exactly(10 * litre), Blanked: unit.Exactly(78e3)}, Power: 12}
	for _, c := range []struct {
		name  string
		pa    float64
		set   func(*PumpPart)
		want  SlipCode // "": nothing to ask
		field string
		maybe string
	}{
		{"sound", 0, func(*PumpPart) {}, "", "", ""},
		{"sound in two units", 0, func(p *PumpPart) { p.Flows, p.Vacuums = flows(10*litre, 0.35*cfm), flows(78e3, 23*3386.389) }, "", "", ""},
		{"sound, large, 5 cfm on 370 W", 0, func(p *PumpPart) {
			p.Pump.FreeFlow, p.Pump.Blanked, p.Power = unit.Exactly(5*cfm), unit.Exactly(101.305e3), 370
		}, "", "", ""},
		{"sound, tiny, 2.5 L/min on 4 W", 0, func(p *PumpPart) {
			p.Pump.FreeFlow, p.Pump.Blanked, p.Power = unit.Exactly(2.5*litre), unit.Exactly(52e3), 4
		}, "", "", ""},
		{"vacuum tenfold between kPa and bar", 0, func(p *PumpPart) { p.Vacuums = flows(78e3, 7.8e3) }, SlipTenfold, "blanked", "decimal mark"},
		{"flow tenfold between L/min and m³/h", 0, func(p *PumpPart) { p.Flows = flows(10*litre, 100*litre) }, SlipTenfold, "free_flow", "decimal mark"},
		{"flow a thousandfold", 0, func(p *PumpPart) { p.Flows = flows(10*litre, 10e-3*litre) }, SlipTenfold, "free_flow", "decimal mark"},
		{"cubic feet beside litres", 0, func(p *PumpPart) { p.Flows = flows(2.5*litre, 2.5*cfm) }, SlipCubicFeet, "free_flow", "28.3"},
		{"seconds for minutes", 0, func(p *PumpPart) { p.Flows = flows(10*litre, 600*litre) }, SlipUnlike, "free_flow", "seconds"},
		{"two vacuums that differ by 8 %", 0, func(p *PumpPart) { p.Vacuums = flows(78e3, 25*3386.389) }, SlipUnlike, "blanked", ""},
		{"cubic feet read as litres, seen by the power", 0, func(p *PumpPart) { p.Pump.FreeFlow, p.Power = unit.Exactly(2.5*litre), 180 }, SlipCubicFeet, "free_flow", "71 L/min"},
		{"litres read as cubic feet, seen by the power", 0, func(p *PumpPart) { p.Pump.FreeFlow = unit.Exactly(10 * cfm) }, SlipPower, "power", "cubic feet"},
		{"flow tenfold too large for the power", 0, func(p *PumpPart) { p.Pump.FreeFlow, p.Power = unit.Exactly(100*litre), 20 }, SlipPower, "power", "ten times too large"},
		{"absolute for vacuum, beside the end pressure", 0, func(p *PumpPart) {
			p.Pump.Blanked, p.Vacuums, p.End = unit.Exactly(23e3), flows(23e3), Stated{"23 kPa", 23e3}
		}, SlipAbsolute, "blanked", "78.3"},
		{"absolute for vacuum, alone", 0, func(p *PumpPart) { p.Pump.Blanked = unit.Exactly(23e3) }, SlipAbsolute, "blanked", "78.3"},
		{"vacuum for absolute", 0, func(p *PumpPart) { p.Pump.Blanked, p.End = unit.Exactly(101325-78e3), Stated{"78 kPa", 78e3} }, SlipAbsolute, "end_pressure", "78"},
		{"sound, by its end pressure", 0, func(p *PumpPart) { p.Pump.Blanked, p.End = unit.Exactly(101325-23e3), Stated{"23 kPa", 23e3} }, "", "", ""},
		{"sound, both stated", 0, func(p *PumpPart) { p.Vacuums, p.End = flows(78e3), Stated{"23 kPa", 23e3} }, "", "", ""},
		{"end pressure and vacuum that don't add up", 0, func(p *PumpPart) { p.Vacuums, p.End = flows(78e3), Stated{"40 kPa", 40e3} }, SlipUnlike, "end_pressure", ""},
		{"deeper than any air", 0, func(p *PumpPart) { p.Pump.Blanked = unit.Exactly(780e3) }, SlipTooDeep, "blanked", "78"},
		{"deeper than sea level", 0, func(p *PumpPart) { p.Pump.Blanked = unit.Exactly(104e3) }, SlipTooDeep, "blanked", "unit"},
		{"deeper than the room it was read in", 79.5e3, func(p *PumpPart) { p.Pump.Blanked, p.ReadHere = unit.Exactly(85e3), true }, SlipTooDeep, "blanked", "sea level"},
		{"rated at sea level, used at 2,000 m", 79.5e3, func(p *PumpPart) { p.Pump.Blanked = unit.Exactly(85e3) }, "", "", ""},
	} {
		p := sound
		c.set(&p)
		pa := c.pa
		if pa == 0 {
			pa = 101325
		}
		got := Slips(Parts{Pumps: []PumpPart{p}}, pa)
		if c.want == "" {
			if len(got) > 0 {
				t.Errorf("%s: asks %s %q", c.name, got[0].Code, got[0].What)
			}
			continue
		}
		if len(got) == 0 {
			t.Errorf("%s: nothing asked", c.name)
			continue
		}
		s := got[0]
		if s.Code != c.want || s.Field != c.field || !strings.Contains(s.Maybe.String(), c.maybe) && !strings.Contains(s.What.String(), c.maybe) {
			t.Errorf("%s: got %s at %s, %q, %q; want %s at %s, with %q", c.name, s.Code, s.Field, s.What, s.Maybe, c.want, c.field, c.maybe)
		}
		if s.Blocks != (c.want == SlipTooDeep) {
			t.Errorf("%s: blocks is %v", c.name, s.Blocks)
		}
	}
}

// A pump whose figures rule it out is left out, one that is only odd is weighed
// behind the others.
func TestQuestionedPumps(t *testing.T) {
	p := plainParts()
	deep, odd := p.Pumps[0], p.Pumps[0]
	deep.Name, deep.Pump.Blanked = "deep", unit.Exactly(120e3)
	odd.Name, odd.Pump.Blanked = "odd", unit.Exactly(40e3)
	p.Pumps = []PumpPart{deep, odd, p.Pumps[0]}
	c, err := Choose(p)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Rigs) != 2 || c.Rigs[0].Pump != 2 || c.Rigs[1].Pump != 1 || !c.Rigs[1].Questioned {
		t.Errorf("%d rigs, first of pump %d", len(c.Rigs), c.Rigs[0].Pump)
	}
}

// A gauge that ends before any pump of the list is asked about.
func TestShortGauge(t *testing.T) {
	p := plainParts()
	p.Gauges[0].Gauge.Span.High = 10e3
	c, err := Choose(p)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Questions) != 1 || c.Questions[0].Code != SlipGauge || !c.Rigs[0].Pegged || c.Rigs[0].Ports[0].Steady.Any() {
		t.Errorf("a gauge of 10 kPa on a pump of 78: %+v", c.Questions)
	}
}

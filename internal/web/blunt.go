package web

import (
	"fmt"
	"math"

	"seatproof/internal/report"
	"seatproof/rig"
)

// blunt says, before anybody takes a steady reading alone, how much leak it
// can't tell on this rig, and how much finer a hold of 15 s is: half a division
// and the blanked reading's scatter d go through the pump's curve near its
// blanked reading, two readings of the hold through its volume,
//
//	steady: ± slope·d    hold: ± √2·(division/2)·V/(pa·15 s)
//
// free air, 95 %. Without a stated scatter it is 3 %, which cheap pumps show
// (common practice, no source). Source: docs/model.md §2, §3 and §4.11.
func blunt(r rig.Rig, name string) string {
	pa := room(r)
	if pa == 0 {
		pa = 101325
	}
	c, err := r.Pump.Here(pa)
	if err != nil {
		return "This rig has no free flow or no blanked reading of its pump yet: a steady reading alone says nothing without them."
	}
	u, ok := report.UnitNamed(name)
	if !ok {
		return ""
	}
	half, step := r.Gauge.Division/2, "half a division"
	if half <= 0 {
		half, step = r.Gauge.Resolution, "one step of the gauge"
	}
	v0 := c.Blanked()
	scatter, of := .03*v0, "3 %, usual for small pumps"
	if b := r.Pump.Blanked; b.Known && b.Spread > 0 {
		scatter, of = b.Spread, report.Figure(b.Spread/u.Size, 2)+" "+u.Name
	}
	flow := func(d float64) float64 { return c.Flow(v0-2*d) / 2 } // across the doubt, not at a point
	steady := flow(math.Hypot(half, scatter))
	out := "On this rig "
	if half > 0 {
		out += fmt.Sprintf("%s, %s %s, is ± %s cm³/min, and ", step, report.Figure(half/u.Size, 2), u.Name, report.Figure(flow(half)*6e7, 2))
	}
	out += fmt.Sprintf("the blanked reading's scatter, %s, is ± %s cm³/min.", of, report.Figure(flow(scatter)*6e7, 2))
	if half <= 0 {
		return out
	}
	volume, say := r.Volume.Value+r.Port.Volume.Value, "with its volume"
	if !r.Volume.Known || !r.Port.Volume.Known {
		volume, say = 150e-6, "on 150 cm³, say"
		if r.Volume.Known {
			volume, say = r.Volume.Value+95e-6, "with a port of 95 cm³, say"
		}
	}
	hold := math.Sqrt2 * half * volume / (pa * 15)
	if hold > 0 && steady > 1.5*hold {
		out += fmt.Sprintf(" The two readings of a 15 s hold are ± %s cm³/min %s: %s times finer.", report.Figure(hold*6e7, 2), say, report.Figure(steady/hold, 2))
	}
	return out
}

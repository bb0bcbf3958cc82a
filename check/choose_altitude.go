package check

import (
	"math"

	"seatproof/gas"
	"seatproof/unit"
)

// Altitude is what a pump reaches elsewhere.
type Altitude struct {
	At      float64 // m
	Blanked float64 // Pa
	Needle  float64 // Pa that the limit of the port seen worst drops the needle
}

// Altitudes returns what a rig would do at sea level, at 1,000 and 2,000 m, and
// the greatest altitude [m] at which its pump still reaches 60 kPa; NaN where it
// never does, +Inf where it does everywhere. The pump keeps its pressure ratio.
func (c *Choice) Altitudes(x *Candidate) (at []Altitude, highest float64) {
	p := c.Parts
	pump := c.carried(x.Pump)
	for _, h := range []float64{0, 1000, 2000} {
		pa, err := gas.StandardPressure(h)
		if err != nil {
			continue
		}
		w, err := c.wayAt(pump, x.Hose, pa)
		if err != nil {
			continue
		}
		at = append(at, Altitude{h, w.port[0], w.reading(0, x.GaugeAtPump) - w.reading(p.Ports[x.Worst].Limit, x.GaugeAtPump)})
	}
	rated := pump.rated(c.Pressure)
	curve, err := pump.here(rated)
	if err != nil || !(curve.Blanked() > 0) {
		return at, math.NaN()
	}
	least := deep / (curve.Blanked() / rated) // air pressure at which it just reaches it
	switch h, err := gas.AltitudeAt(least); {
	case err == nil:
		return at, h
	case least < 30e3:
		return at, math.Inf(1)
	}
	return at, math.NaN()
}

// carried is a pump of the list as it can be taken elsewhere: one that was read
// here is rated at the air pressure here.
func (c *Choice) carried(pump int) PumpPart {
	x := c.Parts.Pumps[pump]
	if x.ReadHere {
		x.ReadHere, x.Pump.RatedAt = false, unit.Exactly(c.Pressure)
	}
	return x
}

// wayAt is the way of a pump through a hose of the list in a room at pa [Pa].
func (c *Choice) wayAt(pump PumpPart, hose int, pa float64) (*way, error) {
	q := *c
	q.Pressure = pa
	curve, err := pump.here(pa)
	if err != nil {
		return nil, err
	}
	return q.way(curve, c.Parts.Hoses[hose].Hose)
}

// Elsewhere is what a rig would do at another altitude, on the port that it sees
// least of here. The limit stays the figure it is here: what an opening passes at
// 50 kPa does not change with altitude.
type Elsewhere struct {
	At       float64 // m
	Pressure float64 // Pa, of the air there
	Blanked  float64 // Pa
	Needle   float64 // Pa that the limit drops the needle
	Steady   Range   // leaks that the steady reading tells
	Thumb    Range   // leaks that a hold of 15 s tells
	Tells    Tells
}

// Where a rig is taken for comparison: to sea level, or, from a room whose air is
// within a weather's change (2 kPa) of that, to 2,000 m.
const (
	weather = 2e3    // Pa
	upThere = 2000.0 // m
)

// elsewhere weighs every rig at sea level, or, where that is here, at 2,000 m. The
// pump keeps its pressure ratio, and what its blanked reading scatters goes with the
// air as the reading does.
func (c *Choice) elsewhere() {
	at, pa := 0.0, gas.SeaLevelPressure
	if math.Abs(c.Pressure-gas.SeaLevelPressure) <= weather {
		there, err := gas.StandardPressure(upThere)
		if err != nil {
			return
		}
		at, pa = upThere, there
	}
	ways := map[[2]int]*way{} // by pump and hose: gauges share them
	for i := range c.Rigs {
		x := &c.Rigs[i]
		key := [2]int{x.Pump, x.Hose}
		w, ok := ways[key]
		if !ok {
			if there, err := c.wayAt(c.carried(x.Pump), x.Hose, pa); err == nil {
				w = there
			}
			ways[key] = w
		}
		if w == nil {
			continue
		}
		y := *x
		y.way, y.Blanked = w, w.port[0]
		y.Scatter = x.Scatter * pa / c.Pressure
		y.Pegged = y.Blanked > c.Parts.Gauges[x.Gauge].Gauge.Span.High
		s := c.sight(&y, c.Parts.Ports[x.Worst])
		x.Elsewhere = &Elsewhere{At: at, Pressure: pa, Blanked: y.Blanked, Needle: s.Drops[1].Needle, Steady: s.Steady, Thumb: s.Thumb, Tells: s.tells(&y)}
	}
}

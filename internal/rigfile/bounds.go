package rigfile

import (
	"errors"
	"fmt"

	"seatproof/rig"
	"seatproof/unit"
)

// Bounds beyond which a figure smells of a slip [Pa]. The air pressure covers
// all places a head is worked on, from below sea level to 5,500 m.
const (
	lowestAir     = 50e3
	deepestVacuum = 110e3 // and highest air pressure
)

// above makes a check that a figure is over low and at most high.
func above(low, high float64, most string) func(unit.Quantity) error {
	return func(q unit.Quantity) error {
		if q.Value <= low {
			return fmt.Errorf("%s is not above zero: check sign and figure", q)
		}
		return within(q, low, high, most)
	}
}

// from makes a check that a figure is at least low and at most high.
func from(low, high float64, most string) func(unit.Quantity) error {
	return func(q unit.Quantity) error { return within(q, low, high, most) }
}

func within(q unit.Quantity, low, high float64, most string) error {
	switch {
	case q.Value < low && low == 0:
		return fmt.Errorf("%s is below zero: check the sign", q)
	case q.Value < low:
		return fmt.Errorf("%s is below -%s: can that be? Check figure and unit", q, most)
	case q.Value > high:
		return fmt.Errorf("%s is more than %s: can that be? Check figure and unit", q, most)
	}
	return nil
}

// vacuum checks a depth below the room.
func vacuum(q unit.Quantity) error {
	switch {
	case q.Value < 0:
		return fmt.Errorf("%s is negative: a vacuum is how far below the room's pressure, a positive figure; write it without the sign", q)
	case q.Value == 0:
		return fmt.Errorf("%s is no vacuum at all: leave it out if it is not known", q)
	case q.Value > deepestVacuum:
		return fmt.Errorf("%s is deeper than any air pressure: no vacuum can be; is the unit right, or the figure ten times too large?", q)
	}
	return nil
}

// airPressure checks the pressure of a room.
func airPressure(q unit.Quantity) error {
	if q.Value < lowestAir || q.Value > deepestVacuum {
		return fmt.Errorf("%s is not an air pressure anyone works in (50 to 110 kPa): check figure and unit; it is absolute, as it is here", q)
	}
	return nil
}

func altitude(q unit.Quantity) error {
	if q.Value < -500 || q.Value > 5500 {
		return fmt.Errorf("%s above sea level is not where heads are worked on (-500 to 5500 m): check figure and unit", q)
	}
	return nil
}

// temperature makes a check in °C.
func temperature(low, high float64) func(unit.Quantity) error {
	return func(q unit.Quantity) error {
		if c := q.Value - 273.15; c < low || c > high {
			return fmt.Errorf("%s is not between %g and %g °C: check figure and unit", q, low, high)
		}
		return nil
	}
}

// between holds the checks of one key against others; each names the key it
// speaks of.
var between = []struct {
	key   string
	check func(rig.Rig) error
}{
	{"pump.blanked", func(r rig.Rig) error {
		air, where := r.Air.Pressure, "the air pressure"
		if r.Pump.RatedAt.Known {
			air, where = r.Pump.RatedAt, "rated_at,"
		}
		if !r.Pump.Blanked.Known || !air.Known || r.Pump.Blanked.Value <= air.Value+air.Spread {
			return nil
		}
		return deeper(r.Pump.Blanked.Value, air, where)
	}},
	{"pump.curve", func(r rig.Rig) error {
		n := len(r.Pump.Curve)
		air := r.Air.Pressure
		if n == 0 || !air.Known || float64(r.Pump.Curve[n-1].Vacuum) <= air.Value+air.Spread {
			return nil
		}
		return deeper(float64(r.Pump.Curve[n-1].Vacuum), air, "the air pressure")
	}},
	{"gauge.class", func(r rig.Rig) error {
		if r.Gauge.Class != 0 && r.Gauge.Accuracy.Known {
			return errors.New("accuracy is given as well, and both say the same thing: keep the one that is on the gauge")
		}
		return nil
	}},
	{"gauge.resolution", func(r rig.Rig) error { return coarse(r, r.Gauge.Resolution) }},
	{"gauge.division", func(r rig.Rig) error { return coarse(r, r.Gauge.Division) }},
}

func deeper(v float64, air unit.Measured, where string) error {
	return fmt.Errorf("a vacuum of %s is deeper than %s %s: no pump can pull that; is one of them wrong, or its unit?",
		unit.Format(unit.Exactly(v), unit.PressureDim, "kPa", 0), where, unit.Format(air, unit.PressureDim, "kPa", 0))
}

// coarse questions a gauge that has fewer than four steps on its scale.
func coarse(r rig.Rig, step float64) error {
	if s := r.Gauge.Span; s.Known && step > s.Width()/4 {
		return fmt.Errorf("%s is more than a quarter of the span: can that be? Check figures and units of both",
			unit.Format(unit.Exactly(step), unit.PressureDim, "kPa", 0))
	}
	return nil
}

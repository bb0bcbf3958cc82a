package engine

import (
	"fmt"
	"math"
	"strconv"

	"seatproof/gas"
)

// Fault reports a figure that no engine has, or with which nothing can be
// computed.
type Fault struct {
	Field string  // which figure, in a mechanic's words
	Value float64 // SI
	Shown string  // the same with the trade's unit, as in the message
	Want  string  // what it has to be: "be longer than half the stroke, 43 mm"
	Do    string  // what to do about it
}

func (f *Fault) Error() string {
	return fmt.Sprintf("engine: %s %s must %s: %s", f.Field, f.Shown, f.Want, f.Do)
}

func fault(field string, value float64, unit string, per float64, want, do string) *Fault {
	shown := figure(value * per)
	if unit != "" {
		shown += " " + unit
	}
	return &Fault{Field: field, Value: value, Shown: shown, Want: want, Do: do}
}

// figure writes four digits, without a power of ten where a mechanic would not.
func figure(v float64) string {
	if a := math.Abs(v); a >= 1e4 && a < 1e9 {
		unit := math.Pow(10, math.Floor(math.Log10(a))-3)
		return strconv.FormatFloat(math.Round(v/unit)*unit, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 4, 64)
}

// flow writes a leak rate [m³/s]: cm³/min, or L/min where it is large.
func flow(v float64) string {
	if v*60e3 >= 2 && !math.IsInf(v, 0) {
		return figure(v*60e3) + " L/min"
	}
	return figure(v*60e6) + " cm³/min"
}

const (
	degree    = math.Pi / 180
	perMinute = 2 * math.Pi / 60 // r/min in rad/s
)

// Range of what is taken: from a model engine to a ship's medium-speed one.
const (
	leastBore, mostBore   = 5e-3, 1.0 // m, of stroke too
	mostRatio             = 40
	leastSpeed, mostSpeed = 10 * perMinute, 20_000 * perMinute
	leastWall, mostWall   = 200.0, 1000.0 // K
	leastAir, mostAir     = 1e3, 1e6      // Pa
	leastTemp, mostTemp   = 200.0, 500.0  // K
)

// Check returns a *[Fault] for the first figure that no cylinder has.
func (c Cylinder) Check() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi } // false for NaN
	switch {
	case !in(c.Bore, leastBore, mostBore):
		return fault("bore", c.Bore, "mm", 1e3, "be from 5 to 1000 mm", "check the figure and its unit")
	case !in(c.Stroke, leastBore, mostBore):
		return fault("stroke", c.Stroke, "mm", 1e3, "be from 5 to 1000 mm", "check the figure and its unit")
	case !(c.Rod > c.Stroke/2):
		return fault("connecting rod", c.Rod, "mm", 1e3, "be longer than the crank's throw, half the stroke, "+figure(c.Stroke*500)+" mm", "give its length between the eyes' centres (usually 1.5 to 2 strokes), or leave it out")
	case !(c.Rod <= 10*c.Stroke):
		return fault("connecting rod", c.Rod, "mm", 1e3, "be at most ten strokes long", "give its length between the eyes' centres (usually 1.5 to 2 strokes), or leave it out")
	case !(c.Ratio > 1):
		return fault("compression ratio", c.Ratio, "", 1, "be above 1", "it is cylinder and chamber over chamber alone: with 1 or less there is no chamber, or a negative one")
	case c.Ratio < 2:
		return fault("compression ratio", c.Ratio, "", 1, "be at least 2", "a chamber larger than the cylinder's swept volume makes it so: give the chamber of one cylinder, in cm³")
	case !(c.Ratio <= mostRatio):
		return fault("compression ratio", c.Ratio, "", 1, "be at most 40", "check the chamber's volume and its unit")
	case !in(c.IntakeCloses, -60*degree, 120*degree):
		return fault("intake closing", c.IntakeCloses, "° after bottom dead centre", 1/degree, "be from -60° to 120°", "give it in degrees of the crankshaft after bottom dead centre")
	case !in(c.ExhaustOpens, -10*degree, 120*degree):
		return fault("exhaust opening", c.ExhaustOpens, "° before bottom dead centre", 1/degree, "be from -10° to 120°", "give it in degrees of the crankshaft before bottom dead centre")
	case !in(c.Rings, 0, 1e-2*c.Bore*c.Bore):
		return fault("ring blow-by area", c.Rings, "mm²", 1e6, "be 0 or more and below a hundredth of the bore's square", "give the effective area, about 0.3 mm² per litre")
	case !in(c.Wall, leastWall, mostWall):
		return fault("wall temperature", c.Wall, "K", 1, "be from 200 to 1000 K", "give it in kelvin")
	case c.Heat != Hohenberg && c.Heat != Woschni:
		return fault("heat law", float64(c.Heat), "", 1, "be Hohenberg or Woschni", "choose one of the two")
	case !in(c.SeatWidth, 0, 4*math.Pi*c.Bore):
		return fault("length round the seat", c.SeatWidth, "mm", 1e3, "be 0 (guessed) or up to 4π bores", "give pi times the seat's diameter")
	case !in(c.Contact, 0, 0.1*c.Bore):
		return fault("contact width", c.Contact, "mm", 1e3, "be 0 (guessed) or up to a tenth of the bore", "give the width of the bright ring on the seat")
	}
	return nil
}

func (r Run) check() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	switch {
	case r.Speed == 0:
		return fault("engine speed", r.Speed, "r/min", 1/perMinute, "be above 0", "an engine at rest keeps no pressure behind any leak: give the cranking speed, about 250 r/min for cars")
	case !in(r.Speed, leastSpeed, mostSpeed):
		return fault("engine speed", r.Speed, "r/min", 1/perMinute, "be from 10 to 20000 r/min", "check the figure: r/min of the crankshaft")
	case !in(r.Intake, leastAir, mostAir):
		return fault("pressure at intake closing", r.Intake, "kPa", 1e-3, "be from 1 to 1000 kPa absolute", "give it absolute, not as vacuum")
	case !in(r.Room, leastAir, mostAir):
		return fault("air pressure", r.Room, "kPa", 1e-3, "be from 1 to 1000 kPa", "give the pressure here, not reduced to sea level")
	case !in(r.Temp, leastTemp, mostTemp):
		return fault("air temperature", r.Temp, "K", 1, "be from 200 to 500 K", "give it in kelvin")
	case r.Within != 0 && !in(r.Within, 1e-14, 1e-2):
		return fault("tolerance of the solver", r.Within, "", 1, "be 0 (the usual one) or from 1e-14 to 0.01", "leave it 0")
	}
	if b := r.Burn; b != nil {
		switch {
		case !in(b.Start, -math.Pi, math.Pi) || !in(b.End, -math.Pi, math.Pi) || !(b.End-b.Start >= degree):
			return fault("burn", (b.End - b.Start), "°", 1/degree, "last at least a degree, within half a turn of top dead centre", "give begin and end of the burn after top dead centre")
		case !in(b.A, 0.1, 20):
			return fault("Wiebe's a", b.A, "", 1, "be from 0.1 to 20", "5 is usual")
		case !in(b.M, 0, 10):
			return fault("Wiebe's m", b.M, "", 1, "be from 0 to 10", "2 is usual")
		case !in(b.Energy, 0, 5e6):
			return fault("heat of the charge", b.Energy, "MJ/kg", 1e-6, "be from 0 to 5 MJ per kg of mixture", "2.7 is usual for petrol and air")
		}
	}
	return nil
}

func (l Leak) check() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi }
	switch {
	case !(l.Flow >= 0) || math.IsInf(l.Flow, 0):
		return fault("leak", l.Flow, "cm³/min", 60e6, "be 0 or more", "give the free-air flow at a vacuum of 50 kPa")
	case !in(l.Share, 0, 1):
		return fault("opening's share of the leak", l.Share, "", 1, "be from 0 (a seep) to 1 (an opening)", "give 0, 1 or what the test found")
	case !in(l.Edge, 0, 1):
		return fault("edge of the opening", l.Edge, "", 1, "be from 0 (rounded) to 1 (sharp)", "give 0, 1 or what the test found")
	case l.Flow > 0 && !(l.Room > 1.02*gas.StatedVacuum && l.Room <= mostAir):
		return fault("air pressure of the leak test", l.Room, "kPa", 1e-3, "be above the 50 kPa of vacuum at which leaks are stated", "give the air pressure where the head was tested")
	case l.Flow > 0 && !in(l.Temp, leastTemp, mostTemp):
		return fault("temperature of the leak test", l.Temp, "K", 1, "be from 200 to 500 K", "give it in kelvin")
	}
	return nil
}

// overCurtain is the fault of a leak wider than an open valve.
func overCurtain(l Leak, most float64) *Fault {
	return &Fault{Field: "leak", Value: l.Flow, Shown: flow(l.Flow), Want: "be below what the valve passes when it is wide open, about " + flow(most), Do: "that is no leak but an open port: check the figure and its unit, and that the valve was shut"}
}

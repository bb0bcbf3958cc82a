// Package crosscheck says what a leak that the vacuum test found would show in
// other tests, and what a figure seen there says about the leak.
//
// Start with a [Leak], the draws of a reading, and one of the tests:
// [LeakDown], [LiquidTest], [Cranking], [Pump]. Each forecasts its own figure
// with a 95 % interval, and goes backwards: from an observed figure to a leak
// rate or a bound of it. Leak rates are free air [m³/s] at a vacuum of 50 kPa.
// Laws, sources and limits: docs/model.md §7.
package crosscheck

import (
	"fmt"
	"math"
	"slices"

	"seatproof/engine"
	"seatproof/gas"
	"seatproof/num"
	"seatproof/unit"
)

// Draw is one equally likely state of a leak as the vacuum test states it.
type Draw struct {
	Flow  float64 // m³/s of free air at 50 kPa vacuum
	Share float64 // the opening's part of it, 0..1
	Edge  float64 // of the opening: 0 rounded .. 1 sharp
}

// Port is what is known of a port beside its leak rate.
type Port struct {
	Room, Temp float64 // Pa, K: the air of the vacuum test
	Seat       Seat
}

// Seat is the slot that a seep flows through: its size hardly moves what another
// gas test shows, but decides how a liquid is held. Not known is guessed, wide.
type Seat struct {
	Diameter unit.Measured // m; several valves: of one
	Contact  unit.Measured // m, width of the contact, along the flow
	Relief   unit.Measured // rad, by how much the walls part where the flow comes out: 90° a square edge
}

// Leak is a leak as far as it is known: of one port, in its air.
type Leak struct {
	Port
	Draws []Draw
	// Again is the sd of the logarithm of the leak from one test of the port to the
	// next: the other test is one more, with the valve lifted and dropped. 0: none.
	Again float64
	// Part is how much of the leak flows in the other test, where a port serves two
	// cylinders of which one is tested. The zero value: all of it.
	Part Part
}

// Part is how much of a leak is meant, 0..1.
type Part struct {
	Shared bool     // not all of it
	Told   bool     // Of is known; else it is anything from 0 to 1
	Of     Interval // say, by tests with valves masked
}

// At is the part at the chance u: each side of the median as a normal, cut at 0 and 1.
func (p Part) At(u float64) float64 {
	switch {
	case !p.Shared:
		return 1
	case !p.Told:
		return u
	}
	z, end := normal(u)/num.Z95, p.Of.High
	if z < 0 {
		end = p.Of.Low
	}
	return min(1, max(0, p.Of.Median+math.Abs(z)*(end-p.Of.Median)))
}

// Interval is a median with its equal-tailed 95 % interval.
type Interval struct{ Median, Low, High float64 }

// Bound is what an observed figure says about the leak [m³/s of free air at
// 50 kPa vacuum].
type Bound struct {
	Interval
	UpperOnly bool // only High means something: "less than", with 95 % confidence
	LowerOnly bool // only Low does: "more than", likewise
}

// InputError names a figure that can't be, and says what to do.
type InputError struct {
	Field string // "supply", "second", "orifice", "liquid", "after", ...
	What  string // a sentence without its stop

	form      string    // What, with pressures left out
	pressures []float64 // Pa
}

// In is What with its pressures in a unit [Pa]: whoever knows how a figure was typed
// says what is wrong in that unit.
func (e *InputError) In(name string, size float64) string {
	if len(e.pressures) == 0 {
		return e.What
	}
	in := make([]any, len(e.pressures))
	for i, p := range e.pressures {
		in[i] = fmt.Sprintf("%.4g %s", p/size, name)
	}
	return fmt.Sprintf(e.form, in...)
}

func (e *InputError) Error() string { return "other test: " + e.Field + ": " + e.What }

func wrong(field, format string, args ...any) error {
	return &InputError{Field: field, What: fmt.Sprintf(format, args...)}
}

// wrongPressure is wrong of pressures [Pa], each a %s of form.
func wrongPressure(field, form string, pressures ...float64) error {
	e := &InputError{Field: field, form: form, pressures: pressures}
	e.What = e.In("kPa", 1e3)
	return e
}

// Guesses for a seat that nobody measured (95 %), no source: see docs/model.md §7.
const (
	guessDiameter             = 27e-3 // m
	guessDiameterSD           = 0.25  // of its logarithm
	leastContact, mostContact = engine.LeastContact, engine.MostContact
	leastRelief, mostRelief   = 15 * math.Pi / 180, math.Pi / 2
	leastRound, mostRound     = 0.2, 1.0 // part of the way round along which a seep flows
)

// samples is how many equally likely states a figure is computed from: the ends
// of an interval move by some per cent with more.
const samples = 400

// steps have no divisor with samples: each goes through all of them.
var steps = [...]int{1, 3, 7, 9, 11, 13, 17, 19, 21, 23}

// apart returns which state of port i goes with state k of the first, so that the
// states of two ports do not go together.
func apart(k, i int) int { return k * steps[i%len(steps)] % samples }

// doubts is how many doubts one test has of its own.
const doubts = 6

// state is one equally likely state of all that is not known.
type state struct {
	Draw
	room, temp    float64
	width, length float64 // m, of the slot
	relief        float64 // rad
	u             [doubts]float64
}

// check reports what can't be of a port.
func (p *Port) check() error {
	switch {
	case !(p.Room > gas.StatedVacuum) || p.Room > 200e3:
		return wrong("air", "an air pressure of %.4g Pa can't be: leak rates are stated at a vacuum of 50 kPa, so it has to be above that", p.Room)
	case !(p.Temp > 200 && p.Temp < 400):
		return wrong("temperature", "a room at %.4g K can't be: give it in kelvin, between 200 and 400", p.Temp)
	}
	for _, m := range []struct {
		field string
		unit.Measured
		most float64
	}{{"seat diameter", p.Seat.Diameter, 0.5}, {"contact width", p.Seat.Contact, 0.05}, {"relief angle", p.Seat.Relief, math.Pi}} {
		if m.Known && !(m.Value > 0 && m.Value < m.most && m.Spread >= 0) {
			return wrong(m.field, "%.4g can't be: give it above 0, or leave it out", m.Value)
		}
	}
	return nil
}

// states returns equally likely states of a leak of a port; without draws flow is 0
// and the way of flowing anything.
func (p *Port) states(draws []Draw, again float64) ([]state, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	for _, d := range draws {
		if !(d.Flow >= 0 && d.Flow < 1) || !(d.Share >= 0 && d.Share <= 1) || !(d.Edge >= 0 && d.Edge <= 1) {
			return nil, wrong("leak", "a draw of %.4g m³/s, opening's share %.4g, edge %.4g can't be", d.Flow, d.Share, d.Edge)
		}
	}
	if !(again >= 0 && again < 10) {
		return nil, wrong("leak", "a scatter of %.4g between tests can't be", again)
	}
	const own = 7
	seq := num.NewSequence(own + doubts)
	var u [own + doubts]float64
	out := make([]state, samples)
	for i := range out {
		seq.Next(u[:])
		for k := range u { // a normal has no quantile at the ends
			u[k] = min(1-1e-9, max(1e-9, u[k]))
		}
		s := &out[i]
		s.Draw = Draw{Share: stretched(u[5]), Edge: stretched(u[6])}
		if len(draws) > 0 {
			j := i % len(draws)
			if len(draws) > samples { // a posterior's draws lie in the order of their curves
				j = i * len(draws) / samples
			}
			s.Draw = draws[j]
			s.Flow *= math.Exp(again * normal(u[0]))
		}
		s.room, s.temp = p.Room, p.Temp
		d := guessDiameter * math.Exp(guessDiameterSD*normal(u[1]))
		if p.Seat.Diameter.Known {
			d = drawn(p.Seat.Diameter, u[1])
		}
		s.width = math.Pi * d * logBetween(leastRound, mostRound, u[4])
		s.length = logBetween(leastContact, mostContact, u[2])
		if p.Seat.Contact.Known {
			s.length = drawn(p.Seat.Contact, u[2])
		}
		s.relief = leastRelief + (mostRelief-leastRelief)*u[3]
		if p.Seat.Relief.Known {
			s.relief = drawn(p.Seat.Relief, u[3])
		}
		copy(s.u[:], u[own:])
	}
	return out, nil
}

// stretched is a part of which nothing is known: a quarter of the chance is that it
// is 0, a quarter that it is 1. A plain opening and a plain seep are common, and must
// not stand at the very end of an interval.
func stretched(u float64) float64 { return min(1, max(0, 2*u-0.5)) }

// way is a leak as it flows: an opening beside a seep.
type way struct {
	opening gas.Opening
	seep    gas.Seep
}

// way returns the elements that pass the flow [m³/s] at 50 kPa vacuum in the room
// of the vacuum test. The opening keeps its pressure ratio of reference, so that
// it can be carried elsewhere.
func (s *state) way(flow float64) (way, error) {
	var w way
	var err error
	if w.opening, err = gas.OpeningFor(flow*s.Share, gas.StatedVacuum, s.room, s.temp, s.Edge); err != nil {
		return w, err
	}
	w.opening.Reference = (s.room - gas.StatedVacuum) / s.room
	w.seep, err = gas.SeepFor(flow*(1-s.Share), gas.StatedVacuum, s.room, s.temp, s.width, s.length)
	return w, err
}

// MassFlow implements [gas.Element].
func (w way) MassFlow(p1, p2, t float64) (float64, error) {
	a, err := w.opening.MassFlow(p1, p2, t)
	if err != nil {
		return 0, err
	}
	b, err := w.seep.MassFlow(p1, p2, t)
	return a + b, err
}

// Range of leaks that an observed figure is looked for in [m³/s]: 0.0006 cm³/min to
// 600 L/min.
const leastFlow, mostFlow = 1e-11, 1e-2

// flowWhere returns the flow at 50 kPa vacuum of a leak of this state that makes
// the growing function f zero: 0 where f is not below 0 at any leak, +Inf where it
// stays below.
func flowWhere(f func(flow float64) (float64, error)) (float64, error) {
	var failed error
	g := func(x float64) float64 {
		y, err := f(math.Exp(x))
		if err != nil && failed == nil {
			failed = err
		}
		return y
	}
	a, b := math.Log(leastFlow), math.Log(mostFlow)
	fa, fb := g(a), g(b)
	switch {
	case failed != nil:
		return 0, failed
	case fa >= 0:
		return 0, nil
	case fb < 0:
		return math.Inf(1), nil
	}
	x, err := num.FindRoot(g, a, b, 1e-7)
	if failed != nil {
		return 0, failed
	}
	return math.Exp(x), err
}

// boundOf makes a bound of the flows that equally likely states come to.
func boundOf(flows []float64) Bound {
	slices.Sort(flows)
	b := Bound{Interval: intervalOf(flows)}
	switch {
	case b.Low == 0:
		b.UpperOnly, b.High = true, quantile(flows, 0.95)
	case math.IsInf(b.High, 1):
		b.LowerOnly, b.Low = true, quantile(flows, 0.05)
	}
	return b
}

// upper makes an upper bound of them: whatever was looked for did not show.
func upper(flows []float64) Bound {
	slices.Sort(flows)
	return Bound{Interval: Interval{Median: quantile(flows, 0.5), High: quantile(flows, 0.95)}, UpperOnly: true}
}

// intervalOf sorts and returns median and equal-tailed 95 % interval.
func intervalOf(x []float64) Interval {
	slices.Sort(x)
	return Interval{quantile(x, 0.5), quantile(x, 0.025), quantile(x, 0.975)}
}

// quantile returns the value of sorted x at the fraction q, interpolated; between
// a figure and an infinite one the figure's side rounds to the nearer.
func quantile(x []float64, q float64) float64 {
	u := q*float64(len(x)) - 0.5
	i := int(math.Floor(u))
	switch {
	case len(x) == 0:
		return math.NaN()
	case i < 0:
		return x[0]
	case i >= len(x)-1:
		return x[len(x)-1]
	}
	w := u - float64(i)
	if math.IsInf(x[i+1], 0) {
		return x[i+int(math.Round(w))]
	}
	return x[i]*(1-w) + x[i+1]*w
}

// drawn returns a positive figure at the chance u: lognormal with the figure as
// its median and the ± as its 95 % half-width, near enough for a small one.
func drawn(m unit.Measured, u float64) float64 {
	if m.Spread == 0 {
		return m.Value
	}
	return m.Value * math.Exp(m.SD()/m.Value*normal(u))
}

func normal(u float64) float64 {
	z, _ := num.NormalQuantile(u) // u is inside (0, 1)
	return z
}

func logBetween(a, b, u float64) float64 { return a * math.Pow(b/a, u) }

// airPerMass is the volume of free air [m³/kg] in the room of a state.
func airPerMass(s *state) float64 { return gas.FreeAir(1, s.room, s.temp) }

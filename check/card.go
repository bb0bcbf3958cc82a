package check

import (
	"fmt"
	"math"
	"slices"

	"seatproof/gas"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// ThumbFor is how long a thumb keeps a valve down. Common practice, no source.
const ThumbFor = 15.0 // s

// SpringFor are the holds tried where a spring holds the valves [s]; the shortest
// that tells is taken. Common practice, no source.
var SpringFor = [3]float64{30, 60, 120}

const (
	cardWeather = 2.5e3 // Pa, ± of the air that a card stays good for
	cardHead    = 8.0   // K, ± of the head and the room
	cardPort    = 0.3   // ± of a port's volume where none is given with it
	enoughSteps = 4     // of the gauge: a loss of fewer is mostly the error of reading it
	shallowest  = 0.7   // of the blanked reading, from which a hold may begin
)

// CardJob is what a wall card is made from.
type CardJob struct {
	Rig    rig.Rig    // Pump.Blanked as it is read here; its Port is not used but for Held
	Unit   string     // of vacuum; "": the gauge's own
	Ports  []CardPort // one a kind of port
	Held   rig.Held   // of the tests to come; not said: the rig's
	Strict bool
	Engine Engine // what it can spare is a limit too; without a bore workmanship alone
}

// CardPort is a kind of port: all of one head with the same valves and volume.
type CardPort struct {
	Name    string        // "Intake port"
	Volume  unit.Measured // m³
	Guessed bool          // Volume is a guess by the valves' size
	Valves  []float64     // m, diameter of each valve's head
	// Typed is of one valve, in the place of workmanship and cost; zero: those. A
	// drop is of the card's own pump, its Drop alone is taken; what a port known
	// good passes is of a head of its Diameter and goes by that.
	Typed   limit.Limit
	Instead string // the limit that was chosen and can't stand on a card, and why; "": none
}

// Card is a wall card: what a person reads off a needle and a watch to judge a
// port with no computer. Vacuums are whole numbers of Step.
type Card struct {
	Unit    string  // of vacuum
	Step    float64 // Pa, of all figures: half a division of a needle, the steps of a display
	Guessed bool    // nobody said what the gauge shows
	Needle  bool
	Blank   CardBlank
	Ports   []CardLine
	AirLow  float64 // Pa, the air that it is good for
	AirHigh float64
	Guesses []string // inputs that nobody gave, by the name a reading has for them
}

// CardBlank is what the rig must do with a blank on it, before each run of tests.
type CardBlank struct {
	Reach float64  // Pa
	For   float64  // s
	Lose  *float64 // Pa in that time; nil: the rig leak or the rig's volume was not given, so nobody can say
}

// CardLine is what a card says of one kind of port.
type CardLine struct {
	CardPort
	One, All float64     // m³/s at 50 kPa: the least of one valve, the sum of all, of a leak taken as a seep
	Others   []float64   // m, [Engine.Others] where the limit goes by them
	Rules    limit.Valve // what the valve with the least is judged by; the strictest decides

	steps [limit.Quantiles]float64 // by what the limits may have to be multiplied
	Drop  float64                  // Pa below the blanked reading at which a port at its limit stands; NaN: pump not known

	// Reading [Pa] is the least the gauge may stand at with the pump on: a port at
	// it holds, by that alone. nil: the reading can't tell, since a port that does
	// not leak at all would not always stand there.
	Reading *float64
	From    float64  // Pa, from which the hold begins, or deeper
	Below   *float64 // Pa: standing lower with the pump on it leaks; nil: pump not known
	Holds   []CardHold
}

// CardHold is a hold by one way of keeping the valves on their seats.
type CardHold struct {
	By   rig.Held // a thumb or a spring
	For  float64  // s
	Lose *float64 // Pa: a port that loses no more holds; nil: the hold can't tell
	Over *float64 // Pa: a port that loses more leaks; nil: none that the gauge shows
}

// Tells says whether the hold can clear a port.
func (h CardHold) Tells() bool { return h.Lose != nil }

// Tells says whether the rig can clear a port of this kind.
func (l CardLine) Tells() bool {
	for _, h := range l.Holds {
		if h.Tells() {
			return true
		}
	}
	return l.Reading != nil
}

// MakeCard works out a wall card. Each figure is the outermost step of the gauge
// at which the estimator, given nothing but those readings by eye and the rig as
// it is stated with all its ±, gives the verdict (docs/model.md §9; the limit of
// one valve clears, that of all together condemns):
//
//	loses no more than   the greatest loss that holds, from the shallowest start
//	leaks over           the least loss that leaks, from the deepest
//	not below            the least steady reading that holds
//	leaks below          the greatest steady reading that leaks, and no higher than
//	                     a port at its limits stands where the blank shows the least
//	                     that it must
//
// so the errors of the watch, the eye, gauge, volumes, rig leak, pump and way of
// flowing, and the scatter from test to test, are all on the safe side. The air
// is taken at ±2.5 kPa of weather and the head at ±8 K. Limits are the
// strictest over that air, the doubt of those that have one gone through.
//
// The error names what is missing or impossible: a blanked reading, ports,
// valves, a volume.
func MakeCard(job CardJob) (*Card, error) {
	r := job.Rig
	if b := r.Pump.Blanked; !b.Known || b.Value <= 5e3 {
		return nil, fmt.Errorf("wall card: the rig has no blanked reading; take it with a blank on the plate and put it in the rig file as pump.blanked")
	}
	if len(job.Ports) == 0 {
		return nil, fmt.Errorf("wall card: no port to make it for; name a head, or the valves of a port")
	}
	air, err := cardAir(r.Air)
	if err != nil {
		return nil, err
	}
	r.Air.Pressure, r.Air.Altitude = air, unit.Measured{}
	if !r.Air.Temperature.Known {
		r.Air.Temperature = unit.Exactly(293.15)
	}
	r.Port.HeadTemperature = unit.About(r.Air.Temperature.Value, cardHead)
	r.Port.WetWith = rig.WetNothing
	c := &Card{AirLow: air.Value - air.Spread, AirHigh: air.Value + air.Spread, Needle: r.Gauge.Kind != rig.GaugeDigital}
	c.scale(&r, job.Unit)
	blanked := r.Pump.Blanked
	if rated := r.Pump.RatedAt; rated.Known && rated.Value > 0 { // the pump reaches a ratio: docs/model.md §2
		k := air.Value / rated.Value
		blanked = unit.About(k*blanked.Value, k*blanked.Spread)
		r.Pump.RatedAt = unit.Measured{}
	}
	if blanked.Spread < c.Step {
		blanked.Spread = c.Step // nobody reads it better
	}
	r.Pump.Blanked = blanked
	held := job.Held
	if held == rig.HeldNotSaid {
		held = r.Port.Held
	}
	s := solver{rig: r, card: c, engine: job.Engine, wrong: 0.05, top: math.Min(c.up(blanked.Value+blanked.Spread), c.AirLow)}
	if job.Strict {
		s.wrong = 0.025
	}
	if err := s.settleEngine(job.Ports); err != nil {
		return nil, err
	}
	for _, p := range job.Ports {
		line, err := s.line(p, held)
		if err != nil {
			return nil, err
		}
		c.Ports = append(c.Ports, line)
	}
	c.blank(r)
	c.Guesses = s.guesses
	for _, l := range c.Ports { // of the engine only where it decides
		if by, _ := l.Rules.Decides(0); by.Kind == limit.ByCost {
			for _, g := range s.engineGuesses {
				if !slices.Contains(c.Guesses, g) {
					c.Guesses = append(c.Guesses, g)
				}
			}
		}
	}
	return c, nil
}

// cardAir returns the air that a card is made for.
func cardAir(a rig.Air) (unit.Measured, error) {
	p := a.Pressure
	if !p.Known && a.Altitude.Known {
		here, err := gas.StandardPressure(a.Altitude.Value)
		if err != nil {
			return p, fmt.Errorf("wall card: %w", err)
		}
		p = unit.Exactly(here)
	}
	if !p.Known {
		p = unit.About(98e3, 5e3)
	}
	p.Spread = math.Max(p.Spread, cardWeather)
	if p.Value-p.Spread <= gas.StatedVacuum {
		return p, fmt.Errorf("wall card: the air pressure, %.3g kPa, is too low for leaks stated at a vacuum of 50 kPa", p.Value*1e-3)
	}
	return p, nil
}

// scale takes unit and step from the gauge.
func (c *Card) scale(r *rig.Rig, name string) {
	g := &r.Gauge
	u, ok := unit.UnitOf(name)
	if !ok || u.Dim != unit.PressureDim {
		if u, ok = unit.UnitOf(g.Unit); !ok || u.Dim != unit.PressureDim {
			if u, _ = unit.UnitOf("inHg"); g.Kind == rig.GaugeDigital {
				u, _ = unit.UnitOf("kPa")
			}
		}
	}
	c.Unit = u.Name
	span := 100e3
	if g.Span.Known && g.Span.Width() > 0 {
		span = g.Span.Width()
	}
	own, ok := unit.UnitOf(g.Unit)
	if !ok || own.Dim != unit.PressureDim {
		own, _ = unit.UnitOf(map[bool]string{true: "kPa", false: "inHg"}[g.Kind == rig.GaugeDigital])
	}
	foreign := own.Factor != u.Factor
	switch {
	case g.Division > 0:
		c.Step = g.Division / 2
	case g.Resolution > 0:
		// a display that shows more than a thousandth of its span: nobody needs it
		c.Step = g.Resolution
		for k := 0; c.Step < 0.0009*span; k++ {
			c.Step *= []float64{2, 2.5, 2}[k%3]
		}
	default:
		c.Guessed = true
		c.Step = roundStep(0.01*span, u.Factor)
		g.Division = 2 * c.Step
	}
	if foreign { // steps of one scale are no steps of another
		c.Step = roundStep(c.Step, u.Factor)
	}
}

// roundStep returns the least step of 1, 2 or 5 times a power of ten of a unit
// [Pa] that is no finer than x [Pa].
func roundStep(x, size float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(x/size)+1e-9))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= 0.999*x/size {
			return k * ten * size
		}
	}
	return 10 * ten * size
}

// down and up round to a step of the gauge.
func (c *Card) down(x float64) float64 { return c.Step * math.Floor(x/c.Step+1e-6) }
func (c *Card) up(x float64) float64   { return c.Step * math.Ceil(x/c.Step-1e-6) }

// blank says what the rig must do with a blank on it.
func (c *Card) blank(r rig.Rig) {
	b := r.Pump.Blanked
	c.Blank.Reach = c.down(b.Value - b.Spread)
	c.Blank.For = ThumbFor
	for _, l := range c.Ports {
		for _, h := range l.Holds {
			c.Blank.For = math.Max(c.Blank.For, h.For)
		}
	}
	if !r.RigLeak.Known || !r.Volume.Known || r.Volume.Value <= r.Volume.Spread {
		return
	}
	rise := (r.RigLeak.Value + r.RigLeak.Spread) * c.AirHigh * c.Blank.For / (r.Volume.Value - r.Volume.Spread)
	lose := math.Max(c.up(rise), c.Step)
	c.Blank.Lose = &lose
}

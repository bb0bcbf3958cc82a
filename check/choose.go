package check

import (
	"fmt"
	"math"
	"strings"

	"seatproof/engine"
	"seatproof/gas"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// Parts is what a rig may be built from, for [Choose]: candidates of each part,
// the ports it is for and the room it stands in. All SI.
type Parts struct {
	Name     string
	Pumps    []PumpPart
	Gauges   []GaugePart
	Hoses    []HosePart
	Ports    []PortPart
	Fittings unit.Measured // m³, shut-off valve, tee and plate, without the hose; not known: 20 ± 15 cm³
	RigLeak  unit.Measured // m³/s of free air at 50 kPa; not known: 1 ± 2 cm³/min
	Air      rig.Air
	Engine   Engine // without a bore the limit is workmanship alone
}

// Cost is what a part costs and whether it is there already.
type Cost struct {
	Price  float64 // in whatever the person counts in; 0: not said
	Money  string  // what that is: "EUR"; may be empty
	Have   bool    // it lies on the shelf
	Supply string  // what a pump runs on, as said: "12 V, 1 A"
}

// Costs are those of all parts, pumps first.
func (p *Parts) Costs() []Cost {
	var all []Cost
	for _, x := range p.Pumps {
		all = append(all, x.Cost)
	}
	for _, x := range p.Gauges {
		all = append(all, x.Cost)
	}
	for _, x := range p.Hoses {
		all = append(all, x.Cost)
	}
	return all
}

// PumpPart is a candidate pump, as its data sheet or its label has it.
type PumpPart struct {
	Name string
	Cost
	// Pump is what is reckoned with. A blanked reading without RatedAt is taken
	// as rated at sea level, as data sheets do, unless ReadHere.
	Pump     rig.Pump
	ReadHere bool // its figures were read in this room
	// Flows and Vacuums are all figures the sheet states for one thing, the first
	// of each being that of Pump: they are held against each other.
	Flows, Vacuums []Stated
	End            Stated  // Pa, absolute, that the sheet says it pulls down to; zero: not said
	Power          float64 // W it takes; 0: not said
}

// Stated is a figure as a sheet states it.
type Stated struct {
	Text  string
	Value float64 // SI
}

// GaugePart is a candidate gauge.
type GaugePart struct {
	Name string
	Cost
	Gauge rig.Gauge
}

// HosePart is a candidate hose.
type HosePart struct {
	Name string
	Cost
	Hose rig.Hose // bore and length; GaugeAt says where the gauge is meant to sit, at the port if not said
}

// PortPart is a kind of port that the rig is to test.
type PortPart struct {
	Name   string
	Volume unit.Measured // m³; not known: guessed from Heads and Bore
	Heads  []float64     // m, diameters of its valves' heads
	Bore   float64       // m of the cylinder; 0: guessed from the heads
	Limit  float64       // m³/s at 50 kPa; 0: the stricter of workmanship and cost, of the smallest head

	VolumeGuessed bool        // set by Choose
	Rules         limit.Valve // set by Choose where Limit was 0: the limits of the smallest valve
}

// LimitedBy returns the rule that the limit of a kind of port stands on; ok is
// false for one that was typed.
func (p *PortPart) LimitedBy() (limit.Limit, bool) { return p.Rules.Decides(0) }

// What is guessed where a parts list does not say it: common practice, no
// source.
var (
	guessedFittings = unit.About(20e-6, 15e-6)
	guessedRigLeak  = unit.About(1e-6/60, 2e-6/60)
)

// What choosing goes by; common practice, no source.
const (
	thumbHold         = 15.0 // s, what a thumb lasts on a valve
	longHold          = 60.0 // s
	pulledDown        = 0.98 // of the blanked reading: the rebound after the shut-off stays small
	tooQuick          = 5.0  // s to lose half the vacuum: no eye follows the needle
	tooQuickForSensor = 2.0  // s: a recording has too few samples that are worth anything
	plainDrop         = 0.9  // of the blanked reading: a drop beyond says "open", no more

	usualAccuracy = 0.02 // of span, where a gauge's is not said
	usualScatter  = 0.03 // of the blanked reading, 95 %, from pull to pull
	straightLine  = 0.3  // of the flow, 95 %: a pump's curve from two numbers
)

// Multiples of the limit that a table of needle drops shows.
var multiples = []float64{0.5, 1, 2, 5, 10, 30, 100}

// Choice is what [Choose] found.
type Choice struct {
	Parts     Parts // as given, with guesses filled in
	Pressure  float64
	Temp      float64 // K
	Guessed   []Sentence
	Questions []Slip
	Rigs      []Candidate // best first
	Yours     int         // index in Rigs of the one made of parts that are there; -1: none can be made
	Cheapest  int         // index of the cheapest that tells as well as the best does, by its class; -1: prices are missing
}

// Tells is how well a rig tells a good seat from a bad one.
type Tells int

// The classes, best first. A good seat is told from a bad one where a leak of
// half the limit shows.
const (
	TellsByThumb Tells = iota // within 15 s
	TellsInAMinute
	TellsTheLimit // only a leak of the limit itself shows, in a minute
	TellsNothing
)

// Candidate is one rig: a pump, a gauge and a hose, each by its index.
type Candidate struct {
	Pump, Gauge, Hose int
	Blanked           float64 // Pa, here, with the rig leak
	Volume            float64 // m³, the rig's part
	Step              float64 // Pa that can be read: half a division of a needle, a step of a sensor
	Division          float64 // Pa
	Uncertainty       float64 // Pa, of the gauge, 95 %
	Scatter           float64 // Pa, of the blanked reading, 95 %
	Questioned        bool    // figures of its parts are questioned
	Pegged            bool    // the blanked reading lies beyond the gauge's scale
	GaugeAtPump       bool
	Ports             []Sight // in the order of Parts.Ports
	Worst             int     // index of the port that it sees least of
	Tells             Tells
	Score             float64 // higher is better; only differences mean anything
	Price             float64 // of what is not there yet; NaN: not known
	Swap              *Swap   // nil: no single part is worth changing
	Reasons           []Sentence
	Elsewhere         *Elsewhere // nil: it can't be weighed there

	way *way
}

// Range is a range of leaks [m³/s]; none where High is not above Low.
type Range struct{ Low, High float64 }

// Any says whether the range holds anything.
func (r Range) Any() bool { return r.High > r.Low }

func (r Range) holds(q float64) bool { return q >= r.Low && q <= r.High }

// Sight is what a rig sees of one kind of port.
type Sight struct {
	Limit    float64 // m³/s
	Volume   float64 // m³, rig and port together
	Drops    []Drop
	Steady   Range   // leaks the steady reading tells apart
	Thumb    Range   // leaks that a hold of 15 s tells apart
	Minute   Range   // and one of 60 s
	PullDown float64 // s to 98 % of the blanked reading

	SteadyStep  float64 // m³/s: resolution of the steady reading
	SteadyFloor float64 // m³/s: its part from the blanked reading's scatter, which no gauge betters
	ThumbStep   float64 // m³/s: resolution of 15 s of hold
	MinuteStep  float64 // m³/s: of 60 s

	HoseLoss float64 // Pa between the ends of the hose at ten times the limit, in the pull
	HoseAt   float64 // m³/s of free air through it then
}

// Drop is what a leak of so many limits does.
type Drop struct {
	Times       float64 // of the limit
	Leak        float64 // m³/s at 50 kPa
	Needle      float64 // Pa below the blanked reading
	Lost15      float64 // Pa lost in 15 s
	Lost60      float64
	Below, Over bool // the drop is too small to be told; beyond what is told
}

// Choose weighs every rig that can be made of the parts, best first. Every leak
// is taken as an opening with a rounded edge, which from 50 kPa on passes the
// same whatever the vacuum: a seep of the same figure moves the needle up to 1.3
// times as far, so it is told a little sooner. What a rig tells apart:
//
//   - the steady reading: leaks that drop it by two of the gauge's uncertainties
//     (95 %) and by the blanked reading's scatter, up to 90 % of the blanked
//     reading;
//   - a hold: leaks that take two divisions, up to those that halve the vacuum
//     in 5 s (2 s where a sensor records it).
//
// The error names a part without which nothing can be weighed. Source:
// docs/rig.md; the thresholds are common practice, no source.
func Choose(p Parts) (*Choice, error) {
	c := &Choice{Parts: p, Yours: -1, Cheapest: -1}
	if err := c.settle(); err != nil {
		return nil, err
	}
	c.Questions = Slips(c.Parts, c.Pressure)
	p = c.Parts
	for i, pump := range p.Pumps {
		if c.blocked(i) {
			continue
		}
		curve, err := pump.here(c.Pressure)
		if err != nil {
			c.leaveOut(PartPump, i, "It can't be weighed: "+err.Error()+".")
			continue
		}
		for k, hose := range p.Hoses {
			w, err := c.way(curve, hose.Hose)
			if err != nil {
				c.leaveOut(PartHose, k, "It can't be weighed with "+pump.Name+": "+err.Error()+".")
				continue
			}
			for g := range p.Gauges {
				c.Rigs = append(c.Rigs, c.weigh(w, i, g, k))
			}
		}
	}
	c.rank()
	c.elsewhere()
	return c, nil
}

// leaveOut asks about a part that can't be weighed.
func (c *Choice) leaveOut(p Part, i int, words string) {
	c.Questions = append(c.Questions, Slip{Code: SlipNothing, Part: p, Index: i, What: say(words), Blocks: true})
}

// blocked says whether a pump's own figures rule it out until they are mended.
func (c *Choice) blocked(pump int) bool {
	for _, q := range c.Questions {
		if q.Part == PartPump && q.Index == pump && q.Blocks {
			return true
		}
	}
	return false
}

// settle fills in what was not said, and says so.
func (c *Choice) settle() error {
	p := &c.Parts
	for _, l := range []struct {
		what string
		n    int
	}{{"pump", len(p.Pumps)}, {"gauge", len(p.Gauges)}, {"hose", len(p.Hoses)}, {"port", len(p.Ports)}} {
		if l.n == 0 {
			return fmt.Errorf("choose a rig: there is no %s to choose from: give at least one", l.what)
		}
	}
	c.Pressure, c.Temp = p.Air.Pressure.Value, p.Air.Temperature.Value
	if !p.Air.Pressure.Known {
		c.Pressure = gas.SeaLevelPressure
		if p.Air.Altitude.Known {
			pa, err := gas.StandardPressure(p.Air.Altitude.Value)
			if err != nil {
				return fmt.Errorf("choose a rig: %w", err)
			}
			c.Pressure = pa
		} else {
			c.guess("the air pressure, {}: that of sea level", exactly(c.Pressure, unit.PressureDim))
		}
	}
	if !p.Air.Temperature.Known {
		c.Temp = 293.15
	}
	if !(c.Pressure > gas.StatedVacuum) {
		return fmt.Errorf("choose a rig: an air pressure of %.3g kPa is below the 50 kPa at which leaks are stated", c.Pressure/1e3)
	}
	if !p.Fittings.Known {
		p.Fittings = guessedFittings
		c.guess("the volume of tee, valve and plate, {}", of(p.Fittings, unit.VolumeDim))
	}
	if !p.RigLeak.Known {
		p.RigLeak = guessedRigLeak
		c.guess("the rig leak, {}", of(p.RigLeak, unit.FlowDim))
	}
	p.Pumps, p.Gauges, p.Ports = append([]PumpPart(nil), p.Pumps...), append([]GaugePart(nil), p.Gauges...), append([]PortPart(nil), p.Ports...)
	scatters := false
	for i := range p.Pumps {
		x := &p.Pumps[i]
		if !x.Pump.Blanked.Known && x.End.Value > 0 {
			x.Pump.Blanked = unit.Exactly(x.rated(c.Pressure) - x.End.Value)
		}
		if x.Pump.Blanked.Known && x.Pump.Blanked.Spread == 0 {
			// also of a pump that pulls nearly all the way: a damp rig holds it up by a
			// kilopascal or two, water's vapour pressure
			x.Pump.Blanked.Spread = usualScatter * x.Pump.Blanked.Value
			scatters = true
		}
	}
	if scatters {
		c.guess("how far blanked readings scatter from pull to pull, 3 %")
	}
	for i := range p.Gauges {
		if err := c.settleGauge(&p.Gauges[i]); err != nil {
			return err
		}
	}
	for i := range p.Hoses {
		if h := p.Hoses[i].Hose; !h.Bore.Known || !h.Length.Known {
			return fmt.Errorf("hose %q: needs bore and length", p.Hoses[i].Name)
		}
	}
	cost, err := c.settleEngine()
	if err != nil {
		return err
	}
	for i := range p.Ports {
		if err := c.settlePort(&p.Ports[i], cost); err != nil {
			return err
		}
	}
	return nil
}

// settleEngine fills in the engine, and finds what a cylinder can spare; nil where
// no engine was said, or no limit goes by it.
func (c *Choice) settleEngine() (*engine.CostLimit, error) {
	p := &c.Parts
	e := &p.Engine
	if !e.said() {
		return nil, nil
	}
	asked := false
	heads := len(e.Heads) == 0
	for _, x := range p.Ports {
		asked = asked || x.Limit == 0
		if heads {
			e.Heads = append(e.Heads, x.Heads...)
		}
	}
	if !asked {
		return nil, nil
	}
	if guessed := e.fill(); len(guessed) > 0 {
		c.guess("of the engine, for the cost limit: " + strings.Join(guessed, ", "))
	}
	if heads && len(e.Heads) > 0 {
		c.guess("which valves a cylinder has: those of one port of each kind")
	}
	cost, err := e.cost(c.Pressure, c.Temp)
	if err != nil {
		return nil, fmt.Errorf("choose a rig: %w", err)
	}
	return cost, nil
}

func (c *Choice) guess(text string, f ...Figure) { c.Guessed = append(c.Guessed, say(text, f...)) }

func (c *Choice) settleGauge(g *GaugePart) error {
	x := &g.Gauge
	if !x.Span.Known {
		x.Span = rig.Span{High: 100e3, Known: true}
		c.guess("the span of "+g.Name+", 0 to {}", exactly(100e3, unit.PressureDim))
	}
	if x.Class == 0 && !x.Accuracy.Known {
		x.Accuracy = unit.Exactly(usualAccuracy)
		c.guess("the accuracy of " + g.Name + ", 2 % of its span")
	}
	if x.Division == 0 && x.Resolution == 0 {
		return fmt.Errorf("gauge %q: needs division (of a needle) or resolution (of a sensor): what it can show decides what it can tell", g.Name)
	}
	return nil
}

func (c *Choice) settlePort(p *PortPart, cost *engine.CostLimit) error {
	if !p.Volume.Known {
		v := GuessPort(p.Bore, p.Heads)
		if !v.Known {
			return fmt.Errorf("port %q: needs its volume, or the heads of its valves to guess it from", p.Name)
		}
		p.Volume, p.VolumeGuessed = v, true
		c.guess("the volume of "+p.Name+", {}, by its valves", of(v, unit.VolumeDim))
	}
	if p.Limit > 0 {
		return nil
	}
	least := math.Inf(1)
	for _, d := range p.Heads {
		least = math.Min(least, d)
	}
	if math.IsInf(least, 1) {
		return fmt.Errorf("port %q: needs a limit, or the heads of its valves to make one from", p.Name)
	}
	var err error
	if p.Rules, err = c.Parts.Engine.rules(least, cost, c.Pressure, c.Temp); err != nil {
		return fmt.Errorf("port %q: %w", p.Name, err)
	}
	p.Limit = p.Rules.At(0)
	return nil
}

// GuessPort returns the volume [m³] of a port nobody poured full: the circles of
// its valves' heads [m], 1.15 bores [m] long, ± 60 %; a bore of 0 is guessed from
// the heads, 0.375 of it where two share a port, 0.42 alone. Not known without
// heads. Common practice, no source; 72 mm and two of 27 mm: 95 cm³.
func GuessPort(bore float64, heads []float64) unit.Measured {
	area, sum := 0.0, 0.0
	for _, d := range heads {
		area += math.Pi / 4 * d * d
		sum += d
	}
	if !(area > 0) {
		return unit.Measured{}
	}
	if !(bore > 0) {
		share := 0.375
		if len(heads) == 1 {
			share = 0.42
		}
		bore = sum / float64(len(heads)) / share
	}
	v := 1.15 * bore * area
	return unit.About(v, 0.6*v)
}

// here returns the pump's curve in a room at pa [Pa].
func (p PumpPart) here(pa float64) (*rig.Curve, error) {
	return p.asRated().Here(pa)
}

package check

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"seatproof/rig"
	"seatproof/unit"
)

// Swap is the change of a single part that gains most.
type Swap struct {
	Part   Part
	To     int // its index; -1: none of the list, but one like the old that is as Words says
	Gain   float64
	Before float64 // m³/s, the least leak told in 15 s of hold on the port seen worst
	After  float64
	Words  Sentence
}

// rank sorts the rigs and says why each stands where it does.
func (c *Choice) rank() {
	slices.SortStableFunc(c.Rigs, func(a, b Candidate) int { return better(&a, &b) })
	price := math.Inf(1)
	for i := range c.Rigs {
		x := &c.Rigs[i]
		if c.have(x) && c.Yours < 0 {
			c.Yours = i
		}
		if x.Tells == c.Rigs[0].Tells && x.Price < price && !x.Pegged && !x.Questioned {
			price, c.Cheapest = x.Price, i
		}
		x.Reasons = c.reasons(x)
	}
	c.swaps()
}

// better sorts by class, those whose figures are questioned last, then by score, then by price, where scores differ by
// less than is worth naming.
func better(a, b *Candidate) int {
	const alike = 0.005
	switch {
	case a.Tells != b.Tells:
		return int(a.Tells - b.Tells)
	case a.Questioned != b.Questioned:
		if b.Questioned {
			return -1
		}
		return 1
	case math.Round(a.Score/alike) != math.Round(b.Score/alike):
		if a.Score > b.Score {
			return -1
		}
		return 1
	}
	return cmp.Compare(orDear(a.Price), orDear(b.Price))
}

// orDear takes a price that is not known for a high one.
func orDear(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(1)
	}
	return x
}

// have says whether all parts of a rig are there.
func (c *Choice) have(x *Candidate) bool {
	p := &c.Parts
	return p.Pumps[x.Pump].Have && p.Gauges[x.Gauge].Have && p.Hoses[x.Hose].Have
}

// worth is a score in which a class counts for more than anything within it.
func (x *Candidate) worth() float64 { return x.Score - 2*float64(x.Tells) }

// worthNaming is the least gain for which a part is to be changed: the rig then
// sees leaks about a tenth finer.
const worthNaming = 0.04

// swaps finds for every rig the single part whose change gains most, among the
// parts of the list.
func (c *Choice) swaps() {
	at := map[[3]int]*Candidate{}
	for i := range c.Rigs {
		x := &c.Rigs[i]
		at[[3]int{x.Pump, x.Gauge, x.Hose}] = x
	}
	p := &c.Parts
	for i := range c.Rigs {
		x := &c.Rigs[i]
		try := func(part Part, to int, key [3]int) {
			y := at[key]
			if y == nil || y == x || y.Questioned {
				return
			}
			if gain := y.worth() - x.worth(); gain > worthNaming && (x.Swap == nil || gain > x.Swap.Gain) {
				x.Swap = &Swap{Part: part, To: to, Gain: gain, Before: x.least(), After: y.least()}
			}
		}
		for k := range p.Pumps {
			try(PartPump, k, [3]int{k, x.Gauge, x.Hose})
		}
		for k := range p.Gauges {
			try(PartGauge, k, [3]int{x.Pump, k, x.Hose})
		}
		for k := range p.Hoses {
			try(PartHose, k, [3]int{x.Pump, x.Gauge, k})
		}
		if s := x.Swap; s != nil {
			name := map[Part]string{}
			switch s.Part {
			case PartPump:
				name[s.Part] = p.Pumps[s.To].Name
			case PartGauge:
				name[s.Part] = p.Gauges[s.To].Name
			case PartHose:
				name[s.Part] = p.Hoses[s.To].Name
			}
			s.Words = say("Change the " + string(s.Part) + " for " + name[s.Part] + ".")
		}
	}
	if len(c.Rigs) > 0 && c.Rigs[0].Swap == nil {
		c.Rigs[0].Swap = c.imagined(&c.Rigs[0])
	}
}

// least is the smallest leak told in 15 s of hold, on the port seen worst.
func (x *Candidate) least() float64 { return x.Ports[x.Worst].Thumb.Low }

// imagined finds, for a rig that no part of the list betters, which part would
// gain most if it were another: a gauge of half the division, a pump of half or
// twice the flow, a hose of half the length.
func (c *Choice) imagined(x *Candidate) *Swap {
	p := &c.Parts
	pump, gauge, hose := p.Pumps[x.Pump], p.Gauges[x.Gauge], p.Hoses[x.Hose]
	var best *Swap
	try := func(part Part, words Sentence, pump PumpPart, gauge GaugePart, hose HosePart) {
		q := *c
		q.Parts.Pumps, q.Parts.Gauges, q.Parts.Hoses = []PumpPart{pump}, []GaugePart{gauge}, []HosePart{hose}
		curve, err := pump.here(c.Pressure)
		if err != nil {
			return
		}
		w, err := q.way(curve, hose.Hose)
		if err != nil {
			return
		}
		y := q.weigh(w, 0, 0, 0)
		if gain := y.worth() - x.worth(); gain > worthNaming && (best == nil || gain > best.Gain) {
			best = &Swap{part, -1, gain, x.least(), y.least(), words}
		}
	}
	finer := gauge
	finer.Gauge.Division, finer.Gauge.Resolution = gauge.Gauge.Division/2, gauge.Gauge.Resolution/2
	finer.Gauge.Class, finer.Gauge.Accuracy.Value = gauge.Gauge.Class/2, gauge.Gauge.Accuracy.Value/2
	try(PartGauge, say("None of the list betters it. A gauge of half the division and half the error would gain most: it counts for more now than the pump."), pump, finer, hose)
	for _, f := range []struct {
		by   float64
		word string
	}{{0.5, "half"}, {2, "twice"}} {
		other := pump
		other.Pump.FreeFlow.Value *= f.by
		other.Pump.Curve = slices.Clone(pump.Pump.Curve)
		for i := range other.Pump.Curve {
			other.Pump.Curve[i].Flow *= f.by
		}
		try(PartPump, say("None of the list betters it. A pump of "+f.word+" the flow would gain most."), other, gauge, hose)
	}
	short := hose
	short.Hose.Length.Value /= 2
	try(PartHose, say("None of the list betters it. Half the hose would gain most: less volume falls quicker."), pump, gauge, short)
	return best
}

// Reading returns what a rig's gauge shows [Pa] of a leak [m³/s at 50 kPa] in
// the pull.
func (x *Candidate) Reading(leak float64) float64 { return x.way.reading(leak, x.GaugeAtPump) }

// Most returns the largest leak [m³/s at 50 kPa] for which [Candidate.Reading]
// is worked out: the port then is all but open.
func (x *Candidate) Most() float64 { return x.way.leak[len(x.way.leak)-1] }

// TeeAtPort says whether the gauge belongs at the plate's end of the hose: the
// hose would otherwise hide at ten limits more than can be read. The hold does
// not mind, nothing flows in it.
func (x *Candidate) TeeAtPort() bool {
	for _, s := range x.Ports {
		if s.HoseLoss > x.Step {
			return true
		}
	}
	return false
}

// the puts an article before a name that is no proper one: "the exhaust port".
func the(name string) string {
	if strings.HasSuffix(name, "port") {
		return "the " + name
	}
	return name
}

// Rig returns what is known of a rig of the list before it is built, for a rig
// file: a start for its checks.
func (c *Choice) Rig(x *Candidate) rig.Rig {
	p := &c.Parts
	pump, gauge, hose := p.Pumps[x.Pump], p.Gauges[x.Gauge].Gauge, p.Hoses[x.Hose].Hose
	r := rig.Rig{Name: pump.Name + ", " + p.Gauges[x.Gauge].Name, RigLeak: p.RigLeak, Pump: pump.asRated(), Gauge: gauge, Hose: hose, Air: p.Air}
	r.Volume = unit.About(x.Volume, p.Fittings.Spread)
	if hose.GaugeAt == rig.GaugeNotSaid {
		r.Hose.GaugeAt = rig.GaugeAtPort
	}
	if gauge.Class != 0 {
		r.Gauge.Accuracy = unit.Measured{}
	}
	return r
}

// reasons says in words what a rig tells, most important first.
func (c *Choice) reasons(x *Candidate) []Sentence {
	s := x.Ports[x.Worst]
	port := the(c.Parts.Ports[x.Worst].Name)
	flow := func(q float64) Figure { return exactly(q, unit.FlowDim) }
	pressure := func(v float64) Figure { return exactly(v, unit.PressureDim) }
	var out []Sentence
	add := func(text string, f ...Figure) { out = append(out, say(text, f...)) }
	if x.Questioned {
		add("Figures of its parts are questioned: ask before you go by this.")
	}
	switch x.Tells {
	case TellsByThumb:
		add("A hold of 15 s tells a leak of {} from none on "+port+", where the limit is {}.", flow(s.Thumb.Low), flow(s.Limit))
	case TellsInAMinute:
		add("It takes a hold of a minute to tell half the limit, {}, on "+port+": no thumb lasts that long, the valve's own spring does.", flow(s.Limit/2))
	case TellsTheLimit:
		if x.Blanked < shallow {
			add("It pulls to {} only: leaks are stated at {}, and every figure would be carried there by a law that nobody knows.", pressure(x.Blanked), pressure(50e3))
		} else {
			add("Only a leak of the limit itself, {}, shows on "+port+", and nothing finer.", flow(s.Limit))
		}
	default:
		add("A leak of the limit, {} on "+port+", moves nothing that can be read: a good seat and a bad one look alike.", flow(s.Limit))
	}
	switch {
	case x.Pegged:
		add("The blanked reading, {}, lies beyond the gauge's scale, so that no drop can be seen.", pressure(x.Blanked))
	case s.Steady.Any():
		lim := s.Drops[1]
		add("The needle drops {} at the limit, and speaks from {} up to {}.", pressure(lim.Needle), flow(s.Steady.Low), flow(s.Steady.High))
		if s.Thumb.Any() && s.Steady.Low > s.Thumb.High {
			add("Between {} and {} the hold is too quick for the eye and the drop too small: there it says that the port leaks, and not how much.", flow(s.Thumb.High), flow(s.Steady.Low))
		}
	default:
		add("Its steady reading tells no leak from another.")
	}
	switch {
	case s.PullDown > 60:
		add("It takes {} to pull "+port+" down: too long for a bench.", exactly(s.PullDown, unit.TimeDim))
	case s.PullDown > patience:
		add("It pulls "+port+" down in {}, which asks for patience.", exactly(s.PullDown, unit.TimeDim))
	default:
		add("It pulls "+port+" down in {}.", exactly(s.PullDown, unit.TimeDim))
	}
	if x.Blanked >= shallow && x.Blanked < deep {
		add("It pulls to {}: a hold soon falls below the {} at which leaks are stated.", pressure(x.Blanked), pressure(50e3))
	}
	if g := c.Parts.Pumps[x.Pump]; len(g.Pump.Curve) < 2 {
		add("Its pump's curve is a straight line through two numbers, which costs the steady reading ± 30 %.")
	}
	return out
}

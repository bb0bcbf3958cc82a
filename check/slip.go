package check

import (
	"math"
	"strconv"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/unit"
)

// SlipCode names a kind of slip.
type SlipCode string

// The slips of data sheets.
const (
	SlipTenfold   SlipCode = "tenfold"    // two figures for one thing lie ten, a hundred or a thousand times apart
	SlipCubicFeet SlipCode = "cubic-feet" // 28.3 apart: cubic feet read as litres
	SlipUnlike    SlipCode = "unlike"     // two figures for one thing don't agree
	SlipAbsolute  SlipCode = "absolute"   // an absolute pressure stands where a vacuum belongs
	SlipTooDeep   SlipCode = "too-deep"   // deeper than the room's air pressure
	SlipPower     SlipCode = "power"      // the flow takes more power than it has, or next to none of it
	SlipNothing   SlipCode = "nothing"    // nothing can be reckoned with it
	SlipGauge     SlipCode = "gauge"      // an absolute gauge, or one that ends before the pump does
)

// Slip is a figure that smells of one: questioned, never mended.
type Slip struct {
	Code   SlipCode
	Part   Part
	Index  int    // of the part in its list
	Field  string // "free_flow", "blanked", "power", "span"
	What   Sentence
	Maybe  Sentence // what it may have been; no text: nothing comes to mind
	Blocks bool     // nothing can be reckoned until it is mended
}

// litresPerFoot is cubic feet in litres: 28.316846592, exactly (NIST SP 811,
// B.8).
const litresPerFoot = 28.316846592

// Tolerances within which a ratio counts as that of a slip, and two figures for
// one thing as the same: sheets round.
const (
	ratioNear = 0.08
	alike     = 0.06
)

// Slips questions the figures of parts in a room at pa [Pa]:
//
//   - figures for one thing in several units that differ ten, a hundred or a
//     thousand times, or 28.3 times (cubic feet read as litres), or otherwise;
//
//   - an absolute pressure as vacuum: the same figure stands for both, or the
//     vacuum is less than 45 % of an air pressure;
//
//   - a vacuum deeper than the air pressure it is rated at;
//
//   - a flow that takes more power than the pump draws (isothermal compression,
//     the least work there is), or less than 3 % of it:
//
//     P = max over v of q(v) pa ln(pa/(pa-v))
//
//   - a gauge whose scale ends before the pump does.
//
// The bounds of 3 %, 6 % and 45 % are common practice, no source; the least work
// is any thermodynamics text's.
func Slips(p Parts, pa float64) []Slip {
	var out []Slip
	for i, pump := range p.Pumps {
		asked := map[string]bool{}
		add := func(s Slip) {
			s.Part, s.Index = PartPump, i
			asked[s.Field] = true
			out = append(out, s)
		}
		compare(pump.Flows, "free_flow", true, add)
		compare(pump.Vacuums, "blanked", false, add)
		if tooDeep(pump, pa, add) {
			continue
		}
		absolute(pump, pa, add)
		if !asked["free_flow"] { // one of two flows is wrong already
			power(pump, pa, add)
		}
	}
	for i, g := range p.Gauges {
		ends(p, i, g, pa, &out)
	}
	return out
}

// compare holds the figures for one thing against the first of them.
func compare(all []Stated, field string, flow bool, add func(Slip)) {
	if len(all) < 2 {
		return
	}
	first := all[0]
	for _, s := range all[1:] {
		big, small := first, s
		if small.Value > big.Value {
			big, small = small, big
		}
		ratio := big.Value / small.Value
		q := Slip{Field: field, Code: SlipUnlike, What: say("“"+first.Text+"” and “"+s.Text+"” are stated for one thing, and are not the same: the one is {} times the other.", exactly(round3(ratio), 0))}
		switch {
		case atRatio(ratio, 1, alike):
			continue
		case atRatio(ratio, 10, ratioNear), atRatio(ratio, 100, ratioNear), atRatio(ratio, 1000, ratioNear):
			q.Code = SlipTenfold
			q.Maybe = say("A decimal mark may have slipped on the way from one unit to the other: which of the two is on the pump's own label?")
		case flow && atRatio(ratio, litresPerFoot, ratioNear):
			q.Code = SlipCubicFeet
			q.Maybe = say("Cubic feet may have been read as litres: a cubic foot is 28.3 L.")
		case flow && atRatio(ratio, 60, ratioNear):
			q.Maybe = say("Minutes and seconds may have been mixed up.")
		}
		add(q)
	}
}

func atRatio(x, want, within float64) bool { return math.Abs(x/want-1) <= within }

func round3(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// asRated returns the pump with the air pressure its vacuum is stated at: as said,
// else sea level, as data sheets have it; not known where it was read in this room.
func (p PumpPart) asRated() rig.Pump {
	x := p.Pump
	switch {
	case p.ReadHere:
		x.RatedAt = unit.Measured{}
	case !x.RatedAt.Known:
		x.RatedAt = unit.Exactly(gas.SeaLevelPressure)
	}
	return x
}

// rated is the air pressure [Pa] a pump's vacuum is stated at, in a room at pa [Pa].
func (p PumpPart) rated(pa float64) float64 { return p.asRated().RatedAt.Or(unit.Exactly(pa)).Value }

// deepest is the vacuum [Pa] a pump is said to reach; 0: not said.
func (p PumpPart) deepest() float64 {
	if p.Pump.Blanked.Known {
		return p.Pump.Blanked.Value
	}
	if n := len(p.Pump.Curve); n > 0 {
		return float64(p.Pump.Curve[n-1].Vacuum)
	}
	return 0
}

func tooDeep(p PumpPart, pa float64, add func(Slip)) bool {
	v, rated := p.deepest(), p.rated(pa)
	if v < rated {
		return false
	}
	q := Slip{Code: SlipTooDeep, Field: "blanked", Blocks: true,
		What: say("A vacuum of {} is deeper than the air pressure it is stated at, {}: no pump can pull that.", exactly(v, unit.PressureDim), exactly(rated, unit.PressureDim))}
	switch {
	case v/10 > 0.3*rated && v/10 < rated:
		q.Maybe = say("The figure may be ten times too large: {}?", exactly(v/10, unit.PressureDim))
	case p.ReadHere && v < gas.SeaLevelPressure:
		q.Maybe = say("It may be a data sheet's, stated at sea level, and not one read here: then leave out that it was read here.")
	default:
		q.Maybe = say("Its unit may be another one, or the pump's end pressure, absolute, is close to nothing: then state that.")
	}
	add(q)
	return true
}

func absolute(p PumpPart, pa float64, add func(Slip)) {
	v, rated := p.deepest(), p.rated(pa)
	if v == 0 {
		return
	}
	other := say("If {} is the absolute pressure that the pump leaves, its vacuum is {}.", exactly(v, unit.PressureDim), exactly(rated-v, unit.PressureDim))
	switch {
	case p.End.Value > 0 && len(p.Vacuums) > 0 && atRatio(p.End.Value, p.Vacuums[0].Value, 0.02) && !atRatio(p.End.Value, rated/2, 0.05):
		add(Slip{Code: SlipAbsolute, Field: "blanked", Maybe: other,
			What: say("The same figure, {}, stands for the vacuum and for the absolute pressure that is left: one of them is wrong.", exactly(v, unit.PressureDim))})
	case p.End.Value > 0 && len(p.Vacuums) > 0 && !atRatio(rated-p.End.Value, v, alike):
		add(Slip{Code: SlipUnlike, Field: "end_pressure",
			What: say("A vacuum of {} leaves {} absolute, and the sheet says {}.", exactly(v, unit.PressureDim), exactly(rated-v, unit.PressureDim), exactly(p.End.Value, unit.PressureDim))})
	case p.End.Value > 0 && len(p.Vacuums) == 0 && v < 0.45*rated:
		add(Slip{Code: SlipAbsolute, Field: "end_pressure", Maybe: say("If {} is the vacuum, it belongs there.", exactly(p.End.Value, unit.PressureDim)),
			What: say("A pump that leaves {} absolute pulls to {} only, which is little for a vacuum pump.", exactly(p.End.Value, unit.PressureDim), exactly(v, unit.PressureDim))})
	case !p.ReadHere && p.End.Value == 0 && v < 0.45*rated:
		add(Slip{Code: SlipAbsolute, Field: "blanked", Maybe: other,
			What: say("A vacuum of {} is little for a vacuum pump.", exactly(v, unit.PressureDim))})
	}
}

// least returns the largest power [W] that a pump's curve takes at the least, in
// isothermal compression.
func leastPower(p PumpPart, pa float64) (float64, bool) {
	p.Power = 0
	curve, err := p.here(p.rated(pa))
	if err != nil {
		return 0, false
	}
	rated := p.rated(pa)
	most := 0.0
	for i := 1; i < 100; i++ {
		v := curve.Blanked() * float64(i) / 100
		most = math.Max(most, curve.Flow(v)*rated*math.Log(rated/(rated-v)))
	}
	return most, true
}

// Parts of the power that a pump turns into pumping.
const (
	leastEfficiency = 0.03
	mostEfficiency  = 0.75
)

func power(p PumpPart, pa float64, add func(Slip)) {
	if p.Power <= 0 {
		return
	}
	least, ok := leastPower(p, pa)
	if !ok {
		return
	}
	part := least / p.Power
	flow := p.flow()
	q := Slip{Code: SlipPower, Field: "power"}
	watts := func(x float64) string { return strconv.FormatFloat(round3(x), 'f', -1, 64) + " W" }
	switch {
	case part > mostEfficiency:
		q.What = say("To move {} it needs "+watts(least)+" at the least, with no loss at all, and it takes "+watts(p.Power)+": no pump is that good.", exactly(flow, unit.FlowDim))
		switch {
		case plausible(part / 10):
			q.Maybe = say("The flow may be ten times too large: {}?", exactly(flow/10, unit.FlowDim))
		case plausible(part / litresPerFoot):
			q.Maybe = say("Litres may have been read as cubic feet: {}?", exactly(flow/litresPerFoot, unit.FlowDim))
		}
	case part < leastEfficiency:
		q.What = say("It takes "+watts(p.Power)+" to move {}, of which "+watts(least)+" is work done on the air: that is next to nothing.", exactly(flow, unit.FlowDim))
		switch {
		case part*litresPerFoot < mostEfficiency && part*litresPerFoot > 2*leastEfficiency:
			q.Code, q.Field = SlipCubicFeet, "free_flow"
			q.Maybe = say("Cubic feet may have been read as litres: {}?", exactly(flow*litresPerFoot, unit.FlowDim))
		case plausible(part * 10):
			q.Maybe = say("The flow may be ten times too small: {}?", exactly(flow*10, unit.FlowDim))
		}
	default:
		return
	}
	add(q)
}

func plausible(efficiency float64) bool {
	return efficiency >= leastEfficiency && efficiency <= mostEfficiency
}

// flow is the pump's flow with no vacuum [m³/s].
func (p PumpPart) flow() float64 {
	if len(p.Pump.Curve) > 0 {
		return p.Pump.Curve[0].Flow
	}
	return p.Pump.FreeFlow.Value
}

// ends questions a gauge that ends before every pump does.
func ends(p Parts, i int, g GaugePart, pa float64, out *[]Slip) {
	span := g.Gauge.Span
	if !span.Known {
		return
	}
	least := math.Inf(1)
	for _, pump := range p.Pumps {
		curve, err := pump.here(pa)
		if err == nil && curve.Blanked() < pa {
			least = math.Min(least, curve.Blanked())
		}
	}
	if math.IsInf(least, 1) || span.High >= least {
		return
	}
	s := Slip{Code: SlipGauge, Part: PartGauge, Index: i, Field: "span",
		What: say("Its scale ends at {}, and every pump of the list pulls deeper, {} or more.", exactly(span.High, unit.PressureDim), exactly(least, unit.PressureDim))}
	if span.High*10 > least && span.High*10 < 1.2*gas.SeaLevelPressure {
		s.Maybe = say("The span may be ten times too small.")
	}
	*out = append(*out, s)
}

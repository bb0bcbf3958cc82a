package head

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/unit"
)

// What is guessed of a guide, with its ± (95 %). The clearances span what service
// manuals give: new 0.013 to 0.064 mm and worn to 0.13 mm for intake valves, 0.038
// to 0.089 and worn to 0.15 mm for exhaust valves (TM 9-6115-464-34 and others).
// Stems and lengths: common practice, no source.
const (
	stemShare     = 0.21 // of the valve's head; 27 mm: 5.7 mm
	stemSpread    = 0.2  // of it
	guideStems    = 6.5  // length of a guide in stems
	guideSpread   = 0.3  // of it
	intakeClears  = 0.04e-3
	intakeTimes   = 3.2 // 95 % within as many times more or less
	exhaustClears = 0.075e-3
	exhaustTimes  = 2.0
)

// StemOr returns the diameter of a valve's stem [m], or a fifth of its head.
// guessed says which.
func (j *Job) StemOr(v *Valve) (stem unit.Measured, guessed bool) {
	if known(v.Stem) {
		return v.Stem, false
	}
	h, _ := j.HeadOr(v)
	d := stemShare * h.Value
	return unit.About(d, d*math.Hypot(stemSpread, h.Spread/h.Value)), true
}

// GuideOr returns the length of a valve's guide [m], or 6.5 stems ± 30 %. guessed
// says which.
func (j *Job) GuideOr(v *Valve) (length unit.Measured, guessed bool) {
	if known(v.Guide) {
		return v.Guide, false
	}
	d, _ := j.StemOr(v)
	l := guideStems * d.Value
	return unit.About(l, l*math.Hypot(guideSpread, d.Spread/d.Value)), true
}

// ClearanceOr returns the diametral clearance of a stem in its guide [m], or the
// wide middle of what manuals give, new to worn: 0.04 mm for an intake valve, a third
// to three times of it, 0.075 mm for an exhaust valve, half to twice. guessed says
// which.
func (v *Valve) ClearanceOr() (clearance unit.Measured, guessed bool) {
	if known(v.Clearance) {
		return v.Clearance, false
	}
	c, times := intakeClears, intakeTimes
	if v.Side == Exhaust {
		c, times = exhaustClears, exhaustTimes
	}
	return unit.About(c, c*(times-1)), true
}

// GuideForecast is what the guides of a port alone may pass by their sizes: an
// annulus each, the stem anywhere between the middle and the wall. A clearance
// enters by its cube, so the forecast is wide; it is never taken off a leak rate.
type GuideForecast struct {
	Flow    Estimate `json:"flow"`    // m³/s of free air at 50 kPa, all guides of the port
	Guessed []string `json:"guessed"` // what of their sizes nobody gave: "stem", "guide length", "clearance"
	Seals   bool     `json:"seals"`   // a stem seal is fitted to any of them: one that fits passes less
}

// guideDraws is how many draws a forecast is made of.
const guideDraws = 500

// forecastGuides computes a port's guides in a room [Pa, K; 0: a standard one];
// nil for a port without valves. 5.5 mm, 0.04 ± 0.01 mm over 41 mm: docs/model.md
// §8.3.
func (j *Job) forecastGuides(p *Port, room, temp float64) *GuideForecast {
	if !(room > 0) {
		room = 101325
	}
	if !(temp > 0) {
		temp = 293.15
	}
	out := &GuideForecast{Guessed: []string{}}
	guessed := func(what string, yes bool) {
		if yes && !slices.Contains(out.Guessed, what) {
			out.Guessed = append(out.Guessed, what)
		}
	}
	flow := make([]float64, guideDraws)
	chance := rand.New(rand.NewPCG(3, 8))
	for _, id := range p.Valves {
		v := j.valve(id)
		if v == nil {
			continue
		}
		stem, g1 := j.StemOr(v)
		length, g2 := j.GuideOr(v)
		clearance, g3 := v.ClearanceOr()
		guessed("stem", g1)
		guessed("guide length", g2)
		guessed("clearance", g3)
		out.Seals = out.Seals || v.Seal != ""
		for d := range flow {
			a := gas.Annulus{
				Stem: drawn(stem, g1, chance), Length: drawn(length, g2, chance),
				Clearance: drawn(clearance, g3, chance), Eccentricity: chance.Float64(),
			}
			q, err := gas.FreeAirAt(a, math.Min(50e3, 0.9*room), room, temp)
			if err != nil { // sizes that no guide has
				return nil
			}
			flow[d] += q
		}
	}
	if slices.Max(flow) == 0 {
		return nil
	}
	slices.Sort(flow)
	out.Flow = Estimate{flow[guideDraws/2], flow[guideDraws/40], flow[guideDraws-1-guideDraws/40]}
	return out
}

// room returns the air of the tests that speak for a port; 0, 0: none.
func (w *portWork) room() (room, temp float64) {
	if w.speaks != nil && w.speaks.reading != nil {
		return w.speaks.reading.Room, w.speaks.reading.RoomTemp
	}
	return 0, 0
}

// drawn draws a figure: a guess in its logarithm, a given one as it was given, and
// never below a hundredth of it.
func drawn(m unit.Measured, guessed bool, chance *rand.Rand) float64 {
	z := chance.NormFloat64()
	if guessed {
		return m.Value * math.Exp(z*math.Log1p(m.Spread/m.Value)/num.Z95)
	}
	return math.Max(0.01*m.Value, m.Value+z*m.Spread/num.Z95)
}

// Words says what the guides may pass: "the guide alone may pass 15 to 175
// cm³/min: close it off and test". guides is how many.
func (g *GuideForecast) Words(guides int) string {
	s := plural(guides, "the guide", "the guides") + " alone may pass " + flowFig(g.Flow.Low) + " to " + flowFig(g.Flow.High) + " cm³/min: close " + plural(guides, "it", "them") + " off and test"
	return s
}

// Basis says what a forecast was computed from: what was guessed, and that a seal
// is not in it.
func (g *GuideForecast) Basis() string {
	s := "by stem, length and clearance, the stem anywhere between the middle of the guide and its wall"
	if len(g.Guessed) > 0 {
		s += "; guessed, wide: " + strings.Join(g.Guessed, ", ")
	}
	if g.Seals {
		s += "; a stem seal that fits passes less"
	}
	return s
}

// flowFig writes a flow [m³/s] in cm³/min, two figures.
func flowFig(q float64) string {
	x, err := strconv.ParseFloat(strconv.FormatFloat(q*6e7, 'g', 2, 64), 64)
	if err != nil || x < 0.1 {
		return "less than 0.1"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// sentence is a forecast at the end of a reason; "" for none.
func (g *GuideForecast) sentence(guides int) string {
	if g == nil {
		return ""
	}
	return " By " + plural(guides, "its size ", "their sizes ") + g.Words(guides)[:strings.Index(g.Words(guides), ": close")] + "; nothing is taken off for that."
}

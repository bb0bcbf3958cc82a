package crosscheck

import (
	"math"
	"slices"

	"seatproof/gas"
	"seatproof/unit"
)

// What is looked for outside, with the volume [m³] it takes: an engineering choice.
const (
	PaperVolume = 0.005e-6 // wets a paper that is held to the seat
	DropVolume  = 0.05e-6  // makes a drop that is seen
)

// LiquidTest is a liquid standing in a port, with its valves shut by their springs.
type LiquidTest struct {
	Liquid Liquid
	Head   unit.Measured // m, height of the liquid over the seat
}

// Times is when something shows [s]: +Inf where it never does.
type Times struct {
	Interval
	Never float64 // chance that it never does
}

// LiquidForecast is what a leak shows with a liquid.
type LiquidForecast struct {
	Flow  Interval // m³/s of liquid, by its own weight, where nothing holds it
	Paper Times    // to a wet paper
	Drop  Times    // to a drop that is seen
}

// Seen is how a liquid test ended.
type Seen string

// The ends.
const (
	SeenDry   Seen = "dry"   // no paper wet
	SeenPaper Seen = "paper" // a paper wet, no drop
	SeenDrop  Seen = "drop"  // a drop
)

// Ends are the ends, in the order of more.
var Ends = []Seen{SeenDry, SeenPaper, SeenDrop}

// SeepLiquid returns the flow [m³/s] of a liquid of a viscosity [Pa s] through a
// slot under a pressure [Pa]: w h³ dp/(12 mu L), plane Poiseuille flow.
func SeepLiquid(s gas.Seep, viscosity, pressure float64) float64 {
	return s.Width * s.Gap * s.Gap * s.Gap * pressure / (12 * viscosity * s.Length)
}

// OpeningLiquid returns the flow [m³/s] of a liquid through an opening under a
// pressure [Pa]. Small ones creep:
//
//	dp = rho/2 (Q/A)² + 24 mu Q/d³
//
// with A the effective area at small pressure drops, d = sqrt(4 A/pi). First term:
// the orifice law; second: Sampson 1891, a hole in a thin wall (from memory).
func OpeningLiquid(o gas.Opening, viscosity, density, pressure float64) float64 {
	if o.Area == 0 || pressure <= 0 {
		return 0
	}
	area := o.Area
	if o.Edge != 0 {
		area *= 1 + o.Edge*(gas.SharpEdgeCd(1)/gas.SharpEdgeCd(o.Reference)-1)
	}
	d := o.Diameter()
	a, b := density/(2*area*area), 24*viscosity/(d*d*d)
	return 2 * pressure / (b + math.Sqrt(b*b+4*a*pressure))
}

// Draws returns the pressure [Pa] by which a liquid is drawn into a slot of the gap
// h [m] by its own surface: 2 sigma cos(theta)/h. Of a round hole of diameter h twice
// that.
func Draws(tension, angle, h float64) float64 { return 2 * tension * math.Cos(angle) / h }

// Holds returns the pressure [Pa] by which a liquid is held back where the walls of
// a slot part by relief [rad]: -2 sigma cos(theta + beta)/h where that is positive.
func Holds(tension, angle, relief, h float64) float64 {
	return max(0, -2*tension*math.Cos(angle+relief)/h)
}

func (t *LiquidTest) check(p *Port) error {
	l := &t.Liquid
	for _, r := range []Range{l.Viscosity, l.Density, l.Tension} {
		if !(r.Low > 0 && r.High >= r.Low) {
			return wrong("liquid", "no liquid is named: take one whose viscosity, density and surface tension are known")
		}
	}
	if !(t.Head.Known && t.Head.Value > 0 && t.Head.Value <= 2 && t.Head.Spread >= 0) {
		return wrong("head", "a height of liquid of %.4g mm can't be: give how high it stands over the seat, above 0 and up to 2 m", t.Head.Value*1e3)
	}
	return p.check()
}

// flows of liquid through a leak of a state: by its weight alone, to a paper, and to
// a drop that has to come over the edge. A paper that touches the edge draws the
// liquid out, one that does not waits until it comes over by itself: anything
// between, as likely, since nobody sees which.
func (t *LiquidTest) flows(s *state, flow float64) (weight, paper, drop float64, err error) {
	w, err := s.way(flow)
	if err != nil {
		return 0, 0, 0, err
	}
	l := &t.Liquid
	mu, rho := l.Viscosity.at(s.u[1]), l.Density.at(s.u[2])
	sigma, theta := l.Tension.at(s.u[3]), l.Angle.at(s.u[4])
	p := rho * gas.Gravity * drawn(t.Head, s.u[0])
	touch := 2*s.u[5] - 1
	to := func(h float64, q func(pressure float64) float64) {
		held := Holds(sigma, theta, s.relief, h)
		weight += q(p)
		drop += q(max(0, p-held))
		if touch > 0 {
			paper += q(p + touch*Draws(sigma, theta, h))
		} else {
			paper += q(max(0, p+touch*held))
		}
	}
	if h := w.seep.Gap; h > 0 {
		to(h, func(pressure float64) float64 { return SeepLiquid(w.seep, mu, pressure) })
	}
	if w.opening.Area > 0 { // a round hole draws and holds as a slot of half its width
		to(w.opening.Diameter()/2, func(pressure float64) float64 { return OpeningLiquid(w.opening, mu, rho, pressure) })
	}
	return weight, paper, drop, nil
}

// Forecast returns what a leak shows with the liquid. The error is an *[InputError]
// or of package gas.
func (t LiquidTest) Forecast(l Leak) (LiquidForecast, error) {
	if err := t.check(&l.Port); err != nil {
		return LiquidForecast{}, err
	}
	if len(l.Draws) == 0 {
		return LiquidForecast{}, wrong("leak", "no leak rate is known: test the port first")
	}
	states, err := l.states(l.Draws, l.Again)
	if err != nil {
		return LiquidForecast{}, err
	}
	var flow, paper, drop []float64
	for k := range states {
		q, a, b, err := t.flows(&states[k], states[k].Flow)
		if err != nil {
			return LiquidForecast{}, err
		}
		flow, paper, drop = append(flow, q), append(paper, PaperVolume/a), append(drop, DropVolume/b)
	}
	return LiquidForecast{intervalOf(flow), timesOf(paper), timesOf(drop)}, nil
}

func timesOf(x []float64) Times {
	t := Times{Interval: intervalOf(x)}
	t.Never = float64(len(x)-firstInf(x)) / float64(len(x))
	return t
}

// firstInf is where infinity begins in sorted x.
func firstInf(x []float64) int {
	i := slices.IndexFunc(x, func(v float64) bool { return math.IsInf(v, 1) })
	if i < 0 {
		return len(x)
	}
	return i
}

// Leak returns what a liquid test says about the leak: what was seen, and after how
// long [s] it was first seen or, for nothing, for how long it was watched. A dry
// outside bounds the leak from above; a wet paper or a drop gives it, and a paper
// without a drop says nothing more. The error is an *[InputError] or of package
// gas.
func (t LiquidTest) Leak(seen Seen, after unit.Measured, p Port) (Bound, error) {
	if err := t.check(&p); err != nil {
		return Bound{}, err
	}
	switch {
	case !slices.Contains(Ends, seen):
		return Bound{}, wrong("seen", "%q is no way a liquid test ends: take dry, paper or drop", string(seen))
	case !(after.Known && after.Value > 0 && after.Spread >= 0) || math.IsInf(after.Value, 0):
		return Bound{}, wrong("after", "a time of %.4g s can't be: give for how long it was watched, or when it showed, above 0", after.Value)
	}
	states, err := p.states(nil, 0)
	if err != nil {
		return Bound{}, err
	}
	out := make([]float64, len(states))
	for k := range states {
		s := &states[k]
		volume := PaperVolume
		if seen == SeenDrop {
			volume = DropVolume
		}
		want := math.Log(volume / drawn(after, s.u[0]))
		out[k], err = flowWhere(func(flow float64) (float64, error) {
			_, paper, drop, err := t.flows(s, flow)
			q := paper
			if seen == SeenDrop {
				q = drop
			}
			return math.Log(max(q, 1e-300)) - want, err
		})
		if err != nil {
			return Bound{}, err
		}
	}
	if seen == SeenDry {
		return upper(out), nil
	}
	return boundOf(out), nil
}

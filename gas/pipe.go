package gas

import (
	"fmt"
	"math"
)

// Pipe is a round passage much longer than wide: a hose, a needle, a capillary
// leak.
type Pipe struct {
	Diameter float64 // m, bore
	Length   float64 // m

	// Loss is what entrance, exit, bends and fittings take beside the wall, in
	// velocity heads; 0 leaves it out. A square entrance into laminar flow and
	// the jet lost at the end are about 2.3 together (Hagenbach, from memory).
	Loss float64
	// NoSlip leaves the slip at the wall out, for checks against plain laws.
	NoSlip bool
}

// Reynolds numbers at which pipe flow stops being laminar, and is turbulent.
const (
	laminarRe   = 2300
	turbulentRe = 4000
)

// MassFlow returns the mass flow [kg/s] through the pipe from p1 to p2 [Pa,
// absolute], with the air at t1 [K] throughout: laminar it is
//
//	mdot = pi d⁴ (p1² - p2²)/(256 mu L R t1) (1 + 8 lambda/d)
//
// with lambda the mean free path at (p1+p2)/2; in general
//
//	p1² - p2² = R t1 (mdot/A)² (f L/d + Loss),  Re = 4 mdot/(pi d mu)
//
// with f = 64/(Re slip) up to Re 2300, 0.316/Re^0.25 from 4000 and a straight
// line between; and never more than the isentropic flow of its bore, which
// takes over where the pipe is short or wide. Errors as for [Element].
// Source: docs/model.md §1; Levenspiel, Engineering Flow and Heat Exchange,
// eq. 4.15 (laminar); Blasius 1913 (turbulent, smooth).
func (p Pipe) MassFlow(p1, p2, t1 float64) (float64, error) {
	const op = "pipe"
	if err := checkFlow(op, p1, p2, t1); err != nil {
		return 0, err
	}
	if err := p.check(op); err != nil {
		return 0, err
	}
	return finite(op, p.flow(p1, p2, t1))
}

func (p Pipe) check(op string) error {
	return check(op, ask{"bore", p.Diameter, true}, ask{"length", p.Length, false}, ask{"loss", p.Loss, true})
}

// flow is MassFlow with arguments in range.
func (p Pipe) flow(p1, p2, t1 float64) float64 {
	if p.Diameter == 0 || p1 == p2 {
		return 0
	}
	mu := Viscosity(t1)
	area := math.Pi / 4 * p.Diameter * p.Diameter
	drive := (p1 - p2) * (p1 + p2)
	slip := p.slip((p1+p2)/2, t1)
	reFlow := math.Pi / 4 * p.Diameter * mu // mass flow at Re = 1
	// In Re the law reads: x = Re² (f(Re) L/d + Loss)
	x := drive * area * area / (R * t1 * reFlow * reFlow)
	re := p.reynolds(x, slip)
	nozzle := area * p1 / math.Sqrt(R*t1) * Psi(p2/p1)
	return math.Min(re*reFlow, nozzle)
}

func (p Pipe) slip(mean, t1 float64) float64 {
	if p.NoSlip {
		return 1
	}
	return 1 + 8*MeanFreePath(mean, t1)/p.Diameter
}

// reynolds solves Re² (f(Re) L/d + Loss) = x, whose left side grows with Re.
func (p Pipe) reynolds(x, slip float64) float64 {
	ld := p.Length / p.Diameter
	a := 64 * ld / slip // laminar: a Re + Loss Re² = x
	re := 2 * x / (a + math.Sqrt(a*a+4*p.Loss*x))
	if re <= laminarRe {
		return re
	}
	// Newton from above, guarded; at most a few steps since the law is nearly a
	// power of Re.
	lo, hi := float64(laminarRe), math.Max(re, laminarRe)
	for range 100 {
		f := re*re*(friction(re, slip)*ld+p.Loss) - x
		if f > 0 {
			hi = re
		} else {
			lo = re
		}
		d := 1e-7 * re
		slope := ((re+d)*(re+d)*(friction(re+d, slip)*ld+p.Loss) - x - f) / d
		next := re - f/slope
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-re) <= 1e-14*re || hi-lo <= 1e-14*hi {
			return next
		}
		re = next
	}
	return re
}

// friction is the Darcy friction factor of a smooth pipe.
func friction(re, slip float64) float64 {
	switch {
	case re <= laminarRe:
		return 64 / (re * slip)
	case re >= turbulentRe:
		return 0.316 / math.Sqrt(math.Sqrt(re))
	}
	low, high := 64/(laminarRe*slip), 0.316/math.Sqrt(math.Sqrt(turbulentRe))
	return low + (high-low)*(re-laminarRe)/(turbulentRe-laminarRe)
}

// Downstream returns the pressure [Pa, absolute] at the far end of the pipe
// when the mass flow mdot [kg/s] enters at p1 [Pa, absolute] and t1 [K]. The
// error is a *[RangeError] where the pipe can't pass so much from p1, whatever
// the far end's pressure.
func (p Pipe) Downstream(mdot, p1, t1 float64) (float64, error) {
	const op = "pipe, pressure behind it"
	if err := p.checkDrop(op, mdot, p1, t1); err != nil {
		return 0, err
	}
	if mdot == 0 {
		return p1, nil
	}
	if most := p.flow(p1, 0, t1); mdot > most {
		return 0, &RangeError{Op: op, Field: "mass flow", Value: mdot, Want: fmt.Sprintf("at most %g, all it passes from %g Pa", most, p1)}
	}
	if p2, ok := p.wallEnd(mdot, p1, t1, -1); ok {
		return p2, nil
	}
	lo, hi := 0.0, p1 // flow(lo) >= mdot > flow(hi): the flow falls as p2 rises
	for range 200 {
		mid := (lo + hi) / 2
		if !(mid > lo && mid < hi) {
			break
		}
		if p.flow(p1, mid, t1) >= mdot {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, nil
}

// Upstream returns the pressure [Pa, absolute] at the near end of the pipe when
// the mass flow mdot [kg/s] at t1 [K] leaves at p2 [Pa, absolute]: never below
// p2. The error is a *[RangeError] where a figure is out of range or the
// pressure would exceed 1 GPa.
func (p Pipe) Upstream(mdot, p2, t1 float64) (float64, error) {
	const op = "pipe, pressure before it"
	if err := p.checkDrop(op, mdot, p2, t1); err != nil {
		return 0, err
	}
	if mdot == 0 {
		return p2, nil
	}
	if p1, ok := p.wallEnd(mdot, p2, t1, 1); ok {
		return p1, nil
	}
	lo, hi := p2, math.Max(2*p2, 1)
	for p.flow(hi, p2, t1) < mdot {
		if lo, hi = hi, 2*hi; hi > 1e9 {
			return 0, &RangeError{Op: op, Field: "mass flow", Value: mdot, Want: "what the pipe passes from less than 1 GPa"}
		}
	}
	for range 200 {
		mid := (lo + hi) / 2
		if !(mid > lo && mid < hi) {
			break
		}
		if p.flow(mid, p2, t1) >= mdot {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, nil
}

// wallEnd returns the pressure at the other end of the pipe (side -1
// downstream, 1 upstream) where the wall and the losses decide, not the nozzle
// of the bore: the law solved for the pressure, with a few rounds for the slip,
// which goes with it. False where that does not settle or the nozzle decides.
func (p Pipe) wallEnd(mdot, end, t1, side float64) (float64, bool) {
	area := math.Pi / 4 * p.Diameter * p.Diameter
	re := mdot / (math.Pi / 4 * p.Diameter * Viscosity(t1))
	k := R * t1 * mdot * mdot / (area * area)
	other := end
	for range 20 {
		slip := p.slip((end+other)/2, t1)
		square := end*end + side*k*(friction(re, slip)*p.Length/p.Diameter+p.Loss)
		if !(square >= 0) {
			return 0, false
		}
		next := math.Sqrt(square)
		settled := math.Abs(next-other) <= 1e-15*(next+other)
		other = next
		if settled {
			p1, p2 := math.Max(end, other), math.Min(end, other)
			return other, area*p1/math.Sqrt(R*t1)*Psi(p2/p1) >= mdot && p1 <= 1e9
		}
	}
	return 0, false
}

func (p Pipe) checkDrop(op string, mdot, pressure, t float64) error {
	if err := check(op, ask{"mass flow", mdot, true}, ask{"bore", p.Diameter, false}); err != nil {
		return err
	}
	if err := checkFlow(op, pressure, 0, t); err != nil {
		return err
	}
	return p.check(op)
}

// PipeFor returns the pipe of the given length [m] whose bore makes it draw
// the free-air flow [m³/s] from a room at pa [Pa], ta [K] into a vacuum [Pa],
// without losses at its ends: the inverse of [FreeAirAt] for a pipe. Errors are
// *[RangeError], also where the bore would be beyond 1 m.
func PipeFor(flow, vacuum, pa, ta, length float64) (Pipe, error) {
	const op = "pipe from flow"
	if err := checkInverse(op, flow, vacuum, pa, ta); err != nil {
		return Pipe{}, err
	}
	if err := check(op, ask{"length", length, false}); err != nil {
		return Pipe{}, err
	}
	p := Pipe{Length: length}
	if flow == 0 {
		return p, nil
	}
	d, ok := sizeFor(func(d float64) float64 {
		return Pipe{Diameter: d, Length: length}.flow(pa, pa-vacuum, ta)
	}, FreeAirMass(flow, pa, ta), 1e-13, 1)
	if !ok {
		return Pipe{}, &RangeError{Op: op, Field: "flow", Value: flow, Want: "what a bore of up to 1 m can pass"}
	}
	p.Diameter = d
	return p, nil
}

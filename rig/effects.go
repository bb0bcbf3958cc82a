package rig

import (
	"fmt"
	"math"

	"seatproof/gas"
	"seatproof/num"
)

// Effects are what real ports and rigs do beside leaking: each is off at its
// zero value. [Practice] holds how large they usually are.
type Effects struct {
	Residue *Residue // a liquid left in the port
	Films   []Film   // of oil, each on a part of the leak
	Yields  []Yield  // volumes that give way: pad, hose; see [Pad] and [Hose.Yields]
	Store   Store    // gas that a pad gives off
	Wall    Wall     // wall temperature that moves; it starts at Closed.WallTemp
	Room    Room     // air pressure that moves; it starts at Closed.AirPressure

	// Back flows in [kg/s] at the absolute pressure p only while the pump does
	// not draw: a shut-off valve or check valve that leaks back. nil: none.
	Back func(p float64) float64
}

// Wall is how the wall's temperature moves from where it starts, Tw0:
//
//	Tw = Ta + (Tw0 - Ta) exp(-t/Fade) + Drift t
type Wall struct {
	Fade  float64 // s, time constant towards the room's; 0: it stays
	Drift float64 // K/s
}

// Room is how the room's air pressure moves: Drift t, and Step from At on.
type Room struct {
	Drift float64 // Pa/s
	Step  float64 // Pa, a door
	At    float64 // s from the start of the run
}

// Yield is a volume that gives way to the vacuum as a spring and a dashpot side
// by side (Kelvin and Voigt; linear viscoelastic): the volume e [m³] by which
// the closed volume shrinks follows
//
//	e' = (Volume v/100 kPa - e)/Tau
//
// and comes back likewise. Source: any text on viscoelasticity.
type Yield struct {
	Volume float64 // m³ at a vacuum of 100 kPa, at last
	Tau    float64 // s
}

// AtOnce is the time constant [s] of what gives way at once; a volume that
// followed the pressure without any delay would need an equation solved at
// every instant.
const AtOnce = 0.02

// Pad returns how a foam pad with a gas volume [m³] creeps: it loses the part
// lost of it at a vacuum of 100 kPa, half at once, half with tau [s].
func Pad(volume, lost, tau float64) []Yield {
	return []Yield{{volume * lost / 2, AtOnce}, {volume * lost / 2, tau}}
}

// Yields returns how a hose relaxes that loses the part lost of its volume at
// a vacuum of 100 kPa, the part late of that with tau [s] and the rest at once.
// Without bore and length there is nothing to lose.
func (h Hose) Yields(lost, late, tau float64) []Yield {
	v := math.Pi / 4 * h.Bore.Value * h.Bore.Value * h.Length.Value
	if !h.Bore.Known || !h.Length.Known {
		v = 0
	}
	return []Yield{{v * lost * (1 - late), AtOnce}, {v * lost * late, tau}}
}

// Store is gas that is dissolved or shut in near the port and comes out under
// vacuum, as closed cells of a foam pad do. It holds Gas [m³ of free air] at the
// room's pressure pa, and by Henry's law Gas p/pa at p; what it holds, s, follows
//
//	s' = (Gas p/pa - s)/Tau
//
// so that it fills again when vented. Source: first-order diffusion, derived.
type Store struct {
	Gas float64 // m³ of free air
	Tau float64 // s; needed where Gas is above 0
}

// A pressure above the room's blows off with the time constant overPressure [s]:
// the fitting is open, the valve lifts, or the pump's valves pass it. Over the
// first overWidth [Pa] it does so by and by (as the square), so that the solver
// meets no kink at rest.
const (
	overPressure = 1e-3
	overWidth    = 20.0
)

// blowsOff returns the rate [1/s] at which the gas leaves at a pressure x [Pa]
// above the room's, pa.
func blowsOff(x, pa float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x < overWidth:
		x *= x / (2 * overWidth)
	default:
		x -= overWidth / 2
	}
	return x / pa / overPressure
}

// check returns an error for the first figure that can't be one.
func (e *Effects) check(volume float64) error {
	bad := func(what string, x float64, want string) error {
		return fmt.Errorf("effects: %s %.4g must be %s", what, x, want)
	}
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	if r := e.Residue; r != nil {
		if _, ok := fluids[r.Liquid]; !ok {
			return fmt.Errorf("effects: residue of %q: no vapour pressure is known for it", r.Liquid)
		}
		if !(r.Volume >= 0 && finite(r.Volume)) {
			return bad("residue's volume", r.Volume, "0 or more and finite")
		}
		if !(r.Tau > 0 && finite(r.Tau)) {
			return bad("residue's time constant", r.Tau, "above 0 and finite")
		}
		if !(r.Start >= 0 && r.Start <= 1) {
			return bad("residue's saturation at the start", r.Start, "between 0 and 1")
		}
	}
	for _, f := range e.Films {
		if !(f.Viscosity > 0 && f.Gap > 0 && f.Length > 0) || !finite(f.pace(1)) {
			return fmt.Errorf("effects: film: viscosity %.4g, gap %.4g and length %.4g must be above 0 and finite", f.Viscosity, f.Gap, f.Length)
		}
		if f.Leak == nil {
			return fmt.Errorf("effects: film: the leak that it holds back is missing")
		}
	}
	lost := 0.0
	for _, y := range e.Yields {
		if !(y.Volume >= 0 && y.Tau > 0 && finite(y.Tau)) {
			return fmt.Errorf("effects: yield: volume %.4g must be 0 or more and time constant %.4g above 0", y.Volume, y.Tau)
		}
		lost += y.Volume
	}
	if !(lost < 0.8*volume) {
		return bad("volume that gives way", lost, fmt.Sprintf("well below the closed volume, %.4g", volume))
	}
	if s := e.Store; !(s.Gas >= 0 && finite(s.Gas)) || s.Gas > 0 && !(s.Tau > 0 && finite(s.Tau)) {
		return fmt.Errorf("effects: store: gas %.4g must be 0 or more and its time constant %.4g above 0", s.Gas, s.Tau)
	}
	if !(e.Wall.Fade >= 0) || !finite(e.Wall.Drift) {
		return fmt.Errorf("effects: wall: fade %.4g must be 0 or more and drift %.4g finite", e.Wall.Fade, e.Wall.Drift)
	}
	if !finite(e.Room.Drift) || !finite(e.Room.Step) || !finite(e.Room.At) {
		return fmt.Errorf("effects: room: drift %.4g, step %.4g and its time %.4g must be finite", e.Room.Drift, e.Room.Step, e.Room.At)
	}
	return nil
}

// runEffects is Run with effects. Its steps are cut where the room's pressure
// steps, so that nothing is smeared over that either.
func (c *Closed) runEffects(steps []Step) (*Run, error) {
	if err := c.Effects.check(c.Volume); err != nil {
		return nil, err
	}
	m := newModel(c)
	r := &Run{c: c, model: m}
	y, scale := m.start()
	t := 0.0
	for i, st := range steps {
		if !(st.For > 0) {
			continue
		}
		ends := []float64{t + st.For}
		if at := c.Effects.Room.At; c.Effects.Room.Step != 0 && at > t && at < ends[0] {
			ends = []float64{at, ends[0]}
		}
		for _, end := range ends {
			// a rate within the piece: at its very end the next one's step is not yet there
			late := end == c.Effects.Room.At
			f := func(at float64, y, dy []float64) {
				if late && at >= end {
					at = math.Nextafter(end, 0)
				}
				m.rates(st, at, y, dy)
			}
			sol, err := num.SolveStiff(f, t, end, y, num.Options{Rel: 1e-7, Abs: 1e-8, Scale: scale, MaxStep: (end - t) / 20})
			if err != nil {
				return nil, fmt.Errorf("closed volume with effects, step %d: %w", i+1, err)
			}
			r.steps = append(r.steps, sol)
			t, y = sol.End()
		}
	}
	return r, nil
}

// Room returns the room's air pressure [Pa] at time t [s] of the run.
func (r *Run) Room(t float64) float64 {
	if r.model == nil {
		return r.c.AirPressure
	}
	return r.model.room(t)
}

// Vacuum returns how far the pressure lies below the room's of that moment
// [Pa]: what a gauge of vacuum would show if it were perfect.
func (r *Run) Vacuum(t float64) float64 {
	p, _ := r.Pressure(t)
	return r.Room(t) - p
}

// Vapour returns the vapour's part of the pressure [Pa] at time t [s] and the
// volume of liquid that is left [m³].
func (r *Run) Vapour(t float64) (pv, left float64) {
	if r.model == nil || r.model.residue == nil {
		return 0, 0
	}
	m := r.model
	y, at := r.start(t)
	return m.gas(at, y).pv, math.Max(0, y[m.vapour+1]) / m.perLiquid
}

// Moved returns how far film i is through its slot at time t [s], in time at
// a steady vacuum over the time it holds: below 1 it closes the leak.
func (r *Run) Moved(i int, t float64) float64 {
	if r.model == nil || i < 0 || i >= len(r.c.Effects.Films) {
		return 0
	}
	y, _ := r.start(t)
	return y[r.model.film+i]
}

// start returns state and time for a moment of a run with effects, also of one
// without any step.
func (r *Run) start(t float64) ([]float64, float64) {
	if len(r.steps) == 0 {
		y, _ := r.model.start()
		return y, 0
	}
	return r.at(t), r.within(t)
}

// fullMass is the mass [kg] of room air in the volume.
func (c *Closed) fullMass() float64 { return gas.Density(c.AirPressure, c.AirTemp) * c.Volume }

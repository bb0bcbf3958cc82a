package rig

import (
	"fmt"
	"math"

	"seatproof/gas"
	"seatproof/num"
)

// Closed is a closed volume with what flows in and out of it: the forward
// model of docs/model.md §3. All SI.
type Closed struct {
	Volume      float64                 // m³
	AirPressure float64                 // Pa, the room
	AirTemp     float64                 // K, the room
	WallTemp    float64                 // K; 0: the room's
	Tau         float64                 // s, wall time constant at room density
	Mix         float64                 // 0..1, part of the wall's heat that goes by conduction
	Leak        func(p float64) float64 // kg/s in, at the absolute pressure p
	Pump        func(p float64) float64 // kg/s out, while it draws
	Effects     *Effects                // what real ports and rigs do beside; nil: none
}

// Step is a stretch of a test.
type Step struct {
	For     float64                 // s
	Pumping bool                    // pump on and shut-off valve open
	Inflow  func(p float64) float64 // kg/s more in: the vent; nil: none
}

// conductionModes is how many modes of conduction the forward model keeps.
const conductionModes = 6

var j0Zeros = [conductionModes]float64{
	2.404825557695773, 5.520078110286311, 8.653727912911013,
	11.791534439014281, 14.930917708487787, 18.071063967910924,
}

// Run is a computed test.
type Run struct {
	c     *Closed
	steps []*num.Solution
	theta func(y []float64) float64
	model *model // of the effects; nil: none
}

// Run integrates the volume through the steps, from air at rest at the room's
// pressure, and returns pressure and temperature at any time. Each change of
// step is a restart, so nothing is smeared over it. State: the mass over that
// of the same volume of room air, y, and the modes δ of the gas's temperature
// over the room's, θ = θw + Σ c δ, p = pa y θ:
//
//	y' = a - w,   δ' = ((g-θ) a - (g-1) θ w - λ δ/tau)/y
//
// with a, w the flows in and out over rho_a V. One mode of weight 1 is the
// energy balance d(m cv T)/dt = cp Ta m_in - cp T m_out + H (Tw - T), H =
// rho_a V cv/tau; conduction has modes of weight 4/j², rate j²/8 (the rest of
// its weight follows the wall at once). Relative tolerance 1e-8.
func (c *Closed) Run(steps []Step) (*Run, error) {
	if !(c.Volume > 0 && c.AirPressure > 0 && c.AirTemp > 0 && c.Tau > 0 && c.Mix >= 0 && c.Mix <= 1) {
		return nil, fmt.Errorf("closed volume: volume, air pressure, temperature and tau must be above zero, mix within 0..1: %+v", *c)
	}
	if c.Effects != nil {
		return c.runEffects(steps)
	}
	wall := c.wall()
	weight, rate := c.modes()
	modes := len(weight)
	theta := func(y []float64) float64 {
		t := wall
		for k := range modes {
			t += weight[k] * y[k+1]
		}
		return t
	}
	full := gas.Density(c.AirPressure, c.AirTemp) * c.Volume
	y := make([]float64, modes+1)
	y[0] = 1 / wall
	r := &Run{c: c, theta: theta}
	t := 0.0
	for i, st := range steps {
		if !(st.For > 0) {
			continue
		}
		f := func(_ float64, y, dy []float64) {
			th := theta(y)
			p := c.AirPressure * y[0] * th
			in, out := 0.0, 0.0
			if c.Leak != nil {
				in += c.Leak(p)
			}
			if st.Inflow != nil {
				in += st.Inflow(p)
			}
			if st.Pumping && c.Pump != nil {
				out = c.Pump(p)
			}
			a, w := in/full, out/full
			dy[0] = a - w
			src := (gas.Gamma-th)*a - (gas.Gamma-1)*th*w
			for k := range modes {
				dy[k+1] = (src - rate[k]*y[k+1]/c.Tau) / y[0]
			}
		}
		sol, err := num.SolveStiff(f, t, t+st.For, y, num.Options{Rel: 1e-8, Abs: 1e-9, MaxStep: st.For / 20})
		if err != nil {
			return nil, fmt.Errorf("closed volume, step %d: %w", i+1, err)
		}
		r.steps = append(r.steps, sol)
		t, y = sol.End()
	}
	return r, nil
}

// wall returns the wall's temperature over the room's.
func (c *Closed) wall() float64 {
	if c.WallTemp > 0 {
		return c.WallTemp / c.AirTemp
	}
	return 1
}

// modes returns the weights of the modes of the gas's temperature and their
// rates, times tau.
func (c *Closed) modes() (weight, rate []float64) {
	weight, rate = []float64{1}, []float64{1}
	if c.Mix > 0 {
		weight[0] = 1 - c.Mix
		for _, j := range j0Zeros {
			weight = append(weight, c.Mix*4/(j*j))
			rate = append(rate, j*j/8)
		}
	}
	return weight, rate
}

// Pressure returns the absolute pressure [Pa] and the temperature [K] of the
// gas at time t [s]; outside the run those of its ends.
func (r *Run) Pressure(t float64) (p, temp float64) {
	if len(r.steps) == 0 {
		return r.c.AirPressure, r.c.AirTemp
	}
	y := r.at(t)
	if r.model != nil {
		g := r.model.gas(r.within(t), y)
		return g.p, g.theta * r.c.AirTemp
	}
	th := r.theta(y)
	return math.Min(r.c.AirPressure*y[0]*th, r.c.AirPressure*1.5), th * r.c.AirTemp
}

// at returns the state at time t [s].
func (r *Run) at(t float64) []float64 {
	i := 0
	for i < len(r.steps)-1 {
		if _, to := r.steps[i].Span(); t <= to {
			break
		}
		i++
	}
	return r.steps[i].At(t, nil)
}

// within holds t [s] within the run.
func (r *Run) within(t float64) float64 {
	_, end := r.steps[len(r.steps)-1].Span()
	return math.Max(0, math.Min(t, end))
}

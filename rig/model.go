package rig

import "math"

// model is the closed volume with effects as the solver sees it. Its state, in
// moles over those of the same volume of room air where it is gas:
//
//	y[0]                air
//	y[1..]              the modes δ of the temperature, θ = θw(t) + Σ c δ
//	vapour, vapour+1    vapour; liquid that is left
//	film..              how far each film has moved
//	yield..             volume lost to each yield, over the closed volume
//	store               what the store holds
//
// With Y air and vapour together, φ the volume over its first one, p = pa Y θ/φ
// and f, g, w the flows in from the room, in from the wall (vapour, store) and
// out over rho_a V, in moles:
//
//	Y' = f + g - w
//	δ' = ((γ-θ) f + (γ θw - θ) g - (γ-1) θ w - (γ-1) Y θ φ'/φ - λ δ/tau)/Y - θw'
//
// the φ' term the work of a wall that gives way. A mole of vapour is taken to
// hold as much heat as one of air, and the wall to give the heat it takes to
// evaporate. What leaves is the mixture.
type model struct {
	c       *Closed
	e       *Effects
	residue *Residue
	full    float64 // kg of room air
	wall0   float64
	weight  []float64
	rate    []float64

	vapour, film, yield, store int // where they start in the state

	perLiquid float64 // state of liquid for 1 m³ of it
	dry       float64 // liquid below which its surface shrinks, as state
}

// drying is the part of the liquid over which it runs dry: its surface shrinks
// as 1 - exp(-left/(drying of the whole)), so that no kink stops the solver.
const drying = 0.01

func newModel(c *Closed) *model {
	m := &model{c: c, e: c.Effects, residue: c.Effects.Residue, full: c.fullMass(), wall0: c.wall()}
	m.weight, m.rate = c.modes()
	m.vapour = 1 + len(m.weight)
	m.film = m.vapour
	if r := m.residue; r != nil {
		m.film += 2
		fl := fluids[r.Liquid]
		moles := c.AirPressure * c.Volume / (gasConstant * c.AirTemp)
		m.perLiquid = fl.density / fl.molarMass / moles
		m.dry = math.Max(drying*r.Volume*m.perLiquid, 1e-12)
	}
	m.yield = m.film + len(m.e.Films)
	m.store = m.yield + len(m.e.Yields)
	return m
}

// start returns the state of a run that begins open to the room and at rest,
// and the usual size of each part.
func (m *model) start() (y, scale []float64) {
	y = make([]float64, m.store+1)
	scale = make([]float64, len(y))
	for i := range scale {
		scale[i] = 1
	}
	size := func(i int, x float64) {
		if x > 0 {
			scale[i] = x
		}
	}
	y[0] = 1 / m.wall0
	if r := m.residue; r != nil {
		psat := math.Min(VapourPressure(r.Liquid, m.wall0*m.c.AirTemp)/m.c.AirPressure, 0.95)
		y[m.vapour] = r.Start * psat / m.wall0
		y[0] -= y[m.vapour]
		y[m.vapour+1] = r.Volume * m.perLiquid
		size(m.vapour, psat)
		size(m.vapour+1, y[m.vapour+1])
	}
	for i, e := range m.e.Yields {
		size(m.yield+i, e.Volume/m.c.Volume)
	}
	y[m.store] = m.e.Store.Gas / m.c.Volume
	size(m.store, y[m.store])
	return y, scale
}

// room returns the air pressure [Pa] of the room.
func (m *model) room(t float64) float64 {
	r := m.e.Room
	pa := m.c.AirPressure + r.Drift*t
	if t >= r.At {
		pa += r.Step
	}
	return pa
}

// wall returns the wall's temperature over the room's and its slope [1/s].
func (m *model) wall(t float64) (th, slope float64) {
	w := m.e.Wall
	th = m.wall0
	if w.Fade > 0 {
		d := (m.wall0 - 1) * math.Exp(-t/w.Fade)
		th, slope = 1+d, -d/w.Fade
	}
	d := w.Drift / m.c.AirTemp
	return th + d*t, slope + d
}

// contents is the gas in the volume.
type contents struct {
	theta, wall, slope float64 // temperature over the room's; the wall's, and its slope
	phi                float64 // volume over its first one
	all                float64 // Y
	p, pv              float64 // Pa
}

func (m *model) gas(t float64, y []float64) contents {
	var g contents
	g.wall, g.slope = m.wall(t)
	g.theta = g.wall
	for k, w := range m.weight {
		g.theta += w * y[k+1]
	}
	g.phi = 1
	for i := range m.e.Yields {
		g.phi -= y[m.yield+i]
	}
	g.all = y[0]
	per := m.c.AirPressure * g.theta / g.phi
	if m.residue != nil {
		g.all += y[m.vapour]
		g.pv = y[m.vapour] * per
	}
	g.p = g.all * per
	return g
}

// rates fills the slopes dy of the state y at time t of a step.
func (m *model) rates(st Step, t float64, y, dy []float64) {
	g := m.gas(t, y)
	c, e := m.c, m.e
	room := m.room(t)
	vacuum := math.Max(0, room-g.p)
	// Leaks and pump are known in the room as it was at first: they are taken
	// at the same vacuum there, or as far above the room's pressure.
	at := g.p + c.AirPressure - room

	in, out := 0.0, 0.0
	if c.Leak != nil {
		in += c.Leak(at)
	}
	for i, f := range e.Films {
		if open := f.open(y[m.film+i]); open > 0 {
			in += open * f.Leak(at)
		}
		dy[m.film+i] = f.pace(vacuum)
	}
	if st.Inflow != nil {
		in += st.Inflow(at)
	}
	switch {
	case !st.Pumping && e.Back != nil:
		in += e.Back(at)
	case st.Pumping && c.Pump != nil:
		out = c.Pump(at)
	}
	f, w := in/m.full, out/m.full
	if f < 0 { // the other way through a leak: the mixture
		f, w = 0, w-f
	}
	w += g.all * blowsOff(g.p-room, room)

	wet, vapourPart := 0.0, 0.0
	if m.residue != nil {
		wet = m.evaporates(g, y[m.vapour+1])
		vapourPart = y[m.vapour] / g.all
		dy[m.vapour] = wet - w*vapourPart
		dy[m.vapour+1] = -wet
	}
	given := 0.0
	dy[m.store] = 0
	if s := e.Store; s.Gas > 0 {
		given = (y[m.store] - s.Gas/c.Volume*g.p/c.AirPressure) / s.Tau
		dy[m.store] = -given
	}
	phiSlope := 0.0
	for i, yl := range e.Yields {
		d := (yl.Volume/c.Volume*vacuum/1e5 - y[m.yield+i]) / yl.Tau
		dy[m.yield+i] = d
		phiSlope -= d
	}

	dy[0] = f + given - w*(1-vapourPart)
	const gm1 = 0.4 // gamma - 1
	src := (1+gm1-g.theta)*f - gm1*g.theta*w - gm1*g.all*g.theta*phiSlope/g.phi
	for _, from := range [2]float64{wet, given} {
		if from > 0 {
			src += ((1+gm1)*g.wall - g.theta) * from
		} else { // taken back by the wall
			src += gm1 * g.theta * from
		}
	}
	for k := range m.weight {
		dy[k+1] = (src-m.rate[k]*y[k+1]/c.Tau)/g.all - g.slope
	}
}

// evaporates returns the rate [1/s] at which the vapour grows by evaporation,
// or shrinks as it settles on the wall again.
func (m *model) evaporates(g contents, left float64) float64 {
	r := m.residue
	psat := VapourPressure(r.Liquid, g.wall*m.c.AirTemp)
	rate := (psat - g.pv) / (m.c.AirPressure * g.wall * r.Tau)
	if rate > 0 {
		rate *= -math.Expm1(-math.Max(0, left) / m.dry)
	}
	return rate
}

package engine

import (
	"math"

	"seatproof/gas"
)

// cell is the gas in the cylinder as the solver sees it. Its two unknowns are
//
//	s = p V^g/(p0 V0^g)   and   m = mass/(mass at intake closing)
//
// which stand still when nothing leaks and no heat flows: compression itself is
// then exact, and steps are as long as leak and heat allow.
type cell struct {
	throw, rod, rod2 float64
	bore             float64
	piston, crown    float64 // m²: area of the piston; piston and head together
	clearance        float64 // m³
	speed            float64 // rad/s

	start, end     float64 // rad, 0 at top dead centre
	p0, t0, v0, m0 float64 // at intake closing
	energy         float64 // p0 v0, the unit of heat and work
	air, rootAir   float64 // air that flows in: K, sqrt(R air)
	airMu          float64

	wall   float64
	heat   HeatLaw
	factor float64 // of the heat law, all that stands still
	swirl, gasSpeed,
	motored float64 // Woschni while burning

	burn    *Burn
	burning bool
	charge  float64 // of the burn: its heat over energy
	lit     bool    // the burn has begun

	ports [2]port
	slots []slot

	calm    bool    // flows as stiff.go takes them
	squared bool    // the solver's x is sqrt(angle - origin)
	origin  float64 // rad

	calls int
}

// rates are the derivatives by the solver's x.
type rates struct {
	entropy, mass float64 // of s and m

	// Sums, over energy or mass at intake closing.
	wall     float64 // heat to the wall
	enthalpy float64 // carried out, less carried in
	leak     float64 // mass out through valves
	rings    float64 // mass out through rings
	work     float64 // done on the piston

	logp float64 // of ln p
}

// set prepares the cell for a cylinder and a run, both checked.
func (c *cell) set(cyl *Cylinder, r *Run) {
	slots := c.slots
	*c = cell{slots: slots}
	c.throw, c.rod, c.rod2, c.bore = cyl.Stroke/2, cyl.Rod, cyl.Rod*cyl.Rod, cyl.Bore
	c.piston = math.Pi / 4 * cyl.Bore * cyl.Bore
	c.crown = 2 * c.piston
	c.clearance = cyl.Clearance()
	c.speed = r.Speed
	c.start, c.end = -math.Pi+cyl.IntakeCloses, math.Pi-cyl.ExhaustOpens
	c.p0, c.t0 = r.Intake, r.Temp
	c.v0 = cyl.Volume(c.start)
	c.energy = c.p0 * c.v0
	c.m0 = c.energy / (gas.R * c.t0)
	c.air, c.rootAir, c.airMu = r.Temp, math.Sqrt(gas.R*r.Temp), gas.Viscosity(r.Temp)
	c.wall, c.heat, c.burn = cyl.Wall, cyl.Heat, r.Burn
	mean := cyl.Stroke * r.Speed / math.Pi
	if c.heat == Woschni {
		c.factor = cyl.HeatTransfer(c.v0, c.p0, c.t0, mean)
		c.gasSpeed = woschniSpeed * mean
		c.swirl = woschniBurn * cyl.Swept()
	} else {
		c.factor = cyl.HeatTransfer(c.v0, c.p0, c.t0, mean)
	}
}

// angle returns the crank angle at x.
func (c *cell) angle(x float64) float64 {
	if c.squared {
		return c.origin + x*x
	}
	return x
}

// volume is [Cylinder.Volume] and its derivative by the angle.
func (c *cell) volume(angle float64) (v, slope float64) {
	sin, cos := math.Sincos(angle)
	y := c.throw * sin
	root := math.Sqrt(c.rod2 - y*y)
	x := c.throw * cos
	return c.clearance + c.piston*(c.rod+c.throw-x-root), c.piston * y * (1 + x/root)
}

// state returns pressure and temperature for s and m at a volume.
func (c *cell) state(s, m, v float64) (p, t float64) {
	b := c.v0 / v
	b04 := exp(0.4 * log(b))
	return c.p0 * s * b * b04, c.t0 * s * b04 / m
}

// rates computes the derivatives at x:
//
//	dm/dt = -sum of flows out
//	d(p V^g)/dt = (g-1) V^(g-1) (burn - wall - enthalpy carried out)
//
// which is the first law for a perfect gas, m cv T = p V/(g-1), with the work
// taken into p V^g.
func (c *cell) rates(x, s, m float64, r *rates) {
	c.calls++
	angle, jac := x, 1.0
	if c.squared {
		angle, jac = c.origin+x*x, 2*x
	}
	v, slope := c.volume(angle)
	b := c.v0 / v
	lb := log(b)
	b04 := exp(0.4 * lb)
	p, t := c.p0*s*b*b04, c.t0*s*b04/m

	// Powers of p, T and V in the heat laws are powers of s, m and b.
	var h float64
	if c.heat == Hohenberg {
		h = c.factor * exp(0.4*log(s*m)+1.02*lb)
	} else {
		h = c.factor * exp(0.25*log(s)+0.55*log(m)+0.9*lb)
		if c.lit {
			// the gas speeds up with what the burn adds to the motored pressure
			if extra := p - c.motored*exp(motoredPower*lb); extra > 0 {
				h *= exp(0.8 * log(1+extra*c.swirl/c.gasSpeed))
			}
		}
	}
	wall := h * (c.crown + 4*v/c.bore) * (t - c.wall)

	rootRT := math.Sqrt(gas.R * t)
	var leak, rings, carried float64
	for i := range c.ports {
		q := &c.ports[i]
		if !q.used {
			continue
		}
		if c.calm {
			q.side = sideOf(p, q.pressure)
		}
		temp := t
		if q.side >= in {
			temp = c.air
		}
		if q.rounded != 0 || q.sharp != 0 {
			f, fr := c.openings(q, p, rootRT)
			leak += f - fr
			rings += fr
			carried += f * temp
		}
	}
	if len(c.slots) > 0 {
		mu := 1.458e-6 * t * rootRT / (rootR * (t + 110.4))
		for i := range c.slots {
			q := &c.slots[i]
			pp := &c.ports[q.port]
			var f float64
			if pp.side < in {
				f = q.seep(p, pp.pressure, t, mu, rootRT)
				carried += f * t
			} else {
				f = -q.seep(pp.pressure, p, c.air, c.airMu, c.rootAir)
				carried += f * c.air
			}
			leak += f
		}
	}

	per := jac / c.speed
	perEnergy := per / c.energy
	r.wall = wall * perEnergy
	r.enthalpy = gas.Cp * carried * perEnergy
	r.leak = leak * per / c.m0
	r.rings = rings * per / c.m0
	heat := -r.wall - r.enthalpy
	if c.burning {
		heat += jac * c.release(angle)
	}
	r.entropy = (gas.Gamma - 1) / b04 * heat
	r.mass = -(r.leak + r.rings)
	r.work = p * slope * jac / c.energy
	r.logp = r.entropy/s - gas.Gamma*slope*jac/v
}

var rootR = math.Sqrt(gas.R)

// release is the burn's heat by angle, over energy.
func (c *cell) release(angle float64) float64 {
	b := c.burn
	width := b.End - b.Start
	y := (angle - b.Start) / width
	if y <= 0 {
		if b.M > 0 {
			return 0
		}
		y = 0
	}
	var ym float64
	if b.M == 2 {
		ym = y * y
	} else {
		ym = math.Pow(y, b.M)
	}
	return c.charge * b.A * (b.M + 1) / width * ym * exp(-b.A*ym*y)
}

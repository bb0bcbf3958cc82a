package engine

import (
	"fmt"
	"math"
	"sync"

	"seatproof/gas"
)

// Cycle is one solved cycle, from intake closing to exhaust opening.
type Cycle struct {
	Peak    float64 // Pa, the highest pressure
	PeakAt  float64 // rad, crank angle of it, 0 at top dead centre
	Trapped float64 // kg at top dead centre
	Work    float64 // J, integral of p dV from intake closing to exhaust opening

	Start  float64 // kg at intake closing
	Leaked float64 // kg out through the valves, less what came in
	Rings  float64 // kg out through the rings, less what came in
	End    float64 // kg at exhaust opening

	Burnt    float64 // J set free by the burn
	Wall     float64 // J given to the wall
	Enthalpy float64 // J carried out by leaks and rings, less what was carried in

	// What does not close, of the mass at intake closing and of the pressure
	// times volume there.
	MassError, EnergyError float64

	Steps, Rejected int // of the solver
	Calls           int // of the right-hand side
	Stops           int // restarts at choking, reversal, begin and end of burn
}

// NotSolved reports a cycle that the solver could not carry to its end.
type NotSolved struct {
	Angle float64 // rad, where it stopped
	Steps int
}

func (e *NotSolved) Error() string {
	return fmt.Sprintf("engine: the cycle could not be solved past %.1f° after top dead centre (%d steps): the leak is too large for this cylinder and speed", math.Round(e.Angle/degree*10)/10+0, e.Steps)
}

// Tolerance is the solver's: the error of one step in p V^g, in mass and in work,
// each over its value at intake closing (of work, over pressure times volume
// there). What it leaves in peak, trapped mass and work is measured in
// docs/accuracy.md.
const Tolerance = 2e-9

// mostSteps is how many steps, refused ones and stops among them, are made before
// the cycle is given to stiff.go; a cycle that compresses takes tens, and hundreds at
// the finest tolerance.
const mostSteps = 1_000

var walkers = sync.Pool{New: func() any { return &walker{cell: cell{slots: make([]slot, 0, 8)}} }}

// Cycle solves the cylinder from intake closing to exhaust opening with the leaks
// of its valves together. Flow goes by the laws of docs/model.md §1 in whichever
// direction the pressures ask for, with the upstream air's temperature (the
// charge's, or Run.Temp where air comes in); the port stands at the room's
// pressure, or at Run.Intake where the leak says Intake.
//
// Errors: *[Fault] for a figure no engine has, *[NotSolved] where the solver gave
// up. Safe for concurrent use; it allocates nothing once warm.
func (c Cylinder) Cycle(r Run, leaks ...Leak) (Cycle, error) {
	tol := r.Within
	if tol == 0 {
		tol = Tolerance
	}
	return c.solve(r, leaks, tol, true)
}

func (c *Cylinder) solve(r Run, leaks []Leak, tol float64, whole bool) (Cycle, error) {
	if err := c.Check(); err != nil {
		return Cycle{}, err
	}
	if err := r.check(); err != nil {
		return Cycle{}, err
	}
	if b := r.Burn; b != nil {
		if start, end := -math.Pi+c.IntakeCloses, math.Pi-c.ExhaustOpens; b.Start <= start || b.End >= end {
			return Cycle{}, fault("burn", b.Start, "° after top", 1/degree, "lie between intake closing and exhaust opening", "give begin and end of the burn after top dead centre")
		}
	}
	w := walkers.Get().(*walker)
	defer walkers.Put(w)
	w.cell.set(c, &r)
	if err := w.cell.connect(c, &r, leaks); err != nil {
		return Cycle{}, err
	}
	swirl := w.cell.swirl // a burn turns it into another figure
	y, err := w.walk(tol, whole)
	if err != nil {
		w.cell.swirl = swirl
		y, err = w.stiffWalk(tol, whole)
	}
	return y, err
}

// walk carries the cell from intake closing to exhaust opening, or to top dead
// centre only.
func (w *walker) walk(tol float64, whole bool) (Cycle, error) {
	c := &w.cell
	var y Cycle
	y.Start = c.m0
	w.x, w.s, w.m, w.total, w.fine = c.start, 1, 1, rates{}, whole
	c.squared = false
	w.restart(true)
	y.Peak, y.PeakAt = c.p0, c.start

	stops, n := c.stops(whole)
	h := firstStep
	if c.squared {
		h = firstSquared
	}
	before, refused := 1e-2, false // error of the step before; the last try was refused
	for i := 0; i < n; {
		to := stops[i]
		if c.squared {
			to = math.Sqrt(to - c.origin)
		}
		left := to - w.x
		step, last := h, false
		if left <= 1.05*h {
			step, last = left, true
		} else if left < 2*h {
			step = left / 2
		}
		e := w.try(step, tol)
		if y.Steps+y.Rejected+y.Stops > mostSteps || !(step > 1e-13) {
			return y, &NotSolved{Angle: c.angle(w.x), Steps: y.Steps}
		}
		if !(e <= 1) {
			y.Rejected++
			refused = true
			if math.IsNaN(e) || math.IsInf(e, 0) {
				h = step * 0.1
			} else {
				h = step * math.Max(0.2, safety*math.Pow(e, -1.0/8))
			}
			continue
		}
		grow := mostGrowth
		if e > 1e-6 {
			grow = math.Min(grow, safety*math.Pow(e, -1.0/8)*math.Pow(before/e, memory))
		}
		if refused {
			grow = math.Min(grow, 1)
		}
		before, refused = math.Max(e, 1e-4), false
		if u, border, ok := w.leaves(); ok {
			// The law changes within the step: end it there and start again.
			if u > 1e-7 {
				if e = w.try(step*u, tol); !(e <= 1.5) {
					y.Rejected++
					h = step * u * 0.5
					continue
				}
				w.keepPeak(&y)
				w.accept()
				y.Steps++
			}
			y.Stops++
			at := c.angle(w.x)
			if border%2 == 0 {
				c.ports[border/2].side++
			} else {
				c.ports[border/2].side--
			}
			c.squared = false
			w.x = at
			w.restart(false)
			h = math.Max(1e-4, step*(1-u))
			if c.squared {
				h = firstSquared / 2
			}
			continue
		}
		w.keepPeak(&y)
		w.accept()
		y.Steps++
		if !last || grow < 1 {
			h = math.Min(step*grow, longest)
		}
		if !last {
			continue
		}
		// A stop.
		at := stops[i]
		w.x = at
		squared := c.squared
		c.squared = false
		again := squared
		if at == 0 {
			y.Trapped = w.m * c.m0
		}
		if b := c.burn; b != nil {
			switch at {
			case b.Start:
				w.light()
				again = true
				y.Stops++
			case b.End:
				c.burning = false
				again = true
				y.Stops++
			}
		}
		if squared {
			h = math.Min(longest, 2*to*step)
		}
		if again {
			w.restart(false)
		}
		i++
	}
	w.finish(&y)
	return y, nil
}

// stops are the angles at which a step has to end: top dead centre, begin and end of
// the burn, and the end of the walk.
func (c *cell) stops(whole bool) (stops [4]float64, n int) {
	if b := c.burn; b != nil && b.Start < 0 {
		stops[n] = b.Start
		n++
	}
	stops[n] = 0
	n++
	if b := c.burn; b != nil && whole {
		if b.Start >= 0 {
			stops[n] = b.Start
			n++
		}
		if b.End > 0 {
			stops[n] = b.End
			n++
		}
	}
	if whole {
		stops[n] = c.end
		n++
	}
	return stops, n
}

// Steps: what is tried first, and the longest, rad; safety of the step control.
const (
	firstStep    = 0.2
	firstSquared = 0.4 // sqrt(rad)
	longest      = 0.6
	safety       = 0.8
	mostGrowth   = 2.5
	memory       = 0.05 // of the error before, in the choice of the next step
)

// light begins the burn at the current point.
func (w *walker) light() {
	c := &w.cell
	c.burning, c.lit = true, true
	c.charge = c.burn.Energy * w.m * c.m0 / c.energy
	if c.heat == Woschni {
		v, _ := c.volume(w.x)
		p, t := c.state(w.s, w.m, v)
		c.swirl *= t / (p * v)
		c.motored = p * math.Pow(v/c.v0, motoredPower)
	}
}

// restart chooses the side of every law at the current point, and computes the
// rates there. Where the pressures are equal the flow grows as the root of the
// angle, which no method of high order can follow: the solver then goes by the root
// of the angle for a while.
func (w *walker) restart(first bool) {
	c := &w.cell
	v, slope := c.volume(w.x)
	p, _ := c.state(w.s, w.m, v)
	equal := false
	for i := range c.ports {
		q := &c.ports[i]
		if !q.used {
			continue
		}
		if d := p/q.pressure - 1; math.Abs(d) < 1e-9 {
			q.side = out
			if slope > 0 {
				q.side = in
			}
			equal = equal || q.rounded != 0 || q.sharp != 0
		} else if first {
			q.side = sideOf(p, q.pressure)
		}
	}
	if equal {
		c.squared, c.origin = true, w.x
		w.x = 0
	}
	c.rates(w.x, w.s, w.m, &w.k[0])
}

// leaves says whether the side of a port's openings was left within the last try,
// at what part of it first, and by which border: 2 i is the lower one of port i,
// 2 i + 1 the upper.
func (w *walker) leaves() (u float64, border int, ok bool) {
	c := &w.cell
	v, _ := c.volume(c.angle(w.x + w.h))
	p, _ := c.state(w.s1, w.m1, v)
	left := false
	for i := range c.ports {
		if q := &c.ports[i]; q.used {
			lo, hi := q.side.between(q.pressure)
			left = left || p < lo*(1-1e-12) || p > hi*(1+1e-12)
		}
	}
	if !left {
		return 0, 0, false
	}
	d := w.dense()
	u = 1
	for i := range c.ports {
		q := &c.ports[i]
		if !q.used {
			continue
		}
		lo, hi := q.side.between(q.pressure)
		if at := w.zero(&d, u, lo, 1); lo > 0 && at < u {
			u, border, ok = at, 2*i, true
		}
		if at := w.zero(&d, u, hi, -1); !math.IsInf(hi, 0) && at < u {
			u, border, ok = at, 2*i+1, true
		}
	}
	return u, border, ok // not ok: a hair over the border, nothing to stop for
}

// zero returns where the pressure, above level at the start of the step (sign 1)
// or below it (sign -1), first meets it between the start and the part u of the
// step; u if it does not.
func (w *walker) zero(d *dense, u, level, sign float64) float64 {
	c := &w.cell
	at := func(u float64) float64 {
		s, m := d.at(u)
		v, _ := c.volume(c.angle(d.x + u*d.h))
		p, _ := c.state(s, m, v)
		return sign * (p/level - 1)
	}
	b, gb := u, at(u)
	if gb >= -1e-12 {
		return u
	}
	a, ga := 0.0, at(0)
	if ga <= 0 {
		return 0
	}
	for range 60 { // Illinois
		x := b - gb*(b-a)/(gb-ga)
		gx := at(x)
		if (gx < 0) == (gb < 0) {
			ga /= 2
		} else {
			a, ga = b, gb
		}
		b, gb = x, gx
		if math.Abs(gx) < 1e-13 || math.Abs(b-a) < 1e-14 {
			break
		}
	}
	return b
}

// keepPeak looks for the highest pressure in the last try.
func (w *walker) keepPeak(y *Cycle) {
	a, b := w.k[0].logp, w.k[12].logp
	c := &w.cell
	if c.squared && w.x == 0 {
		a = 1 // the slope by the root of the angle begins at 0
	}
	switch {
	case a > 0 && b <= 0: // a top within
		d := w.dense()
		lo, hi, glo, ghi := 0.0, 1.0, a, b
		var r rates
		u := 0.0
		for range 40 {
			u = hi - ghi*(hi-lo)/(ghi-glo)
			s, m := d.at(u)
			c.rates(d.x+u*d.h, s, m, &r)
			g := r.logp
			if (g < 0) == (ghi < 0) {
				glo /= 2
			} else {
				lo, glo = hi, ghi
			}
			hi, ghi = u, g
			if math.Abs(g) < 1e-8 {
				break
			}
		}
		s, m := d.at(u)
		at := c.angle(d.x + u*d.h)
		v, _ := c.volume(at)
		if p, _ := c.state(s, m, v); p > y.Peak {
			y.Peak, y.PeakAt = p, at
		}
	case b > 0: // still rising at the end, which may be a stop
		at := c.angle(w.x + w.h)
		v, _ := c.volume(at)
		if p, _ := c.state(w.s1, w.m1, v); p > y.Peak {
			y.Peak, y.PeakAt = p, at
		}
	}
}

// finish fills in sums and balances.
func (w *walker) finish(y *Cycle) {
	c, t := &w.cell, &w.total
	v, _ := c.volume(w.x)
	p, _ := c.state(w.s, w.m, v)
	y.End = w.m * c.m0
	y.Leaked, y.Rings = t.leak*c.m0, t.rings*c.m0
	y.Wall, y.Enthalpy, y.Work = t.wall*c.energy, t.enthalpy*c.energy, t.work*c.energy
	burnt := 0.0
	if b := c.burn; b != nil && c.lit {
		burnt = c.charge * b.Burnt(w.x)
	}
	y.Burnt = burnt * c.energy
	y.MassError = 1 - t.leak - t.rings - w.m
	// m cv T = p V/(g-1)
	y.EnergyError = (1-p*v/c.energy)/(gas.Gamma-1) + burnt - t.wall - t.enthalpy - t.work
	y.Calls = c.calls
}

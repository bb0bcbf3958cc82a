package engine

import (
	"math"

	"seatproof/gas"
)

// side is how an opening flows between cylinder and port. Within one side the
// law is smooth; the solver stops where it changes.
type side int8

const (
	outChoked side = iota // cylinder above port/0.5283
	out
	in
	inChoked // cylinder below 0.5283 port
)

// port is one pressure outside the cylinder and what leads there.
type port struct {
	pressure float64
	rounded  float64 // m², sum of A (1 - edge) of the openings, rings included
	sharp    float64 // m², sum of A edge/Cd(r50)
	rings    float64 // part of rounded that is the rings'
	used     bool
	side     side
}

// slot is one seep; its constants belong to the seat and its gap.
type slot struct {
	port   int
	flow   float64 // w h³/(24 L R): plain law is flow (p1-p2)(p1+p2+slip)/(mu T)
	slip   float64 // 12/h, times mu sqrt(pi R T/2)
	effort float64 // h/(6 L w): 4 effort m/mu under the root
	area   float64 // w h
}

func sideOf(p, port float64) side {
	switch {
	case p*gas.CriticalRatio >= port:
		return outChoked
	case p >= port:
		return out
	case p > port*gas.CriticalRatio:
		return in
	}
	return inChoked
}

// between returns the pressures at the two borders of a side.
func (s side) between(port float64) (low, high float64) {
	switch s {
	case outChoked:
		return port / gas.CriticalRatio, math.Inf(1)
	case out:
		return port, port / gas.CriticalRatio
	case in:
		return port * gas.CriticalRatio, port
	}
	return 0, port * gas.CriticalRatio
}

// psi is gas.Psi without its limit at the critical ratio (the solver keeps to the
// sides), in a form that keeps its digits where r is near 1: sqrt(7) r^(5/7)
// sqrt(1 - r^(2/7)); drop = 1 - r.
func psi(drop float64) float64 {
	if drop <= 0 {
		return 0
	}
	// 1 - x² from a rounded r is off by 1e-16/drop of itself: nothing where the
	// flow is small anyway.
	x := exp(log(1-drop) / 7)
	x2 := x * x
	return x2 * x2 * x * math.Sqrt(7*(1-x2))
}

// openings returns the mass flow out [kg/s] of all openings to a port, negative
// where air flows in, and the part of it through the rings.
func (c *cell) openings(q *port, p, rootRT float64) (flow, rings float64) {
	if c.calm {
		return c.calmOpenings(q, p, rootRT)
	}
	var unit, r float64
	switch q.side {
	case outChoked:
		unit, r = p/rootRT*gas.PsiMax, q.pressure/p
	case out:
		unit, r = p/rootRT*psi((p-q.pressure)/p), q.pressure/p
	case in:
		unit, r = -q.pressure/c.rootAir*psi((q.pressure-p)/q.pressure), p/q.pressure
	default:
		unit, r = -q.pressure/c.rootAir*gas.PsiMax, p/q.pressure
	}
	area := q.rounded
	if q.sharp != 0 {
		area += q.sharp * gas.SharpEdgeCd(r)
	}
	return unit * area, unit * q.rings
}

// seep returns the mass flow [kg/s] from p1 to p2 with air of t1, its viscosity mu
// and sqrt(R t1). The choked flow of w h caps it, and never bites: with p2 far below
// p1 inertia alone holds the law under w h p1/(2 sqrt(R t1)), 0.73 of that. So there
// is no bend here to stop for.
func (s *slot) seep(p1, p2, t1, mu, rootRT float64) float64 {
	m := s.flow * (p1 - p2) * (p1 + p2 + s.slip*mu*rootRT) / (mu * t1)
	m = 2 * m / (1 + math.Sqrt(1+4*s.effort/mu*m))
	return math.Min(m, s.area*p1/rootRT*gas.PsiMax)
}

// connect fills the ports and slots of a cell.
func (c *cell) connect(cyl *Cylinder, r *Run, leaks []Leak) error {
	c.ports[0] = port{pressure: r.Room, rounded: cyl.Rings, rings: cyl.Rings, used: cyl.Rings > 0}
	c.ports[1] = port{pressure: r.Intake}
	c.slots = c.slots[:0]
	w, contact := cyl.seatWidth(), cyl.contact()
	for i := range leaks {
		l := &leaks[i]
		if err := l.check(); err != nil {
			return err
		}
		if l.Flow == 0 {
			continue
		}
		o, s, err := cyl.elements(*l)
		// How far a valve lifts is not known here: wide open it passes its throat, a
		// circle of the seat's diameter, at most. Its true curtain, pi times diameter
		// times lift, is smaller where it lifts less than a quarter of its diameter.
		curtain := w * w / (4 * math.Pi)
		if most := curtain * gas.PsiMax * math.Sqrt(gas.R*l.Temp); err != nil || l.Flow > most || s.Gap > w/(4*math.Pi) {
			return overCurtain(*l, most)
		}
		n := 0
		if l.Intake && r.Intake != r.Room {
			n = 1
		}
		q := &c.ports[n]
		q.used = true
		if o.Area > 0 {
			q.rounded += o.Area * (1 - o.Edge)
			q.sharp += o.Area * o.Edge / gas.SharpEdgeCd(o.Reference)
		}
		if h := s.Gap; h > 0 {
			c.slots = append(c.slots, slot{
				port:   n,
				flow:   w * h * h * h / (24 * contact * gas.R),
				slip:   12 / h * math.Sqrt(math.Pi/2),
				effort: h / (6 * contact * w),
				area:   w * h,
			})
		}
	}
	return nil
}

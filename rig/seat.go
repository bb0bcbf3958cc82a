package rig

import (
	"math"

	"seatproof/gas"
)

// Load is what presses a valve onto its seat.
type Load struct {
	Head   float64 // m, diameter of the valve head, on which the vacuum acts
	Held   Held    // by what beside
	Weight float64 // N of the valve, onto the seat; [ValveWeight] is the guess
}

// ValveWeight is the guessed weight of a valve [N], no source.
const ValveWeight = 0.6

// Push returns the force [N] of what holds a valve: nothing (or not said) 0,
// thumb 20, light spring 20, own spring 250. Guesses, no source.
func (h Held) Push() float64 {
	switch h {
	case HeldThumb, HeldLightSpring:
		return 20
	case HeldOwnSpring:
		return 250
	}
	return 0
}

// least is the vacuum [Pa] below which the vacuum's force no longer falls.
const least = 500

// Force returns the force [N] on the seat at a vacuum [Pa]:
//
//	F = v pi d²/4 + push + weight
//
// As v goes to 0 it is held up, v taken as (v⁴ + (500 Pa)⁴)^(1/4), so that the
// gap of a valve that nothing else holds stays bounded; above 5 kPa that moves
// the force by under 3e-5. 22 mm at 75 kPa: 28.5 N, at 20 kPa 7.6 N.
func (l Load) Force(vacuum float64) float64 {
	x := vacuum / least
	v := least * math.Sqrt(math.Sqrt(1+x*x*x*x))
	return v*math.Pi/4*l.Head*l.Head + l.Held.Push() + l.Weight
}

// GapFactor returns the gap at a vacuum [Pa] over that at 50 kPa, for contact
// faces that close with the load: (F/F50)^-n, n from 0 (rigid) to 0.5. 1 where
// nothing presses at all. Source: a guess of its form; docs/model.md §1.
func (l Load) GapFactor(vacuum, n float64) float64 {
	if n == 0 {
		return 1
	}
	at, stated := l.Force(vacuum), l.Force(gas.StatedVacuum)
	if !(at > 0) {
		return 1
	}
	return math.Pow(at/stated, -n)
}

// Seat is a seep round a valve whose gap closes with the load on the valve; a
// [gas.Element].
type Seat struct {
	Seep     gas.Seep // as it is at a vacuum of 50 kPa
	Load     Load
	Exponent float64 // n of [Load.GapFactor]
}

// SeatFor returns the seat that draws the free-air flow [m³/s] at a vacuum of
// 50 kPa from a room at pa [Pa], ta [K]; width and length [m] as of
// [gas.SeepFor], whose errors it has.
func SeatFor(flow, pa, ta, width, length float64, load Load, n float64) (Seat, error) {
	s, err := gas.SeepFor(flow, gas.StatedVacuum, pa, ta, width, length)
	if err != nil {
		return Seat{}, err
	}
	if err := checkExponent(n); err != nil {
		return Seat{}, err
	}
	return Seat{s, load, n}, nil
}

func checkExponent(n float64) error {
	if !(n >= 0 && n <= 1) {
		return &gas.RangeError{Op: "seat", Field: "exponent", Value: n, Want: "between 0 (rigid) and 1"}
	}
	return nil
}

// MassFlow returns the mass flow [kg/s] from p1 to p2 [Pa, absolute], the air
// at t1 [K]: the seep's with its gap at the vacuum p1 - p2. Errors as for
// [gas.Element].
func (s Seat) MassFlow(p1, p2, t1 float64) (float64, error) {
	if err := checkExponent(s.Exponent); err != nil {
		return 0, err
	}
	at := s.Seep
	if p1 > p2 {
		at.Gap *= s.Load.GapFactor(p1-p2, s.Exponent)
	}
	return at.MassFlow(p1, p2, t1)
}

// Inflow returns what elements side by side let into the closed volume from a
// room at pa [Pa], ta [K], against the absolute pressure there [kg/s], as
// Closed.Leak, Step.Inflow, Film.Leak and Effects.Back take it. Over the last 20
// Pa before the room it goes to zero as a parabola that meets the law with its
// slope, since an opening's own slope has no bound at the room and a solver
// labours at a corner. Above the room it goes on in a straight line, below zero.
// It is NaN where an element has an error, which [Closed.Run] refuses.
func Inflow(pa, ta float64, elements ...gas.Element) func(p float64) float64 {
	const last = 20
	sum := func(p float64) float64 {
		q := 0.0
		for _, e := range elements {
			m, err := e.MassFlow(pa, p, ta)
			if err != nil {
				return math.NaN()
			}
			q += m
		}
		return q
	}
	end := sum(pa - last)
	slope := (sum(pa-last-0.01) - sum(pa-last+0.01)) / 0.02 * last
	a, b := 2*end-slope, slope-end
	return func(p float64) float64 {
		x := (pa - p) / last
		switch {
		case x < 0:
			return a * x
		case x < 1:
			return (a + b*x) * x
		}
		return sum(math.Max(p, 0))
	}
}

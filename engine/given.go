package engine

import (
	"math"

	"seatproof/unit"
)

// Given is a cylinder as a person knows it: every figure with its ± (95 %).
// Bore, Stroke and Ratio have to be known; what else is not Known is guessed here,
// wide.
type Given struct {
	Bore, Stroke, Rod unit.Measured // m
	Ratio             unit.Measured
	IntakeCloses      unit.Measured // rad after bottom dead centre
	Cranking          unit.Measured // rad/s
	Idle, TopSpeed    unit.Measured // rad/s
	Heat              HeatLaw
	SeatWidth         unit.Measured // m, round the seat: pi times its diameter
	Contact           unit.Measured // m, along the flow
	Room, Temp        float64       // Pa, K: where [Given.Loss] runs it; 0: as at the leaks' test
}

// LeastContact and MostContact are how wide the contact of a seat that nobody
// measured may be, 95 %, along the flow [m]: a guess, no source. Package crosscheck
// takes both as they are, [Given] their middle and how far they lie from it, rounded.
const LeastContact, MostContact = 0.2e-3, 1.5e-3

// Guesses with their ± (95 %), no source.
const (
	rodStrokes, rodSpread       = 1.75, 0.15 // strokes; of it
	closesAt, closesSpread      = 50 * degree, 20 * degree
	crankedAt, crankedSpread    = 250 * perMinute, 100 * perMinute
	idleAt, idleSpread          = 900 * perMinute, 250 * perMinute
	topPiston, topSpread        = 17.0, 0.25 // m/s of mean piston speed; of it
	seatSpread                  = 0.25       // of guessedSeat
	contactAt                   = 0.55e-3    // m: the root of LeastContact times MostContact
	contactFactor               = 2.7        // 95 %: the root of MostContact over LeastContact
	ringsPerVolume, ringsFactor = 0.3e-6 / 1e-3, 3.0
	coldWall, hotWall           = 330.0, 430.0 // K: cranking; running
	wallSpread                  = 30.0         // K, either
	exhaustOpens                = 50 * degree
	idleIntake                  = 35e3 // Pa
)

// The figures of an engine that are in doubt, in the order of a point of the
// design.
const (
	ofBore = iota
	ofStroke
	ofRod
	ofRatio
	ofCloses
	ofSpeed // of the run at hand
	ofSeat
	ofContact
	ofRings
	ofWall
	doubts
)

// point is how far each figure lies from its middle, in standard deviations.
type point [doubts]float64

const z95 = 1.959963984540054

// kind is one of the three runs.
type kind int

const (
	cranking kind = iota
	idle
	top
	kinds
)

func (g Given) check() error {
	for _, f := range []struct {
		name string
		m    unit.Measured
	}{{"bore", g.Bore}, {"stroke", g.Stroke}, {"compression ratio", g.Ratio}} {
		if !f.m.Known {
			return &Fault{Field: f.name, Shown: "(not given)", Want: "be known", Do: "what a leak costs can't be said without it: give it, with a ± if it is uncertain"}
		}
	}
	for _, f := range []struct {
		name string
		m    unit.Measured
	}{
		{"bore", g.Bore}, {"stroke", g.Stroke}, {"connecting rod", g.Rod}, {"compression ratio", g.Ratio}, {"intake closing", g.IntakeCloses},
		{"cranking speed", g.Cranking}, {"idle speed", g.Idle}, {"top speed", g.TopSpeed}, {"length round the seat", g.SeatWidth}, {"contact width", g.Contact},
	} {
		if f.m.Known && !(f.m.Spread >= 0 && !math.IsInf(f.m.Spread, 0)) {
			return fault("± of "+f.name, f.m.Spread, "", 1, "be 0 or more and finite", "leave it out, or give the half-width of the range that holds it 95 times in 100")
		}
	}
	c, _ := g.at(point{}, cranking)
	if err := c.Check(); err != nil {
		return err
	}
	for k := cranking; k < kinds; k++ {
		_, speed := g.at(point{}, k)
		r := Run{Speed: speed, Intake: idleIntake, Room: 1e5, Temp: 293}
		if err := r.check(); err != nil {
			return err
		}
	}
	return nil
}

// at returns the cylinder and the speed of a run at a point of the design.
// Lengths, ratio less one, and speeds are taken as lognormal, so that none falls
// below zero; angles as normal, held where a cylinder can be solved.
func (g Given) at(z point, k kind) (Cylinder, float64) {
	size := func(m unit.Measured, z float64) float64 {
		if m.Spread == 0 {
			return m.Value
		}
		return m.Value * math.Exp(z*math.Min(m.SD()/m.Value, 0.5))
	}
	c := Cylinder{Heat: g.Heat, ExhaustOpens: exhaustOpens}
	c.Bore, c.Stroke = size(g.Bore, z[ofBore]), size(g.Stroke, z[ofStroke])
	c.Rod = size(g.Rod.Or(unit.About(rodStrokes*g.Stroke.Value, rodSpread*rodStrokes*g.Stroke.Value)), z[ofRod])
	if g.Rod.Value > g.Stroke.Value/2 || !g.Rod.Known {
		c.Rod = math.Max(c.Rod, 0.55*c.Stroke) // a stray point of the design; a rod given too short is refused
	}
	c.Ratio = 1 + size(unit.About(g.Ratio.Value-1, g.Ratio.Spread), z[ofRatio])
	closes := g.IntakeCloses.Or(unit.About(closesAt, closesSpread))
	c.IntakeCloses = closes.Value + z[ofCloses]*closes.SD()
	if z[ofCloses] != 0 {
		c.IntakeCloses = math.Min(math.Max(c.IntakeCloses, -10*degree), 110*degree)
	}
	guess := guessedSeat * math.Pi * c.Bore
	c.SeatWidth = size(g.SeatWidth.Or(unit.About(guess, seatSpread*guess)), z[ofSeat])
	if g.Contact.Known {
		c.Contact = size(g.Contact, z[ofContact])
	} else {
		c.Contact = contactAt * math.Pow(contactFactor, z[ofContact]/z95)
	}
	c.Contact = math.Min(c.Contact, 0.1*c.Bore)
	c.Rings = ringsPerVolume * c.Swept() * math.Pow(ringsFactor, z[ofRings]/z95)
	wall, speed := hotWall, g.TopSpeed
	switch k {
	case cranking:
		wall, speed = coldWall, g.Cranking.Or(unit.About(crankedAt, crankedSpread))
	case idle:
		speed = g.Idle.Or(unit.About(idleAt, idleSpread))
	default:
		if !speed.Known {
			s := topPiston * math.Pi / g.Stroke.Value
			speed = unit.About(s, topSpread*s)
		}
	}
	c.Wall = wall + z[ofWall]*wallSpread/z95
	return c, size(speed, z[ofSpeed])
}

// run returns how the engine turns in a run, in a room at pa [Pa], ta [K].
func (k kind) run(speed, pa, ta float64) Run {
	r := Run{Speed: speed, Intake: pa, Room: pa, Temp: ta}
	if k == idle {
		r.Intake = math.Min(idleIntake, pa)
	}
	if k != cranking {
		r.Burn = &DefaultBurn
	}
	return r
}

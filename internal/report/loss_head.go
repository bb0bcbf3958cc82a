package report

import (
	"fmt"
	"math"

	"seatproof/gas"
	"seatproof/head"
	"seatproof/leak"
	"seatproof/unit"
)

// LossOfHead gathers the leaks of each cylinder: of each of its ports what the tests
// say that its verdict stands on. A port between two cylinders counts in each with the
// part of [PartOf], as for the other tests.
func LossOfHead(j *head.Job, ports []PortRead) LossAsk {
	a := LossAsk{Room: gas.SeaLevelPressure, Temp: 293.15, Cylinders: []LossCylinder{}}
	a.Engine, a.Guessed = EngineOf(j)
	a.Engine.SeatWidth, a.Engine.Contact = seatOf(j)
	at := map[int]int{}
	for i := range ports {
		row, p := &ports[i], &j.Ports[i]
		for _, n := range p.Cylinders {
			k, ok := at[n]
			if !ok {
				k = len(a.Cylinders)
				at[n] = k
				a.Cylinders = append(a.Cylinders, LossCylinder{Name: fmt.Sprintf("cylinder %d", n), Number: n})
			}
			c := &a.Cylinders[k]
			name := portOfCylinder(p)
			part := PartOf(j, p, row.Card, n)
			switch {
			case part.Told:
				name += ", shared, the part of its own valves"
			case part.Shared:
				name += ", shared, a part not known"
			}
			var l LossLeak
			if g := row.Card.Reading; g != nil && len(row.Card.Counted) > 0 {
				l = LeakOf(name, g, row.middle(), p.Side == head.Intake)
				l.Draws = parted(l.Draws, part)
			}
			if len(l.Draws) == 0 {
				c.Untold = append(c.Untold, name+" left out: "+row.word())
				continue
			}
			c.Leaks = append(c.Leaks, l)
			a.Room, a.Temp = row.Card.Reading.Room, row.Card.Reading.RoomTemp
		}
	}
	return a
}

// middle is the reading of the test that speaks for several; nil where there is one.
func (r *PortRead) middle() *leak.Reading {
	if o := r.Outcome; o != nil && o.Middle < len(o.Each) {
		return o.Each[o.Middle].Reading
	}
	return nil
}

// word is the standing of a port, and that it must be tested again.
func (r *PortRead) word() string {
	if r.Card.Retest {
		return r.Card.Standing.Words() + ", retest"
	}
	return r.Card.Standing.Words()
}

// portOfCylinder names a port within its cylinder: "intake port", "left intake
// port".
func portOfCylinder(p *head.Port) string {
	name := string(p.Side) + " port"
	if p.Part != "" {
		name = p.Part + " " + name
	}
	return name
}

// seatOf is the seat that caps a seep: the middle one of the head's valves, and
// their contact where one is given.
func seatOf(j *head.Job) (width, contact unit.Measured) {
	var heads, contacts []unit.Measured
	for i := range j.Valves {
		d, _ := j.HeadOr(&j.Valves[i])
		heads = append(heads, d)
		if c := j.Valves[i].Contact; c.Known && c.Value > 0 {
			contacts = append(contacts, c)
		}
	}
	mean := func(all []unit.Measured) unit.Measured {
		if len(all) == 0 {
			return unit.Measured{}
		}
		sum, low, high, spread := 0.0, math.Inf(1), 0.0, 0.0
		for _, m := range all {
			sum, spread = sum+m.Value, math.Max(spread, m.Spread)
			low, high = math.Min(low, m.Value), math.Max(high, m.Value)
		}
		return unit.About(sum/float64(len(all)), math.Hypot(spread, (high-low)/2))
	}
	d := mean(heads)
	if d.Known {
		width, _ = SeatOf(d, unit.Measured{})
	}
	return width, mean(contacts)
}

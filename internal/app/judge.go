package app

import (
	"sync"

	"seatproof/engine"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/limit"
	"seatproof/rig"
)

// limitRule says where the limit of a port comes from.
type limitRule struct {
	flow        float64 // m³/s; 0: none given
	workmanship bool    // by diameter

	// head says the engine: both its limits count, and go before the two above. port
	// finds the port of a recording by the name it gives.
	head  *head.Job
	port  func(name string) (*head.Port, error)
	pump  *rig.Curve // nil: not known, and no limit is told in the needle's terms
	costs *costs
}

// costs keeps what a cylinder can spare: it takes milliseconds, and every recording
// asks.
type costs struct {
	mu  sync.Mutex
	had map[costAsked]costFound
}

type costAsked struct {
	engine        engine.Given
	share, pa, ta float64
}

type costFound struct {
	is  engine.CostLimit
	err error
}

func (c *costs) find(g engine.Given, share, pa, ta float64) (engine.CostLimit, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	asked := costAsked{g, share, pa, ta}
	f, had := c.had[asked]
	if !had {
		f.is, f.err = g.CostLimit(share, pa, ta)
		if c.had == nil {
			c.had = map[costAsked]costFound{}
		}
		c.had[asked] = f
	}
	return f.is, f.err
}

// judge sets limit, chance and verdict of an outcome.
func judge(o *report.Outcome, q question, diameter, ta float64) error {
	switch {
	case q.limit.head != nil:
		p, err := q.limit.port(o.Port)
		if err != nil {
			return err
		}
		j := q.limit.head.Reckoned(q.limit.costs.find, q.limit.pump)
		o.Take(j.Judge(p, o.Reading))
		return nil
	case q.limit.flow > 0:
		o.Limit = &report.Limit{Flow: q.limit.flow}
	case q.limit.workmanship && diameter > 0:
		l, err := limit.Workmanship(diameter, limit.WorkmanshipGap, o.Room, ta)
		if err != nil {
			return err
		}
		o.Limit = &report.Limit{Flow: l, Workmanship: true, Diameter: diameter}
	default:
		return nil
	}
	if r := o.Reading; r.Leak != nil && r.Refusal == nil {
		over := r.ChanceOver(o.Limit.Flow)
		o.Over = &over
		o.Verdict = limit.Judge(over, q.strict)
		if r.UpperLimitOnly && o.Verdict == limit.Leaks {
			o.Verdict = limit.CantTellYet // "less than" can't be too much
		}
	}
	return nil
}

// pumpHere is the curve of the rig's pump in its room; nil: not known.
func pumpHere(r rig.Rig) *rig.Curve {
	pa := room(question{rig: r})
	if pa == 0 {
		pa = 101325
	}
	c, err := r.Pump.Here(pa)
	if err != nil {
		return nil
	}
	return c
}

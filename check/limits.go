package check

import (
	"cmp"
	"fmt"
	"slices"

	"seatproof/engine"
	"seatproof/limit"
)

// Engine is the engine whose ports are tested, as far as anybody said: what it can
// spare of its cranking pressure is a limit beside workmanship. Without a bore
// there is none.
type Engine struct {
	engine.Given
	Heads  []float64 // m, of all valves of one cylinder; none: those of one port of each kind together
	Others []float64 // m, likewise, guessed: of valves of the cylinder that no port was named for
	Gap    float64   // m, of workmanship; 0: [limit.WorkmanshipGap]
	Share  float64   // of cranking pressure, all valves of a cylinder together; 0: [limit.UsualShare]
}

// said says whether there is an engine to go by.
func (e *Engine) said() bool { return e.Bore.Known && e.Bore.Value > 0 }

// share is the part of the cranking pressure that may be lost.
func (e *Engine) share() float64 {
	if e.Share > 0 {
		return e.Share
	}
	return limit.UsualShare
}

// fill puts guesses in the place of what nobody said, and names them.
func (e *Engine) fill() []string {
	filled, guessed := e.Filled()
	e.Given = filled
	return slices.DeleteFunc(guessed, func(name string) bool { // no limit goes by them
		return name == "idle speed" || name == "top speed"
	})
}

// cost finds what all valves of a cylinder may leak together, in a room at pa [Pa],
// ta [K]; nil where no engine was said.
func (e *Engine) cost(pa, ta float64) (*engine.CostLimit, error) {
	if !e.said() {
		return nil, nil
	}
	if err := limit.CheckShare(e.share()); err != nil {
		return nil, fmt.Errorf("cost limit: %w", err)
	}
	c, err := e.CostLimit(e.share(), pa, ta)
	if err != nil {
		return nil, fmt.Errorf("cost limit: %w", err)
	}
	return &c, nil
}

// rules are the limits of a valve with a head of diameter d [m] that count:
// workmanship, and the valve's part of what the engine can spare where that is
// known. The strictest decides, of a leak taken as a seep.
func (e *Engine) rules(d float64, cost *engine.CostLimit, pa, ta float64) (limit.Valve, error) {
	gap := cmp.Or(e.Gap, limit.WorkmanshipGap)
	q, err := limit.Workmanship(d, gap, pa, ta)
	if err != nil {
		return nil, err
	}
	w := limit.Plain(limit.ByWorkmanship, q, 0)
	w.Gap, w.Diameter = gap, d
	out := limit.Valve{w}
	if cost == nil {
		return out, nil
	}
	c := limit.Limit{Kind: limit.ByCost, Share: e.share(), All: cost.Seep, AllOpening: cost.Opening, SeepSD: cost.SeepSD, OpeningSD: cost.OpeningSD, Diameter: d}
	c.Seep, c.Opening = limit.SharedBy(cost.Seep, d, e.Heads), limit.SharedBy(cost.Opening, d, e.Heads)
	if c.Seep > 0 && c.Opening > 0 {
		out = append(out, c)
	}
	return out, nil
}

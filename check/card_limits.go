package check

import (
	"fmt"
	"math"

	"seatproof/limit"
)

// settleEngine fills in the engine of a card and finds what a cylinder can spare.
func (s *solver) settleEngine(ports []CardPort) error {
	e := &s.engine
	if !e.said() {
		return nil
	}
	if len(e.Heads) == 0 {
		for _, p := range ports {
			e.Heads = append(e.Heads, p.Valves...)
		}
	}
	s.engineGuesses = e.fill()
	var err error
	if s.cost, err = e.cost(s.rig.Air.Pressure.Value, s.rig.Air.Temperature.Value); err != nil {
		return fmt.Errorf("wall card: %w", err)
	}
	return nil
}

// limits sets the strictest limits over the air of the card: the least of one valve
// with the rules it stands on, and the sum of all. What a cylinder can spare is
// taken at the air's middle: it moves far less with the weather than it is known.
func (s *solver) limits(l *CardLine) error {
	l.One = math.Inf(1)
	for _, d := range l.Valves {
		var rules limit.Valve
		low, high := 0.0, 0.0
		if l.Typed.Kind != "" {
			rules = limit.Valve{l.Typed}
			low, high = rules.At(0), rules.At(0)
		} else {
			for _, pa := range []float64{s.card.AirLow, s.card.AirHigh} {
				x, err := s.engine.rules(d, s.cost, pa, s.rig.Air.Temperature.Value)
				if err != nil {
					return fmt.Errorf("wall card: %s: %w", l.Name, err)
				}
				if q := x.At(0); rules == nil || q < low {
					low, rules = q, x
				}
				high = math.Max(high, x.At(0))
			}
		}
		if low < l.One {
			l.One, l.Rules = low, rules
		}
		l.All += high
	}
	l.steps, _ = l.Rules.Factors(0)
	return nil
}

// overLimits returns the chances of being over one valve's limit and the sum of
// all, the doubt of the limits gone through.
func (l *CardLine) overLimits(over func(limit float64) float64) (one, all float64) {
	if l.steps[0] == 1 && l.steps[len(l.steps)-1] == 1 { // no doubt
		return over(l.One), over(l.All)
	}
	for _, f := range l.steps {
		one += over(f*l.One) / float64(len(l.steps))
		all += over(f*l.All) / float64(len(l.steps))
	}
	return one, all
}

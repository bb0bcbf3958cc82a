package check

import (
	"errors"
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
		e.Heads = append(e.Heads, e.Others...)
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
		for _, pa := range []float64{s.card.AirLow, s.card.AirHigh} {
			x, err := s.rules(l, d, pa)
			if err != nil {
				return fmt.Errorf("wall card: %s: %w", l.Name, err)
			}
			if q := x.At(0); rules == nil || q < low {
				low, rules = q, x
			}
			high = math.Max(high, x.At(0))
		}
		if low < l.One {
			l.One, l.Rules = low, rules
		}
		l.All += high
	}
	if by, _ := l.Rules.Decides(0); by.Kind == limit.ByCost {
		l.Others = s.engine.Others
	}
	l.steps, _ = l.Rules.Factors(0)
	return nil
}

// rules are the limits of a valve with a head of diameter d [m] in air of pa [Pa].
// A drop that this pump can't be held to leaves workmanship and cost, and the line
// says so.
func (s *solver) rules(l *CardLine, d, pa float64) (limit.Valve, error) {
	ta := s.rig.Air.Temperature.Value
	switch t := l.Typed; t.Kind {
	case "":
	case limit.ByDrop:
		curve, err := s.rig.Pump.Here(pa)
		if err == nil {
			t.Opening, t.Seep, err = limit.OfDrop(t.Drop, curve, pa, ta)
		}
		if err == nil {
			return limit.Valve{t}, nil
		}
		why := "the pump's flow is not known"
		var deep *limit.TooDeepError
		if errors.As(err, &deep) {
			why = "this pump does not reach so deep"
		}
		l.Instead = "a drop below the blanked reading: " + why
	case limit.ByGoodPort:
		t.Opening, t.Seep = t.Opening*d/t.Diameter, t.Seep*d/t.Diameter
		t.Diameter = d
		return limit.Valve{t}, nil
	default:
		return limit.Valve{t}, nil
	}
	return s.engine.rules(d, s.cost, pa, ta)
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

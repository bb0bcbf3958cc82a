package crosscheck

import (
	"seatproof/num"
	"seatproof/unit"
)

// Pump is a pump by two numbers, a straight line of free-air flow against vacuum,
// Free (1 - v/Blanked), or by a curve.
type Pump struct {
	Free    unit.Measured // m³/s, with nothing before it
	Blanked unit.Measured // Pa of vacuum, on a blank, here today
	// Exact leaves out the doubt that a straight line through two numbers adds.
	Exact bool
	// Curve is the shape of the flow, nil: a straight line. It is stretched to end at
	// Blanked; the ± of Free is that of all of it, as a part.
	Curve Curve
}

// Curve is a pump's free-air flow [m³/s] at a vacuum [Pa], none from Blanked on.
type Curve interface {
	Flow(v float64) float64
	Blanked() float64
}

// line is a pump in one state.
type line struct {
	free, blanked float64
	curve         Curve
	part          float64 // of the curve's flow
}

func (l *line) flow(v float64) float64 {
	if l.curve == nil {
		return l.free * (1 - v/l.blanked)
	}
	return l.part * l.curve.Flow(v/l.blanked*l.curve.Blanked())
}

// lineSpread is what a straight line through two numbers adds to the flow (95 %, of
// it): a guess, as in docs/model.md §2.
const lineSpread = 0.3

// NeedleForecast is what the vacuum gauge shows with a leak on a pump.
type NeedleForecast struct {
	Steady Interval // Pa of vacuum
	Below  Interval // Pa, below the blanked reading
}

func (p *Pump) check(room float64) error {
	switch {
	case !(p.Free.Known && p.Free.Value > 0 && p.Free.Value < 1 && p.Free.Spread >= 0):
		return wrong("free flow", "a pump of %.4g L/min can't be: give its free flow, above 0", p.Free.Value*6e4)
	case !(p.Blanked.Known && p.Blanked.Value > 0 && p.Blanked.Spread >= 0):
		return wrongPressure("blanked", "a blanked reading of %s can't be: give the vacuum the pump holds on a blank, above 0", p.Blanked.Value)
	case p.Blanked.Value > room:
		return wrongPressure("blanked", "a blanked reading of %s is deeper than the room's air pressure, %s", p.Blanked.Value, room)
	}
	return nil
}

// drawn returns the pump in a state.
func (p *Pump) drawn(s *state, first int) line {
	free, blanked := drawn(p.Free, s.u[first]), min(s.room, drawn(p.Blanked, s.u[first+1]))
	if !p.Exact {
		free *= 1 + lineSpread/num.Z95*normal(s.u[first+2])
	}
	free = max(free, 1e-3*p.Free.Value)
	return line{free, blanked, p.Curve, free / p.Free.Value}
}

// Forecast returns where the needle stands with a leak on the pump: where the
// pump's flow is the leak's. The error is an *[InputError] or of package gas.
func (p Pump) Forecast(l Leak) (NeedleForecast, error) {
	if err := l.check(); err != nil {
		return NeedleForecast{}, err
	}
	if err := p.check(l.Room); err != nil {
		return NeedleForecast{}, err
	}
	if len(l.Draws) == 0 {
		return NeedleForecast{}, wrong("leak", "no leak rate is known: test the port first")
	}
	states, err := l.states(l.Draws, l.Again)
	if err != nil {
		return NeedleForecast{}, err
	}
	return p.forecast(states, 0)
}

func (p *Pump) forecast(states []state, first int) (NeedleForecast, error) {
	steady, below := make([]float64, len(states)), make([]float64, len(states))
	for k := range states {
		s := &states[k]
		w, err := s.way(s.Flow)
		if err != nil {
			return NeedleForecast{}, err
		}
		l := p.drawn(s, first)
		if steady[k], err = stands(w, s, &l); err != nil {
			return NeedleForecast{}, err
		}
		below[k] = l.blanked - steady[k]
	}
	return NeedleForecast{intervalOf(steady), intervalOf(below)}, nil
}

// stands returns the vacuum at which a pump passes what a leak does.
func stands(w way, s *state, l *line) (float64, error) {
	var failed error
	v, err := num.FindRoot(func(v float64) float64 {
		q, err := w.freeAir(v, s)
		if err != nil {
			failed = err
		}
		return l.flow(v) - q
	}, 0, l.blanked, 0)
	if failed != nil {
		return 0, failed
	}
	return v, err
}

// freeAir is the flow [m³/s of free air] at a vacuum.
func (w way) freeAir(v float64, s *state) (float64, error) {
	m, err := w.MassFlow(s.room, s.room-v, s.temp)
	return m * airPerMass(s), err
}

// Leak returns the leak that a needle standing below the pump's blanked reading
// [Pa] means, by the pump's curve; the rig's own leak is in it. The error is an
// *[InputError] or of package gas.
func (p Pump) Leak(below unit.Measured, port Port) (Bound, error) {
	_, flows, err := p.leaks(below, port)
	if err != nil {
		return Bound{}, err
	}
	return boundOf(flows), nil
}

// leaks returns the states with the leak of each.
func (p *Pump) leaks(below unit.Measured, port Port) ([]state, []float64, error) {
	if err := port.check(); err != nil {
		return nil, nil, err
	}
	if err := p.check(port.Room); err != nil {
		return nil, nil, err
	}
	if !(below.Known && below.Value >= 0 && below.Value < p.Blanked.Value && below.Spread >= 0) {
		return nil, nil, wrongPressure("below", "a needle %s below a blanked reading of %s can't be: give how far below it stands, 0 or more and less than that", below.Value, p.Blanked.Value)
	}
	states, err := port.states(nil, 0)
	if err != nil {
		return nil, nil, err
	}
	flows := make([]float64, len(states))
	for k := range states {
		s := &states[k]
		l := p.drawn(s, 0)
		// the same gauge shows both: only their difference is read
		x := min(0.999*l.blanked, max(0, below.Value+below.SD()*normal(s.u[3])))
		v := l.blanked - x
		q := l.flow(v)
		flows[k], err = flowWhere(func(flow float64) (float64, error) {
			w, err := s.way(flow)
			if err != nil {
				return 0, err
			}
			is, err := w.freeAir(v, s)
			return is - q, err
		})
		if err != nil {
			return nil, nil, err
		}
	}
	return states, flows, nil
}

// Translate returns what the needle would stand below the blanked reading of
// another pump with the leak that lets it stand so far below on this one [Pa]. The
// error is an *[InputError] or of package gas.
func (p Pump) Translate(below unit.Measured, to Pump, port Port) (NeedleForecast, error) {
	states, flows, err := p.leaks(below, port)
	if err != nil {
		return NeedleForecast{}, err
	}
	if err := to.check(port.Room); err != nil {
		return NeedleForecast{}, err
	}
	for k := range states {
		states[k].Flow = min(flows[k], mostFlow)
	}
	return to.forecast(states, 3)
}

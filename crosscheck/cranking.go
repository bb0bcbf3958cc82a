package crosscheck

import (
	"seatproof/engine"
	"seatproof/unit"
)

// Cranking is a gauge in the plug's thread while the starter turns the engine.
type Cranking struct {
	Engine engine.Given
}

// CrankingForecast is what the gauge shows at its peak.
type CrankingForecast struct {
	Without, With Interval // Pa above the room
	Cost          Interval // of the absolute peak, 0..1
}

// crankingDraws is how many states of a leak are carried through the engine: its
// own doubts, most of the interval, are sampled beside them.
const crankingDraws = 100

// Forecast returns what a cranking gauge shows for a cylinder with these leaks, one
// of each port it has, and without them. The sizes of the leaks are taken as the
// vacuum test left them. The error is an *[InputError] or of packages engine or gas.
func (t Cranking) Forecast(leaks ...Leak) (CrankingForecast, error) {
	if len(leaks) == 0 {
		return CrankingForecast{}, wrong("leak", "no leak rate is known: test the cylinder's ports first")
	}
	valves := make([][]engine.Leak, len(leaks))
	for i := range leaks {
		l := &leaks[i]
		if len(l.Draws) == 0 {
			return CrankingForecast{}, wrong("leak", "no leak rate is known: test the cylinder's ports first")
		}
		states, err := l.states(l.Draws, l.Again)
		if err != nil {
			return CrankingForecast{}, err
		}
		for k := range crankingDraws {
			s := &states[k*(4*i+3)%samples] // another step for each port, so that they do not go together
			flow := s.Flow
			if l.Part {
				flow *= s.u[5]
			}
			valves[i] = append(valves[i], engine.Leak{Flow: flow, Share: s.Share, Edge: s.Edge, Room: l.Room, Temp: l.Temp})
		}
	}
	loss, err := t.Engine.Loss(valves...)
	if err != nil {
		return CrankingForecast{}, err
	}
	room := leaks[0].Room
	gauge := func(e engine.Estimate) Interval { return Interval{e.Median - room, e.Low - room, e.High - room} }
	c := loss.Cranking
	return CrankingForecast{gauge(c.Without), gauge(c.With), Interval(c.Share)}, nil
}

// Stands is how an observed figure stands to a forecast.
type Stands string

// The ways. More and Less speak of the leak: more than the forecast's.
const (
	Agrees Stands = "agrees"
	More   Stands = "more"
	Less   Stands = "less"
)

// Stand compares an observed figure with what was forecast: where their 95 %
// intervals meet they agree. rising says that a larger leak makes the figure larger.
func Stand(seen unit.Measured, f Interval, rising bool) Stands {
	switch {
	case seen.Value-seen.Spread > f.High:
		if rising {
			return More
		}
		return Less
	case seen.Value+seen.Spread < f.Low:
		if rising {
			return Less
		}
		return More
	}
	return Agrees
}

// Stand compares what was seen of a liquid, after how long, with the forecast. Dry
// for a time agrees with any forecast that may be later.
func (f LiquidForecast) Stand(seen Seen, after unit.Measured) Stands {
	switch seen {
	case SeenDry:
		if after.Value-after.Spread > f.Paper.High {
			return Less
		}
		return Agrees
	case SeenDrop:
		return Stand(after, f.Drop.Interval, false)
	}
	return Stand(after, f.Paper.Interval, false)
}

package crosscheck

import (
	"math"

	"seatproof/engine"
	"seatproof/unit"
)

// Cranking is a gauge in the plug's thread while the starter turns the engine.
type Cranking struct {
	Engine engine.Given
	// Gauge is the room [m³] that the gauge adds to the chamber: hose and fitting up to
	// its check valve, less what the plug took. Not Known: guessed, wide.
	Gauge unit.Measured
}

// gaugeRoom is guessed where nobody measured it (95 %), no source: a check valve in
// the end that is screwed in, to one at the far end of a thin hose.
const leastGauge, mostGauge = 0.3e-6, 5e-6 // m³

// SpreadRule is how low the lowest of an engine's cranking readings may be, as a part
// of the highest. Source: TM 5-4210-230-14&P-1, additional 2; a car maker's manual
// says the same. Others ask for less than 20 % below the average (TM
// 1-1500-204-23-1).
const SpreadRule = 0.75

// CrankingForecast is what the gauge shows at its peak.
type CrankingForecast struct {
	Without, With Interval // Pa above the room
	Cost          Interval // of the absolute peak, 0..1
}

// crankingDraws is how many states of a leak are carried through the engine: its
// own doubts, most of the interval, are sampled beside them.
const crankingDraws = 100

// engine returns the engine with the gauge's room in its chamber:
//
//	ratio - 1 = Vs/(Vs/(ratio0 - 1) + Vg)
//
// Its ± holds the gauge's: half of what the guess's ends move it by.
func (t *Cranking) engine() (engine.Given, error) {
	g := t.Engine
	vs := engine.Cylinder{Bore: g.Bore.Value, Stroke: g.Stroke.Value}.Swept()
	if !(vs > 0) || !(g.Ratio.Value > 1) {
		return g, nil // refused there, by name
	}
	low, high := leastGauge, mostGauge
	if m := t.Gauge; m.Known {
		if !(m.Value >= 0 && m.Value < vs && m.Spread >= 0) {
			return g, wrong("gauge", "a gauge that adds %.4g cm³ to the chamber can't be: give the room up to its check valve, less than the cylinder's", m.Value*1e6)
		}
		low, high = max(0, m.Value-m.Spread), m.Value+m.Spread
	}
	with := func(room float64) float64 { return vs / (vs/(g.Ratio.Value-1) + room) }
	middle := math.Sqrt(low * high)
	if t.Gauge.Known {
		middle = t.Gauge.Value
	}
	is := with(middle)
	g.Ratio.Spread = math.Hypot(g.Ratio.Spread*is/(g.Ratio.Value-1), (with(low)-with(high))/2)
	g.Ratio.Value = 1 + is
	return g, nil
}

// Forecast returns what a cranking gauge shows for a cylinder with these leaks, one
// of each port it has, and without them, after enough turns to fill it: its check
// valve keeps the peak, less what opens it (some kPa, left out). The sizes of the
// leaks are taken as the vacuum test left them. The error is an *[InputError] or of
// packages engine or gas.
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
			s := &states[apart(k, i+1)]
			valves[i] = append(valves[i], engine.Leak{Flow: s.Flow * l.Part.At(s.u[5]), Share: s.Share, Edge: s.Edge, Room: l.Room, Temp: l.Temp})
		}
	}
	with, err := t.engine()
	if err != nil {
		return CrankingForecast{}, err
	}
	loss, err := with.Loss(valves...)
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

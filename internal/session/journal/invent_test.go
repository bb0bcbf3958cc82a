package journal

import (
	"math"
	"math/rand/v2"

	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Where the phases of an invented test lie in its 20 s.
const (
	testLong = 20.0
	pullAt   = 2.5
	steadyAt = 5.0
	holdAt   = 8.0
	ventAt   = 17.0
)

// wave is the vacuum [Pa] of tests that follow one another every 20 s: vented,
// a pull to 76 kPa, a hold that loses 300 Pa a second, vented. No law of air:
// the journal asks for none.
func wave(t float64) float64 {
	x := math.Mod(t, testLong)
	const deep = 76e3
	pulled := func(s float64) float64 { return deep * (1 - math.Exp(-s/0.4)) }
	switch {
	case x < pullAt:
		return 0
	case x < holdAt:
		return pulled(x - pullAt)
	case x < ventAt:
		return pulled(holdAt-pullAt) - 300*(x-holdAt)
	}
	return (pulled(holdAt-pullAt) - 300*(ventAt-holdAt)) * math.Exp(-(x-ventAt)/0.1)
}

// plan is a run of so many sources and two ports.
func plan(sources int) session.Plan {
	var g rig.Rig
	g.Name = "invented rig"
	g.Volume, g.Port.Volume = unit.About(60e-6, 2e-6), unit.About(95e-6, 4e-6)
	g.Gauge.Span = rig.Span{Low: 0, High: 100e3, Known: true}
	p := session.Plan{
		Run: "r", Started: 1760000000000, Rig: g, Known: &leak.Interval{Median: 1e-6, Low: 0.9e-6, High: 1.1e-6},
		Ports: []session.Port{{ID: "p1", Name: "one", Limit: 4e-7}, {ID: "p2", Name: "two", Limit: 4e-7}},
	}
	for i := range sources {
		kind := trace.Vacuum
		if i%3 == 2 {
			kind = trace.Absolute
		}
		p.Sources = append(p.Sources, session.SourcePlan{Name: string(rune('a' + i)), Reads: kind})
	}
	return p
}

// samples are n samples of a source, dt apart, from time t on; with a clock of
// its own where said.
func samples(r *rand.Rand, source int, t, dt float64, n int, clock bool) session.Samples {
	e := session.Samples{Source: source}
	for i := range n {
		at := math.Round((t+float64(i)*dt)*1e6) / 1e6
		v := math.Round((wave(at)+30*r.NormFloat64())*1e3) / 1e3
		if source%3 == 2 {
			v = 100e3 - v
		}
		e.At, e.Value = append(e.At, at), append(e.Value, v)
		if clock {
			e.Clock = append(e.Clock, at+1000)
		}
	}
	return e
}

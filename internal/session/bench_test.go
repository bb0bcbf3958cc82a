package session

import (
	"math/rand/v2"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// bench drives a session with invented tests, as a program does: it brings the
// events, keeps them, and gives the estimator's answers back at once.
type bench struct {
	t      testing.TB
	r      *rand.Rand
	s      State
	now    float64
	events []Event
	did    []Action
	read   bool // answer looks
	batch  int  // samples an event
}

const benchPa = 100e3

func newBench(t testing.TB, p Plan) *bench {
	b := &bench{t: t, r: rand.New(rand.NewPCG(5, 6)), read: true, batch: 2}
	b.give(Begin{At: 0, Plan: p})
	return b
}

// benchPlan is a rig with two ports, a limit of 20 cm³/min and a known leak of
// 100 ± 5.
func benchPlan() Plan {
	var g rig.Rig
	g.Name = "invented rig"
	g.Volume = unit.About(60e-6, 1.5e-6)
	g.Port.Volume = unit.About(95e-6, 4e-6)
	g.Port.WetWith = rig.WetNothing
	g.Gauge.Kind = rig.GaugeDigital
	g.Gauge.Span = rig.Span{Low: 0, High: 100e3, Known: true}
	g.Gauge.Accuracy = unit.Exactly(0.005)
	g.Gauge.Resolution = 10
	g.Air.Pressure, g.Air.Temperature = unit.About(benchPa, 100), unit.Exactly(293)
	g.Pump.FreeFlow, g.Pump.Blanked = unit.About(10e-3/60, 1e-3/60), unit.About(77e3, 1e3)
	return Plan{
		Run: "r1", Started: 1760000000000, Rig: g, Held: rig.HeldOwnSpring,
		Sources: []SourcePlan{{Name: "first", Reads: trace.Vacuum, Step: 10}, {Name: "second", Reads: trace.Absolute}},
		Ports:   []Port{{ID: "p1", Name: "cylinder 1 intake", Limit: 20 * cm3min}, {ID: "p2", Name: "cylinder 1 exhaust", Limit: 20 * cm3min}},
		Known:   &leak.Interval{Median: 100 * cm3min, Low: 95 * cm3min, High: 105 * cm3min},
	}
}

func (b *bench) give(e Event) {
	b.events = append(b.events, e)
	if t := e.when(); t > b.now {
		b.now = t
	}
	var out []Action
	b.s, out = Step(b.s, e)
	b.did = append(b.did, out...)
	for _, a := range out {
		if l, ok := a.(Look); ok && b.read {
			b.give(Looked{At: b.now, Test: l.Test, Final: l.Final, Estimate: Read(l, leak.Options{})})
		}
	}
}

func (b *bench) key(do Do, port string) { b.give(Key{At: b.now, Do: do, Port: port}) }

// pull makes a test of a port of that leak [cm³/min] and volume [cm³], held for
// so long [s], on a gauge of 50 samples a second. between is called with each
// event, by the time since the test's beginning; it may be nil.
func (b *bench) pull(flow, volume, hold float64, between func(v *invented, at float64)) *invented {
	v := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, lag: 0.05, flow: flow * cm3min, volume: volume * 1e-6, pa: benchPa, on: 2}
	v.simulate(b.t, b.r, 10e-3/60, 77e3, hold)
	b.play(v, between)
	return v
}

// play brings an invented test's samples, on both gauges.
func (b *bench) play(v *invented, between func(v *invented, at float64)) {
	from := b.now + 0.02
	for i := 0; i < len(v.time); i += b.batch {
		z := min(len(v.time), i+b.batch)
		one, two := Samples{Source: 0}, Samples{Source: 1}
		for k := i; k < z; k++ {
			one.At, one.Value = append(one.At, from+v.time[k]), append(one.Value, v.value[k])
			two.At, two.Value = append(two.At, from+v.time[k]), append(two.Value, benchPa-v.value[k]+100)
		}
		b.give(one)
		b.give(two)
		if between != nil {
			between(v, v.time[z-1])
		}
	}
}

// said lists the codes that were said since a number of actions.
func (b *bench) said(since int) (codes []SayCode) {
	for _, a := range b.did[since:] {
		if s, ok := a.(Say); ok {
			codes = append(codes, s.Code)
		}
	}
	return codes
}

// files lists the tests that were filed since a number of actions.
func (b *bench) files(since int) (f []FileTest) {
	for _, a := range b.did[since:] {
		if x, ok := a.(FileTest); ok {
			f = append(f, x)
		}
	}
	return f
}

package report

import (
	"errors"
	"math"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Readings invented for these tests: figures of the drawing board, no more
// than plausible.

const perCm3min = 1e-6 / 60

func flows(median, low, high float64) *leak.Interval {
	return &leak.Interval{Median: median * perCm3min, Low: low * perCm3min, High: high * perCm3min}
}

// inventedTrace is a test of a port with a leak of q cm³/min on 157 cm³:
// vented, pulled to 76 kPa, held for 40 s.
func inventedTrace(q float64) (*trace.Trace, []trace.Phase) {
	t := &trace.Trace{Kind: trace.Vacuum}
	const room, vol = 101325.0, 157e-6
	v := 0.0
	noise := uint32(7)
	for i := range 70 * 25 {
		at := float64(i) / 25
		switch {
		case at < 4:
			v = 0
		case at < 24:
			v = 76e3 * (1 - math.Exp(-(at-4)/2.5))
		case at < 64:
			v = fallen(v, 0.04, q*perCm3min*room/vol, 0.5, room)
		default:
			v *= 0.8
		}
		noise = noise*1664525 + 1013904223
		t.Time = append(t.Time, at)
		t.Value = append(t.Value, v+(float64(noise>>8)/(1<<24)-0.5)*160)
	}
	phase := func(n trace.PhaseName, a, b float64) trace.Phase {
		return trace.Phase{Name: n, From: a, To: b, First: int(a * 25), Last: int(b*25) - 1}
	}
	return t, []trace.Phase{
		phase(trace.Vented, 0, 4), phase(trace.Pull, 4, 16), phase(trace.Steady, 16, 24),
		phase(trace.Hold, 24, 64), phase(trace.Vented, 64, 70),
	}
}

func inventedCurve(q float64) []leak.CurvePoint {
	const room, vol = 101325.0, 157e-6
	v := 75975.0
	var c []leak.CurvePoint
	for i := range 41 {
		c = append(c, leak.CurvePoint{Time: 24 + float64(i), Vacuum: v})
		v = fallen(v, 1, q*perCm3min*room/vol, 0.5, room)
	}
	return c
}

func invented(port string, q, low, high, againLow, againHigh, lim, over float64) *Outcome {
	t, phases := inventedTrace(q)
	o := &Outcome{
		File: "traces/" + port + ".csv", Port: port, Held: rig.HeldOwnSpring,
		Limit: &Limit{Flow: lim * perCm3min, Workmanship: true, Diameter: 27e-3},
		Over:  &over, Verdict: limit.Judge(over, false),
		Room: 101325, Volume: 157e-6,
		Reading: &leak.Reading{
			Leak: flows(q, low, high), TestedAgain: flows(q, againLow, againHigh),
			Share: &leak.Interval{Median: 0.5, Low: 0.04, High: 0.97}, Edge: &leak.Interval{Median: 0.5, Low: 0.03, High: 0.97},
			Kind:           leak.KindUnresolved,
			NozzleDiameter: &leak.Interval{Median: 32e-6 * math.Sqrt(q), Low: 30e-6 * math.Sqrt(q), High: 34e-6 * math.Sqrt(q)},
			Steady:         &leak.SteadyReading{Vacuum: leak.Interval{Median: 76e3, Low: 75.4e3, High: 76.6e3}, Flow: flows(q*1.1, 1, q+430)},
			Blanked:        &leak.Interval{Median: 78e3, Low: 76e3, High: 80e3},
			FallRate:       &leak.Interval{Median: 10.6 * q, Low: 10 * q, High: 11 * q},
			Lost:           &leak.Lost{Vacuum: 160 * q, Over: 15},
			Phases:         phases,
			Budget:         []leak.BudgetLine{{Input: "port volume", Share: 0.62}, {Input: "samples", Share: 0.21}, {Input: "gauge accuracy", Share: 0.13}, {Input: "air pressure", Share: 0.04}},
			Guessed:        []leak.Guess{{Input: "port volume", Guess: unit.About(95e-6, 28e-6), Dim: unit.VolumeDim, Widened: 1.24}},
			Curve:          inventedCurve(q),
			Source:         leak.FromHold,
		},
		Sketch: NewSketch(t, phases, 0),
	}
	return o
}

func inventedHead() []*Outcome {
	fault := &Outcome{File: "traces/3 exhaust.csv", Port: "cylinder 3 exhaust", Held: rig.HeldOwnSpring, Room: 101325}
	t, _ := inventedTrace(1)
	for i := range t.Value {
		if t.Time[i] > 6 {
			t.Value[i] = 41230
		}
	}
	fault.Sketch = NewSketch(t, nil, 0)
	fault.Reading = &leak.Reading{Refusal: &leak.Refusal{Code: leak.GaugeStuck, At: 6, Figure: 41230, Other: 58}}
	tight := invented("cylinder 1 intake", 0.6, 0.1, 1.4, 0.1, 2.1, 23, 0.0002)
	tight.Reading.UpperLimitOnly = true
	seep := invented("cylinder 3 intake", 61, 55, 68, 33, 115, 23, 0.9996)
	seep.Reading.Kind = leak.KindSeep
	seep.Reading.Warnings = []leak.Warning{{Code: leak.RowsDropped, Count: 3, Line: 412}}
	seep.Faults.DroppedWhy = `"ERR" is not a number`
	return []*Outcome{
		invented("cylinder 1 exhaust", 8.4, 7.2, 9.6, 4.6, 16, 20, 0.006),
		tight,
		invented("cylinder 2 exhaust", 140, 122, 161, 75, 260, 20, 1),
		invented("cylinder 2 intake", 28, 26, 31, 17, 46, 23, 0.78),
		seep, fault,
	}
}

func inventedUnreadable() *Outcome {
	return &Outcome{File: "notes.pdf", Err: errors.New("notes.pdf: this is not text")}
}

package report

import (
	"cmp"
	"math"
	"slices"

	"seatproof/engine"
	"seatproof/head"
	"seatproof/leak"
	"seatproof/unit"
)

// EngineOf puts what is known of a head's engine into what losses are reckoned
// from, with wide guesses where nobody said; guessed are their keys.
func EngineOf(j *head.Job) (g engine.Given, guessed []string) {
	g, names := j.Given()
	for _, in := range lossInputs {
		if slices.Contains(names, in.name) {
			guessed = append(guessed, in.key)
		}
	}
	return g, guessed
}

// EngineGiven is [EngineOf] for an engine whose bore is known.
func EngineGiven(e *head.Engine) (engine.Given, []string) { return EngineOf(&head.Job{Engine: *e}) }

// SeatOf returns the slot of a seat, for the cap of its seep: as wide as the seat is
// round, as long as its contact is wide.
func SeatOf(diameter, contact unit.Measured) (width, length unit.Measured) {
	return unit.About(math.Pi*diameter.Value, math.Pi*diameter.Spread), contact
}

// LeakOf is what a reading says of a port's leak. Several tests read together have
// no draws of their own: middle, the test that speaks for them, lends its way of
// flowing, and the flows are those of the interval of all; nil where there is one
// test. No draws come of a reading without a leak rate.
func LeakOf(name string, r, middle *leak.Reading, intake bool) LossLeak {
	l := LossLeak{Name: name, Kind: r.Kind, Upper: r.UpperLimitOnly, Intake: intake, Room: r.Room, Temp: r.RoomTemp}
	if r.Leak == nil {
		return l
	}
	l.Told = r.Leak
	if len(r.Draws) > 0 || middle == nil || middle.Leak == nil {
		l.Draws = thinned(r.Draws)
		return l
	}
	draws := slices.SortedFunc(slices.Values(middle.Draws), func(a, b leak.Draw) int { return cmp.Compare(a.Flow, b.Flow) })
	for i := range draws {
		if r.Leak.Low <= 0 || r.UpperLimitOnly {
			draws[i].Flow *= r.Leak.High / middle.Leak.High
			continue
		}
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(len(draws))-1)
		end := r.Leak.High
		if z < 0 {
			end = r.Leak.Low
		}
		draws[i].Flow = r.Leak.Median * math.Pow(end/r.Leak.Median, math.Abs(z)/1.96)
	}
	l.Draws = thinned(draws)
	return l
}

// Package leak turns a trace into a leak rate with an honest interval.
//
// Start with [Read]: a trace and the rig it was taken on give a [Reading],
// which holds the leak rate, how sure it is, the way it flows, what each input
// contributes to the doubt, and either warnings or a [Refusal]. The estimator
// is described in docs/model.md; how well it does, in docs/accuracy.md.
package leak

import (
	"math"

	"seatproof/trace"
	"seatproof/unit"
)

// Interval is a posterior median with its 95 % interval, in SI units.
type Interval struct{ Median, Low, High float64 }

// Kind is the way a leak flows, as far as the trace can tell.
type Kind string

// The kinds.
const (
	KindOpening    Kind = "opening"
	KindSeep       Kind = "seep"
	KindMixed      Kind = "mixed"
	KindUnresolved Kind = "unresolved"
)

// Reading is what one trace says. Pointers are nil where nothing can be said.
type Reading struct {
	Leak           *Interval // m³/s of free air at 50 kPa vacuum, of this trace
	UpperLimitOnly bool      // only Leak.High means something ("less than")
	TestedAgain    *Interval // m³/s, this port, tested again: one more test
	Deepest        *AtVacuum // flow at the deepest vacuum of the hold, when that is under 50 kPa
	Share          *Interval // opening's part of the leak at 50 kPa, 0..1; nil where only the vacuum held the valves
	Edge           *Interval // 0 rounded .. 1 sharp; nil with Share
	Kind           Kind      // "" when nothing was fitted
	NozzleDiameter *Interval // m, of a nozzle passing the same
	Gap            *Interval // m, cube-mean gap; only when the seat was given
	Steady         *SteadyReading
	Blanked        *Interval // Pa of vacuum
	FallRate       *Interval // Pa/s, at the start of the hold once settled
	Lost           *Lost
	Room, RoomTemp float64   // Pa, K: the air taken, guessed where nobody gave it
	Zero           *Interval // Pa, gauge reading when vented
	Phases         []trace.Phase
	Budget         []BudgetLine // largest first; shares add to 1
	Guessed        []Guess
	Warnings       []Warning
	Refusal        *Refusal
	Draws          []Draw       // equally likely draws from the posterior of this trace
	Curve          []CurvePoint // the fitted hold, for drawing
	Source         Source
	Repeats        *Repeats // set where several tests speak together: see [Together]

	scatter *Scatter // between tests; nil: the common one
	seat    *Seat
	own     *ownError
}

// Source says where the leak rate comes from.
type Source string

// The sources of a leak rate.
const (
	FromHold   Source = "hold"
	FromSteady Source = "steady"
	FromHand   Source = "hand"
)

// AtVacuum is a flow [m³/s free air] at a stated vacuum [Pa].
type AtVacuum struct {
	Vacuum float64
	Flow   Interval
}

// SteadyReading is the vacuum with pump on and valve open, and the leak it
// means at that vacuum by the pump's curve, rig leak taken off.
type SteadyReading struct {
	Vacuum Interval  // Pa, with scatter
	Flow   *Interval // m³/s free air at Vacuum; nil if the pump is not known
	At50   *Interval // m³/s the same carried to 50 kPa by the law

	draws  []Draw
	rising bool     // it was not steady yet
	free   Interval // At50 as a normal figure that is not cut at zero
}

// Lost is what the gauge lost in a stated time of hold.
type Lost struct{ Vacuum, Over float64 } // Pa, s

// BudgetLine is one input's share of the variance of the leak rate.
type BudgetLine struct {
	Input string // "volume", "gauge accuracy", ...
	Share float64
}

// Guess is an input that nobody gave, by the name it has in the budget but for
// "rig volume" and "port volume", and how much wider the guess made the
// interval (ratio of widths with and without its doubt, >= 1).
type Guess struct {
	Input   string
	Guess   unit.Measured
	Dim     unit.Dimension
	Widened float64
}

// Draw is one draw from the posterior.
type Draw struct{ Flow, Share, Edge float64 }

// CurvePoint is a point of the fitted hold as the gauge would show it.
type CurvePoint struct{ Time, Vacuum float64 } // s in the trace's own time, Pa

// Seat is the size of the seat, when given: it turns a leak rate into a gap.
type Seat struct {
	Diameter float64 // m
	Contact  float64 // m, width of the contact
}

// Options are what the person says beside the rig.
type Options struct {
	Seat    *Seat
	ShutOff *float64 // s in the trace's own time; nil: found from the samples
	Scatter *Scatter // between tests, learned from a shop's repeats; nil: the common one
}

// Warning says something about a trace that still gave an answer.
type Warning struct {
	Code   WarningCode
	Count  int     // how many, where that makes sense
	Line   int     // first line of the file, where that makes sense
	Figure float64 // SI figure the message needs
	Other  float64 // a second one

	// Of several tests only: the names of those that it is about, "" for all;
	// the interval of the others; why one was refused.
	Name    string
	Others  Interval
	Refusal *Refusal
}

// WarningCode names a warning.
type WarningCode string

// The warnings.
const (
	RowsDropped    WarningCode = "rows-dropped"
	Spikes         WarningCode = "spikes"
	Gaps           WarningCode = "gaps"
	Jitter         WarningCode = "jitter"
	ReadingsDiffer WarningCode = "readings-disagree"
	Extrapolated   WarningCode = "extrapolated"
	LawMisfit      WarningCode = "law-misfit"
	FallStops      WarningCode = "fall-stops"
	HoldBreaks     WarningCode = "hold-breaks"
	Slowing        WarningCode = "slowing"
	Drift          WarningCode = "drift"
	Oiled          WarningCode = "oiled"
	WetPort        WarningCode = "wet-port"
	FastHold       WarningCode = "fast-hold"
	BareValves     WarningCode = "bare-valves"
	NeverShutOff   WarningCode = "no-hold"
	SteadyAlone    WarningCode = "steady-alone"
	StillRising    WarningCode = "still-rising" // shut off, or ended, before it was steady: only a bound can be given
	NoVolume       WarningCode = "no-volume"    // neither a volume nor a pump: only the rate of fall can be given
	RepeatRefused  WarningCode = "repeat-refused"
	OddRepeat      WarningCode = "odd-repeat"
	UnlikeGauges   WarningCode = "unlike-gauges"
)

// Refusal says why a trace can carry no answer, with the figures its message needs.
type Refusal struct {
	Code   RefusalCode
	Line   int
	At     float64 // s
	Figure float64
	Other  float64
}

// RefusalCode names a refusal.
type RefusalCode string

// The refusals.
const (
	NoPull        RefusalCode = "no-pull"
	NoVacuum      RefusalCode = "no-vacuum"
	GaugeZero     RefusalCode = "gauge-zero"
	NoZero        RefusalCode = "no-zero"
	GaugeStuck    RefusalCode = "gauge-stuck"
	ClockBack     RefusalCode = "clock-back"
	HoldTooShort  RefusalCode = "hold-too-short"
	TooDeep       RefusalCode = "too-deep"
	TooFewSamples RefusalCode = "too-few-samples"
	NoHold        RefusalCode = "no-hold"
)

// refuse sets a refusal and takes back what it contradicts.
func (r *Reading) refuse(ref *Refusal) {
	*r = Reading{
		Room: r.Room, RoomTemp: r.RoomTemp, Zero: finite(r.Zero), Phases: r.Phases, Warnings: r.Warnings,
		Blanked: finite(r.Blanked), Steady: r.Steady, Refusal: ref, scatter: r.scatter,
	}
	kept := r.Warnings[:0]
	for _, w := range r.Warnings {
		if !math.IsInf(w.Figure+w.Other, 0) && !math.IsNaN(w.Figure+w.Other) {
			kept = append(kept, w)
		}
	}
	r.Warnings = kept
	if s := r.Steady; s != nil && (finite(&s.Vacuum) == nil || s.Flow != nil && finite(s.Flow) == nil) {
		r.Steady = nil
	}
}

// finite returns the interval, or nil where it is not made of numbers.
func finite(i *Interval) *Interval {
	if i == nil || math.IsNaN(i.Median+i.Low+i.High) || math.IsInf(i.Median+i.Low+i.High, 0) {
		return nil
	}
	return i
}

// sound says whether every figure is a number.
func (r *Reading) sound() bool {
	all := []*Interval{r.Leak, r.TestedAgain, r.Share, r.Edge, r.NozzleDiameter, r.Gap, r.Blanked, r.FallRate, r.Zero}
	if r.Steady != nil {
		all = append(all, &r.Steady.Vacuum, r.Steady.Flow, r.Steady.At50)
	}
	if r.Deepest != nil {
		all = append(all, &r.Deepest.Flow)
	}
	for _, i := range all {
		if i != nil && finite(i) == nil {
			return false
		}
	}
	sum := 0.0
	for _, c := range r.Curve {
		sum += c.Vacuum
	}
	for _, d := range r.Draws {
		sum += d.Flow
	}
	if r.Lost != nil {
		sum += r.Lost.Vacuum
	}
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// Error makes a Refusal an error.
func (r *Refusal) Error() string { return "read trace: " + string(r.Code) }

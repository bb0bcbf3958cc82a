package leak

import (
	"math"
	"sort"

	"seatproof/trace"
)

// Kept is a reading as a keeper of records keeps it: small, in JSON, and still
// fit to be read together with others. It holds all that a [Reading] says, its
// draws thinned to about a hundred and its curve to as many points. Figures are
// SI, as in [Reading].
//
// [Together] and [Reading.ChanceOver] of kept readings agree with those of the
// originals within 1 % (TestKept). Keep the reading of each test: that of several
// together is made again from them.
type Kept struct {
	Leak           *Interval     `json:"leak,omitempty"`
	UpperLimitOnly bool          `json:"upper_limit_only,omitempty"`
	TestedAgain    *Interval     `json:"tested_again,omitempty"`
	Deepest        *AtVacuum     `json:"deepest,omitempty"`
	Share          *Interval     `json:"share,omitempty"`
	Edge           *Interval     `json:"edge,omitempty"`
	Kind           Kind          `json:"kind,omitempty"`
	NozzleDiameter *Interval     `json:"nozzle_diameter,omitempty"`
	Gap            *Interval     `json:"gap,omitempty"`
	Steady         *KeptSteady   `json:"steady,omitempty"`
	Blanked        *Interval     `json:"blanked,omitempty"`
	FallRate       *Interval     `json:"fall_rate,omitempty"`
	Lost           *Lost         `json:"lost,omitempty"`
	Room           float64       `json:"room"`
	RoomTemp       float64       `json:"room_temp"`
	Zero           *Interval     `json:"zero,omitempty"`
	Phases         []trace.Phase `json:"phases,omitempty"`
	Budget         []BudgetLine  `json:"budget,omitempty"`
	Guessed        []Guess       `json:"guessed,omitempty"`
	Warnings       []Warning     `json:"warnings,omitempty"`
	Refusal        *Refusal      `json:"refusal,omitempty"`
	Draws          [][3]float32  `json:"draws,omitempty"` // flow, share, edge
	Curve          [][2]float64  `json:"curve,omitempty"` // time, vacuum
	Source         Source        `json:"source,omitempty"`
	Own            *KeptOwn      `json:"own,omitempty"`
	Seat           *Seat         `json:"seat,omitempty"`
	Scatter        *KeptScatter  `json:"scatter,omitempty"`
}

// KeptSteady is a [SteadyReading].
type KeptSteady struct {
	Vacuum Interval  `json:"vacuum"`
	Flow   *Interval `json:"flow,omitempty"`
	At50   *Interval `json:"at_50,omitempty"`
}

// KeptOwn is a reading's error parted into its own and what all tests on the rig
// share: all in m³/s but for Factor, the sd of a logarithm.
type KeptOwn struct {
	Median float64 `json:"median"`
	Mean   float64 `json:"mean"`
	SD     float64 `json:"sd"`
	Shift  float64 `json:"shift"`
	Factor float64 `json:"factor"`
}

// KeptScatter is a [Scatter] that a shop's repeats taught.
type KeptScatter struct {
	Ports  int       `json:"ports"`
	Tests  int       `json:"tests"`
	Weight []float64 `json:"weight,omitempty"`
}

// How many draws and points of the curve are kept.
const (
	keptDraws = 100
	keptCurve = 100
)

// Keep returns the compact form of the reading of one test, or of a refused one.
func (r *Reading) Keep() Kept {
	k := Kept{
		Leak: r.Leak, UpperLimitOnly: r.UpperLimitOnly, TestedAgain: r.TestedAgain, Deepest: r.Deepest,
		Share: r.Share, Edge: r.Edge, Kind: r.Kind, NozzleDiameter: r.NozzleDiameter, Gap: r.Gap,
		Blanked: r.Blanked, FallRate: r.FallRate, Lost: r.Lost, Room: r.Room, RoomTemp: r.RoomTemp,
		Zero: r.Zero, Phases: r.Phases, Budget: r.Budget, Guessed: r.Guessed, Refusal: r.Refusal,
		Source: r.Source, Draws: thinDraws(r.Draws), Curve: thinCurve(r.Curve), Seat: r.seat,
	}
	for _, w := range r.Warnings { // JSON has no word for them; a figure of 0 is left out of a sentence
		w.Figure, w.Other = orZero(w.Figure), orZero(w.Other)
		k.Warnings = append(k.Warnings, w)
	}
	if s := r.Steady; s != nil {
		k.Steady = &KeptSteady{s.Vacuum, s.Flow, s.At50}
	}
	if o := ownOf(r); o != nil {
		k.Own = &KeptOwn{o.median, o.mean, o.sd, o.shift, o.factor}
	}
	if s := r.scatter; s != nil {
		k.Scatter = &KeptScatter{s.Ports, s.Tests, s.weight}
	}
	return k
}

// Reading returns the reading again.
func (k Kept) Reading() *Reading {
	r := &Reading{
		Leak: k.Leak, UpperLimitOnly: k.UpperLimitOnly, TestedAgain: k.TestedAgain, Deepest: k.Deepest,
		Share: k.Share, Edge: k.Edge, Kind: k.Kind, NozzleDiameter: k.NozzleDiameter, Gap: k.Gap,
		Blanked: k.Blanked, FallRate: k.FallRate, Lost: k.Lost, Room: k.Room, RoomTemp: k.RoomTemp,
		Zero: k.Zero, Phases: k.Phases, Budget: k.Budget, Guessed: k.Guessed, Warnings: k.Warnings,
		Refusal: k.Refusal, Source: k.Source, seat: k.Seat,
	}
	for _, d := range k.Draws {
		r.Draws = append(r.Draws, Draw{float64(d[0]), float64(d[1]), float64(d[2])})
	}
	for _, c := range k.Curve {
		r.Curve = append(r.Curve, CurvePoint{c[0], c[1]})
	}
	if s := k.Steady; s != nil {
		r.Steady = &SteadyReading{Vacuum: s.Vacuum, Flow: s.Flow, At50: s.At50}
	}
	if o := k.Own; o != nil {
		r.own = &ownError{o.Median, o.Mean, o.SD, o.Shift, o.Factor}
	}
	if s := k.Scatter; s != nil {
		r.scatter = &Scatter{Ports: s.Ports, Tests: s.Tests}
		if len(s.Weight) == scatterNodes {
			r.scatter.weight = s.Weight
		}
	}
	return r
}

// thinDraws parts the draws that [Reading.ChanceOver] goes by, sorted by flow,
// into groups of like number and keeps the mean flow of each, with share and edge
// of its middle one.
func thinDraws(draws []Draw) [][3]float32 {
	var sorted []Draw
	for i := 0; i < len(draws); i += everyDraw(draws) {
		sorted = append(sorted, draws[i])
	}
	sort.SliceStable(sorted, func(a, b int) bool { return sorted[a].Flow < sorted[b].Flow })
	n := min(keptDraws, len(sorted))
	var out [][3]float32
	for g := range n {
		from, to := g*len(sorted)/n, (g+1)*len(sorted)/n
		mean := 0.0
		for _, d := range sorted[from:to] {
			mean += d.Flow / float64(to-from)
		}
		mid := sorted[(from+to)/2]
		out = append(out, [3]float32{float32(mean), float32(mid.Share), float32(mid.Edge)})
	}
	return out
}

// thinCurve keeps every so many points, and the last. Points are kept to a
// microsecond and a hundredth of a pascal, far below what a drawing shows.
func thinCurve(curve []CurvePoint) [][2]float64 {
	var out [][2]float64
	n := len(curve)
	m := min(keptCurve, n)
	for i := range m {
		at := i
		if m > 1 {
			at = i * (n - 1) / (m - 1)
		}
		c := curve[at]
		out = append(out, [2]float64{math.Round(c.Time*1e6) / 1e6, math.Round(c.Vacuum*100) / 100})
	}
	return out
}

func orZero(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}

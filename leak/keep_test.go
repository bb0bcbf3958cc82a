package leak

import (
	"encoding/json"
	"math"
	"reflect"
	"sort"
	"testing"

	"seatproof/trace"
)

// through sends a reading through JSON and back.
func through(t *testing.T, r *Reading) (*Reading, []byte) {
	t.Helper()
	b, err := json.Marshal(r.Keep())
	if err != nil {
		t.Fatal(err)
	}
	var k Kept
	if err := json.Unmarshal(b, &k); err != nil {
		t.Fatal(err)
	}
	return k.Reading(), b
}

// within checks that two figures agree to 1 %.
func within(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 0.01*math.Abs(want) {
		t.Errorf("%s: kept %v, original %v", what, got, want)
	}
}

// keptReadings are readings of every sort: of whole traces, and made.
func keptReadings(t *testing.T) map[string]*Reading {
	a, b, small, short := sound(), sound(), sound(), sound()
	b.flow, b.seed = 70, 2
	small.flow, small.seed = 0.5, 3
	short.hold, short.rate = 1.6, 50
	learned := LearnScatter([][]*Reading{{madeReading(20, errorsOf{0.5, 0, 0.02}), madeReading(24, errorsOf{0.5, 0, 0.02})}})
	return map[string]*Reading{
		"50 cm³/min":      Read(a.trace(t), a.rig(), Options{Seat: &Seat{27e-3, 0.3e-3}}),
		"70 cm³/min":      Read(b.trace(t), b.rig(), Options{Scatter: learned}),
		"next to nothing": Read(small.trace(t), small.rig(), Options{}),
		"too short":       Read(short.trace(t), short.rig(), Options{}),
		"common errors":   withAgain(madeReading(30, errorsOf{0.5, 1, 0.15})),
		"not from zero":   withAgain(madeReading(0.3, errorsOf{1, 1, 0.05})),
	}
}

// What is kept says what the original says: every figure, every word, and the
// chance of being over any limit to one part in a hundred of certainty.
func TestKept(t *testing.T) {
	for name, r := range keptReadings(t) {
		t.Run(name, func(t *testing.T) {
			got, b := through(t, r)
			if len(b) > 12000 {
				t.Errorf("%d bytes: not compact", len(b))
			}
			if len(got.Draws) > keptDraws || len(got.Curve) > keptCurve {
				t.Errorf("%d draws, %d points", len(got.Draws), len(got.Curve))
			}
			if len(r.Curve) > 0 && math.Abs(got.Curve[len(got.Curve)-1].Time-r.Curve[len(r.Curve)-1].Time) > 1e-6 {
				t.Error("the curve ends early")
			}
			if r.Refusal == nil {
				for _, at := range []float64{0.2, 0.5, 0.8, 1, 1.2, 1.6, 2.5} {
					limit := at * r.Leak.High
					if g, w := got.ChanceOver(limit), r.ChanceOver(limit); math.Abs(g-w) > 0.005 {
						t.Errorf("chance over %.3g: kept %.4f, original %.4f", limit, g, w)
					}
				}
				flow := make([]float64, len(r.Draws))
				for i, d := range r.Draws {
					flow[i] = d.Flow
				}
				sort.Float64s(flow)
				for _, p := range []float64{0.2, 0.5, 0.8} { // sorted by flow
					if g, w := got.Draws[int(p*float64(len(got.Draws)))].Flow, quantile(flow, p); math.Abs(g-w) > 0.04*r.Leak.High {
						t.Errorf("draw at %v: kept %.4g, original %.4g", p, g, w)
					}
				}
			}
			// all else word for word
			x, y := *got, *r
			for _, z := range []*Reading{&x, &y} {
				z.Draws, z.Curve = nil, nil
				if z.Steady != nil {
					z.Steady = &SteadyReading{Vacuum: z.Steady.Vacuum, Flow: z.Steady.Flow, At50: z.Steady.At50}
				}
				if len(z.Warnings) == 0 {
					z.Warnings = nil
				}
				z.own = ownOf(r)
			}
			if !reflect.DeepEqual(x, y) {
				t.Errorf("kept:\n%+v\noriginal:\n%+v", x, y)
			}
			again, _ := through(t, got)
			if !reflect.DeepEqual(again, got) {
				t.Error("kept twice is not what was kept once")
			}
		})
	}
}

// Readings that were kept, read together, say what the originals say together.
func TestKeptTogether(t *testing.T) {
	all := keptReadings(t)
	for _, names := range [][]string{
		{"50 cm³/min", "70 cm³/min"},
		{"50 cm³/min", "70 cm³/min", "common errors"},
		{"next to nothing", "not from zero"},
		{"50 cm³/min", "too short"},
		{"not from zero", "common errors", "next to nothing"},
	} {
		var one, two []Test
		for _, n := range names {
			k, _ := through(t, all[n])
			one, two = append(one, Test{n, all[n]}), append(two, Test{n, k})
		}
		w, g := Together(one, nil), Together(two, nil)
		within(t, "leak", g.Leak.Median, w.Leak.Median)
		within(t, "upper end", g.Leak.High, w.Leak.High)
		within(t, "tested again, low", g.TestedAgain.Low, w.TestedAgain.Low)
		within(t, "tested again, high", g.TestedAgain.High, w.TestedAgain.High)
		for _, at := range []float64{0.5, 1, 2} {
			limit := at * w.Leak.High
			if a, b := g.ChanceOver(limit), w.ChanceOver(limit); math.Abs(a-b) > 0.005 {
				t.Errorf("%v: chance over %.3g: kept %.4f, original %.4f", names, limit, a, b)
			}
		}
		if len(g.Warnings) != len(w.Warnings) || g.UpperLimitOnly != w.UpperLimitOnly {
			t.Errorf("%v: kept warns %v, original %v", names, g.Warnings, w.Warnings)
		}
	}
}

// A figure that is no number is kept as one that is left out of the sentence.
func TestKeptHasNumbersOnly(t *testing.T) {
	r := &Reading{
		Warnings: []Warning{{Code: LawMisfit, Figure: math.Inf(1), Other: math.NaN()}},
		Refusal:  &Refusal{Code: TooFewSamples}, Phases: []trace.Phase{{Name: trace.Hold, From: 1, To: 2}},
	}
	got, _ := through(t, r)
	if w := got.Warnings[0]; w.Code != LawMisfit || w.Figure != 0 || w.Other != 0 {
		t.Errorf("kept %+v", w)
	}
	if got.Refusal == nil || got.Refusal.Code != TooFewSamples || len(got.Phases) != 1 {
		t.Errorf("kept %+v", got)
	}
}

package leak

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"
)

// madeTest is a reading of q [m³/s] with sd u of the logarithm, half of its
// variance its own and half common.
func madeTest(q, u float64) *Reading {
	r := &Reading{Leak: &Interval{q, q * math.Exp(-1.96*u), q * math.Exp(1.96*u)}}
	const n = 100
	for i := range n {
		r.Draws = append(r.Draws, Draw{Flow: q * math.Exp(u*normalQuantile((float64(i)+0.5)/n))})
	}
	r.Budget = []BudgetLine{{inputNoise, 0.5}, {inputVolume, 0.5}}
	return r
}

// What is expected of one more test is what comes of it: over ports of which the
// levels are even in the logarithm and the scatter is the common one, a test is
// made, one more is expected, then made. The share of cases in which "holds" was
// expected is that in which it came, and the middle width expected that which came.
func TestExpectOneMoreTest(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	n := 600
	if testing.Short() {
		n = 100
	}
	const u, limit = 0.1, 23.0
	own := u * math.Sqrt(0.5)
	var s *Scatter
	said, came := 0.0, 0.0
	var ratios []float64 // of the width expected to the one that came
	for range n {
		level := limit * math.Exp(3*(rng.Float64()-0.7)) // most about where it is in doubt
		sigma := s.quantile(rng.Float64())
		common := math.Exp(own * rng.NormFloat64())
		test := func() *Reading {
			return madeTest(level*common*math.Exp(math.Hypot(sigma, own)*rng.NormFloat64()), u)
		}
		first := test()
		cases := Expect([]*Reading{first}, Change{Test: true})
		if len(cases) != expectedCases {
			t.Fatalf("%d cases", len(cases))
		}
		for i := range cases {
			if cases[i].ChanceOver(limit) <= 0.05 {
				said += 1 / float64(len(cases))
			}
		}
		again, _ := ExpectedAgain(cases)
		both := Together([]Test{{"1", first}, {"2", test()}}, s)
		if both.ChanceOver(limit) <= 0.05 {
			came++
		}
		ratios = append(ratios, math.Log(again.High/again.Low)/math.Log(both.TestedAgain.High/both.TestedAgain.Low))
	}
	m := float64(n)
	if sd := math.Sqrt(came * (1 - came/m)); math.Abs(said-came) > 3*sd {
		t.Errorf("held %.0f times in %d, expected %.0f ± %.0f", came, n, said, sd)
	}
	sort.Float64s(ratios)
	if r := ratios[n/2]; math.Abs(r-1) > 0.1 {
		t.Errorf("in the middle expected %.3f times as wide as it came", r)
	}
	t.Logf("held %.0f of %d, expected %.1f; width %.3f of what came, in the middle", came, n, said, ratios[n/2])
}

// A volume that is measured takes its part off the doubt, and no more; the middle
// stays.
func TestExpectReadAgain(t *testing.T) {
	r := madeTest(20, 0.3)
	at := func(c Change) Interval { i, _ := ExpectedAgain(Expect([]*Reading{r}, c)); return i }
	was, half, none := at(Change{}), at(Change{Inputs: map[string]float64{inputVolume: 0.5}}), at(Change{Inputs: map[string]float64{inputVolume: 0}})
	w := func(i Interval) float64 { return math.Log(i.High / i.Low) }
	if !(w(was) > w(half) && w(half) > w(none)) {
		t.Errorf("widths %.3f, %.3f, %.3f", w(was), w(half), w(none))
	}
	if math.Abs(math.Log(none.Median/was.Median)) > 0.02 {
		t.Errorf("median %.3g became %.3g", was.Median, none.Median)
	}
	if Expect(nil, Change{}) != nil || Expect([]*Reading{{Refusal: &Refusal{}}}, Change{}) != nil {
		t.Error("something is expected of nothing")
	}
}

package leak

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// errorsOf are the sd of a made reading [cm³/min]: its own, common and added,
// common and multiplied (relative).
type errorsOf struct{ own, shift, factor float64 }

// madeReading is a reading of what was seen, q [cm³/min], with errors: draws of
// a normal cut at zero, and their budget.
func madeReading(q float64, e errorsOf) *Reading {
	v := [3]float64{e.own * e.own, e.shift * e.shift, math.Pow(e.factor*math.Max(q, 0), 2)}
	sd := math.Sqrt(v[0] + v[1] + v[2])
	cut := 0.5 * math.Erfc(-q/sd/math.Sqrt2)
	flow := quantilesOf(600, func(p float64) float64 {
		return math.Max(1e-9, q+sd*normalQuantile(1-cut*(1-p))) * cm3min
	})
	r := &Reading{Kind: KindUnresolved}
	for _, f := range flow {
		r.Draws = append(r.Draws, Draw{Flow: f})
	}
	whole := v[0] + v[1] + v[2]
	for i, name := range []string{inputNoise, inputRigLeak, inputVolume} {
		r.Budget = append(r.Budget, BudgetLine{name, v[i] / whole})
	}
	leak := equalTailed(flow)
	if densityAtZero(flow) > 0.15 {
		r.UpperLimitOnly = true
		leak.Low, leak.High = 0, quantile(flow, 0.95)
	}
	r.Leak = &leak
	return r
}

// withAgain adds what the next test will say.
func withAgain(r *Reading) *Reading {
	g := equalTailed(again(r.Draws, nil))
	r.TestedAgain = &g
	return r
}

func named(readings ...*Reading) []Test {
	var tests []Test
	for i, r := range readings {
		tests = append(tests, Test{fmt.Sprintf("test-%d.csv", i+1), r})
	}
	return tests
}

func logWidth(i *Interval) float64 { return math.Log(i.High / i.Low) }

// One test through the joint posterior says what it says alone: tested again by
// the formula of one test, and the leak by its own draws.
func TestOneTestTogether(t *testing.T) {
	for _, e := range []errorsOf{{1, 0, 0.02}, {0.1, 0.5, 0.05}, {4, 0, 0}, {3, 3, 0}} {
		r := withAgain(madeReading(20, e))
		p := poolTests([]ownError{*ownOf(r)}, nil)
		g := again(r.Draws, nil)
		for _, q := range []float64{0.025, 0.16, 0.5, 0.84, 0.975} {
			near(t, fmt.Sprintf("%+v: quantile %v of one more test", e, q), p.common.quantile(p.next, q)/quantile(g, q), 1, 0.06+0.04*e.shift/3)
		}
		if got := Together(named(r), nil); *got.Leak != *r.Leak || *got.TestedAgain != *r.TestedAgain || got.Repeats != nil {
			t.Errorf("%+v: one test together with none is another reading: %+v", e, got)
		}
	}
}

// The grid and the closed form are the same posterior where both can be used.
func TestGridIsTheClosedForm(t *testing.T) {
	var tests []ownError
	for _, q := range []float64{18, 25, 21, 30} {
		tests = append(tests, *ownOf(madeReading(q, errorsOf{1.5, 0, 0.04})))
	}
	a, b := poolPlain(tests, nil), poolOnGrid(tests, nil)
	for k := range a.weight {
		near(t, fmt.Sprintf("weight of node %d", k), b.weight[k], a.weight[k], 0.004)
	}
	for _, q := range []float64{0.025, 0.5, 0.975} {
		near(t, "level", b.common.quantile(b.level, q)/a.common.quantile(a.level, q), 1, 0.015)
		near(t, "one more test", b.common.quantile(b.next, q)/a.common.quantile(a.next, q), 1, 0.015)
	}
	for i := range a.tail {
		near(t, "tail", b.tail[i], a.tail[i], 0.01)
	}
}

// uncut undoes the cut at zero. A normal cut at its own mean has mean
// sigma sqrt(2/pi) and variance sigma² (1 - 2/pi).
func TestUncut(t *testing.T) {
	mu, sigma := uncut(math.Sqrt(2/math.Pi), math.Sqrt(1-2/math.Pi))
	near(t, "mean", mu, 0, 1e-6)
	near(t, "sd", sigma, 1, 1e-6)
	mu, sigma = uncut(7, 1)
	near(t, "far from zero, mean", mu, 7, 1e-6)
	near(t, "far from zero, sd", sigma, 1, 1e-6)
}

// A test more that reads the same never widens the answer.
func TestEqualRepeatNeverWidens(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for k := range 40 {
		q := math.Exp(6 * r.Float64())
		e := errorsOf{q * math.Exp(-5*r.Float64()), q * 0.3 * r.Float64() * r.Float64(), 0.1 * r.Float64()}
		one := withAgain(madeReading(q, e))
		var tests []*Reading
		tests = append(tests, one)
		if k%2 == 1 { // not all equal: the repeat is one at the level of the others
			tests = append(tests, madeReading(q*1.3, e), madeReading(q/1.3, e))
		}
		last := Together(named(tests...), nil)
		for range 4 {
			tests = append(tests, one)
			got := Together(named(tests...), nil)
			if got.UpperLimitOnly || last.UpperLimitOnly {
				if got.TestedAgain.High > last.TestedAgain.High*1.02 && last.UpperLimitOnly {
					t.Errorf("%d: %d tests of %.3g, %+v: tested again less than %.4g, was %.4g", k, len(tests), q, e, got.TestedAgain.High/cm3min, last.TestedAgain.High/cm3min)
				}
			} else if logWidth(got.TestedAgain) > logWidth(last.TestedAgain)*1.01 {
				t.Errorf("%d: %d tests of %.3g, %+v: tested again %v wide, was %v", k, len(tests), q, e, logWidth(got.TestedAgain), logWidth(last.TestedAgain))
			}
			if len(tests) > 2 && !got.UpperLimitOnly && !last.UpperLimitOnly && logWidth(got.Leak) > logWidth(last.Leak)*1.01 {
				t.Errorf("%d: %d tests of %.3g, %+v: these tests %v wide, was %v", k, len(tests), q, e, logWidth(got.Leak), logWidth(last.Leak))
			}
			last = got
		}
	}
}

// The order of the tests does not matter, nor does a warning change a figure.
func TestOrderAndWarnings(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for range 20 {
		var all []*Reading
		for range 2 + r.IntN(5) {
			all = append(all, madeReading(10*math.Exp(0.5*r.NormFloat64()), errorsOf{0.2 + 3*r.Float64()*r.Float64(), 0.3, 0.03}))
		}
		want := Together(named(all...), nil)
		r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		got := Together(named(all...), nil)
		if *got.Leak != *want.Leak || *got.TestedAgain != *want.TestedAgain || got.Between() != want.Between() || got.ChanceOver(cm3min) != want.ChanceOver(cm3min) {
			t.Fatalf("another order, another answer: %+v %+v, was %+v %+v", got.Leak, got.TestedAgain, want.Leak, want.TestedAgain)
		}
		loud := *all[0]
		loud.Warnings = []Warning{{Code: LawMisfit, Figure: 7}, {Code: FallStops}}
		all[0] = &loud
		got = Together(named(all...), nil)
		if *got.Leak != *want.Leak || *got.TestedAgain != *want.TestedAgain || got.Repeats.Between != want.Repeats.Between {
			t.Fatal("a warning changed a figure")
		}
	}
}

// What all tests share is not averaged: with ten tests that read the same and
// whose doubt is the volume's, or the rig leak's, the level keeps that doubt.
func TestCommonErrorIsNotAveraged(t *testing.T) {
	for _, e := range []errorsOf{{0.2, 0, 0.2}, {0.2, 6, 0}, {0.2, 2, 0.1}} {
		one := madeReading(20, e)
		var all []*Reading
		for range 10 {
			all = append(all, one)
		}
		got := Together(named(all...), nil)
		common := 2 * 1.96 * math.Hypot(e.factor, e.shift/20)
		if w := logWidth(got.Leak); w < 0.97*common || w > 1.35*common {
			t.Errorf("%+v: ten tests %.3f wide in the logarithm, the common part alone is %.3f", e, w, common)
		}
	}
	// Three tight ports' readings that share the doubt of a rig leak: bounded no
	// closer than that doubt bounds one.
	tight := madeReading(0, errorsOf{0.3, 1, 0})
	bound := 1.6449 * cm3min * 1.19 // half a normal: 95 % at 1.96 of its sd
	got := Together(named(tight, tight, tight), nil)
	if !got.UpperLimitOnly || got.Leak.High < 0.95*bound {
		t.Errorf("three tight tests that share ± 2 of rig leak: %+v, want less than %.3g or more", got.Leak, bound)
	}
	if got.Leak.High > 1.3*tight.Leak.High {
		t.Errorf("three tight tests: less than %.3g, one of them less than %.3g", got.Leak.High, tight.Leak.High)
	}
	// and where nothing is shared they do bound it closer
	free := madeReading(0, errorsOf{1, 0, 0})
	if got := Together(named(free, free, free), nil); got.Leak.High > 0.9*free.Leak.High {
		t.Errorf("three tight tests, errors their own: less than %.3g, one of them less than %.3g", got.Leak.High, free.Leak.High)
	}
}

// A blunt steady reading beside a hold neither moves nor widens the answer by
// more than its own weight: its common errors are not the hold's.
func TestSteadyBesideHolds(t *testing.T) {
	hold := madeReading(0.2, errorsOf{0.1, 0.05, 0.03})
	hold.Source = FromHold
	steady := madeReading(31, errorsOf{0.6, 40, 0})
	steady.Source = FromSteady
	got := Together(named(steady, hold, steady, steady), nil)
	if got.Leak.High > 4*hold.Leak.High || warned(got, OddRepeat) {
		t.Errorf("a hold of less than %.3g beside blunt steady readings: %+v, %+v", hold.Leak.High, got.Leak, got.Warnings)
	}
	if s := LearnScatter([][]*Reading{{steady, hold}}); s.quantile(0.5) > 0.4 {
		t.Errorf("a steady reading beside a hold taught a scatter of %.2f", s.quantile(0.5))
	}
}

// The middle test speaks for one; an odd one is named and stays in.
func TestOddRepeat(t *testing.T) {
	e := errorsOf{0.2, 0, 0.03}
	got := Together(named(madeReading(10, e), madeReading(11, e), madeReading(9.5, e), madeReading(300, e)), nil)
	if !warned(got, OddRepeat) {
		t.Fatalf("30 times as much as the others is not named: %+v", got.Warnings)
	}
	w := got.Warnings[len(got.Warnings)-1]
	if w.Name != "test-4.csv" || w.Others.Low > 10*cm3min || w.Others.High < 10*cm3min || w.Figure < 290*cm3min {
		t.Errorf("got %+v", w)
	}
	if len(got.Warnings) != 1 || got.Repeats.Tests != 4 || got.Repeats.Middle != 0 {
		t.Errorf("warnings %+v, tests %d, middle %d", got.Warnings, got.Repeats.Tests, got.Repeats.Middle)
	}
	without := Together(named(madeReading(10, e), madeReading(11, e), madeReading(9.5, e)), nil)
	if warned(without, OddRepeat) || logWidth(got.TestedAgain) < logWidth(without.TestedAgain) {
		t.Errorf("the odd one did not widen the answer: %+v, was %+v", got.TestedAgain, without.TestedAgain)
	}
	two := Together(named(madeReading(10, e), madeReading(500, e)), nil)
	if len(two.Warnings) != 1 || two.Warnings[0].Name != "test-1.csv, test-2.csv" {
		t.Errorf("two far apart: %+v", two.Warnings)
	}
	// tests as tests of one port are: named no more often than by design
	r := rand.New(rand.NewPCG(9, 1))
	n, odd := 400, 0
	for range n {
		s := betweenMedian * math.Exp(betweenLogSD*r.NormFloat64())
		var all []*Reading
		for range 3 {
			all = append(all, madeReading(20*math.Exp(s*r.NormFloat64()), e))
		}
		if warned(Together(named(all...), nil), OddRepeat) {
			odd++
		}
	}
	t.Logf("%d of %d sound ports have a test named as odd", odd, n)
	if p := 1 - binomial(odd-1, n, 0.015); odd > 0 && p < 1e-3 {
		t.Errorf("%d of %d sound ports have a test named as odd", odd, n)
	}
}

// binomial returns P(X <= k) of n trials of chance p.
func binomial(k, n int, p float64) float64 {
	sum := 0.0
	for i := 0; i <= k; i++ {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(i + 1))
		c, _ := math.Lgamma(float64(n - i + 1))
		sum += math.Exp(a - b - c + float64(i)*math.Log(p) + float64(n-i)*math.Log(1-p))
	}
	return sum
}

// A refused test is left out and said; if all are refused the port is.
func TestRefusedRepeats(t *testing.T) {
	e := errorsOf{0.2, 0, 0.03}
	no := &Reading{Refusal: &Refusal{Code: NoPull, Figure: 3}}
	a, b := withAgain(madeReading(10, e)), madeReading(12, e)
	got, want := Together(named(a, no, b), nil), Together(named(a, b), nil)
	if *got.Leak != *want.Leak || got.Repeats.Tests != 2 {
		t.Errorf("a refused test changed the figure: %+v, was %+v", got.Leak, want.Leak)
	}
	if w := got.Warnings; len(w) != 1 || w[0].Code != RepeatRefused || w[0].Name != "test-2.csv" || w[0].Refusal.Code != NoPull {
		t.Errorf("got %+v", w)
	}
	if got := Together(named(no, no), nil); got.Refusal == nil || got.Leak != nil || got.Repeats != nil {
		t.Errorf("all refused: %+v", got)
	}
	got = Together(named(no, a), nil)
	if *got.Leak != *a.Leak || *got.TestedAgain != *a.TestedAgain || len(got.Warnings) != 1 {
		t.Errorf("all but one refused: %+v, %+v", got.Leak, got.Warnings)
	}
	falls := &Reading{FallRate: &Interval{3, 2, 4}, Warnings: []Warning{{Code: NoVolume}}}
	got = Together(named(falls, falls), nil)
	if got.Leak != nil || got.Repeats.Tests != 2 || len(got.Warnings) != 1 || !math.IsNaN(got.ChanceOver(1)) {
		t.Errorf("rates of fall only: %+v", got)
	}
}

// What the middle test alone says, and the warnings of some of the tests.
func TestMiddleTest(t *testing.T) {
	e := errorsOf{0.2, 0, 0.03}
	a, b, c := madeReading(14, e), madeReading(10, e), madeReading(12, e)
	a.Warnings = []Warning{{Code: Gaps, Count: 2}, {Code: BareValves}}
	b.Warnings = []Warning{{Code: BareValves}}
	c.Warnings = []Warning{{Code: BareValves}}
	got := Together(named(a, b, c), nil)
	if got.Repeats.Middle != 2 || got.Repeats.One != *c.Leak {
		t.Errorf("the middle one is %d, %+v", got.Repeats.Middle, got.Repeats.One)
	}
	if w := got.Warnings; len(w) != 2 || w[0].Code != BareValves || w[0].Name != "" || w[1].Code != Gaps || w[1].Name != "test-1.csv" {
		t.Errorf("got %+v", w)
	}
}

// One more test narrows the answer by what it says it will: tests drawn from the
// posterior of the first, read together with it.
func TestOneMoreTest(t *testing.T) {
	one := withAgain(madeReading(20, errorsOf{0.4, 0, 0.03}))
	want, known := one.OneMoreTest()
	if !known {
		t.Fatal("not known")
	}
	r := rand.New(rand.NewPCG(11, 1))
	sum, n := 0.0, 400
	was := logWidth(one.TestedAgain)
	for range n {
		s := betweenMedian * math.Exp(betweenLogSD*r.NormFloat64())
		q := 20 * math.Exp(math.Sqrt2*s*r.NormFloat64()+0.02*r.NormFloat64())
		sum += logWidth(Together(named(one, madeReading(q, errorsOf{0.02 * q, 0, 0.03})), nil).TestedAgain) / was
	}
	t.Logf("said %.3f, came to %.3f", want, sum/float64(n))
	near(t, "width after one more test, over that before", want, sum/float64(n), 0.04)
	if _, known := madeReading(0, errorsOf{1, 0, 0}).OneMoreTest(); known {
		t.Error("known of a leak that is not told from zero")
	}
}

// Simulated ports with known truth: tests scatter by a sigma_b that is drawn
// from its prior, are read with errors of their own and with common ones. The
// interval of one more test holds a fourth, that of these tests the port's own
// level, 95 times in 100 (± 2: 600 ports stray by 0.9 by chance). Levels that
// are not told from zero are drawn evenly from 0 up, as their prior has them.
func TestTogetherCoverage(t *testing.T) {
	n := 600
	if testing.Short() {
		n = 60
	}
	for i, c := range []struct {
		name  string
		level float64 // cm³/min; where negative, even from 0 to it
		e     errorsOf
		count int
	}{
		{"fine", 40, errorsOf{0.8, 0, 0.03}, 3},
		{"volume ± 20 %", 40, errorsOf{0.8, 0, 0.1}, 3},
		{"two tests", 40, errorsOf{0.8, 0.4, 0.03}, 2},
		{"near zero", -4, errorsOf{0.5, 0.4, 0.03}, 3},
		{"noise", -6, errorsOf{1, 0, 0.03}, 3},
	} {
		r := rand.New(rand.NewPCG(17, uint64(i)))
		next, level := 0, 0
		for range n {
			s := betweenMedian * math.Exp(betweenLogSD*r.NormFloat64())
			shift, factor := c.e.shift*r.NormFloat64(), math.Exp(c.e.factor*r.NormFloat64())
			truth := c.level
			if truth < 0 {
				truth *= -r.Float64()
			}
			var all []*Reading
			for range c.count {
				q := truth * math.Exp(s*r.NormFloat64())
				all = append(all, madeReading(q*factor+shift+c.e.own*r.NormFloat64(), c.e))
			}
			got := Together(named(all...), nil)
			if holds(got.TestedAgain, cm3min*truth*math.Exp(s*r.NormFloat64())) {
				next++
			}
			if holds(got.Leak, cm3min*truth) {
				level++
			}
		}
		t.Logf("%s: of %d, one more test %.1f %%, the level %.1f %%", c.name, n, 100*float64(next)/float64(n), 100*float64(level)/float64(n))
		for what, in := range map[string]int{"one more test": next, "the level": level} {
			if p := float64(in) / float64(n); n >= 600 && (p < 0.93 || p > 0.97) {
				t.Errorf("%s: %s held %.3f, want 0.95 ± 0.02", c.name, what, p)
			} else if binomial(in, n, 0.93) < 1e-4 {
				t.Errorf("%s: %s held %d of %d", c.name, what, in, n)
			}
		}
	}
}

// BenchmarkTogether puts three tests together: told well from zero, and not.
func BenchmarkTogether(b *testing.B) {
	for _, c := range []struct {
		name string
		q    float64
		e    errorsOf
	}{{"plain", 40, errorsOf{0.8, 0.4, 0.03}}, {"grid", 1, errorsOf{0.5, 0.4, 0.03}}} {
		b.Run(c.name, func(b *testing.B) {
			tests := named(madeReading(c.q, c.e), madeReading(1.2*c.q, c.e), madeReading(0.7*c.q, c.e))
			for i := range tests {
				tests[i].Reading.own = ownOf(tests[i].Reading)
			}
			for b.Loop() {
				Together(tests, nil)
			}
		})
	}
	b.Run("own", func(b *testing.B) {
		r := madeReading(40, errorsOf{0.8, 0.4, 0.03})
		for b.Loop() {
			ownOf(r)
		}
	})
	b.Run("one more test", func(b *testing.B) {
		r := madeReading(40, errorsOf{0.8, 0.4, 0.03})
		for b.Loop() {
			r.OneMoreTest()
		}
	})
}

// The same through whole traces: three tests of a port made by the forward
// model and read, the volume and the rig leak off by their own doubt in all.
func TestTogetherOnTraces(t *testing.T) {
	n := 60
	if testing.Short() {
		n = 6
	}
	r := rand.New(rand.NewPCG(29, 1))
	next, level, narrower := 0, 0, 0
	for k := range n {
		s := betweenMedian * math.Exp(betweenLogSD*r.NormFloat64())
		v := sound()
		stated := v.rig()
		v.volume += 1.6 * r.NormFloat64() // ± 1 and ± 3 cm³
		v.rigLeak += 0.15 * r.NormFloat64()
		truth := math.Exp(1.5 + 4*r.Float64())
		var tests []Test
		for i := range 3 {
			v.flow = truth * math.Exp(s*r.NormFloat64())
			v.seed = uint64(10*k + i)
			rd := Read(v.trace(t), stated, Options{})
			tests = append(tests, Test{fmt.Sprint(i), rd})
		}
		got := mustAnswer(t, Together(tests, nil))
		if holds(got.TestedAgain, cm3min*truth*math.Exp(s*r.NormFloat64())) {
			next++
		}
		if holds(got.Leak, cm3min*truth) {
			level++
		}
		if logWidth(got.TestedAgain) < logWidth(tests[0].Reading.TestedAgain) {
			narrower++
		}
	}
	t.Logf("of %d ports: one more test held %d times, the level %d, %d narrower than one test", n, next, level, narrower)
	for what, in := range map[string]int{"one more test": next, "the level": level} {
		if binomial(in, n, 0.93) < 1e-3 {
			t.Errorf("%s held %d of %d", what, in, n)
		}
	}
}

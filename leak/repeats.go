package leak

import (
	"math"
	"sort"
	"strings"
)

// Test is a reading and what the person calls it.
type Test struct {
	Name    string
	Reading *Reading
}

// Repeats is what several tests of one port add to a [Reading].
type Repeats struct {
	Tests   int      // that speak together
	Middle  int      // which of those given is the middle one, by its leak
	One     Interval // m³/s: the leak by the middle test alone, as "this trace"
	Between Interval // relative scatter between tests, sqrt(exp(sigma_b²) - 1)

	pool  *pool // nil where there is no leak rate
	tests []ownError
	s     *Scatter
}

// oddBelow is the two-sided chance, over the number of tests, under which a test
// is named as unlike the others.
const oddBelow = 0.01

// Together reads any number of tests of one port together: valve lifted, turned
// and dropped, plate put down again between them. Errors that all tests on a rig
// share are kept whole, each test's own are weighed, and the scatter between the
// tests is a variance of its own with the prior s (nil: the common one).
//
// The answer is a reading: Leak is the port's own level as all tests tell it,
// TestedAgain the flow of one more test, ChanceOver that of the same; sizes go by
// Leak. All else (way of flowing, steady reading, budget, phases, curve) is that
// of the middle test, the one whose leak is the median. Repeats says the rest.
//
// A refused test is left out and named in a warning; if all are refused the
// answer is the first one's refusal. A test that lies far off the others is
// named and stays in. Of one test alone the answer is its own reading. The order
// of the tests does not matter. tests is not changed; it must not be empty.
// Source: docs/model.md §4.12.
func Together(tests []Test, s *Scatter) *Reading {
	var with, falls []int
	var lost []Warning
	for i, t := range tests {
		switch r := t.Reading; {
		case r.Refusal != nil:
			lost = append(lost, Warning{Code: RepeatRefused, Name: t.Name, Refusal: r.Refusal})
		case ownOf(r) != nil:
			with = append(with, i)
		default:
			falls = append(falls, i)
		}
	}
	if len(with) == 0 {
		with, falls = falls, nil // a rate of fall only
	}
	for _, i := range falls {
		lost = append(lost, Warning{Code: RepeatRefused, Name: tests[i].Name})
	}
	if len(with) == 0 {
		out := *tests[0].Reading
		return &out
	}
	middle := middleOf(tests, with)
	out := *tests[middle].Reading
	out.Warnings = append(sharedWarnings(tests, with, middle), lost...)
	if len(with) == 1 {
		return &out
	}
	rep := &Repeats{Tests: len(with), Middle: middle, Between: s.CV(), s: s}
	out.Repeats, out.Draws, out.own = rep, nil, nil
	if out.Leak == nil {
		return &out
	}
	rep.One = *out.Leak
	// in the order of their leaks, so that sums do not know the order given
	order := append([]int(nil), with...)
	sort.SliceStable(order, func(a, b int) bool {
		return less(tests[order[a]].Reading, tests[order[b]].Reading)
	})
	readings := make([]*Reading, len(order))
	for k, i := range order {
		readings[k] = tests[i].Reading
	}
	rep.tests = ownsOf(readings)
	rep.pool = poolTests(rep.tests, s)
	rep.Between = Interval{
		relativeOf(nodeQuantile(rep.pool.weight, 0.5)),
		relativeOf(nodeQuantile(rep.pool.weight, 0.025)),
		relativeOf(nodeQuantile(rep.pool.weight, 0.975)),
	}
	out.setTogether(rep.pool)
	out.Warnings = append(out.Warnings, oddWarnings(tests, order, rep)...)
	return &out
}

// setTogether sets what follows from the joint posterior.
func (r *Reading) setTogether(p *pool) {
	one := *r.Leak
	level, next := p.levelInterval(), p.common.interval(p.next)
	r.UpperLimitOnly = p.upper
	if p.upper {
		next.Low, next.High = 0, math.Max(p.common.quantile(p.next, 0.95), level.High)
	}
	r.Leak, r.TestedAgain = &level, &next
	if d := r.NozzleDiameter; d != nil && one.Median > 0 { // its square goes with the leak
		of := func(q float64) float64 { return d.Median * math.Sqrt(q/one.Median) }
		r.NozzleDiameter = &Interval{of(level.Median), of(level.Low), of(level.High)}
	}
	if r.Gap != nil && r.seat != nil {
		of := func(q float64) float64 { return gapFor(q, r.seat, r.Room, r.RoomTemp) }
		r.Gap = &Interval{of(level.Median), of(level.Low), of(level.High)}
	}
}

// less orders readings by leak, else by rate of fall.
func less(a, b *Reading) bool {
	key := func(r *Reading) [3]float64 {
		switch {
		case r.Leak != nil:
			return [3]float64{r.Leak.Median, r.Leak.High, r.Leak.Low}
		case r.FallRate != nil:
			return [3]float64{r.FallRate.Median, r.FallRate.High, r.FallRate.Low}
		}
		return [3]float64{}
	}
	x, y := key(a), key(b)
	for i := range x {
		if x[i] != y[i] {
			return x[i] < y[i]
		}
	}
	return false
}

// middleOf returns the test whose leak is the median; of an even number the
// lower of the two.
func middleOf(tests []Test, with []int) int {
	order := append([]int(nil), with...)
	sort.SliceStable(order, func(a, b int) bool { return less(tests[order[a]].Reading, tests[order[b]].Reading) })
	return order[(len(order)-1)/2]
}

// sharedWarnings gathers the tests' own warnings, one of each code: what is said
// of all in the words of the middle test, what is said of some in those of the
// first, with their names.
func sharedWarnings(tests []Test, with []int, middle int) []Warning {
	var out []Warning
	names := map[WarningCode][]string{}
	for _, i := range append([]int{middle}, with...) {
		for _, w := range tests[i].Reading.Warnings {
			if _, seen := names[w.Code]; !seen {
				out = append(out, w)
				names[w.Code] = nil
			}
		}
	}
	for _, i := range with {
		told := map[WarningCode]bool{}
		for _, w := range tests[i].Reading.Warnings {
			if !told[w.Code] {
				names[w.Code] = append(names[w.Code], tests[i].Name)
			}
			told[w.Code] = true
		}
	}
	for k := range out {
		if n := names[out[k].Code]; len(n) < len(with) {
			out[k].Name = strings.Join(n, ", ")
		}
	}
	return out
}

// oddWarnings names the tests that lie far off what the others let one expect.
// Of two tests neither is the odd one: one warning names both.
func oddWarnings(tests []Test, order []int, rep *Repeats) []Warning {
	var out []Warning
	n := len(order)
	for i, at := range order {
		if rep.pool.tail[i] >= oddBelow/float64(n) {
			continue
		}
		r := tests[at].Reading
		w := Warning{Code: OddRepeat, Name: tests[at].Name, Count: n, Figure: r.Leak.Median}
		if n == 2 {
			other := tests[order[1-i]]
			w.Name, w.Figure, w.Other = tests[order[0]].Name+", "+tests[order[1]].Name, tests[order[0]].Reading.Leak.Median, tests[order[1]].Reading.Leak.Median
			w.Others = *other.Reading.Leak
			return []Warning{w}
		}
		others := append(append([]ownError(nil), rep.tests[:i]...), rep.tests[i+1:]...)
		w.Others = poolTests(others, rep.s).levelInterval()
		out = append(out, w)
	}
	return out
}

func (r *Repeats) chanceOver(limit float64) float64 {
	switch {
	case r.pool == nil:
		return math.NaN()
	case limit <= 0:
		return 1
	}
	return math.Max(0, 1-r.pool.common.below(r.pool.next, limit))
}

// Between returns the relative scatter between tests of the port, sqrt(exp(
// sigma_b²) - 1): what several tests teach, or, of one test, what is known
// beforehand.
func (r *Reading) Between() Interval {
	if r.Repeats != nil {
		return r.Repeats.Between
	}
	return r.scatter.CV()
}

// OneMoreTest returns how wide TestedAgain will be after one more test, against
// what it is now: the expected ratio of widths in the logarithm. False where
// that is not known: no leak rate, or a leak not told well from zero.
func (r *Reading) OneMoreTest() (ratio float64, known bool) {
	switch {
	case r.Refusal != nil || r.Leak == nil || r.UpperLimitOnly:
		return 0, false
	case r.Repeats != nil:
		return narrowing(r.Repeats.tests, r.Repeats.s)
	}
	if o := ownOf(r); o != nil {
		return narrowing([]ownError{*o}, r.scatter)
	}
	return 0, false
}

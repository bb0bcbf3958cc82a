package leak

import (
	"math"
	"sort"

	"seatproof/num"
)

// Change is a step to know a port better, as the estimator sees it.
type Change struct {
	// Inputs says by what the sd of an input of the budget is multiplied; those
	// not named stay as they are.
	Inputs map[string]float64
	// Test: one more test is made, valve lifted, turned and dropped, and it is the
	// one with these inputs. Else the tests there are are read again with them.
	Test bool
}

// Case is what tests of one port may say after a change: one of several equally
// likely cases.
type Case struct {
	Again Interval // m³/s: this port, tested again
	Upper bool     // no more than "less than" can be said

	pool *pool
}

// ChanceOver is [Reading.ChanceOver] in this case.
func (c *Case) ChanceOver(limit float64) float64 {
	if limit <= 0 {
		return 1
	}
	return math.Max(0, 1-c.pool.common.below(c.pool.next, limit))
}

// expectedCases is in how many cases a change is gone through.
const expectedCases = 9

// Expect returns what tests of one port may say after a change, in equally likely
// cases, before it is made. What is read again may lie anywhere within what the
// change takes off its doubt; one more test anywhere where one more test is
// expected to lie, with its own error. Then all are put together as [Together]
// does. It returns nil where a test carries no leak rate, and for no tests. tests
// is not changed. Source: docs/model.md §9.2.
func Expect(tests []*Reading, c Change) []Case {
	if len(tests) == 0 {
		return nil
	}
	was, is := make([]ownError, len(tests)), make([]ownError, len(tests))
	for i, r := range tests {
		o := ownOf(r)
		if o == nil {
			return nil
		}
		was[i], is[i] = *o, changed(r, c.Inputs)
	}
	s := tests[0].scatter
	var next *pool
	if c.Test { // it shares the rig's errors with them: they don't part it from them
		bare := append([]ownError(nil), was...)
		for i := range bare {
			bare[i].shift, bare[i].factor = 0, 0
		}
		next = poolTests(bare, s)
	}
	out := make([]Case, 0, expectedCases)
	for i := range expectedCases {
		p := (float64(i) + 0.5) / expectedCases
		var all []ownError
		if c.Test {
			all = append(append(all, was...), oneMore(is, next, p, math.Mod(0.5+0.618034*float64(i), 1)))
		} else {
			all = readAgain(was, is, normalQuantile(p))
		}
		pool := poolTests(all, s)
		e := Case{Again: pool.common.interval(pool.next), Upper: pool.upper, pool: pool}
		if e.Upper {
			e.Again.Low, e.Again.High = 0, math.Max(pool.common.quantile(pool.next, 0.95), pool.levelInterval().High)
		}
		out = append(out, e)
	}
	return out
}

// ExpectedAgain returns the middle of the cases: the medians of medians and ends;
// upper where most of them say no more than "less than".
func ExpectedAgain(cases []Case) (again Interval, upper bool) {
	n := 0
	var of [3][]float64
	for i := range cases {
		if cases[i].Upper {
			n++
		}
		a := &cases[i].Again
		of[0], of[1], of[2] = append(of[0], a.Median), append(of[1], a.Low), append(of[2], a.High)
	}
	middle := func(x []float64) float64 {
		if len(x) == 0 {
			return 0
		}
		sort.Float64s(x)
		return x[len(x)/2]
	}
	return Interval{middle(of[0]), middle(of[1]), middle(of[2])}, 2*n > len(cases)
}

// changed returns a reading's errors with the sds of its inputs changed, each by
// its share of the variance.
func changed(r *Reading, inputs map[string]float64) ownError {
	o := *ownOf(r)
	if len(inputs) == 0 {
		return o
	}
	var share, left [3]float64 // own, added, multiplied
	for _, b := range r.Budget {
		k := 2
		switch {
		case contains(ownInputs, b.Input):
			k = 0
		case contains(addedInputs, b.Input):
			k = 1
		}
		f, ok := inputs[b.Input]
		if !ok {
			f = 1
		}
		share[k] += b.Share
		left[k] += b.Share * f * f
	}
	by := func(k int) float64 {
		if !(share[k] > 0) {
			return 1
		}
		return math.Sqrt(left[k] / share[k])
	}
	o.sd = math.Max(o.sd*by(0), 1e-4*math.Abs(o.mean))
	if o.factor > 0 {
		o.shift, o.factor = o.shift*by(1), o.factor*by(2)
	} else { // all that is common counts as added there
		o.shift *= math.Sqrt((left[1] + left[2] + 1e-12) / (share[1] + share[2] + 1e-12))
	}
	return o
}

// oneMore is a test that was not made: its flow at the p quantile of what one more
// test passes, read at the e quantile of its own error, which is that of the
// middle one of the tests as the change makes them.
func oneMore(is []ownError, next *pool, p, e float64) ownError {
	usual := append([]ownError(nil), is...)
	sort.SliceStable(usual, func(a, b int) bool { return usual[a].relative() < usual[b].relative() })
	o := usual[(len(usual)-1)/2]
	q := next.common.quantile(next.next, p)
	if o.plain() { // its errors go with the flow
		o.sd *= q / o.median
	}
	o.mean = q + o.sd*normalQuantile(math.Min(0.99, math.Max(0.01, e)))
	if o.median = math.Max(o.mean, 1e-6*q); o.plain() {
		return o
	}
	o.median = o.middle()
	return o
}

// middle returns the median of an error's normal cut at zero: P(X < m | X > 0) = ½.
func (o *ownError) middle() float64 {
	if !(o.sd > 0) {
		return math.Max(o.mean, 0)
	}
	below := num.NormalCDF(-o.mean / o.sd)
	return math.Max(o.mean+o.sd*normalQuantile(math.Min(1-1e-9, below+(1-below)/2)), 1e-9*o.sd)
}

// readAgain returns tests read again: all moved together, by what the change takes
// off their common doubt, z of its sds.
func readAgain(was, is []ownError, z float64) []ownError {
	out := append([]ownError(nil), is...)
	for i := range out {
		o := &out[i]
		f := math.Exp(z * math.Sqrt(math.Max(0, was[i].factor*was[i].factor-o.factor*o.factor)))
		d := z * math.Sqrt(math.Max(0, was[i].shift*was[i].shift-o.shift*o.shift))
		o.mean, o.sd = o.mean*f+d, o.sd*f
		if o.median = o.median*f + d; o.median <= 1e-3*o.sd || !o.plain() {
			o.median = o.middle()
		}
	}
	return out
}

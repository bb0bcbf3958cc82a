package head

import (
	"slices"

	"seatproof/leak"
	"seatproof/limit"
)

// remedy is a step against one input of the budget: by what it multiplies the sd of
// that input, and whether it is one more test. Guesses, no source.
type remedy struct {
	input string
	times float64
	test  bool
}

// remedies stand in the order of what they take a person: a look at a barometer, one
// more test, a longer one, then what needs other things. Equal steps of different
// inputs are one.
var remedies = []remedy{
	{"air pressure", 0.1, false},
	{"temperature", 0.3, false},
	{"", 1, true}, // one more test as the others
	{"samples", 0.36, true},
	{"way of flowing", 0.5, true},
	{"wall heat", 0.5, true},
	{"gauge response", 0.5, true},
	{"gauge zero", 0.25, true},
	{"blanked reading", 0.4, false},
	{"rig leak", 0.2, false},
	{"volume", 0.25, false},
	{"gauge accuracy", 0.4, false},
}

// atLeastShare is the share of the variance from which an input is worth a step.
const atLeastShare = 0.05

// oftenEnough is how often a step must be expected to settle a verdict to be
// called the one that does.
const oftenEnough = 0.5

// settle returns the cheapest step that is expected to settle the verdict of a
// group more often than not, worked out before it is made: of each step in turn,
// what the tests may say after it, in equally likely cases, each judged against
// the limits. Where none does, the one that settles it oftenest, and where none
// ever does, the one that [Shrink] names, with what "this port, tested
// again" comes to after it; nil where that can't be worked out. Source: docs/model.md §9.2.
func (j *Job) settle(g *group) (Step, *Expect) {
	usual := Shrink(g.reading)
	var tests []*leak.Reading
	of, _ := g.seenTo()
	for _, t := range of {
		if t.answers() && t.Reading.Leak != nil {
			tests = append(tests, t.Reading)
		}
	}
	if len(tests) == 0 {
		return usual, nil
	}
	share := 0.0
	if s := ShareOf(g.reading); s != nil {
		share = *s
	}
	limits := j.rulesOf(g.open, g.reading.Room, g.reading.RoomTemp).stepped(share)
	is := keptOf(j.reckoned().kept, limits.keyOf(tests, g.reading, j.Limit.Strict), func() settled {
		s := settled{of: tests}
		s.step, s.expect = j.settleBy(g.reading, tests, limits)
		return s
	})
	return is.step, is.expect
}

// settled is what settles a verdict; it holds the tests it was worked out of, so
// that their addresses stay theirs.
type settled struct {
	step   Step
	expect *Expect
	of     []*leak.Reading
}

// settleBy works it out.
func (j *Job) settleBy(of *leak.Reading, tests []*leak.Reading, limits stepped) (Step, *Expect) {
	usual := Shrink(of)
	var best Step
	var most *Expect
	for _, w := range remedies {
		step := Step{Do: OneMoreTest, Reason: "Lift the valve, turn it and drop it, put the plate down again: what differs from test to test is most of the doubt."}
		inputs := map[string]float64{}
		if w.input != "" {
			if !slices.ContainsFunc(of.Budget, func(b leak.BudgetLine) bool { return b.Input == w.input && b.Share >= atLeastShare }) {
				continue
			}
			step, _ = StepFor(w.input)
			inputs[w.input] = w.times
		}
		cases := leak.Expect(tests, leak.Change{Inputs: inputs, Test: w.test})
		if len(cases) == 0 {
			continue
		}
		again, upper := leak.ExpectedAgain(cases)
		e := &Expect{Again: Estimate{again.Median, again.Low, again.High}, UpperOnly: upper}
		for i := range cases {
			if j.settles(&cases[i], &limits) {
				e.Settles += 1 / float64(len(cases))
			}
		}
		if e.Settles > oftenEnough {
			return step, e
		}
		if e.Settles > 0 && (most == nil || e.Settles > most.Settles+1e-9) || most == nil && step == usual {
			best, most = step, e
		}
	}
	if most == nil {
		return usual, nil
	}
	return best, most
}

// settles says whether a case gives a verdict.
func (j *Job) settles(c *leak.Case, l *stepped) bool {
	one, all, n := 0.0, 0.0, float64(limit.Quantiles)
	if l.exact {
		one, all = c.ChanceOver(l.one[0]), c.ChanceOver(l.all[0])
	} else {
		for i := range l.one {
			one += c.ChanceOver(l.one[i]) / n
			all += c.ChanceOver(l.all[i]) / n
		}
	}
	return limit.Judge(one, j.Limit.Strict) == limit.Holds || !c.Upper && limit.Judge(all, j.Limit.Strict) == limit.Leaks
}

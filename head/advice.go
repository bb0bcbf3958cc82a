package head

import (
	"slices"
	"strconv"

	"seatproof/rig"
)

// Advice is what the next step about a port that leaks stands on.
type Advice struct {
	Kind    AdviceKind `json:"kind"`
	Words   string     `json:"words"`   // of the kind
	Grounds []Ground   `json:"grounds"` // in the order in which they are asked for; those not there yet have no tests
}

// AdviceKind says whether a step only looks, or changes something.
type AdviceKind string

// The kinds.
const (
	AdviceTest AdviceKind = "test"   // costs nothing and can be undone: test again in another way
	AdviceMend AdviceKind = "advice" // an advice to work on the head; the maker's manual comes first
)

// Words returns the kind in words.
func (k AdviceKind) Words() string {
	if k == AdviceMend {
		return "advice, by what the tests below say; the engine maker's manual comes first"
	}
	return "a test, before anything is worked on"
}

// Ground is one thing that was tried before metal is removed, and the tests that
// say so.
type Ground struct {
	Words string   `json:"words"` // "seats clean and dry"
	Tests []string `json:"tests"` // identities; none: not tried since the last work
	Said  string   `json:"said"`  // "test 2, test 3"; "not tried yet"
}

// ground is one of the things to try.
type ground struct {
	code  string
	words [2]string // of one valve, of several
	by    func(t *Tested, e *era) bool
}

const (
	groundClean  = "clean"
	groundPlate  = "plate"
	groundTurned = "turned"
	groundGuide  = "guide"
)

// grounds are they, in their order (docs/model.md §9.1). The first test of an era
// is a plate put down and a valve dropped once, not again.
var grounds = []ground{
	{groundClean, [2]string{"seat clean and dry", "seats clean and dry"}, func(t *Tested, e *era) bool {
		return t.Conditions.Wet == rig.WetNothing && e.state != StateNotSaid && e.state != StateAsFound
	}},
	{groundPlate, [2]string{"plate put down again", "plate put down again"}, func(t *Tested, e *era) bool { return t.Conditions.Placed && t != e.tests[0] }},
	{groundTurned, [2]string{"valve turned and dropped", "valves turned and dropped"}, func(t *Tested, e *era) bool { return t.Conditions.Turned && t != e.tests[0] }},
	{groundGuide, [2]string{"guide closed off", "guides closed off"}, func(t *Tested, e *era) bool { return t.Conditions.Guide == GuideClosed }},
}

// shows returns the tests of the current era that a ground stands on.
func (w *portWork) shows(g ground) (tests []string) {
	e := w.era()
	if e == nil {
		return nil
	}
	for _, t := range e.tests {
		if t.answers() && g.by(t, e) {
			tests = append(tests, t.ID)
		}
	}
	return tests
}

// adviceOf gathers the grounds of a step about a port that leaks.
func (w *portWork) adviceOf() *Advice {
	a := &Advice{Kind: AdviceMend}
	said := func(tests []string) string {
		if len(tests) == 0 {
			return "not tried yet"
		}
		words := make([]string, len(tests))
		for i, id := range tests {
			words[i] = "test " + strconv.Itoa(w.number(id))
		}
		return and(words)
	}
	add := func(words string, tests []string) {
		if len(tests) == 0 {
			a.Kind = AdviceTest
			tests = []string{}
		}
		a.Grounds = append(a.Grounds, Ground{words, tests, said(tests)})
	}
	for _, g := range grounds {
		add(g.words[min(1, len(w.port.Valves)-1)], w.shows(g))
	}
	if len(w.port.Valves) > 1 {
		var tests []string
		for _, g := range w.masked {
			for _, t := range g.tests {
				if t.answers() {
					tests = append(tests, t.ID)
				}
			}
		}
		slices.SortFunc(tests, func(a, b string) int { return w.number(a) - w.number(b) })
		if len(tests) > 0 || w.oneOf {
			add("valves masked in turn", tests)
		}
	}
	if len(w.mask) > 0 {
		a.Kind = AdviceTest
	}
	a.Words = a.Kind.Words()
	return a
}

// number is which test of its port a test is, by time, from 1.
func (w *portWork) number(id string) int {
	n := 0
	for _, e := range w.history.eras {
		for _, t := range e.tests {
			if n++; t.ID == id {
				return n
			}
		}
	}
	return 0
}

// tell sets what a port's card says beside its next step.
func (c *PortCard) tell(w *portWork) {
	if a := w.apart; a != nil {
		c.Apart = a
		if a.Plan != nil && len(w.mask) == 0 && !a.Plan.Again {
			a.Plan.First = c.Next.Do
		}
	}
	if c.Standing == Leaks && c.Doubt == "" && len(w.port.Valves) > 0 {
		c.Advice = w.adviceOf()
	}
}

package head

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Todo is one thing to do, in the order of the list.
type Todo struct {
	Kind   TodoKind `json:"kind"`
	Port   string   `json:"port"`   // "" for what is of the whole head
	Valves []string `json:"valves"` // that the step is about: those to mask
	Head   string   `json:"head"`   // "Cylinder 2 exhaust leaks." or "Cylinder 2 intake:"
	Do     string   `json:"do"`     // "Dry and clean both seats, then test."
	Reason string   `json:"reason"`
	At     int64    `json:"at"` // of the work, where the head line is about it; ms since 1970 UTC
}

// TodoKind says why a thing is to be done.
type TodoKind string

// The kinds, in the order of the list.
const (
	TodoCheck   TodoKind = "check-rig"
	TodoRetest  TodoKind = "retest" // it holds by a figure that is in doubt
	TodoLeaks   TodoKind = "leaks"
	TodoCant    TodoKind = "cant-tell-yet"
	TodoRefused TodoKind = "refused"
	TodoOdd     TodoKind = "odd"
	TodoLapsed  TodoKind = "lapsed"
	TodoTest    TodoKind = "not-tested"
	TodoSignOff TodoKind = "sign-off"
)

// todo lists what to do next: the rig first, then what holds by a figure in doubt
// (nothing else would send anyone back to it), what leaks, worst first, what
// can't be told, what must be tested again, what was not tested; and, when all
// ports hold, what keeps one from the sign-off.
func (j *Job) todo(c *Card, work []portWork, check bool) []Todo {
	list := []Todo{}
	add := func(kind TodoKind, after func(a, b *portWork) int) {
		var of []*portWork
		for i := range work {
			if todoKind(&work[i]) == kind {
				of = append(of, &work[i])
			}
		}
		slices.SortStableFunc(of, after)
		for _, w := range of {
			list = append(list, j.todoOf(kind, w))
		}
	}
	inOrder := func(_, _ *portWork) int { return 0 }
	worst := func(a, b *portWork) int { return cmp.Compare(excess(b.card), excess(a.card)) }
	add(TodoRetest, inOrder)
	add(TodoLeaks, worst)
	add(TodoCant, worst)
	add(TodoRefused, inOrder)
	add(TodoOdd, inOrder)
	add(TodoLapsed, inOrder)
	add(TodoTest, inOrder)
	if len(list) == 0 {
		add(TodoSignOff, inOrder)
	}
	if check && len(list) > 0 {
		list = slices.Insert(list, 0, Todo{
			Kind: TodoCheck, Head: "Check the rig first.", Do: "A blank must hold, a known leak must be called leaking.",
			Reason: "A weeping fitting or a faulty gauge is found before a valve is blamed; the rig was not checked today.",
		})
	}
	return list
}

// excess is the leak over the limit that it goes by.
func excess(c *PortCard) float64 {
	if c.Leak == nil || !(c.AllLimit > 0) {
		return -1
	}
	return c.Leak.Median / c.AllLimit
}

func todoKind(w *portWork) TodoKind {
	switch c := w.card; {
	case c.Standing == Leaks:
		return TodoLeaks
	case c.Standing == CantTellYet:
		return TodoCant
	case c.Standing == Refused:
		return TodoRefused
	case c.Standing == Lapsed:
		return TodoLapsed
	case c.Standing == NotTested:
		return TodoTest
	case c.Retest:
		return TodoRetest
	case c.Odd != nil && len(c.Counted) < 2:
		return TodoOdd
	case !c.SignOff:
		return TodoSignOff
	}
	return ""
}

func (j *Job) todoOf(kind TodoKind, w *portWork) Todo {
	name := capital(w.card.Name)
	t := Todo{Kind: kind, Port: w.port.ID, Valves: []string{}, Head: name + ":", Do: capital(w.card.Next.Do) + ".", Reason: w.card.Next.Reason}
	switch kind {
	case TodoLeaks:
		t.Head = name + " leaks."
	case TodoRetest:
		t.Head = name + " holds, but test it again."
	case TodoOdd:
		t.Head = name + " holds, and leaks more than its sisters."
	case TodoLapsed:
		if o := w.card.Old; o != nil {
			t.At = o.WorkAt
		}
	}
	t.Valves = append(t.Valves, w.mask...)
	return t
}

// nextOf is the one thing to do about a port: what puts its figure in doubt comes
// first. None for one that holds and counts for the sign-off.
func (j *Job) nextOf(w *portWork) Step {
	kind := todoKind(w)
	switch kind {
	case TodoRetest, TodoLeaks, TodoCant:
		if d := w.doubt(); d != nil {
			return d.step
		}
	}
	switch kind {
	case TodoLeaks:
		return j.leakStep(w)
	case TodoCant:
		return j.cantStep(w)
	case TodoRefused:
		return Step{"put the test right and repeat it", "The samples are kept; no verdict is made of them."}
	case TodoOdd:
		return Step{OneMoreTest, fmt.Sprintf("It passes %s times as much as the middle one of %d like ports.", fig(w.card.Leak.Median/w.card.Odd.Usual), w.card.Odd.Sisters)}
	case TodoLapsed:
		return Step{"test again, " + lapsedWords(w), lapsedReason(w)}
	case TodoTest:
		if n := len(w.port.Plugs); n > 0 {
			return Step{"plug the " + and(w.port.Plugs) + ", then test", "What is open beside the valves leaks into the port too."}
		}
		return Step{"test it", ""}
	case TodoSignOff:
		return Step{"test it once more as it will run: clean, dry, own springs, guide as it will run", "For the sign-off the test does not count: " + strings.Join(w.card.Off, ", ") + "."}
	}
	return Step{}
}

func lapsedReason(w *portWork) string {
	if l := w.history.last; l != nil && l.Kind == workRegrouped {
		return "What was tested was another port."
	}
	return "Any work on a valve lapses its verdict."
}

// lapsedWords says what was done to a port since its test.
func lapsedWords(w *portWork) string {
	if w.history.last == nil {
		return "it was worked on since"
	}
	of := "its " + plural(len(w.port.Valves), "seat was", "seats were")
	switch w.history.last.Kind {
	case workRegrouped:
		return "it feeds other valves than it did"
	case WorkCleaned:
		return "it was cleaned"
	case WorkLapped:
		return of + " lapped"
	case WorkCut:
		return of + " cut"
	case WorkSeatNew:
		return "a seat was replaced"
	case WorkValveNew:
		return "a valve was replaced"
	case WorkGuideNew:
		return "a guide was replaced"
	case WorkAssembled:
		return "it was assembled"
	}
	return "it was worked on since"
}

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

// seats names the seats of a port.
func seats(n int) string {
	switch n {
	case 1:
		return "the seat"
	case 2:
		return "both seats"
	}
	return fmt.Sprintf("all %d seats", n)
}

// cantStep is the one thing to do about a port that nobody can tell yet.
func (j *Job) cantStep(w *portWork) Step {
	g := w.speaks
	switch {
	case g == nil:
		return Step{"test it with no valve masked", "It was tested with a valve masked only."}
	case g.like.wetted():
		return dryAndClean(w)
	case !g.answers():
		return Step{"put the test right and repeat it", "The test without a mask carries no answer."}
	case g.reading.Leak == nil:
		return Step{"give the volume of rig and port", "Without it, or a pump that is known, a fall is no leak rate: like ports can be ranked, none judged."}
	}
	if q := g.reading.Leak.Median; len(g.open) > 1 && (q > g.one && q <= g.all || w.apart.differs()) {
		if step, ok := j.maskStep(w, "The leak lies between one valve's limit and the sum of "+plural(len(g.open)-1, "both", "all")+"."); ok {
			return step
		}
	}
	var step Step
	step, w.card.Expect = j.settle(g)
	return step
}

func dryAndClean(w *portWork) Step {
	return Step{"dry and clean " + seats(len(w.port.Valves)) + ", then test", "Dirt or a wet film passes for a leak, and is the cheapest to rule out."}
}

package head

import (
	"cmp"
	"slices"
	"strings"

	"seatproof/leak"
	"seatproof/rig"
)

// Tested is a test with what its trace says; Reading is nil where the trace
// could not be read.
type Tested struct {
	Test
	Reading *leak.Reading
}

// answers says whether a test carries any figure.
func (t *Tested) answers() bool { return t.Reading != nil && t.Reading.Refusal == nil }

// like is what tests of one port must share to be read together.
type like struct {
	held    rig.Held
	wet     rig.Liquid
	guide   Guide
	plugged Answer
	masked  string
}

func likeOf(c *Conditions) like {
	m := slices.Clone(c.Masked)
	slices.Sort(m)
	return like{c.Held, c.Wet, c.Guide, c.Plugged, strings.Join(m, " ")}
}

// wetted says whether something that closes or feigns a leak was in the port.
func (k like) wetted() bool { return k.wet != rig.WetNotSaid && k.wet != rig.WetNothing }

// unlike says in words how the conditions of a test differ from those of the
// tests that count.
func (k like) unlike(lead like) []string {
	var out []string
	if k.masked != lead.masked {
		out = append(out, maskWords(k.masked))
	}
	if k.held != lead.held {
		out = append(out, heldWords[k.held])
	}
	if k.wet != lead.wet {
		out = append(out, wetWords(k.wet))
	}
	if k.guide != lead.guide {
		out = append(out, guideWords[k.guide])
	}
	if k.plugged != lead.plugged {
		out = append(out, pluggedWords[k.plugged])
	}
	return out
}

var (
	heldWords = map[rig.Held]string{
		rig.HeldNotSaid: "not said how the valves were held", rig.HeldNothing: "valves held by the vacuum alone",
		rig.HeldThumb: "valves held by a thumb", rig.HeldLightSpring: "valves held by a light spring", rig.HeldOwnSpring: "valves held by their own springs",
	}
	guideWords   = map[Guide]string{GuideNotSaid: "not said whether the guide was open", GuideOpen: "guide open", GuideClosed: "guide closed off"}
	pluggedWords = map[Answer]string{NotSaid: "not said whether other openings were plugged", Yes: "other openings plugged", No: "other openings not plugged"}
)

func wetWords(l rig.Liquid) string {
	switch l {
	case rig.WetNotSaid:
		return "not said whether the seats were dry"
	case rig.WetNothing:
		return "seats dry"
	}
	return "seats wet with " + strings.ReplaceAll(string(l), "-", " ")
}

func maskWords(masked string) string {
	switch n := len(strings.Fields(masked)); n {
	case 0:
		return "no valve masked"
	case 1:
		return "one valve masked"
	}
	return "valves masked"
}

// era is a stretch of a port's life in which nobody worked on it.
type era struct {
	tests []*Tested // in order of time
	state State     // said with a test, else what the last work made of it; "" not known
	work  *Work     // that ended it; nil: it lasts, or ended as a test's state says
	next  State     // said since, where a test's state ended it
}

// history is what happened to one port.
type history struct {
	eras    []era
	current bool  // the last era lasts: nothing was done since its tests
	last    *Work // the latest work on a valve of the port
}

// historyOf sorts a port's tests into eras. Work on any of its valves, or on all
// of the head, ends one; so does a test that says another state than the test
// before it, for then somebody forgot to log work. A test made at the very time
// of the work counts as made before it.
func historyOf(p *Port, tests []Tested, work []Work) history {
	var mine []*Tested
	for i := range tests {
		if tests[i].PortID == p.ID {
			mine = append(mine, &tests[i])
		}
	}
	slices.SortStableFunc(mine, func(a, b *Tested) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.ID, b.ID))
	})
	var done []*Work
	for i := range work {
		if touches(&work[i], p) {
			done = append(done, &work[i])
		}
	}
	if w := p.regrouped(); w != nil {
		done = append(done, w)
	}
	slices.SortStableFunc(done, func(a, b *Work) int { return cmp.Compare(a.At, b.At) })

	h := history{current: true}
	before := 0 // work done before the test at hand
	for _, t := range mine {
		n := before
		for n < len(done) && done[n].At < t.At {
			n++
		}
		open := len(h.eras) > 0
		switch {
		case open && n > before:
			h.eras[len(h.eras)-1].work = done[n-1]
			open = false
		case open:
			if e := &h.eras[len(h.eras)-1]; t.Conditions.State != "" && e.said() != "" && t.Conditions.State != e.said() {
				e.next = t.Conditions.State
				open = false
			}
		}
		before = n
		if !open {
			e := era{}
			e.state = leftBy(done[:n])
			h.eras = append(h.eras, e)
		}
		e := &h.eras[len(h.eras)-1]
		e.tests = append(e.tests, t)
		if s := t.Conditions.State; s != "" {
			e.state = s
		}
	}
	if len(done) > 0 {
		h.last = done[len(done)-1]
	}
	if before < len(done) && len(h.eras) > 0 {
		h.eras[len(h.eras)-1].work, h.current = h.last, false
	}
	return h
}

// said returns the state that the tests of an era say.
func (e *era) said() State {
	for _, t := range e.tests {
		if t.Conditions.State != "" {
			return t.Conditions.State
		}
	}
	return ""
}

// why says why an era's tests no longer count.
func (e *era) why() string {
	if e.work != nil && e.work.Kind == workRegrouped {
		return "its valves were grouped otherwise since"
	}
	if e.work != nil {
		return "worked on since: " + string(e.work.Kind)
	}
	return "worked on since: said to be " + strings.ReplaceAll(string(e.next), "-", " ") + " now"
}

// madeBy is the state that work leaves a port in.
var madeBy = map[WorkKind]State{
	WorkCleaned: StateCleaned, WorkLapped: StateLapped, WorkCut: StateCut, WorkSeatNew: StateCut, WorkAssembled: StateAssembled,
}

// leftBy is the state that work, oldest first, leaves a port in; another grouping
// of the valves leaves it as it was.
func leftBy(done []*Work) State {
	for _, w := range slices.Backward(done) {
		if w.Kind != workRegrouped {
			return madeBy[w.Kind]
		}
	}
	return ""
}

// touches says whether work was on a valve of the port.
func touches(w *Work, p *Port) bool {
	return len(w.Valves) == 0 || slices.ContainsFunc(w.Valves, func(id string) bool { return slices.Contains(p.Valves, id) })
}

// offSheet says why a test does not count for the sign-off, empty where it does:
// only tests made clean, dry and as the port will run count.
func offSheet(t *Tested, p *Port, e *era) []string {
	var out []string
	c := &t.Conditions
	switch {
	case t.Reading == nil:
		out = append(out, "could not be read")
	case t.Reading.Refusal != nil:
		out = append(out, "refused")
	}
	switch e.state {
	case StateNotSaid:
		out = append(out, "not said whether it was clean")
	case StateAsFound:
		out = append(out, "as found, not cleaned")
	}
	if c.Wet != rig.WetNothing {
		out = append(out, wetWords(c.Wet))
	}
	if c.Held != rig.HeldOwnSpring {
		out = append(out, heldWords[c.Held])
	}
	if c.Guide != GuideOpen {
		out = append(out, guideWords[c.Guide])
	}
	if len(p.Plugs) > 0 && c.Plugged != Yes || c.Plugged == No {
		out = append(out, pluggedWords[c.Plugged])
	}
	return out
}

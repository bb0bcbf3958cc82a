package report

import (
	"strings"

	"seatproof/head"
	"seatproof/leak"
)

// Next is the one thing to do about a port.
type Next struct {
	Step   string // lower case, as it follows a semicolon: "test the port once more"
	Reason string // sentences; "" where the step says it all
	Then   string // what to do if that changes nothing; the same for all ports in a state
}

// ifStillLeaking is the order of things before any metal is removed.
const ifStillLeaking = "If it still leaks: put the plate down again, then turn the valve and drop it, then close the guide off at its top, a test after each. Remove metal only after that."

// Next returns the one thing to do about the outcome: first what a warning
// asks that puts the figure itself in doubt, whatever the verdict. It is empty
// for a port that was not judged, or that holds and has no such warning.
func (o *Outcome) Next() Next {
	switch st := o.State(); st {
	case Holds, Leaks, CantTellYet:
		if o.Step != nil {
			return o.nextBy(*o.Step)
		}
		if code, step := head.Doubt(o.Reading); code != "" {
			n := Next{Step: step.Do, Reason: step.Reason}
			if st == Leaks {
				n.Then = ifStillLeaking
			}
			return n
		}
		if st == Leaks {
			return Next{Step: "dry and clean the seats and test again", Then: ifStillLeaking}
		}
		if st == Holds {
			return Next{}
		}
		return o.nextBy(head.Shrink(o.Reading))
	case Refused:
		return Next{Step: "put the test right and repeat it", Reason: RefusalMessage(Style{}, *o.Reading.Refusal).Do}
	case Unreadable:
		return Next{Step: "look at the file", Reason: o.Why(Style{}).What}
	default:
		return Next{}
	}
}

// nextBy is a step with what it is worth, or what comes after it.
func (o *Outcome) nextBy(step head.Step) Next {
	n := Next{Step: step.Do, Reason: step.Reason}
	if o.State() == Leaks {
		n.Then = ifStillLeaking
	}
	if n.Step == head.OneMoreTest && o.State() == CantTellYet {
		if words := o.oneMore(); words != "" {
			n.Reason += " " + sentence(words) + "."
		}
	}
	return n
}

// words returns step, reason and what then, as sentences. What was said before
// is not said again, and what is said now is kept in said.
func (n Next) words(said map[string]bool) string {
	out := sentence(n.Step) + "."
	if n.Reason != "" && !said[n.Reason] {
		out += " " + n.Reason
	}
	switch {
	case n.Then == "":
	case said[n.Then]:
		if first, _, ok := strings.Cut(n.Then, ":"); ok {
			out += " " + first + ": as above."
		}
	default:
		out += " " + n.Then
	}
	said[n.Reason], said[n.Then] = true, true
	return out
}

// asks returns the warning that the next step comes from; "" for none.
func (o *Outcome) asks() leak.WarningCode {
	code, _ := head.Doubt(o.Reading)
	return code
}

// retest says whether a port holds and yet must be tested again.
func (o *Outcome) retest() bool { return o.State() == Holds && o.asks() != "" }

// noteOf returns the words of a warning, without what to do where the next
// step says it.
func (o *Outcome) noteOf(s Style, w leak.Warning) string {
	m := warnIn(o, s, w)
	if w.Code == o.asks() && o.Next().Step != "" {
		m.Do = ""
	}
	return m.String()
}

// oneMore says how much one more test narrows the interval of the next; empty
// where that is not known.
func (o *Outcome) oneMore() string {
	ratio, known := o.Reading.OneMoreTest()
	if !known {
		return ""
	}
	return "one more test would make tested again about " + Figure(ratio, 1) + " times as wide"
}

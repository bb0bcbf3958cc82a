package report

import "seatproof/head"

// Next is the one thing to do about a port.
type Next struct {
	Step   string // lower case, as it follows a semicolon: "test the port once more"
	Reason string // a sentence; "" where the step says it all
}

// Next returns the one thing to do about the outcome. It is empty for a port
// that holds or was not judged.
func (o *Outcome) Next() Next {
	switch o.State() {
	case Leaks:
		return Next{
			Step:   "dry and clean the seats and test again",
			Reason: "If it still leaks: put the plate down again, then turn the valve and drop it, then close the guide off at its top, a test after each. Remove metal only after that.",
		}
	case CantTellYet:
		n := o.shrink()
		if n.Step == head.OneMoreTest {
			if words := o.oneMore(); words != "" {
				n.Reason += " " + sentence(words) + "."
			}
		}
		return n
	case Refused:
		return Next{Step: "put the test right and repeat it", Reason: RefusalMessage(Style{}, *o.Reading.Refusal).Do}
	case Unreadable:
		return Next{Step: "look at the file", Reason: o.Why(Style{}).What}
	default:
		return Next{}
	}
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

// shrink says what would shrink the interval that keeps the verdict open.
func (o *Outcome) shrink() Next {
	step := head.Shrink(o.Reading)
	return Next{step.Do, step.Reason}
}

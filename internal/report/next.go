package report

import "math"

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
		if n.Step == oneMoreTest {
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

const oneMoreTest = "test the port once more"

// oneMore says how much one more test narrows the interval of the next; empty
// where that is not known.
func (o *Outcome) oneMore() string {
	ratio, known := o.Reading.OneMoreTest()
	if !known {
		return ""
	}
	return "one more test would make tested again about " + Figure(ratio, 1) + " times as wide"
}

// shrink says what would shrink the interval that keeps the verdict open. Where
// most of its variance is the scatter from test to test, one more test is the
// cheapest step; else it is the input with the largest share of this trace's.
func (o *Outcome) shrink() Next {
	again := Next{
		Step:   oneMoreTest,
		Reason: "Lift the valve, turn it and drop it, put the plate down again: what differs from test to test is most of the doubt.",
	}
	r := o.Reading
	if r.Leak == nil || r.TestedAgain == nil || len(r.Budget) == 0 {
		return again
	}
	// Widths in the logarithm stand for standard deviations.
	trace, both := math.Log(r.Leak.High/r.Leak.Low), math.Log(r.TestedAgain.High/r.TestedAgain.Low)
	if trace*trace < 0.5*both*both {
		return again
	}
	if step, ok := steps[r.Budget[0].Input]; ok {
		return step
	}
	return again
}

// steps says, for each input of a budget by the name leak gives it, the
// cheapest way to know it better.
var steps = map[string]Next{
	"samples":         {"hold longer", "Noise and steps of the gauge are most of the doubt: a hold twice as long is nearly three times finer."},
	"volume":          {"measure the volume", "The volume is most of the doubt: measure the rig's part by a syringe step or with water, take the port's from a mould or a drawing, then read this trace again."},
	"gauge accuracy":  {"check the gauge against a second one", "The gauge's accuracy is most of the doubt: a gauge of a better class, or this one checked at a second point, settles it."},
	"gauge zero":      {"record the port open to the room first", "The gauge's zero is most of the doubt: 2 s open to the room before the pull settle it."},
	"rig leak":        {"measure the rig's own leak", "The rig's own leak is most of the doubt: hold the rig on a blank for a minute, put the figure into the rig file and read this trace again."},
	"air pressure":    {"read a barometer", "The air pressure is most of the doubt: give it as it is here, not reduced to sea level."},
	"temperature":     {"let the head come to the room's temperature", "The head's temperature is most of the doubt: give it, or let the head lie until it is the room's."},
	"way of flowing":  {"hold longer", "Whether the leak flows like a nozzle or through a slot is most of the doubt: a longer or deeper hold shows it."},
	"wall heat":       {"hold longer", "How fast the air warms after the pull is most of the doubt: a longer hold leaves that behind."},
	"vapour":          {"dry the port and test again", "Vapour of a liquid in the port may be part of the fall: dry it, then vent and pull five times."},
	"gauge response":  {"hold longer", "How fast the gauge follows is most of the doubt: a longer hold leaves that behind."},
	"pump curve":      {"hold the port", "The pump's curve is most of the doubt: a hold of 15 s or more needs none."},
	"blanked reading": {"take the blanked reading again", "The blanked reading is most of the doubt: pull on a blank three times and put the figure and its scatter into the rig file."},
}

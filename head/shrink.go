package head

import (
	"math"

	"seatproof/leak"
)

// Step is one thing to do, and why.
type Step struct {
	Do     string `json:"do"`     // lower case, as it follows a name or a semicolon: "test the port once more"
	Reason string `json:"reason"` // a sentence; "" where the step says it all
}

// Expect is what a step is expected to come to, worked out before it is made.
type Expect struct {
	Again     Estimate `json:"again"`      // m³/s: this port, tested again
	UpperOnly bool     `json:"upper_only"` // "less than": only the high end means something
	Settles   float64  `json:"settles"`    // how often the step settles the verdict, 0..1
}

// OneMoreTest is the step that one more test is.
const OneMoreTest = "test the port once more"

// Shrink returns the cheapest step against what keeps a reading wide. Where most
// of its variance is the scatter from test to test, that is one more test; else it
// goes by the input with the largest share of this trace's. Widths in the
// logarithm stand for standard deviations.
func Shrink(r *leak.Reading) Step {
	again := Step{
		Do:     OneMoreTest,
		Reason: "Lift the valve, turn it and drop it, put the plate down again: what differs from test to test is most of the doubt.",
	}
	if r.Leak == nil || r.TestedAgain == nil || len(r.Budget) == 0 {
		return again
	}
	trace, both := math.Log(r.Leak.High/r.Leak.Low), math.Log(r.TestedAgain.High/r.TestedAgain.Low)
	if trace*trace < 0.5*both*both {
		return again
	}
	if step, ok := StepFor(r.Budget[0].Input); ok {
		return step
	}
	return again
}

// StepFor returns the cheapest way to know an input of a budget better, by the
// name leak gives it.
func StepFor(input string) (Step, bool) {
	s, ok := steps[input]
	return s, ok
}

// steps says, for each input of a budget by the name leak gives it, the
// cheapest way to know it better.
var steps = map[string]Step{
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

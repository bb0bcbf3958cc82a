package report

import (
	"cmp"
	"fmt"
	"slices"

	"seatproof/head"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
)

// Outcome is what came of one trace, or of several tests of one port together: a
// reading, judged by a limit if there is one, or the error that kept it from
// being read.
type Outcome struct {
	File    string        // as the person named it
	Port    string        // "cylinder 2 intake"; "" when nobody said
	Held    rig.Held      // what held the valves
	Started string        // when the recording says it began
	Reading *leak.Reading // nil when the file could not be read
	Err     error         // why it could not
	Faults  trace.Faults
	Sketch  Sketch // the trace, thinned for drawing
	Limit   *Limit // nil: none given
	Over    *float64
	Verdict limit.Verdict // "" without limit or leak rate
	Room    float64       // Pa, air pressure that drawings of the hold count with
	Volume  float64       // m³, of rig and port; 0: not known
	RigLeak float64       // m³/s at 50 kPa, in the hold beside the port's leak
	Worth   string        // which check of the rig would narrow the interval most; "" where none would, or none is asked about

	// Each holds the tests, in the order given, where several of one port are
	// read together; what is drawn is the middle one.
	Each   []*Outcome
	Middle int

	// Judged is what it comes to against both limits, where the engine is known; nil:
	// Limit alone.
	Judged *head.Judged
	Apart  *Apart     // what tests with valves masked tell apart; nil: there are none
	Step   *head.Step // what the head's card asks for next; nil: what the reading does
}

// Take judges the outcome by both limits of its port.
func (o *Outcome) Take(j head.Judged) {
	o.Judged, o.Limit, o.Over, o.Verdict = &j, LimitOf(j), j.OverOne, j.Verdict
	if j.OverOne == nil { // no leak rate, no verdict
		o.Verdict = ""
	}
	if !(j.OneLimit > 0) {
		o.Limit = nil
	}
}

// Tests returns how many tests speak: those that were refused are left out,
// unless all were.
func (o *Outcome) Tests() int {
	switch {
	case o.Reading != nil && o.Reading.Repeats != nil:
		return o.Reading.Repeats.Tests
	case len(o.Each) > 1 && !o.Answered():
		return len(o.Each)
	}
	return 1
}

// of names the narrower interval.
func (o *Outcome) of() string {
	if o.Tests() > 1 {
		return "these tests"
	}
	return "this trace"
}

// one returns the leak by the middle test alone: the one that the fitted curve
// was fitted with.
func (o *Outcome) one() *leak.Interval {
	if r := o.Reading; r.Leak != nil && r.Repeats != nil {
		return &r.Repeats.One
	}
	return o.Reading.Leak
}

// FirstFile returns the name that a drawing of the outcome goes by.
func (o *Outcome) FirstFile() string {
	if len(o.Each) > 0 {
		return o.Each[0].File
	}
	return o.File
}

// Limit is the largest leak accepted.
type Limit struct {
	Flow        float64 // m³/s of free air at 50 kPa
	Workmanship bool    // from the valve's diameter, not given as a figure
	Diameter    float64 // m, of the valve head; 0 when the limit was given

	Rule limit.Kind // which rule's it is; "" where only Workmanship is said
	By   string     // that rule in words: "cost"
	Set  float64    // what was set of it: m of gap, 0..1 of cranking pressure; 0: the usual
}

// State is what is drawn for a port: a verdict, or why there is none.
type State string

// The states, in the words of the screens.
const (
	Holds       State = "holds"
	Leaks       State = "leaks"
	CantTellYet State = "can't tell yet"
	Refused     State = "refused"
	Unreadable  State = "unreadable"
	NoVerdict   State = "no verdict"
)

// State returns the state of the outcome.
func (o *Outcome) State() State {
	switch {
	case o.Err != nil || o.Reading == nil:
		return Unreadable
	case o.Reading.Refusal != nil:
		return Refused
	case o.Verdict == "":
		return NoVerdict
	default:
		return State(VerdictWords(o.Verdict))
	}
}

// Answered says whether the trace carries an answer: a leak rate, or at least
// a rate of fall.
func (o *Outcome) Answered() bool {
	s := o.State()
	return s != Refused && s != Unreadable
}

// Name returns the port's name, or the file's where no port was named.
func (o *Outcome) Name() string {
	if o.Port != "" {
		return o.Port
	}
	return o.File
}

// Why returns why there is no answer, in words and with what to do; empty for
// an answered trace.
func (o *Outcome) Why(s Style) Message {
	switch o.State() {
	case Unreadable:
		if o.Err == nil {
			return Message{What: "The file was not read."}
		}
		return Message{What: o.Err.Error()}
	case Refused:
		return RefusalMessage(s, *o.Reading.Refusal)
	default:
		return Message{}
	}
}

// WorstFirst returns the answered outcomes, worst first, and those without an
// answer in the order they came. Worst is the largest chance of being over the
// limit, then the largest leak; ports with nothing but a rate of fall come
// after those with a leak rate, fastest first. The slice given is not changed.
func WorstFirst(all []*Outcome) (answered, unanswered []*Outcome) {
	for _, o := range all {
		if o.Answered() {
			answered = append(answered, o)
		} else {
			unanswered = append(unanswered, o)
		}
	}
	slices.SortStableFunc(answered, func(a, b *Outcome) int {
		if a.Over != nil && b.Over != nil {
			if c := cmp.Compare(*b.Over, *a.Over); c != 0 {
				return c
			}
		}
		if c := cmp.Compare(worth(b), worth(a)); c != 0 {
			return c
		}
		return cmp.Compare(fall(b), fall(a))
	})
	return answered, unanswered
}

func worth(o *Outcome) float64 {
	switch {
	case o.Reading.Leak == nil:
		return -1
	case o.Reading.UpperLimitOnly:
		return 0 // "less than" ranks below any figure
	default:
		return o.Reading.Leak.Median
	}
}

func fall(o *Outcome) float64 {
	if o.Reading.FallRate == nil {
		return -1
	}
	return o.Reading.FallRate.Median
}

// VerdictLine returns the one line that carries the answer:
//
//	holds: 9.6 cm³/min (this trace 8.1 to 11; this port, tested again 5.2 to 18), limit 23, chance of being over 0.2 %
//
// Of several tests it says "these tests" and how many. A port that can't be told
// yet, or that holds and must be tested again, ends with the one thing to do.
func (o *Outcome) VerdictLine(s Style) string {
	switch o.State() {
	case Unreadable:
		return "unreadable: " + o.Why(s).String()
	case Refused:
		return "refused: " + o.Why(s).What
	}
	line := o.figures(s)
	if n := o.Tests(); n > 1 {
		line += fmt.Sprintf("; %d tests", n)
	}
	if o.Verdict == "" {
		return line
	}
	line = VerdictWords(o.Verdict) + ": " + line
	if o.Verdict == limit.CantTellYet || o.retest() {
		line += "; " + o.Next().Step
	}
	return line
}

// figures returns the part of the verdict line that holds the figures.
func (o *Outcome) figures(s Style) string {
	r := o.Reading
	if r.Leak == nil {
		if r.FallRate == nil {
			return "no leak rate"
		}
		return "no leak rate, falls " + s.perSecond(*r.FallRate)
	}
	line := o.leakWords(s)
	if o.Limit != nil {
		line += ", limit " + s.flow(o.Limit.Flow)
		if o.Limit.By != "" {
			line += " by " + o.Limit.By
		}
	}
	if o.Over != nil {
		line += ", " + beingOver(*o.Over)
	}
	return line
}

func (o *Outcome) leakWords(s Style) string {
	r := o.Reading
	if r.UpperLimitOnly {
		line := "less than " + s.flow(r.Leak.High) + " cm³/min (" + o.of()
		if r.TestedAgain != nil {
			line += "; this port, tested again less than " + s.flow(r.TestedAgain.High)
		}
		return line + ")"
	}
	line := s.flow(r.Leak.Median) + " cm³/min (" + o.of() + " " + s.between(*r.Leak, cm3min)
	if r.TestedAgain != nil {
		line += "; this port, tested again " + s.between(*r.TestedAgain, cm3min)
	}
	return line + ")"
}

// perSecond writes a rate of fall with its interval.
func (s Style) perSecond(i leak.Interval) string {
	u := s.unit()
	return Figure(i.Median/u.Size, s.digits()) + " " + u.Name + "/s, " + s.between(i, 1/u.Size)
}

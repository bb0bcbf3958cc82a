package session

import "seatproof/internal/source"

// Event is what happens to a session. Times are seconds since it began, by a
// clock that only goes forward.
type Event interface{ when() float64 }

// Begin begins a run with a plan; what was before is over.
type Begin struct {
	At   float64 `json:"at"`
	Plan Plan    `json:"plan"`
}

// Samples came in from a source, in the order of time. The slices are the
// session's from then on.
type Samples struct {
	Source int       // index in the plan
	At     []float64 // s, when each came in
	Clock  []float64 // s, by the source's own clock; nil: it has none
	Value  []float64 // Pa, as the gauge shows it
}

// Notice is what a source tells beside its samples.
type Notice struct {
	At     float64     `json:"at"`
	Source int         `json:"source"`
	Code   source.Code `json:"code"`
	Detail string      `json:"detail,omitempty"`
	Count  int         `json:"count"`
}

// Key is what a person wants.
type Key struct {
	At   float64 `json:"at"`
	Do   Do      `json:"do"`
	Port string  `json:"port,omitempty"` // of GoTo and Refile: its identity
	Test int     `json:"test,omitempty"` // of Refile: its number; 0: the last one
}

// Do names what a person wants.
type Do string

// What a person may want.
const (
	Next    Do = "next"     // go on to the next port, or from a check that is passed
	Again   Do = "again"    // test the same once more
	GoTo    Do = "go-to"    // go to a port
	Skip    Do = "skip"     // leave out the check that is asked for
	Refile  Do = "refile"   // the test belongs to another port
	ShutOff Do = "shut-off" // the pump has been shut off
	Finish  Do = "finish"   // end the run
)

// Looked is what the estimator made of a trace that a [Look] asked for.
type Looked struct {
	At       float64  `json:"at"`
	Test     int      `json:"test"`
	Final    bool     `json:"final"`
	Estimate Estimate `json:"estimate"`
}

// Tick is time that passes; ten a second are enough.
type Tick struct {
	At float64 `json:"at"`
}

// Resumed says that the session was away and goes on from its journal.
type Resumed struct {
	At  float64 `json:"at"`
	Cut int64   `json:"cut,omitempty"` // bytes that were torn off the journal's end
}

func (e Begin) when() float64   { return e.At }
func (e Notice) when() float64  { return e.At }
func (e Key) when() float64     { return e.At }
func (e Looked) when() float64  { return e.At }
func (e Tick) when() float64    { return e.At }
func (e Resumed) when() float64 { return e.At }
func (e Samples) when() float64 {
	if len(e.At) == 0 {
		return 0
	}
	return e.At[len(e.At)-1]
}

// Package source is where samples of vacuum come from: a sensor on a wire, on
// the network, a file played back.
//
// Start with [Source], which every kind of sensor implements, and [Sink], which
// takes what it gives. A person names a source by one line of text, an
// [Address]; package source/all lists the kinds there are. How the pressure
// was written and what it means ends here: a [Sample] is in SI.
package source

import (
	"context"
	"time"

	"seatproof/trace"
)

// Sample is one value of a sensor.
type Sample struct {
	At    time.Time // when it came in, by this machine, with its monotonic reading
	Clock float64   // s, by the source's own clock, counted from any start; NaN: it has none
	Value float64   // Pa: vacuum or absolute, as About.Reads says
}

// About is what is known of a source before its first sample. A figure nobody
// gave is 0.
type About struct {
	Kind       string     // Kind.Name
	Name       string     // what a person calls it
	Reads      trace.Kind // vacuum below the room, or absolute
	Unit       string     // in which it speaks
	Resolution float64    // Pa, its smallest step
	Accuracy   float64    // Pa, 95 %
	Interval   float64    // s between samples, where it is known beforehand
}

// Source gives samples until it is told to stop.
type Source interface {
	// About says what the source is. It may be called before, while and after
	// Run, from any goroutine.
	About() About

	// Run reads until ctx ends, and gives what it reads to sink, from one
	// goroutine and in order. What may mend itself (a cable pulled, a broker
	// away, a line that makes no sense) is told to the sink as a Notice and
	// tried again; only what can't is an error, a *Fault. When Run returns it
	// has closed all it opened and gives nothing more. It runs once.
	Run(ctx context.Context, sink Sink) error
}

// Sink takes what a source gives.
type Sink interface {
	// Take takes samples in the order they came; the slice is the caller's
	// again when Take returns. It may block: a recorder never drops, so what
	// reads the wire must be able to wait.
	Take([]Sample)

	// Tell takes a notice. Notices of the same code come at most once a second,
	// with the number of times it happened since.
	Tell(Notice)
}

// Notice is what a source says beside its samples.
type Notice struct {
	At     time.Time
	Code   Code
	Detail string // what and where, as far as it is known: a line, a device, an error's text
	Count  int    // how many times since the last one of this code; at least 1
}

// Code names what happened to a source; [Code.Words] says it to a person.
type Code string

// What may happen to a source.
const (
	Connected  Code = "connected"    // it is there (again)
	Lost       Code = "lost"         // it went: unplugged, refused, closed
	Garbage    Code = "garbage"      // bytes that make no sense
	HalfLine   Code = "half-line"    // a line without its beginning or end
	OutOfRange Code = "out-of-range" // a figure that no vacuum can be
	Stalled    Code = "stalled"      // it is there and says nothing
	Flooded    Code = "flooded"      // it says more than can be used
	ClockBack  Code = "clock-back"   // its clock went back: it started again
	ClockJump  Code = "clock-jump"   // its clock leapt
	ClockStep  Code = "clock-step"   // this machine's clock was set
	Missing    Code = "missing"      // samples that it sent never came; Count says how many
)

// Codes lists every code, for those who have a word for each.
func Codes() []Code {
	return []Code{Connected, Lost, Garbage, HalfLine, OutOfRange, Stalled, Flooded, ClockBack, ClockJump, ClockStep, Missing}
}

// Fault says what is wrong with a source, where, and what to do.
type Fault struct {
	Source string // its address, without what is secret
	Key    string // the option at fault; "" for the whole
	What   string
	Hint   string
	Err    error // the cause; may be nil
}

// Error returns the parts as one line.
func (f *Fault) Error() string {
	s := f.Source
	if f.Key != "" {
		s += ": " + f.Key
	}
	s += ": " + f.What
	if f.Err != nil {
		s += ": " + f.Err.Error()
	}
	if f.Hint != "" {
		s += "; " + f.Hint
	}
	return s
}

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// Learner is a Source that can find out by itself how what comes is to be read,
// for a person to confirm.
type Learner interface {
	Source

	// Learn reads for a while and returns the ways to read what came, best
	// first, at least one. It is called instead of Run, and like it runs once.
	// The error is a *Fault, or ctx's.
	Learn(ctx context.Context) ([]Learned, error)
}

// Learned is one way to read what a source sends.
type Learned struct {
	Words   string            // "the second figure of each line, taken as kPa of vacuum"
	Options map[string]string // that say so in an Address
	Ask     []string          // options that a person must say, as nothing in the lines does; none: it is sure
	Now     float64           // the last such figure, as it came
	Lines   []string          // of the first only: some lines as they came
}

// Option is one thing a person may say of a source.
type Option struct {
	Key     string
	Words   string // what it is, on a form
	Hint    string // how it is written, with an example
	Default string // what holds when nothing is said
	Choice  []string
	Secret  bool
}

// Kind is one way to reach a sensor.
type Kind struct {
	Name    string // first part of its addresses
	Words   string // "a board or meter on a serial port"
	Page    string // its page under docs/
	Example string // an address
	Options []Option

	// Open checks the address, and opens nothing yet: Run does. The error is a
	// *Fault.
	Open func(Address) (Source, error)

	// Find looks for what could be meant; nil where that can't be done.
	Find func(context.Context) []Found
}

// Found is what looking for a source gave.
type Found struct {
	Address Address
	Words   string // what it seems to be
	Skipped string // why it was not looked at; ""
	Failed  string // why it did not answer; ""
}

// Package trace holds recordings of a closed-port test: samples of vacuum
// against time, read from what loggers write, and what happened when.
//
// Start with [Read], which turns a logger's file into a [Trace], and
// [FindPhases], which finds where the port was vented, pulled down and held.
// Nothing here opens a file: readers take an io.Reader.
package trace

// Kind says what the samples of a trace are.
type Kind string

// What samples may be.
const (
	Vacuum   Kind = "vacuum"   // Pa below the room, positive
	Absolute Kind = "absolute" // Pa absolute
)

// Trace is a recording. Points are samples, or means of N consecutive samples
// where the recording was too long to keep each one.
type Trace struct {
	Kind   Kind
	Time   []float64 // s since the first sample, not falling
	Value  []float64 // Pa: vacuum or absolute, as Kind says
	Count  []int32   // samples each point is the mean of; nil: one each
	Step   float64   // Pa, smallest step between values as written; 0 if none seen
	Header Header
	Faults Faults
	Hand   []HandReading // set instead of samples for a few readings by eye
}

// Len returns the number of points.
func (t *Trace) Len() int { return len(t.Time) }

// Header is what the opening comment lines of a file say.
type Header struct {
	Rig, Port, Held, Started string
	Gauge, State, Seat       string   // "# gauge: ...", how the valve and its seat were (dry, oiled), which seat
	Others                   []string // comment lines that are none of these
}

// Faults counts what was wrong with the rows of a file.
type Faults struct {
	Rows          int     // data rows seen, good or bad
	Dropped       int     // rows that could not be used
	FirstDropped  int     // line number of the first one
	DroppedWhy    string  // what was wrong with it
	Spikes        int     // samples far from both neighbours
	Gaps          int     // pauses of more than five usual intervals
	LongestGap    float64 // s
	Jitter        float64 // robust scatter of the sampling interval over its median
	Repeated      int     // rows with the time stamp of the row before
	ClockBackLine int     // line at which time stepped back and stayed back; 0: none
	ClockBackBy   float64 // s
	Interval      float64 // s, median sampling interval
}

// HandReading is one reading by eye: a needle and a watch.
type HandReading struct {
	Time, TimeSpread float64 // s after shut-off, 95 %
	Value, Spread    float64 // Pa vacuum, 95 % (half a division counts as its rectangular limit)
	Censored         bool    // "still above this when I stopped": an upper limit of the fall
}

// PhaseName is one of the phases of a test.
type PhaseName string

// The phases.
const (
	Vented PhaseName = "vented"
	Pull   PhaseName = "pull"
	Steady PhaseName = "steady"
	Hold   PhaseName = "hold"
)

// Phase is a stretch of a trace.
type Phase struct {
	Name     PhaseName
	From, To float64 // s
	First    int     // index of its first point
	Last     int     // index of its last point, included
}

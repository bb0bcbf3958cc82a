package session

import (
	"math"
	"time"

	"seatproof/internal/source"
)

// Intake turns what a source gives into events. One for each source; not safe
// for use by several goroutines at once.
type Intake struct {
	Source int       // index in the plan
	Began  time.Time // time 0 of the session, with its monotonic reading
}

// Take returns the event of samples, which the caller may keep. Times are whole
// microseconds, so that a journal holds them in little room. A machine whose
// clock is set goes on in the same time, since that is the monotonic one.
func (n *Intake) Take(in []source.Sample) Samples {
	e := Samples{Source: n.Source, At: make([]float64, len(in)), Value: make([]float64, len(in))}
	clock, any := make([]float64, len(in)), false
	for i, s := range in {
		e.At[i] = micros(s.At.Sub(n.Began).Seconds())
		e.Value[i] = s.Value
		clock[i] = micros(s.Clock)
		any = any || !math.IsNaN(s.Clock)
	}
	if any {
		e.Clock = clock
	}
	return e
}

// Tell returns the event of a notice.
func (n *Intake) Tell(in source.Notice) Notice {
	return Notice{At: micros(in.At.Sub(n.Began).Seconds()), Source: n.Source, Code: in.Code, Detail: in.Detail, Count: in.Count}
}

func micros(s float64) float64 { return math.Round(s*1e6) / 1e6 }

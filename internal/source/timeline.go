package source

import (
	"fmt"
	"math"
	"time"
)

// Bounds of a Timeline.
const (
	backBy  = 0.002 // s: less is a clock that stands or a rounded figure, not a step back
	leapBy  = 1.0   // s that the own clock may leave the arrivals within one step, at least
	leapOf  = 0.5   // and as a share of the time between the arrivals
	wrapOff = 1.5   // s that a wrap may be off from the arrivals
	stepBy  = 0.5   // s that this machine's clock must be set by to be told
)

// wraps are the lengths [s] after which clocks begin anew: 16 and 32 bits of
// milliseconds, 32 bits of microseconds, a day, an hour.
var wraps = []float64{65.536, 4294.967296, 4294967.296, 86400, 3600}

// Timeline makes one clock of what a source says of time.
//
// A source's own clock tells the time between samples better than their
// arrival does, which waits for buffers and for a busy machine; so Clock is
// kept where a source has one, made to go on over wraps of its counter and over
// a restart of the board, by the time between the arrivals. Arrivals count by
// this machine's monotonic clock, which a change of its wall clock leaves
// alone.
//
// The zero Timeline is ready. It is for one goroutine.
type Timeline struct {
	started  bool
	last     time.Time // arrival of the sample before
	raw      float64   // its clock as it came; NaN: none
	clock    float64   // its clock as it went out
	shift    float64   // from raw to clock
	interval float64   // s between samples, a running mean of those that are no pause
	batch    time.Time // arrival of the batch before
	broke    bool      // the connection was lost since the sample before
}

// Stamp puts a sample that came in at the given moment onto the timeline. clock
// is what the source's own clock said [s], NaN where it has none. It returns
// the Clock of the [Sample], which never goes back, and notices without At or
// Count, of which there are mostly none.
func (t *Timeline) Stamp(at time.Time, clock float64) (float64, []Notice) {
	var notices []Notice
	if !t.started {
		t.started, t.last, t.raw, t.clock, t.shift = true, at, clock, clock, 0
		return clock, nil
	}
	passed := at.Sub(t.last).Seconds()
	if by := stepped(t.last, at); math.Abs(by) >= stepBy {
		notices = append(notices, Notice{Code: ClockStep, Detail: fmt.Sprintf("this machine's clock was set by %+.1f s", by)})
	}
	t.last = at
	if math.IsNaN(clock) || math.IsInf(clock, 0) {
		if passed > 0 && (t.interval == 0 || passed < 5*t.interval) {
			t.learn(passed)
		}
		return math.NaN(), notices
	}
	if math.IsNaN(t.raw) {
		t.raw, t.clock, t.shift = clock, clock, 0
		return clock, notices
	}
	step := clock - t.raw
	broke := t.broke
	t.broke = false
	switch {
	case broke && math.Abs(step-passed) > math.Max(leapBy, leapOf*passed) && (step >= 0 || wrapOf(step, passed) == 0):
		// it was away and counts from somewhere else: the arrivals bridge it
		if step < 0 {
			notices = append(notices, Notice{Code: ClockBack, Detail: fmt.Sprintf("its clock went back by %.3g s while it was away: it started again", -step)})
		}
		t.shift = t.clock + math.Max(passed, 0) - clock
	case step < -backBy:
		if wrap := wrapOf(step, passed); wrap > 0 {
			t.shift += wrap
			break
		}
		notices = append(notices, Notice{Code: ClockBack, Detail: fmt.Sprintf("its clock went back by %.3g s: it started again", -step)})
		t.shift = t.clock + math.Max(passed, 0) - clock
	case step > passed+math.Max(leapBy, leapOf*passed) && step > 20*t.interval:
		notices = append(notices, Notice{Code: ClockJump, Detail: fmt.Sprintf("its clock went on by %.3g s within %.3g s", step, passed)})
		t.shift = t.clock + math.Max(passed, 0) - clock
	case passed > step+math.Max(5*leapBy, leapOf*passed) && t.interval > 0 && passed > 20*t.interval:
		// It stood while this machine went on: data held back somewhere, or a
		// board that slept. Its own clock is still the better one, but the
		// samples to come may be told apart from those before.
		notices = append(notices, Notice{Code: ClockJump, Detail: fmt.Sprintf("its clock went on by %.3g s while %.3g s went by here", step, passed)})
	}
	t.raw = clock
	if now := clock + t.shift; now > t.clock {
		if d := now - t.clock; t.interval == 0 || d < 5*t.interval {
			t.learn(d)
		}
		t.clock = now
	}
	return t.clock, notices
}

// learn takes an interval into the running mean.
func (t *Timeline) learn(d float64) {
	if t.interval == 0 {
		t.interval = d
		return
	}
	t.interval += (d - t.interval) / 16
}

// Interval returns the usual time between samples [s]; 0: not yet known.
func (t *Timeline) Interval() float64 { return t.interval }

// Batch returns the moments at which each of n samples that arrived together is
// taken to have come in: a buffer on the way held the first ones back, so they
// share out the time since the batch before, as far as their usual interval
// explains it. The last one is at the arrival.
func (t *Timeline) Batch(at time.Time, n int) (first time.Time, step time.Duration) {
	before := t.batch
	t.batch = at
	if n <= 1 || before.IsZero() {
		return at, 0
	}
	gap := at.Sub(before)
	if gap <= 0 {
		return at, 0
	}
	step = gap / time.Duration(n)
	if t.interval > 0 {
		step = min(step, time.Duration(1.5*t.interval*float64(time.Second)))
	}
	// far apart they did not wait for one another
	step = min(step, 100*time.Millisecond)
	return at.Add(-step * time.Duration(n-1)), step
}

// Break says that the connection was lost: what comes next did not wait with
// what came before, and its clock may have begun anew.
func (t *Timeline) Break() { t.batch, t.broke = time.Time{}, true }

// wrapOf returns the length of the counter that explains a step back, 0 if none
// does.
func wrapOf(step, passed float64) float64 {
	for _, w := range wraps {
		if d := step + w; d >= 0 && math.Abs(d-passed) <= wrapOff+leapOf*passed {
			return w
		}
	}
	return 0
}

// stepped returns by how much [s] the wall clock went on more than the
// monotonic one between two moments of this machine.
func stepped(from, to time.Time) float64 {
	// Round(0) takes the monotonic reading off
	return to.Round(0).Sub(from.Round(0)).Seconds() - to.Sub(from).Seconds()
}

// Elapsed returns the time [s] from one sample of a source to a later one: by
// the source's own clock where both have it, else by their arrival.
func Elapsed(from, to Sample) float64 {
	if !math.IsNaN(from.Clock) && !math.IsNaN(to.Clock) {
		return to.Clock - from.Clock
	}
	return to.At.Sub(from.At).Seconds()
}

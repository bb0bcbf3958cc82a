package relay

import (
	"fmt"
	"time"
)

// Output is what a relay switches.
type Output int

// The outputs. Both are off at rest: the pump stands, the shut-off valve is
// closed.
const (
	Pump Output = iota
	Valve
	outputs
)

func (o Output) String() string {
	if o == Valve {
		return "shut-off valve"
	}
	return "pump"
}

// Settings say how long things may take.
type Settings struct {
	Longest   time.Duration // that the pump may run at a time
	Rest      time.Duration // that it then stands before it may run again
	Heartbeat time.Duration // without a sign of life before all goes off
	Settle    time.Duration // that the valve takes to open or close; more than 0
	Retry     time.Duration // before an order is given again
	Repeats   int           // of an off that nothing confirms
	NoValve   bool          // the rig has no valve that the program switches
}

// Order is something to switch.
type Order struct {
	Output Output
	On     bool
}

func (o Order) String() string {
	if o.On {
		return o.Output.String() + " on"
	}
	return o.Output.String() + " off"
}

// Result is what became of an order.
type Result int

// What may become of an order.
const (
	Failed    Result = iota // nobody knows whether it was carried out
	Sent                    // it went out; nothing says that it was carried out
	Confirmed               // what switches says that it did
)

// State is where the relay stands.
type State string

// The states.
const (
	Unknown  State = "unknown"  // off is ordered and not certain yet: at the start, or when an order failed
	Off      State = "off"      // all is off
	Pulling  State = "pulling"  // the pump runs or is about to, the valve is open
	Stopping State = "stopping" // on the way to off
)

// Reason says why the interlock refused or stopped.
type Reason string

// The reasons.
const (
	NotOff     Reason = "it is not certain that all is off"
	NoSource   Reason = "the sensor gives nothing, so that nobody sees what the pump does"
	NoHeart    Reason = "nothing says that somebody is still there"
	Resting    Reason = "the pump is resting"
	TooLong    Reason = "the pump ran as long as it may"
	SwitchFail Reason = "an order to switch on failed"
	Asked      Reason = "asked to"
	Ended      Reason = "the program ends"
)

// Refusal says why a pull was not begun.
type Refusal struct {
	Reason Reason
	Wait   time.Duration // for Resting: until it may run
}

func (r *Refusal) Error() string {
	if r.Wait > 0 {
		return fmt.Sprintf("the pump is not switched on: %s for another %.0f s", r.Reason, r.Wait.Seconds())
	}
	return "the pump is not switched on: " + string(r.Reason)
}

// line is one output as the interlock knows it.
type line struct {
	on    bool      // ordered last
	sure  bool      // nothing is left to do for it
	due   time.Time // when the order is given (again); zero: it has been, and its result is awaited
	later *bool     // what is ordered at due in place of on; nil: on
	sent  int       // times an off went out unconfirmed
}

// Interlock decides what is switched and when. It knows no clock and switches
// nothing: each method takes the time, and what is to be switched comes from
// [Interlock.Due], whose orders are to be carried out in turn and answered by
// [Interlock.Done].
//
//	start or failure ─▶ Unknown ─▶ Off ─▶ Pulling ─▶ Stopping ─▶ Off
//
// Whatever is amiss leads to off: off is ordered until it is certain, on is
// ordered once.
type Interlock struct {
	s       Settings
	lines   [outputs]line
	pulling bool
	began   time.Time // the pull
	stopped time.Time // the pump, last
	ran     bool
	source  bool      // the sensor gives samples
	beat    time.Time // last sign of life; zero none
	why     Reason    // of the last stop
	ending  bool
}

// NewInterlock returns an interlock that knows nothing of how things stand, and
// so begins by switching all off.
func NewInterlock(s Settings, now time.Time) *Interlock {
	i := &Interlock{s: s, why: NotOff}
	i.off(now, now)
	return i
}

// off orders all off, the pump at a moment of its own.
func (i *Interlock) off(now, pump time.Time) {
	i.pulling = false
	no := false
	for o := range i.lines {
		l := &i.lines[o]
		if Output(o) == Valve && i.s.NoValve {
			*l = line{sure: true}
			continue
		}
		if Output(o) == Pump && pump.After(now) {
			l.due, l.later, l.sure = pump, &no, false
			continue
		}
		*l = line{due: now}
	}
}

// stop is off at once, for a reason.
func (i *Interlock) stop(now time.Time, why Reason) {
	if i.pulling || i.State() != Off {
		i.why = why
	}
	if i.lines[Pump].on {
		i.stopped, i.ran = now, true
	}
	if i.State() != Off || i.pulling {
		i.off(now, now)
	}
}

// State returns where it stands.
func (i *Interlock) State() State {
	if i.pulling {
		return Pulling
	}
	for o := range i.lines {
		if !i.lines[o].sure {
			if i.why == NotOff || i.why == SwitchFail || i.lines[o].sent > 0 {
				return Unknown
			}
			return Stopping
		}
	}
	return Off
}

// Why returns why it stopped last.
func (i *Interlock) Why() Reason { return i.why }

// Pull begins a pull: valve open, then pump on. The error is a *[Refusal].
func (i *Interlock) Pull(now time.Time) error {
	i.Tick(now)
	switch {
	case i.ending:
		return &Refusal{Reason: Ended}
	case i.pulling:
		return nil
	case i.State() != Off:
		return &Refusal{Reason: NotOff}
	case !i.source:
		return &Refusal{Reason: NoSource}
	case !i.alive(now):
		return &Refusal{Reason: NoHeart}
	case i.ran && now.Before(i.stopped.Add(i.s.Rest)):
		return &Refusal{Reason: Resting, Wait: i.stopped.Add(i.s.Rest).Sub(now)}
	}
	i.pulling, i.began = true, now
	yes := true
	pump := now
	if !i.s.NoValve {
		i.lines[Valve] = line{on: true, due: now}
		pump = now.Add(i.s.Settle)
	}
	// the pump counts as off until its turn comes
	i.lines[Pump] = line{due: pump, later: &yes}
	return nil
}

// Hold ends a pull so that the vacuum stays: valve closed, then pump off.
func (i *Interlock) Hold(now time.Time) {
	if !i.pulling {
		return
	}
	i.why = Asked
	pump := now
	if !i.s.NoValve && i.lines[Pump].on {
		pump = now.Add(i.s.Settle)
	}
	i.stopped, i.ran = pump, i.ran || i.lines[Pump].on
	i.off(now, pump)
}

// Stop switches all off at once.
func (i *Interlock) Stop(now time.Time, why Reason) {
	i.ending = i.ending || why == Ended
	i.stop(now, why)
}

// Beat is a sign of life from whoever watches.
func (i *Interlock) Beat(now time.Time) { i.beat = now }

// Source says whether the sensor gives samples.
func (i *Interlock) Source(now time.Time, there bool) {
	i.source = there
	if !there && i.pulling {
		i.stop(now, NoSource)
	}
}

func (i *Interlock) alive(now time.Time) bool {
	return !i.beat.IsZero() && now.Sub(i.beat) < i.s.Heartbeat
}

// Tick looks at the time.
func (i *Interlock) Tick(now time.Time) {
	switch {
	case !i.pulling:
	case now.Sub(i.began) >= i.s.Longest:
		i.stop(now, TooLong)
	case !i.alive(now):
		i.stop(now, NoHeart)
	}
}

// Due returns the next order that is to be carried out now; false: none. The
// pump comes before the valve: where both go off at once it matters more. On the
// way to on it has its turn later.
func (i *Interlock) Due(now time.Time) (Order, bool) {
	i.Tick(now)
	for o := range i.lines {
		l := &i.lines[o]
		if l.sure || l.due.IsZero() || now.Before(l.due) {
			continue
		}
		if l.later != nil {
			l.on, l.later = *l.later, nil
		}
		l.due = time.Time{}
		return Order{Output(o), l.on}, true
	}
	return Order{}, false
}

// Done says what became of an order.
func (i *Interlock) Done(now time.Time, o Order, r Result) {
	l := &i.lines[o.Output]
	if l.on != o.On || l.later != nil || !l.due.IsZero() {
		return // another order has taken its place
	}
	switch {
	case o.On && r == Failed:
		i.stop(now, SwitchFail)
	case o.On:
		l.sure = true
	case r == Confirmed:
		l.sure = true
	default:
		if r == Sent {
			if l.sent++; l.sent > i.s.Repeats {
				l.sure = true // as far as can be known
				return
			}
		}
		l.due = now.Add(i.s.Retry)
	}
}

// Next returns when the interlock wants to be looked at again; zero: only when
// something happens.
func (i *Interlock) Next() time.Time {
	var next time.Time
	sooner := func(t time.Time) {
		if !t.IsZero() && (next.IsZero() || t.Before(next)) {
			next = t
		}
	}
	for o := range i.lines {
		if !i.lines[o].sure {
			sooner(i.lines[o].due)
		}
	}
	if i.pulling {
		sooner(i.began.Add(i.s.Longest))
		sooner(i.beat.Add(i.s.Heartbeat))
	}
	return next
}

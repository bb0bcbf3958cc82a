// Package relay switches a pump and a shut-off valve: the one output among the
// sources.
//
// Start with [Open] and [Relay]. A [Relay] runs an [Interlock], which decides,
// over a [Driver], which switches: a serial line, Modbus coils, MQTT topics or
// HTTP calls. Whatever is amiss switches all off: a pump that ran its time, a
// sensor that falls silent, a watcher that gives no sign of life, an order that
// fails, the end of the program.
//
// None of this is a safety device. A program may hang and a relay may weld: the
// pump needs its own fuse and a switch within reach, and the rig must be safe
// when it runs on.
package relay

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"seatproof/internal/source"
)

// Driver switches.
type Driver interface {
	// Set switches an output and says what became of it; an error says why it
	// Failed. It returns once ctx ends. It is called from one goroutine.
	Set(ctx context.Context, o Order) (Result, error)
	// Close lets go of the transport and switches nothing.
	Close() error
}

// Limits on how long switching may take.
const (
	orderTime = 2 * time.Second  // one order
	endTime   = 10 * time.Second // until off is certain when the program ends
)

// Relay drives an interlock in one goroutine. Its methods may be called from
// any.
type Relay struct {
	driver Driver
	s      Settings
	log    *slog.Logger
	asks   chan ask
	ended  chan struct{}
	mu     sync.Mutex
	status Status
}

// Status is where a relay stands.
type Status struct {
	State   State
	Why     Reason // of the last stop
	Trouble string // the last order that failed, since one that did not
}

type ask struct {
	do    func(*Interlock, time.Time) error
	reply chan error
}

// ErrNotRunning says that the relay does not run (yet, or any more).
var ErrNotRunning = errors.New("the relay does not run")

// New returns a relay. Nothing is switched before Run.
func New(d Driver, s Settings, log *slog.Logger) *Relay {
	return &Relay{driver: d, s: s, log: log, asks: make(chan ask), ended: make(chan struct{}), status: Status{State: Unknown, Why: NotOff}}
}

// Run switches all off, then does what it is asked, until ctx ends; then it
// switches all off and closes the driver. The error says that off is not
// certain: a person must look. It runs once.
func (r *Relay) Run(ctx context.Context) error {
	i := NewInterlock(r.s, time.Now())
	defer close(r.ended)
	defer func() {
		if p := recover(); p != nil { // the pump must not outlive a slip of ours
			_ = r.end(i) // what comes up is the panic
			panic(p)
		}
	}()
	timer := time.NewTimer(0)
	defer timer.Stop()
	for ctx.Err() == nil {
		r.carryOut(ctx, i)
		wait := time.Hour
		if next := i.Next(); !next.IsZero() {
			wait = time.Until(next)
		}
		timer.Reset(max(wait, 0))
		select {
		case <-ctx.Done():
		case <-timer.C:
		case a := <-r.asks:
			a.reply <- a.do(i, time.Now())
		}
	}
	return errors.Join(r.end(i), r.driver.Close())
}

// carryOut gives the orders that are due. Between them others may ask.
func (r *Relay) carryOut(ctx context.Context, i *Interlock) {
	for ctx.Err() == nil {
		o, ok := i.Due(time.Now())
		r.report(i)
		if !ok {
			return
		}
		r.order(ctx, i, o)
		select {
		case a := <-r.asks:
			a.reply <- a.do(i, time.Now())
		default:
		}
	}
}

func (r *Relay) order(ctx context.Context, i *Interlock, o Order) {
	within, cancel := context.WithTimeout(ctx, orderTime)
	defer cancel()
	result, err := r.driver.Set(within, o)
	trouble := ""
	if err != nil {
		result, trouble = Failed, fmt.Sprintf("%s: %v", o, err)
		r.log.Warn("relay order failed", "order", o.String(), "error", err)
	}
	r.mu.Lock()
	r.status.Trouble = trouble
	r.mu.Unlock()
	i.Done(time.Now(), o, result)
	r.report(i)
}

// end switches all off, whatever became of what asked for it.
func (r *Relay) end(i *Interlock) error {
	ctx, cancel := context.WithTimeout(context.Background(), endTime)
	defer cancel()
	i.Stop(time.Now(), Ended)
	for i.State() != Off && ctx.Err() == nil {
		if o, ok := i.Due(time.Now()); ok {
			r.order(ctx, i, o)
			continue
		}
		t := time.NewTimer(time.Until(i.Next()))
		select {
		case <-ctx.Done():
		case <-t.C:
		}
		t.Stop()
	}
	r.report(i)
	if i.State() != Off {
		return fmt.Errorf("relay: it is not certain that pump and valve are off (%s): look, and pull the pump's plug", r.Status().Trouble)
	}
	return nil
}

func (r *Relay) report(i *Interlock) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.status.State, r.status.Why = i.State(), i.Why()
}

// Status returns where it stands.
func (r *Relay) Status() Status {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.status
}

func (r *Relay) ask(ctx context.Context, do func(*Interlock, time.Time) error) error {
	a := ask{do: do, reply: make(chan error, 1)}
	select {
	case r.asks <- a:
		return <-a.reply
	case <-ctx.Done():
		return ctx.Err()
	case <-r.ended:
		return ErrNotRunning
	}
}

// Pull begins a pull. The error is a *[Refusal] where the interlock refuses.
func (r *Relay) Pull(ctx context.Context) error {
	return r.ask(ctx, func(i *Interlock, now time.Time) error { return i.Pull(now) })
}

// Hold closes the valve and stops the pump.
func (r *Relay) Hold(ctx context.Context) error {
	return r.ask(ctx, func(i *Interlock, now time.Time) error { i.Hold(now); return nil })
}

// Stop switches all off at once.
func (r *Relay) Stop(ctx context.Context) error {
	return r.ask(ctx, func(i *Interlock, now time.Time) error { i.Stop(now, Asked); return nil })
}

// Beat is a sign of life from whoever watches; without one for the heartbeat's
// time all goes off.
func (r *Relay) Beat(ctx context.Context) error {
	return r.ask(ctx, func(i *Interlock, now time.Time) error { i.Beat(now); return nil })
}

// Sink returns a sink to be given, beside others, to the source that watches
// the vacuum: its samples let the pump run, and its going away stops it. The
// source wants [source.Watch], else nobody tells that it fell silent.
func (r *Relay) Sink(ctx context.Context) source.Sink { return &watcher{r: r, ctx: ctx} }

// watcher is for one goroutine, as sinks are.
type watcher struct {
	r     *Relay
	ctx   context.Context
	there bool
}

func (w *watcher) Take(samples []source.Sample) {
	if len(samples) > 0 && !w.there {
		w.set(true)
	}
}

func (w *watcher) Tell(n source.Notice) {
	switch n.Code {
	case source.Lost, source.Stalled:
		w.set(false)
	}
}

func (w *watcher) set(there bool) {
	err := w.r.ask(w.ctx, func(i *Interlock, now time.Time) error { i.Source(now, there); return nil })
	// a relay that has ended is off
	w.there = there && err == nil
}

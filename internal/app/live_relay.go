package app

import (
	"context"
	"errors"
	"time"

	"seatproof/internal/session"
	"seatproof/internal/source"
	"seatproof/internal/source/relay"
	"seatproof/internal/web"
)

// liveRelay runs pump and shut-off valve of a run: a pull when a person asks for
// it, the hold when the vacuum is steady. Its interlock switches off by itself
// when the gauge falls silent, when nobody watches the run, and when it ends.
type liveRelay struct {
	*relay.Relay
	address string
	pulls   bool // a pull was asked for, and no hold or stop since; the loop's
}

// openRelay checks a relay's address; nothing is switched before the run begins.
func (r *liveRun) openRelay(address string) error {
	if address == "" {
		return nil
	}
	fail := func(err error) error {
		f := sourceFault(0, err)
		f.Field = "relay"
		return &web.Fault{What: f.What, Fields: []web.FieldFault{f}}
	}
	a, err := source.ParseAddress(address)
	if err != nil {
		return fail(err)
	}
	d, s, err := relay.Open(a)
	if err != nil {
		return fail(err)
	}
	r.relay = &liveRelay{Relay: relay.New(d, s, r.live.log), address: a.Bare()}
	return nil
}

// runRelay switches all off, then does as asked, and all off at the end.
func (r *liveRun) runRelay() {
	if err := r.relay.Run(r.ctx); err != nil {
		what := r.live.trouble("the relay at "+r.relay.address+" may not be off: pull the pump's plug", err)
		r.live.log.Error("a relay may not be off", "relay", r.relay.address, "error", err.Error())
		r.post(liveInput{do: func() { r.trouble(0, what) }})
	}
}

// watched is a sign of life to the relay, as long as somebody has the run before
// them. It belongs to the loop, which ticks ten times a second.
func (r *liveRun) watched() {
	if r.relay == nil {
		return
	}
	r.live.mu.Lock()
	n := len(r.live.readers)
	r.live.mu.Unlock()
	if n > 0 {
		ctx, cancel := context.WithTimeout(r.ctx, relayPatience)
		_ = r.relay.Beat(ctx) // one that does not run needs none
		cancel()
	}
	s := r.relay.Status()
	is := &web.LiveRelay{State: string(s.State), Why: string(s.Why), Trouble: s.Trouble}
	if r.is.Relay == nil || *r.is.Relay != *is {
		r.is.Relay = is
		r.publish()
	}
}

// relayPatience is how long the loop waits for a relay's goroutine.
const relayPatience = 50 * time.Millisecond

// said lets the relay do what the session says: the pump is shut off when the
// vacuum is steady.
func (l *liveRelay) said(r *liveRun, a session.Action) {
	if s, ok := a.(session.Say); !ok || s.Code != session.SayShutOffNow || !l.pulls {
		return
	}
	l.pulls = false
	go func() { // the loop must not wait for it
		if err := l.Hold(r.ctx); err == nil {
			r.post(liveInput{event: session.Key{Do: session.ShutOff}})
		}
	}()
}

// Switch implements [web.Live].
func (l *live) Switch(ctx context.Context, do string) error {
	r := l.current.Load()
	if r == nil || l.stopped.Load() {
		return web.ErrNoRun
	}
	if r.relay == nil {
		return &web.Fault{Status: 409, What: "this run has no relay", Do: "give its address when the run is begun"}
	}
	pulls := do == "pull"
	var err error
	switch do {
	case "pull":
		err = r.relay.Pull(ctx)
	case "hold":
		if err = r.relay.Hold(ctx); err == nil {
			r.post(liveInput{event: session.Key{Do: session.ShutOff}})
		}
	case "stop":
		err = r.relay.Stop(ctx)
	default:
		return &web.Fault{Status: 400, What: "a relay can't be asked for that: " + do, Do: "ask for pull, hold or stop"}
	}
	var refused *relay.Refusal
	if errors.As(err, &refused) {
		return &web.Fault{Status: 409, What: "the pump stays off: " + refused.Error(), Do: "see what the gauge and the relay say"}
	}
	if err == nil {
		r.post(liveInput{do: func() { r.relay.pulls = pulls }})
	}
	return err
}

package relay

import (
	"errors"
	"math/rand/v2"
	"testing"
	"time"
)

var settings = Settings{Longest: 20 * time.Second, Rest: 5 * time.Second, Heartbeat: 3 * time.Second, Settle: 200 * time.Millisecond, Retry: 500 * time.Millisecond, Repeats: 2}

// bench carries orders out on make-believe outputs.
type bench struct {
	t     *testing.T
	i     *Interlock
	now   time.Time
	is    [outputs]bool // as things stand
	said  []Order
	reply func(Order) Result
}

func newBench(t *testing.T, s Settings) *bench {
	b := &bench{t: t, now: time.Unix(1000, 0), is: [outputs]bool{true, true}, reply: func(Order) Result { return Confirmed }}
	b.i = NewInterlock(s, b.now)
	return b
}

// run carries out what is due, for d, with signs of life if beat.
func (b *bench) run(d time.Duration, beat bool) {
	b.t.Helper()
	end := b.now.Add(d)
	for {
		if beat {
			b.i.Beat(b.now)
		}
		for o, ok := b.i.Due(b.now); ok; o, ok = b.i.Due(b.now) {
			b.said = append(b.said, o)
			r := b.reply(o)
			if r != Failed {
				b.is[o.Output] = o.On
			}
			b.i.Done(b.now, o, r)
		}
		if !b.now.Before(end) {
			return
		}
		next := b.i.Next()
		if next.IsZero() || next.After(end) {
			next = end
		}
		if !next.After(b.now) {
			b.t.Fatalf("it wants to be looked at at %v, and it is %v", next, b.now)
		}
		if beat && next.Sub(b.now) > time.Second {
			next = b.now.Add(time.Second)
		}
		b.now = next
	}
}

func (b *bench) ready() {
	b.t.Helper()
	b.run(0, true)
	b.i.Source(b.now, true)
	if b.i.State() != Off || b.is[Pump] || b.is[Valve] {
		b.t.Fatalf("not off after the start: %s, %v", b.i.State(), b.is)
	}
	b.said = nil
}

func (b *bench) pull() {
	b.t.Helper()
	if err := b.i.Pull(b.now); err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) is4(state State, pump, valve bool) {
	b.t.Helper()
	if b.i.State() != state || b.is[Pump] != pump || b.is[Valve] != valve {
		b.t.Errorf("got %s (%s), pump %v, valve %v, want %s, %v, %v", b.i.State(), b.i.Why(), b.is[Pump], b.is[Valve], state, pump, valve)
	}
}

// TestOffFirst wants off before anything else, and no pull before off is
// certain.
func TestOffFirst(t *testing.T) {
	b := newBench(t, settings)
	b.i.Source(b.now, true)
	b.i.Beat(b.now)
	b.reply = func(Order) Result { return Failed }
	b.run(2*time.Second, true)
	if b.i.State() != Unknown {
		t.Errorf("state %s", b.i.State())
	}
	var r *Refusal
	if err := b.i.Pull(b.now); !errors.As(err, &r) || r.Reason != NotOff {
		t.Errorf("got %v", err)
	}
	if len(b.said) < 8 {
		t.Errorf("off was not tried again: %v", b.said)
	}
	for _, o := range b.said {
		if o.On {
			t.Errorf("%s was ordered", o)
		}
	}
	b.reply = func(Order) Result { return Confirmed }
	b.run(time.Second, true)
	b.is4(Off, false, false)
	b.pull()
}

// TestSequence wants the valve open before the pump runs and closed before it
// stops: else the vacuum goes back through the pump.
func TestSequence(t *testing.T) {
	b := newBench(t, settings)
	b.ready()
	b.pull()
	b.run(0, true)
	b.is4(Pulling, false, true)
	b.run(settings.Settle, true)
	b.is4(Pulling, true, true)
	b.run(2*time.Second, true)
	b.i.Hold(b.now)
	b.run(0, true)
	b.is4(Stopping, true, false)
	b.run(settings.Settle, true)
	b.is4(Off, false, false)
	want := []Order{{Valve, true}, {Pump, true}, {Valve, false}, {Pump, false}}
	if len(b.said) != 4 || b.said[0] != want[0] || b.said[1] != want[1] || b.said[2] != want[2] || b.said[3] != want[3] {
		t.Errorf("ordered %v", b.said)
	}
	var r *Refusal
	if err := b.i.Pull(b.now); !errors.As(err, &r) || r.Reason != Resting || r.Wait != settings.Rest {
		t.Errorf("got %v", err)
	}
	b.run(settings.Rest, true)
	b.pull()
	// a hold before the pump ran: there is nothing to wait for
	b.i.Hold(b.now)
	b.run(0, true)
	b.is4(Off, false, false)
}

func TestStops(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(b *bench)
		why  Reason
		beat bool
		in   time.Duration
	}{
		"too long":      {func(*bench) {}, TooLong, true, 19 * time.Second},
		"no heart":      {func(*bench) {}, NoHeart, false, settings.Heartbeat},
		"source lost":   {func(b *bench) { b.i.Source(b.now, false) }, NoSource, true, 0},
		"asked to":      {func(b *bench) { b.i.Stop(b.now, Asked) }, Asked, true, 0},
		"program ends":  {func(b *bench) { b.i.Stop(b.now, Ended) }, Ended, true, 0},
		"while waiting": {func(b *bench) { b.i.Stop(b.now, Asked) }, Asked, true, 0},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, settings)
			b.ready()
			b.pull()
			first := time.Second
			if name == "while waiting" {
				first = settings.Settle / 2
			}
			b.run(first, true)
			c.do(b)
			if c.in > 0 {
				b.run(c.in-time.Millisecond, c.beat)
				b.is4(Pulling, true, true)
				b.run(time.Millisecond, c.beat)
			} else {
				b.run(0, c.beat)
			}
			b.is4(Off, false, false)
			if b.i.Why() != c.why {
				t.Errorf("why: %s", b.i.Why())
			}
			b.said = nil
			b.run(time.Minute, true)
			if len(b.said) != 0 {
				t.Errorf("it went on by itself: %v", b.said)
			}
			err := b.i.Pull(b.now)
			var r *Refusal
			switch errors.As(err, &r); {
			case c.why == NoSource && (r == nil || r.Reason != NoSource), c.why == Ended && (r == nil || r.Reason != Ended), c.why == TooLong && err != nil:
				t.Errorf("another pull: %v", err)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	b := newBench(t, settings)
	b.run(0, false)
	var r *Refusal
	if err := b.i.Pull(b.now); !errors.As(err, &r) || r.Reason != NoSource {
		t.Errorf("got %v", err)
	}
	b.i.Source(b.now, true)
	if err := b.i.Pull(b.now); !errors.As(err, &r) || r.Reason != NoHeart {
		t.Errorf("got %v", err)
	}
	b.i.Beat(b.now)
	b.now = b.now.Add(settings.Heartbeat)
	if err := b.i.Pull(b.now); !errors.As(err, &r) || r.Reason != NoHeart {
		t.Errorf("got %v", err)
	}
}

// TestFailures wants an on that failed to end in off, and an off that failed or
// is unconfirmed to be ordered again.
func TestFailures(t *testing.T) {
	b := newBench(t, settings)
	b.ready()
	b.reply = func(o Order) Result {
		if o == (Order{Pump, true}) {
			b.is[Pump] = true // it was carried out; only its answer was lost
			return Failed
		}
		return Confirmed
	}
	b.pull()
	b.run(settings.Settle, true)
	b.is4(Off, false, false)
	if b.i.Why() != SwitchFail {
		t.Errorf("why: %s", b.i.Why())
	}

	b = newBench(t, settings)
	b.reply = func(Order) Result { return Sent }
	b.run(time.Minute, true)
	if want := 2 * (1 + settings.Repeats); len(b.said) != want || b.i.State() != Off {
		t.Errorf("%d orders of an off that nothing confirms, want %d; %s", len(b.said), want, b.i.State())
	}

	b = newBench(t, settings)
	b.ready()
	b.pull()
	b.run(time.Second, true)
	fails := 40
	b.reply = func(Order) Result {
		if fails--; fails >= 0 {
			return Failed
		}
		return Confirmed
	}
	b.i.Stop(b.now, Asked)
	b.run(5*time.Second, true)
	if !b.is[Pump] || b.i.State() == Off {
		t.Errorf("off although every order failed: %s", b.i.State())
	}
	b.run(10*time.Second, true)
	b.is4(Off, false, false)
}

// TestLateResult wants the result of an order that another has replaced to say
// nothing of the other.
func TestLateResult(t *testing.T) {
	b := newBench(t, settings)
	b.ready()
	b.pull()
	o, ok := b.i.Due(b.now)
	if !ok || o != (Order{Valve, true}) {
		t.Fatal(o, ok)
	}
	b.i.Stop(b.now, Asked)
	b.i.Done(b.now, o, Confirmed)
	if b.i.State() == Off {
		t.Error("off before off was ordered")
	}
	b.run(0, true)
	b.is4(Off, false, false)
}

func TestNoValve(t *testing.T) {
	s := settings
	s.NoValve = true
	b := newBench(t, s)
	b.is[Valve] = false
	b.ready()
	b.pull()
	b.run(0, true)
	b.is4(Pulling, true, false)
	b.i.Hold(b.now)
	b.run(0, true)
	b.is4(Off, false, false)
}

// TestNever plays at random, with a transport that fails at random, and wants
// two things whatever happens: the pump is never told to run beyond its time or
// without a sensor or a sign of life, and once the transport works all is off
// within the time of a retry.
func TestNever(t *testing.T) {
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 7))
		b := newBench(t, settings)
		var since time.Time // of the pump's last on
		bad := r.Float64()
		b.reply = func(o Order) Result {
			if o == (Order{Pump, true}) {
				since = b.now
				if !b.i.source || !b.i.alive(b.now) {
					t.Fatalf("seed %d: pump on without sensor or sign of life", seed)
				}
				if !b.is[Valve] {
					t.Fatalf("seed %d: pump on against a closed valve", seed)
				}
			}
			if r.Float64() < bad {
				return Failed
			}
			if r.IntN(3) == 0 {
				return Sent
			}
			return Confirmed
		}
		for range 60 {
			switch r.IntN(8) {
			case 0, 1, 2:
				_ = b.i.Pull(b.now) // refused or not
			case 3:
				b.i.Hold(b.now)
			case 4:
				b.i.Stop(b.now, Asked)
			case 5:
				b.i.Source(b.now, r.IntN(4) > 0)
			}
			b.run(time.Duration(r.IntN(4000))*time.Millisecond, r.IntN(3) > 0)
			if b.i.pulling && b.i.lines[Pump].on && b.now.Sub(since) > settings.Longest {
				t.Fatalf("seed %d: the pump runs for %v", seed, b.now.Sub(since))
			}
		}
		bad = 0
		b.i.Stop(b.now, Ended)
		b.run(time.Duration(2+settings.Repeats)*settings.Retry, false)
		b.is4(Off, false, false)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

package relay

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"seatproof/internal/source"
)

// rig is a make-believe pump and valve.
type rig struct {
	mu     sync.Mutex
	is     [outputs]bool
	ran    time.Duration // the pump, at a stretch, the longest
	since  time.Time
	fail   bool
	hang   bool // orders take as long as they may
	panics bool
	closed bool
	orders int
}

func (r *rig) Set(ctx context.Context, o Order) (Result, error) {
	if r.bad(&r.hang) && !o.On {
		<-ctx.Done()
		return Failed, ctx.Err()
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.orders++
	if r.fail {
		return Failed, errors.New("no answer")
	}
	if r.panics && o.On && o.Output == Pump {
		r.is[Pump] = true
		panic("a slip")
	}
	if o.Output == Pump && r.is[Pump] && !o.On && !r.since.IsZero() {
		r.ran = max(r.ran, time.Since(r.since))
	}
	if o.Output == Pump && o.On {
		r.since = time.Now()
	}
	r.is[o.Output] = o.On
	return Confirmed, nil
}

func (r *rig) bad(what *bool) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return *what
}

func (r *rig) set(f func()) {
	r.mu.Lock()
	defer r.mu.Unlock()
	f()
}

func (r *rig) Close() error { r.closed = true; return nil }

func (r *rig) want(t *testing.T, pump, valve bool) {
	t.Helper()
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.is[Pump] != pump || r.is[Valve] != valve {
		t.Errorf("pump %v, valve %v, want %v, %v", r.is[Pump], r.is[Valve], pump, valve)
	}
}

// start runs a relay in the bubble and makes it ready for a pull.
func start(t *testing.T, g *rig, s Settings) (r *Relay, sink source.Sink, stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	r = New(g, s, slog.New(slog.DiscardHandler))
	done := make(chan error, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				done <- errors.New("panic")
			}
		}()
		done <- r.Run(ctx)
	}()
	sink = r.Sink(ctx)
	sink.Take([]source.Sample{{}})
	if err := r.Beat(ctx); err != nil {
		t.Fatal(err)
	}
	return r, sink, func() error { cancel(); return <-done }
}

// beat gives signs of life for d.
func beat(t *testing.T, r *Relay, d time.Duration) {
	t.Helper()
	for end := time.Now().Add(d); time.Now().Before(end); {
		if err := r.Beat(t.Context()); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Second)
	}
	synctest.Wait()
}

func pull(t *testing.T, r *Relay) {
	t.Helper()
	if err := r.Pull(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func TestRelay(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(t *testing.T, g *rig, r *Relay, sink source.Sink)
		why  Reason
		most time.Duration // that the pump ran
	}{
		"hold": {func(t *testing.T, _ *rig, r *Relay, _ source.Sink) {
			if err := r.Hold(t.Context()); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Second)
		}, Asked, 2*time.Second + settings.Settle},
		"stop": {func(t *testing.T, _ *rig, r *Relay, _ source.Sink) {
			if err := r.Stop(t.Context()); err != nil {
				t.Fatal(err)
			}
		}, Asked, 2 * time.Second},
		"set time":       {func(t *testing.T, _ *rig, r *Relay, _ source.Sink) { beat(t, r, time.Minute) }, TooLong, settings.Longest},
		"heartbeat ends": {func(t *testing.T, _ *rig, _ *Relay, _ source.Sink) { time.Sleep(time.Minute) }, NoHeart, 2*time.Second + settings.Heartbeat},
		"source lost": {func(_ *testing.T, _ *rig, _ *Relay, sink source.Sink) {
			sink.Tell(source.Notice{Code: source.Lost})
		}, NoSource, 2 * time.Second},
		"source silent": {func(_ *testing.T, _ *rig, _ *Relay, sink source.Sink) {
			sink.Tell(source.Notice{Code: source.Garbage}) // which is none of our business
			sink.Tell(source.Notice{Code: source.Stalled})
		}, NoSource, 2 * time.Second},
		"off fails for a while": {func(t *testing.T, g *rig, r *Relay, _ source.Sink) {
			g.set(func() { g.fail = true })
			if err := r.Stop(t.Context()); err != nil {
				t.Fatal(err)
			}
			time.Sleep(5 * time.Second)
			g.want(t, true, true)
			if s := r.Status(); s.State == Off || !strings.Contains(s.Trouble, "no answer") {
				t.Errorf("status %+v", s)
			}
			g.set(func() { g.fail = false })
			time.Sleep(settings.Retry)
		}, Asked, 9 * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				g := &rig{is: [outputs]bool{true, true}}
				r, sink, stop := start(t, g, settings)
				synctest.Wait()
				g.want(t, false, false)
				pull(t, r)
				time.Sleep(settings.Settle)
				beat(t, r, 2*time.Second)
				g.want(t, true, true)
				c.do(t, g, r, sink)
				synctest.Wait()
				g.want(t, false, false)
				if s := r.Status(); s.State != Off || s.Why != c.why || s.Trouble != "" {
					t.Errorf("status %+v", s)
				}
				if g.ran > c.most {
					t.Errorf("the pump ran for %v, want at most %v", g.ran, c.most)
				}
				if err := stop(); err != nil || !g.closed {
					t.Errorf("%v, closed %v", err, g.closed)
				}
				if err := r.Pull(t.Context()); !errors.Is(err, ErrNotRunning) {
					t.Errorf("got %v", err)
				}
			})
		})
	}
}

// TestEnd wants all off when the program ends in the middle of a pull, and a
// word where that is not certain.
func TestEnd(t *testing.T) {
	for name, c := range map[string]struct {
		before func(g *rig)
		want   string
		off    bool
	}{
		"well":  {func(*rig) {}, "", true},
		"fails": {func(g *rig) { g.fail = true }, "pull the pump's plug", false},
		"hangs": {func(g *rig) { g.hang = true }, "pull the pump's plug", false},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				g := &rig{}
				r, _, stop := start(t, g, settings)
				pull(t, r)
				time.Sleep(time.Second)
				g.want(t, true, true)
				g.set(func() { c.before(g) })
				began := time.Now()
				err := stop()
				if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
					t.Errorf("got %v", err)
				}
				g.want(t, !c.off, !c.off)
				if d := time.Since(began); d > endTime+orderTime {
					t.Errorf("took %v", d)
				}
			})
		})
	}
}

func TestPanic(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := &rig{panics: true}
		r, _, stop := start(t, g, settings)
		pull(t, r)
		time.Sleep(time.Second)
		g.want(t, false, false)
		if err := stop(); err == nil || err.Error() != "panic" {
			t.Errorf("got %v", err)
		}
	})
}

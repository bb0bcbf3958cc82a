package source

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"seatproof/trace"
)

// script is a source that does as a test says.
type script struct {
	run   func(ctx context.Context, sink Sink) error
	about About
}

func (s script) About() About                             { return s.about }
func (s script) Run(ctx context.Context, sink Sink) error { return s.run(ctx, sink) }

func sample(v float64) []Sample { return []Sample{{At: time.Now(), Clock: math.NaN(), Value: v}} }

func watchedRun(t *testing.T, about About, w Watching, run func(ctx context.Context, sink Sink) error) (*Memory, error) {
	t.Helper()
	var m Memory
	var err error
	synctest.Test(t, func(t *testing.T) {
		err = Watch(script{run, about}, w).Run(t.Context(), &m)
	})
	return &m, err
}

func TestWatchTellsAStall(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		for range 20 {
			sink.Take(sample(5e4))
			time.Sleep(100 * time.Millisecond)
		}
		time.Sleep(4 * time.Second)
		sink.Take(sample(5e4))
		return nil
	})
	if n := m.Count(Stalled); n == 0 {
		t.Error("no stall told in 4 s of silence")
	}
	if told := len(m.Notices()); told > 4 {
		t.Errorf("%d notices in 4 s: more than one a second", told)
	}
	if n := len(m.Samples()); n != 21 {
		t.Errorf("%d samples came through, want 21", n)
	}
}

func TestWatchKnowsASlowSource(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum, Interval: 2}, Watching{}, func(ctx context.Context, sink Sink) error {
		for range 5 {
			time.Sleep(2 * time.Second)
			sink.Take(sample(5e4))
		}
		return nil
	})
	if n := m.Notices(); len(n) != 0 {
		t.Errorf("a source of one sample in 2 s told %v", n)
	}
}

// A source that turns out to be slower than the first sample's patience is told
// of once, and known from then on.
func TestWatchLearnsASlowSource(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		for range 10 {
			sink.Take(sample(5e4))
			time.Sleep(8 * time.Second)
		}
		return nil
	})
	for _, n := range m.Notices() {
		if n.Code != Stalled || n.At.Sub(m.Samples()[0].At) > 8*time.Second {
			t.Errorf("told %v after %v", n, n.At.Sub(m.Samples()[0].At))
		}
	}
}

// A source that sends more slowly from some moment on is not told for ever.
func TestWatchFollowsASlowerSource(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		for i := range 60 {
			sink.Take(sample(5e4))
			time.Sleep(map[bool]time.Duration{true: 50 * time.Millisecond, false: 3 * time.Second}[i < 40])
		}
		return nil
	})
	if n := m.Count(Stalled); n == 0 || n > 8 {
		t.Errorf("told %d stalls, want a few until it was known", n)
	}
}

// A source that said it was gone is not stalled as well.
func TestWatchLostIsNoStall(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		sink.Take(sample(5e4))
		sink.Tell(Notice{At: time.Now(), Code: Lost, Count: 1})
		time.Sleep(20 * time.Second)
		return nil
	})
	if n := m.Count(Stalled); n != 0 {
		t.Error("told a stall of what was known to be gone")
	}
}

func TestWatchLeavesOutWhatCantBe(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		for i := range 30 {
			v := 5e4
			if i%3 == 0 {
				v = math.NaN()
			}
			if i%3 == 1 {
				v = 2e5
			}
			sink.Take(sample(v))
			time.Sleep(10 * time.Millisecond)
		}
		return nil
	})
	if n := m.Count(OutOfRange); n != 20 {
		t.Errorf("told %d figures out of range, want 20", n)
	}
	if n := len(m.Samples()); n != 10 {
		t.Errorf("%d samples came through, want 10", n)
	}
	if n := len(m.Notices()); n != 2 {
		t.Errorf("%d notices within 0.3 s, want the first and the rest", n)
	}
}

func TestWatchTellsAFlood(t *testing.T) {
	m, _ := watchedRun(t, About{Reads: trace.Vacuum}, Watching{}, func(ctx context.Context, sink Sink) error {
		batch := make([]Sample, 1000)
		for range 25 {
			for i := range batch {
				batch[i] = Sample{At: time.Now(), Clock: math.NaN(), Value: 5e4}
			}
			sink.Take(batch)
			time.Sleep(100 * time.Millisecond)
		}
		return nil
	})
	if m.Count(Flooded) == 0 {
		t.Error("10,000 samples a second were not told")
	}
	if n := len(m.Samples()); n != 25000 {
		t.Errorf("%d samples came through, want all 25,000", n)
	}
}

func TestWatchHandsOnTheError(t *testing.T) {
	fault := &Fault{Source: "test:", What: "is broken"}
	_, err := watchedRun(t, About{}, Watching{}, func(ctx context.Context, sink Sink) error { return fault })
	if !errors.Is(err, fault) {
		t.Error("got", err)
	}
}

func TestTellerKeepsCountAndOrder(t *testing.T) {
	var m Memory
	tell := NewTeller(&m)
	at := time.Now()
	for i := range 5 {
		tell.Tell(Notice{At: at.Add(time.Duration(i) * 100 * time.Millisecond), Code: Lost})
		tell.Tell(Notice{At: at.Add(time.Duration(i) * 100 * time.Millisecond), Code: Connected})
	}
	tell.Due(at.Add(1100 * time.Millisecond))
	got := m.Notices()
	if len(got) != 4 || m.Count(Lost) != 5 || m.Count(Connected) != 5 {
		t.Fatalf("got %v", got)
	}
	if got[3].Code != Connected {
		t.Errorf("the last thing told is %s, but it is connected", got[3].Code)
	}
}

func TestLatestIsNeverOld(t *testing.T) {
	var l Latest
	now := time.Now()
	if _, err := l.At(now, time.Second); !errors.Is(err, ErrNothing) {
		t.Error("before anything came:", err)
	}
	l.Take([]Sample{{At: now.Add(-time.Minute), Value: 1}, {At: now, Value: 2}})
	if s, err := l.At(now.Add(time.Second), time.Second); err != nil || s.Value != 2 {
		t.Error("got", s, err)
	}
	var old *TooOldError
	if _, err := l.At(now.Add(1001*time.Millisecond), time.Second); !errors.As(err, &old) {
		t.Error("an old figure was given as new:", err)
	}
}

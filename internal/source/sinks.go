package source

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"
)

// ErrNothing says that no sample has come yet.
var ErrNothing = errors.New("nothing has come from the sensor yet")

// TooOldError says that the newest sample is too old to be shown as now.
type TooOldError struct {
	Age, Limit time.Duration
}

func (e *TooOldError) Error() string {
	return fmt.Sprintf("the sensor's last figure is %.1f s old", e.Age.Seconds())
}

// Latest is a [Sink] that keeps the newest sample and no others, for what shows
// one. It never blocks for long and is safe for concurrent use.
type Latest struct {
	mu     sync.Mutex
	sample Sample
	some   bool
	notice Notice
}

// Take keeps the last of samples.
func (l *Latest) Take(samples []Sample) {
	if len(samples) == 0 {
		return
	}
	l.mu.Lock()
	l.sample, l.some = samples[len(samples)-1], true
	l.mu.Unlock()
}

// Tell keeps the notice.
func (l *Latest) Tell(n Notice) {
	l.mu.Lock()
	l.notice = n
	l.mu.Unlock()
}

// At returns the newest sample as of now. It is [ErrNothing] where there is
// none, and a *[TooOldError] where it is older than limit: an old figure is
// never given as a new one.
func (l *Latest) At(now time.Time, limit time.Duration) (Sample, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.some {
		return Sample{}, ErrNothing
	}
	if age := now.Sub(l.sample.At); age > limit {
		return Sample{}, &TooOldError{Age: age, Limit: limit}
	}
	return l.sample, nil
}

// Notice returns the newest notice; false if there was none.
func (l *Latest) Notice() (Notice, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.notice, l.notice.Count > 0
}

// Memory is a [Sink] that keeps everything, for tests and for short looks. It
// is safe for concurrent use.
type Memory struct {
	mu      sync.Mutex
	samples []Sample
	notices []Notice
	changed chan struct{}
}

// Take keeps samples.
func (m *Memory) Take(samples []Sample) {
	m.change(func() { m.samples = append(m.samples, samples...) })
}

// Tell keeps a notice.
func (m *Memory) Tell(n Notice) { m.change(func() { m.notices = append(m.notices, n) }) }

func (m *Memory) change(f func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	f()
	if m.changed != nil {
		close(m.changed)
		m.changed = nil
	}
}

// Samples returns a copy of the samples so far.
func (m *Memory) Samples() []Sample {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.samples)
}

// Notices returns a copy of the notices so far.
func (m *Memory) Notices() []Notice {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.notices)
}

// Count returns how often a code was told.
func (m *Memory) Count(c Code) int {
	n := 0
	for _, x := range m.Notices() {
		if x.Code == c {
			n += x.Count
		}
	}
	return n
}

// Wait waits until ok holds of the samples and notices so far, which it must
// leave as they are, and returns false if it does not within the given time.
func (m *Memory) Wait(within time.Duration, ok func([]Sample, []Notice) bool) bool {
	end := time.NewTimer(within)
	defer end.Stop()
	for {
		m.mu.Lock()
		good := ok(m.samples, m.notices)
		if m.changed == nil {
			m.changed = make(chan struct{})
		}
		changed := m.changed
		m.mu.Unlock()
		if good {
			return true
		}
		select {
		case <-changed:
		case <-end.C:
			return false
		}
	}
}

// Tee returns a [Sink] that gives to each of sinks in turn.
func Tee(sinks ...Sink) Sink { return tee(sinks) }

type tee []Sink

func (t tee) Take(samples []Sample) {
	for _, s := range t {
		s.Take(samples)
	}
}

func (t tee) Tell(n Notice) {
	for _, s := range t {
		s.Tell(n)
	}
}

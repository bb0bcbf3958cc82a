// Package sourcetest holds what the tests of all kinds of sources share.
package sourcetest

import (
	"context"
	"errors"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"seatproof/internal/source"
)

// Open opens an address of a kind as the program does, and fails the test where
// it can't.
func Open(t testing.TB, k source.Kind, text string) source.Source {
	t.Helper()
	a, err := source.ParseAddress(text)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Unknown(k, func(string, []string) string { return "" }); err != nil {
		t.Fatal(err)
	}
	s, err := k.Open(a)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Faults opens addresses that are wrong: each must give a *source.Fault with the
// text that stands beside it.
func Faults(t *testing.T, k source.Kind, cases map[string]string) {
	t.Helper()
	for text, what := range cases {
		a, err := source.ParseAddress(text)
		if err != nil {
			t.Fatal(err)
		}
		_, err = k.Open(a)
		var f *source.Fault
		if !errors.As(err, &f) || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v, want a fault with %q", text, err, what)
		}
	}
}

// strict is a sink that holds a source to its contract.
type strict struct {
	*source.Memory
	t     testing.TB
	inUse atomic.Bool
	over  atomic.Bool
}

func (s *strict) enter(what string) {
	if s.over.Load() {
		s.t.Errorf("%s after Run had returned", what)
	}
	if !s.inUse.CompareAndSwap(false, true) {
		s.t.Errorf("%s from two goroutines at once", what)
	}
}

func (s *strict) Take(samples []source.Sample) {
	s.enter("samples")
	if len(samples) == 0 {
		s.t.Error("a slice without samples")
	}
	for _, x := range samples {
		if x.At.IsZero() {
			s.t.Error("a sample without its arrival")
		}
	}
	s.Memory.Take(samples)
	for i := range samples {
		samples[i] = source.Sample{} // the slice is the source's again, and this one spoils it
	}
	s.inUse.Store(false)
}

func (s *strict) Tell(n source.Notice) {
	s.enter("a notice")
	if n.At.IsZero() || n.Count < 1 || n.Code == "" {
		s.t.Errorf("a notice without its moment, count or code: %+v", n)
	}
	s.Memory.Tell(n)
	s.inUse.Store(false)
}

// Run runs a source, holds it to its contract, and returns what it gives; stop
// ends it, which must not take long, and returns its error. The test's end
// stops it too.
func Run(t testing.TB, s source.Source) (*source.Memory, func() error) {
	t.Helper()
	m := &source.Memory{}
	sink := &strict{Memory: m, t: t}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		err := s.Run(ctx, sink)
		sink.over.Store(true)
		ended <- err
	}()
	stopped := false
	var result error
	stop := func() error {
		if stopped {
			return result
		}
		stopped = true
		s.About() // from any goroutine, at any time
		cancel()
		select {
		case result = <-ended:
		case <-time.After(5 * time.Second):
			t.Error("the source did not end within 5 s of being told")
		}
		return result
	}
	t.Cleanup(func() { stop() })
	return m, stop
}

// AtLeast is for Memory.Wait: so many samples.
func AtLeast(n int) func([]source.Sample, []source.Notice) bool {
	return func(s []source.Sample, _ []source.Notice) bool { return len(s) >= n }
}

// Told is for Memory.Wait: a notice of that code whose detail has that text.
func Told(c source.Code, text string) func([]source.Sample, []source.Notice) bool {
	return func(_ []source.Sample, notices []source.Notice) bool {
		for _, n := range notices {
			if n.Code == c && strings.Contains(n.Detail, text) {
				return true
			}
		}
		return false
	}
}

// Await waits for something to hold, and fails the test where it does not.
func Await(t testing.TB, m *source.Memory, ok func([]source.Sample, []source.Notice) bool) {
	t.Helper()
	if !m.Wait(15*time.Second, ok) {
		t.Fatalf("it did not come to pass: %d samples, notices %v", len(m.Samples()), m.Notices())
	}
}

package journal

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"sync"
	"syscall"
	"testing"

	"seatproof/internal/session"
)

// small is a file that takes only so many bytes, and half of what is too much,
// as a full disk does.
type small struct {
	mu    sync.Mutex
	data  []byte
	limit int
	syncs int
}

func (f *small) WriteAt(p []byte, off int64) (int, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	n := min(len(p), max(0, f.limit-int(off)))
	f.data = append(f.data[:off], p[:n]...)
	if n < len(p) {
		return n, syscall.ENOSPC
	}
	return n, nil
}

func (f *small) Truncate(size int64) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.data = f.data[:size]
	return nil
}

func (f *small) Sync() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.syncs++
	return nil
}

func (f *small) Close() error { return nil }

// bytes is what is in the file now, and setLimit how much it takes from now on.
func (f *small) bytes() []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	return bytes.Clone(f.data)
}

func (f *small) setLimit(n int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.limit = n
}

// A disk that is full is said at once; what came in stays in memory and is on
// disk once there is room, in order and without a torn record between. Past the
// bound samples are gone, which is counted and said in the file; a key still
// finds room.
func TestDiskFull(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	f := &small{limit: 1 << 20}
	w := newWriter(f, 0)
	w.waiting = append(w.waiting, magic...)
	w.bound = 50000
	now, kept := 0.0, 0
	give := func() error {
		e := samples(r, 0, now, 0.001, 200, false)
		now += 0.2
		err := w.Append(e)
		if err == nil {
			kept += 200
		}
		return err
	}
	if err := errors.Join(w.Append(session.Begin{Plan: plan(1)}), give(), w.Flush()); err != nil {
		t.Fatal(err)
	}
	f.limit = len(f.data) + 100
	before := bytes.Clone(f.data)
	if err := errors.Join(give(), w.Flush()); !errors.Is(err, syscall.ENOSPC) || !errors.Is(w.Status().Err, syscall.ENOSPC) {
		t.Fatalf("flush to a full disk: %v, status %+v", err, w.Status())
	}
	if !bytes.Equal(f.data, before) {
		t.Errorf("a part of a record was left on the full disk: %d bytes, %d before", len(f.data), len(before))
	}
	gone := 0
	for range 400 {
		if err := give(); errors.Is(err, ErrFull) {
			gone += 200
		} else if err != nil {
			t.Fatal(err)
		}
		_ = w.Flush() // tried again and again
	}
	if err := w.Append(session.Key{At: now, Do: session.Again}); err != nil {
		t.Errorf("a key found no room: %v", err)
	}
	if s := w.Status(); gone == 0 || s.Missing != int64(gone) || s.Waiting < 50000 || s.Waiting > 60000 {
		t.Errorf("status %+v, %d samples gone", s, gone)
	}
	f.limit = 1 << 30
	if err := errors.Join(w.Flush(), w.Flush()); err != nil || w.Status().Err != nil {
		t.Fatalf("with room again: %v", err)
	}
	if err := errors.Join(give(), w.Close()); err != nil {
		t.Fatal(err)
	}
	past, _, err := Replay(bytes.NewReader(f.data))
	if err != nil || past.Torn != nil {
		t.Fatalf("%v, %v", err, past.Torn)
	}
	if got := past.State.View().Gauges[0].Samples; got != kept || past.Missing != int64(gone) {
		t.Errorf("read %d samples and %d missing, want %d and %d", got, past.Missing, kept, gone)
	}
}

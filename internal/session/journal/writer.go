package journal

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"seatproof/internal/session"
)

const (
	// Every is how often [Writer.Run] puts on disk what was appended. With the
	// time that takes, a sample is there within a second.
	Every = 700 * time.Millisecond

	// bound is how much is kept in memory while the disk takes nothing: some
	// ten minutes of 16 sources at 1,000 samples a second, hours of one.
	bound = 64 << 20

	reserve = 1 << 20 // on top of that, for what is not samples
)

// ErrFull says that the disk takes nothing and memory is full as well: this
// event is gone.
var ErrFull = errors.New("write journal: the disk takes nothing and memory is full")

// Status is how a journal stands.
type Status struct {
	Err     error // why the disk did not take the last of it; nil: it did
	Waiting int   // bytes that are in memory only
	Missing int64 // samples that found no room, and are gone
	Bytes   int64 // on disk
}

// Writer appends to a journal. Append and Status may be called from any
// goroutine.
type Writer struct {
	file file

	mu      sync.Mutex
	waiting []byte // appended and not on disk
	status  Status
	missing int64 // not yet told in the file
	bound   int

	flush sync.Mutex // one at a time
	spare []byte
}

// file is what a writer needs of one.
type file interface {
	WriteAt(p []byte, off int64) (int, error)
	Truncate(size int64) error
	Sync() error
	Close() error
}

// Create begins a new journal at a path, which must not exist yet.
func Create(path string) (*Writer, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("create journal: %w", err)
	}
	w := newWriter(f, 0)
	w.waiting = append(w.waiting, magic...)
	if err := syncDir(filepath.Dir(path)); err != nil {
		f.Close()
		return nil, fmt.Errorf("create journal: %w", err)
	}
	return w, nil
}

func newWriter(f file, size int64) *Writer {
	return &Writer{file: f, bound: bound, status: Status{Bytes: size}}
}

// syncDir puts the name of a new file on disk, where the system can.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	_ = d.Sync() // not every file system knows it
	return nil
}

// Append takes an event. It only writes to memory; the error says that the
// event can't be written at all, or, ErrFull, that there is no room.
func (w *Writer) Append(e session.Event) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	samples, many := e.(session.Samples)
	switch room := w.bound - len(w.waiting); {
	case many && room < 0:
		w.missing += int64(len(samples.Value))
		w.status.Missing += int64(len(samples.Value))
		return ErrFull
	case room < -reserve:
		return ErrFull
	}
	var err error
	w.waiting, err = appendRecord(w.waiting, func(b []byte) ([]byte, error) {
		return appendEvent(b, e)
	})
	return err
}

// Flush puts all that was appended on disk and waits for the disk to say so.
// What the disk does not take stays in memory for the next time; the file is
// cut back to its last whole record.
func (w *Writer) Flush() error {
	w.flush.Lock()
	defer w.flush.Unlock()
	w.mu.Lock()
	if w.missing > 0 && len(w.waiting) <= w.bound {
		n := w.missing
		w.missing = 0
		w.waiting, _ = appendRecord(w.waiting, func(b []byte) ([]byte, error) {
			return binary.LittleEndian.AppendUint64(append(b, kindMissing), uint64(n)), nil
		})
	}
	out := w.waiting
	w.waiting, w.spare = w.spare[:0], nil
	at := w.status.Bytes
	w.mu.Unlock()

	err := w.put(out, at)

	w.mu.Lock()
	defer w.mu.Unlock()
	w.status.Err = err
	if err != nil {
		w.waiting = append(out, w.waiting...) // what came in meanwhile stands behind
		return err
	}
	w.status.Bytes += int64(len(out))
	if cap(out) <= 1<<20 {
		w.spare = out
	}
	return nil
}

// put writes at an offset and waits for the disk; on failure nothing is left
// there.
func (w *Writer) put(out []byte, at int64) error {
	if len(out) == 0 {
		return nil
	}
	_, err := w.file.WriteAt(out, at)
	if err == nil {
		if err = w.file.Sync(); err == nil {
			return nil
		}
	}
	if cut := w.file.Truncate(at); cut != nil {
		err = errors.Join(err, cut) // the next attempt writes over it
	}
	return fmt.Errorf("write journal: %w", err)
}

// Status says how the journal stands.
func (w *Writer) Status() Status {
	w.mu.Lock()
	defer w.mu.Unlock()
	s := w.status
	s.Waiting = len(w.waiting)
	return s
}

// Run puts on disk what was appended, every 700 ms, until ctx ends, and then
// once more. told is called, from the same goroutine, when the disk takes no
// more and when it does again; it may be nil. The error is that of the last
// attempt.
func (w *Writer) Run(ctx context.Context, told func(Status)) error {
	tick := time.NewTicker(Every)
	defer tick.Stop()
	failing := false
	for {
		ended := false
		select {
		case <-ctx.Done():
			ended = true
		case <-tick.C:
		}
		err := w.Flush()
		if (err != nil) != failing {
			failing = err != nil
			if told != nil {
				told(w.Status())
			}
		}
		if ended {
			return err
		}
	}
}

// Close flushes and closes the file.
func (w *Writer) Close() error {
	return errors.Join(w.Flush(), w.file.Close())
}

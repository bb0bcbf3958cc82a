package journal

import (
	"errors"
	"fmt"
	"io"
	"os"

	"seatproof/internal/session"
)

// Past is what a journal tells of a run.
type Past struct {
	State   session.State
	Now     float64 // s, of the last event: the session's time does not go back behind it
	Started int64   // ms since 1970 UTC at time 0, from the plan
	Events  int
	Missing int64            // samples that the journal says were lost
	Torn    *Torn            // nil: it ended whole
	Do      []session.Action // filings and moves, in order, and readings that nobody gave yet
}

// Replay reads a journal and brings the session to where it was. Filing a test
// may have been done before or not: whoever carries out Past.Do looks by run
// and number whether it was. The error is ErrNotJournal or of reading; a torn
// tail is in the answer.
func Replay(in io.Reader) (Past, int64, error) {
	var p Past
	r, err := NewReader(in)
	if torn := (*Torn)(nil); errors.As(err, &torn) {
		p.Torn = torn
		return p, 0, nil
	}
	if err != nil {
		return p, 0, err
	}
	open := map[int]session.Look{}
	for {
		x, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if errors.As(err, &p.Torn) {
			break
		}
		if err != nil {
			return p, 0, err
		}
		p.take(x, open)
	}
	for _, a := range p.Do {
		if f, ok := a.(session.FileTest); ok {
			if l, ok := open[f.Test]; ok {
				p.Do = append(p.Do, l)
			}
		}
	}
	return p, r.At(), nil
}

// take brings one record to the session.
func (p *Past) take(x any, open map[int]session.Look) {
	if m, ok := x.(Missing); ok {
		p.Missing += m.Samples
		return
	}
	e := x.(session.Event)
	p.Events++
	switch e := e.(type) {
	case session.Begin:
		p.Started = e.Plan.Started
		p.Do = nil
		clear(open)
	case session.Looked:
		if e.Final {
			delete(open, e.Test)
		}
	}
	var out []session.Action
	p.State, out = session.Step(p.State, e)
	for _, a := range out {
		switch a := a.(type) {
		case session.FileTest, session.MoveTest:
			p.Do = append(p.Do, a)
		case session.Look:
			if a.Final {
				open[a.Test] = a
			}
		}
	}
	p.Now = p.State.Now()
}

// Resume opens the journal of a run that was cut short, brings the session to
// where it was, and returns a writer that goes on in the same file. A torn tail
// is cut off and kept beside it, under the same name and ".torn". Whoever
// resumes gives the session a Resumed event with Cut, the bytes cut.
func Resume(path string) (past Past, w *Writer, cut int64, err error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return past, nil, 0, fmt.Errorf("resume journal: %w", err)
	}
	defer func() {
		if err != nil {
			f.Close()
		}
	}()
	past, whole, err := Replay(f)
	if err != nil {
		return past, nil, 0, fmt.Errorf("resume journal %s: %w", path, err)
	}
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return past, nil, 0, fmt.Errorf("resume journal: %w", err)
	}
	if cut = size - whole; cut > 0 {
		if err = keepTail(f, whole, path+".torn"); err != nil {
			return past, nil, 0, fmt.Errorf("resume journal: keep its torn tail: %w", err)
		}
		if err = f.Truncate(whole); err != nil {
			return past, nil, 0, fmt.Errorf("resume journal: %w", err)
		}
	}
	w = newWriter(f, whole)
	if whole == 0 {
		w.waiting = append(w.waiting, magic...)
	}
	return past, w, cut, nil
}

// keepTail adds what stands behind an offset to a file of its own.
func keepTail(f *os.File, from int64, path string) error {
	if _, err := f.Seek(from, io.SeekStart); err != nil {
		return err
	}
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, f)
	return errors.Join(err, out.Sync(), out.Close())
}

package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"unicode"

	"seatproof/gas"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
)

// port is one trace to read.
type port struct {
	file     string
	name     string  // of the port, where the list of files says it
	diameter float64 // m, of a valve's head; 0: not known
	open     func() (io.ReadCloser, error)
	keep     **trace.Trace // where the recording is kept; nil: it is let go
}

// all reads all traces on all cores and returns the outcomes in the order of
// the ports. The error says that ctx ended first.
func (a *App) all(ctx context.Context, q question, ports []port) ([]*report.Outcome, error) {
	out := make([]*report.Outcome, len(ports))
	next := make(chan int)
	done := make(chan struct{}, len(ports))
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(ports)) {
		workers.Go(func() {
			for i := range next {
				out[i] = one(ctx, q, ports[i])
				done <- struct{}{}
			}
		})
	}
	sent := 0
	read := 0
	for read < len(ports) && ctx.Err() == nil {
		give := next
		if sent == len(ports) {
			give = nil
		}
		select {
		case give <- sent:
			sent++
		case <-done:
			read++
			if a.Terminal && len(ports) > 1 {
				fmt.Fprintf(a.Stderr, "\rreading %d of %d", read, len(ports))
			}
		case <-ctx.Done():
		}
	}
	close(next)
	workers.Wait()
	if a.Terminal && len(ports) > 1 {
		fmt.Fprint(a.Stderr, "\r\x1b[K")
	}
	if read < len(ports) {
		return nil, fmt.Errorf("stopped after %d of %d traces; nothing was changed", read, len(ports))
	}
	return out, nil
}

// one reads one trace. A fault of this program in one of them must not cost a
// person the others, so it becomes that trace's error.
func one(ctx context.Context, q question, p port) (o *report.Outcome) {
	o = &report.Outcome{File: p.file, Port: p.name}
	defer func() {
		if r := recover(); r != nil {
			o.Err = fmt.Errorf("%s: a fault of this program, not of the file: %v at %s; keep the file and report it", p.file, r, faultPlace())
		}
	}()
	f, err := p.open()
	if err != nil {
		o.Err = openError(p.file, err)
		return o
	}
	defer f.Close()
	ro := q.trace
	ro.AirPressure = room(q)
	t, err := trace.Read(stoppable{ctx, f}, ro)
	if err != nil {
		o.Err = fmt.Errorf("%s: %w", p.file, err)
		return o
	}
	if n := t.Len(); q.off != nil && (n == 0 || *q.off <= t.Time[0] || *q.off >= t.Time[n-1]) {
		end := 0.0
		if n > 0 {
			end = t.Time[n-1]
		}
		o.Err = &fault{"--shut-off", fmt.Errorf("%s: %.4g s lies outside the trace, which goes from 0 to %.4g s", p.file, *q.off, end), "give a time within it"}
		return o
	}
	if p.keep != nil {
		*p.keep = t
	}
	r := q.rig
	if h, ok := heldNamed(t.Header.Held); ok && !q.held {
		r.Port.Held = h
	}
	if w, ok := wetSaid(t.Header); ok {
		r.Port.WetWith = w
	}
	if o.Port == "" {
		o.Port = t.Header.Port
	}
	o.Held, o.Started = r.Port.Held, t.Header.Started
	o.Faults = t.Faults
	o.Reading = leak.Read(t, r, leak.Options{Seat: q.seat, ShutOff: q.off, Scatter: q.scatter})
	o.Room, o.RigLeak = o.Reading.Room, r.RigLeak.Value
	if r.Volume.Known && r.Port.Volume.Known {
		o.Volume = r.Volume.Value + r.Port.Volume.Value
	}
	zero := r.Gauge.Zero.Value
	if t.Kind == trace.Absolute {
		zero = -o.Room
	}
	o.Sketch = report.NewSketch(t, o.Reading.Phases, zero)
	if err := judge(o, q, p.diameter, o.Reading.RoomTemp); err != nil {
		o.Err = fmt.Errorf("%s: %w", p.file, err)
	}
	if p.keep == nil {
		o.Reading.Draws = nil // judged; a hundred files' draws need not be kept
	}
	return o
}

// wetSaid returns what a file's own comment lines on state and seat say of a
// liquid: "oiled", "dry"; its test comes before the rig file's.
func wetSaid(h trace.Header) (rig.Liquid, bool) {
	for _, w := range strings.FieldsFunc(strings.ToLower(h.State+" "+h.Seat), func(r rune) bool { return !unicode.IsLetter(r) }) {
		switch w {
		case "oiled", "oil":
			return rig.WetOil, true
		case "dry":
			return rig.WetNothing, true
		}
	}
	return rig.WetNotSaid, false
}

// faultPlace names the line of this module that panicked.
func faultPlace() string {
	var pcs [32]uintptr
	frames := runtime.CallersFrames(pcs[:runtime.Callers(3, pcs[:])])
	for {
		f, more := frames.Next()
		if strings.HasPrefix(f.Function, "seatproof/") {
			return fmt.Sprintf("%s:%d", filepath.Base(f.File), f.Line)
		}
		if !more {
			return "an unknown line"
		}
	}
}

// room returns the air pressure [Pa] of the rig's room, by altitude where only
// that is known; 0 where nothing is.
func room(q question) float64 {
	switch air := q.rig.Air; {
	case air.Pressure.Known:
		return air.Pressure.Value
	case air.Altitude.Known:
		if p, err := gas.StandardPressure(air.Altitude.Value); err == nil {
			return p
		}
	}
	return 0
}

// openError says why a file can't be opened, and what to do.
func openError(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%s: there is no such file; check the name and the folder", name)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%s: the file may not be read; check its permissions", name)
	default:
		return fmt.Errorf("open trace: %w", err)
	}
}

// stoppable is a reader that ends when ctx does, so that a long file does not
// keep a person waiting.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}

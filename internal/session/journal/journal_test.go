package journal

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"seatproof/internal/session"
	"seatproof/internal/source"
	"seatproof/leak"
)

// drawEvent draws an event of any kind, at or after a time.
func drawEvent(t *rapid.T, now *float64) session.Event {
	*now += rapid.Float64Range(0, 0.5).Draw(t, "later")
	switch rapid.IntRange(0, 9).Draw(t, "kind") {
	case 0:
		return session.Notice{At: *now, Source: rapid.IntRange(0, 3).Draw(t, "source"), Code: rapid.SampledFrom(source.Codes()).Draw(t, "code"), Detail: rapid.String().Draw(t, "detail"), Count: rapid.IntRange(1, 9).Draw(t, "count")}
	case 1:
		do := rapid.SampledFrom([]session.Do{session.Next, session.Again, session.GoTo, session.Skip, session.Refile, session.ShutOff}).Draw(t, "do")
		return session.Key{At: *now, Do: do, Port: rapid.SampledFrom([]string{"p1", "p2", "x"}).Draw(t, "port"), Test: rapid.IntRange(0, 3).Draw(t, "test")}
	case 2:
		q := rapid.Float64Range(0, 1e-5).Draw(t, "leak")
		return session.Looked{At: *now, Test: rapid.IntRange(0, 3).Draw(t, "test"), Final: rapid.Bool().Draw(t, "final"), Estimate: session.Estimate{Held: 3, Leak: &leak.Interval{Median: q, Low: 0.9 * q, High: 1.1 * q}, Over: rapid.Float64Range(0, 1).Draw(t, "over")}}
	case 3:
		return session.Tick{At: *now}
	case 4:
		if rapid.IntRange(0, 9).Draw(t, "rare") == 0 {
			return session.Resumed{At: *now, Cut: int64(rapid.IntRange(0, 99).Draw(t, "cut"))}
		}
		return session.Tick{At: *now}
	}
	n := rapid.IntRange(1, 60).Draw(t, "n")
	dt := rapid.SampledFrom([]float64{0.001, 0.02, 0.1}).Draw(t, "dt")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	e := samples(r, rapid.IntRange(0, 2).Draw(t, "source"), *now, dt, n, rapid.Bool().Draw(t, "clock"))
	if rapid.IntRange(0, 4).Draw(t, "odd") == 0 {
		for i := range e.Value { // figures on no grid, and such as no gauge shows
			e.Value[i] = rapid.SampledFrom([]float64{math.Pi, math.NaN(), math.Inf(1), math.Copysign(0, -1), 1e300, e.Value[i] * math.Sqrt2}).Draw(t, "value")
		}
	}
	*now = e.At[n-1]
	return e
}

// same compares two events; NaN is itself.
func same(a, b any) bool {
	x, okx := a.(session.Samples)
	y, oky := b.(session.Samples)
	if !okx || !oky {
		return reflect.DeepEqual(a, b)
	}
	bits := func(u, v []float64) bool {
		if len(u) != len(v) || (u == nil) != (v == nil) {
			return false
		}
		for i := range u {
			if math.Float64bits(u[i]) != math.Float64bits(v[i]) {
				return false
			}
		}
		return true
	}
	return x.Source == y.Source && bits(x.At, y.At) && bits(x.Clock, y.Clock) && bits(x.Value, y.Value)
}

// Whatever events there are: what is read is what was written, bit by bit, and
// the replay of a journal comes to the state that the events came to.
func TestReplayIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := 0.0
		events := []session.Event{session.Begin{Plan: plan(3)}}
		for range rapid.IntRange(1, 60).Draw(t, "events") {
			events = append(events, drawEvent(t, &now))
		}
		file := []byte(magic)
		var s session.State
		for _, e := range events {
			var err error
			file, err = appendRecord(file, func(b []byte) ([]byte, error) { return appendEvent(b, e) })
			if err != nil {
				t.Fatal(err)
			}
		}
		r, err := NewReader(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range events {
			got, err := r.Next()
			if err != nil || !same(got, any(e)) {
				t.Fatalf("event %d: got %+v, %v, want %+v", i, got, err, e)
			}
		}
		if _, err := r.Next(); !errors.Is(err, io.EOF) {
			t.Fatalf("after the last: %v", err)
		}
		for _, e := range events {
			s, _ = session.Step(s, e)
		}
		past, whole, err := Replay(bytes.NewReader(file))
		if err != nil || past.Torn != nil || whole != int64(len(file)) {
			t.Fatalf("replay: %v, torn %v, %d of %d bytes", err, past.Torn, whole, len(file))
		}
		if d := differ("state", reflect.ValueOf(s), reflect.ValueOf(past.State)); d != "" {
			t.Fatalf("replay came to another state: %s", d)
		}
	})
}

// A file cut at any byte of its last record, or with any byte of it changed,
// gives all records before that and says that it is torn; resumed, the tail is
// cut off and kept beside it, and the journal goes on.
func TestTornAtEveryByte(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	events := []session.Event{
		session.Begin{Plan: plan(1)},
		samples(r, 0, 0.1, 0.02, 40, false),
		session.Key{At: 1, Do: session.Skip},
		samples(r, 0, 1, 0.02, 40, true),
	}
	file, last := []byte(magic), 0
	for _, e := range events {
		last = len(file)
		file, _ = appendRecord(file, func(b []byte) ([]byte, error) { return appendEvent(b, e) })
	}
	path := filepath.Join(t.TempDir(), "run.journal")
	try := func(what string, at int, b []byte) {
		t.Helper()
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		os.Remove(path + ".torn")
		past, w, cut, err := Resume(path)
		if err != nil {
			t.Fatalf("%s at %d: %v", what, at, err)
		}
		if past.Events != 3 || past.Torn == nil && cut > 0 || cut != int64(len(b)-last) || (cut > 0) != (past.Torn != nil) {
			t.Fatalf("%s at %d: %d events, cut %d of %d, torn %v", what, at, past.Events, cut, len(b)-last, past.Torn)
		}
		if cut > 0 {
			if kept, err := os.ReadFile(path + ".torn"); err != nil || !bytes.Equal(kept, b[last:]) {
				t.Fatalf("%s at %d: the tail was not kept: %v", what, at, err)
			}
		}
		if err := errors.Join(w.Append(session.Resumed{At: past.Now, Cut: cut}), w.Append(events[3]), w.Close()); err != nil {
			t.Fatal(err)
		}
		again, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer again.Close()
		if p, _, err := Replay(again); err != nil || p.Torn != nil || p.Events != 5 {
			t.Fatalf("%s at %d: gone on with, it reads %d events, %v, %v", what, at, p.Events, p.Torn, err)
		}
	}
	for at := last; at < len(file); at++ {
		try("cut", at, file[:at])
	}
	for at := last; at < len(file); at++ {
		b := bytes.Clone(file)
		b[at] ^= 0x40
		try("changed", at, b)
	}
	// a file cut within its first line, or empty
	for at := range len(magic) {
		if err := os.WriteFile(path, file[:at], 0o600); err != nil {
			t.Fatal(err)
		}
		past, w, cut, err := Resume(path)
		if err != nil || past.Events != 0 || cut != int64(at) || past.Torn == nil {
			t.Fatalf("cut at %d: %+v, cut %d, %v", at, past, cut, err)
		}
		if err := errors.Join(w.Append(events[0]), w.Close()); err != nil {
			t.Fatal(err)
		}
		if b, _ := os.ReadFile(path); !bytes.HasPrefix(file, b) || len(b) < 100 {
			t.Fatalf("cut at %d and gone on with: %d bytes", at, len(b))
		}
	}
}

// Any other file is refused and not touched.
func TestNotAJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notes.txt")
	want := []byte("nothing of this kind")
	if err := os.WriteFile(path, want, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := Resume(path); !errors.Is(err, ErrNotJournal) {
		t.Errorf("resume: %v", err)
	}
	if got, _ := os.ReadFile(path); !bytes.Equal(got, want) {
		t.Errorf("the file was changed: %q", got)
	}
	if _, err := Create(path); !errors.Is(err, os.ErrExist) {
		t.Errorf("create over a file: %v", err)
	}
}

func FuzzRead(f *testing.F) {
	r := rand.New(rand.NewPCG(3, 4))
	file := []byte(magic)
	for _, e := range []session.Event{
		session.Begin{Plan: plan(2)}, samples(r, 0, 0, 0.01, 300, false), samples(r, 1, 0, 0.1, 20, true), session.Tick{At: 3},
		session.Notice{At: 3, Code: source.Lost, Count: 1}, session.Key{At: 3, Do: session.Skip}, samples(r, 0, 3, 0.01, 300, false),
		session.Looked{At: 6, Test: 1}, session.Resumed{At: 60},
	} {
		file, _ = appendRecord(file, func(b []byte) ([]byte, error) { return appendEvent(b, e) })
		f.Add(bytes.Clone(file), false)
	}
	f.Add([]byte("S\x00\x02\x0c\x02\x02\x04\x04"), true)
	f.Add([]byte("S\x00\x01\x00\x08\x01\x02\x03\x04\x05\x06\x07\x08\x00"), true)
	// bare: one record without its check, so that bodies are reached; else a file
	f.Fuzz(func(t *testing.T, b []byte, bare bool) {
		if bare {
			file := []byte(magic)
			if len(b) == 0 || len(b) > longest {
				return
			}
			file, err := appendRecord(file, func(out []byte) ([]byte, error) { return append(out, b...), nil })
			if err != nil {
				t.Fatal(err)
			}
			x, err := decode(b)
			if e, ok := x.(session.Event); ok && err == nil {
				// what can be read can be written, and reads the same
				again, err := appendEvent(nil, e)
				if err != nil {
					t.Fatalf("%+v can't be written: %v", e, err)
				}
				y, err := decode(again)
				if err != nil || !same(x, y) {
					t.Fatalf("%+v reads %+v, %v after a turn", x, y, err)
				}
			}
			b = file
		}
		past, whole, err := Replay(bytes.NewReader(b))
		switch {
		case errors.Is(err, ErrNotJournal):
			return
		case err != nil:
			t.Fatal(err)
		case whole > int64(len(b)) || whole < int64(len(b)) && past.Torn == nil:
			t.Fatalf("%d of %d bytes whole, torn %v", whole, len(b), past.Torn)
		}
		past.State.View()
		if whole == 0 {
			return
		}
		// what is whole is so by itself
		if p, w, err := Replay(bytes.NewReader(b[:whole])); err != nil || p.Torn != nil || w != whole || p.Events != past.Events {
			t.Fatalf("the whole part alone: %d events, %d bytes, %v, %v; with the tail %d and %d", p.Events, w, p.Torn, err, past.Events, whole)
		}
	})
}

// The length in a record's head is never believed further than the file goes.
func TestLengthThatCantBe(t *testing.T) {
	for _, n := range []uint32{0, longest, longest + 1, math.MaxUint32} {
		b := binary.LittleEndian.AppendUint32([]byte(magic), n)
		b = append(b, make([]byte, 40)...)
		p, whole, err := Replay(bytes.NewReader(b))
		if err != nil || p.Torn == nil || whole != int64(len(magic)) {
			t.Errorf("length %d: %+v, %d, %v", n, p.Torn, whole, err)
		}
	}
}

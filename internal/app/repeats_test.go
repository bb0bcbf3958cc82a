package app

import (
	"errors"
	"strings"
	"testing"

	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
)

func recording(header trace.Header, kind trace.Kind, step float64, value ...float64) *trace.Trace {
	t := &trace.Trace{Header: header, Kind: kind, Step: step, Value: value}
	for i := range value {
		t.Time = append(t.Time, float64(i))
	}
	return t
}

func files(names ...string) []*report.Outcome {
	var out []*report.Outcome
	for _, n := range names {
		out = append(out, &report.Outcome{File: n})
	}
	return out
}

// Another step or kind than the first file's is a warning, half as fine again
// or a file that could not be read is none.
func TestUnlike(t *testing.T) {
	a := recording(trace.Header{}, trace.Vacuum, 50, 1, 2)
	for _, c := range []struct {
		name string
		b    *trace.Trace
		want bool
	}{
		{"the same", recording(trace.Header{}, trace.Vacuum, 50, 3, 4), false},
		{"nearly", recording(trace.Header{}, trace.Vacuum, 70, 3, 4), false},
		{"no step seen", recording(trace.Header{}, trace.Vacuum, 0, 3, 4), false},
		{"coarser", recording(trace.Header{}, trace.Vacuum, 100, 3, 4), true},
		{"finer", recording(trace.Header{}, trace.Vacuum, 10, 3, 4), true},
		{"absolute", recording(trace.Header{}, trace.Absolute, 50, 3, 4), true},
		{"not read", nil, false},
	} {
		w := unlike(files("x/a.csv", "x/b.csv"), []*trace.Trace{a, c.b})
		if (w != nil) != c.want {
			t.Errorf("%s: %+v", c.name, w)
		}
		if w != nil && (w.Code != leak.UnlikeGauges || w.Name != "a.csv, b.csv") {
			t.Errorf("%s: %+v", c.name, w)
		}
	}
}

// An error names both files and both values, and what to do.
func TestAlike(t *testing.T) {
	a := recording(trace.Header{Port: "2 intake", State: "dry"}, trace.Vacuum, 50, 1, 2)
	for _, c := range []struct {
		name  string
		b     *trace.Trace
		words []string
	}{
		{"another test", recording(trace.Header{Port: "2 intake"}, trace.Vacuum, 50, 1, 3), nil},
		{"the same samples", recording(trace.Header{Port: "2 intake"}, trace.Vacuum, 50, 1, 2), []string{"a.csv and b.csv", "same recording", "once"}},
		{"oiled", recording(trace.Header{State: "oiled"}, trace.Vacuum, 50, 1, 3), []string{"a.csv and b.csv", `"dry"`, `"oiled"`, "state", "only like"}},
		{"not read", nil, nil},
	} {
		err := alike(question{}, files("a.csv", "b.csv"), []*trace.Trace{a, c.b})
		if (err != nil) != (c.words != nil) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for _, w := range c.words {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q lacks %q", c.name, err, w)
			}
		}
	}
}

// Of files none of which could be read there is no reading, but their error.
func TestTogetherUnreadable(t *testing.T) {
	all := files("a.csv", "b.csv")
	slip := errors.New("slip")
	all[0].Err, all[1].Err = slip, slip
	o, err := together(question{}, all, []*trace.Trace{nil, nil}, 0)
	if err != nil || o.State() != report.Unreadable || o.File != "a.csv, b.csv" || len(o.Each) != 2 {
		t.Errorf("got %+v, %v", o, err)
	}
}

// What held the valves is compared as it was taken, by file or by rig file; the
// command line settles it for all.
func TestAlikeComparesWhatHeld(t *testing.T) {
	a := recording(trace.Header{Held: "thumb"}, trace.Vacuum, 50, 1, 2)
	b := recording(trace.Header{}, trace.Vacuum, 50, 1, 3)
	all := files("a.csv", "b.csv")
	all[0].Held, all[1].Held = rig.HeldThumb, rig.HeldOwnSpring
	err := alike(question{}, all, []*trace.Trace{a, b})
	if err == nil || !strings.Contains(err.Error(), "a thumb in the one and by their own springs in the other") {
		t.Errorf("got %v", err)
	}
	c := recording(trace.Header{Held: "light-spring"}, trace.Vacuum, 50, 1, 4)
	all[1].Held = rig.HeldThumb
	if err := alike(question{held: true}, all, []*trace.Trace{a, c}); err != nil {
		t.Errorf("with --held: got %v", err)
	}
}

// A file's own word on its seat comes before the rig file's.
func TestWetSaid(t *testing.T) {
	for _, c := range []struct {
		h    trace.Header
		want rig.Liquid
		ok   bool
	}{
		{trace.Header{State: "oiled"}, rig.WetOil, true},
		{trace.Header{Seat: "left, dry and clean"}, rig.WetNothing, true},
		{trace.Header{State: "as found"}, rig.WetNotSaid, false},
		{trace.Header{State: "boiled"}, rig.WetNotSaid, false},
	} {
		if got, ok := wetSaid(c.h); got != c.want || ok != c.ok {
			t.Errorf("%+v: got %q, %v, want %q, %v", c.h, got, ok, c.want, c.ok)
		}
	}
}

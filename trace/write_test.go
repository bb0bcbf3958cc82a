package trace

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func written(t testing.TB, tr *Trace) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, tr); err != nil {
		t.Fatalf("%v, writing %+v", err, tr.Header)
	}
	return b.String()
}

func TestWriteText(t *testing.T) {
	got := written(t, &Trace{
		Kind:   Vacuum,
		Time:   []float64{0, 0.1, 0.30000000000000004, 1e-7},
		Value:  []float64{0, 78350, -50, 72130.08573},
		Header: Header{Rig: "small\nrig", Port: "2 intake", Held: "own-spring", Started: "2026-05-04T12:00:00Z", Others: []string{"invented"}},
	})
	want := `# rig: small rig
# port: 2 intake
# held: own-spring
# started: 2026-05-04T12:00:00Z
# invented
time (s),vacuum (kPa)
0,0
0.1,78.35
0.3,-0.05
1e-07,72.1300857
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Every file that can be read gives, written and read again, the same figures
// to the written resolution, and written again the same bytes.
func TestWriteAndReadAgain(t *testing.T) {
	check := func(name string, tr *Trace) {
		t.Helper()
		text := written(t, tr)
		again, err := Read(strings.NewReader(text), ReadOptions{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			return
		}
		sameTrace(t, name, tr, again)
		if second := written(t, again); second != text {
			t.Errorf("%s: written again it differs", name)
		}
	}
	for _, c := range formatCases {
		check(c.file, mustRead(t, filepath.Join("testdata", "formats", c.file), c.o))
	}
	check("hand", mustRead(t, "testdata/formats/hand.csv", ReadOptions{}))
	open, err := filepath.Glob("testdata/open/*.csv")
	if err != nil || len(open) != 4 {
		t.Fatalf("got %v, %v, want four open recordings", open, err)
	}
	for _, f := range open {
		check(f, mustRead(t, f, ReadOptions{}))
	}
	check("decimated", mustRead(t, "testdata/formats/comma.csv", ReadOptions{MaxPoints: 16}))
}

// sameTrace compares figures to the resolution that Write has.
func sameTrace(t testing.TB, name string, want, got *Trace) {
	t.Helper()
	if got.Kind != want.Kind || got.Len() != want.Len() || !reflect.DeepEqual(got.Count, want.Count) || len(got.Hand) != len(want.Hand) {
		t.Errorf("%s: got %s, %d points, counts %v, %d by hand; want %s, %d, %v, %d", name,
			got.Kind, got.Len(), got.Count, len(got.Hand), want.Kind, want.Len(), want.Count, len(want.Hand))
		return
	}
	g, w := got.Header, want.Header
	if g.Rig != w.Rig || g.Port != w.Port || g.Held != w.Held || g.Started != w.Started {
		t.Errorf("%s: got header %+v, want %+v", name, g, w)
	}
	near := func(a, b float64, digits float64) bool {
		return math.Abs(a-b) <= 6*math.Pow(10, -digits)*math.Abs(b)+1e-300
	}
	for i := range want.Time {
		if !near(got.Time[i], want.Time[i], 11) || !near(got.Value[i], want.Value[i], 8) {
			t.Errorf("%s: point %d: got %v s, %v Pa, want %v, %v", name, i, got.Time[i], got.Value[i], want.Time[i], want.Value[i])
			return
		}
	}
	for i, h := range want.Hand {
		r := got.Hand[i]
		if !near(r.Time, h.Time, 11) || !near(r.Value, h.Value, 8) || !near(r.Spread, h.Spread, 8) || !near(r.TimeSpread, h.TimeSpread, 8) || r.Censored != h.Censored {
			t.Errorf("%s: reading %d: got %+v, want %+v", name, i, r, h)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("the disk is full") }

func TestWriteErrors(t *testing.T) {
	one := []float64{0}
	for _, c := range []struct {
		name string
		t    *Trace
		say  string
	}{
		{"NaN", &Trace{Time: one, Value: []float64{math.NaN()}}, "point 1 is not finite"},
		{"infinite time", &Trace{Time: []float64{math.Inf(1)}, Value: one}, "point 1 is not finite"},
		{"lengths", &Trace{Time: one}, "differ in number"},
		{"spreads", &Trace{Hand: []HandReading{{Spread: 1}, {Spread: 2}}}, "reading 2 has another spread"},
		{"hand NaN", &Trace{Hand: []HandReading{{Value: math.NaN()}}}, "reading 1 is not finite"},
	} {
		if err := Write(&bytes.Buffer{}, c.t); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: got %v, want %q", c.name, err, c.say)
		}
	}
	if err := Write(full{}, &Trace{Time: one, Value: one}); err == nil || !strings.Contains(err.Error(), "the disk is full") {
		t.Errorf("full disk: got %v", err)
	}
}

func FuzzRead(f *testing.F) {
	for _, pattern := range []string{"testdata/formats/*", "testdata/open/*.csv"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("%s: %v", pattern, err)
		}
		for _, name := range files {
			b, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(b) > 4096 {
				b = b[:4096]
			}
			f.Add(b, "", "", uint16(0))
		}
	}
	f.Add([]byte("0,1\n1,2\n"), "s, kPa vacuum", "", uint16(4))
	f.Add([]byte("time (s),p1 (kPa abs),p2 (bar)\n0,1,1\n1,2,2\n"), "", "p1", uint16(2))
	f.Add([]byte("time (s),vacuum (kPa)\n0,1\n5,1\n1,1\n2,1\n3,1\n0,9\n"), "", "2", uint16(8))
	f.Fuzz(func(t *testing.T, b []byte, columns, column string, most uint16) {
		tr, err := Read(bytes.NewReader(b), ReadOptions{Columns: columns, Column: column, MaxPoints: int(most), AirPressure: 101e3})
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) || fe.What == "" || fe.Hint == "" || tr != nil {
				t.Fatalf("got %+v, %v, want a whole *FileError and no trace", tr, err)
			}
			return
		}
		checkTrace(t, tr)
		text := written(t, tr)
		again, err := Read(strings.NewReader(text), ReadOptions{MaxPoints: 1 << 20})
		if err != nil {
			t.Fatalf("%v\nreading again\n%s", err, text)
		}
		checkTrace(t, again)
		// A trace without its spikes may show others, averaged points are
		// steeper than samples, and times closer than the file tells apart
		// become equal.
		if again.Faults.Spikes > 0 || again.Faults.Repeated != 0 || tr.Count != nil {
			return
		}
		sameTrace(t, "written and read", tr, again)
		if third := written(t, again); third != text {
			t.Fatalf("written again it differs:\n%s\n%s", text, third)
		}
	})
}

// checkTrace fails unless all is finite, times do not fall, and counts agree.
func checkTrace(t testing.TB, tr *Trace) {
	t.Helper()
	if tr.Len() == 0 && len(tr.Hand) == 0 {
		t.Fatal("an empty trace and no error")
	}
	if len(tr.Value) != tr.Len() || tr.Count != nil && len(tr.Count) != tr.Len() {
		t.Fatalf("got %d times, %d values, %d counts", tr.Len(), len(tr.Value), len(tr.Count))
	}
	last := 0.0
	for i, x := range tr.Time {
		if !isFinite(x) || !isFinite(tr.Value[i]) || x < last {
			t.Fatalf("point %d: %v s after %v, %v Pa", i, x, last, tr.Value[i])
		}
		if tr.Count != nil && tr.Count[i] < 1 {
			t.Fatalf("point %d: a mean of %d samples", i, tr.Count[i])
		}
		last = x
	}
	last = 0
	for i, h := range tr.Hand {
		if !isFinite(h.Time) || !isFinite(h.Value) || !isFinite(h.Spread) || !isFinite(h.TimeSpread) || h.Time < last {
			t.Fatalf("reading %d: %+v after %v s", i, h, last)
		}
		last = h.Time
	}
	f := tr.Faults
	for _, x := range []float64{f.LongestGap, f.Jitter, f.ClockBackBy, f.Interval, tr.Step} {
		if !isFinite(x) || x < 0 {
			t.Fatalf("faults %+v, step %v", f, tr.Step)
		}
	}
	if f.Rows < f.Dropped || f.Dropped > 0 != (f.FirstDropped > 0) || f.Dropped > 0 != (f.DroppedWhy != "") {
		t.Fatalf("faults do not agree: %+v", f)
	}
	if tr.Hand == nil && tr.Count == nil && f.Rows != f.Dropped+f.Spikes+tr.Len() {
		t.Fatalf("got %d points, faults %+v", tr.Len(), f)
	}
}

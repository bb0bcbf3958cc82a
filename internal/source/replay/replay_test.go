package replay

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/sourcetest"
	"seatproof/trace"
)

func file(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "trace #1.csv")
	if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(name, "#", "%23")
}

const short = "time (s),pressure abs (kPa)\n0,101.0\n0.1,90\n0.2,80\n0.3,70\n0.4,60\n"

func TestAsFastAsCanBe(t *testing.T) {
	s := sourcetest.Open(t, Kind(), "replay:"+file(t, short)+"#speed=0")
	m, stop := sourcetest.Run(t, s)
	sourcetest.Await(t, m, sourcetest.AtLeast(5))
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	x := m.Samples()
	if len(x) != 5 || x[4].Value != 60e3 || math.Abs(x[4].Clock-0.4) > 1e-12 {
		t.Errorf("got %+v", x)
	}
	if a := s.About(); a.Reads != trace.Absolute || math.Abs(a.Resolution-100) > 1e-6 {
		t.Errorf("about %+v", a)
	}
}

func TestSpeed(t *testing.T) {
	s := sourcetest.Open(t, Kind(), "replay:"+file(t, short)+"#speed=2")
	from := time.Now()
	var m source.Memory
	if err := s.Run(t.Context(), &m); err != nil {
		t.Fatal(err)
	}
	if d := time.Since(from).Seconds(); d < 0.2 || d > 2 {
		t.Errorf("0.4 s at twice the speed took %g s", d)
	}
	x := m.Samples()
	if got := x[4].At.Sub(x[0].At).Seconds(); math.Abs(got-0.2) > 1e-6 {
		t.Errorf("arrivals span %g s, want 0.2", got)
	}
}

func TestLoop(t *testing.T) {
	m, stop := sourcetest.Run(t, sourcetest.Open(t, Kind(), "replay:"+file(t, short)+"#speed=0,loop=yes"))
	sourcetest.Await(t, m, sourcetest.AtLeast(12))
	stop()
	x := m.Samples()
	for i := 1; i < len(x); i++ {
		if d := x[i].Clock - x[i-1].Clock; math.Abs(d-0.1) > 1e-9 {
			t.Fatalf("the clock went on by %g s at sample %d, want 0.1", d, i)
		}
	}
}

func TestNoTrace(t *testing.T) {
	for text, what := range map[string]string{
		"replay:no-such-file.csv":           "can't be opened",
		"replay:" + file(t, "nothing here"): "is no trace",
		"replay:" + file(t, "# hand readings\ntime (s),vacuum (kPa)\n0,60\n5,55\n"): "by eye",
	} {
		s := sourcetest.Open(t, Kind(), text)
		err := s.Run(t.Context(), &source.Memory{})
		var f *source.Fault
		if !errors.As(err, &f) || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v, want %q", text, err, what)
		}
	}
}

func TestFaults(t *testing.T) {
	sourcetest.Faults(t, Kind(), map[string]string{
		"replay:":                "names no file",
		"replay:x.csv#speed=-1":  "no speed",
		"replay:x.csv#loop=ever": "neither yes nor no",
	})
}

package stdin

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
	"seatproof/internal/source/sourcetest"
)

func read(t *testing.T, r io.Reader, options string) (*source.Memory, source.Source, error) {
	t.Helper()
	s := sourcetest.Open(t, KindOf(r), "stdin:"+options)
	var m source.Memory
	err := s.Run(t.Context(), &m)
	return &m, s, err
}

func TestReadsToTheEnd(t *testing.T) {
	var b strings.Builder
	b.WriteString("ms,vacuum_kPa\n")
	for i := range 5000 {
		fmt.Fprintf(&b, "%d,%.3f\n", i, 0.01*float64(i))
	}
	b.WriteString("5000,50.000") // without a line end
	m, s, err := read(t, strings.NewReader(b.String()), "")
	if err != nil {
		t.Fatal(err)
	}
	x := m.Samples()
	if len(x) != 5001 || x[5000].Value != 50000 || math.Abs(x[5000].Clock-5) > 1e-9 {
		t.Fatalf("got %d samples, the last %+v", len(x), x[len(x)-1])
	}
	if a := s.About(); a.Unit != "kPa" || a.Reads != "vacuum" {
		t.Errorf("about %+v", a)
	}
	for _, n := range m.Notices() {
		if n.Code != source.Connected {
			t.Error("told", n)
		}
	}
}

func TestShort(t *testing.T) {
	m, _, err := read(t, strings.NewReader("vac=50 kPa\nvac=51 kPa\n"), "")
	if err != nil || len(m.Samples()) != 2 {
		t.Fatal(len(m.Samples()), err)
	}
}

// Where the lines leave it open, the error says what to say, and why.
func TestAsks(t *testing.T) {
	for text, c := range map[string]struct{ options, key string }{
		"50\n51\n52\n":                      {"", "unit"},
		"50\n51\n53\n":                      {"#unit=kPa", "reads"},
		"12.1 21.5\n12.2 21.6\n12.4 21.5\n": {"", "value"},
		"0.51 V\n0.52 V\n0.6 V\n":           {"", "table"},
		"20\n21\n22\n":                      {"#value=1", "unit"},
		"":                                  {"", ""},
	} {
		_, _, err := read(t, strings.NewReader(text), c.options)
		var f *source.Fault
		if text == "" {
			if err != nil {
				t.Error("nothing at all:", err)
			}
			continue
		}
		if !errors.As(err, &f) || f.Key != c.key {
			t.Errorf("%q: got %v, want a fault of %s", text, err, c.key)
		}
		var u *lines.UnsureError
		if c.options != "#value=1" && (!errors.As(err, &u) || len(u.Candidates) == 0) {
			t.Errorf("%q: no ways are offered: %v", text, err)
		}
	}
}

// What a person says completes what was learned.
func TestAnswers(t *testing.T) {
	for text, options := range map[string]string{
		"50\n51\n52\n":            "#unit=kPa,reads=vacuum",
		"0.51 V\n0.52 V\n0.6 V\n": "#table=0.5 V = 0 kPa; 4.5 V = -100 kPa",
		"20\n21\n23\n":            "#value=1,unit=kPa,reads=vacuum",
		"v=20 kPa\nv=21 kPa\n":    "#value=v,reads=vacuum",
		"20;1\n21;7\n23;2\n":      "#value=1,unit=inHg vac",
	} {
		m, _, err := read(t, strings.NewReader(text), options)
		if err != nil || len(m.Samples()) < 2 {
			t.Errorf("%q with %s: %d samples, %v", text, options, len(m.Samples()), err)
		}
	}
}

func TestLearn(t *testing.T) {
	s := sourcetest.Open(t, KindOf(strings.NewReader("1,12.5\n2,12.6\n3,12.9\n")), "stdin:#unit=kPa")
	got, err := s.(source.Learner).Learn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if l := got[0]; l.Options["value"] != "2" || len(l.Ask) != 1 || l.Ask[0] != "reads" || len(l.Lines) != 3 {
		t.Errorf("got %+v", l)
	}
}

func TestFaults(t *testing.T) {
	sourcetest.Faults(t, Kind(), map[string]string{"stdin:file.csv": "replay"})
}

// A board that begins with a page of words is waited for.
func TestWordsFirst(t *testing.T) {
	r, w := io.Pipe()
	go func() {
		for i := range 30 {
			fmt.Fprintf(w, "mounting part %c: ok\n", 'a'+i%26)
		}
		for i := range 40 {
			fmt.Fprintf(w, "vac %.1f kPa\n", 20+0.1*float64(i))
		}
		w.Close()
	}()
	m, _, err := read(t, r, "")
	if err != nil || len(m.Samples()) != 40 {
		t.Errorf("%d samples of 40, %v", len(m.Samples()), err)
	}
}

package trace

import (
	"strings"
	"testing"
)

func readText(t *testing.T, text string) *Trace {
	t.Helper()
	tr, err := Read(strings.NewReader(text), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestSame(t *testing.T) {
	const a = "# port: 2 intake\ntime (s),vacuum (kPa)\n0,1\n1,70.5\n2,70.4\n"
	hand := func(started string) string {
		return "# hand readings\n# started: " + started + "\ntime (s),vacuum (inHg)\n0,21\n15,20.5\n"
	}
	for _, c := range []struct {
		name, a, b string
		want       bool
	}{
		{"itself", a, a, true},
		{"another remark, another unit of time", a, "# another name\ntime (ms),vacuum (kPa)\n0,1\n1000,70.5\n2000,70.4\n", true},
		{"another unit of vacuum", a, "time (s),vacuum (mbar)\n0,10\n1,705\n2,704\n", true},
		{"one sample differs", a, "time (s),vacuum (kPa)\n0,1\n1,70.5\n2,70.35\n", false},
		{"one sample more", a, "time (s),vacuum (kPa)\n0,1\n1,70.5\n2,70.4\n3,70.3\n", false},
		{"by eye, no start said", hand(""), hand(""), false},
		{"by eye, two starts", hand("10:00"), hand("10:05"), false},
		{"by eye, one start", hand("10:00"), hand("10:00"), true},
	} {
		if got := Same(readText(t, c.a), readText(t, c.b)); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestContradicts(t *testing.T) {
	full := Header{Rig: "bench", Port: "2 intake", Held: "thumb", Gauge: "G1", State: "dry", Seat: "A"}
	for _, c := range []struct {
		name  string
		other Header
		field string
	}{
		{"nothing said", Header{}, ""},
		{"the same, in other letters", Header{Rig: "Bench", Port: "2  Intake", Started: "later"}, ""},
		{"port", Header{Port: "3 intake", Gauge: "G2"}, "port"},
		{"held", Header{Held: "own-spring"}, "held"},
		{"gauge", Header{Gauge: "G2"}, "gauge"},
		{"state", Header{State: "oiled"}, "state"},
		{"seat", Header{Seat: "B"}, "seat"},
		{"rig", Header{Rig: "another"}, "rig"},
	} {
		field, here, there, ok := full.Contradicts(c.other)
		if field != c.field || ok != (c.field != "") || ok && (here == "" || there == "") {
			t.Errorf("%s: %q (%q, %q), want %q", c.name, field, here, there, c.field)
		}
	}
}

// Gauge, state and seat need a colon: "gauge read low today" is a remark.
func TestHeaderOfState(t *testing.T) {
	tr := readText(t, "# gauge: G1, 0..100 kPa\n# State = oiled\n# seat: cylinder 2, front\n# gauge: second\ntime (s),vacuum (kPa)\n0,1\n")
	if h := tr.Header; h.Gauge != "G1, 0..100 kPa" || h.State != "oiled" || h.Seat != "cylinder 2, front" || len(h.Others) != 1 {
		t.Errorf("got %+v", h)
	}
	var b strings.Builder
	if err := Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	if again := readText(t, b.String()).Header; again.Gauge != tr.Header.Gauge || again.State != tr.Header.State || again.Seat != tr.Header.Seat {
		t.Errorf("written and read: %+v, was %+v", again, tr.Header)
	}
	tr = readText(t, "# gauge read low today\n# seat cut in May\ntime (s),vacuum (kPa)\n0,1\n")
	if h := tr.Header; h.Gauge != "" || h.Seat != "" || len(h.Others) != 2 {
		t.Errorf("remarks: got %+v", h)
	}
}

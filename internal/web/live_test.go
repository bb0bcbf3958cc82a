package web

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/internal/source"
	"seatproof/leak"
)

func liveRunOfTwo() *LiveRun {
	return &LiveRun{ID: "r", Number: "EX-3", Plan: session.Plan{Ports: []session.Port{
		{ID: "p1", Name: "cylinder 3 intake", Limit: 4e-7, All: 8e-7}, {ID: "p2", Name: "cylinders 2 and 3 exhaust, left port", Limit: 4e-7},
	}, Known: &leak.Interval{Median: 1e-6, Low: 0.95e-6, High: 1.05e-6}}}
}

// Every code that a session says has its sentence, which is short and names the
// port it is about; and what is said aloud is made of recorded words alone.
func TestEveryCodeHasWords(t *testing.T) {
	b, err := os.ReadFile("assets/voice/words.txt")
	if err != nil {
		t.Fatal(err)
	}
	recorded := map[string]bool{}
	for w := range strings.FieldsSeq(string(b)) {
		recorded[w] = true
	}
	for i := range spokenNumbers { // figures have the clips of their words
		recorded[strconv.Itoa(i+1)] = true
	}
	phrases := map[string]bool{}
	for line := range strings.Lines(string(b)) {
		phrases[strings.TrimSpace(line)] = true
	}
	r, st := liveRunOfTwo(), report.Style{Unit: report.KPa}
	check := func(what string, all []LiveSaid) {
		t.Helper()
		if len(all) == 0 {
			t.Errorf("%s has no words", what)
		}
		for _, x := range all {
			if x.Code == "" || x.Words == "" || len(x.Words) > 120 || strings.Contains(x.Words, "  ") || strings.Contains(x.Words, "%!") {
				t.Errorf("%s: %+v", what, x)
			}
			if phrases[x.Speak] {
				continue
			}
			for w := range strings.FieldsSeq(strings.ReplaceAll(x.Speak, ",", " ")) {
				if !recorded[w] {
					t.Errorf("%s is spoken %q: of %q there is no clip", what, x.Speak, w)
				}
			}
		}
	}
	for _, c := range session.SayCodes() {
		for _, port := range []string{"p1", "p2", string(session.OnBlank), string(session.OnKnown)} {
			s := session.Say{Code: c, Port: port, To: "p2", Test: 3, Source: "bench gauge", Figures: map[string]float64{"vacuum": 73.4e3, "low": 1e-8, "high": 2e-8, "age": 2, "away": 30, "count": 4}}
			check(string(c), sayWords(r, s, st))
			for _, d := range []string{string(session.Again), string(session.Decided), string(session.TimeIsUp), string(session.ShutOff), string(source.Lost), string(leak.NoHold)} {
				s.Detail = d
				check(string(c)+" "+d, sayWords(r, s, st))
			}
		}
	}
	for _, s := range []float64{0, 5, 10, 15, 20, 25} {
		check("call", sayWords(r, session.Call{Seconds: s, Vacuum: 70e3}, st))
	}
	check("pump-too-long", sayWords(r, session.PumpTooLong{Port: "p1", For: 61, Times: 1}, st))
	f := session.Filed{Test: 1, Port: "p1", Estimate: &session.Estimate{Leak: &leak.Interval{Median: 1.6e-7, Low: 1.5e-7, High: 1.7e-7}, Limit: 4e-7, OverAgain: 0.001}}
	got := sayResult(r, &f)
	check("read", []LiveSaid{got})
	if got.Words != "Cylinder 3 intake: holds, 9.6 cm³/min." || got.Speak != "cylinder 3 intake, holds" {
		t.Errorf("a result is said as %+v", got)
	}
	if got := sayWords(r, session.Say{Code: session.SayPutOn, Port: "p1"}, st)[0]; got.Words != "Cylinder 3 intake: plate on, then pump on." {
		t.Errorf("put on: %q", got.Words)
	}
	for _, c := range source.Codes() {
		if session.TroubleWords(string(c)) == "" {
			t.Errorf("%s has no words", c)
		}
	}
}

// A vacuum is written to its gauge's own step, and no finer than is read.
func TestVacuumText(t *testing.T) {
	in := func(name string) report.Style {
		u, ok := report.UnitNamed(name)
		if !ok {
			t.Fatal(name)
		}
		return report.Style{Unit: u}
	}
	for _, c := range []struct {
		v, step float64
		unit    string
		want    string
	}{
		{73412, 100, "kPa", "73.4"}, {73412, 0, "kPa", "73.4"}, {73412, 1, "kPa", "73.41"}, {73412, 1000, "kPa", "73"}, {73412, 50, "kPa", "73.41"},
		{73412, 100, "mbar", "734"}, {73412, 1, "mbar", "734.1"}, {73412, 100, "inHg", "21.68"}, {-20, 100, "kPa", "0.0"}, {-20, 1, "kPa", "-0.02"},
	} {
		if got := vacuumText(c.v, c.step, in(c.unit)); got != c.want {
			t.Errorf("%g Pa in steps of %g: %s %s, want %s", c.v, c.step, got, c.unit, c.want)
		}
	}
}

// What an estimate comes to: by one valve's limit it holds, by that of all it
// leaks.
func TestEstimateWords(t *testing.T) {
	r := liveRunOfTwo()
	i := &leak.Interval{Median: 5e-7, Low: 4e-7, High: 6e-7}
	for _, c := range []struct {
		e    session.Estimate
		want report.State
	}{
		{session.Estimate{}, report.Refused},
		{session.Estimate{Leak: i}, report.NoVerdict},
		{session.Estimate{Leak: i, Limit: 4e-7, OverAgain: 0.04}, report.Holds},
		{session.Estimate{Leak: i, Limit: 4e-7, OverAgain: 0.97, OverAll: 0.5}, report.CantTellYet},
		{session.Estimate{Leak: i, Limit: 4e-7, OverAgain: 1, OverAll: 0.97}, report.Leaks},
		{session.Estimate{Leak: i, Limit: 4e-7, OverAgain: 1, OverAll: 0.97, UpperOnly: true}, report.CantTellYet},
	} {
		if got, _, _ := estimateWords(r, "p1", &c.e); got != c.want {
			t.Errorf("%+v: %s, want %s", c.e, got, c.want)
		}
	}
}

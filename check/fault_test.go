package check_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/internal/study"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Every fault has a name, what is seen and what to do, and a rule that finds it.
func TestFaultWords(t *testing.T) {
	names := map[string]check.FaultCode{}
	for _, c := range check.FaultCodes {
		w := check.WordsOf(c)
		if w.Name == "" || w.Seen == "" || w.Do == "" {
			t.Errorf("%s: %+v, want name, what is seen and what to do", c, w)
			continue
		}
		for _, s := range []string{w.Seen, w.Do} {
			if !strings.HasSuffix(s, ".") || strings.ToUpper(s[:1]) != s[:1] {
				t.Errorf("%s: %q is no sentence", c, s)
			}
		}
		if was, twice := names[w.Name]; twice {
			t.Errorf("%s and %s are both called %q", was, c, w.Name)
		}
		names[w.Name] = c
		if !check.HasRule(c) {
			t.Errorf("%s: no rule finds it", c)
		}
	}
}

// A short form of the study in docs/accuracy.md: most days with a fault are
// called by its name, and few sound days are called at all.
func TestFaultsAreFound(t *testing.T) {
	n, sound, least := 8, 60, 5
	if testing.Short() {
		n, sound, least = 1, 3, 0 // the long form counts them
	}
	c := study.CountFaults(n, sound, 99)
	if c.Err != nil {
		t.Fatal(c.Err)
	}
	for _, f := range check.FaultCodes {
		row := c.Count[f]
		total := 0
		for _, k := range row {
			total += k
		}
		if total != n {
			t.Errorf("%s: %d days counted, want %d", f, total, n)
		}
		want := least
		if f == check.FaultMoisture || f == check.FaultPad { // the faintest of them
			want = least / 2
		}
		if row[f] < want {
			t.Errorf("%s: called right on %d of %d days, want %d: %v", f, row[f], n, want, row)
		}
	}
	if false := sound - c.Count[""][""]; false > sound/30 {
		t.Errorf("%d of %d sound days called: %v", false, sound, c.Count[""])
	}
}

// What a fault is told with holds its figures, so that a screen can write them in
// its own unit.
func TestFaultEvidence(t *testing.T) {
	for _, f := range []check.FaultCode{check.FaultOffset, check.FaultFitting, check.FaultValves} {
		d, err := study.DrawDay(f, rand.New(rand.NewPCG(3, 3)))
		if err != nil {
			t.Fatal(err)
		}
		found := check.FindFault(d)
		if len(found) == 0 || found[0].Code != f {
			t.Errorf("%s: found %v", f, found)
			continue
		}
		got := found[0]
		if got.Strength < 1 || len(got.Evidence) == 0 || got.Do == "" || got.Name == "" {
			t.Errorf("%s: %+v", f, got)
		}
		for _, s := range got.Evidence {
			if strings.Count(s.Text, "{}") != len(s.Figures) || strings.Contains(s.String(), "{}") {
				t.Errorf("%s: evidence %q has %d figures", f, s.Text, len(s.Figures))
			}
		}
	}
}

// Without a memory the rig's own figures stand in: an offset and a weeping
// fitting are still found; nothing is said of a pump nobody timed.
func TestFaultWithoutMemory(t *testing.T) {
	for _, f := range []check.FaultCode{check.FaultOffset, check.FaultFitting} {
		d, err := study.DrawDay(f, rand.New(rand.NewPCG(3, 3)))
		if err != nil {
			t.Fatal(err)
		}
		d.Before = nil
		if found := check.FindFault(d); len(found) == 0 || found[0].Code != f {
			t.Errorf("%s: found %v", f, found)
		}
	}
	d, err := study.DrawDay(check.FaultPump, rand.New(rand.NewPCG(3, 3)))
	if err != nil {
		t.Fatal(err)
	}
	d.Before = nil
	for _, f := range check.FindFault(d) {
		if f.Code == check.FaultPump || f.Code == check.FaultHose {
			t.Errorf("%s told of a pump that nobody timed before", f.Code)
		}
	}
}

// Recordings that can't be taken apart tell nothing, and hurt nothing.
func TestFaultOfNothing(t *testing.T) {
	flat := &trace.Trace{Kind: trace.Vacuum}
	for i := range 100 {
		flat.Time, flat.Value = append(flat.Time, float64(i)/10), append(flat.Value, 50)
	}
	odd := &trace.Trace{Kind: trace.Vacuum, Time: []float64{0, 1, 2}, Value: []float64{0, math.Inf(1), 0}}
	r := rig.Rig{Volume: unit.About(60e-6, 5e-6)}
	for _, d := range []check.Day{{}, {Rig: r, Pulls: []check.Pulled{{On: check.OnABlank}, {On: check.OnABlank, Trace: flat}, {On: check.OnAPort, Trace: odd}}}} {
		if found := check.FindFault(d); len(found) != 0 {
			t.Errorf("%+v: found %v", d, found)
		}
	}
	if m := check.Remember(check.Day{Rig: r}); m != nil {
		t.Errorf("remembered %+v of nothing", m)
	}
}

func BenchmarkFindFault(b *testing.B) {
	d, err := study.DrawDay("", rand.New(rand.NewPCG(5, 1)))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		check.FindFault(d)
	}
}

func BenchmarkMakeCard(b *testing.B) {
	for b.Loop() {
		if _, err := check.MakeCard(check.CardJob{Rig: bench(), Ports: twoValves()}); err != nil {
			b.Fatal(err)
		}
	}
}

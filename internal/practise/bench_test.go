package practise

import (
	"math"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/leak"
	"seatproof/trace"
	"seatproof/unit"
)

func eightPorts(t *testing.T) head.Job {
	t.Helper()
	j, f := head.Layout(head.Scheme{Form: head.FormInline, Cylinders: 4, Valves: 4, Bore: unit.Exactly(0.08)})
	if err := f.Err(); err != nil {
		t.Fatal(err)
	}
	return j
}

// record tests what the plate is on once, as a person does, and returns the trace.
func record(t *testing.T, b *Bench, from float64, on string, hold float64) (*trace.Trace, float64) {
	t.Helper()
	tr := &trace.Trace{Kind: trace.Vacuum, Step: 50}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(b.Put(from, on))
	at := from
	run := func(s float64) {
		for end := at + s; at < end; at += 1 / b.Rate() {
			tr.Time, tr.Value = append(tr.Time, at-from), append(tr.Value, b.Shown(at))
		}
	}
	run(2)
	must(b.Pump(at))
	run(6)
	must(b.ShutOff(at))
	run(hold)
	must(b.Vent(at))
	run(2)
	return tr, at
}

// A make-believe test reads as what it was made from: nothing here shares code
// with the estimator but the forward model.
func TestBenchReadsAsMade(t *testing.T) {
	j := eightPorts(t)
	b, err := New(Setup{Ports: HeadOf(&j, 3), Seed: 3, Scatter: 1e-9})
	if err != nil {
		t.Fatal(err)
	}
	at, within := 0.0, 0
	for _, p := range j.Ports {
		r := Stated()
		for _, q := range b.set.Ports {
			if q.ID == p.ID {
				r.Port.Volume = unit.About(q.Volume, 0.05*q.Volume)
			}
		}
		var tr *trace.Trace
		tr, at = record(t, b, at, p.ID, 25)
		got := leak.Read(tr, r, leak.Options{})
		if got.Leak == nil {
			t.Errorf("%s: no answer: %+v", p.ID, got.Refusal)
			continue
		}
		if want := b.Leak(p.ID); want >= got.Leak.Low && want <= got.Leak.High {
			within++
		} else {
			t.Logf("%s: leak %.3g, read %.3g to %.3g cm³/min", p.ID, want/cm3min, got.Leak.Low/cm3min, got.Leak.High/cm3min)
		}
	}
	// 95 % intervals: 6 of 8 and more in 99.4 % of heads (binomial)
	if within < 6 {
		t.Errorf("the leak lies in its interval at %d of 8 ports", within)
	}
}

func TestBlankAndKnownLeak(t *testing.T) {
	b, err := New(Setup{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	r := Stated()
	r.Port.Volume = unit.About(2e-6, 0.5e-6)
	r.RigLeak = unit.Exactly(0)
	tr, at := record(t, b, 0, Blank, 40)
	if got := leak.Read(tr, r, leak.Options{}); got.Leak == nil || got.Leak.Low > rigLeak || got.Leak.High < rigLeak {
		t.Errorf("blank: %+v, the rig leaks %g", got.Leak, rigLeak)
	}
	tr, _ = record(t, b, at, KnownLeak, 15)
	if got := leak.Read(tr, r, leak.Options{}); got.Leak == nil || got.Leak.Low > knownFlow+rigLeak || got.Leak.High < knownFlow+rigLeak {
		t.Errorf("known leak: %+v, it is %g", got.Leak, knownFlow)
	}
}

// Every fault changes what is shown, and only it: same seed, same trace else.
func TestFaultsShow(t *testing.T) {
	j := eightPorts(t)
	ports := HeadOf(&j, 5)
	base, err := New(Setup{Ports: ports, Seed: 9})
	if err != nil {
		t.Fatal(err)
	}
	want, _ := record(t, base, 0, "p2", 30)
	for _, k := range Faults() {
		if k.Line {
			continue
		}
		f, err := ParseFault(k.Name)
		if err != nil {
			t.Fatal(err)
		}
		if k.Name == LeakingValve {
			f.Port = ports[1].Valves[0].ID
		}
		b, err := New(Setup{Ports: ports, Seed: 9, Faults: []Fault{f}})
		if err != nil {
			t.Fatal(err)
		}
		far := 0.0
		for range 4 { // a plate sits every other time
			got, _ := record(t, b, b.now, "p2", 30)
			for i := range min(len(want.Value), len(got.Value)) {
				far = math.Max(far, math.Abs(got.Value[i]-want.Value[i]))
			}
			if k.Name != PlateNotSeated {
				break
			}
		}
		if far < 300 {
			t.Errorf("%s: moves the gauge by %.0f Pa only", k.Name, far)
		}
	}
	same, _ := New(Setup{Ports: ports, Seed: 9})
	again, _ := record(t, same, 0, "p2", 30)
	for i := range want.Value {
		if want.Value[i] != again.Value[i] {
			t.Fatal("the same seed gave another trace")
		}
	}
}

func TestParseFault(t *testing.T) {
	for _, c := range []struct {
		text string
		want Fault
		err  string
	}{
		{"wet-port", Fault{WetPort, "", 1.0 / 60}, ""},
		{"tired-pump=0.2", Fault{TiredPump, "", 0.2}, ""},
		{"plate-not-seated=50@p3", Fault{PlateNotSeated, "p3", 50 * cm3min}, ""},
		{"leaking-valve=300@v2", Fault{LeakingValve, "v2", 300 * cm3min}, ""},
		{"wet-prot", Fault{}, "did you mean wet-port"},
		{"tired-pump=much", Fault{}, "no figure above zero"},
		{"tired-pump=-1", Fault{}, "no figure above zero"},
	} {
		got, err := ParseFault(c.text)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: error %v, want one with %q", c.text, err, c.err)
			}
		} else if err != nil || got != c.want {
			t.Errorf("%s: got %+v, %v, want %+v", c.text, got, err, c.want)
		} else if again, err := ParseFault(got.String()); err != nil || again.Name != got.Name || again.Port != got.Port || math.Abs(again.Strength/got.Strength-1) > 1e-5 {
			t.Errorf("%s: is written as %s, which reads as %+v, %v", c.text, got, again, err)
		}
	}
}

// A leak is put on the valve that is named, and on no other; the ports that were
// handed in stay as they were.
func TestLeakingValve(t *testing.T) {
	j := eightPorts(t)
	ports := HeadOf(&j, 1)
	was := ports[2].Valves[1].Leak
	at := ports[2].Valves[1].ID
	b, err := New(Setup{Ports: ports, Seed: 1, Faults: []Fault{{LeakingValve, at, 500 * cm3min}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range ports {
		want := 0.0
		for _, v := range p.Valves {
			if want += v.Leak; v.ID == at {
				want += 500*cm3min - v.Leak
			}
		}
		if got := b.Leak(p.ID); math.Abs(got-want) > 1e-9*want {
			t.Errorf("%s leaks %g, want %g m³/s", p.ID, got, want)
		}
	}
	if ports[2].Valves[1].Leak != was {
		t.Error("the caller's ports were changed")
	}
	if _, err := New(Setup{Ports: ports, Seed: 1, Faults: []Fault{{LeakingValve, "v99", 500 * cm3min}}}); err == nil {
		t.Error("a valve that is not there was taken")
	}
	drawn, err := New(Setup{Ports: ports, Seed: 1, Faults: []Fault{{LeakingValve, "", 5000 * cm3min}}})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range ports {
		if drawn.Leak(p.ID) > 4000*cm3min {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d ports leak, want one", n)
	}
}

// The operator walks a head of eight ports, blank and known leak first, and
// repeats every third; no step is left out.
func TestOperator(t *testing.T) {
	j := eightPorts(t)
	b, err := New(Setup{Ports: HeadOf(&j, 1), Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	o := NewOperator(b, 1)
	order := []string{Blank, KnownLeak}
	for _, p := range j.Ports {
		order = append(order, p.ID)
	}
	at, filed, tests := 0, 0, map[string]int{}
	wasPulled, tm := false, 0.0
	for ; at < len(order) && tm < 1200; tm += 0.05 {
		press, err := o.Step(tm, Prompt{On: order[at], Filed: filed})
		if err != nil {
			t.Fatal(err)
		}
		b.Shown(tm)
		if b.Vacuum() > 30e3 {
			wasPulled = true
		}
		if wasPulled && b.Vented() { // the session would file it now
			wasPulled = false
			filed++
			tests[order[at]]++
		}
		if press == PressNext {
			at++
		}
	}
	if at != len(order) {
		t.Fatalf("after %.0f s at %d of %d", tm, at, len(order))
	}
	for i, on := range order {
		want := 1
		if i >= 2 && (i-1)%3 == 0 {
			want = 2
		}
		if tests[on] != want {
			t.Errorf("%s: %d tests, want %d", on, tests[on], want)
		}
	}
}

package session

import (
	"slices"
	"testing"

	"seatproof/trace"
)

// shut is a person who presses the key when the pump is shut off.
func (b *bench) shut() func(*invented, float64) {
	done := false
	return func(v *invented, at float64) {
		if !done && at >= v.off+0.3 {
			done = true
			b.key(ShutOff, "")
		}
	}
}

// A whole run: the blank holds, the known leak is called leaking and right,
// ports stay on the plate until told to go on, each is named before and after
// its pull, a test filed under the wrong port is moved, and the last port is
// said to be the last.
func TestRun(t *testing.T) {
	b := newBench(t, benchPlan())
	if got := b.said(0); !slices.Equal(got, []SayCode{SayPutOn}) {
		t.Errorf("begin: said %v", got)
	}
	b.key(Next, "")
	if got := b.said(1); !slices.Equal(got, []SayCode{SayCheckFirst}) {
		t.Errorf("next before the blank: said %v", got)
	}
	at := len(b.did)
	b.pull(0.3, 60, 30, b.shut())
	if got := b.s.View().Check; got.Blank != Passed || got.RigLeak == nil {
		t.Errorf("a blank of 0.3 cm³/min by a limit of 20: %+v, said %v", got, b.said(at))
	}
	b.key(Next, "")
	at = len(b.did)
	b.pull(100.3, 60, 20, nil)
	if got := b.s.View().Check; got.Known != Passed {
		t.Errorf("a known leak of 100 cm³/min: %+v, said %v", got, b.said(at))
	}
	b.key(Next, "")
	if v := b.s.View(); v.Stage != OnPorts || v.Target != "p1" || v.Next != "p2" {
		t.Fatalf("after the checks: %+v", v)
	}
	at = len(b.did)
	b.pull(5, 155, 30, nil)
	b.pull(6, 155, 30, nil) // again, by itself: it stays there
	f := b.files(at)
	if len(f) != 2 || f[0].Port != "p1" || f[1].Port != "p1" || len(f[0].Traces) != 2 {
		t.Fatalf("two pulls of p1: filed %+v, said %v", f, b.said(at))
	}
	for i, x := range f {
		tr := x.Traces[0]
		ph := trace.FindPhases(tr, trace.PhaseOptions{})
		if tr.Header.Port != "cylinder 1 intake" || !ph.Vented || len(ph.List) < 4 {
			t.Errorf("trace %d of p1: header %+v, phases %+v", i, tr.Header, ph.List)
		}
		if two := x.Traces[1]; two.Kind != trace.Absolute || two.Len() < tr.Len()-2 || two.Len() > tr.Len()+2 {
			t.Errorf("second gauge: %s, %d points beside %d", two.Kind, two.Len(), tr.Len())
		}
	}
	b.key(Refile, "p2")
	if v := b.s.View(); v.Filed[3].Port != "p2" || !slices.Equal(v.Filed[3].Moved, []string{"p1"}) {
		t.Errorf("refiled: %+v", v.Filed[3])
	}
	b.key(Next, "")
	b.key(Next, "")
	want := []SayCode{SayPulling, SayShutOffNow, SayThatWillDo, SayFiled, SayPulling, SayShutOffNow, SayThatWillDo, SayFiled, SayRefiled, SayPutOn, SayLastPort}
	if got := b.said(at); !slices.Equal(got, want) {
		t.Errorf("said\n%v, want\n%v", got, want)
	}
	b.key(GoTo, "p1")
	b.key(GoTo, "nowhere")
	b.key(Again, "")
	b.key(Finish, "")
	b.key(Next, "")
	if got, want := b.said(len(b.did)-6), []SayCode{SayPutOn, SayNoSuchPort, SayPutOn, SayDone, SayNotNow}; !slices.Equal(got[len(got)-5:], want) {
		t.Errorf("said %v, want %v", got, want)
	}
}

// A blank that leaks and a known leak that reads wrong are said so, and hold
// the run until they are skipped, which the tests after that carry.
func TestChecksFailAndAreSkipped(t *testing.T) {
	b := newBench(t, benchPlan())
	b.pull(6, 60, 30, nil)
	if c := b.s.View().Check; c.Blank != Failed {
		t.Errorf("a blank of 6 cm³/min by a limit of 20: %+v", c)
	}
	b.key(Next, "")
	if b.s.stage != OnBlank {
		t.Error("next went on from a blank that leaks")
	}
	b.key(Skip, "")
	at := len(b.did)
	b.pull(60, 60, 20, nil)
	if c := b.s.View().Check; c.Known != Failed || !slices.Contains(b.said(at), SayKnownLow) {
		t.Errorf("a known leak of 100 that passes 60 cm³/min: %+v, said %v", c, b.said(at))
	}
	b.pull(8, 60, 20, nil)
	if !slices.Contains(b.said(at), SayKnownNotAbove) {
		t.Errorf("a known leak no larger than the blank: said %v", b.said(at))
	}
	b.key(Skip, "")
	at = len(b.did)
	b.pull(5, 155, 20, nil)
	f := b.files(at)
	if len(f) != 1 || f[0].Check.Blank != Skipped || f[0].Check.Known != Failed && f[0].Check.Known != Skipped {
		t.Errorf("a test after skipped checks: %+v", f)
	}
}

// Without a known leak the check is left out and said so.
func TestNoKnownLeak(t *testing.T) {
	p := benchPlan()
	p.Known = nil
	b := newBench(t, p)
	b.key(Skip, "")
	if v := b.s.View(); v.Stage != OnPorts || v.Check.Known != NoMeans || !slices.Contains(b.said(0), SayNoKnownLeak) {
		t.Errorf("%+v, said %v", v, b.said(0))
	}
}

// Walking away with the pump on is noticed, and again; a port that is vented
// without a pull is nothing.
func TestPumpLeftOn(t *testing.T) {
	b := newBench(t, benchPlan())
	b.key(Skip, "")
	b.key(Skip, "")
	v := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, flow: 5 * cm3min, volume: 155e-6, pa: benchPa, on: 2}
	v.simulate(t, b.r, 10e-3/60, 77e3, 8)
	// stretch the steady reading by a minute and a half
	k := int(v.off*v.rate) - 50
	level := slices.Clone(v.value[k : k+50])
	for i := range level { // the same second again and again
		level[i] = v.value[k+i]
	}
	var long []float64
	for range 90 {
		long = append(long, level...)
	}
	v.value = slices.Insert(v.value, k, long...)
	v.time = v.time[:0]
	for i := range v.value {
		v.time = append(v.time, float64(i)/v.rate)
	}
	b.play(v, nil)
	var got []PumpTooLong
	for _, a := range b.did {
		if p, ok := a.(PumpTooLong); ok {
			got = append(got, p)
		}
	}
	if len(got) != 3 || got[0].For < 45 || got[0].For > 45.2 || got[2].Times != 3 || got[2].For > 85.2 {
		t.Errorf("pump left on for a minute and a half: %+v", got)
	}
	if f := b.files(0); len(f) != 1 {
		t.Errorf("filed %+v", f)
	}

	at := len(b.did)
	quiet := Samples{Source: 0}
	for i := range 400 {
		x := 0.0
		if i > 150 && i < 200 {
			x = 1500 // the plate was pressed down
		}
		quiet.At, quiet.Value = append(quiet.At, b.now+float64(i)*0.02), append(quiet.Value, x+float64(i%3)*10)
	}
	b.give(quiet)
	if f := b.files(at); len(f) != 0 || !slices.Contains(b.said(at), SayNothingPulled) {
		t.Errorf("a plate pressed down: filed %+v, said %v", f, b.said(at))
	}
}

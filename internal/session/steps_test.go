package session

import (
	"slices"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
)

// checkPlan is a check of a rig of which nothing is known: the open gauge, three
// blanked readings, a hold on the blank, and two known leaks.
func checkPlan() Plan {
	p := benchPlan()
	p.Ports, p.Known, p.Rig = nil, nil, rig.Rig{Name: "bare"}
	known := []KnownLeak{
		{Name: "small jet", Flow: leak.Interval{Low: 95 * cm3min, Median: 100 * cm3min, High: 105 * cm3min}},
		{Name: "large jet", Flow: leak.Interval{Low: 900 * cm3min, Median: 1000 * cm3min, High: 1100 * cm3min}},
	}
	p.Steps = []CheckStep{
		{ID: "zero", On: Open, Hold: 6},
		{ID: "blanked", On: Blanked, Tests: 3},
		{ID: "rig-leak", On: Blanked, Hold: 12},
		{ID: "curve", On: OnAKnown, Known: known},
	}
	return p
}

// stand lets the gauge stand open to the room for so long [s].
func (b *bench) stand(long float64) {
	v := &invented{kind: trace.Vacuum, rate: 50}
	for i := 0; float64(i) < long*50; i++ {
		v.time = append(v.time, float64(i)/50)
		v.value = append(v.value, 120+10*float64(i%3))
		v.bare, v.true = append(v.bare, 120), append(v.true, 0)
	}
	b.play(v, nil)
}

// A check of a rig goes through its steps: the zero is filed by itself once the
// gauge has stood, each pull counts towards its step, a step without a hold asks
// to be vented, known leaks come one after the other, and the last step ends it.
func TestCheckSteps(t *testing.T) {
	b := newBench(t, checkPlan())
	b.key(Next, "")
	if !slices.Contains(b.said(0), SayCheckFirst) {
		t.Errorf("next before the zero: said %v", b.said(0))
	}
	b.stand(9)
	f := b.files(0)
	if len(f) != 1 || f[0].Port != "zero" || f[0].Held != 0 {
		t.Fatalf("the open gauge: filed %+v, said %v", f, b.said(0))
	}
	if tr := f[0].Traces[0]; tr.Len() < 250 || tr.Time[tr.Len()-1] < 5.5 {
		t.Errorf("the zero's trace: %d samples over %g s, want 6 s", tr.Len(), tr.Time[tr.Len()-1])
	}
	b.key(Next, "")
	at := len(b.did)
	for range 3 {
		b.pull(0.3, 60, 0.05, nil)
	}
	if f = b.files(at); len(f) != 3 || f[2].Port != "blanked" {
		t.Fatalf("three blanked readings: filed %+v, said %v", f, b.said(at))
	}
	for i, x := range f {
		tr := x.Traces[0]
		if high := slices.Max(tr.Value); high < 75e3 || high > 79e3 {
			t.Errorf("blanked reading %d: %g Pa at most, want 77 kPa", i, high)
		}
	}
	said := b.said(at)
	if n := count(said, SayVentNow); n != 3 || count(said, SayStepDone) != 1 || count(said, SayShutOffNow) != 0 {
		t.Errorf("three blanked readings: said %v", said)
	}
	b.key(Next, "")
	at = len(b.did)
	b.pull(0.3, 60, 14, b.shut())
	if said = b.said(at); count(said, SayThatWillDo) != 1 || count(said, SayStepDone) != 1 {
		t.Errorf("the hold on the blank: said %v", said)
	}
	b.key(Next, "")
	if v := b.s.View(); v.Target != "curve" || v.Steps[3].Known != 1 || v.Steps[3].Wanted != 2 || !v.Steps[3].Here || v.Next != "" {
		t.Errorf("at the known leaks: %+v", v)
	}
	b.pull(100, 60, 0.05, nil)
	b.key(Again, "") // the first one did not sit
	at = len(b.did)
	b.pull(100, 60, 0.05, nil)
	if said := b.said(at); !slices.Contains(said, SayPutOn) || slices.Contains(said, SayStepDone) {
		t.Errorf("after the first known leak, put on twice: said %v, want the second asked for", said)
	}
	at = len(b.did)
	b.pull(1000, 60, 0.05, nil)
	if said := b.said(at); !slices.Contains(said, SayStepDone) {
		t.Errorf("after the last known leak: said %v", said)
	}
	var known []int
	for _, x := range b.s.View().Filed {
		if x.Port == "curve" {
			known = append(known, x.Known)
		}
	}
	if !slices.Equal(known, []int{1, 1, 2}) {
		t.Errorf("known leaks under the plate: %v, want 1 1 2", known)
	}
	b.key(Next, "")
	if v := b.s.View(); v.Stage != Over {
		t.Errorf("after the last step: stage %q", v.Stage)
	}
}

// Any step can be left out and gone back to; switching the pump on leaves the
// open gauge's.
func TestCheckStepsLeftOut(t *testing.T) {
	b := newBench(t, checkPlan())
	b.stand(3)
	b.pull(0.3, 60, 0.05, nil)
	v := b.s.View()
	if f := b.files(0); len(f) != 1 || f[0].Port != "blanked" || !v.Steps[0].Skipped {
		t.Errorf("pumped in the zero's step: filed %+v, steps %+v", f, v.Steps)
	}
	b.key(Skip, "") // it has a reading: that stays
	b.key(Skip, "")
	v = b.s.View()
	if v.Target != "curve" || v.Steps[1].Skipped || !v.Steps[2].Skipped {
		t.Errorf("after two steps left out: %+v", v)
	}
	b.key(GoTo, "zero")
	b.stand(9)
	v = b.s.View()
	if v.Target != "zero" || v.Steps[0].Made != 1 || v.Steps[0].Skipped {
		t.Errorf("back at the zero: %+v", v)
	}
	b.key(GoTo, "nowhere")
	b.key(Skip, "")
	b.key(Finish, "")
	if v = b.s.View(); v.Stage != Over || v.Steps[0].Made != 1 {
		t.Errorf("ended: %+v", v)
	}
}

func count(said []SayCode, code SayCode) (n int) {
	for _, c := range said {
		if c == code {
			n++
		}
	}
	return n
}

package session

import (
	"math"
	"slices"
	"testing"

	"seatproof/internal/source"
	"seatproof/trace"
)

// onPorts is a bench past its checks.
func onPorts(t *testing.T) *bench {
	t.Helper()
	b := newBench(t, benchPlan())
	b.key(Skip, "")
	b.key(Skip, "")
	return b
}

// once returns a between that runs f at a time after the shut-off.
func once(after float64, f func()) func(*invented, float64) {
	done := false
	return func(v *invented, at float64) {
		if !done && at >= v.off+after {
			done = true
			f()
		}
	}
}

// A source that is lost in the hold is said and shows no figure; what it gave
// is kept, it is welcomed back, and the test is filed with what it told.
func TestSourceLost(t *testing.T) {
	b := onPorts(t)
	at := len(b.did)
	v := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, lag: 0.05, flow: 10 * cm3min, volume: 155e-6, pa: benchPa, on: 2}
	v.simulate(t, b.r, 10e-3/60, 77e3, 25)
	// the wire is off for three seconds of the hold
	var keepT, keepV []float64
	gone := v.off + 8
	for i, x := range v.time {
		if x < gone || x > gone+3 {
			keepT, keepV = append(keepT, x), append(keepV, v.value[i])
		}
	}
	v.time, v.value = keepT, keepV
	from := b.now + 0.02
	lost := false
	b.play(v, func(v *invented, x float64) {
		if !lost && x >= gone-0.05 {
			lost = true
			b.give(Notice{At: from + gone, Source: 0, Code: source.Lost, Detail: "unplugged", Count: 1})
			b.give(Tick{At: from + gone + 0.1})
			if g := b.s.View().Gauges[0]; g.Vacuum != nil || g.Shown != nil || g.Error != "lost" || g.Trouble != source.Lost || g.Age == nil {
				t.Errorf("while it is lost: %+v", g)
			}
			b.give(Tick{At: from + gone + 2})
			b.give(Notice{At: from + gone + 2.9, Source: 0, Code: source.Connected, Count: 1})
		}
	})
	g := b.s.View().Gauges[0]
	if g.Error != "" || g.Vacuum == nil || g.Trouble != "" || g.Troubles[source.Lost] != 1 {
		t.Errorf("when it is back: %+v", g)
	}
	said := b.said(at)
	if !slices.Contains(said, SayTrouble) || !slices.Contains(said, SayBack) {
		t.Errorf("said %v", said)
	}
	f := b.files(at)
	if len(f) != 1 || f[0].Troubles[source.Lost] != 1 || f[0].Traces[0].Faults.Gaps != 1 || f[0].Interrupted {
		t.Fatalf("filed %+v", f)
	}
	if e := b.s.View().Filed[0].Estimate; e == nil || e.Leak == nil || e.Leak.Low > v.flow || e.Leak.High < v.flow {
		t.Errorf("read %+v, want %.3g", e, v.flow)
	}
}

// A reading that is too old is an error and never shown, whatever the source
// says of itself; the state says so without any event but time.
func TestStale(t *testing.T) {
	b := onPorts(t)
	b.give(Samples{Source: 0, At: []float64{1, 1.1}, Value: []float64{10, 20}})
	if g := b.s.View().Gauges[0]; g.Shown == nil || *g.Shown != 20 || g.Error != "" {
		t.Errorf("fresh: %+v", g)
	}
	if g := b.s.View().Gauges[1]; g.Error != "nothing-yet" || g.Shown != nil || g.Age != nil {
		t.Errorf("a source that gave nothing: %+v", g)
	}
	at := len(b.did)
	b.give(Tick{At: 2.2})
	b.give(Tick{At: 9})
	if g := b.s.View().Gauges[0]; g.Error != "stale" || g.Shown != nil || g.Vacuum != nil || *g.Age != 9-1.1 {
		t.Errorf("old: %+v", g)
	}
	if got := b.said(at); !slices.Equal(got, []SayCode{SayStale}) {
		t.Errorf("said %v", got)
	}
	b.give(Samples{Source: 0, At: []float64{9.5}, Value: []float64{30}})
	if g := b.s.View().Gauges[0]; g.Error != "" || *g.Shown != 30 {
		t.Errorf("fresh again: %+v", g)
	}
}

// Garbage, half lines, figures that can't be, a clock that is set: counted and
// shown, and the session lives on.
func TestNoticesAreShown(t *testing.T) {
	for _, code := range source.Codes() {
		b := onPorts(t)
		at := len(b.did)
		v := b.pull(12, 155, 20, once(5, func() {
			b.give(Notice{At: b.now, Source: 0, Code: code, Detail: "as it came", Count: 3})
			b.give(Samples{Source: 0, At: []float64{b.now, b.now, b.now}, Value: []float64{math.NaN(), math.Inf(1), 1e300}})
		}))
		g := b.s.View().Gauges[0]
		if g.Troubles[code] != 3 || g.Bad != 3 {
			t.Errorf("%s: %+v", code, g)
		}
		if said := slices.Contains(b.said(at), SayTrouble); said != (code != source.Connected) {
			t.Errorf("%s: said %v", code, b.said(at))
		}
		f := b.files(at)
		if len(f) != 1 || f[0].Troubles[code] != 3 {
			t.Fatalf("%s: filed %+v", code, f)
		}
		if e := b.s.View().Filed[0].Estimate; e == nil || e.Leak == nil || e.Leak.Low > v.flow || e.Leak.High < v.flow {
			t.Errorf("%s: read %+v, want %.3g", code, e, v.flow)
		}
	}
}

// A source's own clock tells the time of its samples, however they arrive; when
// it goes back, leaps or runs away, the session's time does not.
func TestOwnClock(t *testing.T) {
	for name, c := range map[string]func(i int, t float64) float64{
		"jitter on the wire":   func(_ int, t float64) float64 { return t },
		"started again":        func(_ int, t float64) float64 { return t - 1000*b2f(t > 20) },
		"leapt ahead":          func(_ int, t float64) float64 { return t + 3600*b2f(t > 20) },
		"a second a minute":    func(_ int, t float64) float64 { return t * 61 / 60 },
		"stands still":         func(_ int, t float64) float64 { return 5 },
		"gone for some":        func(i int, t float64) float64 { return map[bool]float64{true: math.NaN(), false: t}[i%7 == 0] },
		"no figure, for a day": func(_ int, t float64) float64 { return math.Inf(1) },
	} {
		b := onPorts(t)
		v := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, lag: 0.05, flow: 10 * cm3min, volume: 155e-6, pa: benchPa, on: 2}
		v.simulate(t, b.r, 10e-3/60, 77e3, 25)
		for i, x := range v.time {
			late := 0.0
			if name == "jitter on the wire" {
				late = 0.08 * b.r.Float64()
			}
			at := x + late
			b.give(Samples{Source: 0, At: []float64{max(at, b.now)}, Clock: []float64{c(i, x)}, Value: []float64{v.value[i]}})
		}
		f := b.files(0)
		if len(f) != 1 {
			t.Errorf("%s: filed %d tests", name, len(f))
			continue
		}
		tr := f[0].Traces[0]
		for i := 1; i < tr.Len(); i++ {
			if d := tr.Time[i] - tr.Time[i-1]; d < 0 || d > 1 || name == "jitter on the wire" && math.Abs(d-0.02) > 0.081 {
				t.Errorf("%s: step of %.3f s at %.2f", name, d, tr.Time[i])
			}
		}
		tol := 1.0
		if name == "a second a minute" {
			tol = 1.02
		}
		if e := b.s.View().Filed[0].Estimate; e == nil || e.Leak == nil || e.Leak.Low > v.flow*tol || e.Leak.High < v.flow/tol {
			t.Errorf("%s: read %+v, want %.3g", name, e, v.flow)
		}
	}
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// A session that was away goes on where it was: the test it was in is filed as
// far as it went, on its port, and the next pull is a new one.
func TestResumed(t *testing.T) {
	b := onPorts(t)
	b.key(GoTo, "p2")
	at := len(b.did)
	v := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, lag: 0.05, flow: 12 * cm3min, volume: 155e-6, pa: benchPa, on: 2}
	v.simulate(t, b.r, 10e-3/60, 77e3, 25)
	k := int((v.off + 12) * v.rate)
	whole := *v
	v.time, v.value = v.time[:k], v.value[:k]
	b.play(v, nil)
	b.give(Resumed{At: b.now + 40, Cut: 17})
	f := b.files(at)
	if len(f) != 1 || !f[0].Interrupted || f[0].Port != "p2" || f[0].Held < 10 {
		t.Fatalf("filed %+v", f)
	}
	if e := b.s.View().Filed[0].Estimate; e == nil || e.Leak == nil || e.Leak.Low > v.flow || e.Leak.High < v.flow {
		t.Errorf("read %+v, want %.3g", e, v.flow)
	}
	if w := b.s.View(); w.Target != "p2" || w.Gauges[0].Shown != nil {
		t.Errorf("resumed: %+v", w)
	}
	b.play(&whole, nil)
	if f := b.files(at); len(f) != 2 || f[1].Interrupted || f[1].Port != "p2" {
		t.Errorf("the next pull: filed %+v", f)
	}
}

// Pulled again without venting: two tests, and a key pressed during a test does
// not move the test to the port that comes next.
func TestPulledAgain(t *testing.T) {
	b := onPorts(t)
	at := len(b.did)
	one := &invented{kind: trace.Vacuum, rate: 50, noise: 30, step: 10, lag: 0.05, flow: 40 * cm3min, volume: 155e-6, pa: benchPa, on: 2}
	one.simulate(t, b.r, 10e-3/60, 77e3, 15)
	// straight from the hold into the pull of the same test again, from where
	// the vacuum stands
	end := int(one.vent*one.rate) - 1
	again := 0
	for i, x := range one.value {
		if one.time[i] > one.on && x >= one.value[end] {
			again = i
			break
		}
	}
	value := slices.Concat(one.value[:end], one.value[again:])
	one.value, one.time = value, nil
	for i := range value {
		one.time = append(one.time, float64(i)/one.rate)
	}
	pressed := false
	b.play(one, func(_ *invented, x float64) {
		if !pressed && x > float64(end)/one.rate+3 {
			pressed = true
			b.key(Next, "")
		}
	})
	f := b.files(at)
	if len(f) != 2 || f[0].Port != "p1" || f[1].Port != "p1" {
		t.Fatalf("filed %+v", f)
	}
	if v := b.s.View(); v.Target != "p2" {
		t.Errorf("on %s", v.Target)
	}
	for _, x := range b.s.View().Filed {
		if e := x.Estimate; e == nil || e.Leak == nil || e.Leak.Low > one.flow || e.Leak.High < one.flow {
			t.Errorf("test %d read %+v, want %.3g", x.Test, e, one.flow)
		}
	}
}

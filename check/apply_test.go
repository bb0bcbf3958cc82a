package check

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

func dayAfter(n int) time.Time { return day.AddDate(0, 0, n) }

// TestTrust: how long each kind is trusted, by the calendar of the place.
func TestTrust(t *testing.T) {
	for _, c := range []struct {
		kind Kind
		days Days
		last int // whole days later at which it is still trusted
	}{
		{KindBlanked, 0, 0}, {KindRigLeak, 0, 0}, {KindZero, 0, 0}, {KindGauge, 0, 30}, {KindPump, 0, 182},
		{KindVolume, 0, 5000}, {KindBlanked, 3, 2}, {KindVolume, 10, 9},
	} {
		r := Result{Kind: c.kind, At: day, Days: c.days}
		if r.Old(dayAfter(c.last)) {
			t.Errorf("%s, %d days: old after %d", c.kind, c.days, c.last)
		}
		if c.last < 5000 && !r.Old(dayAfter(c.last+1)) {
			t.Errorf("%s, %d days: not old after %d", c.kind, c.days, c.last+1)
		}
	}
	late := Result{Kind: KindBlanked, At: time.Date(2026, 3, 14, 23, 50, 0, 0, day.Location())}
	if late.Old(late.At.Add(9*time.Minute)) || !late.Old(late.At.Add(11*time.Minute)) {
		t.Error("the day ends at midnight of the place")
	}
}

// TestCurrent: the newest speaks, what is later than now does not, and a new part
// takes the checks that hang on it.
func TestCurrent(t *testing.T) {
	v := func(k Kind, n int, x float64) Result {
		return Result{Kind: k, At: dayAfter(n), Value: unit.About(x, 1), Verdict: Found}
	}
	all := []Result{v(KindVolume, 0, 60), v(KindBlanked, 2, 77), v(KindBlanked, 1, 76), v(KindGauge, 0, 1), v(KindBlanked, 9, 70)}
	st := Current(all, dayAfter(2))
	if b := standingOf(st, KindBlanked); b.Result == nil || b.Result.Value.Value != 77 || b.Old {
		t.Errorf("blanked: %+v", b)
	}
	if b := standingOf(Current(all, dayAfter(3)), KindBlanked); !b.Old {
		t.Error("it is trusted the day")
	}
	st = Current(append(all, PartChanged(dayAfter(1), PartHose)), dayAfter(2))
	if standingOf(st, KindVolume).Result != nil || standingOf(st, KindGauge).Result == nil || standingOf(st, KindBlanked).Result == nil {
		t.Error("a new hose takes the volume, and neither the gauge nor the blanked reading")
	}
	vol := func(n int, x, spread float64) Result {
		return Result{Kind: KindVolume, At: dayAfter(n), Value: unit.About(x, spread)}
	}
	for _, c := range []struct {
		name        string
		first, then Result
		want        float64
	}{
		{"a blunt one that agrees", vol(0, 62, 1), vol(1, 58, 11), 62},
		{"a blunt one that does not", vol(0, 62, 1), vol(1, 80, 11), 80},
		{"a finer one", vol(0, 58, 11), vol(1, 62, 1), 62},
	} {
		if got := standingOf(Current([]Result{c.first, c.then}, dayAfter(2)), KindVolume).Result; got == nil || got.Value.Value != c.want {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	for _, m := range Missing(all, dayAfter(3)) {
		if m.Kind == KindVolume || m.Kind == KindGauge {
			t.Errorf("%s is not missing", m.Kind)
		}
	}
	if n := len(Missing(all, dayAfter(3))); n != len(Kinds)-3 {
		t.Errorf("%d missing: all but volume and gauge", n)
	}
	if len(st) != len(Kinds)-1 {
		t.Errorf("%d kinds", len(st))
	}
}

// TestApply: each kind lands where it belongs, old ones widened, twice as once.
func TestApply(t *testing.T) {
	var r rig.Rig
	r.Pump.Blanked, r.Pump.RatedAt = unit.About(80e3, 100), unit.Exactly(101325)
	r.Pump.AfterShutOff = rig.PumpRunning
	line := &rig.GaugeLine{Offset: unit.About(100, 50), Slope: unit.About(0.01, 0.004), Correlation: -0.5, Bow: unit.Exactly(200)}
	results := []Result{
		{Kind: KindBlanked, At: day, Value: unit.About(77e3, 800)},
		{Kind: KindRigLeak, At: day, Value: unit.About(cm3(3), cm3(1)), Pump: rig.PumpStopped},
		{Kind: KindShutOff, At: day, Value: unit.About(cm3(2), cm3(0.5))},
		{Kind: KindVolume, At: day, Value: unit.About(60e-6, 2e-6)},
		{Kind: KindGauge, At: day, Value: unit.About(100, 50), Line: line, Verdict: Failed},
		{Kind: KindHead, At: day, Value: unit.About(300, 1)},
		{Kind: KindHose, At: day, Value: unit.About(3e-3, 1e-4)},
		{Kind: KindZero, At: day, Value: unit.About(30, 60)},
		{Kind: KindPump, At: day, Verdict: Failed, Value: unit.About(1e-4, 1e-5), Curve: []rig.PumpPoint{{Flow: 1e-4}, {Vacuum: 7e4}}},
	}
	before := r
	a := Apply(r, results, day.Add(time.Hour))
	if !reflect.DeepEqual(r, before) {
		t.Error("the rig was changed")
	}
	if a.Pump.Blanked != unit.About(77e3, 800) || a.Pump.RatedAt.Known || a.Volume != unit.About(60e-6, 2e-6) || a.Hose.Bore != unit.About(3e-3, 1e-4) ||
		a.Port.HeadTemperature != unit.About(300, 1) || a.Gauge.Zero != unit.About(30, 60) || *a.Gauge.Line != *line || len(a.Pump.Curve) > 0 {
		t.Errorf("%+v", a)
	}
	// found with the pump stopped, tested with it running: the seep is off
	agree(t, "rig leak", a.RigLeak.Value/cm3(1), 1, 1e-9)
	agree(t, "its ±", a.RigLeak.Spread/cm3(1), math.Hypot(1, 0.5), 1e-9)
	if twice := Apply(a, results, day.Add(time.Hour)); !reflect.DeepEqual(twice, a) {
		t.Errorf("twice %+v\nonce %+v", twice, a)
	}
	old := Apply(r, results, dayAfter(60))
	agree(t, "old blanked ±", old.Pump.Blanked.Spread, math.Hypot(800, 0.03*77e3), 1e-6)
	if old.Volume.Spread != 2e-6 || old.Port.HeadTemperature.Known {
		t.Error("a volume does not age, a head's temperature is gone")
	}
	if l := old.Gauge.Line; l.Slope.Value != 0.01 || l.Slope.Spread < 0.02 || l.Bow.Known {
		t.Errorf("an old line: %+v: its correction stays, its certainty goes", l)
	}
}

// TestWorth: by the budget, the most telling first, nothing that was made today.
func TestWorth(t *testing.T) {
	rd := &leak.Reading{Leak: &leak.Interval{}, Budget: []leak.BudgetLine{{Input: "volume", Share: 0.8}, {Input: "gauge accuracy", Share: 0.15}, {Input: "samples", Share: 0.05}}}
	var r rig.Rig
	r.Port.Volume = unit.Exactly(0)
	r.Gauge.Accuracy = unit.Exactly(0.05)
	g := Worth(rd, r, nil, day)
	if len(g) != 2 || g[0].Kind != KindVolume || g[1].Kind != KindGauge {
		t.Fatalf("%+v", g)
	}
	// ±40 of 60 cm³ guessed, 6 % left: sqrt(1 - 0.8 (1 - (3.6/40)²))
	agree(t, "narrow", g[0].Narrow, math.Sqrt(1-0.8*(1-sq(3.6/40))), 1e-9)
	if !strings.HasPrefix(g[0].Words, "the rig's volume was never checked, which makes the interval 2.2 times as wide") {
		t.Errorf("%q", g[0].Words)
	}
	made := []Result{{Kind: KindVolume, At: day}, {Kind: KindGauge, At: dayAfter(-40)}}
	g = Worth(rd, r, made, day)
	if len(g) != 1 || g[0].Kind != KindGauge || !g[0].Old || !strings.Contains(g[0].Words, "40 days ago") {
		t.Errorf("%+v", g)
	}
	if Worth(nil, r, nil, day) != nil || Worth(&leak.Reading{}, r, nil, day) != nil {
		t.Error("no reading, no worth")
	}
}

// TestLineWithAccuracy: a blunt line on a good gauge: the product of two normal
// figures, by hand: slope 0.03 ± 0.04 and 0 ± 0.02 make 0.006 ± 0.0178885.
func TestLineWithAccuracy(t *testing.T) {
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.02)}
	l := withAccuracy(rig.GaugeLine{Offset: unit.About(100, 300), Slope: unit.About(0.03, 0.04)}, g)
	agree(t, "slope", l.Slope.Value, 0.006, 1e-12)
	agree(t, "±", l.Slope.Spread, 0.02*0.04/math.Sqrt(0.02*0.02+0.04*0.04), 1e-12)
	agree(t, "offset", l.Offset.Value, 100, 1e-12)
	agree(t, "its ±", l.Offset.Spread, 300, 1e-9)
	// correlated, the offset learns from the slope
	l = withAccuracy(rig.GaugeLine{Offset: unit.About(100, 300), Slope: unit.About(0.03, 0.04), Correlation: -0.9}, g)
	agree(t, "offset", l.Offset.Value, 100+0.9*300*0.04*0.03/(0.02*0.02+0.04*0.04), 1e-9)
	agree(t, "its ±", l.Offset.Spread, 300*math.Sqrt(1-0.81*0.8), 1e-9)
	if !(l.Correlation < 0 && l.Correlation > -0.9) {
		t.Errorf("correlation %v", l.Correlation)
	}
}

package app

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"seatproof/internal/session"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
	"seatproof/unit"
)

// checkKinds are the kinds of check of a rig by name, as its sheet has them.
func (x *stand) checkKinds(rig string) (map[string]object, object) {
	x.t.Helper()
	c := at(x.t, x.call("GET", "rigs/"+rig+"/check", nil, 200), "check").(object)
	kinds := map[string]object{}
	for _, k := range c["kinds"].([]any) {
		kinds[k.(object)["kind"].(string)] = k.(object)
	}
	return kinds, c
}

// A shut-off valve that passes is found by the guided check on the practice rig: the
// blank is held with the pump stopped and again with it running on.
func TestCheckFindsAPassingValve(t *testing.T) {
	x := newStand(t, mem.New(), t.TempDir())
	x.call("POST", "live", object{"practise": object{"speed": 100, "faults": []any{"valve-passes=8"}}, "check": object{
		"steps": []any{"zero", "blanked", "rig-leak", "known-leak", "two-holds", "valve-seep"}, "known": []any{}}}, 201)
	x.until("the check is over", 90*time.Second, x.settled)
	kinds, _ := x.checkKinds("practice-rig-bare")
	k := kinds["shut-off valve"]
	q, err := unit.Parse(fmt.Sprint(k["value"]), unit.FlowDim)
	if d := q.Value - 8*cm3min; err != nil || d > 2*q.Spread || d < -2*q.Spread || !(q.Value-q.Spread > 0) {
		t.Errorf("shut-off valve: %v, and it passes 8 cm³/min (%v)", k["value"], err)
	}
	if says := fmt.Sprint(k); !strings.Contains(says, "It surely seeps") {
		t.Errorf("it is not said: %v", k)
	}
}

// The practice rig of which nothing is known becomes a checked one: every step on
// the live source gives a check that holds what the rig is, and the readings of
// the practice head shrink to less than half.
func TestCheckPracticeRig(t *testing.T) {
	x := newStand(t, mem.New(), t.TempDir())
	all := []any{"zero", "blanked", "rig-leak", "known-leak", "two-holds", "pump-curve", "valve-seep", "dryness"}
	x.call("POST", "live", object{"practise": object{"speed": 100, "faults": []any{}}, "check": object{"steps": all, "known": []any{}}}, 201)
	x.until("the check is over", 90*time.Second, x.settled)
	kinds, c := x.checkKinds("practice-rig-bare")
	// package practise's rig as it is: 61.1 cm³ and the blank's 2, a leak of 0.7 cm³/min,
	// a gauge that shows 130 Pa open to the room and reads 0.1 % too deep, less a bow,
	// and a pump that draws to 77.3 kPa and moves 9.7 L/min
	for _, want := range []struct {
		kind, verdicts string
		dim            unit.Dimension
		is, slack      float64
	}{
		{"gauge zero", "passed", unit.PressureDim, 130, 20},
		{"blanked reading", "passed failed", unit.PressureDim, 77.3e3, 300},
		{"rig leak", "passed", unit.FlowDim, 0.7 * cm3min, 0},
		{"known leak", "passed", unit.FlowDim, 60 * cm3min, 0},
		{"volume", "found", unit.VolumeDim, 63.1e-6, 0},
		{"pump curve", "passed", unit.FlowDim, 9.7e-3 / 60, 0},
		{"shut-off valve", "passed", unit.FlowDim, 0, 0},
		{"dryness", "passed can't tell yet", unit.RatioDim, 0, 0},
	} {
		k := kinds[want.kind]
		q, err := unit.Parse(fmt.Sprint(k["value"]), want.dim)
		if err != nil || k["state"] != "good" {
			t.Errorf("%s: %v, %v, error %v; %v", want.kind, k["value"], k["state"], err, k["says"])
			continue
		}
		// 95 % intervals of one seed's figures: twice their half-width is a fault
		if d := q.Value - want.is; d > 2*q.Spread+want.slack || d < -2*q.Spread-want.slack {
			t.Errorf("%s: %v, and it is %g", want.kind, k["value"], want.is)
		}
	}
	for _, o := range at(t, c, "readings.of").([]any) {
		var was, is [2]float64
		r := o.(object)
		if _, err := fmt.Sscanf(r["before"].(string)+" "+r["now"].(string), "%g to %g %g to %g", &was[0], &was[1], &is[0], &is[1]); err != nil {
			t.Fatalf("%v: %v", r, err)
		}
		if is[1]-is[0] > 0.5*(was[1]-was[0]) {
			t.Errorf("%v: %v before the checks, %v now", r["name"], r["before"], r["now"])
		}
	}
	// a second one on the same day makes new checks; the old ones stay in the log
	x.call("POST", "live", object{"rig": "practice-rig-bare", "practise": object{"speed": 100, "faults": []any{}}, "check": object{"steps": []any{"blanked"}, "known": []any{}}}, 201)
	x.until("the second check is over", 60*time.Second, x.settled)
	if _, again := x.checkKinds("practice-rig-bare"); len(again["log"].([]any)) != len(all)+1 {
		t.Errorf("%d checks are in the log, want %d", len(again["log"].([]any)), len(all)+1)
	}
}

// The smallest means: one known leak, which must be called leaking and tells the
// volume too. A step that is left out gives no check.
func TestCheckOneKnownLeak(t *testing.T) {
	x := newStand(t, mem.New(), "")
	x.call("POST", "live", object{"practise": object{"speed": 100, "faults": []any{}}, "check": object{
		"steps": []any{"rig-leak", "known-leak", "two-holds", "pump-curve"}, "known": []any{object{"name": "the jet", "flow": "60 ± 3", "way": "jet"}},
	}}, 201)
	run, _ := x.live.Now()
	if n := len(run.View.Steps); n != 3 {
		t.Fatalf("%d steps with one known leak, want the blank, the leak and the curve: %+v", n, run.View.Steps)
	}
	x.until("the known leak is read", 60*time.Second, func(n web.LiveNow) bool { return len(n.View.Filed) == 2 })
	if err := x.live.Key(context.Background(), session.Key{Do: session.Finish}); err != nil {
		t.Fatal(err)
	}
	x.until("the check is over", 60*time.Second, x.settled)
	kinds, _ := x.checkKinds("practice-rig-bare")
	if k := kinds["volume"]; k["state"] != "good" || k["way"] != "two-holds" {
		t.Errorf("the volume by blank and known leak: %v", k)
	}
	if k := kinds["pump curve"]; k["state"] != "none" {
		t.Errorf("a step that was never made: %v", k)
	}
}

// What is asked for wrongly is said at its field; a real rig takes no make-believe
// checks.
func TestCheckRefused(t *testing.T) {
	x := newStand(t, mem.New(), "")
	rig := at(t, x.call("POST", "rigs", object{"name": "my bench"}, 201), "rig.id").(string)
	pretend := object{"speed": 10, "faults": []any{}}
	for _, c := range []struct {
		body  object
		field string
	}{
		{object{"rig": rig, "practise": pretend, "check": object{}}, "practise"},
		{object{"rig": "", "sources": []any{"replay:x"}, "check": object{}}, "rig"},
		{object{"practise": pretend, "check": object{"steps": []any{"polish"}}}, "check.steps.0"},
		{object{"practise": pretend, "check": object{"known": []any{object{"name": "jet", "flow": "60 kPa"}}}}, "check.known.0.flow"},
		{object{"practise": pretend, "check": object{"known": []any{object{"name": "needle 30", "flow": "needle 30"}}}}, "check.known.0.flow"},
		{object{"practise": pretend, "job": "h1", "check": object{}}, "job"},
		{object{"rig": rig, "sources": []any{""}, "check": object{}}, "sources.0"},
	} {
		e := x.call("POST", "live", c.body, 422)
		if got := at(t, e, "error.fields").([]any)[0].(object)["field"]; got != c.field {
			t.Errorf("%v: the fault is at %v, want %s", c.body, got, c.field)
		}
	}
}

// A check that was cut short goes on where it stood.
func TestCheckResumes(t *testing.T) {
	records, runs := mem.New(), t.TempDir()
	x := newStand(t, records, runs)
	x.call("POST", "live", object{"practise": object{"speed": 50, "faults": []any{}}, "check": object{"steps": []any{"zero", "blanked", "rig-leak"}}}, 201)
	x.until("two pulls are filed", 60*time.Second, func(n web.LiveNow) bool { return len(n.View.Filed) >= 3 })
	x.stop()
	y := newStand(t, records, runs)
	n := y.until("it goes on", 20*time.Second, func(n web.LiveNow) bool { return n.View.Stage == session.OnCheck })
	if len(n.View.Filed) < 3 || len(n.View.Steps) != 3 || n.View.Steps[0].Made != 1 {
		t.Errorf("after a restart: %+v", n.View.Steps)
	}
	y.until("it ends", 90*time.Second, y.settled)
	kinds, _ := y.checkKinds("practice-rig-bare")
	for _, k := range []string{"gauge zero", "blanked reading", "rig leak"} {
		if kinds[k]["state"] != "good" {
			t.Errorf("%s after a restart: %v", k, kinds[k])
		}
	}
}

// On a real source, over TCP, on a rig of a person's own.
func TestCheckOverWire(t *testing.T) {
	if testing.Short() {
		t.Skip("checks a rig over a TCP connection for half a minute")
	}
	x := newStand(t, mem.New(), t.TempDir())
	rig := at(t, x.call("POST", "rigs", object{"name": "my bench", "gauge_unit": "kPa"}, 201), "rig.id").(string)
	// a session lets a gauge's clock be off by half a second of its time, here a
	// tenth of ours: so long may this machine be busy with other things
	w := wire(t, x, "", 5, "timed")
	x.call("POST", "live", object{"rig": rig, "sources": []string{w.address + "#unit=kPa,reads=vacuum"}, "check": object{
		"steps": []any{"zero", "blanked", "rig-leak", "known-leak"}, "known": []any{object{"name": "jet", "flow": "60 ± 3", "way": "jet"}},
	}}, 201)
	x.until("the check is over", 100*time.Second, x.settled)
	kinds, _ := x.checkKinds(rig)
	for _, k := range []string{"gauge zero", "blanked reading", "rig leak", "known leak", "volume"} {
		if kinds[k]["state"] != "good" {
			t.Errorf("%s over a wire: %v", k, kinds[k])
		}
	}
	q, err := unit.Parse(kinds["volume"]["value"].(string), unit.VolumeDim)
	if d := q.Value - 63.1e-6; err != nil || d > 2*q.Spread || d < -2*q.Spread {
		t.Errorf("the volume over a wire: %v, and it is 63.1 cm³", kinds["volume"]["value"])
	}
}

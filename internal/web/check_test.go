package web

import (
	"math"
	"strings"
	"testing"
	"time"

	"seatproof/check"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// checkedRig books in a rig of which only the name is known.
func checkedRig(t *testing.T, b *bed) string {
	t.Helper()
	r := call(t, b, "POST", "rigs", obj{"name": "bench one", "gauge_unit": "kPa", "kind": "digital"}, 201)
	return at(t, r, "rig.id").(string)
}

// standsFor is where a kind of check stands in an answer.
func standsFor(t *testing.T, answer any, kind check.Kind) obj {
	t.Helper()
	for _, k := range at(t, answer, "check.kinds").([]any) {
		if k.(obj)["kind"] == string(kind) {
			return k.(obj)
		}
	}
	t.Fatalf("there is no kind %s", kind)
	return nil
}

// measured reads "62.0 ± 2.0 cm³" back.
func measured(t *testing.T, text any, dim unit.Dimension) unit.Measured {
	t.Helper()
	q, err := unit.Parse(text.(string), dim)
	if err != nil {
		t.Fatalf("%v: %v", text, err)
	}
	return q.Measured
}

// Steps that need a figure typed come to what their closed forms say.
func TestCheckByHand(t *testing.T) {
	b := newBed(t)
	rig := checkedRig(t, b)
	call(t, b, "PUT", "rigs/"+rig, obj{"rev": 1, "fields": obj{"air.pressure": "100 ± 0.1 kPa", "air.temperature": "20"}}, 200)
	way := "rigs/" + rig + "/check/"
	post := func(step string, body obj) any { return call(t, b, "POST", way+step, body, 201) }

	none := call(t, b, "GET", "rigs/"+rig+"/check", nil, 200)
	if k := standsFor(t, none, check.KindVolume); k["state"] != "none" || k["due"] != true {
		t.Errorf("of a rig never checked the volume is %v", k)
	}
	if w := at(t, none, "check.line").(string); !strings.HasPrefix(w, "Nothing of this rig") {
		t.Errorf("of a rig never checked the sheet says %q", w)
	}

	k := standsFor(t, post("zero", obj{"fields": obj{"zero": "0.12 ± 0.05"}}), check.KindZero)
	if v := measured(t, k["value"], unit.PressureDim); math.Abs(v.Value-120) > 5 || k["verdict"] != "passed" {
		t.Errorf("a zero of 0.12 kPa: %v", k)
	}

	// Boyle: 50 kPa of vacuum in a room of 100 kPa, 10 cm³ drawn out, deeper by dv:
	// V = dV (pa - v2)/(v2 - v1), 10 (100-56.9)/6.9 = 62.5 cm³; the zero of 0.12 kPa
	// taken off both makes (100-56.78)/6.9 of it: 62.6 cm³.
	k = standsFor(t, post("syringe", obj{"rows": []any{obj{"step": "10 ± 0.2", "before": "50.0 ± 0.1", "after": "56.9 ± 0.1"}}}), check.KindVolume)
	if v := measured(t, k["value"], unit.VolumeDim); math.Abs(v.Value-10e-6*(100-56.78)/6.9) > 0.1e-6 || v.Spread < 0.5e-6 || k["way"] != "syringe" {
		t.Errorf("a syringe's step: %v, want 62.6 cm³", k["value"])
	}

	k = standsFor(t, post("blanked", obj{"rows": []any{obj{"pull": "77.0"}, obj{"pull": "77.4"}, obj{"pull": "76.9"}, obj{"pull": "77.2"}, obj{"pull": "77.1"}, obj{}}}), check.KindBlanked)
	if v := measured(t, k["value"], unit.PressureDim); math.Abs(v.Value-(77.12e3-120)) > 10 {
		t.Errorf("five pulls of 77.12 kPa in the mean, less a zero of 0.12: %v", k["value"])
	}
	if svg := k["chart"].(string); !strings.Contains(svg, "upper limit") || !strings.Contains(svg, "5 pulls") {
		t.Errorf("the chart of the series: %.200s", svg)
	}

	// a fall of 1 kPa a minute in 62.6 cm³ is 62.6e-6 m³ × 1/100 a minute: 0.63 cm³/min
	k = standsFor(t, post("rig-leak", obj{"fields": obj{"from": "76", "to": "75.5", "for": "30"}}), check.KindRigLeak)
	if v := measured(t, k["value"], unit.FlowDim); v.Value*6e7 > 1.5 || (v.Value+v.Spread)*6e7 < 0.6 {
		t.Errorf("a blank that falls 0.5 kPa in 30 s: %v, want about 0.6 cm³/min", k["value"])
	}

	k = standsFor(t, post("head-temperature", obj{"fields": obj{"head": "31", "room": "20"}}), check.KindHead)
	if k["verdict"] != "failed" && k["do"] == "" {
		t.Errorf("a head of 31 °C in a room of 20: %v", k)
	}

	k = standsFor(t, post("second-gauge", obj{"fields": obj{"class": "0.6", "span": "100 kPa"}, "rows": []any{
		obj{"reading": "0.1", "other": "0"}, obj{"reading": "20.3", "other": "20"}, obj{"reading": "40.5", "other": "40"}, obj{"reading": "60.7", "other": "60"}, obj{"reading": "80.9", "other": "80"},
	}}), check.KindGauge)
	// it reads 0.1 + 1.01 v: at 50 kPa 0.6 kPa too deep
	if v := measured(t, k["value"], unit.PressureDim); math.Abs(v.Value-0.6e3) > 30 || !strings.Contains(k["chart"].(string), "too deep") {
		t.Errorf("a gauge that reads 0.1 kPa and 1 %% too deep: %v", k)
	}
	if n := len(call(t, b, "GET", "rigs/"+rig, nil, 200)["rig"].(obj)["standing"].([]any)); n != 6 {
		t.Errorf("the rig's own sheet shows %d kinds that stand, want 6", n)
	}
}

// What is wrong stands at its field; what no figure can come of says why.
func TestCheckFaults(t *testing.T) {
	b := newBed(t)
	rig := checkedRig(t, b)
	for name, c := range map[string]struct {
		step string
		body obj
		want string // a field, or ""
	}{
		"nothing typed":       {"zero", obj{}, "fields.zero"},
		"an unknown unit":     {"blanked", obj{"rows": []any{obj{"pull": "77 kPaa"}}}, "rows.0.pull"},
		"half a row":          {"syringe", obj{"rows": []any{obj{"step": "10", "before": "50"}}}, "rows.0.after"},
		"no row":              {"dryness", obj{"rows": []any{obj{}, obj{}}}, "rows.0.from"},
		"a wrong dimension":   {"head-temperature", obj{"fields": obj{"head": "20 kPa", "room": "20"}}, "fields.head"},
		"neither water":       {"water", obj{}, "fields.volume"},
		"no such recording":   {"rig-leak", obj{"traces": []any{"nothing"}}, "traces.0"},
		"deeper than the air": {"blanked", obj{"rows": []any{obj{"pull": "770 kPa"}}}, ""},
	} {
		answer := call(t, b, "POST", "rigs/"+rig+"/check/"+c.step, c.body, 422)
		got := ""
		if fields, ok := at(t, answer, "error").(obj)["fields"].([]any); ok {
			got = fields[0].(obj)["field"].(string)
		}
		if got != c.want {
			t.Errorf("%s: the fault stands at %q, want %q: %v", name, got, c.want, answer)
		}
	}
	call(t, b, "POST", "rigs/"+rig+"/check/nothing", obj{}, 404)
	if n := len(at(t, call(t, b, "GET", "rigs/"+rig+"/check", nil, 200), "check.log").([]any)); n != 0 {
		t.Errorf("%d checks were kept of what came to nothing", n)
	}
}

// A check is trusted as long as a person says; a changed part silences what hung
// on it, and the day's end what is of the day.
func TestCheckTrust(t *testing.T) {
	now := time.Date(2026, 3, 2, 10, 0, 0, 0, time.Local)
	b := bedOn(t, Config{Keeper: NewMemory(), Version: "test", Now: func() time.Time { return now }})
	rig := checkedRig(t, b)
	sheet := func() any { return call(t, b, "GET", "rigs/"+rig+"/check", nil, 200) }
	call(t, b, "POST", "rigs/"+rig+"/check/water", obj{"fields": obj{"volume": "63 ± 1"}}, 201)
	call(t, b, "POST", "rigs/"+rig+"/check/blanked", obj{"rows": []any{obj{"pull": "77"}, obj{"pull": "77.4"}, obj{"pull": "76.9"}}}, 201)
	blanked := standsFor(t, sheet(), check.KindBlanked)
	if blanked["until"] != "trusted today" {
		t.Errorf("a blanked reading is %v", blanked["until"])
	}
	if got := standsFor(t, call(t, b, "PUT", "checks/"+blanked["id"].(string), obj{"days": 7}, 200), check.KindBlanked); got["days"] != 7.0 || got["value"] != blanked["value"] {
		t.Errorf("trusted for a week: %v", got)
	}
	call(t, b, "PUT", "checks/"+blanked["id"].(string), obj{"days": 0}, 422)
	// the next one of its kind is trusted as long
	call(t, b, "POST", "rigs/"+rig+"/check/blanked", obj{"rows": []any{obj{"pull": "77"}, obj{"pull": "77.2"}}}, 201)
	if got := standsFor(t, sheet(), check.KindBlanked); got["days"] != 7.0 {
		t.Errorf("the next blanked reading is trusted for %v days", got["days"])
	}
	now = now.AddDate(0, 0, 8)
	if got := standsFor(t, sheet(), check.KindBlanked); got["state"] != "old" || got["due"] != true {
		t.Errorf("after eight days: %v", got)
	}
	if got := standsFor(t, sheet(), check.KindVolume); got["state"] != "good" || got["until"] != "trusted until a part is changed" {
		t.Errorf("a volume after eight days: %v", got)
	}
	call(t, b, "POST", "rigs/"+rig+"/parts", obj{"part": "horn"}, 422)
	call(t, b, "POST", "rigs/"+rig+"/parts", obj{"part": "hose"}, 201)
	if got := standsFor(t, sheet(), check.KindVolume); got["state"] != "none" {
		t.Errorf("a volume after a new hose: %v", got)
	}
}

// Readings lean on the checks of the day, and the port's sheet says once which
// check would narrow them most.
func TestReadingsLeanOnChecks(t *testing.T) {
	b := newBed(t)
	rig := checkedRig(t, b)
	h := call(t, b, "POST", "heads", obj{"number": "CH-1", "layout": layout4, "rig": rig}, 201)
	id, port := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string)
	body := counted(id, port, "21½", "18")
	body["rig"] = rig
	call(t, b, "POST", "tests", body, 201)
	sheet := call(t, b, "GET", "heads/"+id+"/ports/"+port, nil, 200)
	before := at(t, sheet, "row.this").(string)
	if n, ok := sheet["narrow"].(obj); !ok || !strings.Contains(n["words"].(string), "times as wide") || n["rig"] != rig {
		t.Errorf("what would narrow it: %v", sheet["narrow"])
	}
	call(t, b, "POST", "rigs/"+rig+"/check/water", obj{"fields": obj{"volume": "63 ± 1"}}, 201)
	sheet = call(t, b, "GET", "heads/"+id+"/ports/"+port, nil, 200)
	after := at(t, sheet, "row.this").(string)
	if before == after {
		t.Errorf("the volume was checked, and the reading is still %s", after)
	}
}

// The job card's next step leans on the checks: a rig that did not pass comes
// first, and what is old is named where none was made today.
func TestCardLeansOnChecks(t *testing.T) {
	now := time.Date(2026, 3, 2, 10, 0, 0, 0, time.Local)
	b := bedOn(t, Config{Keeper: NewMemory(), Version: "test", Now: func() time.Time { return now }})
	rig := checkedRig(t, b)
	h := call(t, b, "POST", "heads", obj{"number": "CH-2", "layout": layout4, "rig": rig}, 201)
	id := at(t, h, "head.id").(string)
	first := func() obj { return at(t, call(t, b, "GET", "heads/"+id+"/card", nil, 200), "next.0").(obj) }
	if n := first(); n["kind"] != "check-rig" || strings.Contains(n["reason"].(string), "Old") {
		t.Errorf("on a rig never checked the first step is %v", n)
	}
	call(t, b, "POST", "rigs/"+rig+"/check/water", obj{"fields": obj{"volume": "63 ± 1"}}, 201)
	// 63 cm³ that falls 16 kPa in 30 s leak some 20 cm³/min: no blank that holds
	call(t, b, "POST", "rigs/"+rig+"/check/rig-leak", obj{"fields": obj{"from": "76", "to": "60", "for": "30"}}, 201)
	if n := first(); n["kind"] != "check-rig" || n["head"] != "The rig did not pass: rig leak." || !strings.Contains(n["words"].(string), "fitting") {
		t.Errorf("on a rig that leaks the first step is %v", n)
	}
	call(t, b, "POST", "rigs/"+rig+"/check/rig-leak", obj{"fields": obj{"from": "76", "to": "75.9", "for": "60"}}, 201)
	if n := first(); n["kind"] == "check-rig" {
		t.Errorf("on a rig whose blank holds the first step is %v", n)
	}
	now = now.AddDate(0, 0, 1)
	if n := first(); n["kind"] != "check-rig" || !strings.HasPrefix(n["reason"].(string), "Old by now: rig leak.") {
		t.Errorf("the day after the first step is %v", n)
	}
}

// A home builder with a needle gauge in inches of mercury and no papers gets
// every check by hand; each comes to something, and none is called failed.
func TestCheckByNeedle(t *testing.T) {
	b := newBed(t)
	r := call(t, b, "POST", "rigs", obj{"name": "bench two", "gauge_unit": "inHg", "kind": "needle", "division": "1"}, 201)
	rig := at(t, r, "rig.id").(string)
	hold := func(key, from, to, long string) obj {
		return obj{key + "from": from, key + "to": to, key + "for": long}
	}
	both := func(a, b obj) obj {
		for k, v := range b {
			a[k] = v
		}
		return a
	}
	fall := hold("", "22½", "20", "30")
	for _, c := range []struct {
		step string
		body obj
	}{
		{"zero", obj{"fields": obj{"zero": "0"}}},
		{"water-column", obj{"rows": []any{obj{"reading": "0", "height": "0"}, obj{"reading": "3", "height": "1030"}, obj{"reading": "6", "height": "2080"}}}},
		{"blanked", obj{"rows": []any{obj{"pull": "23"}, obj{"pull": "22½"}, obj{"pull": "22 3/4"}, obj{"pull": "23"}, obj{"pull": "22,5"}}}},
		{"rig-leak", obj{"fields": hold("", "22½", "22", "60")}},
		{"known-leak", obj{"fields": both(obj{"known": "needle 30, 13 mm"}, hold("", "22½", "10", "30"))}},
		{"two-holds", obj{"fields": both(both(obj{"known": "60 ± 6"}, hold("a", "22½", "22", "60")), hold("b", "22½", "10", "30"))}},
		{"water", obj{"fields": obj{"mass": "63 g"}}},
		{"pump-curve", obj{"fields": obj{"way": "jet"}, "rows": []any{obj{"known": "3000 ± 200", "reading": "15"}, obj{"known": "1500 ± 90", "reading": "19"}}}},
		{"valve-seep", obj{"fields": both(hold("a", "22½", "22", "60"), hold("b", "22½", "22", "60"))}},
		{"hose", obj{"fields": obj{"pump": "20", "port": "19.5", "known": "3000", "length": "1.2", "bore": "6"}}},
		{"dryness", obj{"rows": []any{fall, fall, fall, fall, fall}}},
		{"head-temperature", obj{"fields": obj{"head": "20.5", "room": "20"}}},
	} {
		k := standsFor(t, call(t, b, "POST", "rigs/"+rig+"/check/"+c.step, c.body, 201), stepBy(c.step).Kind)
		if k["state"] != "good" || k["verdict"] == "failed" || k["way"] != c.step || len(k["says"].([]any)) == 0 {
			t.Errorf("%s: %v, %v, %v, %v", c.step, k["state"], k["verdict"], k["value"], k["says"])
		}
	}
	if w := at(t, call(t, b, "GET", "rigs/"+rig+"/check", nil, 200), "check.line"); w != "All checks stand." {
		t.Errorf("after all of them the sheet says %q", w)
	}
}

// A pump's curve goes by vacuums as the gauge shows them, whatever its line says: the
// reader corrects them by the line of the day. What moves is the leak and the rig's own.
func TestPumpCurveAsShown(t *testing.T) {
	tr := &trace.Trace{Kind: trace.Vacuum, Step: 10}
	for i := range 250 { // three seconds vented, then a pull to 60 kPa
		s := float64(i) / 10
		tr.Time, tr.Value = append(tr.Time, s), append(tr.Value, math.Round(6e3*(1-math.Exp(-max(0, s-3)/0.4)))*10)
	}
	tr.Faults.Rows, tr.Faults.Interval = tr.Len(), 0.1
	known, own := 30e-6, 5e-6
	take := taken{traces: []recorded{{trace: tr}}, known: []leak.Interval{{Median: known, Low: 0.95 * known, High: 1.05 * known}}, ways: []string{wayJet}}
	r := &take.rig
	r.Air.Pressure, r.Air.Temperature = unit.Exactly(100e3), unit.Exactly(293.15)
	r.Pump.Blanked, r.RigLeak = unit.About(80e3, 400), unit.Exactly(own)
	r.Gauge = rig.Gauge{Kind: rig.GaugeDigital, Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.01), Resolution: 10}
	r.Gauge.Line = &rig.GaugeLine{Slope: unit.About(-0.1, 0.005)}
	res, err := take.pumpCurve()
	if err != nil {
		t.Fatal(err)
	}
	at := float64(res.Curve[1].Vacuum)
	if math.Abs(at-60e3) > 20 {
		t.Errorf("a gauge that stands at 60 kPa gives a point at %.5g kPa", at/1e3)
	}
	// at 60 kPa a seep passes (1-0.4²)/(1-0.5²) of what it does at 50
	want := take.carried(unit.Exactly(known), wayJet, at).Value + own*0.84/0.75
	if q := res.Curve[1].Flow; math.Abs(q-want) > 1e-3*want {
		t.Errorf("there the pump moves %.4g cm³/s, want %.4g", q*1e6, want*1e6)
	}
}

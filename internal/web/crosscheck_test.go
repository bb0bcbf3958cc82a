package web

import (
	"slices"
	"strings"
	"testing"
)

// A port is counted, and the sheet says what its leak would show elsewhere; what was
// seen there is kept, compared, put right, and goes to the bin and back.
func TestOtherTests(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	way := "heads/" + id + "/crosscheck"
	o := call(t, b, "GET", way, nil, 200)
	if n := len(at(t, o, "cylinders.0.leak_down").([]any)); n != 0 {
		t.Errorf("%d leak-down forecasts without a leak rate", n)
	}
	if at(t, o, "ports.0.why") != "not tested" || at(t, o, "cautions.0.words") == "" || len(at(t, o, "liquids").([]any)) < 4 {
		t.Errorf("an untested head: %v", o)
	}
	call(t, b, "POST", "tests", counted(id, port, "21", "5"), 201)
	o = call(t, b, "GET", way+"?orifice=1+mm&free_flow=50+L/min&blanked=24+inHg", nil, 200)
	if got := len(at(t, o, "cylinders.0.leak_down").([]any)); got != 3 {
		t.Errorf("%d restrictors, want both standard ones and the own", got)
	}
	if got := at(t, o, "cylinders.0.leak_down.0.figure").(string); !strings.HasSuffix(got, " psi") {
		t.Errorf("leak-down %q, want psi as the supply", got)
	}
	if got := at(t, o, "ports.0.liquids.0.drop.figure").(string); got == "" || got == "never" {
		t.Errorf("a port that lost 16 inHg in 15 s shows a drop of white spirit: %q", got)
	}
	if got := at(t, o, "ports.0.needle.0.figure").(string); !strings.Contains(got, "inHg") {
		t.Errorf("needle on the other pump %q", got)
	}
	// what can't be stands at its field
	for _, c := range []struct{ query, field string }{{"supply=-3+psi", "supply"}, {"supply=0+psi", "supply"}, {"height=0+mm", "height"}, {"orifice=40+mm", "orifice"}, {"known_leak=20", "known_second"}, {"free_flow=50&blanked=60+inHg", "blanked"}, {"supply=x", "supply"}} {
		fields := at(t, call(t, b, "GET", way+"?"+c.query, nil, 422), "error.fields").([]any)
		if !slices.ContainsFunc(fields, func(f any) bool { return at(t, f, "field") == c.field }) {
			t.Errorf("%s: %v, want a fault at %s", c.query, fields, c.field)
		}
	}

	// no wet after a minute bounds the leak loosely, and does not clear the port
	o = call(t, b, "POST", way, obj{"kind": "liquid", "port": port, "by": "LM", "fields": obj{"liquid": "kerosene", "seen": "dry", "after": "60 s"}}, 201)
	if got := at(t, o, "observed.0.bound").(string); !strings.Contains(got, "less than") {
		t.Errorf("dry after 60 s: %q", got)
	}
	first := at(t, o, "observed.0")
	// a leak-down far below what one valve explains: rings and the like are also in it
	o = call(t, b, "POST", way, obj{"kind": "leak-down", "cylinder": 1, "insist": true, "fields": obj{"second": "10 psi", "supply": "80 psi"}}, 201)
	if n := len(at(t, o, "observed").([]any)); n != 2 {
		t.Fatalf("%d observed, want 2", n)
	}
	down := at(t, o, "observed").([]any)[slices.IndexFunc(at(t, o, "observed").([]any), func(x any) bool { return at(t, x, "kind") == "leak-down" })]
	if at(t, down, "stands") != "more" || !strings.Contains(at(t, down, "says").(string), "rings") || at(t, down, "on") != "cylinder 1" {
		t.Errorf("10 of 80 psi: %v", down)
	}
	call(t, b, "POST", way, obj{"kind": "cranking", "cylinder": 1, "fields": obj{"reading": "9 bar"}}, 201)
	call(t, b, "POST", way, obj{"kind": "needle", "port": port, "fields": obj{"below": "2 inHg", "free_flow": "10 L/min", "blanked": "23 inHg"}}, 201)

	for _, c := range []struct {
		body  obj
		field string
	}{
		{obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "90 psi"}}, "fields.second"},
		{obj{"kind": "leak-down", "cylinder": 9, "fields": obj{"second": "70 psi"}}, "cylinder"},
		{obj{"kind": "leak-down", "cylinder": 1, "fields": obj{}}, "fields.second"},
		{obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "70 psi", "restrictor": "own"}}, "fields.orifice"},
		{obj{"kind": "liquid", "port": port, "fields": obj{"liquid": "milk", "seen": "dry", "after": "60 s"}}, "fields.liquid"},
		{obj{"kind": "liquid", "port": port, "fields": obj{"liquid": "water", "seen": "damp", "after": "60 s"}}, "fields.seen"},
		{obj{"kind": "liquid", "port": port, "fields": obj{"liquid": "water", "seen": "dry", "after": "0 s"}}, "fields.after"},
		{obj{"kind": "liquid", "port": "nowhere", "fields": obj{"liquid": "water", "seen": "dry", "after": "9 s"}}, "port"},
		{obj{"kind": "cranking", "cylinder": 1, "fields": obj{"reading": "-1 bar"}}, "fields.reading"},
		{obj{"kind": "needle", "port": port, "fields": obj{"below": "2 inHg", "free_flow": "0 L/min", "blanked": "23 inHg"}}, "fields.free_flow"},
		{obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "0 psi"}}, "fields.second"},
		{obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "78 kPa"}}, "fields.second"},
		{obj{"kind": "needle", "port": port, "fields": obj{"below": "2 inHg"}}, "fields.free_flow"},
		{obj{"kind": "needle", "port": port, "fields": obj{"below": "2 inHg", "free_flow": "10"}}, "fields.blanked"},
		{obj{"kind": "sniff", "port": port}, "kind"},
	} {
		fields := at(t, call(t, b, "POST", way, c.body, 422), "error.fields").([]any)
		if !slices.ContainsFunc(fields, func(f any) bool { return at(t, f, "field") == c.field }) {
			t.Errorf("%v: %v, want a fault at %s", c.body, fields, c.field)
		}
	}

	one := at(t, first, "id").(string)
	call(t, b, "PUT", "observed/"+one, obj{"rev": 1, "kind": "liquid", "port": port, "fields": obj{"liquid": "kerosene", "seen": "drop", "after": "5 s"}}, 200)
	call(t, b, "PUT", "observed/"+one, obj{"rev": 1, "kind": "liquid", "port": port, "fields": obj{"liquid": "kerosene", "seen": "drop", "after": "5 s"}}, 409)
	o = call(t, b, "POST", "observed/"+one+"/bin", obj{"rev": 2}, 200)
	if len(at(t, o, "binned").([]any)) != 1 || len(at(t, o, "observed").([]any)) != 3 {
		t.Errorf("in the bin: %v", o)
	}
	o = call(t, b, "POST", "observed/"+one+"/unbin", obj{"rev": 3}, 200)
	if len(at(t, o, "observed").([]any)) != 4 {
		t.Errorf("out of the bin: %v", o)
	}

	// two cranking readings are held against the published rule
	if at(t, o, "spread") != "" {
		t.Errorf("one cranking reading has no spread: %v", at(t, o, "spread"))
	}
	for _, c := range []struct{ reading, want string }{{"10 bar", "9 bar on cylinder 1, is 90 % of the highest, 10 bar on cylinder 2: within"}, {"13 bar", "is 69 % of the highest, 13 bar on cylinder 2: outside"}} {
		o = call(t, b, "POST", way, obj{"kind": "cranking", "cylinder": 2, "at": at(t, o, "observed.0.at").(float64) + 1000, "fields": obj{"reading": c.reading}}, 201)
		if got := at(t, o, "spread").(string); !strings.Contains(got, c.want) {
			t.Errorf("%s on cylinder 2: %q, want %q", c.reading, got, c.want)
		}
	}

	// the history tells of it, also of what is in the bin
	call(t, b, "POST", "observed/"+one+"/bin", obj{"rev": 4}, 200)
	var told []string
	for _, e := range at(t, call(t, b, "GET", "heads/"+id+"/history", nil, 200), "events").([]any) {
		line := at(t, e, "words").(string)
		for _, d := range at(t, e, "changes").([]any) {
			line += "; " + at(t, d, "what").(string) + " " + at(t, d, "was").(string) + " -> " + at(t, d, "is").(string)
		}
		told = append(told, line)
	}
	for _, want := range []string{
		"liquid, cylinder 1 intake, was entered", "liquid, cylinder 1 intake, was put right; after 60 s -> 5 s; seen outside nothing, dry -> a drop",
		"liquid, cylinder 1 intake, was put into the bin", "liquid, cylinder 1 intake, was taken out of the bin", "leak-down, cylinder 1, was entered", "needle on a pump, cylinder 1 intake, was entered",
	} {
		if !slices.ContainsFunc(told, func(l string) bool { return strings.HasPrefix(l, want) }) {
			t.Errorf("no %q in\n%s", want, strings.Join(told, "\n"))
		}
	}
	call(t, b, "POST", "observed/"+one+"/unbin", obj{"rev": 5}, 200)

	// the engine's sizes give the cranking gauge
	if got := at(t, o, "cylinders.0.cranking.with.figure").(string); !strings.HasSuffix(got, " psi") {
		t.Errorf("cranking gauge of an engine that is guessed: %q", got)
	}
	rev := at(t, call(t, b, "GET", "heads/"+id, nil, 200), "head.rev")
	low := call(t, b, "POST", way, obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "80.5 psi"}}, 201)
	if got := at(t, low, "observed.0.seen").(string); !slices.ContainsFunc(at(t, low, "observed").([]any), func(x any) bool { return strings.HasPrefix(at(t, x, "seen").(string), "80.5 psi of 80 psi") }) {
		t.Errorf("read to a psi, 80.5 of 80 is full; kept as typed: %q", got)
	}
	call(t, b, "PUT", "heads/"+id, obj{"rev": rev, "engine": obj{"bore": "72 mm", "stroke": "81.8 mm", "compression_ratio": "9.5"}}, 200)
	o = call(t, b, "GET", way, nil, 200)
	for _, x := range at(t, o, "observed").([]any) {
		if at(t, x, "kind") == "cranking" && at(t, x, "on") == "cylinder 1" && at(t, x, "verdict") != "lower than forecast" {
			t.Errorf("9 bar of a ratio of 9.5: %v", at(t, x, "verdict"))
		}
	}
	if got := at(t, o, "cylinders.0.cranking.with.figure").(string); !strings.HasSuffix(got, " psi") {
		t.Errorf("cranking gauge: %q", got)
	}
	// work on the valves lapses what was seen before
	call(t, b, "POST", "heads/"+id+"/work", obj{"kind": "lapped", "valves": at(t, call(t, b, "GET", "heads/"+id, nil, 200), "head.ports.0.valves"), "at": 1900000000000}, 201)
	o = call(t, b, "GET", way, nil, 200)
	for _, x := range at(t, o, "observed").([]any) {
		if got := at(t, x, "lapsed").(string) != ""; got != (at(t, x, "on") != "cylinder 2") {
			t.Errorf("%v lapsed %v: the work was on cylinder 1", at(t, x, "on"), got)
		}
	}
	if at(t, o, "spread") != "" {
		t.Error("a reading from before the work is compared with one from after")
	}
	if at(t, o, "ports.0.why") != "worked on since it was tested" {
		t.Errorf("a lapsed port is forecast from: %v", at(t, o, "ports.0.why"))
	}
}

// A bare figure takes the unit that the field shows, which is the person's, and is
// kept with it; what can't be is said in the unit typed; a pump that is left out is
// this rig's.
func TestOtherTestsUnits(t *testing.T) {
	b := newBed(t)
	rig := call(t, b, "POST", "rigs", obj{"name": "pump", "gauge_unit": "inHg", "kind": "needle", "division": "0.5", "fields": obj{"volume": "62 ± 3 cm³", "pump.free_flow": "10 L/min", "pump.blanked": "22.9 ± 0.3 inHg"}}, 201)
	h := call(t, b, "POST", "heads", obj{"number": "T-1", "layout": layout4, "rig": at(t, rig, "rig.id")}, 201)
	id, port := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string)
	way := "heads/" + id + "/crosscheck"
	call(t, b, "POST", "tests", counted(id, port, "21", "19"), 201)
	set := call(t, b, "GET", "settings", nil, 200)
	fields := func(o any, kind int) []any { return at(t, o, "kinds").([]any)[kind].(obj)["fields"].([]any) }
	for i, c := range []struct{ unit, cranking string }{{"kPa", "kPa"}, {"inHg", "psi"}, {"psi", "psi"}} {
		call(t, b, "PUT", "settings", obj{"rev": at(t, set, "rev").(float64) + float64(i), "vacuum_unit": c.unit}, 200)
		o := call(t, b, "GET", way, nil, 200)
		if got := at(t, fields(o, 2)[0], "unit"); got != c.cranking {
			t.Errorf("%s: a cranking gauge is asked in %v, want %s", c.unit, got, c.cranking)
		}
		if got := at(t, o, "cylinders.0.cranking.with.figure").(string); !strings.HasSuffix(got, " "+c.cranking) {
			t.Errorf("%s: a cranking gauge is forecast as %s, want %s", c.unit, got, c.cranking)
		}
		if got := at(t, fields(o, 3)[0], "unit"); got != c.unit || at(t, o, "vacuum_unit") != c.unit {
			t.Errorf("%s: a needle is asked in %v", c.unit, got)
		}
		if got := at(t, fields(o, 3)[1], "guess"); got != "this rig’s" {
			t.Errorf("a pump left out is %q", got)
		}
	}
	call(t, b, "POST", way, obj{"kind": "cranking", "cylinder": 1, "fields": obj{"reading": "150 ± 5 %"}}, 201)
	call(t, b, "POST", way, obj{"kind": "needle", "port": port, "at": 1, "fields": obj{"below": "1½"}}, 201)
	call(t, b, "PUT", "settings", obj{"rev": at(t, set, "rev").(float64) + 3, "vacuum_unit": "kPa"}, 200)
	o := call(t, b, "GET", way, nil, 200)
	for i, want := range []string{"150 ± 7.5 psi", "1.5 psi below the blanked reading, this rig’s pump"} {
		if got := at(t, at(t, o, "observed").([]any)[i], "seen"); got != want {
			t.Errorf("typed in psi, shown in kPa: %q, want %q", got, want)
		}
	}
	for below, want := range map[string]string{"-1 inHg": "A needle -1 inHg below a blanked reading of 22.9 inHg", "25 inHg": "A needle 25 inHg below"} {
		e := call(t, b, "POST", way, obj{"kind": "needle", "port": port, "fields": obj{"below": below}}, 422)
		if got := at(t, e, "error.fields.0.what").(string); !strings.HasPrefix(got, want) || strings.Contains(got, "kPa") || at(t, e, "error.fields.0.field") != "fields.below" {
			t.Errorf("%s: %q", below, got)
		}
	}
	// another unit than the supply's: three digits of it
	o = call(t, b, "POST", way, obj{"kind": "leak-down", "cylinder": 1, "fields": obj{"second": "5 bar"}}, 201)
	if !slices.ContainsFunc(at(t, o, "observed").([]any), func(x any) bool { return strings.HasPrefix(at(t, x, "seen").(string), "5 bar of 5.52 bar,") }) {
		t.Errorf("5 bar: %v", at(t, o, "observed"))
	}
	// what agrees, and leaves room for far more than the valves leak, says so
	o = call(t, b, "POST", way, obj{"kind": "leak-down", "cylinder": 1, "at": 5, "fields": obj{"second": "79 ± 1 psi"}}, 201)
	seen := at(t, o, "observed").([]any)
	x := seen[slices.IndexFunc(seen, func(x any) bool { return strings.HasPrefix(at(t, x, "seen").(string), "79") })]
	if got := at(t, x, "says").(string); at(t, x, "stands") != "agrees" || !strings.Contains(got, "leaves room for up to") || strings.Contains(got, "little") {
		t.Errorf("79 of 80 psi: %v, %q, beside %q", at(t, x, "stands"), got, at(t, x, "bound"))
	}
}

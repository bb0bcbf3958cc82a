package web

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// field returns what stands at a field of a refused request, one a line.
func field(t testing.TB, e map[string]any, name string) string {
	t.Helper()
	var all []string
	for _, f := range at(t, e, "error.fields").([]any) {
		if at(t, f, "field") == name {
			all = append(all, at(t, f, "what").(string))
		}
	}
	if len(all) == 0 {
		t.Errorf("no fault at %q: %v", name, e["error"])
	}
	return strings.Join(all, "\n")
}

// names lists the ports or valves of a head by name.
func names(t testing.TB, h map[string]any, list string) []string {
	var out []string
	for _, x := range at(t, h, "head."+list).([]any) {
		out = append(out, at(t, x, "name").(string))
	}
	return out
}

// A port is parted in two after booking in: the valve goes to a new port, the old
// one lapses, and both have a name of their own.
func TestPartAPort(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b) // p1 with v1 and v2
	call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201)
	split := func(rev int, part any) obj {
		return obj{"rev": rev, "by": "LM", "ports": []obj{
			{"id": "p1", "part": "left", "valves": []string{"v1"}},
			{"id": "n1", "new": true, "cylinders": []int{1}, "side": "intake", "part": part, "valves": []string{"v2"}},
		}}
	}
	e := call(t, b, "PUT", "heads/"+id, split(1, "left"), 422)
	if what := field(t, e, "ports.n1.part"); !strings.Contains(what, "left and which right") {
		t.Errorf("two ports of one name: %q", what)
	}
	h := call(t, b, "PUT", "heads/"+id, split(1, "right"), 200)
	if got := names(t, h, "ports")[:3]; !slices.Equal(got, []string{"cylinder 1 intake, left port", "cylinder 1 intake, right port", "cylinder 1 exhaust"}) {
		t.Errorf("ports %v", got)
	}
	if got := at(t, h, "head.ports.1.id"); got != "p9" {
		t.Errorf("the new port is %v, want p9", got)
	}
	if got := at(t, h, "card.rows.0.word"); got != "lapsed" {
		t.Errorf("the port that was parted is %q", got)
	}
	if got := at(t, h, "card.rows.0.lapsed").(string); !strings.Contains(got, "grouped otherwise") {
		t.Errorf("it lapsed because %q", got)
	}
	if got := at(t, h, "card.rows.1.word"); got != "not tested" {
		t.Errorf("the new port is %q", got)
	}
	// put together again: an identity that was there never names another port
	h = call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "ports": []obj{{"id": "p1", "part": "", "valves": []string{"v1", "v2"}}, {"id": "p9", "out": true}}}, 200)
	if n := len(at(t, h, "head.ports").([]any)); n != 8 {
		t.Errorf("%d ports, want 8", n)
	}
	h = call(t, b, "PUT", "heads/"+id, split(3, "right"), 200)
	if got := at(t, h, "head.ports.1.id"); got != "p10" {
		t.Errorf("the identity p9 came back: %v", got)
	}
}

// What a layout can't be stands at its field in words; what is odd may be insisted
// on.
func TestLayoutFaultsAtFields(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	for _, c := range []struct {
		name  string
		ask   obj
		field string
		what  string
	}{
		{"a valve on two ports", obj{"ports": []obj{{"id": "n1", "new": true, "cylinders": []int{1}, "side": "intake", "part": "left", "valves": []string{"v1"}}}}, "ports.n1.valves.0", "a valve has one port"},
		{"a port without a valve", obj{"ports": []obj{{"id": "n1", "new": true, "cylinders": []int{1}, "side": "intake", "part": "left", "valves": []string{}}}}, "ports.n1.valves", "feeds no valve"},
		{"a valve without a port", obj{"ports": []obj{{"id": "p1", "valves": []string{"v1"}}}}, "valves.v2.id", "has no port"},
		{"a port taken out and its valves left", obj{"ports": []obj{{"id": "p1", "out": true}}}, "valves.v1.id", "has no port"},
		{"a new valve of no cylinder", obj{"valves": []obj{{"id": "n1", "new": true, "cylinder": 7, "side": "intake"}}, "ports": []obj{{"id": "p1", "valves": []string{"v1", "v2", "n1"}}}}, "valves.n1.cylinder", "no cylinder 7"},
		{"a valve of the other side", obj{"ports": []obj{{"id": "p2", "side": "intake", "part": "left"}}}, "ports.p2.valves.0", "on the port"},
		{"two valves of one name", obj{"valves": []obj{{"id": "v2", "place": "left"}}}, "valves.v2.place", "left and which right"},
		{"a cylinder named twice", obj{"engine": obj{"numbers": "1 2 2 4"}}, "engine.numbers.2", "twice"},
		{"no cylinder", obj{"engine": obj{"numbers": ""}}, "engine.numbers", "No cylinder"},
		{"a number that is none", obj{"engine": obj{"numbers": "1 two"}}, "engine.numbers", "two is no number"},
		{"a 35 mm valve in a 20 mm bore", obj{"engine": obj{"bore": "20"}, "valves": []obj{{"id": "v1", "head_diameter": "35"}}}, "engine.bore", "35 mm valve does not fit a 20 mm bore"},
		{"a valve tenfold", obj{"valves": []obj{{"id": "v1", "head_diameter": "270"}}}, "valves.v1.head_diameter", "270 mm"},
		{"a stem as thick as its head", obj{"valves": []obj{{"id": "v1", "stem_diameter": "27"}}}, "valves.v1.stem_diameter", "as thick as its head"},
		{"face and seat that do not meet", obj{"valves": []obj{{"id": "v1", "seat_angle": "45", "face_angle": "30"}}}, "valves.v1.face_angle", "do not meet"},
		{"a length for an angle", obj{"valves": []obj{{"id": "v1", "seat_angle": "45 mm"}}}, "valves.v1.seat_angle", "measures a length"},
		{"a coating that is none", obj{"valves": []obj{{"id": "v1", "coating": "gold"}}}, "valves.v1.coating", "no coating"},
		{"a rod that does not reach", obj{"engine": obj{"rod": "40"}}, "engine.rod", "does not reach"},
		{"idle above top", obj{"engine": obj{"idle": "2000", "top_speed": "1800"}}, "engine.idle", "not below the top speed"},
		{"a ratio of less than one", obj{"engine": obj{"compression_ratio": "0.95"}}, "engine.compression_ratio", "0.95 is none"},
		{"a limit that is none", obj{"limit": obj{"flow": "-3"}}, "limit.flow", "above zero"},
		{"an opening without a name", obj{"ports": []obj{{"id": "p1", "plugs": []string{""}}}}, "ports.p1.plugs.0", "no name"},
		{"no such valve", obj{"valves": []obj{{"id": "v99", "place": "left"}}}, "valves.v99.id", "no such valve"},
		{"no such port", obj{"ports": []obj{{"id": "p99", "part": "left"}}}, "ports.p99.id", "no such port"},
		{"no label", obj{"number": " "}, "number", "label"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.ask["rev"] = 1
			if what := field(t, call(t, b, "PUT", "heads/"+id, c.ask, 422), c.field); !strings.Contains(what, c.what) {
				t.Errorf("%q, want it to say %q", what, c.what)
			}
		})
	}
	if h := call(t, b, "GET", "heads/"+id, nil, 200); at(t, h, "head.rev") != 1.0 {
		t.Error("a refused change was written")
	}
	odd := obj{"rev": 1, "engine": obj{"compression_ratio": "30"}}
	call(t, b, "PUT", "heads/"+id, odd, 422)
	odd["insist"] = true
	call(t, b, "PUT", "heads/"+id, odd, 200)
}

// Every optional figure goes up as typed and comes back to be edited, with all its
// digits; what nobody gave comes back as the guess, marked.
func TestFiguresOfAHead(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	h := call(t, b, "GET", "heads/"+id, nil, 200)
	for path, want := range map[string]string{"engine.rod": "143 mm", "engine.intake_closes": "50°", "engine.cranking": "250 r/min", "ports.0.volume": "94.8 cm³"} {
		if at(t, h, "head."+path+".guessed") != true || at(t, h, "head."+path+".text") != want {
			t.Errorf("%s: %v, want the guess %s", path, at(t, h, "head."+path), want)
		}
	}
	h = call(t, b, "PUT", "heads/"+id, obj{"rev": 1,
		"engine": obj{"rod": "140.25", "chamber": "38 ± 1", "compression_ratio": "9.5", "intake_closes": "48", "cranking": "300", "idle": "900", "top_speed": "7200"},
		"limit":  obj{"flow": "20 cm3/min"},
		"ports":  []obj{{"id": "p1", "volume": "95 ± 6 cm³", "plugs": []string{"injector hole", "air passage"}}},
		"valves": []obj{{"id": "v1", "head_diameter": "26.95", "stem_diameter": "5,5", "contact_width": "1.2", "seat_angle": "45", "face_angle": "45.5", "guide_length": "38", "guide_clearance": "0.04", "seal": "viton", "coating": "coated"}},
	}, 200)
	for path, want := range map[string]string{
		"engine.rod": "140.25 mm", "engine.chamber": "38 ± 1 cm³", "engine.compression_ratio": "9.5", "engine.intake_closes": "48°", "engine.cranking": "300 r/min",
		"engine.idle": "900 r/min", "engine.top_speed": "7200 r/min", "limit.flow": "20 cm³/min", "ports.0.volume": "95 ± 6 cm³", "valves.0.head_diameter": "26.95 mm",
		"valves.0.stem_diameter": "5.5 mm", "valves.0.contact_width": "1.2 mm", "valves.0.seat_angle": "45°", "valves.0.face_angle": "45.5°", "valves.0.guide_length": "38 mm", "valves.0.guide_clearance": "0.04 mm",
	} {
		if got := at(t, h, "head."+path+".text"); got != want {
			t.Errorf("%s comes back as %q, want %q", path, got, want)
		}
		if at(t, h, "head."+path+".guessed") == true {
			t.Errorf("%s was given and is marked as guessed", path)
		}
	}
	if at(t, h, "head.valves.0.seal") != "viton" || at(t, h, "head.valves.0.coating") != "coated" || at(t, h, "head.ports.0.plugs.1") != "air passage" {
		t.Errorf("words were lost: %v", at(t, h, "head.valves.0"))
	}
	// emptied, a figure is not known again
	h = call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "engine": obj{"rod": ""}}, 200)
	if at(t, h, "head.engine.rod.guessed") != true {
		t.Errorf("an emptied figure stays: %v", at(t, h, "head.engine.rod"))
	}
}

// A port with tests is not taken out before a person says that they go to the
// tray; they can be filed again, and those in the bin come back to the tray.
func TestTakeOutAPortWithTests(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	var tests []string
	for range 2 {
		tests = append(tests, at(t, call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201), "test.id").(string))
	}
	call(t, b, "POST", "tests/"+tests[1]+"/bin", obj{"rev": 1}, 200)
	out := obj{"rev": 1, "ports": []obj{{"id": "p1", "out": true}}, "valves": []obj{{"id": "v1", "out": true}, {"id": "v2", "out": true}}}
	if what := field(t, call(t, b, "PUT", "heads/"+id, out, 422), "ports.p1.out"); what != "Cylinder 1 intake has 2 tests." {
		t.Errorf("refused with %q", what)
	}
	out["insist"] = true // that is about figures, not tests
	call(t, b, "PUT", "heads/"+id, out, 422)
	out["tray"] = true
	h := call(t, b, "PUT", "heads/"+id, out, 200)
	if len(at(t, h, "head.ports").([]any)) != 7 || len(at(t, h, "head.valves").([]any)) != 14 {
		t.Errorf("left: %v", names(t, h, "ports"))
	}
	tray := at(t, call(t, b, "GET", "tests?tray=1", nil, 200), "tests").([]any)
	if len(tray) != 1 || at(t, tray[0], "id") != tests[0] {
		t.Errorf("in the tray: %v", tray)
	}
	call(t, b, "POST", "tests/"+tests[1]+"/unbin", obj{"rev": at(t, call(t, b, "GET", "tests/"+tests[1], nil, 200), "test.rev")}, 200)
	if n := len(at(t, call(t, b, "GET", "tests?tray=1", nil, 200), "tests").([]any)); n != 2 {
		t.Errorf("%d in the tray, want the one from the bin too", n)
	}
	r := call(t, b, "POST", "tests/"+tests[0]+"/move", obj{"rev": 2, "job": id, "port": "p2"}, 200)
	if at(t, r, "card.rows.0.port") != "p2" || at(t, r, "card.rows.0.state") == "not tested" {
		t.Errorf("filed again: %v", at(t, r, "card.rows.0"))
	}
}

// Work on a valve that was taken out since is never shown as work on the whole
// head.
func TestWorkOfAValveTakenOut(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	call(t, b, "POST", "heads/"+id+"/work", obj{"valves": []string{"v2"}, "kind": "lapped"}, 201)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "valves": []obj{{"id": "v2", "out": true}}}, 200)
	if on := at(t, call(t, b, "GET", "heads/"+id+"/work", nil, 200), "work.0.on").([]any); len(on) != 1 {
		t.Errorf("on %v", on)
	}
}

// The history says in words what changed, who did it, and what happened to tests,
// also to one that is on another head by now.
func TestHistory(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	other, _ := bookIn(t, b)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "by": "LM", "ports": []obj{{"id": "p1", "volume": "45"}}}, 200)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "by": "KS", "ports": []obj{{"id": "p1", "volume": "60"}}}, 200)
	test := at(t, call(t, b, "POST", "tests", counted(id, port, "21½", "21"), 201), "test.id").(string)
	call(t, b, "POST", "tests/"+test+"/move", obj{"rev": 1, "by": "KS", "job": id, "port": "p2"}, 200)
	call(t, b, "PUT", "tests/"+test, obj{"rev": 2, "note": "hose was kinked", "conditions": obj{"held": "thumb", "wet_with": "oil", "guide": "open", "plugged": "yes", "state": "cleaned"}}, 200)
	call(t, b, "POST", "tests/"+test+"/bin", obj{"rev": 3, "by": "LM"}, 200)
	call(t, b, "POST", "tests/"+test+"/unbin", obj{"rev": 4}, 200)
	call(t, b, "POST", "tests/"+test+"/move", obj{"rev": 5, "job": other, "port": "p1"}, 200)
	call(t, b, "POST", "heads/"+id+"/work", obj{"valves": []string{"v1"}, "kind": "lapped", "note": "fine paste"}, 201)
	h := call(t, b, "GET", "heads/"+id+"/history", nil, 200)
	var lines []string
	for _, e := range at(t, h, "events").([]any) {
		line := at(t, e, "by").(string) + ": " + at(t, e, "words").(string)
		for _, d := range at(t, e, "changes").([]any) {
			line += fmt.Sprintf("; %s %s %s -> %s", at(t, d, "of"), at(t, d, "what"), at(t, d, "was"), at(t, d, "is"))
		}
		lines = append(lines, line)
	}
	all := strings.Join(lines, "\n")
	for _, want := range []string{
		"KS: changed; cylinder 1 intake volume 45 cm³ -> 60 cm³",
		"booked in: 4 cylinders in line: 1, 2, 3 and 4. 16 valves, 8 ports.",
		"was filed: cylinder 1 intake, counted reading",
		"was moved from cylinder 1 intake to cylinder 1 exhaust",
		"valves held by their own springs -> a thumb",
		"seats dry -> oiled",
		"note  -> hose was kinked",
		"cylinder 1 exhaust, was put into the bin",
		"was taken out of the bin: cylinder 1 exhaust",
		"was moved from cylinder 1 exhaust to cylinder 1 intake of T-1",
		"lapped: cylinder 1 intake valve, left. fine paste",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in\n%s", want, all)
		}
	}
	if got := at(t, h, "revisions.2.changes.0.is"); got != "60 cm³" {
		t.Errorf("revision 3 says %v", got)
	}
	if n := len(at(t, call(t, b, "GET", "tests/"+test+"/history", nil, 200), "events").([]any)); n != 6 {
		t.Errorf("%d things happened to the test, want 6", n)
	}
	call(t, b, "GET", "heads/none/history", nil, 404)
}

// Both bins list what is in them, and give it back.
func TestBins(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	test := at(t, call(t, b, "POST", "tests", counted(id, port, "21½", "21"), 201), "test.id").(string)
	call(t, b, "POST", "tests/"+test+"/bin", obj{"rev": 1}, 200)
	binned := at(t, call(t, b, "GET", "tests?binned=1", nil, 200), "tests").([]any)
	if len(binned) != 1 || at(t, binned[0], "port_name") != "cylinder 1 intake" {
		t.Fatalf("in the bin: %v", binned)
	}
	r := call(t, b, "POST", "tests/"+test+"/unbin", obj{"rev": 2}, 200)
	if at(t, r, "card.rows.0.state") == "not tested" {
		t.Error("taken out of the bin, the test is not on its port")
	}
	call(t, b, "GET", "tests", nil, 400)
}

// A change can be tried: it answers names, words and the drawing as they would be,
// and nothing is written.
func TestTryALayout(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	ask := obj{"rev": 1, "ports": []obj{
		{"id": "p1", "part": "left", "valves": []string{"v1"}},
		{"id": "n1", "new": true, "cylinders": []int{1}, "side": "intake", "part": "right", "valves": []string{"v2"}},
	}}
	r := call(t, b, "PUT", "heads/"+id+"?try=400", ask, 200)
	if got := at(t, r, "names.n1"); got != "cylinder 1 intake, right port" {
		t.Errorf("the new port would be called %v", got)
	}
	if got := strings.Count(at(t, r, "plan").(string), `class="mouth`); got != 9 {
		t.Errorf("%d mouths are drawn, want 9", got)
	}
	if h := call(t, b, "GET", "heads/"+id, nil, 200); at(t, h, "head.rev") != 1.0 || len(at(t, h, "head.ports").([]any)) != 8 {
		t.Error("trying it wrote it")
	}
}

// Layouts come out in words and drawn: what the New sheet shows before a head is
// booked in.
func TestLayoutPreview(t *testing.T) {
	b := newBed(t)
	for _, c := range []struct {
		name          string
		layout        obj
		ports, valves int
		says          string
	}{
		{"two valves, inline", obj{"kind": "inline", "cylinders": 4, "valves": 2}, 8, 8, "4 cylinders in line: 1, 2, 3 and 4. 8 valves, 8 ports."},
		{"three valves", obj{"kind": "inline", "cylinders": 2, "valves": 3}, 4, 6, "Intake: a port for each cylinder, of 2 valves. Exhaust: a port for each cylinder, of 1 valve."},
		{"four valves, one port a valve", obj{"kind": "inline", "cylinders": 2, "valves": 4, "intake": "valve", "exhaust": "valve"}, 8, 8, "Intake: 2 ports for each cylinder, one a valve. Exhaust: 2 ports for each cylinder, one a valve."},
		{"five valves, one port for all", obj{"kind": "inline", "cylinders": 1, "valves": 5}, 2, 5, "Intake: a port for each cylinder, of 3 valves. Exhaust: a port for each cylinder, of 2 valves."},
		{"second bank of a vee", obj{"kind": "vee", "cylinders": 3, "valves": 4, "bank": 2}, 6, 12, "3 cylinders of one bank of a vee: 4, 5 and 6."},
		{"second bank, counted in turn", obj{"kind": "flat", "cylinders": 2, "valves": 2, "bank": 2, "count": "in-turn"}, 4, 4, "2 cylinders of one bank of a flat engine: 2 and 4."},
		{"siamesed, on one side", obj{"kind": "inline", "cylinders": 4, "valves": 2, "intake": "pairs", "exhaust": "centre", "same_side": true}, 5, 8, "cylinders 2 and 3 share one of 2 valves; cylinder 4 has one of 1 valve. Intake and exhaust ports open on one side."},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := call(t, b, "POST", "layout", obj{"layout": c.layout}, 200)
			ports, valves := at(t, r, "head.ports").([]any), at(t, r, "head.valves").([]any)
			if len(ports) != c.ports || len(valves) != c.valves {
				t.Errorf("%d ports and %d valves, want %d and %d", len(ports), len(valves), c.ports, c.valves)
			}
			if got := at(t, r, "head.says").(string); !strings.Contains(got, c.says) {
				t.Errorf("it says %q, want %q in it", got, c.says)
			}
			svg := at(t, r, "plan").(string)
			if n := strings.Count(svg, `class="mouth`); n != c.ports {
				t.Errorf("%d mouths are drawn, want %d", n, c.ports)
			}
			if n := strings.Count(svg, `class="valve `); n != c.valves {
				t.Errorf("%d valves are drawn, want %d", n, c.valves)
			}
			h := call(t, b, "POST", "heads", obj{"number": "A", "layout": c.layout}, 201)
			same := call(t, b, "POST", "layout", obj{"same_as": at(t, h, "head.id")}, 200)
			if at(t, same, "head.says") != at(t, r, "head.says") || !slices.Equal(names(t, same, "ports"), names(t, r, "ports")) {
				t.Errorf("the same again is %v", names(t, same, "ports"))
			}
			call(t, b, "POST", "heads", obj{"number": "B", "same_as": at(t, h, "head.id")}, 201)
		})
	}
}

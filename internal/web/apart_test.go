package web

import (
	"strings"
	"testing"
)

// A port of two valves: open it leaks, with the left one masked it holds. The
// sheet names the left valve, the job card too, and what is not tried yet is said.
func TestPortSheetTellsTheValve(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	c := call(t, b, "GET", "heads/"+id, nil, 200)
	valves := at(t, c, "head.ports.0.valves").([]any)
	if len(valves) != 2 {
		t.Fatalf("%d valves on the first port", len(valves))
	}
	count := func(from, to string, masked ...any) {
		body := counted(id, port, from, to)
		how := obj{}
		for k, v := range body["conditions"].(obj) {
			how[k] = v
		}
		how["masked"] = masked
		body["conditions"] = how
		call(t, b, "POST", "tests", body, 201)
	}
	way := "heads/" + id + "/ports/" + port
	count("21", "9", []any{}...)
	p := call(t, b, "GET", way, nil, 200)
	if got := at(t, p, "apart.plan.words").(string); !strings.Contains(got, "test") {
		t.Errorf("a port that leaks has the plan %q", got)
	}
	if n := len(at(t, p, "apart.openings").([]any)); n != 0 {
		t.Errorf("one test tells %d openings apart", n)
	}
	if got := at(t, p, "apart.plan.do"); got != "Test with the left valve masked" {
		t.Errorf("the plan's button says %q", got)
	}
	if got := at(t, p, "apart.guide.words").(string); !strings.Contains(got, "The guides alone may pass ") || !strings.Contains(got, "close them off and test") {
		t.Errorf("guides: %q", got)
	}
	count("21", "20¾", valves[0])
	count("21", "20¾", valves[0], valves[1])
	count("21", "10", valves[1])
	p = call(t, b, "GET", way, nil, 200)
	if got := at(t, p, "apart.title"); got != "The left valve leaks" {
		t.Errorf("title %q", got)
	}
	for i, want := range []string{"leaks", "holds", ""} {
		if got := at(t, at(t, p, "apart.openings").([]any)[i], "word"); got != want {
			t.Errorf("opening %d: %q, want %q", i, got, want)
		}
	}
	if got := at(t, p, "row.blame"); got != "left valve" {
		t.Errorf("blame %q", got)
	}
	if got := at(t, p, "tests.0.how").(string); !strings.Contains(got, "right valve masked") {
		t.Errorf("how %q", got)
	}
	if got := at(t, p, "apart.advice.kind"); got != "test" {
		t.Errorf("advice %q before anything was tried", got)
	}
	for _, g := range at(t, p, "apart.advice.grounds").([]any) {
		if w := at(t, g, "words"); w == "guides closed off" && at(t, g, "said") != "not tried yet" {
			t.Errorf("%v: %v", w, at(t, g, "said"))
		}
	}
}

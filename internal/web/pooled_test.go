package web

import (
	"testing"

	"seatproof/leak"
)

// The same readings under the same names are read together once, as long as each
// card asks for them; another reading, name or job is another answer.
func TestPooledIsKept(t *testing.T) {
	p := newPooled()
	a, b := &leak.Reading{Room: 1}, &leak.Reading{Room: 2}
	card := func(job string, tests ...leak.Test) *leak.Reading {
		together, done := p.of(job)
		defer done()
		return together(tests)
	}
	first := card("j", leak.Test{Name: "test 1", Reading: a}, leak.Test{Name: "test 2", Reading: b})
	if again := card("j", leak.Test{Name: "test 1", Reading: a}, leak.Test{Name: "test 2", Reading: b}); again != first {
		t.Error("the same tests were read together twice")
	}
	for name, other := range map[string]*leak.Reading{
		"another job":     card("k", leak.Test{Name: "test 1", Reading: a}, leak.Test{Name: "test 2", Reading: b}),
		"another name":    card("j", leak.Test{Name: "test 1", Reading: a}, leak.Test{Name: "test 3", Reading: b}),
		"another reading": card("j", leak.Test{Name: "test 1", Reading: a}, leak.Test{Name: "test 2", Reading: &leak.Reading{Room: 2}}),
	} {
		if other == first {
			t.Errorf("%s is taken for the same", name)
		}
	}
	if len(p.jobs["j"]) != 1 {
		t.Errorf("%d answers are kept, want only what the last card asked for", len(p.jobs["j"]))
	}
}

// A card made of what was kept says the same as one made anew.
func TestPooledSaysTheSame(t *testing.T) {
	k := NewMemory()
	b := bedOn(t, Config{Keeper: k, Version: "1"})
	id, port := bookIn(t, b)
	second := at(t, call(t, b, "GET", "heads/"+id, nil, 200), "head.ports.1.id").(string)
	for _, end := range []string{"21", "21¼", "20½"} {
		call(t, b, "POST", "tests", counted(id, port, "21½", end), 201)
		call(t, b, "GET", "heads/"+id+"/card", nil, 200)
		call(t, b, "POST", "tests", counted(id, second, "21½", end), 201)
	}
	kept := call(t, b, "GET", "heads/"+id+"/ports/"+port, nil, 200)
	anew := call(t, bedOn(t, Config{Keeper: k, Version: "1"}), "GET", "heads/"+id+"/ports/"+port, nil, 200)
	for _, path := range []string{"row.leak", "row.again", "row.word", "row.chance", "intervals"} {
		if x, y := at(t, kept, path), at(t, anew, path); x != y {
			t.Errorf("%s: kept %v, anew %v", path, x, y)
		}
	}
}

package web

import (
	"strings"
	"testing"
)

// Both limits stand on the sheet of a port, the stricter decides; the share of
// cranking pressure and the basis are set with the head, and come back as set.
func TestLimitsSideBySide(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	call(t, b, "POST", "tests", counted(id, port, "21½", "21"), 201)
	rows := func() []any {
		return at(t, call(t, b, "GET", "heads/"+id+"/ports/"+port, nil, 200), "limits.rows").([]any)
	}
	first := rows()[0]
	if w := at(t, first, "words").(string); !strings.HasPrefix(w, "workmanship, 3\u00a0µm gap: decides") || at(t, first, "one") != "23" || at(t, first, "all") != "46" {
		t.Errorf("%v", first)
	}
	second := rows()[1]
	if w := at(t, second, "words").(string); w != "cost, 2\u00a0% of cranking pressure, as a seep" || at(t, second, "one") == "" || at(t, second, "counts") != true {
		t.Errorf("%v", second)
	}
	if m := at(t, second, "means").([]any); len(m) < 3 || !strings.Contains(m[1].(string), "as an opening") {
		t.Errorf("in the others' terms: %v", m)
	}

	// a stricter share makes cost decide
	h := call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "limit": obj{"cost": "0.5 %"}}, 200)
	if got := at(t, h, "head.limit.cost.text"); got != "0.5 %" {
		t.Errorf("the share comes back as %v", got)
	}
	if w := at(t, rows()[0], "words").(string); !strings.HasPrefix(w, "cost, 0.5\u00a0% of cranking pressure, as a seep: decides") {
		t.Errorf("decides: %s", w)
	}
	if by := at(t, call(t, b, "GET", "heads/"+id, nil, 200), "card.rows.0.limit_by"); by != "cost" {
		t.Errorf("the card's limit is by %v", by)
	}
	call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "limit": obj{"no_cost": true}}, 200)
	if r := rows(); !strings.Contains(at(t, r[0], "words").(string), "workmanship") || !strings.HasSuffix(at(t, r[1], "words").(string), "set aside") {
		t.Errorf("cost set aside: %v", r)
	}
	call(t, b, "PUT", "heads/"+id, obj{"rev": 3, "limit": obj{"basis": "maker", "flow": "60"}}, 200)
	if r := rows(); len(r) != 3 || !strings.HasPrefix(at(t, r[0], "words").(string), "the maker's figure: decides") || at(t, r[0], "one") != "60" {
		t.Errorf("the maker's figure: %v", r)
	}
	for at, limit := range map[string]obj{
		"limit.cost": {"cost": "90 %"}, "limit.drop": {"basis": "drop", "drop": ""}, "limit.good": {"basis": "good-port", "good": ""}, "limit.basis": {"basis": "hope"},
	} {
		e := call(t, b, "PUT", "heads/"+id, obj{"rev": 4, "limit": limit}, 422)
		field(t, e, at)
	}
}

// A drop that this rig's needle can't show is asked about at its field, in the unit
// it was typed in; a person may insist, and a drop the pump has is taken.
func TestDropIsAskedAbout(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	rig := at(t, call(t, b, "POST", "rigs", obj{"name": "Garage rig", "file": needleRig}, 201), "rig.id")
	call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "rig": rig}, 200)
	limit := func(drop string) obj { return obj{"basis": "drop", "drop": drop} }
	e := call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "limit": limit("25 inHg")}, 422)
	if what := field(t, e, "limit.drop"); !strings.Contains(what, "25.0 inHg") || !strings.Contains(what, "22.9 inHg") {
		t.Error(what)
	}
	call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "limit": limit("25 inHg"), "insist": true}, 200)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 3, "limit": limit("2 inHg")}, 200)
}

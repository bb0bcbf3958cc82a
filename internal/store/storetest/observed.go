package storetest

import (
	"slices"
	"testing"

	"seatproof/head"
	"seatproof/internal/store"
)

// observed: what another test showed is kept with its job, apart from the tests, and
// goes to the bin and back with all its revisions.
func observed(t *testing.T, s store.Store) {
	rec := func(id, jobID string, o head.Observed) store.Record {
		body, err := store.Marshal(store.KindObserved, o)
		if err != nil {
			t.Fatal(err)
		}
		return store.Record{Kind: store.KindObserved, ID: id, JobID: jobID, At: 7, By: "M.K.", Body: body}
	}
	dry := head.Observed{Kind: head.ObservedLiquid, PortID: "p1", At: 3, Fields: map[string]string{"liquid": "kerosene", "height": "30 mm", "seen": "dry", "after": "60 s"}}
	put(t, s, job("a", `{"v":1}`))
	put(t, s, test("x", "a"))
	first := put(t, s, rec("x", "a", dry)) // a test may have the same identity
	put(t, s, rec("y", "a", head.Observed{Kind: head.ObservedLeakDown, Cylinder: 2, At: 4, Fields: map[string]string{"second": "72 psi ± 1", "note": "µ"}}))
	put(t, s, rec("z", "b", dry))
	of := store.Query{Kind: store.KindObserved, JobID: "a"}
	if got := ids(t, s, of); !slices.Equal(got, []string{"y", "x"}) {
		t.Errorf("of job a: %v", got)
	}
	if got := ids(t, s, store.Query{Kind: store.KindTest, JobID: "a"}); !slices.Equal(got, []string{"x"}) {
		t.Errorf("tests of job a: %v", got)
	}
	e, err := store.Read[head.Observed](get(t, s, store.KindObserved, "x"))
	if err != nil || e.Is.ID != "x" || e.Is.JobID != "a" || e.Is.Fields["after"] != "60 s" || e.Is.PortID != "p1" {
		t.Errorf("read: %+v, %v", e, err)
	}
	binned := first
	binned.Binned = true
	put(t, s, binned)
	if got := ids(t, s, of); !slices.Equal(got, []string{"y"}) {
		t.Errorf("one of them in the bin: %v", got)
	}
	of.Binned = true
	if got := ids(t, s, of); !slices.Equal(got, []string{"x"}) {
		t.Errorf("in the bin: %v", got)
	}
	past, err := s.History(t.Context(), store.KindObserved, "x")
	if err != nil || len(past) != 2 || past[0].Binned || !past[1].Binned {
		t.Errorf("history: %+v, %v", past, err)
	}
}

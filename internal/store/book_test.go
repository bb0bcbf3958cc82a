package store_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/internal/store"
	"seatproof/internal/store/mem"
	"seatproof/unit"
)

// book returns a book in memory whose clock goes up by one each time it is read,
// and whose identities are numbers.
func book(t *testing.T) store.Book {
	t.Helper()
	s := mem.New()
	t.Cleanup(func() { _ = s.Close() })
	var now int64
	id := 0
	return store.Book{Store: s, By: "M.K.",
		Now:   func() int64 { now++; return now },
		NewID: func() string { id++; return fmt.Sprint("id", id) }}
}

func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

var example = head.Job{Number: "QSH-0412", Title: "Small-car head, inline three", Owner: "J. Doe", Invented: true,
	Engine: head.Engine{Cylinders: 3, Bore: unit.About(0.0715, 1e-5)}, Ports: []head.Port{{ID: "p1", Side: head.Exhaust}, {ID: "p2", Side: head.Intake}}}

func TestBookJob(t *testing.T) {
	b := book(t)
	first := must(b.SaveJob(t.Context(), example, 0))(t)
	want := example
	want.ID = "id1"
	if !reflect.DeepEqual(first.Is, want) || first.Rev != 1 || first.At != 1 || first.By != "M.K." || first.Binned {
		t.Errorf("got %+v, want %+v", first, want)
	}
	want.Notes = "guide 3 is loose"
	second := must(b.As("J.L.").SaveJob(t.Context(), want, 1))(t)
	if got := must(b.Job(t.Context(), "id1"))(t); !reflect.DeepEqual(got, second) || got.Rev != 2 || got.By != "J.L." || !reflect.DeepEqual(got.Is, want) {
		t.Errorf("got %+v, want %+v", got, second)
	}
	var conflict *store.Conflict
	if _, err := b.SaveJob(t.Context(), want, 1); !errors.As(err, &conflict) || conflict.Now.Rev != 2 || conflict.Now.By != "J.L." {
		t.Errorf("a stale save: %v", err)
	}
	if _, err := b.Job(t.Context(), "none"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("no such job: %v", err)
	}
	bad := example
	bad.Engine.Bore = unit.About(math.NaN(), 0)
	if _, err := b.SaveJob(t.Context(), bad, 0); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a figure that is none: %v", err)
	}
}

func TestBookJobs(t *testing.T) {
	b := book(t)
	must(b.SaveJob(t.Context(), example, 0))(t)
	other := example
	other.Number, other.Title = "QSH-0500", "A vee"
	must(b.SaveJob(t.Context(), other, 0))(t)
	for find, want := range map[string]string{"": "QSH-0500 QSH-0412", "doe": "QSH-0500 QSH-0412", "INLINE": "QSH-0412", "qsh vee": "QSH-0500", "exhaust": "", "p1": ""} {
		var got []string
		for _, j := range must(b.Jobs(t.Context(), find))(t) {
			got = append(got, j.Is.Number)
		}
		if strings.Join(got, " ") != want {
			t.Errorf("find %q: got %q, want %q", find, got, want)
		}
	}
}

func TestBookTests(t *testing.T) {
	b := book(t)
	j := must(b.SaveJob(t.Context(), example, 0))(t).Is
	late := must(b.SaveTest(t.Context(), head.Test{JobID: j.ID, PortID: "p1", At: 900}, 0))(t)
	early := must(b.SaveTest(t.Context(), head.Test{At: 100, Note: "quick"}, 0))(t)
	tests := func(want ...string) {
		t.Helper()
		var got []string
		for _, e := range must(b.Tests(t.Context(), j.ID))(t) {
			got = append(got, e.Is.ID+"/"+e.Is.PortID)
		}
		got = append(got, "tray")
		for _, e := range must(b.Tray(t.Context()))(t) {
			got = append(got, e.Is.ID)
		}
		if strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	tests(late.Is.ID+"/p1", "tray", early.Is.ID)
	moved := must(b.MoveTest(t.Context(), early.Is.ID, 1, j.ID, "p2"))(t)
	if moved.Rev != 2 || moved.Is.Note != "quick" || moved.Is.At != 100 {
		t.Errorf("moved: %+v", moved)
	}
	tests(early.Is.ID+"/p2", late.Is.ID+"/p1", "tray")
	var conflict *store.Conflict
	if _, err := b.MoveTest(t.Context(), early.Is.ID, 1, "", ""); !errors.As(err, &conflict) {
		t.Errorf("a stale move: %v", err)
	}
	for what, c := range map[string]struct {
		job, port string
		err       error
	}{"no such port": {j.ID, "p9", store.ErrNotFound}, "no port": {j.ID, "", store.ErrNotFound}, "no such job": {"x", "p1", store.ErrNotFound}, "a port of no job": {"", "p1", store.ErrInvalid}} {
		if _, err := b.MoveTest(t.Context(), early.Is.ID, 2, c.job, c.port); !errors.Is(err, c.err) {
			t.Errorf("%s: %v, want %v", what, err, c.err)
		}
	}
	must(b.MoveTest(t.Context(), early.Is.ID, 2, "", ""))(t)
	tests(late.Is.ID+"/p1", "tray", early.Is.ID)

	binned := must(b.Bin(t.Context(), store.KindTest, late.Is.ID, 1, true))(t)
	tests("tray", early.Is.ID)
	// A save of a binned test leaves it in the bin.
	late.Is.Note = "later"
	if e := must(b.SaveTest(t.Context(), late.Is, binned.Rev))(t); !e.Binned || e.Rev != 3 {
		t.Errorf("saved in the bin: %+v", e)
	}
	must(b.Bin(t.Context(), store.KindTest, late.Is.ID, 3, false))(t)
	tests(late.Is.ID+"/p1", "tray", early.Is.ID)
	if _, err := b.Tests(t.Context(), ""); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("tests of no job: %v", err)
	}
}

func TestBookRest(t *testing.T) {
	b := book(t)
	j := must(b.SaveJob(t.Context(), example, 0))(t).Is
	must(b.SaveWork(t.Context(), head.Work{JobID: j.ID, At: 5, Kind: head.WorkLapped}, 0))(t)
	must(b.SaveWork(t.Context(), head.Work{JobID: j.ID, At: 3, Kind: head.WorkCut}, 0))(t)
	if ws := must(b.Work(t.Context(), j.ID))(t); len(ws) != 2 || ws[0].Is.Kind != head.WorkCut {
		t.Errorf("work: %+v", ws)
	}
	seen := must(b.SaveObserved(t.Context(), head.Observed{JobID: j.ID, At: 9, Kind: head.ObservedLeakDown, Cylinder: 2, Fields: map[string]string{"second": "72 psi"}}, 0))(t)
	must(b.SaveObserved(t.Context(), head.Observed{JobID: j.ID, At: 8, Kind: head.ObservedLiquid, PortID: "p1"}, 0))(t)
	if os := must(b.Observed(t.Context(), j.ID))(t); len(os) != 2 || os[0].Is.PortID != "p1" || os[1].Is.Fields["second"] != "72 psi" || os[1].Is.ID != seen.Is.ID {
		t.Errorf("observed: %+v", os)
	}
	must(b.Bin(t.Context(), store.KindObserved, seen.Is.ID, 1, true))(t)
	if os := must(b.Observed(t.Context(), j.ID))(t); len(os) != 1 {
		t.Errorf("observed, one of them in the bin: %+v", os)
	}
	rig := must(b.SaveRig(t.Context(), head.Rig{Name: "bench", File: "[pump]\n"}, 0))(t).Is
	must(b.SaveRig(t.Context(), head.Rig{Name: "other"}, 0))(t)
	must(b.SaveCheck(t.Context(), head.Check{RigID: rig.ID, At: 7, Kind: "rig leak"}, 0))(t)
	if rs := must(b.Rigs(t.Context()))(t); len(rs) != 2 || rs[1].Is != rig {
		t.Errorf("rigs: %+v", rs)
	}
	if cs := must(b.Checks(t.Context(), rig.ID))(t); len(cs) != 1 || cs[0].Is.Kind != "rig leak" {
		t.Errorf("checks: %+v", cs)
	}
	if cs := must(b.Checks(t.Context(), "none"))(t); len(cs) != 0 {
		t.Errorf("checks of no rig: %+v", cs)
	}
	photo := must(b.AddPhoto(t.Context(), store.Photo{JobID: j.ID, PortID: "p1", Name: "IMG 1.jpg", Type: "image/jpeg"}, strings.NewReader("\xff\xd8")))(t)
	if photo.Is.Size != 2 || photo.Is.BlobID == "" || photo.Is.By != "M.K." {
		t.Errorf("photo: %+v", photo)
	}
	if ps := must(b.Photos(t.Context(), j.ID))(t); len(ps) != 1 || ps[0] != photo {
		t.Errorf("photos: %+v", ps)
	}
	for what, err := range map[string]error{
		"work":  errOf(b.SaveWork(t.Context(), head.Work{JobID: "x"}, 0)),
		"seen":  errOf(b.SaveObserved(t.Context(), head.Observed{JobID: "x"}, 0)),
		"check": errOf(b.SaveCheck(t.Context(), head.Check{RigID: "x"}, 0)),
		"photo": errOf(b.AddPhoto(t.Context(), store.Photo{JobID: "x"}, strings.NewReader(""))),
	} {
		if !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%s on nothing: %v", what, err)
		}
	}
}

func errOf[T any](_ T, err error) error { return err }

func TestBookResults(t *testing.T) {
	b := book(t)
	test := must(b.SaveTest(t.Context(), head.Test{}, 0))(t).Is
	v := store.ResultVersion("3", []byte("rig"), []byte("priors"))
	for _, other := range []string{store.ResultVersion("4", []byte("rig"), []byte("priors")), store.ResultVersion("3", []byte("rigp"), []byte("riors")), store.ResultVersion("3", []byte("rig"))} {
		if other == v {
			t.Errorf("two versions are %q", v)
		}
	}
	if err := b.KeepResult(t.Context(), test.ID, v, map[string]float64{"flow": 1}); err != nil {
		t.Fatal(err)
	}
	if rs := must(b.Results(t.Context(), "", v))(t); string(rs[test.ID]) != `{"flow":1}` || len(rs) != 1 {
		t.Errorf("results: %s", rs)
	}
	if err := b.KeepResult(t.Context(), test.ID, v, math.Inf(1)); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a result that is no figure: %v", err)
	}
}

// TestBodies: every type begins with its format's version and comes back; what a
// newer program wrote is not guessed at.
func TestBodies(t *testing.T) {
	for kind, v := range map[store.Kind]any{
		store.KindJob: example, store.KindTest: head.Test{Note: "<&>"}, store.KindWork: head.Work{Valves: []string{"v1"}},
		store.KindRig: head.Rig{File: "a = 'b'\n"}, store.KindCheck: head.Check{Words: "µ"}, store.KindPhoto: store.Photo{Size: 1 << 40},
		store.KindObserved: head.Observed{Kind: head.ObservedLiquid, Fields: map[string]string{"after": "60 s"}},
	} {
		body := must(store.Marshal(kind, v))(t)
		if !strings.HasPrefix(string(body), fmt.Sprintf(`{"v":%d,`, store.Format(kind))) || !json.Valid(body) {
			t.Errorf("%s: %s", kind, body)
		}
		back := reflect.New(reflect.TypeOf(v))
		if err := store.Unmarshal(kind, body, back.Interface()); err != nil || !reflect.DeepEqual(back.Elem().Interface(), v) {
			t.Errorf("%s: got %+v, error %v, want %+v", kind, back.Elem(), err, v)
		}
	}
	for body, want := range map[string]error{`{"v":99}`: store.ErrVersion, `{}`: store.ErrDamaged, `{"v":0}`: store.ErrDamaged, `[]`: store.ErrDamaged, `{"v":1,"number":5}`: store.ErrDamaged} {
		if err := store.Unmarshal(store.KindJob, []byte(body), &head.Job{}); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", body, err, want)
		}
	}
	if _, err := store.Marshal("unheard of", example); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a kind nobody knows: %v", err)
	}
	if _, err := store.Marshal(store.KindJob, 5); !errors.Is(err, store.ErrInvalid) {
		t.Errorf("a body that is no object: %v", err)
	}
}

package storetest

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	"seatproof/internal/store"
)

func putGet(t *testing.T, s store.Store) {
	_, err := s.Get(t.Context(), store.KindJob, "a")
	want(t, "get of none", err, store.ErrNotFound)
	r := job("a", `{"v":1}`)
	kept := put(t, s, r)
	r.Rev = 1
	same(t, "put", kept, r)
	same(t, "get", get(t, s, store.KindJob, "a"), r)

	// The same identity may be taken by another kind.
	other := store.Record{Kind: store.KindRig, ID: "a", At: -5, Body: []byte(`{}`)}
	put(t, s, other)
	other.Rev = 1
	same(t, "get of another kind", get(t, s, store.KindRig, "a"), other)

	r.At, r.By, r.JobID, r.Body = 2, "J.L.", "", []byte(`{"v":2}`)
	second := put(t, s, r)
	r.Rev = 2
	same(t, "second put", second, r)
	same(t, "second get", get(t, s, store.KindJob, "a"), r)
	same(t, "the other after it", get(t, s, store.KindRig, "a"), other)
}

func putRefuses(t *testing.T, s store.Store) {
	kept := put(t, s, put(t, s, job("a", `1`)))
	before := seq(t, s)
	with := func(change func(*store.Record)) store.Record {
		r := job("b", `1`)
		change(&r)
		return r
	}
	for _, c := range []struct {
		what string
		r    store.Record
		err  error
	}{
		{"a new one where there is one", job("a", `2`), store.ErrExists},
		{"a revision where there is none", with(func(r *store.Record) { r.Rev = 1 }), store.ErrNotFound},
		{"no kind", with(func(r *store.Record) { r.Kind = "" }), store.ErrInvalid},
		{"no identity", with(func(r *store.Record) { r.ID = "" }), store.ErrInvalid},
		{"a negative revision", with(func(r *store.Record) { r.Rev = -1 }), store.ErrInvalid},
		{"no body", with(func(r *store.Record) { r.Body = nil }), store.ErrInvalid},
		{"a body that is not JSON", with(func(r *store.Record) { r.Body = []byte(`{"a":`) }), store.ErrInvalid},
		{"a body that is not UTF-8", with(func(r *store.Record) { r.Body = []byte("\"\xff\"") }), store.ErrInvalid},
		{"two bodies", with(func(r *store.Record) { r.Body = []byte(`1 2`) }), store.ErrInvalid},
		{"a body too large", with(func(r *store.Record) { r.Body = []byte(`"` + strings.Repeat("a", store.MostBody) + `"`) }), store.ErrInvalid},
		{"an identity that is not UTF-8", with(func(r *store.Record) { r.ID = "\xff" }), store.ErrInvalid},
		{"initials with a zero byte", with(func(r *store.Record) { r.By = "a\x00" }), store.ErrInvalid},
		{"an identity too long", with(func(r *store.Record) { r.ID = strings.Repeat("a", store.MostName+1) }), store.ErrInvalid},
	} {
		_, err := s.Put(t.Context(), c.r)
		want(t, c.what, err, c.err)
	}
	for _, rev := range []int64{1, 3} {
		r := job("a", `2`)
		r.Rev = rev
		_, err := s.Put(t.Context(), r)
		var conflict *store.Conflict
		if !errors.As(err, &conflict) {
			t.Fatalf("put at revision %d of 2: error %v, want a conflict", rev, err)
		}
		same(t, "the record of a conflict", conflict.Now, kept)
	}
	same(t, "afterwards", get(t, s, store.KindJob, "a"), kept)
	if after := seq(t, s); after != before {
		t.Errorf("refused puts made %d changes", after-before)
	}
}

// bodies: any JSON comes back byte for byte.
func bodies(t *testing.T, s store.Store) {
	for i, body := range []string{
		`null`, `true`, `0`, `-0`, `1e400`, `123456789012345678901234567890.5`, `""`, `"\u0000"`, `"\ud800"`, `[]`, `{}`,
		" {\n\t\"a\" : 1 ,\r\n \"a\" : 2 }\n", `{"":{"":[[[]]]}}`, `"\u003c</script>&' OR 1=1; --"`, `"µ½±²³ Öl 漢字 🔧 é"`,
		`"` + strings.Repeat("long ", 1<<18) + `"`,
	} {
		r := job(strings.Repeat("b", i+1), body)
		put(t, s, r)
		if got := get(t, s, store.KindJob, r.ID).Body; string(got) != body {
			t.Errorf("body %d: got %.80q, want %.80q", i, got, body)
		}
	}
}

func allOrNone(t *testing.T, s store.Store) {
	if rs, err := s.PutAll(t.Context(), nil); err != nil || len(rs) != 0 {
		t.Errorf("put all of none: %v, %v", rs, err)
	}
	kept := put(t, s, job("a", `1`))
	before := seq(t, s)
	stale := job("a", `3`)
	stale.Rev = 7
	invalid := job("z", `{`)
	for what, last := range map[string]store.Record{"conflict": stale, "exists": job("a", `2`), "invalid": invalid, "the same twice": job("b", `1`)} {
		change := kept
		change.Body = []byte(`"changed"`)
		rs, err := s.PutAll(t.Context(), []store.Record{job("b", `1`), change, test("c", "a"), last})
		if err == nil || len(rs) != 0 {
			t.Errorf("%s: got %d records, error %v", what, len(rs), err)
		}
		same(t, what, get(t, s, store.KindJob, "a"), kept)
		_, err = s.Get(t.Context(), store.KindJob, "b")
		want(t, what, err, store.ErrNotFound)
		lists(t, s, store.Query{Kind: store.KindTest})
		if all, err := s.History(t.Context(), store.KindJob, "a"); err != nil || len(all) != 1 {
			t.Errorf("%s: %d revisions, error %v", what, len(all), err)
		}
	}
	if after := seq(t, s); after != before {
		t.Errorf("failed puts made %d changes", after-before)
	}
	rs, err := s.PutAll(t.Context(), []store.Record{job("b", `1`), kept, test("c", "a")})
	if err != nil || len(rs) != 3 || rs[0].Rev != 1 || rs[1].Rev != 2 || rs[2].Rev != 1 {
		t.Errorf("got %+v, error %v", rs, err)
	}
	lists(t, s, store.Query{Kind: store.KindJob}, "a", "b")
}

// severalTimes: what another store kept can be put with all its revisions.
func severalTimes(t *testing.T, s store.Store) {
	first, second, third := job("a", `1`), job("a", `2`), job("a", `3`)
	second.Rev, second.Binned, second.By = 1, true, "J.L."
	third.Rev, third.At = 2, 9
	if _, err := s.PutAll(t.Context(), []store.Record{first, second, third}); err != nil {
		t.Fatal(err)
	}
	all, err := s.History(t.Context(), store.KindJob, "a")
	if err != nil || len(all) != 3 {
		t.Fatalf("%d revisions, error %v", len(all), err)
	}
	for i, r := range []store.Record{first, second, third} {
		r.Rev = int64(i + 1)
		same(t, "history", all[i], r)
	}
	lists(t, s, store.Query{Kind: store.KindJob}, "a")
}

func history(t *testing.T, s store.Store) {
	_, err := s.History(t.Context(), store.KindTest, "t")
	want(t, "history of none", err, store.ErrNotFound)
	r := test("t", "")
	var made []store.Record
	for i, jobID := range []string{"", "a", "b", "b", ""} {
		r.JobID, r.At, r.By, r.Binned = jobID, int64(i), strings.Repeat("I", i), i == 3
		r.Body = []byte(`"` + strings.Repeat("x", i) + `"`)
		r = put(t, s, r)
		made = append(made, r)
		put(t, s, test("u"+r.By, jobID)) // others between
	}
	all, err := s.History(t.Context(), store.KindTest, "t")
	if err != nil || len(all) != len(made) {
		t.Fatalf("%d revisions, error %v, want %d", len(all), err, len(made))
	}
	for i := range made {
		same(t, "history", all[i], made[i])
	}
}

func bin(t *testing.T, s store.Store) {
	a, b := put(t, s, test("a", "j")), put(t, s, test("b", "j"))
	a.Binned = true
	a = put(t, s, a)
	lists(t, s, store.Query{Kind: store.KindTest}, "b")
	lists(t, s, store.Query{Kind: store.KindTest, JobID: "j"}, "b")
	lists(t, s, store.Query{Kind: store.KindTest, Binned: true}, "a")
	lists(t, s, store.Query{Kind: store.KindTest, Binned: true, JobID: "j"}, "a")
	lists(t, s, store.Query{Kind: store.KindTest, Binned: true, JobID: "k"})
	same(t, "get from the bin", get(t, s, store.KindTest, "a"), a)
	_, err := s.Put(t.Context(), test("a", "j"))
	want(t, "a new one with the identity of a binned one", err, store.ErrExists)
	a.Binned = false
	put(t, s, a)
	lists(t, s, store.Query{Kind: store.KindTest}, "a", "b")
	lists(t, s, store.Query{Kind: store.KindTest, Binned: true})
	same(t, "the other", get(t, s, store.KindTest, "b"), b)
}

func list(t *testing.T, s store.Store) {
	lists(t, s, store.Query{Kind: store.KindTest})
	at := int64(100)
	for _, id := range []string{"a", "b", "c", "d", "e"} {
		r := test(id, map[string]string{"a": "j", "b": "j", "c": "k"}[id])
		at-- // lists go by the order of changes, whatever clock their makers had
		r.At = at
		put(t, s, r)
	}
	put(t, s, job("j", `{}`))
	lists(t, s, store.Query{Kind: store.KindTest}, "e", "d", "c", "b", "a")
	lists(t, s, store.Query{Kind: store.KindTest, JobID: "j"}, "b", "a")
	lists(t, s, store.Query{Kind: store.KindTest, JobID: "none"})
	lists(t, s, store.Query{Kind: store.KindTest, NoJob: true}, "e", "d")
	lists(t, s, store.Query{Kind: store.KindJob}, "j")
	lists(t, s, store.Query{Kind: "unheard of"})
	moved := get(t, s, store.KindTest, "a")
	moved.JobID = ""
	put(t, s, moved)
	lists(t, s, store.Query{Kind: store.KindTest}, "a", "e", "d", "c", "b")
	lists(t, s, store.Query{Kind: store.KindTest, JobID: "j"}, "b")
	lists(t, s, store.Query{Kind: store.KindTest, NoJob: true}, "a", "e", "d")
	rs, err := s.List(t.Context(), store.Query{Kind: store.KindTest, JobID: "k"})
	if err != nil || len(rs) != 1 {
		t.Fatalf("%d records, error %v", len(rs), err)
	}
	same(t, "listed", rs[0], get(t, s, store.KindTest, "c"))
}

func find(t *testing.T, s store.Store) {
	for id, body := range map[string]string{
		"plain":   `{"title":"Small-car head, INLINE three","number":"QSH-0412","n":41}`,
		"accents": `{"title":"Öl am Führungsschaft","deep":[{"note":"\u00c9TAT na\u00eff"}]}`,
		"greek":   `{"title":"ΑΎΛΑΞ σίγμας","note":"Жигуль"}`,
		"signs":   `{"title":"100%_sure\\ly [a-z]* 'quoted' \"x\"","note":"two\nlines"}`,
		"percent": `{"title":"100 of them, sure"}`,
	} {
		put(t, s, job(id, body))
	}
	for _, c := range []struct {
		find string
		want []string
	}{
		{"", []string{"accents", "greek", "percent", "plain", "signs"}},
		{"  ", []string{"accents", "greek", "percent", "plain", "signs"}},
		{"inline", []string{"plain"}},
		{"qsh-04", []string{"plain"}},
		{"QSH inline", []string{"plain"}},
		{"three SMALL-car", []string{"plain"}},
		{"inline sure", nil},
		{"title", nil}, // a key, not a text
		{"41", []string{"plain"}},
		{"öL", []string{"accents"}},
		{"FÜHRUNG", []string{"accents"}},
		{"état", []string{"accents"}},
		{"NAÏF", []string{"accents"}},
		{"αύλαξ", []string{"greek"}},
		{"ΣΊΓΜΑΣ", []string{"greek"}}, // two small sigmas, one great
		{"жИГ", []string{"greek"}},
		{"100%", []string{"signs"}},
		{"%", []string{"signs"}},
		{"_", []string{"signs"}},
		{`\`, []string{"signs"}},
		{"100_", nil},
		{"l_ne", nil},
		{"[a-z]*", []string{"signs"}},
		{"'quoted'", []string{"signs"}},
		{`"x"`, []string{"signs"}},
		{"two lines", []string{"signs"}},
		{"100 sure", []string{"percent", "signs"}},
	} {
		got := ids(t, s, store.Query{Kind: store.KindJob, Find: c.find})
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("find %q: got %q, want %q", c.find, got, c.want)
		}
	}
	// What a revision no longer says is not found, and a binned one only in the bin.
	r := get(t, s, store.KindJob, "plain")
	r.Body, r.Binned = []byte(`{"title":"a vee"}`), true
	put(t, s, r)
	lists(t, s, store.Query{Kind: store.KindJob, Find: "inline"})
	lists(t, s, store.Query{Kind: store.KindJob, Find: "vee"})
	lists(t, s, store.Query{Kind: store.KindJob, Find: "vee", Binned: true}, "plain")
	lists(t, s, store.Query{Kind: store.KindJob, Find: "sure", JobID: "signs"}, "signs")

	for what, f := range map[string]string{"too long": strings.Repeat("a", store.MostName+1), "too many words": strings.Repeat("a ", store.MostWords+1), "not UTF-8": "\xff"} {
		_, err := s.List(t.Context(), store.Query{Kind: store.KindJob, Find: f})
		want(t, "find "+what, err, store.ErrInvalid)
	}
}

// handedOut: what a store hands out, or was handed, is not its own copy.
func handedOut(t *testing.T, s store.Store) {
	r := test("a", "j")
	r.Body = []byte(`"ok"`)
	kept := put(t, s, r)
	spoil := func(b []byte) { copy(b, bytes.Repeat([]byte("!"), len(b))) }
	sound := func(what string) {
		t.Helper()
		if got := get(t, s, store.KindTest, "a").Body; string(got) != `"ok"` {
			t.Fatalf("after a change to what %s: %s", what, got)
		}
	}
	spoil(r.Body)
	sound("was put")
	spoil(kept.Body)
	sound("put returned")
	spoil(get(t, s, store.KindTest, "a").Body)
	sound("get returned")
	rs, err := s.List(t.Context(), store.Query{Kind: store.KindTest})
	if err != nil || len(rs) != 1 {
		t.Fatal(rs, err)
	}
	spoil(rs[0].Body)
	sound("list returned")
	rs, err = s.History(t.Context(), store.KindTest, "a")
	if err != nil || len(rs) != 1 {
		t.Fatal(rs, err)
	}
	spoil(rs[0].Body)
	sound("history returned")
	res := store.Result{TestID: "a", Version: "1", Body: []byte(`"ok"`)}
	if err := s.PutResult(t.Context(), res); err != nil {
		t.Fatal(err)
	}
	spoil(res.Body)
	for range 2 {
		rs, err := s.Results(t.Context(), "j", "1")
		if err != nil || len(rs) != 1 || string(rs[0].Body) != `"ok"` {
			t.Fatalf("results: %s, error %v", rs, err)
		}
		spoil(rs[0].Body)
	}
}

// Package storetest holds the tests that every store must pass.
//
// A store's own test is a few lines: it calls [Run] with a function that opens
// an empty one.
package storetest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"seatproof/internal/store"
)

// Open opens an empty store. Run closes it.
type Open func(t testing.TB) store.Store

// Run tests a store. Each part opens a store of its own.
func Run(t *testing.T, open Open) {
	for _, part := range []struct {
		name string
		test func(*testing.T, store.Store)
	}{
		{"put and get", putGet},
		{"put refuses", putRefuses},
		{"bodies", bodies},
		{"all or none", allOrNone},
		{"the same record several times", severalTimes},
		{"history", history},
		{"bin", bin},
		{"list", list},
		{"observed", observed},
		{"find", find},
		{"since", since},
		{"since, many", sinceMany},
		{"results", results},
		{"blobs", blobs},
		{"same bytes twice", sameBytes},
		{"broken upload", brokenUpload},
		{"blobs side by side", blobsSideBySide},
		{"conflicting puts", conflictingPuts},
		{"puts side by side", putsSideBySide},
		{"context", contexts},
		{"handed out", handedOut},
		{"check", check},
		{"closed", closed},
	} {
		t.Run(part.name, func(t *testing.T) {
			t.Parallel()
			s := open(t)
			t.Cleanup(func() {
				if err := s.Close(); err != nil {
					t.Errorf("close: %v", err)
				}
			})
			part.test(t, s)
		})
	}
}

// job returns a record to put.
func job(id, body string) store.Record {
	return store.Record{Kind: store.KindJob, ID: id, JobID: id, At: 1_700_000_000_123, By: "M.K.", Body: []byte(body)}
}

func test(id, jobID string) store.Record {
	return store.Record{Kind: store.KindTest, ID: id, JobID: jobID, At: 5, By: "", Body: []byte(`{}`)}
}

func put(t testing.TB, s store.Store, r store.Record) store.Record {
	t.Helper()
	got, err := s.Put(t.Context(), r)
	if err != nil {
		t.Fatalf("put %s %q at revision %d: %v", r.Kind, r.ID, r.Rev, err)
	}
	return got
}

func get(t testing.TB, s store.Store, kind store.Kind, id string) store.Record {
	t.Helper()
	r, err := s.Get(t.Context(), kind, id)
	if err != nil {
		t.Fatalf("get %s %q: %v", kind, id, err)
	}
	return r
}

func same(t testing.TB, what string, got, want store.Record) {
	t.Helper()
	if got.Kind != want.Kind || got.ID != want.ID || got.JobID != want.JobID || got.Rev != want.Rev || got.At != want.At ||
		got.By != want.By || got.Binned != want.Binned || !bytes.Equal(got.Body, want.Body) {
		t.Errorf("%s: got %+v, want %+v", what, got, want)
	}
}

func want(t testing.TB, what string, err, want error) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("%s: error %v, want %v", what, err, want)
	}
}

// ids returns what a query finds, in its order.
func ids(t testing.TB, s store.Store, q store.Query) []string {
	t.Helper()
	rs, err := s.List(t.Context(), q)
	if err != nil {
		t.Fatalf("list %+v: %v", q, err)
	}
	got := []string{}
	for _, r := range rs {
		if r.Kind != q.Kind {
			t.Errorf("list %+v: a %s", q, r.Kind)
		}
		got = append(got, r.ID)
	}
	return got
}

func lists(t testing.TB, s store.Store, q store.Query, want ...string) {
	t.Helper()
	if got := ids(t, s, q); !slices.Equal(got, want) {
		t.Errorf("list %+v: got %q, want %q", q, got, want)
	}
}

// seq returns how many changes there were.
func seq(t testing.TB, s store.Store) int64 {
	t.Helper()
	var last int64
	for {
		cs, err := s.Since(t.Context(), last)
		if err != nil {
			t.Fatalf("since %d: %v", last, err)
		}
		if len(cs) == 0 {
			return last
		}
		last = cs[len(cs)-1].Seq
	}
}

func contexts(t *testing.T, s store.Store) {
	kept := put(t, s, job("a", `1`))
	ended, cancel := context.WithCancel(t.Context())
	b, err := s.AddBlob(t.Context(), "a.csv", "text/csv", bytes.NewReader([]byte("0,1")))
	if err != nil {
		t.Fatal(err)
	}
	cancel()
	for what, err := range calls(ended, s, kept, b.ID) {
		want(t, what+" with a context that has ended", err, context.Canceled)
	}
	same(t, "afterwards", get(t, s, store.KindJob, "a"), kept)
	lists(t, s, store.Query{Kind: store.KindJob}, "a")
}

func closed(t *testing.T, s store.Store) {
	kept := put(t, s, job("a", `1`))
	b, err := s.AddBlob(t.Context(), "a.csv", "text/csv", bytes.NewReader([]byte("0,1")))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Errorf("a second close: %v", err)
	}
	for what, err := range calls(t.Context(), s, kept, b.ID) {
		want(t, what+" after close", err, store.ErrClosed)
	}
}

// calls calls every method but Close with arguments that are right.
func calls(ctx context.Context, s store.Store, kept store.Record, blobID string) map[string]error {
	errs := map[string]error{}
	_, errs["get"] = s.Get(ctx, kept.Kind, kept.ID)
	_, errs["list"] = s.List(ctx, store.Query{Kind: kept.Kind})
	_, errs["put"] = s.Put(ctx, kept)
	_, errs["put all"] = s.PutAll(ctx, []store.Record{job("b", `1`), job("c", `1`)})
	_, errs["history"] = s.History(ctx, kept.Kind, kept.ID)
	_, errs["add blob"] = s.AddBlob(ctx, "b.csv", "text/csv", bytes.NewReader([]byte("1,2")))
	_, _, errs["open blob"] = s.OpenBlob(ctx, blobID)
	errs["put result"] = s.PutResult(ctx, store.Result{TestID: "t", Version: "1", Body: []byte(`1`)})
	_, errs["results"] = s.Results(ctx, "a", "1")
	_, errs["since"] = s.Since(ctx, 0)
	errs["check"] = s.Check(ctx)
	return errs
}

func check(t *testing.T, s store.Store) {
	if err := s.Check(t.Context()); err != nil {
		t.Errorf("empty: %v", err)
	}
	for i := range 20 {
		r := put(t, s, test(fmt.Sprint("t", i), "a"))
		r.Binned = i%2 == 0
		put(t, s, r)
	}
	if _, err := s.AddBlob(t.Context(), "a.csv", "text/csv", bytes.NewReader(bytes.Repeat([]byte("0,1\n"), 1e6))); err != nil {
		t.Fatal(err)
	}
	if err := s.PutResult(t.Context(), store.Result{TestID: "t1", Version: "1", Body: []byte(`1`)}); err != nil {
		t.Fatal(err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Errorf("filled: %v", err)
	}
}

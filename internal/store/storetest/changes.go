package storetest

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"

	"seatproof/internal/store"
)

func since(t *testing.T, s store.Store) {
	for _, n := range []int64{-1, 0, 1, 1 << 62} {
		if cs, err := s.Since(t.Context(), n); err != nil || len(cs) != 0 {
			t.Errorf("since %d of an empty store: %v, %v", n, cs, err)
		}
	}
	r := put(t, s, test("t", ""))
	put(t, s, job("j", `1`))
	r.JobID = "j"
	r = put(t, s, r)
	r.Binned = true
	put(t, s, r)
	all, err := s.Since(t.Context(), 0)
	if err != nil || len(all) != 4 {
		t.Fatalf("%d changes, error %v, want 4", len(all), err)
	}
	for i, w := range []store.Change{
		{Kind: store.KindTest, ID: "t", Rev: 1},
		{Kind: store.KindJob, ID: "j", JobID: "j", From: "j", Rev: 1},
		{Kind: store.KindTest, ID: "t", JobID: "j", From: "", Rev: 2},
		{Kind: store.KindTest, ID: "t", JobID: "j", From: "j", Rev: 3},
	} {
		w.Seq = all[i].Seq
		if all[i] != w {
			t.Errorf("change %d: got %+v, want %+v", i, all[i], w)
		}
		if i > 0 && all[i].Seq <= all[i-1].Seq {
			t.Errorf("change %d: number %d after %d", i, all[i].Seq, all[i-1].Seq)
		}
		rest, err := s.Since(t.Context(), all[i].Seq)
		if err != nil || !slices.Equal(rest, all[i+1:]) {
			t.Errorf("since %d: %v, error %v, want %v", all[i].Seq, rest, err, all[i+1:])
		}
	}
}

// sinceMany: whoever asks again and again with the last number misses none.
func sinceMany(t *testing.T, s store.Store) {
	const n = store.MostChanges*2 + 5
	var rs []store.Record
	for i := range n {
		rs = append(rs, test(fmt.Sprint(i), ""))
	}
	if _, err := s.PutAll(t.Context(), rs); err != nil {
		t.Fatal(err)
	}
	var got []store.Change
	for calls := 0; ; calls++ {
		var last int64
		if len(got) > 0 {
			last = got[len(got)-1].Seq
		}
		cs, err := s.Since(t.Context(), last)
		if err != nil || len(cs) > store.MostChanges || calls > 3 {
			t.Fatalf("call %d: %d changes, error %v", calls, len(cs), err)
		}
		if len(cs) == 0 {
			break
		}
		got = append(got, cs...)
	}
	if len(got) != n {
		t.Fatalf("%d changes, want %d", len(got), n)
	}
	for i, c := range got {
		if c.ID != rs[i].ID {
			t.Fatalf("change %d is of %q, want %q", i, c.ID, rs[i].ID)
		}
	}
}

func results(t *testing.T, s store.Store) {
	res := func(id, version, body string) store.Result {
		return store.Result{TestID: id, Version: version, Body: []byte(body)}
	}
	has := func(jobID, version string, want ...store.Result) {
		t.Helper()
		got, err := s.Results(t.Context(), jobID, version)
		if err != nil || len(got) != len(want) {
			t.Fatalf("results of %q by %q: %d, error %v, want %d", jobID, version, len(got), err, len(want))
		}
		for i := range want {
			if got[i].TestID != want[i].TestID || got[i].Version != want[i].Version || string(got[i].Body) != string(want[i].Body) {
				t.Errorf("results of %q by %q: got %s, want %s", jobID, version, got[i], want[i])
			}
		}
	}
	keep := func(r store.Result) {
		t.Helper()
		if err := s.PutResult(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	has("j", "1")
	want(t, "a result of no test", s.PutResult(t.Context(), res("a", "1", `1`)), store.ErrNotFound)
	put(t, s, test("b", "j"))
	put(t, s, test("a", "j"))
	put(t, s, test("c", "k"))
	tray := put(t, s, test("d", ""))
	put(t, s, job("j", `{}`))
	want(t, "a result of a job", s.PutResult(t.Context(), res("j", "1", `1`)), store.ErrNotFound)
	want(t, "a result that is not JSON", s.PutResult(t.Context(), res("a", "1", `{`)), store.ErrInvalid)
	before := seq(t, s)
	for _, id := range []string{"b", "a", "c", "d"} {
		keep(res(id, "1", `"`+id+`"`))
	}
	keep(res("b", "1", `"again"`))
	has("j", "1", res("a", "1", `"a"`), res("b", "1", `"again"`))
	// Another version's clears what this one left of that test, and of no other.
	keep(res("a", "2", ` [ 2 ] `))
	has("j", "1", res("b", "1", `"again"`))
	has("j", "2", res("a", "2", ` [ 2 ] `))
	want(t, "a result that can't be kept", s.PutResult(t.Context(), res("b", "3", `{`)), store.ErrInvalid)
	has("j", "1", res("b", "1", `"again"`))
	keep(res("a", "1", `"older"`)) // an older program may work again
	has("j", "2")
	has("j", "1", res("a", "1", `"older"`), res("b", "1", `"again"`))
	has("j", "3")
	has("k", "1", res("c", "1", `"c"`))
	has("", "1", res("d", "1", `"d"`))
	if after := seq(t, s); after != before {
		t.Errorf("results made %d changes to the records", after-before)
	}
	// A result goes where its test goes, into the bin too.
	tray.JobID, tray.Binned = "k", true
	put(t, s, tray)
	has("", "1")
	has("k", "1", res("c", "1", `"c"`), res("d", "1", `"d"`))
}

// conflictingPuts: of many who change the same revision exactly one wins, and
// the others are told.
func conflictingPuts(t *testing.T, s store.Store) {
	r := put(t, s, job("a", `0`))
	const people, rounds = 8, 5
	for round := range rounds {
		errs := make([]error, people)
		var wg sync.WaitGroup
		for p := range people {
			wg.Go(func() {
				mine := r
				mine.Body = []byte(fmt.Sprint(p))
				_, errs[p] = s.Put(t.Context(), mine)
			})
		}
		wg.Wait()
		won := -1
		for p, err := range errs {
			var conflict *store.Conflict
			switch {
			case err == nil && won < 0:
				won = p
			case err == nil:
				t.Fatalf("round %d: %d and %d both won", round, won, p)
			case !errors.As(err, &conflict):
				t.Fatalf("round %d: %v, want a conflict", round, err)
			case conflict.Now.Rev != r.Rev+1:
				t.Errorf("round %d: the conflict is with revision %d, want %d", round, conflict.Now.Rev, r.Rev+1)
			}
		}
		if won < 0 {
			t.Fatalf("round %d: nobody won", round)
		}
		r = get(t, s, store.KindJob, "a")
		if string(r.Body) != fmt.Sprint(won) {
			t.Errorf("round %d: %s was kept, and %d was told so", round, r.Body, won)
		}
	}
	// Likewise of many who make the same new record.
	errs := make([]error, people)
	var wg sync.WaitGroup
	for p := range people {
		wg.Go(func() { _, errs[p] = s.Put(t.Context(), job("new", `1`)) })
	}
	wg.Wait()
	made := 0
	for _, err := range errs {
		if err == nil {
			made++
		} else {
			want(t, "the same new record", err, store.ErrExists)
		}
	}
	if made != 1 {
		t.Errorf("the same new record was made %d times", made)
	}
}

// putsSideBySide: writers, readers and a watcher at once; the watcher sees every
// change once, in order.
func putsSideBySide(t *testing.T, s store.Store) {
	const writers, each = 6, 15
	var wg sync.WaitGroup
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				r, err := s.Put(t.Context(), test(fmt.Sprint(w, "-", i), fmt.Sprint(w)))
				if err == nil {
					r.At++
					_, err = s.Put(t.Context(), r)
				}
				if err != nil {
					t.Errorf("writer %d: %v", w, err)
					return
				}
			}
		})
		wg.Go(func() {
			for range each {
				rs, err := s.List(t.Context(), store.Query{Kind: store.KindTest, JobID: fmt.Sprint(w)})
				if err != nil || len(rs) > each {
					t.Errorf("reader %d: %d records, error %v", w, len(rs), err)
					return
				}
			}
		})
	}
	done := make(chan struct{})
	go func() { wg.Wait(); close(done) }()
	seen := map[string]int64{}
	var last int64
	n := 0
	watch := func() {
		cs, err := s.Since(t.Context(), last)
		if err != nil {
			t.Errorf("watcher: %v", err)
		}
		for _, c := range cs {
			if c.Seq <= last || c.Rev != seen[c.ID]+1 {
				t.Errorf("watcher: %+v after number %d and revision %d", c, last, seen[c.ID])
			}
			last, seen[c.ID] = c.Seq, c.Rev
			n++
		}
	}
	for running := true; running; {
		select {
		case <-done:
			running = false
		default:
		}
		watch()
	}
	if n != 2*writers*each {
		t.Errorf("the watcher saw %d changes of %d", n, 2*writers*each)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

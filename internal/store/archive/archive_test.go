package archive

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seatproof/head"
	"seatproof/internal/store"
	"seatproof/internal/store/mem"
	"seatproof/internal/store/sqlite"
)

// fataler is what a test and a property have in common.
type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

// kept is what a call returned.
type kept[T any] struct {
	v   T
	err error
}

func keep[T any](v T, err error) kept[T] { return kept[T]{v, err} }

// ok wants a call to have gone well and returns its value.
func ok[T any](t fataler, k kept[T]) T {
	t.Helper()
	if k.err != nil {
		t.Fatalf("%v", k.err)
	}
	return k.v
}

// counter gives identities: text and a number.
func counter(text string) func() string {
	n := 0
	return func() string { n++; return fmt.Sprint(text, n) }
}

func bookOn(s store.Store, ids string) store.Book {
	var now int64
	return store.Book{Store: s, By: "M.K.", NewID: counter(ids), Now: func() int64 { now += 7; return now }}
}

// filled keeps one job with a bit of everything, and returns its identity.
func filled(t fataler, ctx context.Context, s store.Store) string {
	t.Helper()
	b := bookOn(s, "n")
	rig := ok(t, keep(b.SaveRig(ctx, head.Rig{Name: "bench", File: "a = 1\n"}, 0)))
	check := ok(t, keep(b.SaveCheck(ctx, head.Check{RigID: rig.Is.ID, Kind: "gauge"}, 0)))
	j := ok(t, keep(b.SaveJob(ctx, head.Job{Number: "QSH-0412", Title: "<Öl & Ventil>", RigID: rig.Is.ID, Ports: []head.Port{{ID: "p1"}, {ID: "p2"}}}, 0)))
	j.Is.Notes = "twice"
	ok(t, keep(b.As("J.L.").SaveJob(ctx, j.Is, 1)))
	beside := ok(t, keep(s.AddBlob(ctx, "beside.csv", "text/csv", strings.NewReader("0,60\n"))))
	for i, name := range []string{"trace.csv", "Trace.CSV", "../../etc/passwd", "CON.txt", "", "a/b\\c:d?.csv", strings.Repeat("ö", 200) + ".csv"} {
		trace := ok(t, keep(s.AddBlob(ctx, name, "text/csv", strings.NewReader(strings.Repeat(fmt.Sprint(i, ",62.5\r\n"), 40*i)))))
		e := ok(t, keep(b.SaveTest(ctx, head.Test{TraceID: trace.ID, Beside: []head.Beside{{Gauge: "second gauge", TraceID: beside.ID}}, RigID: rig.Is.ID, CheckID: check.Is.ID, Note: name}, 0)))
		ok(t, keep(b.MoveTest(ctx, e.Is.ID, 1, j.Is.ID, "p1")))
		if i == 1 {
			ok(t, keep(b.Bin(ctx, store.KindTest, e.Is.ID, 2, true)))
		}
	}
	ok(t, keep(b.SaveWork(ctx, head.Work{JobID: j.Is.ID, Kind: head.WorkLapped}, 0)))
	seen := ok(t, keep(b.SaveObserved(ctx, head.Observed{JobID: j.Is.ID, Kind: head.ObservedLeakDown, Cylinder: 1, Fields: map[string]string{"second": "72 psi"}}, 0)))
	ok(t, keep(b.Bin(ctx, store.KindObserved, seen.Is.ID, 1, true)))
	ok(t, keep(b.AddPhoto(ctx, store.Photo{JobID: j.Is.ID, PortID: "p2", Name: "IMG.JPG", Type: "image/jpeg"}, strings.NewReader("\xff\xd8\x00photo"))))
	// What does not belong to it stays behind.
	ok(t, keep(b.SaveJob(ctx, head.Job{Number: "other"}, 0)))
	ok(t, keep(b.SaveTest(ctx, head.Test{Note: "tray"}, 0)))
	ok(t, keep(b.SaveRig(ctx, head.Rig{Name: "another"}, 0)))
	return j.Is.ID
}

func exported(t fataler, ctx context.Context, s store.Store, jobID string) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Export(ctx, s, jobID, &b); err != nil {
		t.Fatalf("%v", err)
	}
	return b.Bytes()
}

func imported(ctx context.Context, s store.Store, file []byte, o Options) (Imported, error) {
	return Import(ctx, s, bytes.NewReader(file), int64(len(file)), o)
}

// changes returns everything that ever happened to the records of a store.
func changes(t fataler, ctx context.Context, s store.Store) []store.Change {
	t.Helper()
	return ok(t, keep(s.Since(ctx, 0)))
}

func TestThroughSQLite(t *testing.T) {
	ctx := t.Context()
	from := mem.New()
	jobID := filled(t, ctx, from)
	file := exported(t, ctx, from, jobID)
	to, err := sqlite.Open(ctx, filepath.Join(t.TempDir(), "records.db"), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer to.Close()
	in, err := imported(ctx, to, file, Options{})
	if err != nil || in.JobID != jobID || in.Records != 13 || in.Blobs != 9 || len(in.Rigs) != 0 {
		t.Errorf("%+v, %v", in, err)
	}
	if again := exported(t, ctx, to, jobID); !bytes.Equal(again, file) {
		t.Error("the file exported again is another")
	}
	if err := to.Check(ctx); err != nil {
		t.Error(err)
	}
	for _, c := range changes(t, ctx, to) {
		a, b := ok(t, keep(from.History(ctx, c.Kind, c.ID))), ok(t, keep(to.History(ctx, c.Kind, c.ID)))
		if fmt.Sprint(a) != fmt.Sprint(b) {
			t.Errorf("%s %s: got %v, want %v", c.Kind, c.ID, b, a)
		}
	}
}

func TestNames(t *testing.T) {
	ctx := t.Context()
	s := mem.New()
	z := unzip(t, exported(t, ctx, s, filled(t, ctx, s)))
	var got []string
	for name, b := range z {
		if strings.HasPrefix(name, "traces/") || strings.HasPrefix(name, "photos/") {
			got = append(got, name)
		}
		if strings.HasPrefix(name, "photos/") && string(b) != "\xff\xd8\x00photo" {
			t.Errorf("%s is %q", name, b)
		}
	}
	slices.Sort(got)
	// Which of two alike comes first goes by their bytes' identities.
	two := map[bool]string{true: "traces/Trace.CSV traces/trace-2.csv", false: "traces/Trace-2.CSV traces/trace.csv"}[slices.Contains(got, "traces/Trace.CSV")]
	want := append(strings.Fields("photos/IMG.JPG traces/-..-etc-passwd traces/_CON.txt traces/a-b-c-d-.csv traces/beside.csv traces/file "+two), "traces/"+strings.Repeat("ö", 58)+".csv")
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if name := safe("contact.csv"); name != "contact.csv" {
		t.Errorf("contact.csv became %s", name)
	}
}

// TestRoundTrip: export, import into an empty store, export again: the same
// bytes, for any job.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		from := mem.New()
		b := bookOn(from, "n")
		text := rapid.String()
		name := rapid.StringN(0, 50, 200).Filter(func(s string) bool { return store.ValidName(s) == nil })
		port := rapid.SampledFrom([]string{"p1", "p2"})
		jobs := []string{ok(t, keep(b.SaveJob(ctx, head.Job{Title: text.Draw(t, "title"), Ports: []head.Port{{ID: "p1"}, {ID: "p2"}}}, 0))).Is.ID,
			ok(t, keep(b.SaveJob(ctx, head.Job{Ports: []head.Port{{ID: "p1"}, {ID: "p2"}}}, 0))).Is.ID}
		rigs, checks, tests := []string{""}, []string{""}, []string{}
		of := func(all []string, what string) string { return rapid.SampledFrom(all).Draw(t, what) }
		for range rapid.IntRange(0, 25).Draw(t, "steps") {
			switch step := rapid.IntRange(0, 8).Draw(t, "step"); {
			case step == 0:
				rigs = append(rigs, ok(t, keep(b.SaveRig(ctx, head.Rig{Name: text.Draw(t, "rig"), File: text.Draw(t, "file")}, 0))).Is.ID)
			case step == 1 && len(rigs) > 1:
				checks = append(checks, ok(t, keep(b.SaveCheck(ctx, head.Check{RigID: of(rigs[1:], "rig"), Words: text.Draw(t, "words")}, 0))).Is.ID)
			case step == 2:
				blob := ok(t, keep(from.AddBlob(ctx, name.Draw(t, "name"), "text/csv", bytes.NewReader(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")))))
				tests = append(tests, ok(t, keep(b.SaveTest(ctx, head.Test{TraceID: blob.ID, RigID: of(rigs, "rig"), CheckID: of(checks, "check"), JobID: of(jobs, "job"), PortID: port.Draw(t, "port"), Note: text.Draw(t, "note")}, 0))).Is.ID)
			case step == 3 && len(tests) > 0:
				e := ok(t, keep(b.Test(ctx, of(tests, "test"))))
				ok(t, keep(b.MoveTest(ctx, e.Is.ID, e.Rev, of(jobs, "job"), port.Draw(t, "port"))))
			case step == 4 && len(tests) > 0:
				e := ok(t, keep(b.Test(ctx, of(tests, "test"))))
				ok(t, keep(b.Bin(ctx, store.KindTest, e.Is.ID, e.Rev, !e.Binned)))
			case step == 5:
				ok(t, keep(b.SaveWork(ctx, head.Work{JobID: of(jobs, "job"), Note: text.Draw(t, "note")}, 0)))
			case step == 8:
				ok(t, keep(b.SaveObserved(ctx, head.Observed{JobID: of(jobs, "job"), Kind: head.ObservedNeedle, PortID: "p1", Fields: map[string]string{"below": text.Draw(t, "below")}}, 0)))
			case step == 6:
				ok(t, keep(b.AddPhoto(ctx, store.Photo{JobID: of(jobs, "job"), Name: name.Draw(t, "name"), Type: "image/png"}, bytes.NewReader(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")))))
			case step == 7:
				e := ok(t, keep(b.Job(ctx, of(jobs, "job"))))
				e.Is.RigID, e.Is.Notes = of(rigs, "rig"), text.Draw(t, "notes")
				ok(t, keep(b.SaveJob(ctx, e.Is, e.Rev)))
			}
		}
		file := exported(t, ctx, from, jobs[0])
		to := mem.New()
		if _, err := imported(ctx, to, file, Options{}); err != nil {
			t.Fatalf("%v", err)
		}
		if again := exported(t, ctx, to, jobs[0]); !bytes.Equal(again, file) {
			t.Fatalf("the file exported again is another")
		}
		// As a copy it stands beside itself, and the copy is as whole.
		in, err := imported(ctx, to, file, Options{Copy: true, NewID: counter("c")})
		if err != nil {
			t.Fatalf("copy: %v", err)
		}
		if again := exported(t, ctx, to, jobs[0]); !bytes.Equal(again, file) {
			t.Fatalf("the copy changed what was there")
		}
		third := mem.New()
		if _, err := imported(ctx, third, exported(t, ctx, to, in.JobID), Options{}); err != nil {
			t.Fatalf("the copy exported: %v", err)
		}
		orig := bookOn(to, "")
		a, c := ok(t, keep(orig.Tests(ctx, jobs[0]))), ok(t, keep(orig.Tests(ctx, in.JobID)))
		if len(a) != len(c) {
			t.Fatalf("the copy has %d tests of %d", len(c), len(a))
		}
	})
}

func TestAlreadyThere(t *testing.T) {
	ctx := t.Context()
	from := mem.New()
	jobID := filled(t, ctx, from)
	file := exported(t, ctx, from, jobID)
	var present *Present
	before := changes(t, ctx, from)
	if _, err := imported(ctx, from, file, Options{}); !errors.As(err, &present) || !present.Same || present.Number != "QSH-0412" {
		t.Errorf("the same: %v", err)
	}
	b := bookOn(from, "m")
	j := ok(t, keep(b.Job(ctx, jobID)))
	j.Is.Notes = "changed meanwhile"
	ok(t, keep(b.SaveJob(ctx, j.Is, j.Rev)))
	if _, err := imported(ctx, from, file, Options{}); !errors.As(err, &present) || present.Same {
		t.Errorf("another: %v", err)
	}
	if after := changes(t, ctx, from); len(after) != len(before)+1 {
		t.Errorf("%d changes, want %d", len(after), len(before)+1)
	}

	// The rig is the same: it is shared. Then it is another: it is put beside.
	in, err := imported(ctx, from, file, Options{Copy: true, NewID: counter("c")})
	if err != nil || in.JobID == jobID || len(in.Rigs) != 0 {
		t.Fatalf("%+v, %v", in, err)
	}
	if c := ok(t, keep(b.Job(ctx, in.JobID))); c.Is.RigID != j.Is.RigID || c.Is.Notes != "twice" || c.Rev != 2 {
		t.Errorf("the copy: %+v", c)
	}
	rig := ok(t, keep(b.Rig(ctx, j.Is.RigID)))
	rig.Is.File = "a = 2\n"
	ok(t, keep(b.SaveRig(ctx, rig.Is, rig.Rev)))
	in, err = imported(ctx, from, file, Options{Copy: true, NewID: counter("d")})
	if err != nil || !slices.Equal(in.Rigs, []string{"bench"}) {
		t.Fatalf("%+v, %v", in, err)
	}
	c := ok(t, keep(b.Job(ctx, in.JobID)))
	own := ok(t, keep(b.Rig(ctx, c.Is.RigID)))
	if own.Is.ID == rig.Is.ID || own.Is.File != "a = 1\n" {
		t.Errorf("the copy's rig: %+v", own)
	}
	checks := ok(t, keep(b.Checks(ctx, own.Is.ID)))
	tests := ok(t, keep(b.Tests(ctx, in.JobID)))
	if len(checks) != 1 || len(tests) != 6 {
		t.Fatalf("%d checks, %d tests", len(checks), len(tests))
	}
	for _, e := range tests {
		if e.Is.RigID != own.Is.ID || e.Is.CheckID != checks[0].Is.ID || e.Is.PortID != "p1" {
			t.Errorf("test of the copy: %+v", e.Is)
		}
	}
	// A test that was moved to another head here.
	lone := mem.New()
	lb := bookOn(lone, "l")
	ok(t, keep(lone.Put(ctx, store.Record{Kind: store.KindTest, ID: tests[0].Is.ID, Body: []byte(`{"v":1}`)})))
	_, err = imported(ctx, lone, exported(t, ctx, from, in.JobID), Options{})
	if !errors.As(err, &present) || present.Kind != store.KindTest {
		t.Errorf("a test that is there: %v", err)
	}
	if js := ok(t, keep(lb.Jobs(ctx, ""))); len(js) != 0 {
		t.Errorf("%d jobs came all the same", len(js))
	}
}

func TestExportOfNone(t *testing.T) {
	if err := Export(t.Context(), mem.New(), "none", io.Discard); !errors.Is(err, store.ErrNotFound) {
		t.Error(err)
	}
}

func unzip(t fataler, file []byte) map[string][]byte {
	t.Helper()
	z := ok(t, keep(zip.NewReader(bytes.NewReader(file), int64(len(file)))))
	all := map[string][]byte{}
	for _, f := range z.File {
		r := ok(t, keep(f.Open()))
		all[f.Name] = ok(t, keep(io.ReadAll(r)))
	}
	return all
}

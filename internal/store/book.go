package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"seatproof/head"
)

// Book keeps the things of package head on a Store. Whoever saves hands in what
// they read, changed, and the revision they read (0 for a new thing, which gets
// an identity); a *Conflict says that someone else was quicker. Its methods are
// safe for concurrent use where NewID and Now are.
type Book struct {
	Store Store
	NewID func() string // a new identity, never given before: 128 bits drawn at random or more
	Now   func() int64  // ms since 1970 UTC
	By    string        // initials of who works
}

// As returns the book in the hands of someone else.
func (b Book) As(initials string) Book {
	b.By = initials
	return b
}

// save puts a thing under an identity.
func save[T any](ctx context.Context, b Book, kind Kind, id, jobID string, rev int64, is T) (Entry[T], error) {
	body, err := Marshal(kind, is)
	if err != nil {
		return Entry[T]{}, err
	}
	r := Record{Kind: kind, ID: id, JobID: jobID, Rev: rev, At: b.Now(), By: b.By, Body: body}
	if rev > 0 {
		// A save does not take a thing out of the bin, nor put it there.
		now, err := b.Store.Get(ctx, kind, id)
		if err != nil {
			return Entry[T]{}, err
		}
		r.Binned = now.Binned
	}
	if r, err = b.Store.Put(ctx, r); err != nil {
		return Entry[T]{}, err
	}
	return Read[T](r)
}

func load[T any](ctx context.Context, b Book, kind Kind, id string) (Entry[T], error) {
	r, err := b.Store.Get(ctx, kind, id)
	if err != nil {
		return Entry[T]{}, err
	}
	return Read[T](r)
}

func all[T any](ctx context.Context, b Book, q Query) ([]Entry[T], error) {
	rs, err := b.Store.List(ctx, q)
	if err != nil {
		return nil, err
	}
	return readAll[T](rs)
}

// identity gives a new thing an identity, unless it brings one.
func (b Book) identity(id string, rev int64) string {
	if id == "" && rev == 0 {
		return b.NewID()
	}
	return id
}

// SaveJob keeps a job.
func (b Book) SaveJob(ctx context.Context, j head.Job, rev int64) (Entry[head.Job], error) {
	j.ID = b.identity(j.ID, rev)
	return save(ctx, b, KindJob, j.ID, j.ID, rev, j)
}

// Job returns a job, also a binned one; ErrNotFound.
func (b Book) Job(ctx context.Context, id string) (Entry[head.Job], error) {
	return load[head.Job](ctx, b, KindJob, id)
}

// Jobs returns the jobs, last changed first, whose label, title, owner, initials
// or notes hold every word of find.
func (b Book) Jobs(ctx context.Context, find string) ([]Entry[head.Job], error) {
	words, err := Words(find)
	if err != nil {
		return nil, err
	}
	// The store looks through all texts of a body, so that it finds "exhaust" in
	// every job; what it finds is looked through once more.
	jobs, err := all[head.Job](ctx, b, Query{Kind: KindJob, Find: find})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(jobs, func(e Entry[head.Job]) bool {
		j := e.Is
		return !Holds(Fold(strings.Join([]string{j.Number, j.Title, j.Owner, j.Initials, j.Notes}, "\n")), words)
	}), nil
}

// SaveTest keeps a test, of a port that its job has, or in the tray.
func (b Book) SaveTest(ctx context.Context, t head.Test, rev int64) (Entry[head.Test], error) {
	if err := b.hasPort(ctx, t.JobID, t.PortID); err != nil {
		return Entry[head.Test]{}, err
	}
	t.ID = b.identity(t.ID, rev)
	return save(ctx, b, KindTest, t.ID, t.JobID, rev, t)
}

// hasPort returns nil where a job has a port, and for the tray.
func (b Book) hasPort(ctx context.Context, jobID, portID string) error {
	switch {
	case jobID == "" && portID == "":
		return nil
	case jobID == "":
		return fmt.Errorf("%w: a test in the tray is of no port, and this one names %q", ErrInvalid, portID)
	}
	j, err := b.Job(ctx, jobID)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(j.Is.Ports, func(p head.Port) bool { return p.ID == portID }) {
		return fmt.Errorf("port %q of job %s: %w", portID, jobID, ErrNotFound)
	}
	return nil
}

// MoveTest files a test under another port, or in the tray ("", "").
func (b Book) MoveTest(ctx context.Context, id string, rev int64, jobID, portID string) (Entry[head.Test], error) {
	t, err := b.Test(ctx, id)
	if err != nil {
		return t, err
	}
	t.Is.JobID, t.Is.PortID = jobID, portID
	return b.SaveTest(ctx, t.Is, rev) // where t is not of rev, the store says so
}

// Test returns a test, also a binned one; ErrNotFound.
func (b Book) Test(ctx context.Context, id string) (Entry[head.Test], error) {
	return load[head.Test](ctx, b, KindTest, id)
}

// Tests returns the tests of a job, oldest first by when they were made.
func (b Book) Tests(ctx context.Context, jobID string) ([]Entry[head.Test], error) {
	if jobID == "" {
		return nil, fmt.Errorf("%w: tests of no job: they are in the tray", ErrInvalid)
	}
	return b.tests(ctx, Query{Kind: KindTest, JobID: jobID})
}

// Tray returns the tests that are not filed, oldest first by when they were made.
func (b Book) Tray(ctx context.Context) ([]Entry[head.Test], error) {
	return b.tests(ctx, Query{Kind: KindTest, NoJob: true})
}

func (b Book) tests(ctx context.Context, q Query) ([]Entry[head.Test], error) {
	ts, err := all[head.Test](ctx, b, q)
	byTime(ts, func(t head.Test) (int64, string) { return t.At, t.ID })
	return ts, err
}

// byTime sorts by when things were made or done, oldest first, and by identity.
func byTime[T any](es []Entry[T], of func(T) (at int64, id string)) {
	slices.SortFunc(es, func(a, b Entry[T]) int {
		at, aID := of(a.Is)
		bt, bID := of(b.Is)
		switch {
		case at < bt:
			return -1
		case at > bt:
			return 1
		}
		return strings.Compare(aID, bID)
	})
}

// SaveWork keeps work on a job that there is.
func (b Book) SaveWork(ctx context.Context, w head.Work, rev int64) (Entry[head.Work], error) {
	if _, err := b.Job(ctx, w.JobID); err != nil {
		return Entry[head.Work]{}, err
	}
	w.ID = b.identity(w.ID, rev)
	return save(ctx, b, KindWork, w.ID, w.JobID, rev, w)
}

// Work returns the work on a job, oldest first by when it was done.
func (b Book) Work(ctx context.Context, jobID string) ([]Entry[head.Work], error) {
	ws, err := all[head.Work](ctx, b, Query{Kind: KindWork, JobID: jobID})
	byTime(ws, func(w head.Work) (int64, string) { return w.At, w.ID })
	return ws, err
}

// SaveObserved keeps what another test showed of a job that there is.
func (b Book) SaveObserved(ctx context.Context, o head.Observed, rev int64) (Entry[head.Observed], error) {
	if _, err := b.Job(ctx, o.JobID); err != nil {
		return Entry[head.Observed]{}, err
	}
	o.ID = b.identity(o.ID, rev)
	return save(ctx, b, KindObserved, o.ID, o.JobID, rev, o)
}

// Observed returns what other tests showed of a job, oldest first by when it was
// seen.
func (b Book) Observed(ctx context.Context, jobID string) ([]Entry[head.Observed], error) {
	os, err := all[head.Observed](ctx, b, Query{Kind: KindObserved, JobID: jobID})
	byTime(os, func(o head.Observed) (int64, string) { return o.At, o.ID })
	return os, err
}

// SaveRig keeps a rig.
func (b Book) SaveRig(ctx context.Context, r head.Rig, rev int64) (Entry[head.Rig], error) {
	r.ID = b.identity(r.ID, rev)
	return save(ctx, b, KindRig, r.ID, "", rev, r)
}

// Rig returns a rig, also a binned one; ErrNotFound.
func (b Book) Rig(ctx context.Context, id string) (Entry[head.Rig], error) {
	return load[head.Rig](ctx, b, KindRig, id)
}

// Rigs returns the rigs, last changed first.
func (b Book) Rigs(ctx context.Context) ([]Entry[head.Rig], error) {
	return all[head.Rig](ctx, b, Query{Kind: KindRig})
}

// SaveCheck keeps a check of a rig that there is.
func (b Book) SaveCheck(ctx context.Context, c head.Check, rev int64) (Entry[head.Check], error) {
	if _, err := b.Rig(ctx, c.RigID); err != nil {
		return Entry[head.Check]{}, err
	}
	c.ID = b.identity(c.ID, rev)
	return save(ctx, b, KindCheck, c.ID, "", rev, c)
}

// Checks returns the checks of a rig ("": of all), oldest first by when they were
// made.
func (b Book) Checks(ctx context.Context, rigID string) ([]Entry[head.Check], error) {
	cs, err := all[head.Check](ctx, b, Query{Kind: KindCheck})
	cs = slices.DeleteFunc(cs, func(c Entry[head.Check]) bool { return rigID != "" && c.Is.RigID != rigID })
	byTime(cs, func(c head.Check) (int64, string) { return c.At, c.ID })
	return cs, err
}

// AddPhoto keeps a picture or a spoken note, byte for byte, with what p says of
// it; name, type and size are the file's.
func (b Book) AddPhoto(ctx context.Context, p Photo, r io.Reader) (Entry[Photo], error) {
	if _, err := b.Job(ctx, p.JobID); err != nil {
		return Entry[Photo]{}, err
	}
	blob, err := b.Store.AddBlob(ctx, p.Name, p.Type, r)
	if err != nil {
		return Entry[Photo]{}, err
	}
	p.BlobID, p.Size, p.At, p.By = blob.ID, blob.Size, b.Now(), b.By
	return b.SavePhoto(ctx, p, 0)
}

// SavePhoto keeps what is said of a picture or note: its port, its test, its
// note. The bytes stay.
func (b Book) SavePhoto(ctx context.Context, p Photo, rev int64) (Entry[Photo], error) {
	if _, err := b.Job(ctx, p.JobID); err != nil {
		return Entry[Photo]{}, err
	}
	p.ID = b.identity(p.ID, rev)
	return save(ctx, b, KindPhoto, p.ID, p.JobID, rev, p)
}

// Photos returns the pictures and spoken notes of a job, oldest first.
func (b Book) Photos(ctx context.Context, jobID string) ([]Entry[Photo], error) {
	ps, err := all[Photo](ctx, b, Query{Kind: KindPhoto, JobID: jobID})
	byTime(ps, func(p Photo) (int64, string) { return p.At, p.ID })
	return ps, err
}

// Bin puts a record into the bin, or takes it out again. What belongs to a job
// stays as it is when the job goes: it comes back with it.
func (b Book) Bin(ctx context.Context, kind Kind, id string, rev int64, in bool) (Record, error) {
	r, err := b.Store.Get(ctx, kind, id)
	if err != nil {
		return r, err
	}
	r.Rev, r.Binned, r.At, r.By = rev, in, b.Now(), b.By
	return b.Store.Put(ctx, r)
}

// KeepResult keeps what an estimator's version made of a test.
func (b Book) KeepResult(ctx context.Context, testID, version string, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("%w: result of test %s: %w", ErrInvalid, testID, err)
	}
	return b.Store.PutResult(ctx, Result{TestID: testID, Version: version, Body: body})
}

// Results returns what an estimator's version made of the tests of a job ("": of
// the tray), by the tests' identities.
func (b Book) Results(ctx context.Context, jobID, version string) (map[string]json.RawMessage, error) {
	rs, err := b.Store.Results(ctx, jobID, version)
	if err != nil {
		return nil, err
	}
	by := make(map[string]json.RawMessage, len(rs))
	for _, r := range rs {
		by[r.TestID] = r.Body
	}
	return by, nil
}

// ResultVersion returns the version under which to keep a result: the
// estimator's, and a fingerprint of all that it was told beside the trace (rig,
// conditions, priors). It changes when one of them does.
func ResultVersion(estimator string, told ...[]byte) string {
	sum := sha256.New()
	for _, part := range told {
		var n [8]byte // so that parts can't run into each other
		binary.BigEndian.PutUint64(n[:], uint64(len(part)))
		sum.Write(n[:])
		sum.Write(part)
	}
	return estimator + "+" + hex.EncodeToString(sum.Sum(nil)[:8])
}

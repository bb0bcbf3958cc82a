package archive

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"seatproof/head"
	"seatproof/internal/store"
)

// Options are how to import.
type Options struct {
	// Copy gives the job and all that belongs to it new identities, so that it
	// stands beside the one that is there.
	Copy   bool
	NewID  func() string // see store.Book
	Limits Limits
}

// Imported is what an import added.
type Imported struct {
	JobID   string
	Records int
	Blobs   int
	// Rigs are the names of rigs that came under a new identity, because another
	// rig of theirs is kept here with other figures.
	Rigs []string
}

// Present says that a job, or something that belongs to it, is in the store
// already.
type Present struct {
	Kind   store.Kind
	ID     string
	Number string // the owner's label of the job
	Same   bool   // a job whose revisions are those of the file
}

func (p *Present) Error() string {
	const way = "import it as a copy to have both"
	switch {
	case p.Kind != store.KindJob:
		return fmt.Sprintf("%s %s of this head is here already, with another head; %s", p.Kind, p.ID, way)
	case p.Same:
		return fmt.Sprintf("head %q is here already, as it is in the file; there is nothing to import", p.Number)
	}
	return fmt.Sprintf("head %q is here already, and differs from the file; %s", p.Number, way)
}

// Import puts the job in a zip file of size bytes into a store, with all
// revisions, dates and initials. It reads and checks the whole file first; an
// error leaves the records as they were. Errors: ErrBroken, ErrForeign,
// ErrTooBig, store.ErrVersion, *Present, and what the store says.
func Import(ctx context.Context, s store.Store, r io.ReaderAt, size int64, o Options) (Imported, error) {
	in, err := doImport(ctx, s, r, size, o)
	if err != nil {
		return Imported{}, fmt.Errorf("import: %w", err)
	}
	return in, nil
}

func doImport(ctx context.Context, s store.Store, r io.ReaderAt, size int64, o Options) (Imported, error) {
	c, err := open(r, size, o.Limits)
	if err != nil {
		return Imported{}, err
	}
	p, err := plan(ctx, s, c, o)
	if err != nil {
		return Imported{}, err
	}
	in := Imported{JobID: p.newID(store.KindJob, c.manifest.Job), Rigs: p.rigs}
	for _, e := range c.manifest.Files {
		if e.Holds == holdsBytes {
			if err := addBytes(ctx, s, c, e); err != nil {
				return in, err
			}
			in.Blobs++
		}
	}
	var puts []store.Record
	for _, rec := range c.records {
		if p.skip[key(rec)] {
			continue
		}
		in.Records++
		for i := range rec.Revisions {
			put := rec.revision(i)
			put.Rev-- // the store counts it up
			if err := p.rename(&put); err != nil {
				return in, err
			}
			puts = append(puts, put)
		}
	}
	_, err = s.PutAll(ctx, puts)
	return in, err
}

// addBytes hands bytes over; they were checked, and are not once more changed.
func addBytes(ctx context.Context, s store.Store, c content, e entry) error {
	r, err := c.files[e.Path].Open()
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrBroken, e.Path, err)
	}
	b, err := s.AddBlob(ctx, e.Name, e.Type, r)
	if err == nil && b.ID != e.SHA256 {
		err = fmt.Errorf("%w: %s changed while it was read", ErrBroken, e.Path)
	}
	return errors.Join(err, r.Close())
}

// planned is what to leave out and what to call otherwise.
type planned struct {
	skip map[[2]string]bool   // records that are there, and the same
	ids  map[[2]string]string // by kind and old identity
	rigs []string
}

func key(r record) [2]string { return [2]string{string(r.Kind), r.ID} }

func (p planned) newID(kind store.Kind, id string) string {
	if to, ok := p.ids[[2]string{string(kind), id}]; ok {
		return to
	}
	return id
}

// plan looks at what is there. A rig and a check are shared by jobs: the same
// one is used, another one of the same identity is put beside it.
func plan(ctx context.Context, s store.Store, c content, o Options) (planned, error) {
	p := planned{skip: map[[2]string]bool{}, ids: map[[2]string]string{}}
	otherRig := map[string]bool{}
	rename := func(r record) error {
		if o.NewID == nil {
			return errors.New("no way to give new identities")
		}
		p.ids[key(r)] = o.NewID()
		return nil
	}
	for _, r := range c.records { // rigs come before their checks: see order
		there, same, err := compare(ctx, s, r)
		if err != nil {
			return p, err
		}
		shared := r.Kind == store.KindRig || r.Kind == store.KindCheck
		if r.Kind == store.KindCheck {
			e, err := store.Read[head.Check](r.revision(len(r.Revisions) - 1))
			if err != nil {
				return p, err
			}
			same = same && !otherRig[e.Is.RigID]
		}
		switch {
		case !shared && o.Copy:
			err = rename(r)
		case !there:
		case !shared:
			return p, present(c, r, same)
		case same:
			p.skip[key(r)] = true
		default:
			if err = rename(r); err == nil && r.Kind == store.KindRig {
				otherRig[r.ID] = true
				var e store.Entry[head.Rig]
				e, err = store.Read[head.Rig](r.revision(len(r.Revisions) - 1))
				p.rigs = append(p.rigs, e.Is.Name)
			}
		}
		if err != nil {
			return p, err
		}
	}
	return p, nil
}

func present(c content, r record, same bool) error {
	e := &Present{Kind: r.Kind, ID: r.ID, Same: same}
	if r.Kind != store.KindJob {
		return e
	}
	j, err := store.Read[head.Job](r.revision(len(r.Revisions) - 1))
	if err != nil {
		return err
	}
	e.Number = j.Is.Number
	return e
}

// compare says whether a record is there, and whether it is the same: a job to
// its last revision, what jobs share by what it says now.
func compare(ctx context.Context, s store.Store, r record) (there, same bool, err error) {
	history, err := s.History(ctx, r.Kind, r.ID)
	if errors.Is(err, store.ErrNotFound) {
		return false, false, nil
	}
	if err != nil {
		return false, false, err
	}
	if r.Kind != store.KindJob {
		return true, bytes.Equal(of(history).newest().Body, r.newest().Body), nil
	}
	a, err := of(history).marshal()
	if err != nil {
		return true, false, err
	}
	b, err := r.marshal()
	return true, bytes.Equal(a, b), err
}

// names of the fields of a body that hold an identity of another record, and the
// kind it is of. Ports and valves have theirs within the job, and keep them.
var fields = map[string]store.Kind{"job": store.KindJob, "rig": store.KindRig, "check": store.KindCheck, "test": store.KindTest}

// rename gives a record and what it names the new identities.
func (p planned) rename(r *store.Record) error {
	if len(p.ids) == 0 {
		return nil
	}
	var body map[string]json.RawMessage
	if err := json.Unmarshal(r.Body, &body); err != nil {
		return fmt.Errorf("%w: body of %s %s: %w", ErrBroken, r.Kind, r.ID, err)
	}
	changed := false
	set := func(field string, kind store.Kind) error {
		var id string
		if json.Unmarshal(body[field], &id) != nil {
			return nil // not there, or not an identity
		}
		to := p.newID(kind, id)
		if to == id {
			return nil
		}
		changed = true
		b, err := json.Marshal(to)
		body[field] = b
		return err
	}
	err := set("id", r.Kind)
	for field, kind := range fields {
		err = errors.Join(err, set(field, kind))
	}
	if changed && err == nil {
		r.Body, err = json.Marshal(body)
	}
	r.ID, r.JobID = p.newID(r.Kind, r.ID), p.newID(store.KindJob, r.JobID)
	return err
}

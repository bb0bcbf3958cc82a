package app

import (
	"context"
	"errors"
	"fmt"
	"io"

	"seatproof/internal/store"
	"seatproof/internal/web"
)

// keeper introduces a store to the sheets, which don't know it.
type keeper struct{ store store.Store }

var storeErrors = map[error]error{
	store.ErrVersion: web.ErrVersion, store.ErrNotFound: web.ErrNotFound, store.ErrLocked: web.ErrLocked, store.ErrReadOnly: web.ErrReadOnly, store.ErrFull: web.ErrFull,
}

// told turns a store's error into the sheets'.
func told(err error) error {
	var c *store.Conflict
	if errors.As(err, &c) {
		now, err := doc(c.Now)
		if err != nil {
			return told(err)
		}
		return &web.Conflict{Now: now}
	}
	for from, to := range storeErrors {
		if errors.Is(err, from) {
			return errors.Join(to, err)
		}
	}
	return err
}

// doc hands a record over in this program's format: what an older one kept is
// lifted, what a newer one kept is store.ErrVersion.
func doc(r store.Record) (web.Doc, error) {
	body, err := store.Lifted(r.Kind, r.Body)
	if err != nil {
		return web.Doc{}, fmt.Errorf("%s %q: %w", r.Kind, r.ID, err)
	}
	return web.Doc{Kind: string(r.Kind), ID: r.ID, JobID: r.JobID, Rev: r.Rev, At: r.At, By: r.By, Binned: r.Binned, Body: body}, nil
}

func oneDoc(r store.Record, err error) (web.Doc, error) {
	if err != nil {
		return web.Doc{}, told(err)
	}
	d, err := doc(r)
	return d, told(err)
}

func docs(rs []store.Record, err error) ([]web.Doc, error) {
	out := make([]web.Doc, 0, len(rs))
	for _, r := range rs {
		d, derr := doc(r)
		if derr != nil {
			return nil, told(derr)
		}
		out = append(out, d)
	}
	return out, told(err)
}

func (k keeper) Get(ctx context.Context, kind, id string) (web.Doc, error) {
	if id == "" {
		return web.Doc{}, web.ErrNotFound
	}
	return oneDoc(k.store.Get(ctx, store.Kind(kind), id))
}

func (k keeper) List(ctx context.Context, q web.Query) ([]web.Doc, error) {
	return docs(k.store.List(ctx, store.Query{Kind: store.Kind(q.Kind), JobID: q.JobID, NoJob: q.NoJob, Find: q.Find, Binned: q.Binned}))
}

func (k keeper) Put(ctx context.Context, d web.Doc) (web.Doc, error) {
	return oneDoc(k.store.Put(ctx, withVersion(store.Record{Kind: store.Kind(d.Kind), ID: d.ID, JobID: d.JobID, Rev: d.Rev, At: d.At, By: d.By, Binned: d.Binned, Body: d.Body})))
}

func (k keeper) History(ctx context.Context, kind, id string) ([]web.Doc, error) {
	return docs(k.store.History(ctx, store.Kind(kind), id))
}

func (k keeper) AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (web.Blob, error) {
	b, err := k.store.AddBlob(ctx, name, mediaType, r)
	return web.Blob(b), told(err)
}

func (k keeper) OpenBlob(ctx context.Context, id string) (web.Blob, io.ReadCloser, error) {
	b, body, err := k.store.OpenBlob(ctx, id)
	return web.Blob(b), body, told(err)
}

func (k keeper) KeepResult(ctx context.Context, testID, version string, body []byte) error {
	return told(k.store.PutResult(ctx, store.Result{TestID: testID, Version: version, Body: body}))
}

func (k keeper) Results(ctx context.Context, jobID, version string) (map[string][]byte, error) {
	rs, err := k.store.Results(ctx, jobID, version)
	out := make(map[string][]byte, len(rs))
	for _, r := range rs {
		out[r.TestID] = r.Body
	}
	return out, told(err)
}

func (k keeper) Since(ctx context.Context, seq int64) ([]web.Change, error) {
	cs, err := k.store.Since(ctx, seq)
	out := make([]web.Change, 0, len(cs))
	for _, c := range cs {
		out = append(out, web.Change{Seq: c.Seq, Kind: string(c.Kind), ID: c.ID, JobID: c.JobID, Rev: c.Rev})
	}
	return out, told(err)
}

package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// Doc is one revision of a record as it is kept.
type Doc struct {
	Kind   string // "job", "test", "work", "rig", "check", "photo", "observed", "settings"
	ID     string
	JobID  string // the job it belongs to; "" for none
	Rev    int64  // 1 for the first; 0 asks for a new record
	At     int64  // ms since 1970 UTC
	By     string
	Binned bool
	Body   []byte // JSON
}

// The kinds of record.
const (
	kindJob      = "job"
	kindTest     = "test"
	kindWork     = "work"
	kindRig      = "rig"
	kindCheck    = "check"
	kindPhoto    = "photo"
	kindObserved = "observed"
	kindSettings = "settings"
)

// Query says which records to list. Zero fields don't narrow.
type Query struct {
	Kind   string
	JobID  string
	NoJob  bool
	Find   string
	Binned bool
}

// Change is one change to the records.
type Change struct {
	Seq   int64  `json:"seq"`
	Kind  string `json:"kind"`
	ID    string `json:"id"`
	JobID string `json:"job"`
	Rev   int64  `json:"rev"`
}

// Blob is what never changes: samples, a photo, a spoken note.
type Blob struct {
	ID, Name, Type string
	Size           int64
}

// Keeper is what this package needs of whoever keeps the records. Its methods
// are safe for concurrent use; one that fails leaves the records as they were.
type Keeper interface {
	// Get returns the newest revision, also of a binned record; ErrNotFound.
	Get(ctx context.Context, kind, id string) (Doc, error)
	// List returns newest revisions, last changed first.
	List(ctx context.Context, q Query) ([]Doc, error)
	// Put adds a record (Rev 0) or a revision to one (Rev as read; a *Conflict
	// where it is not the newest) and returns it with its new Rev.
	Put(ctx context.Context, d Doc) (Doc, error)
	// History returns all revisions, oldest first; ErrNotFound.
	History(ctx context.Context, kind, id string) ([]Doc, error)
	// AddBlob reads r to its end and keeps it; the same bytes are kept once.
	AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (Blob, error)
	// OpenBlob returns a blob's bytes; the caller closes; ErrNotFound.
	OpenBlob(ctx context.Context, id string) (Blob, io.ReadCloser, error)
	// KeepResult keeps what an estimator's version made of a test, in place of what
	// it or any other made before; ErrNotFound where there is no such test.
	KeepResult(ctx context.Context, testID, version string, body []byte) error
	// Results returns what an estimator's version made of the tests of a job (""
	// for the tray), by their identities.
	Results(ctx context.Context, jobID, version string) (map[string][]byte, error)
	// Since returns the changes after seq, oldest first, at most a thousand.
	Since(ctx context.Context, seq int64) ([]Change, error)
}

// Errors of a keeper. Compare with errors.Is.
var (
	ErrNotFound = errors.New("no such record")
	ErrLocked   = errors.New("another program has the records open")
	ErrReadOnly = errors.New("the records can't be written")
	ErrFull     = errors.New("the disk is full")
	ErrVersion  = errors.New("a newer program wrote the record")
)

// Conflict says that a record changed since it was read.
type Conflict struct{ Now Doc }

func (c *Conflict) Error() string {
	return fmt.Sprintf("%s %s changed meanwhile: it is at revision %d", c.Now.Kind, c.Now.ID, c.Now.Rev)
}

// kept is a record of type T with what is kept beside it.
type kept[T any] struct {
	Doc
	V T
}

func decoded[T any](d Doc) (kept[T], error) {
	k := kept[T]{Doc: d}
	if err := json.Unmarshal(d.Body, &k.V); err != nil {
		return k, fmt.Errorf("record %s %s: %w", d.Kind, d.ID, err)
	}
	return k, nil
}

func load[T any](ctx context.Context, k Keeper, kind, id string) (kept[T], error) {
	d, err := k.Get(ctx, kind, id)
	if err != nil {
		return kept[T]{}, err
	}
	return decoded[T](d)
}

func list[T any](ctx context.Context, k Keeper, q Query) ([]kept[T], error) {
	docs, err := k.List(ctx, q)
	if err != nil {
		return nil, err
	}
	out := make([]kept[T], 0, len(docs))
	for _, d := range docs {
		v, err := decoded[T](d)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// save writes a record and tells whoever watches. Where nobody says who it was,
// it was whoever last gave initials on this bench.
func save[T any](ctx context.Context, s *Server, k kept[T], by string) (kept[T], error) {
	body, err := json.Marshal(k.V)
	if err != nil {
		return k, err
	}
	k.Body, k.At = body, s.Now().UnixMilli()
	if by == "" && k.Kind != kindSettings {
		if set, err := s.loadSettings(ctx); err == nil {
			by = set.V.Initials
		}
	}
	k.By = by
	d, err := s.Keeper.Put(ctx, k.Doc)
	if err != nil {
		return k, err
	}
	k.Doc = d
	s.hub.poke()
	return k, nil
}

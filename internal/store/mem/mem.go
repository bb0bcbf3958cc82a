// Package mem keeps records in memory: for tests, and for practice that leaves
// nothing behind.
package mem

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"sync"

	"seatproof/internal/store"
)

type key struct {
	kind store.Kind
	id   string
}

type blob struct {
	store.Blob
	data []byte
}

// Store is a store.Store in memory. Make it with [New].
type Store struct {
	mu      sync.RWMutex
	closed  bool
	records map[key][]store.Record // revisions, oldest first
	last    map[key]int64          // Seq of the newest revision
	changes []store.Change         // Seq is the index and one
	blobs   map[string]blob
	results map[[2]string]store.Result // by test and version
}

var _ store.Store = (*Store)(nil)

// New returns an empty store.
func New() *Store {
	return &Store{records: map[key][]store.Record{}, last: map[key]int64{},
		blobs: map[string]blob{}, results: map[[2]string]store.Result{}}
}

// ready returns the error of a context that has ended or of a closed store. The
// caller holds the lock.
func (s *Store) ready(ctx context.Context) error {
	if s.closed {
		return store.ErrClosed
	}
	return ctx.Err()
}

// own returns a record whose body no one else holds.
func own(r store.Record) store.Record {
	r.Body = bytes.Clone(r.Body)
	return r
}

func newest(rs []store.Record) store.Record { return rs[len(rs)-1] }

// Get implements store.Store.
func (s *Store) Get(ctx context.Context, kind store.Kind, id string) (store.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return store.Record{}, err
	}
	rs := s.records[key{kind, id}]
	if rs == nil {
		return store.Record{}, fmt.Errorf("%s %q: %w", kind, id, store.ErrNotFound)
	}
	return own(newest(rs)), nil
}

// List implements store.Store.
func (s *Store) List(ctx context.Context, q store.Query) ([]store.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return nil, err
	}
	words, err := store.Words(q.Find)
	if err != nil {
		return nil, err
	}
	var found []store.Record
	for k, rs := range s.records {
		r := newest(rs)
		switch {
		case k.kind != q.Kind, r.Binned != q.Binned,
			q.JobID != "" && r.JobID != q.JobID,
			q.NoJob && r.JobID != "",
			len(words) > 0 && !store.Holds(store.Texts(r.Body), words):
			continue
		}
		found = append(found, own(r))
	}
	slices.SortFunc(found, func(a, b store.Record) int {
		return cmp.Compare(s.last[key{b.Kind, b.ID}], s.last[key{a.Kind, a.ID}])
	})
	return found, nil
}

// Put implements store.Store.
func (s *Store) Put(ctx context.Context, r store.Record) (store.Record, error) {
	rs, err := s.PutAll(ctx, []store.Record{r})
	if err != nil {
		return store.Record{}, err
	}
	return rs[0], nil
}

// PutAll implements store.Store.
func (s *Store) PutAll(ctx context.Context, rs []store.Record) ([]store.Record, error) {
	for _, r := range rs {
		if err := store.Valid(r); err != nil {
			return nil, err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.ready(ctx); err != nil {
		return nil, err
	}
	fresh := map[key][]store.Record{} // what this call adds; nothing is kept before all is well
	var changes []store.Change
	put := make([]store.Record, 0, len(rs))
	for _, r := range rs {
		k := key{r.Kind, r.ID}
		var now *store.Record
		if f := fresh[k]; f != nil {
			n := newest(f)
			now = &n
		} else if kept := s.records[k]; kept != nil {
			n := newest(kept)
			now = &n
		}
		switch {
		case r.Rev == 0 && now != nil:
			return nil, fmt.Errorf("%s %q: %w", r.Kind, r.ID, store.ErrExists)
		case r.Rev != 0 && now == nil:
			return nil, fmt.Errorf("%s %q: %w", r.Kind, r.ID, store.ErrNotFound)
		case now != nil && r.Rev != now.Rev:
			return nil, &store.Conflict{Now: own(*now)}
		}
		from := r.JobID
		if now != nil {
			from = now.JobID
		}
		r = own(r)
		r.Rev++
		fresh[k] = append(fresh[k], r)
		changes = append(changes, store.Change{Seq: int64(len(s.changes) + len(changes) + 1),
			Kind: r.Kind, ID: r.ID, JobID: r.JobID, From: from, Rev: r.Rev})
		put = append(put, own(r))
	}
	for k, f := range fresh {
		s.records[k] = append(s.records[k], f...)
	}
	for _, c := range changes {
		s.last[key{c.Kind, c.ID}] = c.Seq
	}
	s.changes = append(s.changes, changes...)
	return put, nil
}

// History implements store.Store.
func (s *Store) History(ctx context.Context, kind store.Kind, id string) ([]store.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return nil, err
	}
	rs := s.records[key{kind, id}]
	if rs == nil {
		return nil, fmt.Errorf("%s %q: %w", kind, id, store.ErrNotFound)
	}
	all := make([]store.Record, len(rs))
	for i, r := range rs {
		all[i] = own(r)
	}
	return all, nil
}

// AddBlob implements store.Store.
func (s *Store) AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (store.Blob, error) {
	for _, text := range []string{name, mediaType} {
		if err := store.ValidName(text); err != nil {
			return store.Blob{}, err
		}
	}
	s.mu.RLock()
	err := s.ready(ctx)
	s.mu.RUnlock()
	if err != nil {
		return store.Blob{}, err
	}
	data, err := io.ReadAll(r)
	if err != nil {
		return store.Blob{}, err
	}
	sum := sha256.Sum256(data)
	b := blob{store.Blob{ID: hex.EncodeToString(sum[:]), Name: name, Type: mediaType, Size: int64(len(data))}, data}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.ready(ctx); err != nil {
		return store.Blob{}, err
	}
	if kept, ok := s.blobs[b.ID]; ok {
		return kept.Blob, nil
	}
	s.blobs[b.ID] = b
	return b.Blob, nil
}

// OpenBlob implements store.Store.
func (s *Store) OpenBlob(ctx context.Context, id string) (store.Blob, io.ReadCloser, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return store.Blob{}, nil, err
	}
	b, ok := s.blobs[id]
	if !ok {
		return store.Blob{}, nil, fmt.Errorf("blob %q: %w", id, store.ErrNotFound)
	}
	return b.Blob, io.NopCloser(bytes.NewReader(b.data)), nil
}

// PutResult implements store.Store.
func (s *Store) PutResult(ctx context.Context, r store.Result) error {
	if err := store.ValidResult(r); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.ready(ctx); err != nil {
		return err
	}
	if s.records[key{store.KindTest, r.TestID}] == nil {
		return fmt.Errorf("%s %q: %w", store.KindTest, r.TestID, store.ErrNotFound)
	}
	r.Body = bytes.Clone(r.Body)
	for k := range s.results {
		if k[0] == r.TestID {
			delete(s.results, k)
		}
	}
	s.results[[2]string{r.TestID, r.Version}] = r
	return nil
}

// Results implements store.Store.
func (s *Store) Results(ctx context.Context, jobID, version string) ([]store.Result, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return nil, err
	}
	var found []store.Result
	for k, r := range s.results {
		if k[1] == version && newest(s.records[key{store.KindTest, r.TestID}]).JobID == jobID {
			r.Body = bytes.Clone(r.Body)
			found = append(found, r)
		}
	}
	slices.SortFunc(found, func(a, b store.Result) int { return cmp.Compare(a.TestID, b.TestID) })
	return found, nil
}

// Since implements store.Store.
func (s *Store) Since(ctx context.Context, seq int64) ([]store.Change, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if err := s.ready(ctx); err != nil {
		return nil, err
	}
	from := min(max(seq, 0), int64(len(s.changes)))
	to := min(from+store.MostChanges, int64(len(s.changes)))
	return slices.Clone(s.changes[from:to]), nil
}

// Check implements store.Store: memory is taken to be sound.
func (s *Store) Check(ctx context.Context) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.ready(ctx)
}

// Close implements store.Store and forgets everything.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	s.records, s.last, s.changes, s.blobs, s.results = nil, nil, nil, nil, nil
	return nil
}

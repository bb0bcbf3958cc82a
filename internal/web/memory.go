package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"slices"
	"strings"
	"sync"
)

// Memory keeps records in memory, for tests and for looking around.
type Memory struct {
	mu      sync.Mutex
	docs    map[string][]Doc // by kind and identity, revisions oldest first
	changes []Change
	blobs   map[string]memoryBlob
	results map[[2]string][]byte // by test and version
}

type memoryBlob struct {
	Blob
	bytes []byte
}

// NewMemory returns an empty one.
func NewMemory() *Memory {
	return &Memory{docs: map[string][]Doc{}, blobs: map[string]memoryBlob{}, results: map[[2]string][]byte{}}
}

// Get implements [Keeper].
func (m *Memory) Get(_ context.Context, kind, id string) (Doc, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	revs := m.docs[kind+"/"+id]
	if len(revs) == 0 {
		return Doc{}, ErrNotFound
	}
	return revs[len(revs)-1], nil
}

// List implements [Keeper].
func (m *Memory) List(_ context.Context, q Query) ([]Doc, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []Doc
	last := map[string]int64{}
	for _, c := range m.changes {
		last[c.Kind+"/"+c.ID] = c.Seq
	}
	for key, revs := range m.docs {
		d := revs[len(revs)-1]
		if d.Kind != q.Kind || d.Binned != q.Binned || q.JobID != "" && d.JobID != q.JobID || q.NoJob && d.JobID != "" {
			continue
		}
		body := strings.ToLower(string(d.Body))
		if slices.ContainsFunc(strings.Fields(strings.ToLower(q.Find)), func(w string) bool { return !strings.Contains(body, w) }) {
			continue
		}
		_ = key
		out = append(out, d)
	}
	slices.SortFunc(out, func(a, b Doc) int { return cmp.Compare(last[b.Kind+"/"+b.ID], last[a.Kind+"/"+a.ID]) })
	return out, nil
}

// Put implements [Keeper].
func (m *Memory) Put(_ context.Context, d Doc) (Doc, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	key := d.Kind + "/" + d.ID
	revs := m.docs[key]
	now := Doc{}
	if len(revs) > 0 {
		now = revs[len(revs)-1]
	}
	if d.Rev != now.Rev {
		return Doc{}, &Conflict{Now: now}
	}
	d.Rev++
	d.Body = bytes.Clone(d.Body)
	m.docs[key] = append(revs, d)
	m.changes = append(m.changes, Change{int64(len(m.changes) + 1), d.Kind, d.ID, d.JobID, d.Rev})
	return d, nil
}

// History implements [Keeper].
func (m *Memory) History(_ context.Context, kind, id string) ([]Doc, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	revs := m.docs[kind+"/"+id]
	if len(revs) == 0 {
		return nil, ErrNotFound
	}
	return slices.Clone(revs), nil
}

// AddBlob implements [Keeper].
func (m *Memory) AddBlob(_ context.Context, name, mediaType string, r io.Reader) (Blob, error) {
	b, err := io.ReadAll(r)
	if err != nil {
		return Blob{}, err
	}
	sum := sha256.Sum256(b)
	m.mu.Lock()
	defer m.mu.Unlock()
	id := hex.EncodeToString(sum[:])
	if old, ok := m.blobs[id]; ok {
		return old.Blob, nil
	}
	blob := Blob{id, name, mediaType, int64(len(b))}
	m.blobs[id] = memoryBlob{blob, b}
	return blob, nil
}

// OpenBlob implements [Keeper].
func (m *Memory) OpenBlob(_ context.Context, id string) (Blob, io.ReadCloser, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	b, ok := m.blobs[id]
	if !ok {
		return Blob{}, nil, ErrNotFound
	}
	return b.Blob, io.NopCloser(bytes.NewReader(b.bytes)), nil
}

// KeepResult implements [Keeper].
func (m *Memory) KeepResult(_ context.Context, testID, version string, body []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.docs[kindTest+"/"+testID]) == 0 {
		return ErrNotFound
	}
	for k := range m.results {
		if k[0] == testID {
			delete(m.results, k)
		}
	}
	m.results[[2]string{testID, version}] = bytes.Clone(body)
	return nil
}

// Results implements [Keeper].
func (m *Memory) Results(_ context.Context, jobID, version string) (map[string][]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := map[string][]byte{}
	for key, body := range m.results {
		revs := m.docs[kindTest+"/"+key[0]]
		if key[1] == version && revs[len(revs)-1].JobID == jobID {
			out[key[0]] = bytes.Clone(body)
		}
	}
	return out, nil
}

// Since implements [Keeper].
func (m *Memory) Since(_ context.Context, seq int64) ([]Change, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	from := min(max(0, int(seq)), len(m.changes))
	return slices.Clone(m.changes[from:min(len(m.changes), from+1000)]), nil
}

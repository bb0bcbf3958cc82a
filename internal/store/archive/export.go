package archive

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"seatproof/head"
	"seatproof/internal/store"
)

// folders of the records of a kind.
var folders = map[store.Kind]string{
	store.KindTest: "tests", store.KindWork: "work", store.KindPhoto: "captions", store.KindRig: "rigs", store.KindCheck: "checks",
	store.KindObserved: "observed",
}

// Export writes a job with all that belongs to it, binned or not, and the rigs
// its tests name with their checks. The same records make the same manifest.
// store.ErrNotFound: no such job. What was written before an error is of no use.
func Export(ctx context.Context, s store.Store, jobID string, w io.Writer) error {
	records, err := gather(ctx, s, jobID)
	if err != nil {
		return fmt.Errorf("export job %s: %w", jobID, err)
	}
	if err := write(ctx, s, jobID, records, w); err != nil {
		return fmt.Errorf("export job %s: %w", jobID, err)
	}
	return nil
}

// gather returns the records of a job in an order that depends on them only.
func gather(ctx context.Context, s store.Store, jobID string) ([]record, error) {
	history, err := s.History(ctx, store.KindJob, jobID)
	if err != nil {
		return nil, err
	}
	all := []record{of(history)}
	for _, kind := range []store.Kind{store.KindTest, store.KindWork, store.KindObserved, store.KindPhoto} {
		rs, err := listed(ctx, s, store.Query{Kind: kind, JobID: jobID})
		if err != nil {
			return nil, err
		}
		all = append(all, rs...)
	}
	wanted, err := refer(all)
	if err != nil {
		return nil, err
	}
	for _, id := range wanted.rigs {
		h, err := s.History(ctx, store.KindRig, id)
		if errors.Is(err, store.ErrNotFound) {
			continue // a rig that is named, and was never kept
		}
		if err != nil {
			return nil, err
		}
		all = append(all, of(h))
	}
	checks, err := listed(ctx, s, store.Query{Kind: store.KindCheck})
	if err != nil {
		return nil, err
	}
	for _, c := range checks {
		e, err := store.Read[head.Check](c.revision(len(c.Revisions) - 1))
		if err != nil {
			return nil, err
		}
		if slices.Contains(wanted.rigs, e.Is.RigID) || slices.Contains(wanted.checks, c.ID) {
			all = append(all, c)
		}
	}
	return all, nil
}

// listed returns records with their revisions, in and out of the bin, by
// identity.
func listed(ctx context.Context, s store.Store, q store.Query) ([]record, error) {
	var all []record
	for _, binned := range []bool{false, true} {
		q.Binned = binned
		rs, err := s.List(ctx, q)
		if err != nil {
			return nil, err
		}
		for _, r := range rs {
			h, err := s.History(ctx, r.Kind, r.ID)
			if err != nil {
				return nil, err
			}
			all = append(all, of(h))
		}
	}
	slices.SortFunc(all, func(a, b record) int { return cmp.Compare(a.ID, b.ID) })
	return all, nil
}

// revision returns the record at one of its revisions.
func (r record) revision(i int) store.Record {
	v := r.Revisions[i]
	return store.Record{Kind: r.Kind, ID: r.ID, JobID: v.JobID, Rev: v.Rev, At: v.At, By: v.By, Binned: v.Binned, Body: v.Body}
}

// references are what records name, sorted, each once.
type references struct {
	rigs, checks []string
	blobs        []string
	folder       map[string]string // of a blob
}

// refer reads every revision of every record and returns what they name.
func refer(records []record) (references, error) {
	refs := references{folder: map[string]string{}}
	blob := func(id, folder string) {
		if id != "" && refs.folder[id] == "" {
			refs.folder[id] = folder
			refs.blobs = append(refs.blobs, id)
		}
	}
	for _, r := range records {
		for i := range r.Revisions {
			var err error
			switch rev := r.revision(i); r.Kind {
			case store.KindJob:
				var e store.Entry[head.Job]
				e, err = store.Read[head.Job](rev)
				refs.rigs = append(refs.rigs, e.Is.RigID)
			case store.KindTest:
				var e store.Entry[head.Test]
				e, err = store.Read[head.Test](rev)
				refs.rigs = append(refs.rigs, e.Is.RigID)
				refs.checks = append(refs.checks, e.Is.CheckID)
				blob(e.Is.TraceID, "traces")
				for _, x := range e.Is.Beside {
					blob(x.TraceID, "traces")
				}
			case store.KindPhoto:
				var e store.Entry[store.Photo]
				e, err = store.Read[store.Photo](rev)
				blob(e.Is.BlobID, "photos")
			case store.KindWork:
				_, err = store.Read[head.Work](rev)
			case store.KindObserved:
				_, err = store.Read[head.Observed](rev)
			case store.KindRig:
				_, err = store.Read[head.Rig](rev)
			case store.KindCheck:
				var e store.Entry[head.Check]
				if e, err = store.Read[head.Check](rev); e.Is.TraceID != "" {
					blob(e.Is.TraceID, "traces")
				}
				for _, id := range e.Is.Traces {
					blob(id, "traces")
				}
			default:
				err = fmt.Errorf("%w: records of kind %q", store.ErrVersion, r.Kind)
			}
			if err != nil {
				return refs, err
			}
		}
	}
	for _, ids := range []*[]string{&refs.rigs, &refs.checks, &refs.blobs} {
		slices.Sort(*ids)
		*ids = slices.DeleteFunc(slices.Compact(*ids), func(id string) bool { return id == "" })
	}
	return refs, nil
}

// write writes the zip: the manifest first, then its files in its order.
func write(ctx context.Context, s store.Store, jobID string, records []record, w io.Writer) error {
	m := manifest{Format: Format, Job: jobID}
	taken := names{}
	bodies := map[string][]byte{}
	for _, r := range records {
		p := "job.json"
		if folder := folders[r.Kind]; folder != "" {
			p = taken.in(folder, r.ID+".json")
		}
		b, err := r.marshal()
		if err != nil {
			return err
		}
		sum := sha256.Sum256(b)
		bodies[p] = b
		m.Files = append(m.Files, entry{Path: p, SHA256: hex.EncodeToString(sum[:]), Size: int64(len(b)), Holds: holdsRecord})
	}
	refs, err := refer(records)
	if err != nil {
		return err
	}
	for _, id := range refs.blobs {
		b, r, err := s.OpenBlob(ctx, id)
		if err != nil {
			return err
		}
		if err := r.Close(); err != nil {
			return err
		}
		m.Files = append(m.Files, entry{Path: taken.in(refs.folder[id], b.Name), SHA256: b.ID, Size: b.Size, Holds: holdsBytes, Name: b.Name, Type: b.Type})
	}
	head, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	if err := add(z, manifestName, "", bytes.NewReader(append(head, '\n'))); err != nil {
		return err
	}
	for _, f := range m.Files {
		if f.Holds == holdsRecord {
			err = add(z, f.Path, "", bytes.NewReader(bodies[f.Path]))
		} else {
			err = addBlob(ctx, s, z, f)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
	}
	return z.Close()
}

func addBlob(ctx context.Context, s store.Store, z *zip.Writer, f entry) error {
	_, r, err := s.OpenBlob(ctx, f.SHA256)
	if err != nil {
		return err
	}
	return errors.Join(add(z, f.Path, f.Type, r), r.Close())
}

func add(z *zip.Writer, name, mediaType string, r io.Reader) error {
	h := &zip.FileHeader{Name: name, Method: zip.Deflate} // no time of its own: the same records, the same file
	if strings.HasPrefix(mediaType, "image/") || strings.HasPrefix(mediaType, "audio/") {
		h.Method = zip.Store // compressed already
	}
	w, err := z.CreateHeader(h)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, r)
	return err
}

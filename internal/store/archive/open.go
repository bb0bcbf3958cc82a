package archive

import (
	"archive/zip"
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"seatproof/internal/store"
)

// Limits are what an import takes in at most. Zero fields stand for the usual.
type Limits struct {
	Files   int   // in the zip; usually 20,000
	Bytes   int64 // of all files, not compressed; usually 4 GiB
	Records int64 // bytes of all records, which are held in memory; usually 256 MiB
}

func (l Limits) usual() Limits {
	if l.Files == 0 {
		l.Files = 20_000
	}
	if l.Bytes == 0 {
		l.Bytes = 4 << 30
	}
	if l.Records == 0 {
		l.Records = 256 << 20
	}
	return l
}

// content is a zip whose every file was read and found to be as its manifest
// says.
type content struct {
	manifest manifest
	files    map[string]*zip.File
	records  []record
}

// open reads a zip to its end and checks it.
func open(r io.ReaderAt, size int64, l Limits) (content, error) {
	l = l.usual()
	z, err := zip.NewReader(r, size)
	if err != nil {
		return content{}, fmt.Errorf("%w: it is no whole zip file (%w); fetch or copy it again", ErrBroken, err)
	}
	c := content{files: map[string]*zip.File{}}
	if len(z.File) > l.Files {
		return c, fmt.Errorf("%w: %d files, where %d are the most", ErrTooBig, len(z.File), l.Files)
	}
	var total uint64
	for _, f := range z.File {
		name := strings.TrimSuffix(f.Name, "/")
		if !fs.ValidPath(name) || strings.ContainsAny(name, "\\:\x00") {
			return c, fmt.Errorf("%w: %q is no name for a file in it", ErrBroken, f.Name)
		}
		if name != f.Name && f.UncompressedSize64 == 0 {
			continue // a folder, which packing again may have added
		}
		if c.files[f.Name] != nil {
			return c, fmt.Errorf("%w: %s is in it twice", ErrBroken, f.Name)
		}
		c.files[f.Name] = f
		if total += f.UncompressedSize64; total > uint64(l.Bytes) || f.UncompressedSize64 > uint64(l.Bytes) {
			return c, fmt.Errorf("%w: more than %d MB unpacked", ErrTooBig, l.Bytes/1e6)
		}
	}
	if c.manifest, err = readManifest(c.files[manifestName], l); err != nil {
		return c, err
	}
	return c, c.check(l)
}

func readManifest(f *zip.File, l Limits) (m manifest, err error) {
	if f == nil {
		return m, fmt.Errorf("%w: there is no %s in it", ErrForeign, manifestName)
	}
	b, err := readFile(f, min(l.Records, 64<<20))
	if err != nil {
		return m, err
	}
	if err := json.Unmarshal(b, &m); err != nil {
		return m, fmt.Errorf("%w: %s: %w", ErrBroken, manifestName, err)
	}
	switch {
	case m.Format == Format:
		return m, nil
	case strings.HasPrefix(m.Format, family):
		return m, fmt.Errorf("%w: it is of format %q, and this program knows %q; use the newer program that wrote it", store.ErrVersion, m.Format, Format)
	}
	return m, fmt.Errorf("%w: it is of format %q, and not %q", ErrForeign, m.Format, Format)
}

// readFile reads one file whole; the size its header tells is not taken on
// trust.
func readFile(f *zip.File, most int64) ([]byte, error) {
	if f.UncompressedSize64 > uint64(most) {
		return nil, fmt.Errorf("%w: %s has %d bytes, where %d are the most", ErrTooBig, f.Name, f.UncompressedSize64, most)
	}
	var b bytes.Buffer
	err := copyFile(&b, f)
	return b.Bytes(), err
}

// copyFile copies a file of the zip, no more than its header tells.
func copyFile(w io.Writer, f *zip.File) error {
	r, err := f.Open()
	if err == nil {
		var n int64
		n, err = io.Copy(w, io.LimitReader(r, int64(f.UncompressedSize64)+1))
		if err == nil && uint64(n) != f.UncompressedSize64 {
			err = errors.New("it is not as long as it says")
		}
		err = errors.Join(err, r.Close())
	}
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrBroken, f.Name, err)
	}
	return nil
}

// check reads every file and holds it against the manifest.
func (c *content) check(l Limits) error {
	left := l.Records
	listed := map[string]bool{manifestName: true}
	for _, e := range c.manifest.Files {
		f := c.files[e.Path]
		switch {
		case f == nil:
			return fmt.Errorf("%w: %s is missing", ErrBroken, e.Path)
		case listed[e.Path]:
			return fmt.Errorf("%w: %s is in its list twice", ErrBroken, e.Path)
		case f.UncompressedSize64 != uint64(e.Size):
			return fmt.Errorf("%w: %s has %d bytes, and had %d", ErrBroken, e.Path, f.UncompressedSize64, e.Size)
		case e.Holds != holdsRecord && e.Holds != holdsBytes:
			return fmt.Errorf("%w: %s holds %q, which nobody knows", ErrBroken, e.Path, e.Holds)
		case e.Holds == holdsRecord && e.Size > left:
			return fmt.Errorf("%w: more than %d MB of records", ErrTooBig, l.Records/1e6)
		}
		listed[e.Path] = true
		sum := sha256.New()
		var b bytes.Buffer
		w := io.Writer(sum)
		if e.Holds == holdsRecord {
			left -= e.Size
			w = io.MultiWriter(sum, &b)
		}
		if err := copyFile(w, f); err != nil {
			return err
		}
		if hex.EncodeToString(sum.Sum(nil)) != e.SHA256 {
			return fmt.Errorf("%w: %s was changed", ErrBroken, e.Path)
		}
		if e.Holds == holdsRecord {
			var r record
			if err := json.Unmarshal(b.Bytes(), &r); err != nil {
				return fmt.Errorf("%w: %s: %w", ErrBroken, e.Path, err)
			}
			if err := sound(r); err != nil {
				return fmt.Errorf("%w: %s: %w", ErrBroken, e.Path, err)
			}
			c.records = append(c.records, r)
		}
	}
	for name := range c.files {
		if !listed[name] {
			return fmt.Errorf("%w: %s is not in its list: it was added afterwards", ErrBroken, name)
		}
	}
	slices.SortStableFunc(c.records, func(a, b record) int { return cmp.Compare(order(a.Kind), order(b.Kind)) })
	return c.whole()
}

// order of kinds: rigs before their checks, and both before what names them.
func order(kind store.Kind) int {
	switch kind {
	case store.KindRig:
		return 0
	case store.KindCheck:
		return 1
	}
	return 2
}

// sound checks one record: its revisions follow each other, and a store will
// take them.
func sound(r record) error {
	if len(r.Revisions) == 0 {
		return errors.New("a record without a revision")
	}
	for i, rev := range r.Revisions {
		if rev.Rev != int64(i+1) {
			return fmt.Errorf("revision %d in place of %d", rev.Rev, i+1)
		}
		if err := store.Valid(r.revision(i)); err != nil {
			return err
		}
	}
	return nil
}

// whole checks the records against each other: one job, what belongs to it, and
// all the bytes they name.
func (c *content) whole() error {
	seen := map[[2]string]bool{}
	for _, r := range c.records {
		key := [2]string{string(r.Kind), r.ID}
		if seen[key] {
			return fmt.Errorf("%w: %s %s is in it twice", ErrBroken, r.Kind, r.ID)
		}
		seen[key] = true
		switch r.Kind {
		case store.KindJob:
			if r.ID != c.manifest.Job {
				return fmt.Errorf("%w: it holds job %s beside job %s", ErrBroken, r.ID, c.manifest.Job)
			}
		case store.KindTest, store.KindWork, store.KindObserved, store.KindPhoto:
			if r.newest().JobID != c.manifest.Job {
				return fmt.Errorf("%w: %s %s belongs to another job", ErrBroken, r.Kind, r.ID)
			}
		}
	}
	if !seen[[2]string{string(store.KindJob), c.manifest.Job}] {
		return fmt.Errorf("%w: job %s is missing", ErrBroken, c.manifest.Job)
	}
	refs, err := refer(c.records)
	if err != nil {
		return err
	}
	there := map[string]bool{}
	for _, e := range c.manifest.Files {
		if e.Holds == holdsBytes {
			there[e.SHA256] = true
		}
	}
	for _, id := range refs.blobs {
		if !there[id] {
			return fmt.Errorf("%w: the bytes %s of one of its %s are missing", ErrBroken, id, refs.folder[id])
		}
	}
	return nil
}

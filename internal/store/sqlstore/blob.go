package sqlstore

import (
	"bytes"
	"compress/flate"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"

	"seatproof/internal/store"
)

// pieceSize is how many bytes one piece of a blob stands for: what a reader or
// writer holds in memory.
const pieceSize = 1 << 20

// pack returns a piece compressed, or as it is where that is no longer, as with
// photos.
func pack(w *flate.Writer, buf *bytes.Buffer, data []byte) (how string, packed []byte, err error) {
	buf.Reset()
	w.Reset(buf)
	if _, err := w.Write(data); err != nil {
		return "", nil, err
	}
	if err := w.Close(); err != nil {
		return "", nil, err
	}
	if buf.Len() >= len(data) {
		return "", data, nil
	}
	return "flate", buf.Bytes(), nil
}

func unpack(how string, data []byte) ([]byte, error) {
	switch how {
	case "":
		return data, nil
	case "flate":
		r := flate.NewReader(bytes.NewReader(data))
		out, err := io.ReadAll(io.LimitReader(r, pieceSize+1))
		if err == nil && len(out) > pieceSize {
			err = errors.New("a piece is too long")
		}
		return out, err
	}
	return nil, fmt.Errorf("packed by %q", how)
}

// AddBlob implements store.Store. Each piece is a transaction of its own, so
// that a slow upload keeps nobody from writing; the last one makes it a blob.
func (s *Store) AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (b store.Blob, err error) {
	for _, text := range []string{name, mediaType} {
		if err := store.ValidName(text); err != nil {
			return store.Blob{}, err
		}
	}
	if err := s.enter(ctx); err != nil {
		return store.Blob{}, err
	}
	s.leave() // a reader that never ends must not keep Close waiting
	upload := rand.Text()
	var pieces int64
	defer func() {
		if err == nil {
			return
		}
		b = store.Blob{}
		if pieces > 0 && !errors.Is(err, store.ErrClosed) {
			// What can't be thrown away now, New throws away.
			_ = s.drop(context.WithoutCancel(ctx), upload)
		}
	}()

	sum, data := sha256.New(), make([]byte, pieceSize)
	var buf bytes.Buffer
	w, err := flate.NewWriter(io.Discard, flate.BestSpeed) // a quarter of a table of figures; the best is a fifth, and slow
	if err != nil {
		return b, err
	}
	b.Name, b.Type = name, mediaType
	for {
		n, readErr := io.ReadFull(r, data)
		if readErr != nil && !errors.Is(readErr, io.EOF) && !errors.Is(readErr, io.ErrUnexpectedEOF) {
			return b, readErr
		}
		if n > 0 {
			sum.Write(data[:n])
			b.Size += int64(n)
			how, packed, err := pack(w, &buf, data[:n])
			if err != nil {
				return b, err
			}
			err = s.write(ctx, func(ctx context.Context, tx *sql.Tx) error {
				_, err := tx.ExecContext(ctx, `INSERT INTO piece (upload, n, packed, data) VALUES ($1, $2, $3, $4)`, upload, pieces, how, packed)
				return err
			})
			if err != nil {
				return b, err
			}
			pieces++
		}
		if readErr != nil {
			break
		}
	}
	b.ID = hex.EncodeToString(sum.Sum(nil))
	return s.finish(ctx, b, upload, pieces)
}

// finish makes an upload a blob, or drops it where the same bytes are there.
func (s *Store) finish(ctx context.Context, b store.Blob, upload string, pieces int64) (store.Blob, error) {
	err := s.write(ctx, func(ctx context.Context, tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `INSERT INTO blob (id, upload, name, media_type, size, pieces)
			VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (id) DO NOTHING`, b.ID, upload, b.Name, b.Type, b.Size, pieces)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 1 {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM piece WHERE upload = $1`, upload); err != nil {
			return err
		}
		return tx.QueryRowContext(ctx, `SELECT name, media_type FROM blob WHERE id = $1`, b.ID).Scan(&b.Name, &b.Type)
	})
	return b, err
}

func (s *Store) drop(ctx context.Context, upload string) error {
	return s.write(ctx, func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM piece WHERE upload = $1`, upload)
		return err
	})
}

// sweep throws away the pieces of uploads that were broken off. It belongs to
// opening a database that no one else has open.
func (s *Store) sweep(ctx context.Context) error {
	if !s.d.OneWriter {
		return nil // another program may be in the middle of an upload
	}
	var there int
	err := s.db.QueryRowContext(ctx, `SELECT count(*) FROM (SELECT DISTINCT upload FROM piece) p
		WHERE upload NOT IN (SELECT upload FROM blob)`).Scan(&there)
	if err != nil || there == 0 {
		return s.d.wrap(err)
	}
	return s.write(ctx, func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `DELETE FROM piece WHERE upload NOT IN (SELECT upload FROM blob)`)
		return err
	})
}

// OpenBlob implements store.Store.
func (s *Store) OpenBlob(ctx context.Context, id string) (store.Blob, io.ReadCloser, error) {
	b := store.Blob{ID: id}
	r := &reader{s: s, ctx: ctx, sum: sha256.New()}
	err := s.read(ctx, func() error {
		err := s.db.QueryRowContext(ctx, `SELECT name, media_type, size, upload, pieces FROM blob WHERE id = $1`, id).
			Scan(&b.Name, &b.Type, &b.Size, &r.upload, &r.pieces)
		if errors.Is(err, sql.ErrNoRows) {
			return none("blob", id)
		}
		return err
	})
	if err != nil {
		return store.Blob{}, nil, err
	}
	r.blob = b
	return b, r, nil
}

// reader reads a blob piece by piece, so that no transaction stays open while
// its caller takes its time.
type reader struct {
	s      *Store
	ctx    context.Context // of OpenBlob: an io.Reader has no way to be handed one
	blob   store.Blob
	upload string
	pieces int64

	n    int64 // the next piece
	left []byte
	read int64
	sum  hash.Hash
	err  error
}

func (r *reader) Read(p []byte) (int, error) {
	for len(r.left) == 0 && r.err == nil {
		r.left, r.err = r.next()
	}
	if len(r.left) == 0 {
		return 0, r.err
	}
	n := copy(p, r.left)
	r.left = r.left[n:]
	return n, nil
}

// next returns the next piece, io.EOF after the last.
func (r *reader) next() ([]byte, error) {
	if r.n == r.pieces {
		if r.read != r.blob.Size || hex.EncodeToString(r.sum.Sum(nil)) != r.blob.ID {
			return nil, fmt.Errorf("blob %s (%s): %w: these are not the bytes that were kept", r.blob.ID, r.blob.Name, store.ErrDamaged)
		}
		return nil, io.EOF
	}
	var how string
	var packed []byte
	err := r.s.read(r.ctx, func() error {
		return r.s.db.QueryRowContext(r.ctx, `SELECT packed, data FROM piece WHERE upload = $1 AND n = $2`, r.upload, r.n).Scan(&how, &packed)
	})
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("blob %s (%s): %w: piece %d of %d is missing", r.blob.ID, r.blob.Name, store.ErrDamaged, r.n+1, r.pieces)
	}
	if err != nil {
		return nil, err
	}
	data, err := unpack(how, packed)
	if err != nil {
		return nil, fmt.Errorf("blob %s (%s): %w: piece %d of %d: %w", r.blob.ID, r.blob.Name, store.ErrDamaged, r.n+1, r.pieces, err)
	}
	r.n++
	r.read += int64(len(data))
	r.sum.Write(data)
	return data, nil
}

func (r *reader) Close() error {
	if r.err == nil {
		r.err = errors.New("read a blob that was closed")
	}
	r.left = nil
	return nil
}

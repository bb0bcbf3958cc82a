// Package sqlite keeps records in one SQLite file.
//
// Start with [Open]. A file is one program's at a time: a lock file beside it
// says so, and the system lets go of it however the program ends.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"seatproof/internal/store"
	"seatproof/internal/store/sqlstore"
)

// Options are how to open a file. The zero value is right for all but tests.
type Options struct {
	mostPages int // of the file; 0: no bound but the disk
}

// readers is how many may read while one writes.
const readers = 4

var dialect = sqlstore.Dialect{
	Name:      "sqlite3",
	BlobType:  "BLOB",
	OneWriter: true,
	Is:        stands,
	Check:     integrity,
}

// Store is a store.Store on a file.
type Store struct {
	*sqlstore.Store
	db    *sql.DB // for tests
	lock  *lock
	close func() error
}

// InUse says which process has a file open. It is store.ErrLocked.
type InUse struct {
	Process int
	Address string // where it serves the sheets, if it said; see [Store.Say]
}

func (u *InUse) Error() string {
	s := fmt.Sprintf("%v: process %d", store.ErrLocked, u.Process)
	if u.Address != "" {
		s += ", at " + u.Address
	}
	return s
}

// Unwrap returns store.ErrLocked.
func (u *InUse) Unwrap() error { return store.ErrLocked }

// Say tells whoever finds the file open where this program serves the sheets. On
// systems where the lock can't be read it does nothing.
func (s *Store) Say(address string) error { return s.lock.say(address) }

// Open opens the database at path, or makes one, in a folder that is made where
// there is none, and brings an earlier schema to this program's. Errors, by
// errors.Is: store.ErrLocked, ErrReadOnly, ErrFull, ErrVersion (a newer schema),
// ErrForeign, ErrDamaged. A file that can't be opened is left as it was.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	s, err := open(ctx, path, o)
	if err != nil {
		return nil, fmt.Errorf("open database %s: %w", path, err)
	}
	return s, nil
}

func open(ctx context.Context, path string, o Options) (*Store, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	// A link and what it leads to are one database, with one lock.
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, written(err)
	}
	l, err := acquire(path + ".lock")
	if err != nil {
		return nil, written(err)
	}
	s, db, err := openLocked(ctx, path, o)
	if err != nil {
		return nil, errors.Join(err, l.release())
	}
	return &Store{s, db, l, sync.OnceValue(func() error { return errors.Join(s.Close(), l.release()) })}, nil
}

func openLocked(ctx context.Context, path string, o Options) (*sqlstore.Store, *sql.DB, error) {
	fresh, err := look(path)
	if err != nil {
		return nil, nil, err
	}
	version := int64(0)
	if !fresh {
		if version, err = peek(ctx, path); err != nil {
			return nil, nil, err
		}
	}
	q := url.Values{"_pragma": {"busy_timeout(5000)", "foreign_keys(1)", "journal_mode(WAL)", "synchronous(FULL)"}, "_txlock": {"immediate"}}
	if o.mostPages > 0 {
		q.Add("_pragma", "max_page_count("+strconv.Itoa(o.mostPages)+")")
	}
	db, err := sql.Open("sqlite", address(path, q))
	if err != nil {
		return nil, nil, err
	}
	db.SetMaxOpenConns(1 + readers)
	db.SetMaxIdleConns(1 + readers) // opening one again would read the schema again
	newest, err := sqlstore.Newest(dialect)
	if err == nil && version < newest {
		err = sqlstore.Migrate(ctx, db, dialect)
	}
	if err == nil && fresh {
		err = syncFolder(filepath.Dir(path))
	}
	var s *sqlstore.Store
	if err == nil {
		s, err = sqlstore.New(ctx, db, dialect)
	}
	if err != nil {
		err = errors.Join(err, db.Close())
		if fresh {
			err = errors.Join(err, remove(path))
		}
		return nil, nil, wrap(err)
	}
	return s, db, nil
}

// Close closes the file and lets others have it.
func (s *Store) Close() error { return s.close() }

// address returns the driver's name for a file. Percent signs and question
// marks in a path would else be read as part of the address.
func address(path string, q url.Values) string {
	p := filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" {
		p = "/" + p
	}
	return "file://" + (&url.URL{Path: p}).EscapedPath() + "?" + q.Encode()
}

// magic is what every SQLite file begins with.
// Source: sqlite.org/fileformat2.html, section 1.3, from memory.
const magic = "SQLite format 3\x00"

// look says whether there is no database at path yet, and else whether what is
// there can be one and can be written.
func look(path string) (fresh bool, err error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return true, nil
	}
	if err != nil {
		return false, written(err)
	}
	if !info.Mode().IsRegular() {
		return false, fmt.Errorf("%w: it is not a plain file", store.ErrForeign)
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return false, written(err)
	}
	defer f.Close()
	head := make([]byte, len(magic))
	n, err := io.ReadFull(f, head)
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		return false, nil // SQLite takes an empty file for an empty database
	case err != nil && !errors.Is(err, io.ErrUnexpectedEOF):
		return false, err
	case string(head[:n]) != magic:
		return false, fmt.Errorf("%w: it does not begin like one; give another file, or move this one away", store.ErrForeign)
	}
	return false, nil
}

// peek returns the version of a database's schema without writing to it, where
// no crash left work to be done first.
func peek(ctx context.Context, path string) (int64, error) {
	q := url.Values{"_pragma": {"busy_timeout(5000)"}}
	switch {
	case full(path + "-journal"):
		q.Set("mode", "rw") // a change half made must be taken back before anything can be read
	case full(path + "-wal"):
		q.Set("mode", "ro")
	default:
		q.Set("immutable", "1") // leaves no files beside it either
	}
	db, err := sql.Open("sqlite", address(path, q))
	if err != nil {
		return 0, err
	}
	version, err := sqlstore.Fits(ctx, db, dialect, tables)
	return version, errors.Join(wrap(err), wrap(db.Close()))
}

func full(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Size() > 0
}

func tables(ctx context.Context, db *sql.DB) (names []string, err error) {
	rows, err := db.QueryContext(ctx, `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\_%' ESCAPE '\'`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var n string
		if err := rows.Scan(&n); err != nil {
			return nil, err
		}
		names = append(names, n)
	}
	return names, rows.Err()
}

// integrity asks SQLite to look the whole file over.
func integrity(ctx context.Context, db *sql.DB) error {
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		rows, err := db.QueryContext(ctx, "PRAGMA "+pragma)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var said any
			if pragma == "foreign_key_check" {
				return fmt.Errorf("%w: a row points at one that is missing", store.ErrDamaged)
			}
			if err := rows.Scan(&said); err != nil {
				return err
			}
			if said != "ok" {
				return fmt.Errorf("%w: %v", store.ErrDamaged, said)
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	return nil
}

// remove throws away what a database that could not be made left behind.
func remove(path string) error {
	var errs []error
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + end); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// written returns an error of the file system as one of package store.
func written(err error) error {
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%w (%w): give yourself the right to write to the file and its folder, or choose another folder", store.ErrReadOnly, err)
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("%w (%w)", store.ErrFull, err)
	}
	return err
}

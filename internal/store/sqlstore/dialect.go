// Package sqlstore keeps records in a database that speaks SQL. It is written
// once, in the SQL that SQLite and PostgreSQL share; a [Dialect] says the little
// in which they differ. The packages that open a database use it: see
// seatproof/internal/store/sqlite.
//
// The rules of that SQL: types TEXT, BIGINT, BOOLEAN and, in migrations, ${BLOB};
// placeholders $1, $2; time as milliseconds since 1970; no order by texts, which
// databases sort differently.
package sqlstore

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"strings"

	"github.com/pressly/goose/v3"

	"seatproof/internal/store"
)

// Dialect says in what a database differs.
type Dialect struct {
	Name     string // as goose calls it: "sqlite3", "postgres"
	BlobType string // in place of ${BLOB}
	// OneWriter says that the database takes one writer at a time: others wait
	// here, in turn, rather than in the database.
	OneWriter bool
	// Is returns the error of package store that a database's error stands for,
	// or nil.
	Is func(error) error
	// Check looks over what only the database knows of; may be nil.
	Check func(context.Context, *sql.DB) error
}

// wrap returns err so that errors.Is knows what it stands for.
func (d Dialect) wrap(err error) error {
	if err == nil || d.Is == nil {
		return err
	}
	known := d.Is(err)
	if known == nil || errors.Is(err, known) {
		return err
	}
	return fmt.Errorf("%w (%w)", known, err)
}

//go:embed migrations/*.sql
var files embed.FS

// migrations returns the numbered migrations as the dialect needs them.
func (d Dialect) migrations() (fs.FS, error) {
	sub, err := fs.Sub(files, "migrations")
	return filled{sub, d.BlobType}, err
}

// filled is a folder of files with ${BLOB} filled in.
type filled struct {
	fs.FS
	blob string
}

func (f filled) Open(name string) (fs.File, error) {
	file, err := f.FS.Open(name)
	if err != nil || !strings.HasSuffix(name, ".sql") {
		return file, err
	}
	b, err := io.ReadAll(file)
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return &filledFile{file, strings.NewReader(strings.ReplaceAll(string(b), "${BLOB}", f.blob))}, nil
}

type filledFile struct {
	fs.File
	r io.Reader
}

func (f *filledFile) Read(p []byte) (int, error) { return f.r.Read(p) }

func (d Dialect) provider(db *sql.DB) (*goose.Provider, error) {
	m, err := d.migrations()
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.Dialect(d.Name), db, m, goose.WithDisableGlobalRegistry(true),
		goose.WithSlog(slog.New(slog.NewTextHandler(io.Discard, nil))))
}

// Newest returns the schema's version that this program writes.
func Newest(d Dialect) (int64, error) {
	m, err := d.migrations()
	if err != nil {
		return 0, err
	}
	names, err := fs.Glob(m, "*.sql")
	if err != nil || len(names) == 0 {
		return 0, fmt.Errorf("no migrations: %w", err)
	}
	return goose.NumericComponent(names[len(names)-1])
}

// Fits returns nil for a database whose schema this program can read after
// Migrate, which is one of its own version or an earlier one, and the schema's
// version; 0 for an empty database. It only reads. A newer schema is
// store.ErrVersion, tables that are not ours store.ErrForeign.
func Fits(ctx context.Context, db *sql.DB, d Dialect, tables func(context.Context, *sql.DB) ([]string, error)) (int64, error) {
	names, err := tables(ctx, db)
	if err != nil {
		return 0, d.wrap(err)
	}
	if len(names) == 0 {
		return 0, nil
	}
	has := map[string]bool{}
	for _, n := range names {
		has[n] = true
	}
	foreign := fmt.Errorf("%w: it holds tables of something else; give another file, or move this one away", store.ErrForeign)
	if !has["goose_db_version"] {
		return 0, foreign
	}
	var version int64
	if err := db.QueryRowContext(ctx, `SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied`).Scan(&version); err != nil {
		return 0, d.wrap(err)
	}
	if version > 0 && !has["revision"] {
		return 0, foreign
	}
	newest, err := Newest(d)
	if err != nil {
		return 0, err
	}
	if version > newest {
		return version, fmt.Errorf("%w: it is of version %d, and this program knows versions up to %d; use the newer program that wrote it",
			store.ErrVersion, version, newest)
	}
	return version, nil
}

// Migrate brings a database to this program's schema, each step whole or not at
// all.
func Migrate(ctx context.Context, db *sql.DB, d Dialect) error {
	p, err := d.provider(db)
	if err != nil {
		return err
	}
	if _, err := p.Up(ctx); err != nil {
		return d.wrap(fmt.Errorf("bring the database to this program's version: %w", err))
	}
	return nil
}

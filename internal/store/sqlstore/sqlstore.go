package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"seatproof/internal/store"
)

// Store is a store.Store on an SQL database. Make it with [New].
type Store struct {
	db *sql.DB
	d  Dialect

	writer chan struct{} // holds one token where the dialect has one writer

	mu     sync.Mutex // guards closed and the first count of busy
	closed bool
	busy   sync.WaitGroup
}

var _ store.Store = (*Store)(nil)

// New returns a store on a database that has been migrated. Close closes db.
// Pieces that broken-off uploads left are thrown away.
func New(ctx context.Context, db *sql.DB, d Dialect) (*Store, error) {
	s := &Store{db: db, d: d, writer: make(chan struct{}, 1)}
	if err := s.sweep(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// enter lets a method begin; the caller calls leave when it ends.
func (s *Store) enter(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return store.ErrClosed
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	s.busy.Add(1)
	return nil
}

func (s *Store) leave() { s.busy.Done() }

// read runs f where it may read.
func (s *Store) read(ctx context.Context, f func() error) error {
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.leave()
	err := f()
	if err != nil && ctx.Err() != nil {
		return ctx.Err() // the database's words for it differ
	}
	return s.d.wrap(err)
}

// write runs f in a transaction. Once it has begun it is not broken off in the
// middle, so that an error always means that nothing was kept; f may look at
// ctx between its steps.
func (s *Store) write(ctx context.Context, f func(ctx context.Context, tx *sql.Tx) error) error {
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.leave()
	if s.d.OneWriter {
		select {
		case s.writer <- struct{}{}:
			defer func() { <-s.writer }()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	whole := context.WithoutCancel(ctx)
	tx, err := s.db.BeginTx(whole, nil)
	if err != nil {
		return s.d.wrap(err)
	}
	if err := f(whole, tx); err != nil {
		return s.d.wrap(errors.Join(err, ignoreDone(tx.Rollback())))
	}
	if err := ctx.Err(); err != nil {
		return errors.Join(err, ignoreDone(tx.Rollback()))
	}
	return s.d.wrap(tx.Commit())
}

// ignoreDone drops the error of rolling back what the database rolled back
// itself, as it does where the disk is full.
func ignoreDone(err error) error {
	if err == nil || errors.Is(err, sql.ErrTxDone) || strings.Contains(err.Error(), "no transaction is active") {
		return nil
	}
	return err
}

// columns of a record, of revision r.
const columns = `r.kind, r.id, r.job_id, r.rev, r.made, r.initials, r.binned, r.body`

type scanner interface{ Scan(...any) error }

func scan(row scanner) (store.Record, error) {
	var r store.Record
	var body string
	err := row.Scan(&r.Kind, &r.ID, &r.JobID, &r.Rev, &r.At, &r.By, &r.Binned, &body)
	r.Body = []byte(body)
	return r, err
}

type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, string, ...any) *sql.Row
}

// get returns the newest revision; sql.ErrNoRows.
func get(ctx context.Context, q querier, kind store.Kind, id string) (store.Record, error) {
	return scan(q.QueryRowContext(ctx, `SELECT `+columns+` FROM record c JOIN revision r ON r.seq = c.seq
		WHERE c.kind = $1 AND c.id = $2`, string(kind), id))
}

func list(ctx context.Context, q querier, query string, args ...any) ([]store.Record, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var found []store.Record
	for rows.Next() {
		r, err := scan(rows)
		if err != nil {
			return nil, err
		}
		found = append(found, r)
	}
	return found, rows.Err()
}

func none(kind store.Kind, id string) error {
	return fmt.Errorf("%s %q: %w", kind, id, store.ErrNotFound)
}

// Get implements store.Store.
func (s *Store) Get(ctx context.Context, kind store.Kind, id string) (r store.Record, err error) {
	err = s.read(ctx, func() error {
		r, err = get(ctx, s.db, kind, id)
		if errors.Is(err, sql.ErrNoRows) {
			return none(kind, id)
		}
		return err
	})
	if err != nil {
		return store.Record{}, err
	}
	return r, nil
}

// likely escapes what LIKE would take for a pattern.
var likely = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// List implements store.Store.
func (s *Store) List(ctx context.Context, q store.Query) (found []store.Record, err error) {
	words, err := store.Words(q.Find)
	if err != nil {
		return nil, err
	}
	args := []any{string(q.Kind), q.Binned}
	where := `c.kind = $1 AND c.binned = $2`
	arg := func(v any) string {
		args = append(args, v)
		return "$" + strconv.Itoa(len(args))
	}
	if q.JobID != "" {
		where += ` AND c.job_id = ` + arg(q.JobID)
	}
	if q.NoJob {
		where += ` AND c.job_id = ''`
	}
	for _, w := range words {
		where += ` AND c.texts LIKE ` + arg("%"+likely.Replace(w)+"%") + ` ESCAPE '\'`
	}
	err = s.read(ctx, func() error {
		found, err = list(ctx, s.db, `SELECT `+columns+` FROM record c JOIN revision r ON r.seq = c.seq
			WHERE `+where+` ORDER BY c.seq DESC`, args...)
		return err
	})
	if err != nil {
		return nil, err
	}
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
	put := make([]store.Record, 0, len(rs))
	err := s.write(ctx, func(whole context.Context, tx *sql.Tx) error {
		var seq int64
		err := tx.QueryRowContext(whole, `UPDATE counter SET seq = seq + $1 WHERE one = 1 RETURNING seq`, len(rs)).Scan(&seq)
		if err != nil {
			return err
		}
		seq -= int64(len(rs))
		for _, r := range rs {
			if err := ctx.Err(); err != nil {
				return err
			}
			seq++
			if r, err = putOne(whole, tx, r, seq); err != nil {
				return err
			}
			put = append(put, r)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return put, nil
}

func putOne(ctx context.Context, tx *sql.Tx, r store.Record, seq int64) (store.Record, error) {
	now, err := get(ctx, tx, r.Kind, r.ID)
	there := err == nil
	switch {
	case err != nil && !errors.Is(err, sql.ErrNoRows):
		return r, err
	case r.Rev == 0 && there:
		return r, fmt.Errorf("%s %q: %w", r.Kind, r.ID, store.ErrExists)
	case r.Rev != 0 && !there:
		return r, none(r.Kind, r.ID)
	case there && r.Rev != now.Rev:
		return r, &store.Conflict{Now: now}
	}
	r.Rev++
	r.Body = slices.Clone(r.Body)
	_, err = tx.ExecContext(ctx, `INSERT INTO revision (seq, kind, id, rev, job_id, made, initials, binned, body)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		seq, string(r.Kind), r.ID, r.Rev, r.JobID, r.At, r.By, r.Binned, string(r.Body))
	if err != nil {
		return r, err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO record (kind, id, seq, job_id, binned, texts) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (kind, id) DO UPDATE SET seq = excluded.seq, job_id = excluded.job_id, binned = excluded.binned, texts = excluded.texts`,
		string(r.Kind), r.ID, seq, r.JobID, r.Binned, store.Texts(r.Body))
	return r, err
}

// History implements store.Store.
func (s *Store) History(ctx context.Context, kind store.Kind, id string) (all []store.Record, err error) {
	err = s.read(ctx, func() error {
		all, err = list(ctx, s.db, `SELECT `+columns+` FROM revision r WHERE r.kind = $1 AND r.id = $2 ORDER BY r.rev`, string(kind), id)
		if err == nil && len(all) == 0 {
			return none(kind, id)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}

// PutResult implements store.Store.
func (s *Store) PutResult(ctx context.Context, r store.Result) error {
	if err := store.ValidResult(r); err != nil {
		return err
	}
	return s.write(ctx, func(ctx context.Context, tx *sql.Tx) error {
		var there int
		err := tx.QueryRowContext(ctx, `SELECT 1 FROM record WHERE kind = $1 AND id = $2`, string(store.KindTest), r.TestID).Scan(&there)
		if errors.Is(err, sql.ErrNoRows) {
			return none(store.KindTest, r.TestID)
		}
		if err != nil {
			return err
		}
		if _, err = tx.ExecContext(ctx, `DELETE FROM result WHERE test_id = $1 AND version <> $2`, r.TestID, r.Version); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO result (test_id, version, body) VALUES ($1, $2, $3)
			ON CONFLICT (test_id, version) DO UPDATE SET body = excluded.body`, r.TestID, r.Version, string(r.Body))
		return err
	})
}

// Results implements store.Store.
func (s *Store) Results(ctx context.Context, jobID, version string) (found []store.Result, err error) {
	err = s.read(ctx, func() error {
		rows, err := s.db.QueryContext(ctx, `SELECT e.test_id, e.version, e.body FROM record c JOIN result e ON e.test_id = c.id
			WHERE c.kind = $1 AND c.job_id = $2 AND e.version = $3`, string(store.KindTest), jobID, version)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var r store.Result
			var body string
			if err := rows.Scan(&r.TestID, &r.Version, &body); err != nil {
				return err
			}
			r.Body = []byte(body)
			found = append(found, r)
		}
		return rows.Err()
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(found, func(a, b store.Result) int { return strings.Compare(a.TestID, b.TestID) })
	return found, nil
}

// Since implements store.Store.
func (s *Store) Since(ctx context.Context, seq int64) (changes []store.Change, err error) {
	err = s.read(ctx, func() error {
		rows, err := s.db.QueryContext(ctx, `SELECT r.seq, r.kind, r.id, r.job_id, coalesce(p.job_id, r.job_id), r.rev
			FROM revision r LEFT JOIN revision p ON p.kind = r.kind AND p.id = r.id AND p.rev = r.rev - 1
			WHERE r.seq > $1 ORDER BY r.seq LIMIT $2`, seq, store.MostChanges)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var c store.Change
			if err := rows.Scan(&c.Seq, &c.Kind, &c.ID, &c.JobID, &c.From, &c.Rev); err != nil {
				return err
			}
			changes = append(changes, c)
		}
		return rows.Err()
	})
	if err != nil {
		return nil, err
	}
	return changes, nil
}

// Close implements store.Store.
func (s *Store) Close() error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return nil
	}
	s.closed = true
	s.mu.Unlock()
	s.busy.Wait()
	return s.d.wrap(s.db.Close())
}

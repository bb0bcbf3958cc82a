package sqlstore

import (
	"context"
	"errors"
	"fmt"
	"io"

	"seatproof/internal/store"
)

// faults are questions whose every row is something wrong, with what to call
// it.
var faults = []struct{ what, query string }{
	{"a record that is not at its newest revision", `SELECT c.kind || ' ' || c.id FROM record c JOIN revision r ON r.seq = c.seq
		WHERE r.kind <> c.kind OR r.id <> c.id OR r.job_id <> c.job_id OR r.binned <> c.binned
		OR r.rev <> (SELECT max(n.rev) FROM revision n WHERE n.kind = c.kind AND n.id = c.id)`},
	{"a record whose newest revision is missing", `SELECT c.kind || ' ' || c.id FROM record c LEFT JOIN revision r ON r.seq = c.seq WHERE r.seq IS NULL`},
	{"a revision of no record", `SELECT r.kind || ' ' || r.id FROM revision r LEFT JOIN record c ON c.kind = r.kind AND c.id = r.id WHERE c.id IS NULL`},
	{"a gap in the revisions", `SELECT r.kind || ' ' || r.id FROM revision r GROUP BY r.kind, r.id HAVING count(*) <> max(r.rev)`},
	{"a change beyond the counter", `SELECT r.kind || ' ' || r.id FROM revision r WHERE r.seq > (SELECT seq FROM counter WHERE one = 1)`},
	{"a result of no test", `SELECT e.test_id FROM result e LEFT JOIN record c ON c.kind = 'test' AND c.id = e.test_id WHERE c.id IS NULL`},
}

// Check implements store.Store: what the database itself says, then that
// records, revisions and results hold together, then every body and every
// blob's bytes.
func (s *Store) Check(ctx context.Context) error {
	if err := s.read(ctx, func() error {
		if s.d.Check == nil {
			return nil
		}
		return s.d.Check(ctx, s.db)
	}); err != nil {
		return err
	}
	for _, f := range faults {
		if err := s.fault(ctx, f.what, f.query); err != nil {
			return err
		}
	}
	if err := s.checkBodies(ctx); err != nil {
		return err
	}
	ids, err := s.strings(ctx, `SELECT id FROM blob`)
	if err != nil {
		return err
	}
	for _, id := range ids {
		_, r, err := s.OpenBlob(ctx, id)
		if err != nil {
			return err
		}
		_, err = io.Copy(io.Discard, r)
		if err := errors.Join(err, r.Close()); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) fault(ctx context.Context, what, query string) error {
	found, err := s.strings(ctx, query)
	if err != nil || len(found) == 0 {
		return err
	}
	return fmt.Errorf("%w: %s: %s (%d in all)", store.ErrDamaged, what, found[0], len(found))
}

func (s *Store) strings(ctx context.Context, query string) (found []string, err error) {
	err = s.read(ctx, func() error {
		rows, err := s.db.QueryContext(ctx, query)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var v string
			if err := rows.Scan(&v); err != nil {
				return err
			}
			found = append(found, v)
		}
		return rows.Err()
	})
	return found, err
}

// checkBodies reads every revision.
func (s *Store) checkBodies(ctx context.Context) error {
	return s.read(ctx, func() error {
		rows, err := s.db.QueryContext(ctx, `SELECT `+columns+` FROM revision r`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			r, err := scan(rows)
			if err != nil {
				return err
			}
			if err := store.Valid(r); err != nil {
				return fmt.Errorf("%w: revision %d: %w", store.ErrDamaged, r.Rev, err)
			}
		}
		return rows.Err()
	})
}

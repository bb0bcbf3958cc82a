package sqlite

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/sqlstore"
)

var update = flag.Bool("update", false, "write the dump of the newest schema, where there is none yet")

// dumps are files with a few records as each version of the schema kept them.
func dump(version int64) string {
	return filepath.Join("testdata", fmt.Sprintf("schema-%d.sql", version))
}

// TestMigrate opens a file of every schema there ever was: what it held is
// there, and the schema is that of a new file. A dump is never written again:
// files of its kind lie on people's disks.
func TestMigrate(t *testing.T) {
	newest, err := sqlstore.Newest(dialect)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dump(newest)); errors.Is(err, os.ErrNotExist) && *update {
		writeDump(t, dump(newest))
	}
	fresh := opened(t, file(t))
	want := schema(t, fresh.db)
	for v := int64(1); v <= newest; v++ {
		t.Run(fmt.Sprint("from ", v), func(t *testing.T) {
			path := file(t)
			change(t, path, string(read(t, dump(v))))
			s := opened(t, path)
			if got := schema(t, s.db); got != want {
				t.Errorf("the schema is\n%s\nwant\n%s", got, want)
			}
			if err := s.Check(t.Context()); err != nil {
				t.Error(err)
			}
			holdsDumped(t, s)
		})
	}
}

// dumped is what every dump holds.
var dumped = []store.Record{
	{Kind: store.KindJob, ID: "j", JobID: "j", At: 1_700_000_000_123, By: "M.K.", Body: []byte(`{"title":"Öl's 100%"}`)},
	{Kind: store.KindTest, ID: "t", At: -1, Body: []byte(`[1e-9, null]`)},
	{Kind: store.KindTest, ID: "t", JobID: "j", At: 2, By: "J.L.", Rev: 1, Binned: true, Body: []byte(`[2]`)},
}

const dumpedTrace = "time_s,vacuum_kPa\n0.0,62.1\n0.5,61.0\n1.0,60.2\n"

func fillDump(t *testing.T, s *Store) {
	t.Helper()
	_, err := s.PutAll(t.Context(), dumped)
	if err == nil {
		err = s.PutResult(t.Context(), store.Result{TestID: "t", Version: "1", Body: []byte(`{"flow":1}`)})
	}
	if err == nil {
		_, err = s.AddBlob(t.Context(), "a.csv", "text/csv", strings.NewReader(strings.Repeat(dumpedTrace, 10)))
	}
	if err == nil {
		_, err = s.AddBlob(t.Context(), "short", "", strings.NewReader("\x00\xff"))
	}
	if err != nil {
		t.Fatal(err)
	}
}

func holdsDumped(t *testing.T, s *Store) {
	t.Helper()
	all, err := s.History(t.Context(), store.KindTest, "t")
	if err != nil || len(all) != 2 {
		t.Fatalf("%d revisions, error %v", len(all), err)
	}
	j, err := s.Get(t.Context(), store.KindJob, "j")
	if err != nil {
		t.Fatal(err)
	}
	for i, got := range append([]store.Record{j}, all...) {
		want := dumped[i]
		want.Rev++
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("got %v, want %v", got, want)
		}
	}
	if rs, err := s.List(t.Context(), store.Query{Kind: store.KindJob, Find: "öl'S 100%"}); err != nil || len(rs) != 1 {
		t.Errorf("found %d, error %v", len(rs), err)
	}
	if rs, err := s.Results(t.Context(), "j", "1"); err != nil || len(rs) != 1 || string(rs[0].Body) != `{"flow":1}` {
		t.Errorf("results %s, error %v", rs, err)
	}
	if cs, err := s.Since(t.Context(), 0); err != nil || len(cs) != 3 {
		t.Errorf("%d changes, error %v", len(cs), err)
	}
	for _, want := range []string{strings.Repeat(dumpedTrace, 10), "\x00\xff"} {
		b, err := s.AddBlob(t.Context(), "again", "", strings.NewReader(want))
		if err != nil || b.Name == "again" {
			t.Errorf("%q was not there, error %v", want, err)
		}
		_, r, err := s.OpenBlob(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := io.ReadAll(r); err != nil || string(got) != want {
			t.Errorf("got %q, error %v, want %q", got, err, want)
		}
	}
}

// schema returns the statements that make a file's tables, in an order of its
// own, and the migrations it says it has.
func schema(t *testing.T, db *sql.DB) string {
	t.Helper()
	made := rowsOf(t, db, `SELECT type || ' ' || name || ': ' || coalesce(sql, '') FROM sqlite_master`)
	slices.Sort(made)
	return strings.Join(append(made, rowsOf(t, db, `SELECT 'version ' || max(version_id) FROM goose_db_version`)...), "\n")
}

func rowsOf(t *testing.T, db *sql.DB, query string) (all []string) {
	t.Helper()
	rows, err := db.QueryContext(context.Background(), query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var v string
		if err := rows.Scan(&v); err != nil {
			t.Fatal(err)
		}
		all = append(all, v)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// writeDump writes a new file's tables and rows as SQL.
func writeDump(t *testing.T, path string) {
	t.Helper()
	s := opened(t, file(t))
	fillDump(t, s)
	var b strings.Builder
	b.WriteString("-- A file as this version of the schema kept it. Never change it.\n")
	for _, made := range rowsOf(t, s.db, `SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY type DESC`) {
		b.WriteString(made + ";\n")
	}
	names, err := tables(t.Context(), s.db)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		rows, err := s.db.QueryContext(t.Context(), "SELECT * FROM "+name)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		cols, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			vals, at := make([]any, len(cols)), make([]any, len(cols))
			for i := range vals {
				at[i] = &vals[i]
			}
			if err := rows.Scan(at...); err != nil {
				t.Fatal(err)
			}
			lits := make([]string, len(vals))
			for i, v := range vals {
				lits[i] = literal(v)
			}
			fmt.Fprintf(&b, "INSERT INTO %s (%s) VALUES (%s);\n", name, strings.Join(cols, ", "), strings.Join(lits, ", "))
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
	}
	write(t, path, []byte(b.String()))
}

func literal(v any) string {
	switch v := v.(type) {
	case string:
		return "'" + strings.ReplaceAll(v, "'", "''") + "'"
	case []byte:
		return "x'" + hex.EncodeToString(v) + "'"
	case bool:
		if v {
			return "1"
		}
		return "0"
	case int64:
		return fmt.Sprint(v)
	case nil:
		return "NULL"
	}
	return "'" + fmt.Sprint(v) + "'" // a time
}

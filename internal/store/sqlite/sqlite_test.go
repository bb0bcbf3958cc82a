package sqlite

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t testing.TB) store.Store { return opened(t, file(t)) })
}

func file(t testing.TB) string { return filepath.Join(t.TempDir(), "records.db") }

// opened opens a file and closes it with the test.
func opened(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(t.Context(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { shut(t, s) })
	return s
}

func shut(t testing.TB, s *Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func record(id, body string) store.Record {
	return store.Record{Kind: store.KindJob, ID: id, JobID: id, Body: []byte(body)}
}

// filledFile makes a closed file with a record, a test, a result and a blob.
func filledFile(t testing.TB) (path, blobID string) {
	t.Helper()
	path = file(t)
	s := opened(t, path)
	if _, err := s.PutAll(t.Context(), []store.Record{record("a", `"kept"`), {Kind: store.KindTest, ID: "t", JobID: "a", Body: []byte(`1`)}}); err != nil {
		t.Fatal(err)
	}
	if err := s.PutResult(t.Context(), store.Result{TestID: "t", Version: "1", Body: []byte(`2`)}); err != nil {
		t.Fatal(err)
	}
	b, err := s.AddBlob(t.Context(), "a.csv", "text/csv", strings.NewReader(strings.Repeat("0.1,2.5\n", 300_000)))
	if err != nil {
		t.Fatal(err)
	}
	shut(t, s)
	return path, b.ID
}

// refused wants Open to fail with an error, and the file to stay as it is.
func refused(t *testing.T, path string, want error, words string) {
	t.Helper()
	before, beside := read(t, path), names(t, path)
	s, err := Open(t.Context(), path, Options{})
	if err == nil {
		shut(t, s)
	}
	if !errors.Is(err, want) || !strings.Contains(err.Error(), words) || !strings.Contains(err.Error(), path) {
		t.Errorf("error %v, want %v with %q and the path", err, want, words)
	}
	if !bytes.Equal(read(t, path), before) {
		t.Error("the file was changed")
	}
	if after := names(t, path); after != beside {
		t.Errorf("beside it lie %s, and there lay %s", after, beside)
	}
}

func read(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// names returns what lies beside a file, but for its lock.
func names(t testing.TB, path string) string {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*"))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, n := range all {
		if n != path+".lock" {
			names = append(names, filepath.Base(n))
		}
	}
	return strings.Join(names, " ")
}

func TestReopen(t *testing.T) {
	path, blobID := filledFile(t)
	if n := names(t, path); n != "records.db" {
		t.Errorf("after closing there lie %s", n)
	}
	s := opened(t, path)
	if r, err := s.Get(t.Context(), store.KindJob, "a"); err != nil || string(r.Body) != `"kept"` {
		t.Errorf("%s, %v", r.Body, err)
	}
	if _, r, err := s.OpenBlob(t.Context(), blobID); err != nil || r.Close() != nil {
		t.Error(err)
	}
	if cs, err := s.Since(t.Context(), 1); err != nil || len(cs) != 1 || cs[0].Seq != 2 {
		t.Errorf("%v, %v", cs, err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestDurable: what the driver was asked for is what it does, on every
// connection.
func TestDurable(t *testing.T) {
	s := opened(t, file(t))
	for range 2 * readers {
		conn, err := s.db.Conn(t.Context())
		if err != nil {
			break // all are taken
		}
		defer conn.Close()
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "5000"} {
			var got string
			if err := conn.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
				t.Errorf("%s is %q, want %q (%v)", pragma, got, want, err)
			}
		}
		if conns := s.db.Stats().OpenConnections; conns == 1+readers {
			break
		}
	}
}

func TestPaths(t *testing.T) {
	for _, name := range []string{"with blank", "50% off", "why?", "a#b", "a&b=c", "%41", "Öl", "file:x", "a;b", "'q'"} {
		path := filepath.Join(t.TempDir(), name, "deeper", name+".db")
		s := opened(t, path)
		if _, err := s.Put(t.Context(), record("a", `1`)); err != nil {
			t.Error(err)
		}
		shut(t, s)
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			t.Errorf("%q: %v, %v", name, info, err)
		}
	}
}

func TestLocked(t *testing.T) {
	path := file(t)
	s := opened(t, path)
	if _, err := s.Put(t.Context(), record("a", `1`)); err != nil {
		t.Fatal(err)
	}
	_, err := Open(t.Context(), path, Options{})
	if !errors.Is(err, store.ErrLocked) {
		t.Errorf("a second open: %v, want %v", err, store.ErrLocked)
	}
	link := filepath.Join(t.TempDir(), "link.db")
	if err := os.Symlink(path, link); err == nil { // not everyone may, everywhere
		if _, err := Open(t.Context(), link, Options{}); !errors.Is(err, store.ErrLocked) {
			t.Errorf("a second open by a link: %v, want %v", err, store.ErrLocked)
		}
	}
	if _, err := s.Put(t.Context(), record("b", `1`)); err != nil {
		t.Errorf("the first afterwards: %v", err)
	}
	shut(t, s)
	opened(t, path)
}

func TestVersion(t *testing.T) {
	path, _ := filledFile(t)
	change(t, path, `INSERT INTO goose_db_version (version_id, is_applied) VALUES (1000, true)`)
	refused(t, path, store.ErrVersion, "version 1000")
}

// change changes a closed file behind the store's back.
func change(t testing.TB, path string, statements ...string) {
	t.Helper()
	db, err := rawOpen(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range statements {
		if _, err := db.ExecContext(t.Context(), s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestForeign(t *testing.T) {
	for what, make := range map[string]func(path string){
		"text":             func(path string) { write(t, path, []byte("time_s,vacuum_kPa\n0,62\n")) },
		"another database": func(path string) { change(t, path, `CREATE TABLE recipes (name TEXT)`) },
		"another program's migrations": func(path string) {
			change(t, path, `CREATE TABLE goose_db_version (id INTEGER PRIMARY KEY, version_id INTEGER, is_applied BOOLEAN)`,
				`INSERT INTO goose_db_version (version_id, is_applied) VALUES (1, true)`)
		},
	} {
		t.Run(what, func(t *testing.T) {
			path := file(t)
			make(path)
			refused(t, path, store.ErrForeign, "another file")
		})
	}
	dir := t.TempDir()
	if _, err := Open(t.Context(), dir, Options{}); !errors.Is(err, store.ErrForeign) {
		t.Errorf("a folder: %v", err)
	}
}

func write(t testing.TB, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestEmptyFile(t *testing.T) {
	path := file(t)
	write(t, path, nil)
	if _, err := opened(t, path).Put(t.Context(), record("a", `1`)); err != nil {
		t.Error(err)
	}
}

// TestDamaged: a file cut short or overwritten is refused when it is opened, or
// named by Check, and never read as if it were sound.
func TestDamaged(t *testing.T) {
	path, _ := filledFile(t)
	sound := read(t, path)
	t.Run("cut short", func(t *testing.T) {
		write(t, path, sound[:len(sound)/2])
		refused(t, path, store.ErrDamaged, "malformed")
	})
	t.Run("header only", func(t *testing.T) {
		write(t, path, sound[:100])
		refused(t, path, store.ErrDamaged, "")
	})
	t.Run("first page overwritten", func(t *testing.T) {
		b := bytes.Clone(sound)
		copy(b[100:4096], bytes.Repeat([]byte{0xa5}, 3996))
		write(t, path, b)
		refused(t, path, store.ErrDamaged, "")
	})
	t.Run("any other page overwritten", func(t *testing.T) {
		// Check must find each: pages that hold nothing are the only ones that may
		// be anything, and there are none in a file that nothing was deleted from.
		for page := 1; page < len(sound)/4096; page++ {
			b := bytes.Clone(sound)
			copy(b[page*4096:], bytes.Repeat([]byte{0xa5}, 4096))
			write(t, path, b)
			s, err := Open(t.Context(), path, Options{})
			if err == nil {
				err = s.Check(t.Context())
				s.Close()
			}
			if !errors.Is(err, store.ErrDamaged) {
				t.Errorf("page %d: %v, want %v", page+1, err, store.ErrDamaged)
			}
		}
	})
	for what, statement := range map[string]string{
		"a blob's bytes":   `UPDATE piece SET packed = '', data = zeroblob(length(data)) WHERE n = 1`,
		"a missing piece":  `DELETE FROM piece WHERE n = 1`,
		"a body":           `UPDATE revision SET body = '{' WHERE seq = 1`,
		"a lost revision":  `PRAGMA foreign_keys = 0; DELETE FROM revision WHERE seq = 1`,
		"a lost record":    `DELETE FROM record WHERE kind = 'job'`,
		"a lost test":      `DELETE FROM record WHERE kind = 'test'`,
		"a gap":            `UPDATE revision SET rev = 3 WHERE seq = 1`,
		"a counter behind": `UPDATE counter SET seq = 1`,
	} {
		t.Run(what, func(t *testing.T) {
			write(t, path, sound)
			change(t, path, statement)
			s := opened(t, path)
			defer shut(t, s)
			if err := s.Check(t.Context()); !errors.Is(err, store.ErrDamaged) {
				t.Errorf("%v, want %v", err, store.ErrDamaged)
			}
		})
	}
}

// TestFullFile: SQLite's own bound on a file fails as a full disk does.
func TestFullFile(t *testing.T) {
	path := file(t)
	s, err := Open(t.Context(), path, Options{mostPages: 100})
	if err != nil {
		t.Fatal(err)
	}
	fill(t, s)
	shut(t, s)
	if err := opened(t, path).Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// fill writes until the disk is full, wants to be told so, and wants what was
// kept before to be there, to be readable, and nothing else.
func fill(t *testing.T, s *Store) {
	t.Helper()
	var kept []string
	var err error
	for i := 0; err == nil; i++ {
		if i == 10_000 {
			t.Fatal("the disk does not get full")
		}
		r := record(strings.Repeat("a", i+1), `"`+strings.Repeat("x", 3000)+`"`)
		if _, err = s.Put(t.Context(), r); err == nil {
			kept = append(kept, r.ID)
		}
	}
	if !errors.Is(err, store.ErrFull) {
		t.Fatalf("after %d records: %v, want %v", len(kept), err, store.ErrFull)
	}
	if len(kept) == 0 {
		t.Fatal("nothing could be kept at all")
	}
	noise := make([]byte, 30<<20)
	for i := range noise {
		noise[i] = byte(i * i >> 3)
	}
	if _, err := s.AddBlob(context.Background(), "big", "", bytes.NewReader(noise)); !errors.Is(err, store.ErrFull) {
		t.Errorf("a blob: %v, want %v", err, store.ErrFull)
	}
	rs, err := s.List(t.Context(), store.Query{Kind: store.KindJob})
	if err != nil || len(rs) != len(kept) {
		t.Errorf("%d records, error %v, want %d", len(rs), err, len(kept))
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestSweep: pieces of an upload that a crash broke off are thrown away, and
// those of blobs are not.
func TestSweep(t *testing.T) {
	path, blobID := filledFile(t)
	change(t, path, `INSERT INTO piece (upload, n, packed, data) VALUES ('left', 0, '', x'00'), ('left', 1, '', x'00')`)
	s := opened(t, path)
	var n int
	if err := s.db.QueryRowContext(t.Context(), `SELECT count(*) FROM piece WHERE upload = 'left'`).Scan(&n); err != nil || n != 0 {
		t.Errorf("%d pieces left, error %v", n, err)
	}
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if _, _, err := s.OpenBlob(t.Context(), blobID); err != nil {
		t.Error(err)
	}
}

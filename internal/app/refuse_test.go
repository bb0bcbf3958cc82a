package app

import (
	"archive/zip"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seatproof/internal/store/place"
)

// refusedStart wants serve to end with exit Wrong and words in its complaint, and
// returns it.
func refusedStart(t *testing.T, name string, job ServeJob, words ...string) {
	t.Helper()
	var errs bytes.Buffer
	a := &App{Stdout: io.Discard, Stderr: &errs, Version: "test"}
	if job.Listen == "" {
		job.Listen = "127.0.0.1:0"
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	job.ready = func(string) { cancel() }
	exit := a.Serve(ctx, job)
	if exit != Wrong {
		t.Errorf("%s: exit %d, want %d: %q", name, exit, Wrong, errs.String())
	}
	for _, w := range words {
		if !strings.Contains(errs.String(), w) {
			t.Errorf("%s: it says %q, want %q in it", name, errs.String(), w)
		}
	}
}

// onFile runs a statement on a database that no server has open.
func onFile(t *testing.T, file, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}

// booked makes a folder with a head in its records, and returns the database.
func booked(t *testing.T) (folder, file string) {
	t.Helper()
	folder = t.TempDir()
	address, stop := served(t, ServeJob{Data: folder})
	post(t, address+"api/heads", map[string]any{"number": "A", "layout": map[string]any{"kind": "inline", "cylinders": 1, "valves": 2}}, 201)
	stop()
	return folder, place.Database(folder)
}

// post sends JSON and returns what and do of the answer's error.
func post(t *testing.T, way string, body any, status int) (what, do string) {
	t.Helper()
	b, err := json.Marshal(body)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.Post(way, "application/json", bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	var answer struct{ Error struct{ What, Do string } }
	all, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != status {
		t.Fatalf("%s: status %d, error %v, want %d: %s", way, res.StatusCode, err, status, all)
	}
	if err := json.Unmarshal(all, &answer); err != nil {
		t.Fatal(err)
	}
	return answer.Error.What, answer.Error.Do
}

// Records that can't be opened: what, where, what to do, and the file as it was.
func TestServeRefusesRecords(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(t *testing.T, file string)
		words []string
	}{
		"a newer schema": {func(t *testing.T, file string) {
			onFile(t, file, `INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)`)
		}, []string{"version 999", "a newer seatproof wrote them", "left as they are"}},
		"not a database": {func(t *testing.T, file string) { overwrite(t, file, "time_s,vacuum_kPa\n0,1\n") }, []string{"not a database of this program", "move that file away"}},
		"another program's database": {func(t *testing.T, file string) {
			if err := os.Remove(file); err != nil {
				t.Fatal(err)
			}
			onFile(t, file, `CREATE TABLE birds (name TEXT)`)
		}, []string{"not a database of this program", "name another folder"}},
		"a damaged database": {func(t *testing.T, file string) {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			clear(b[100:4096]) // the first page but for the file's head
			overwrite(t, file, string(b))
		}, []string{"damaged", "copy the folder before anything else"}},
	} {
		folder, file := booked(t)
		c.spoil(t, file)
		before, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		refusedStart(t, name, ServeJob{Data: folder}, append(c.words, "--data "+folder, file)...)
		if after, err := os.ReadFile(file); err != nil || !bytes.Equal(after, before) {
			t.Errorf("%s: the file was changed, error %v", name, err)
		}
	}
}

func overwrite(t *testing.T, file, text string) {
	t.Helper()
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// A second server on one file is told where the first one is, and so is the command
// import. An address that is taken: by a seatproof, or by something else.
func TestSecondServer(t *testing.T) {
	folder := t.TempDir()
	first, _ := served(t, ServeJob{Data: folder})
	refusedStart(t, "two on one file", ServeJob{Data: folder}, "another seatproof has these records open: open "+first+" in a browser", fmt.Sprint("process ", os.Getpid()))
	var errs bytes.Buffer
	a := &App{Stdout: io.Discard, Stderr: &errs}
	if e := a.Export(context.Background(), ExportJob{Job: "A", Data: folder}); e != Wrong || !strings.Contains(errs.String(), "open "+first) {
		t.Errorf("export beside a server: exit %d, %q", e, errs.String())
	}

	host := strings.TrimSuffix(strings.TrimPrefix(first, "http://"), "/")
	refusedStart(t, "a port that a seatproof has", ServeJob{Listen: host, Data: t.TempDir()}, "--listen "+host, "seatproof is running there already: open "+first)
	line, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	other := &http.Server{Handler: http.NotFoundHandler()}
	go func() { _ = other.Serve(line) }()
	defer other.Close()
	host = line.Addr().String()
	refusedStart(t, "a port that something else has", ServeJob{Listen: host, Data: t.TempDir()}, "--listen "+host, "another program is there", "127.0.0.1:0")
	refusedStart(t, "no address", ServeJob{Listen: "127.0.0.1:99999", Data: t.TempDir()}, "write it as 127.0.0.1:8470")
}

// Another program has the file locked for writing: what is sent is answered with 503
// and what to do, reading goes on, and it is taken once the other is done.
func TestLockedWhileServing(t *testing.T) {
	if testing.Short() {
		t.Skip("it waits 5 s for the lock, as the store does")
	}
	folder := t.TempDir()
	address, _ := served(t, ServeJob{Data: folder})
	db, err := sql.Open("sqlite", place.Database(folder))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	head := map[string]any{"number": "A", "layout": map[string]any{"kind": "inline", "cylinders": 1, "valves": 2}}
	if what, do := post(t, address+"api/heads", head, 503); what != "another program has the records open" || do == "" {
		t.Errorf("it says %q, %q", what, do)
	}
	getAll(t, address+"api/heads", 200)
	if _, err := db.Exec("ROLLBACK"); err != nil {
		t.Fatal(err)
	}
	post(t, address+"api/heads", head, 201)
}

// A record that a newer program kept is not shown as something else.
func TestNewerRecord(t *testing.T) {
	folder, file := booked(t)
	onFile(t, file, `UPDATE revision SET body = replace(body, '"v":2', '"v":9') WHERE kind = 'job'`)
	address, _ := served(t, ServeJob{Data: folder})
	b, _ := getAll(t, address+"api/heads", 503)
	if !strings.Contains(string(b), "a newer seatproof wrote some of these records") || !strings.Contains(string(b), `"do":"use that one`) {
		t.Errorf("it says %s", b)
	}
}

// A file that is no sound export is refused with what and what to do, and not a
// record is changed. Sizes that a zip only claims are believed where they are too
// large, and found out where they are too small.
func TestImportRefuses(t *testing.T) {
	if testing.Short() {
		t.Skip("packs 20,001 entries and 64 MB")
	}
	from, stop := served(t, ServeJob{Data: t.TempDir(), Example: "../../examples/inline-three"})
	file, _ := getAll(t, from+"api/heads/"+exampleID(t, from)+"/export", 200)
	stop()
	folder, _ := booked(t)
	address, _ := served(t, ServeJob{Data: folder})
	before, _ := getAll(t, address+"api/heads", 200)
	repacked := func(change func(h *zip.FileHeader, data []byte) []byte, more func(z *zip.Writer)) []byte {
		in, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, f := range in.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			data, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			h := &zip.FileHeader{Name: f.Name, Method: zip.Deflate}
			if change != nil {
				data = change(h, data)
			}
			w, err := z.CreateHeader(h)
			if err == nil {
				_, err = w.Write(data)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if more != nil {
			more(z)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	swap := func(name, old, with string) []byte {
		return repacked(func(h *zip.FileHeader, data []byte) []byte {
			if h.Name != name {
				return data
			}
			return bytes.Replace(data, []byte(old), []byte(with), 1)
		}, nil)
	}
	for name, c := range map[string]struct {
		file  []byte
		words string
	}{
		"cut short":         {file[:len(file)-100], "no whole zip file"},
		"a bit turned":      {changed(t, file), "is broken"},
		"no zip":            {[]byte("time_s,vacuum_kPa\n0,1\n"), "no whole zip file"},
		"a newer version":   {swap("manifest.json", "seatproof/job/1", "seatproof/job/2"), "use the newer program"},
		"of something else": {swap("manifest.json", "seatproof/job/1", "birds/1"), "not an exported job"},
		"a record changed":  {swap("job.json", "EX-3", "EX-4"), "job.json was changed"},
		"too many entries": {repacked(nil, func(z *zip.Writer) {
			for i := range 20_001 {
				_, _ = z.Create(fmt.Sprint("x/", i))
			}
		}), "20000 are the most"},
		"a bomb": {repacked(nil, func(z *zip.Writer) {
			_, _ = z.CreateRaw(&zip.FileHeader{Name: "bomb", Method: zip.Deflate, UncompressedSize64: 5 << 30, CompressedSize64: 0})
		}), "more than 4294 MB unpacked"},
		"an unlisted bomb that hides": {repacked(nil, func(z *zip.Writer) {
			w, _ := z.Create("bomb")
			_, _ = w.Write(make([]byte, 64<<20))
		}), "not in its list"},
	} {
		bad := bring(t, address, c.file, false, 422)
		if !strings.Contains(bad.Error.What, c.words) || !strings.Contains(bad.Error.Do, "nothing was taken in") || len(bad.Error.Fields) != 1 || bad.Error.Fields[0].Field != "file" {
			t.Errorf("%s: %+v, want %q", name, bad.Error, c.words)
		}
		if after, _ := getAll(t, address+"api/heads", 200); !bytes.Equal(after, before) {
			t.Errorf("%s: the heads are\n%s\nand were\n%s", name, after, before)
		}
		// The command says the same.
		path := filepath.Join(t.TempDir(), "bad.zip")
		overwrite(t, path, string(c.file))
		var errs bytes.Buffer
		a := &App{Stdout: io.Discard, Stderr: &errs}
		if e := a.Import(context.Background(), ImportJob{File: path, Data: t.TempDir()}); e != Wrong || !strings.Contains(errs.String(), c.words) || !strings.Contains(errs.String(), path) || !strings.Contains(errs.String(), "nothing was taken in") {
			t.Errorf("%s: exit %d, %q", name, e, errs.String())
		}
	}
}

package app

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seatproof/internal/store"
)

// getAll returns what a way of the API answers.
func getAll(t *testing.T, way string, status int) ([]byte, http.Header) {
	t.Helper()
	res, err := http.Get(way)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != status {
		t.Fatalf("%s: status %d, want %d: %s", way, res.StatusCode, status, b)
	}
	return b, res.Header
}

type importAnswer struct {
	Head  struct{ ID, Number string }
	Says  string
	Error struct {
		What, Do string
		Fields   []struct {
			Field string
			Ask   bool
		}
	}
}

// bring sends a file to be imported.
func bring(t *testing.T, address string, file []byte, copies bool, status int) (out importAnswer) {
	t.Helper()
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("file", "head.zip")
	if err != nil {
		t.Fatal(err)
	}
	_, _ = part.Write(file)
	if copies {
		_ = w.WriteField("copy", "1")
	}
	w.Close()
	res, err := http.Post(address+"api/heads/import", w.FormDataContentType(), &form)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != status {
		t.Fatalf("import: status %d, want %d: %s", res.StatusCode, status, b)
	}
	if err := json.Unmarshal(b, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

func exampleID(t *testing.T, address string) string {
	t.Helper()
	var heads struct{ Heads []struct{ ID, Number string } }
	b, _ := getAll(t, address+"api/heads", 200)
	if err := json.Unmarshal(b, &heads); err != nil || len(heads.Heads) != 1 {
		t.Fatalf("heads %s, error %v: want one", b, err)
	}
	return heads.Heads[0].ID
}

// A head goes out of one server and into another, where its card says the same;
// what comes out of that one again is the same to the byte.
func TestHeadTravels(t *testing.T) {
	here := t.TempDir()
	a, stop := served(t, ServeJob{Data: here, Example: "../../examples/inline-three"})
	id := exampleID(t, a)
	file, h := getAll(t, a+"api/heads/"+id+"/export", 200)
	if got := h.Get("Content-Disposition"); !strings.Contains(got, "EX-3.zip") {
		t.Errorf("the download is called %q, want EX-3.zip", got)
	}
	card, _ := getAll(t, a+"api/heads/"+id+"/card", 200)
	tables := map[string][]byte{}
	for _, name := range []string{"table.csv", "table.xlsx"} {
		tables[name], _ = getAll(t, a+"api/heads/"+id+"/"+name, 200)
	}

	there, stopThere := served(t, ServeJob{Data: t.TempDir()})
	in := bring(t, there, file, false, 201)
	if in.Head.Number != "EX-3" || in.Head.ID != id || !strings.HasPrefix(in.Says, "Taken in: ") {
		t.Errorf("the answer to an import is %+v", in)
	}
	if got, _ := getAll(t, there+"api/heads/"+id+"/card", 200); !bytes.Equal(got, card) {
		t.Errorf("the card there says\n%s\nand here\n%s", got, card)
	}
	if again, _ := getAll(t, there+"api/heads/"+id+"/export", 200); !bytes.Equal(again, file) {
		t.Errorf("exported again it has %d bytes, and had %d", len(again), len(file))
	}

	// There already: it says so, asks, and takes a copy in when told to.
	no := bring(t, there, file, false, 409)
	if !strings.Contains(no.Error.What, "is here already") || len(no.Error.Fields) != 1 || no.Error.Fields[0].Field != "copy" || !no.Error.Fields[0].Ask {
		t.Errorf("a head that is there: %+v", no.Error)
	}
	second := bring(t, there, file, true, 201)
	if second.Head.ID == id || second.Head.Number != "EX-3" {
		t.Errorf("the copy is %+v", second.Head)
	}
	for name, f := range map[string][]byte{"half a file": file[:len(file)/2], "no zip": []byte("a head"), "a changed byte": changed(t, file)} {
		if bad := bring(t, there, f, true, 422); bad.Error.What == "" || bad.Error.Do == "" {
			t.Errorf("%s: %+v", name, bad.Error)
		}
	}
	if no := bring(t, there, nil, false, 422); no.Error.What != "no file was sent" {
		t.Errorf("no file: %+v", no.Error)
	}
	getAll(t, there+"api/heads/nobody/export", 404)
	stop()
	stopThere()

	// The commands write and take in the same file.
	var out, errs bytes.Buffer
	app := &App{Stdout: &out, Stderr: &errs}
	to := filepath.Join(t.TempDir(), "ex.zip")
	if e := app.Export(context.Background(), ExportJob{Job: "ex-3", Data: here, To: to}); e != Answered {
		t.Fatalf("export: exit %d, %s", e, errs.String())
	}
	if b, err := os.ReadFile(to); err != nil || !bytes.Equal(b, file) {
		t.Errorf("the command wrote %d bytes, error %v, and the sheets %d", len(b), err, len(file))
	}
	// And the table, as the sheets give it; the head itself is not written then.
	for ending, sent := range map[string]string{".csv": "table.csv", ".XLSX": "table.xlsx"} {
		dir := t.TempDir()
		name := filepath.Join(dir, "table"+ending)
		if e := app.Export(context.Background(), ExportJob{Job: "EX-3", Data: here, Table: name}); e != Answered {
			t.Fatalf("%s: exit %d, %s", ending, e, errs.String())
		}
		got, err := os.ReadFile(name)
		if err != nil || ending == ".csv" && !bytes.Equal(got, tables[sent]) || ending != ".csv" && (!bytes.HasPrefix(got, []byte("PK")) || len(got) < len(tables[sent])/2) {
			t.Errorf("%s: %d bytes, error %v; the sheets sent %d", ending, len(got), err, len(tables[sent]))
		}
		if left, _ := os.ReadDir(dir); len(left) != 1 {
			t.Errorf("%s: the folder holds %v", ending, left)
		}
	}
	fresh := t.TempDir()
	if e := app.Import(context.Background(), ImportJob{File: to, Data: fresh}); e != Answered || !strings.Contains(out.String(), "Taken in: ") {
		t.Errorf("import: exit %d, %q, %s", e, out.String(), errs.String())
	}
	for _, c := range []struct {
		name, says string
		do         func() Exit
	}{
		{"there already", "--copy", func() Exit { return app.Import(context.Background(), ImportJob{File: to, Data: fresh}) }},
		{"no head of the number", "no head has this number", func() Exit { return app.Export(context.Background(), ExportJob{Job: "EX-9", Data: here, To: to}) }},
		{"a table of no kind", "ends in .csv or .xlsx", func() Exit {
			return app.Export(context.Background(), ExportJob{Job: "EX-3", Data: here, Table: "table.ods"})
		}},
		{"no records", "no records in this folder", func() Exit {
			return app.Export(context.Background(), ExportJob{Job: "EX-3", Data: t.TempDir(), To: to})
		}},
		{"no file", "missing.zip", func() Exit { return app.Import(context.Background(), ImportJob{File: "missing.zip", Data: fresh}) }},
	} {
		errs.Reset()
		if e := c.do(); e != Wrong || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%s: exit %d, %q, want %q in it", c.name, e, errs.String(), c.says)
		}
	}
	if e := app.Import(context.Background(), ImportJob{File: to, Data: fresh, Copy: true}); e != Answered {
		t.Errorf("a copy: exit %d, %s", e, errs.String())
	}
	errs.Reset()
	if e := app.Export(context.Background(), ExportJob{Job: "EX-3", Data: fresh, To: to}); e != Wrong || !strings.Contains(errs.String(), "2 heads have this number") {
		t.Errorf("two heads of one number: exit %d, %q", e, errs.String())
	}
}

// changed returns a zip with one bit of a file in it turned: of what is packed, since
// a header's date may change without harm.
func changed(t *testing.T, file []byte) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	f := z.File[len(z.File)-1]
	at, err := f.DataOffset()
	if err != nil || f.CompressedSize64 < 10 {
		t.Fatalf("%s: %d bytes at %d, error %v", f.Name, f.CompressedSize64, at, err)
	}
	file = bytes.Clone(file)
	file[at+int64(f.CompressedSize64)/2] ^= 1
	return file
}

// What was kept before bodies said the version of their format goes out too.
func TestExportOfEarlierBodies(t *testing.T) {
	for body, want := range map[string]string{
		`{"number":"A"}`:            `{"v":2,"number":"A"}`,
		`{"v":1,"number":"A"}`:      `{"v":1,"number":"A"}`,
		`{"number":"\"v\":","v":1}`: `{"number":"\"v\":","v":1}`,
		`{"number":"\"v\":"}`:       `{"v":2,"number":"\"v\":"}`,
	} {
		r := withVersion(storeRecord("job", body))
		if string(r.Body) != want {
			t.Errorf("%s became %s, want %s", body, r.Body, want)
		}
	}
	if r := withVersion(storeRecord("settings", `{"sound":""}`)); string(r.Body) != `{"sound":""}` {
		t.Errorf("settings became %s", r.Body)
	}
}

func storeRecord(kind store.Kind, body string) store.Record {
	return store.Record{Kind: kind, ID: "x", Body: []byte(body)}
}

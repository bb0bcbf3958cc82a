package archive

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"seatproof/internal/store"
	"seatproof/internal/store/mem"
)

// packed is a file taken apart, to be changed and packed again.
type packed struct {
	m     manifest
	names []string
	files map[string][]byte
}

func apart(t *testing.T, file []byte) *packed {
	p := &packed{files: unzip(t, file)}
	if err := json.Unmarshal(p.files[manifestName], &p.m); err != nil {
		t.Fatal(err)
	}
	for name := range p.files {
		p.names = append(p.names, name)
	}
	slices.Sort(p.names)
	return p
}

// seal makes the manifest fit the files.
func (p *packed) seal() {
	for i, e := range p.m.Files {
		sum := sha256.Sum256(p.files[e.Path])
		p.m.Files[i].SHA256, p.m.Files[i].Size = hex.EncodeToString(sum[:]), int64(len(p.files[e.Path]))
	}
	p.write()
}

func (p *packed) write() {
	b, err := json.Marshal(p.m)
	if err != nil {
		panic(err)
	}
	p.files[manifestName] = b
}

func (p *packed) zip() []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range p.names {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(p.files[name])
		}
		if err != nil {
			panic(err)
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func (p *packed) find(prefix string) string {
	for _, n := range p.names {
		if strings.HasPrefix(n, prefix) {
			return n
		}
	}
	panic("no " + prefix)
}

func (p *packed) replace(name, old, with string) {
	was := p.files[name]
	p.files[name] = bytes.Replace(was, []byte(old), []byte(with), 1)
	if bytes.Equal(was, p.files[name]) {
		panic(old + " is not in " + name)
	}
}

// TestBad: whatever is wrong with a file, the import says what, and the store
// stays as it was.
func TestBad(t *testing.T) {
	ctx := t.Context()
	from := mem.New()
	file := exported(t, ctx, from, filled(t, ctx, from))
	change := func(f func(p *packed)) []byte {
		p := apart(t, file)
		f(p)
		return p.zip()
	}
	if _, err := imported(ctx, mem.New(), change(func(p *packed) { p.seal(); p.names = append(p.names, "folder/") }), Options{}); err != nil {
		t.Fatalf("packed again with a folder: %v", err)
	}
	flipped := bytes.Clone(file)
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	at, err := z.File[len(z.File)/2].DataOffset() // a local header's date, say, nobody reads
	if err != nil {
		t.Fatal(err)
	}
	flipped[at+1] ^= 0x10
	for _, c := range []struct {
		what  string
		file  []byte
		limit Limits
		err   error
		words string
	}{
		{"nothing", nil, Limits{}, ErrBroken, "no whole zip"},
		{"text", []byte("time_s,vacuum_kPa\n"), Limits{}, ErrBroken, "no whole zip"},
		{"cut short", file[:len(file)-30], Limits{}, ErrBroken, "no whole zip"},
		{"a bit flipped", flipped, Limits{}, ErrBroken, ""},
		{"no manifest", change(func(p *packed) {
			p.names = slices.DeleteFunc(p.names, func(n string) bool { return n == manifestName })
		}), Limits{}, ErrForeign, manifestName},
		{"a manifest that is none", change(func(p *packed) { p.files[manifestName] = []byte("{") }), Limits{}, ErrBroken, manifestName},
		{"another format", change(func(p *packed) { p.m.Format = "something/1"; p.write() }), Limits{}, ErrForeign, "something/1"},
		{"a newer format", change(func(p *packed) { p.m.Format = "seatproof/job/2"; p.write() }), Limits{}, store.ErrVersion, "seatproof/job/2"},
		{"a newer body", change(func(p *packed) { p.replace("job.json", `"v":2`, `"v":9`); p.seal() }), Limits{}, store.ErrVersion, "format 9"},
		{"a kind nobody knows", change(func(p *packed) { p.replace(p.find("work/"), `"kind":"work"`, `"kind":"gift"`); p.seal() }), Limits{}, store.ErrVersion, "gift"},
		{"a missing file", change(func(p *packed) {
			gone := p.find("traces/")
			p.names = slices.DeleteFunc(p.names, func(n string) bool { return n == gone })
		}), Limits{}, ErrBroken, "is missing"},
		{"a missing trace", change(func(p *packed) {
			gone := p.find("traces/a-b")
			p.names = slices.DeleteFunc(p.names, func(n string) bool { return n == gone })
			p.m.Files = slices.DeleteFunc(p.m.Files, func(e entry) bool { return e.Path == gone })
			p.write()
		}), Limits{}, ErrBroken, "traces are missing"},
		{"a missing job", change(func(p *packed) { p.m.Job = "other"; p.write() }), Limits{}, ErrBroken, "beside job other"},
		{"a changed trace", change(func(p *packed) { p.replace(p.find("traces/a-b"), "62.5", "62.6") }), Limits{}, ErrBroken, "was changed"},
		{"a changed record", change(func(p *packed) { p.replace("job.json", "QSH-0412", "QSH-0413") }), Limits{}, ErrBroken, "job.json was changed"},
		{"a longer file", change(func(p *packed) { p.replace("job.json", "QSH-0412", "QSH-04120") }), Limits{}, ErrBroken, "bytes, and had"},
		{"a file too many", change(func(p *packed) { p.names = append(p.names, "traces/extra.csv") }), Limits{}, ErrBroken, "extra.csv"},
		{"a file twice", change(func(p *packed) { p.names = append(p.names, "job.json") }), Limits{}, ErrBroken, "twice"},
		{"in the list twice", change(func(p *packed) { p.m.Files = append(p.m.Files, p.m.Files[0]); p.write() }), Limits{}, ErrBroken, "twice"},
		{"a path upwards", change(func(p *packed) { p.names = append(p.names, "../evil.json") }), Limits{}, ErrBroken, "../evil.json"},
		{"a path within upwards", change(func(p *packed) { p.names = append(p.names, "traces/../../evil") }), Limits{}, ErrBroken, "no name"},
		{"a path from the root", change(func(p *packed) { p.names = append(p.names, "/evil") }), Limits{}, ErrBroken, "no name"},
		{"a path with backslashes", change(func(p *packed) { p.names = append(p.names, `..\evil`) }), Limits{}, ErrBroken, "no name"},
		{"a path with a drive", change(func(p *packed) { p.names = append(p.names, "C:evil") }), Limits{}, ErrBroken, "no name"},
		{"revisions with a gap", change(func(p *packed) { p.replace("job.json", `"rev":2`, `"rev":3`); p.seal() }), Limits{}, ErrBroken, "revision 3"},
		{"a test of another job", change(func(p *packed) { n := p.find("work/"); p.replace(n, `"job":"n3"`, `"job":"n9"`); p.seal() }), Limits{}, ErrBroken, "another job"},
		{"too many files", file, Limits{Files: 5}, ErrTooBig, "5 are the most"},
		{"too much", file, Limits{Bytes: 1000}, ErrTooBig, "unpacked"},
		{"records too long", file, Limits{Records: 4000}, ErrTooBig, ""},
		{"a bomb", change(func(p *packed) {
			n := p.find("traces/a-b")
			p.files[n] = make([]byte, 8<<20)
			p.seal()
		}), Limits{Bytes: 4 << 20}, ErrTooBig, "unpacked"},
	} {
		t.Run(c.what, func(t *testing.T) {
			to := mem.New()
			blobs := &counting{Store: to}
			_, err := imported(ctx, blobs, c.file, Options{Limits: c.limit})
			if !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.words) {
				t.Errorf("error %v, want %v with %q", err, c.err, c.words)
			}
			if n := len(changes(t, ctx, to)); n != 0 || blobs.n != 0 {
				t.Errorf("%d changes and %d blobs in the store", n, blobs.n)
			}
		})
	}
}

// TestLies: a zip whose headers tell a smaller size than what comes out.
func TestLies(t *testing.T) {
	ctx := t.Context()
	from := mem.New()
	p := apart(t, exported(t, ctx, from, filled(t, ctx, from)))
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range p.names {
		h := &zip.FileHeader{Name: name, Method: zip.Deflate}
		data := p.files[name]
		var err error
		if name == "job.json" {
			var c bytes.Buffer
			fz := zip.NewWriter(&c)
			w, _ := fz.Create(name)
			_, _ = w.Write(bytes.Repeat(data, 1000))
			_ = fz.Close()
			zr, _ := zip.NewReader(bytes.NewReader(c.Bytes()), int64(c.Len()))
			raw, _ := zr.File[0].OpenRaw()
			*h = zr.File[0].FileHeader
			h.UncompressedSize64 = uint64(len(data))
			w, err = z.CreateRaw(h)
			if err == nil {
				var compressed bytes.Buffer
				_, _ = compressed.ReadFrom(raw)
				_, err = w.Write(compressed.Bytes())
			}
		} else {
			w, werr := z.CreateHeader(h)
			if err = werr; err == nil {
				_, err = w.Write(data)
			}
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := imported(ctx, mem.New(), b.Bytes(), Options{}); !errors.Is(err, ErrBroken) || !strings.Contains(err.Error(), "job.json") {
		t.Errorf("%v", err)
	}
}

package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/rigfile"
	"seatproof/rig"
)

// bed is a server on records in memory.
type bed struct {
	t *testing.T
	*httptest.Server
	keeper *Memory
	stop   func()
	server *Server
}

func newBed(t testing.TB) *bed {
	t.Helper()
	k := NewMemory()
	b := bedOn(t, Config{Keeper: k, Version: "test"})
	b.keeper = k
	return b
}

// bedOn is a server on the records of a keeper.
func bedOn(t testing.TB, c Config) *bed {
	t.Helper()
	s, err := New(Config{
		Keeper: c.Keeper, Version: c.Version, Log: c.Log, Estimator: c.Estimator, Now: c.Now, ReadParts: c.ReadParts,
		ReadRig: func(text string) (rig.Rig, []RigFault) {
			r, err := rigfile.Read(strings.NewReader(text), "rig")
			var all rigfile.Faults
			if errors.As(err, &all) {
				return r, []RigFault{{Line: all[0].Line, Column: all[0].Column, Key: all[0].Key, Problem: all[0].Problem}}
			}
			return r, nil
		},
		EditRig: func(text string, r rig.Rig) (string, []RigFault) {
			text, err := rigfile.Edit(text, r)
			var all rigfile.Faults
			switch {
			case errors.As(err, &all):
				return text, []RigFault{{Line: all[0].Line, Column: all[0].Column, Key: all[0].Key, Problem: all[0].Problem}}
			case err != nil:
				return text, []RigFault{{Problem: err.Error()}}
			}
			return text, nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.Run(ctx) })
	b := &bed{Server: httptest.NewServer(s.Handler()), server: s}
	b.stop = sync.OnceFunc(func() { cancel(); running.Wait() })
	t.Cleanup(func() { b.stop(); b.Close() })
	b.t, _ = t.(*testing.T)
	return b
}

// call speaks to the API and checks the status.
func call(t testing.TB, b *bed, method, way string, body any, status int) map[string]any {
	t.Helper()
	var r io.Reader
	if body != nil {
		j, err := json.Marshal(body)
		if err != nil {
			t.Fatal(err)
		}
		r = bytes.NewReader(j)
	}
	req, err := http.NewRequest(method, b.URL+"/api/"+way, r)
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	out, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != status {
		t.Fatalf("%s %s: status %d, want %d: %s", method, way, res.StatusCode, status, out)
	}
	var m map[string]any
	if len(out) > 0 && out[0] == '{' {
		if err := json.Unmarshal(out, &m); err != nil {
			t.Fatalf("%s %s: %v in %s", method, way, err, out)
		}
	}
	return m
}

// at follows a path of keys and indices: "head.ports.0.id".
func at(t testing.TB, v any, path string) any {
	t.Helper()
	for _, key := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[key]
		case []any:
			i := 0
			if _, err := fmt.Sscan(key, &i); err != nil || i >= len(x) {
				t.Fatalf("no %q of %q in %v", key, path, v)
			}
			v = x[i]
		default:
			t.Fatalf("no %q of %q in %v", key, path, v)
		}
	}
	return v
}

type obj = map[string]any

var layout4 = obj{"kind": "inline", "cylinders": 4, "valves": 4, "bore": "72", "stroke": "81.8", "intake_head": "27", "exhaust_head": "23"}

func bookIn(t testing.TB, b *bed) (id, port string) {
	h := call(t, b, "POST", "heads", obj{"number": "T-1", "layout": layout4}, 201)
	return at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string)
}

func counted(id, port, shut, end string) obj {
	return obj{"job": id, "port": port, "source": "count", "unit": "inHg", "division": "1/2",
		"readings":   []obj{{"time": "0", "reading": shut}, {"time": "15", "reading": end}},
		"conditions": obj{"held": "own-spring", "wet_with": "nothing", "guide": "open", "plugged": "yes", "state": "cleaned"}}
}

// A head is booked in, a port counted, and worked on: what the card says of it
// follows. 21½ to 21 inHg in 15 s is a hold a home builder would pass; 21 to 5 is
// one that nobody would (common practice, no source).
func TestFirstPort(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	c := call(t, b, "GET", "heads/"+id, nil, 200)
	if got := at(t, c, "card.counts.0.word"); got != "not tested" {
		t.Errorf("a new head's first count is %q", got)
	}
	r := call(t, b, "POST", "tests", counted(id, port, "21½", "21½"), 201)
	row := at(t, r, "card.rows.0")
	if got := at(t, row, "word"); got != "holds" {
		t.Errorf("a needle that did not move: %q, want holds: %v", got, row)
	}
	if got := at(t, r, "test.reading.lost"); !strings.Contains(got.(string), "inHg in 15 s") {
		t.Errorf("lost %q, want it in inHg in 15 s", got)
	}
	second := at(t, c, "head.ports.1.id").(string)
	r = call(t, b, "POST", "tests", counted(id, second, "21", "5"), 201)
	for _, x := range at(t, r, "card.rows").([]any) {
		if at(t, x, "port") == second && at(t, x, "word") != "leaks" {
			t.Errorf("21 inHg to 5 in 15 s: %v, want leaks", x)
		}
	}
	valves := at(t, c, "head.ports.0.valves")
	r = call(t, b, "POST", "heads/"+id+"/work", obj{"valves": valves, "kind": "lapped"}, 201)
	if got := at(t, r, "card.rows.0.word"); got != "lapsed" {
		t.Errorf("after work the port is %q, want lapsed", got)
	}
	if got := at(t, r, "card.rows.0.leak"); got == "" {
		t.Error("a lapsed port does not keep its old figure")
	}
	p := call(t, b, "GET", "heads/"+id+"/ports/"+second, nil, 200)
	if n := len(at(t, p, "chart.traces").([]any)); n != 1 {
		t.Errorf("%d traces on the port's chart, want 1", n)
	}
	if at(t, p, "intervals") == "" {
		t.Error("the port sheet draws no intervals")
	}
}

// Errors stand at their fields, and say what it may have been.
func TestFaultsAtFields(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	for _, c := range []struct {
		name, method, way string
		body              any
		field, what       string
	}{
		{"a valve larger than its bore", "POST", "heads", obj{"number": "x", "layout": obj{"cylinders": 4, "valves": 4, "bore": "34", "intake_head": "40"}}, "layout.bore", "40"},
		{"no label", "POST", "heads", obj{"layout": layout4}, "number", "label"},
		{"a volume for a bore", "POST", "heads", obj{"number": "x", "layout": obj{"cylinders": 4, "valves": 4, "bore": "72 cm3"}}, "layout.bore", "length"},
		{"no figure", "POST", "tests", counted(id, port, "21", "twenty"), "readings.1.reading", ""},
		{"an empty reading", "POST", "tests", counted(id, port, "21", ""), "readings.1.reading", "No figure"},
		{"deeper than any room", "POST", "tests", counted(id, port, "210", "20"), "readings.0.reading", "air pressure"},
		{"a port of another head", "POST", "tests", counted(id, "p99", "21", "20"), "port", "no such port"},
		{"an unknown unit of vacuum", "PUT", "settings", obj{"vacuum_unit": "parsec"}, "vacuum_unit", "unit"},
		{"a rig without a name", "POST", "rigs", obj{"name": ""}, "name", "name"},
		{"a rig file with a slip", "POST", "rigs", obj{"name": "r", "file": "volume = \"62\""}, "file", "Line 1"},
		{"work that nobody knows", "POST", "heads/" + id + "/work", obj{"kind": "prayer"}, "kind", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := call(t, b, c.method, c.way, c.body, 422)
			for _, f := range at(t, e, "error.fields").([]any) {
				if at(t, f, "field") == c.field && strings.Contains(at(t, f, "what").(string), c.what) {
					return
				}
			}
			t.Errorf("no fault at %q with %q: %v", c.field, c.what, e)
		})
	}
	e := call(t, b, "POST", "heads", obj{"numbre": "x"}, 400)
	if !strings.Contains(at(t, e, "error.what").(string), "numbre") {
		t.Errorf("an unknown key is not named: %v", e)
	}
	call(t, b, "GET", "heads/none", nil, 404)
	call(t, b, "GET", "nothing", nil, 404)
}

// Of two changes made on one revision the second gets the record as it is now.
func TestConflict(t *testing.T) {
	b := newBed(t)
	id, _ := bookIn(t, b)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "owner": "first"}, 200)
	e := call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "owner": "second"}, 409)
	if at(t, e, "now.owner") != "first" || at(t, e, "now.rev") != 2.0 {
		t.Errorf("a conflict does not show the record as it is: %v", e)
	}
	call(t, b, "POST", "heads/"+id+"/bin", obj{"rev": 2}, 200)
	if n := len(at(t, call(t, b, "GET", "heads", nil, 200), "heads").([]any)); n != 0 {
		t.Errorf("%d heads listed with the only one in the bin", n)
	}
	call(t, b, "POST", "heads/"+id+"/unbin", obj{"rev": 3}, 200)
	if n := len(at(t, call(t, b, "GET", "heads/"+id+"/history", nil, 200), "revisions").([]any)); n != 4 {
		t.Errorf("%d revisions, want 4", n)
	}
}

// A recording is looked at, put right, filed in the tray and moved.
func TestUploadAndMove(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	var csv strings.Builder
	csv.WriteString("a,b\n")
	for i := range 400 {
		v := 0.0
		switch {
		case i > 100:
			v = 22 - float64(i-100)*0.002
		case i > 20:
			v = 22
		}
		fmt.Fprintf(&csv, "%g,%g\n", float64(i)*0.1, v)
	}
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, _ := w.CreateFormFile("file", "log.csv")
	_, _ = io.WriteString(part, csv.String())
	w.Close()
	res, err := http.Post(b.URL+"/api/preview", w.FormDataContentType(), &form)
	if err != nil {
		t.Fatal(err)
	}
	var seen obj
	if err := json.NewDecoder(res.Body).Decode(&seen); err != nil || res.StatusCode != 200 {
		t.Fatalf("preview: %d %v", res.StatusCode, err)
	}
	res.Body.Close()
	if seen["error_now"] == nil {
		t.Fatalf("columns without a name were taken for something: %v", seen["columns"])
	}
	form.Reset()
	w = multipart.NewWriter(&form)
	_ = w.WriteField("trace", seen["trace"].(string))
	_ = w.WriteField("columns", "s, inHg vacuum")
	w.Close()
	res, err = http.Post(b.URL+"/api/preview", w.FormDataContentType(), &form)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.NewDecoder(res.Body).Decode(&seen); err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if got := at(t, seen, "columns.1.taken"); got != "vacuum" {
		t.Fatalf("put right, the second column is taken for %v", got)
	}
	r := call(t, b, "POST", "tests", obj{"source": "file", "trace": seen["trace"], "columns": "s, inHg vacuum"}, 201)
	test := at(t, r, "test.id").(string)
	if n := len(at(t, call(t, b, "GET", "tests?tray=1", nil, 200), "tests").([]any)); n != 1 {
		t.Errorf("%d tests in the tray", n)
	}
	r = call(t, b, "POST", "tests/"+test+"/move", obj{"rev": 1, "job": id, "port": port}, 200)
	if at(t, r, "card.rows.0.state") == "not tested" {
		t.Error("the port it was moved to has no test")
	}
	got, err := http.Get(b.URL + "/api/tests/" + test + "/file")
	if err != nil {
		t.Fatal(err)
	}
	raw, _ := io.ReadAll(got.Body)
	got.Body.Close()
	if string(raw) != csv.String() {
		t.Error("the samples did not come back as they went")
	}
}

// Another site may not write, no page may load from elsewhere, no blob may run.
func TestGuards(t *testing.T) {
	b := newBed(t)
	for _, h := range []http.Header{{"Origin": {"https://elsewhere.example"}}, {"Sec-Fetch-Site": {"cross-site"}}} {
		req, _ := http.NewRequest("POST", b.URL+"/api/heads", strings.NewReader("{}"))
		req.Header = h
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != http.StatusForbidden {
			t.Errorf("with %v: status %d, want 403", h, res.StatusCode)
		}
	}
	for _, way := range []string{"/", "/status", "/api/words"} {
		res, err := http.Get(b.URL + way)
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(res.Body)
		res.Body.Close()
		csp := res.Header.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") {
			t.Errorf("%s: policy %q", way, csp)
		}
		if strings.Contains(string(body), "style=\"") || strings.Contains(string(body), "http://") && way != "/api/words" {
			t.Errorf("%s: a style in a tag, or an address elsewhere", way)
		}
	}
	blob, err := b.keeper.AddBlob(context.Background(), "x.html", "text/html", strings.NewReader("<script>1</script>"))
	if err != nil {
		t.Fatal(err)
	}
	res, err := http.Get(b.URL + "/api/blobs/" + blob.ID)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if got := res.Header.Get("Content-Type"); got != "application/octet-stream" || res.Header.Get("Content-Disposition") == "" {
		t.Errorf("an HTML blob is sent as %q", got)
	}
}

// mostScript is the most script that a phone is sent, compressed [bytes].
const mostScript = 120_000

func TestScriptIsSmall(t *testing.T) {
	b, err := embedded.ReadFile("assets/app.js")
	if err != nil {
		t.Fatal(err)
	}
	var z bytes.Buffer
	w, _ := gzip.NewWriterLevel(&z, gzip.DefaultCompression)
	_, _ = w.Write(b)
	w.Close()
	if z.Len() > mostScript || len(b) < 1000 {
		t.Errorf("the script has %d bytes, %d compressed; at most %d are allowed", len(b), z.Len(), mostScript)
	}
	t.Logf("script: %d bytes, %d compressed", len(b), z.Len())
}

// TestEvents: a reader sees a change at once, and after a pause what it missed.
func TestEvents(t *testing.T) {
	b := newBed(t)
	read := func(last string) (next func() string, end func()) {
		req, _ := http.NewRequest("GET", b.URL+"/api/events", nil)
		if last != "" {
			req.Header.Set("Last-Event-ID", last)
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		buf := make([]byte, 4096)
		text := ""
		return func() string {
			for !strings.Contains(text, "\n\n") {
				n, err := res.Body.Read(buf)
				text += string(buf[:n])
				if err != nil {
					return "ended"
				}
			}
			e, rest, _ := strings.Cut(text, "\n\n")
			text = rest
			return e
		}, func() { res.Body.Close() }
	}
	next, end := read("")
	if e := next(); !strings.Contains(e, "event: hello") {
		t.Fatalf("the first event is %q", e)
	}
	id, _ := bookIn(t, b)
	if e := next(); !strings.Contains(e, `"kind":"job"`) || !strings.Contains(e, id) {
		t.Errorf("after a change came %q", e)
	}
	end()
	call(t, b, "PUT", "heads/"+id, obj{"rev": 1, "owner": "x"}, 200)
	call(t, b, "PUT", "heads/"+id, obj{"rev": 2, "owner": "y"}, 200)
	next, end = read("1")
	defer end()
	next()
	for _, want := range []string{"id: 2", "id: 3"} {
		if e := next(); !strings.Contains(e, want) {
			t.Errorf("after a pause came %q, want %s", e, want)
		}
	}
	b.stop()
	if e := next(); e != "ended" {
		t.Errorf("the stream goes on after the end: %q", e)
	}
}

// A reader that lags is cut off and costs the others nothing.
func TestSlowReaderIsCutOff(t *testing.T) {
	k := NewMemory()
	h := newHub(k)
	slow, _ := h.join()
	for i := range behind + 10 {
		if _, err := k.Put(context.Background(), Doc{Kind: "job", ID: fmt.Sprint(i), Body: []byte("{}")}); err != nil {
			t.Fatal(err)
		}
	}
	done := make(chan struct{})
	go func() { h.look(context.Background()); close(done) }()
	select {
	case <-done:
	case <-time.After(5 * time.Second):
		t.Fatal("a slow reader holds the hub up")
	}
	n := 0
	for range slow {
		n++
	}
	if n != behind {
		t.Errorf("the slow reader got %d changes before it was cut off, want %d", n, behind)
	}
}

// Every pair of words and every record comes back as a list, never null: sheets
// count on it.
func TestNoNullLists(t *testing.T) {
	b := newBed(t)
	id, port := bookIn(t, b)
	call(t, b, "POST", "tests", counted(id, port, "21", "20"), 201)
	call(t, b, "POST", "rigs", obj{"name": "r"}, 201)
	for _, way := range []string{"words", "heads", "heads/" + id, "heads/" + id + "/ports/" + port, "rigs", "tests?job=" + id, "heads/" + id + "/work", "heads/" + id + "/pictures", "heads/" + id + "/crosscheck"} {
		var walk func(path string, v any)
		walk = func(path string, v any) {
			switch x := v.(type) {
			case map[string]any:
				for k, v := range x {
					if v == nil && strings.HasSuffix(k, "s") && !strings.HasSuffix(k, "ss") && k != "others" {
						t.Errorf("%s: %s.%s is null", way, path, k)
					}
					walk(path+"."+k, v)
				}
			case []any:
				for _, v := range x {
					walk(path+"[]", v)
				}
			}
		}
		walk("", call(t, b, "GET", way, nil, 200))
	}
}

// BenchmarkFirstPage is the shell with its script and style.
func BenchmarkFirstPage(b *testing.B) {
	s := newBed(b)
	for b.Loop() {
		for _, way := range []string{"/", "/assets/app.js", "/assets/app.css", "/api/words", "/api/settings", "/api/heads"} {
			res, err := http.Get(s.URL + way)
			if err != nil {
				b.Fatal(err)
			}
			_, _ = io.Copy(io.Discard, res.Body)
			res.Body.Close()
		}
	}
}

package app

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"seatproof/internal/report"
)

// 2 before 3 before 0.
func TestWorse(t *testing.T) {
	for _, c := range []struct{ a, b, want Exit }{
		{Answered, Answered, Answered}, {Answered, Unanswered, Unanswered}, {Unanswered, Answered, Unanswered},
		{Unanswered, Wrong, Wrong}, {Wrong, Unanswered, Wrong}, {Wrong, Answered, Wrong}, {Wrong, Stopped, Stopped},
	} {
		if got := worse(c.a, c.b); got != c.want {
			t.Errorf("worse(%d, %d) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestPlotNames(t *testing.T) {
	for _, c := range []struct {
		plot  string
		files []string
		want  []string
	}{
		{"x.svg", []string{"a.csv"}, []string{"x.svg"}},
		{"d/x.svg", []string{"a.csv", "b.csv"}, []string{"d/x-1.svg", "d/x-2.svg"}},
		{"x", []string{"a.csv", "b.csv"}, []string{"x-1", "x-2"}},
		{"d/", []string{"a.csv"}, []string{"d/a.svg"}},
		{"d/", []string{"e/a.csv", "f/a.csv", "b.log"}, []string{"d/a.svg", "d/a-2.svg", "d/b.svg"}},
	} {
		if got := plotNames(c.plot, c.files); !slices.Equal(got, c.want) {
			t.Errorf("plotNames(%q, %q) = %q, want %q", c.plot, c.files, got, c.want)
		}
	}
}

// A person who stops a long job gets no half answer, and soon.
func TestStopped(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	opened := make(chan int, 1000)
	ports := make([]port, 1000)
	for i := range ports {
		ports[i] = port{file: "f", open: func() (io.ReadCloser, error) {
			opened <- i
			if i == 3 {
				stop()
			}
			return nil, fs.ErrNotExist
		}}
	}
	a := &App{Stdout: io.Discard, Stderr: io.Discard}
	out, err := a.all(ctx, question{}, ports)
	if err == nil || out != nil || !strings.Contains(err.Error(), "stopped after") {
		t.Errorf("stopped: %v, %v; want an error that says how far it came", out, err)
	}
	if n := len(opened); n == 1000 {
		t.Errorf("all %d traces were opened although it was stopped at the fourth", n)
	}
}

// Results come in the order of the files, whichever core was faster; progress
// is written to a terminal only.
func TestOrderAndProgress(t *testing.T) {
	var ports []port
	for _, name := range []string{"a", "b", "c", "d", "e", "f", "g"} {
		ports = append(ports, port{file: name, open: func() (io.ReadCloser, error) { return nil, fs.ErrNotExist }})
	}
	for _, terminal := range []bool{false, true} {
		var said bytes.Buffer
		a := &App{Stdout: io.Discard, Stderr: &said, Terminal: terminal}
		out, err := a.all(context.Background(), question{}, ports)
		if err != nil {
			t.Fatal(err)
		}
		for i, o := range out {
			if o.File != ports[i].file {
				t.Errorf("outcome %d is of %q, want %q", i, o.File, ports[i].file)
			}
		}
		if got := strings.Contains(said.String(), "7 of 7"); got != terminal {
			t.Errorf("terminal %v: progress %q", terminal, said.String())
		}
	}
}

// A fault in reading one trace is that trace's error, with the place.
func TestFaultOfTheProgram(t *testing.T) {
	o := one(context.Background(), question{}, port{file: "f", open: func() (io.ReadCloser, error) { panic("slip") }})
	if o.State() != report.Unreadable || !strings.Contains(o.Err.Error(), "slip at app_test.go:") {
		t.Errorf("got %v, want an error that names the fault and its line", o.Err)
	}
}

func TestReadHead(t *testing.T) {
	file := func(s string) fs.FS { return fstest.MapFS{"ports.csv": {Data: []byte(s)}} }
	h, err := readHead(file("# title A head\n# number 7\nfile,port,valve diameter (mm)\na.csv,cylinder 1 intake,27\nb.csv, cylinder 1 exhaust, 0.9 in\n"))
	if err != nil {
		t.Fatal(err)
	}
	if h.title != "A head" || h.number != "7" || len(h.ports) != 2 || h.ports[0].name != "cylinder 1 intake" ||
		h.ports[0].diameter != 27e-3 || h.ports[1].diameter < 22.8e-3 || h.ports[1].diameter > 22.9e-3 {
		t.Errorf("got %+v", h)
	}
	for name, text := range map[string]string{
		"no port":       "file,port,diameter\n",
		"bad diameter":  "file,port,diameter\na.csv,p,wide\n",
		"wrong unit":    "file,port,diameter\na.csv,p,27 kPa\n",
		"missing field": "file,port,diameter\na.csv,p\n",
		"two diameters": "file,port,diameter\na.csv,p,27\nb.csv,p,23\n",
	} {
		if _, err := readHead(file(text)); err == nil || !strings.HasPrefix(err.Error(), "ports.csv: ") {
			t.Errorf("%s: error %v, want one that names ports.csv", name, err)
		}
	}
	if _, err := readHead(fstest.MapFS{}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no ports.csv: %v", err)
	}
}

// A drawing that can't be written is said, and its folder is made.
func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a", "b", "c.txt")
	if err := writeFile(name, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }); err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(name); err != nil || string(b) != "x" {
		t.Errorf("got %q, %v", b, err)
	}
	slip := errors.New("slip")
	if err := writeFile(name, func(io.Writer) error { return slip }); !errors.Is(err, slip) {
		t.Errorf("got %v, want the writer's error", err)
	}
	if err := writeFile(filepath.Join(name, "d"), func(io.Writer) error { return nil }); err == nil {
		t.Error("a file inside a file is written")
	}
}

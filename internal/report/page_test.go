package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares got with testdata/name.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := errors.Join(os.MkdirAll("testdata", 0o755), os.WriteFile(file, got, 0o644)); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs (-update writes it anew):\n%s", name, got)
	}
}

func TestTextAndTable(t *testing.T) {
	var b bytes.Buffer
	all := append(inventedHead(), inventedUnreadable())
	if err := WriteTable(&b, all, Style{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "table.txt", b.Bytes())
	for i, line := range strings.Split(b.String(), "\n") {
		if n := len([]rune(line)); i < 8 && n > 132 {
			t.Errorf("row of %d characters: %s", n, line)
		}
	}
	b.Reset()
	inHg, _ := UnitNamed("inHg")
	for i, s := range []Style{{}, {Unit: inHg}, {Full: true}} {
		if err := WriteText(&b, all[[]int{0, 1, 4}[i]], s); err != nil {
			t.Fatal(err)
		}
	}
	if err := WriteText(&b, all[5], Style{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "text.txt", b.Bytes())
}

// wellFormed fails if b is not XML, or holds a figure that is none.
func wellFormed(t *testing.T, name string, b []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(b))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	if s := string(b); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") || strings.Contains(s, "%!") {
		t.Errorf("%s holds a figure that is none", name)
	}
}

func TestPlots(t *testing.T) {
	for _, o := range append(inventedHead(), inventedUnreadable()) {
		var b bytes.Buffer
		if err := WritePlot(&b, o, Style{}); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, o.Name(), b.Bytes())
		wellFormed(t, o.Name()+", small", []byte(plot(o, Style{}, cardPlot)))
		s := b.String()
		has := func(words string, want bool) {
			t.Helper()
			if strings.Contains(s, words) != want {
				t.Errorf("%s: %q in the drawing %v, want %v", o.Name(), words, !want, want)
			}
		}
		has("prefers-color-scheme", true)
		has(">"+strings.ReplaceAll(string(o.State()), "'", "&#39;")+"<", true)
		has(">limit ", o.Answered())
		has("fitted", o.Answered())
		has(">hold<", o.Answered())
		has("seconds since the pump was shut off", o.Answered())
	}
}

// Hand readings are marks, not a line.
func TestPlotOfHandReadings(t *testing.T) {
	o := invented("p", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)
	o.Sketch = Sketch{Hand: true, All: []Point{{0, 70e3}, {15, 66e3}}, Hold: []Point{{0, 70e3}, {15, 66e3}}}
	o.Reading.Curve, o.Reading.Phases = nil, nil
	s := plot(o, Style{}, sheetPlot)
	wellFormed(t, "hand readings", []byte(s))
	if n := strings.Count(s, "<circle class=\"mark\""); n != 2 {
		t.Errorf("%d marks, want 2", n)
	}
}

var remote = regexp.MustCompile(`(?i)(src|href)="?(https?:|//)|url\((https?:|//)|<script`)

func TestPage(t *testing.T) {
	var b bytes.Buffer
	all := append(inventedHead(), inventedUnreadable())
	all[0].Port = `<b>cylinder</b> "1"`
	p := Page{Title: "Inline <three>", Document: "Job card", Invented: true, Version: "1"}
	if err := WritePage(&b, p, all, Style{}); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	if m := remote.FindString(s); m != "" {
		t.Errorf("the page does not stand alone: %q", m)
	}
	for _, words := range []string{"Inline &lt;three&gt;", "&lt;b&gt;cylinder&lt;/b&gt;", "invented example", "What to do next", "notes.pdf", "can’t tell yet", "Before you work on it", "data:font/woff2;base64,"} {
		if !strings.Contains(s, words) {
			t.Errorf("%q is not on the page", words)
		}
	}
	for _, words := range []string{"<b>cylinder", "<three>", "NaN", "%!", "ZgotmplZ"} {
		if strings.Contains(s, words) {
			t.Errorf("%q is on the page", words)
		}
	}
	if n := strings.Count(s, "<article"); n != len(all) {
		t.Errorf("%d cards, want %d", n, len(all))
	}
	// What is guessed of every port is said once.
	if n := strings.Count(s, "Guessed port volume"); n != 1 {
		t.Errorf("the guess is said %d times, want once", n)
	}
}

// A page without a port, and one with nothing wrong, still say something.
func TestPageEmpty(t *testing.T) {
	for _, all := range [][]*Outcome{nil, {invented("p", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)}} {
		var b bytes.Buffer
		if err := WritePage(&b, Page{Title: "x"}, all, Style{}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), "no port leaks, none is in doubt") {
			t.Errorf("%d ports: nothing said about what to do next", len(all))
		}
	}
}

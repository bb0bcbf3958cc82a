package all

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"seatproof/internal/source"
)

const docs = "../../../docs/sources/"

// Every address in the pages of the sources opens: what a person copies from
// there is right.
func TestAddressesOfThePages(t *testing.T) {
	pages, err := filepath.Glob(docs + "*.md")
	if err != nil || len(pages) < 6 {
		t.Fatalf("%d pages, %v", len(pages), err)
	}
	total := 0
	for _, page := range pages {
		b, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range addresses(string(b)) {
			total++
			if _, err := Open(text); err != nil {
				t.Errorf("%s: %s: %v", filepath.Base(page), text, err)
			}
		}
	}
	if total < 20 {
		t.Errorf("%d addresses found: the test looks in the wrong place", total)
	}
}

// addresses finds the addresses of known kinds in a page: between back quotes,
// or between quotes in a code block.
func addresses(text string) []string {
	var out []string
	for _, m := range regexp.MustCompile("[`'\"]([a-z-]+:[^`'\"\n]*)[`'\"]").FindAllStringSubmatch(text, -1) {
		for _, k := range Kinds() {
			if strings.HasPrefix(m[1], k.Name+":") && m[1] != k.Name+":" {
				out = append(out, m[1])
			}
		}
	}
	return out
}

// Each kind has its words, its page, and an example that opens; and the page
// names every option that is the kind's own.
func TestKinds(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Kinds() {
		if seen[k.Name] || k.Words == "" || k.Open == nil {
			t.Errorf("%+v: twice, without words, or can't be opened", k.Name)
		}
		seen[k.Name] = true
		if _, err := Open(k.Example); err != nil {
			t.Errorf("%s: its example %q: %v", k.Name, k.Example, err)
		}
		page, err := os.ReadFile("../../../" + k.Page)
		if err != nil {
			t.Errorf("%s: %v", k.Name, err)
			continue
		}
		common, err := os.ReadFile(docs + "README.md")
		if err != nil {
			t.Fatal(err)
		}
		keys := map[string]bool{}
		for _, o := range k.Options {
			if keys[o.Key] || o.Words == "" {
				t.Errorf("%s: option %q is there twice or has no words", k.Name, o.Key)
			}
			keys[o.Key] = true
			if !strings.Contains(string(page), "`"+o.Key) && !strings.Contains(string(common), "`"+o.Key) {
				t.Errorf("%s: neither its page nor the README names the option %q", k.Name, o.Key)
			}
		}
	}
}

func TestFaults(t *testing.T) {
	for text, what := range map[string]string{
		"seriel:/dev/ttyUSB0":           "did you mean serial?",
		"carrier-pigeon:x":              "known are",
		"serial:/dev/ttyUSB0#buad=9600": "did you mean baud?",
		"COM3":                          "kind of source",
	} {
		_, err := Open(text)
		var f *source.Fault
		if !errors.As(err, &f) || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: got %v, want %q", text, err, what)
		}
	}
}

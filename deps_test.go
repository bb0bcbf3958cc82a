// Package seatproof_test holds the tests of the whole module: which package may
// know which other, and what no file may hold.
package seatproof_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

const module = "seatproof"

// pure are the packages at the root: no clock, file, network, logger, context.
const pure = "unit gas num rig trace leak engine limit check head crosscheck needle"

// arrows is the import table: a package, and which packages of the module it
// may import. A key that ends with a slash goes for every package below it.
// "..." lets a package import all that stands under it.
var arrows = map[string]string{
	"unit":       "",
	"gas":        "unit",
	"num":        "",
	"rig":        "unit gas num",
	"trace":      "unit",
	"leak":       "unit gas num rig trace",
	"engine":     "unit gas num",
	"limit":      "unit gas engine leak rig",
	"check":      "unit gas num rig trace leak limit engine",
	"head":       "unit gas num trace leak limit rig engine", // gas: a guide's leak; num: which valve of several; engine: what a leak costs
	"crosscheck": "unit gas num engine",                      // the same leak in other tests
	"needle":     "unit num",

	"internal/rigfile":      "unit rig check", // check: what a parts list is read into
	"internal/source":       "unit trace",
	"internal/source/":      "unit trace internal/source internal/source/lines",
	"internal/source/all":   "unit internal/source internal/source/...",
	"internal/source/relay": "internal/source internal/source/modbus internal/source/mqtt",
	"internal/session":      pure + " internal/source",
	"internal/session/":     pure + " internal/source internal/session",
	"internal/practise":     pure,
	"internal/store":        "head trace unit",
	"internal/store/":       "head trace unit internal/store",
	"internal/store/sqlite": "internal/store internal/store/sqlstore",
	"internal/store/place":  "",
	"internal/report":       pure,
	"internal/web":          pure + " internal/session internal/report",
	"internal/web/":         pure + " internal/session internal/report",
	"internal/app":          pure + " internal/...",
	"internal/study":        pure + " internal/session",
	"internal/study/run":    pure + " internal/study internal/session",
	"internal/study/invent": pure,
	"internal/study/engine": "gas engine", // beside CVODE
	"examples":              "",
	"cmd/seatproof":         "internal/app",
}

// thirdParty says which package may import which module that is not ours.
var thirdParty = map[string]string{
	"gonum.org/v1/gonum":              "num internal/study",
	"github.com/alecthomas/kong":      "cmd/seatproof",
	"github.com/pelletier/go-toml/v2": "internal/rigfile",
	"github.com/skip2/go-qrcode":      "internal/web",
	"modernc.org/sqlite":              "internal/store/sqlite",
	"golang.org/x/term":               "internal/app",                                                                          // a session in a terminal
	"golang.org/x/sys":                "internal/source/serial internal/source/modbus internal/source/relay internal/practise", // terminals, the sources' in their tests
	"github.com/pressly/goose/v3":     "internal/store/sqlstore",
	"github.com/xuri/excelize/v2":     "internal/web",
	"codeberg.org/go-pdf/fpdf":        "internal/report", // the wall card, docs/decisions/0015-pdf.md
	"go.bug.st/serial":                "internal/source/serial internal/source/relay",

	"github.com/simonvetter/modbus":       "internal/source/modbus internal/source/relay", // relay: a device in its tests
	"github.com/eclipse/paho.mqtt.golang": "internal/source/mqtt internal/practise",
	"github.com/eclipse/paho.golang":      "internal/source/mqtt",
	"github.com/mochi-mqtt/server/v2":     "internal/source/broker",
}

// testOnly are modules that tests may import, wherever they are.
var testOnly = []string{"github.com/rogpeppe/go-internal", "github.com/google/go-cmp", "pgregory.net/rapid"}

// world are the standard packages that know the world outside.
var world = []string{"os", "os/", "net", "net/", "log", "log/", "context", "database/", "syscall", "io/ioutil", "plugin", "math/rand"}

// clock are the functions of package time that read the clock or wait, and
// dice those of math/rand/v2 that draw without a given seed.
var (
	clock = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}
	dice  = []string{"Int", "IntN", "Int64", "Int64N", "Int32", "Int32N", "Uint32", "Uint64", "UintN", "Uint64N", "Uint32N", "Float64", "Float32", "NormFloat64", "ExpFloat64", "Perm", "Shuffle", "N"}
)

// longest is how many lines a file of code may have before something in it
// should move.
const longest = 600

type source struct {
	name, pkg string // pkg within the module
	test      bool
	file      *ast.File
	lines     int
}

// sources parses every Go file of the module.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	set := token.NewFileSet()
	walk(t, func(name string) {
		if !strings.HasSuffix(name, ".go") || strings.HasPrefix(name, "tools/") || strings.Contains(name, "/testdata/") {
			return
		}
		f, err := parser.ParseFile(set, name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		pkg := path.Dir(name)
		all = append(all, source{name, pkg, strings.HasSuffix(name, "_test.go"), f, set.File(f.Pos()).LineCount()})
	})
	if len(all) < 40 {
		t.Fatalf("%d Go files found: the test looks in the wrong place", len(all))
	}
	return all
}

// walk calls visit with every file that belongs to the project.
func walk(t *testing.T, visit func(name string)) {
	t.Helper()
	skip := []string{".git", "out", "bin", "node_modules"}
	err := fs.WalkDir(os.DirFS("."), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if slices.Contains(skip, d.Name()) {
				return fs.SkipDir
			}
			return nil
		}
		visit(name)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// allowed says whether the table lets pkg import the module's own package to.
func allowed(pkg, to string) (known, ok bool) {
	table, known := arrows[pkg]
	if !known {
		for key, a := range arrows {
			if strings.HasSuffix(key, "/") && strings.HasPrefix(pkg, key) {
				table, known = a, true
			}
		}
	}
	for _, a := range strings.Fields(table) {
		if below, all := strings.CutSuffix(a, "..."); a == to || all && strings.HasPrefix(to, below) {
			return known, true
		}
	}
	return known, false
}

// TestImportTable fails on an arrow that the table does not hold. Tests may
// point anywhere in the module: the compiler keeps them out of cycles.
func TestImportTable(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range sources(t) {
		seen[s.pkg] = true
		if known, _ := allowed(s.pkg, ""); !known && !s.test {
			t.Errorf("%s: package %s is not in the table", s.name, s.pkg)
			continue
		}
		for _, spec := range s.file.Imports {
			imp, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			first, _, _ := strings.Cut(imp, "/")
			switch {
			case first == module:
				to := strings.TrimPrefix(imp, module+"/")
				if _, ok := allowed(s.pkg, to); !ok && !s.test {
					t.Errorf("%s: %s imports %s, which the table does not allow", s.name, s.pkg, to)
				}
			case strings.Contains(first, "."):
				if !foreign(s, imp) {
					t.Errorf("%s: %s imports %s, which is not its to import", s.name, s.pkg, imp)
				}
			}
		}
	}
	for _, pkg := range []string{"unit", "gas", "num", "rig", "trace", "leak", "limit", "internal/app", "cmd/seatproof"} {
		if !seen[pkg] {
			t.Errorf("package %s was not seen: the test looks in the wrong place", pkg)
		}
	}
}

// foreign says whether a package may import a module that is not ours.
func foreign(s source, imp string) bool {
	under := func(mod string) bool { return imp == mod || strings.HasPrefix(imp, mod+"/") }
	if s.test && slices.ContainsFunc(testOnly, under) {
		return true
	}
	for mod, who := range thirdParty {
		if under(mod) {
			return slices.ContainsFunc(strings.Fields(who), func(w string) bool {
				return s.pkg == w || strings.HasPrefix(s.pkg, w+"/")
			})
		}
	}
	return false
}

// TestPure fails where a package at the root, or the one that writes reports,
// knows the world outside: same input, same answer.
func TestPure(t *testing.T) {
	clean := append(strings.Fields(pure), "internal/report")
	for _, s := range sources(t) {
		if s.test || !slices.Contains(clean, s.pkg) {
			continue
		}
		names := map[string]string{} // local name of a package, its path
		for _, spec := range s.file.Imports {
			imp, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if slices.ContainsFunc(world, func(w string) bool { return imp == w || strings.HasSuffix(w, "/") && strings.HasPrefix(imp, w) }) {
				t.Errorf("%s: a pure package imports %s", s.name, imp)
			}
			local := path.Base(imp)
			if imp == "math/rand/v2" {
				local = "rand"
			}
			if spec.Name != nil {
				local = spec.Name.Name
			}
			names[local] = imp
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if _, ok := n.(*ast.GoStmt); ok && s.pkg != "internal/report" {
				t.Errorf("%s: a pure package starts a goroutine; make race leaves these packages out", s.name)
			}
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			id, ok := sel.X.(*ast.Ident)
			if !ok {
				return true
			}
			switch {
			case names[id.Name] == "time" && slices.Contains(clock, sel.Sel.Name):
				t.Errorf("%s: a pure package reads the clock: time.%s", s.name, sel.Sel.Name)
			case names[id.Name] == "math/rand/v2" && slices.Contains(dice, sel.Sel.Name):
				t.Errorf("%s: a pure package draws without a given seed: rand.%s", s.name, sel.Sel.Name)
			}
			return true
		})
	}
}

// TestTableIsSound fails where the table itself points up: a package may only
// stand on packages that do not stand on it.
func TestTableIsSound(t *testing.T) {
	var reach func(from, to string, seen map[string]bool) bool
	reach = func(from, to string, seen map[string]bool) bool {
		for _, a := range strings.Fields(arrows[from]) {
			if a == to {
				return true
			}
			if !seen[a] {
				seen[a] = true
				if reach(a, to, seen) {
					return true
				}
			}
		}
		return false
	}
	for _, pkg := range slices.Sorted(maps.Keys(arrows)) {
		if reach(pkg, pkg, map[string]bool{}) {
			t.Errorf("the table lets %s stand on itself", pkg)
		}
	}
}

// TestFilesAreShort fails on a file of code longer than architecture allows.
func TestFilesAreShort(t *testing.T) {
	for _, s := range sources(t) {
		if s.lines > longest && !s.test {
			t.Errorf("%s has %d lines: more than %d, something in it should move", s.name, s.lines, longest)
		}
	}
}

// machine are paths of one person's machine, which have no place in a file of
// the project, and marks of work left undone.
var machine = regexp.MustCompile(`/(home|root|work)/[a-z]|/tmp/[a-z]|C:\\Users|` + "TO" + "DO|FIX" + "ME|XX" + "X")

// TestNoMachinePaths fails on such a path or mark in any text of the project.
func TestNoMachinePaths(t *testing.T) {
	walk(t, func(name string) {
		if name == "deps_test.go" || strings.Contains(name, "/testdata/") && strings.Contains(name, "fuzz") {
			return
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !utf8.Valid(b) {
			return
		}
		if m := machine.FindIndex(b); m != nil {
			line := 1 + strings.Count(string(b[:m[0]]), "\n")
			t.Errorf("%s:%d: %q", name, line, b[m[0]:m[1]])
		}
	})
}

package report

import (
	"go/ast"
	"go/parser"
	gotoken "go/token"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"seatproof/leak"
)

// constants returns the string constants of a source file that keep says are
// wanted, by their value.
func constants(t *testing.T, file string, keep func(name, typ string) bool) []string {
	t.Helper()
	f, err := parser.ParseFile(gotoken.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var values []string
	for _, d := range f.Decls {
		g, ok := d.(*ast.GenDecl)
		if !ok || g.Tok != gotoken.CONST {
			continue
		}
		for _, s := range g.Specs {
			v := s.(*ast.ValueSpec)
			typ := ""
			if id, ok := v.Type.(*ast.Ident); ok {
				typ = id.Name
			}
			if len(v.Values) != 1 || !keep(v.Names[0].Name, typ) {
				continue
			}
			if lit, ok := v.Values[0].(*ast.BasicLit); ok {
				s, err := strconv.Unquote(lit.Value)
				if err != nil {
					t.Fatal(err)
				}
				values = append(values, s)
			}
		}
	}
	return values
}

// soundMessage fails on words that can't be read aloud.
func soundMessage(t *testing.T, code string, m Message) {
	t.Helper()
	for part, s := range map[string]string{"what": m.What, "to do": m.Do} {
		switch {
		case s == "":
			t.Errorf("%s: nothing said under %q", code, part)
		case !strings.HasSuffix(s, ".") || strings.ToUpper(s[:1]) != s[:1]:
			t.Errorf("%s: %q is no sentence", code, s)
		case strings.Contains(s, "%!") || strings.Contains(s, "NaN") || strings.Contains(s, "–") || strings.Contains(s, "  "):
			t.Errorf("%s: %q holds what no person can read", code, s)
		case strings.Contains(s, "!") || strings.Contains(strings.ToLower(s), "please"):
			t.Errorf("%s: %q is not the tone of the screens", code, s)
		}
	}
}

// Every code that leak can give has words and what to do, with and without
// figures. The codes are read from leak's source, so none can be forgotten.
func TestEveryCodeHasWords(t *testing.T) {
	styles := []Style{{}, {Full: true}}
	warned := constants(t, "../../leak/reading.go", func(_, typ string) bool { return typ == "WarningCode" })
	refused := constants(t, "../../leak/reading.go", func(_, typ string) bool { return typ == "RefusalCode" })
	if len(warned) < 10 || len(refused) < 10 {
		t.Fatalf("%d warnings and %d refusals found in leak: the test looks in the wrong place", len(warned), len(refused))
	}
	for _, code := range warned {
		if warnings[leak.WarningCode(code)] == nil {
			t.Errorf("warning %s: not in the catalogue", code)
			continue
		}
		for _, s := range styles {
			for _, w := range []leak.Warning{{}, {Count: 1, Line: 41, Figure: 0.3, Other: 0.2}, {Count: 12, Figure: 41e3, Other: 3e-6}} {
				w.Code = leak.WarningCode(code)
				soundMessage(t, code, WarningMessage(s, w))
			}
		}
	}
	for _, code := range refused {
		if refusals[leak.RefusalCode(code)] == nil {
			t.Errorf("refusal %s: not in the catalogue", code)
			continue
		}
		for _, s := range styles {
			for _, r := range []leak.Refusal{{}, {Line: 41, At: 3, Figure: 1, Other: 12}, {Figure: 108e3, Other: 101e3}} {
				r.Code = leak.RefusalCode(code)
				soundMessage(t, code, RefusalMessage(s, r))
			}
		}
	}
	for code := range warnings {
		if !slices.Contains(warned, string(code)) {
			t.Errorf("warning %s: in the catalogue, unknown to leak", code)
		}
	}
	for code := range refusals {
		if !slices.Contains(refused, string(code)) {
			t.Errorf("refusal %s: in the catalogue, unknown to leak", code)
		}
	}
}

// A port that was never pulled down has these usual causes (common practice,
// no source); the message names them all.
func TestNoPullNamesTheCauses(t *testing.T) {
	m := RefusalMessage(Style{}, leak.Refusal{Code: leak.NoPull, Figure: 210}).String()
	for _, word := range []string{"pump", "plate", "valve", "hose", "port side", "chamber side", "0.21 kPa"} {
		if !strings.Contains(m, word) {
			t.Errorf("no-pull does not say %q: %s", word, m)
		}
	}
}

func TestUnknownCodesAreNamed(t *testing.T) {
	if m := WarningMessage(Style{}, leak.Warning{Code: "odd"}); !strings.Contains(m.What, "odd") {
		t.Errorf("unknown warning: %q", m.What)
	}
	if m := RefusalMessage(Style{}, leak.Refusal{Code: "odd", Figure: math.NaN()}); !strings.Contains(m.What, "odd") {
		t.Errorf("unknown refusal: %q", m.What)
	}
}

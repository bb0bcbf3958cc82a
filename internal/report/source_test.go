package report

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Every figure that a sheet shows names its formula and a section of the model
// that exists.
func TestSources(t *testing.T) {
	model, err := os.ReadFile("../../docs/model.md")
	if err != nil {
		t.Fatal(err)
	}
	section := regexp.MustCompile(`\d+(?:\.\d+)?`)
	rows := invented("cylinder 1 exhaust", 8.4, 7.2, 9.6, 4.6, 16, 20, 0.006).Sources(Style{})
	want := []string{"leak rate", "this trace", "tested again", "limit, one valve", "chance of being over"}
	if len(rows) != len(want) {
		t.Fatalf("got %d figures, want %d: %+v", len(rows), len(want), rows)
	}
	for i, r := range rows {
		if r.Figure != want[i] || r.Formula == "" || r.Inputs == "" {
			t.Errorf("row %d: got %+v, want %q with a formula and its inputs", i, r, want[i])
		}
		words, _, _ := strings.Cut(strings.TrimPrefix(r.Source, "docs/model.md "), ";")
		for _, n := range section.FindAllString(words, -1) {
			if !regexp.MustCompile(`(?m)^#+ ` + regexp.QuoteMeta(n) + ` `).Match(model) {
				t.Errorf("%s: section %s of %q is not in docs/model.md", r.Figure, n, r.Source)
			}
		}
	}
	if !strings.Contains(rows[0].Inputs, "157 cm³") || !strings.Contains(rows[3].Inputs, "27.0 mm") {
		t.Errorf("inputs: got %q and %q, want the volume of 157 cm³ and the valve of 27 mm", rows[0].Inputs, rows[3].Inputs)
	}
	if got := (&Outcome{}).Sources(Style{}); len(got) != 0 {
		t.Errorf("without an answer: got %+v, want none", got)
	}
}

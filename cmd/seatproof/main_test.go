package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"seatproof": main})
}

// TestScripts runs testdata/*.txtar: the program as a person starts it, on the
// traces of inventAll. "exits N seatproof ..." runs it and wants that code.
func TestScripts(t *testing.T) {
	made := t.TempDir()
	inventAll(t, made)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		Setup:               func(e *testscript.Env) error { return os.CopyFS(e.WorkDir, os.DirFS(made)) },
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var e *exec.ExitError
		if !errors.As(err, &e) {
			ts.Fatalf("%v", err)
		}
		got = e.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// keys are the names of the JSON, in order, and of what is inside them.
var keys = []string{"schema", "file", "leak", "tested_again_cm3_min", "edge", "over_limit_probability", "opening_share",
	"kind", "nozzle_diameter_mm", "gap_um", "steady", "blanked_kpa", "fall_kpa_s", "phases", "budget", "warnings",
	"refusal", "verdict", "tests", "between_test_cv", "one_test_flow_cm3_min", "one_more_test_narrows_to", "repeats", "limits", "over_all_valves_probability", "leak_taken_as", "version"}

type intervalJSON struct{ Median, Low, High *float64 }

func (i *intervalJSON) ok() bool {
	return i != nil && i.Median != nil && i.Low != nil && i.High != nil && *i.Low <= *i.Median && *i.Median <= *i.High
}

type readingJSON struct {
	Schema, File, Version string
	Leak                  *struct {
		AtVacuum       float64       `json:"at_vacuum_kpa"`
		Flow           *intervalJSON `json:"flow_cm3_min"`
		UpperLimitOnly bool          `json:"upper_limit_only"`
		IntervalOf     string        `json:"interval_of"`
	}
	TestedAgain *struct{ Low, High *float64 } `json:"tested_again_cm3_min"`
	Over        *float64                      `json:"over_limit_probability"`
	Share       *intervalJSON                 `json:"opening_share"`
	Edge        *intervalJSON
	Kind        *string
	Diameter    *intervalJSON `json:"nozzle_diameter_mm"`
	Gap         *intervalJSON `json:"gap_um"`
	Steady      *struct {
		Vacuum float64       `json:"vacuum_kpa"`
		Flow   *intervalJSON `json:"flow_cm3_min"`
	}
	Blanked *float64      `json:"blanked_kpa"`
	Fall    *intervalJSON `json:"fall_kpa_s"`
	Phases  []struct {
		Name string
	}
	Budget  []struct{ Share float64 }
	Refusal *struct{ Code, Message string }
	Verdict *string
}

func runJSON(t *testing.T, args ...string) (out []byte, code int) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code = run(append([]string{"read", "--json"}, args...), &stdout, &stderr, false)
	if s := stdout.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("JSON carries a figure that is none: %s", s)
	}
	return stdout.Bytes(), code
}

// sameKeys fails if the object's keys are not those wanted, in that order.
func sameKeys(t *testing.T, object []byte, want []string) {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(object))
	var got []string
	if _, err := d.Token(); err != nil {
		t.Fatal(err)
	}
	for d.More() {
		k, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, k.(string))
		var skip json.RawMessage
		if err := d.Decode(&skip); err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("keys %v\nwant %v", got, want)
	}
}

func TestJSONOfALeak(t *testing.T) {
	dir := t.TempDir()
	inventAll(t, dir)
	out, code := runJSON(t, filepath.Join(dir, "bad.csv"), "--rig", filepath.Join(dir, "rig.toml"), "--limit", "23 cm3/min", "--seat", "27 mm x 1.2 mm")
	if code != 0 {
		t.Errorf("exit code %d, want 0", code)
	}
	sameKeys(t, out, keys)
	var parts map[string]json.RawMessage
	if err := json.Unmarshal(out, &parts); err != nil {
		t.Fatal(err)
	}
	sameKeys(t, parts["leak"], []string{"at_vacuum_kpa", "flow_cm3_min", "upper_limit_only", "interval_of"})
	sameKeys(t, parts["tested_again_cm3_min"], []string{"low", "high"})
	sameKeys(t, parts["opening_share"], []string{"median", "low", "high"})
	sameKeys(t, parts["steady"], []string{"vacuum_kpa", "flow_cm3_min"})
	var phases, budget []json.RawMessage
	if err := errors.Join(json.Unmarshal(parts["phases"], &phases), json.Unmarshal(parts["budget"], &budget)); err != nil {
		t.Fatal(err)
	}
	if len(phases) == 0 || len(budget) == 0 {
		t.Fatalf("%d phases, %d lines of budget: want some of each", len(phases), len(budget))
	}
	sameKeys(t, phases[0], []string{"name", "from_s", "to_s"})
	sameKeys(t, budget[0], []string{"input", "share"})

	var r readingJSON
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatal(err)
	}
	if r.Schema != "seatproof/reading/1" || r.Leak == nil || r.Leak.AtVacuum != 50 || r.Leak.IntervalOf != "this trace" || r.Leak.UpperLimitOnly {
		t.Fatalf("schema %q, leak %+v", r.Schema, r.Leak)
	}
	for name, i := range map[string]*intervalJSON{"leak": r.Leak.Flow, "share": r.Share, "edge": r.Edge, "diameter": r.Diameter, "gap": r.Gap, "fall": r.Fall, "steady flow": r.Steady.Flow} {
		if !i.ok() {
			t.Errorf("%s: not an interval: %+v", name, i)
		}
	}
	// The trace was made with 150 cm³/min.
	if f := r.Leak.Flow; *f.Low > 150 || *f.High < 150 {
		t.Errorf("this trace %g to %g cm³/min does not hold the true 150", *f.Low, *f.High)
	}
	if r.TestedAgain == nil || *r.TestedAgain.Low > *r.Leak.Flow.Low || *r.TestedAgain.High < *r.Leak.Flow.High {
		t.Errorf("tested again %+v is not wider than this trace", r.TestedAgain)
	}
	if r.Over == nil || *r.Over < 0.95 || r.Verdict == nil || *r.Verdict != "leaks" || r.Refusal != nil {
		t.Errorf("over %v, verdict %v, refusal %v", r.Over, r.Verdict, r.Refusal)
	}
	sum := 0.0
	for _, b := range r.Budget {
		sum += b.Share
	}
	if sum < 0.999 || sum > 1.001 {
		t.Errorf("shares of the budget add to %g, want 1", sum)
	}
}

func TestJSONOfSeveral(t *testing.T) {
	dir := t.TempDir()
	inventAll(t, dir)
	var args []string
	for _, n := range []string{"tight.csv", "flat.csv", "binary.csv", "one.csv", "nowhere.csv"} {
		args = append(args, filepath.Join(dir, n))
	}
	out, code := runJSON(t, append(args, "--rig", filepath.Join(dir, "rig.toml"))...)
	if code != 2 {
		t.Errorf("exit code %d, want 2", code)
	}
	var all []json.RawMessage
	if err := json.Unmarshal(out, &all); err != nil {
		t.Fatal(err)
	}
	want := []string{"", "no-pull", "unreadable", "too-few-samples", "unreadable"}
	if len(all) != len(want) {
		t.Fatalf("%d objects, want %d", len(all), len(want))
	}
	for i, object := range all {
		sameKeys(t, object, keys)
		var r readingJSON
		if err := json.Unmarshal(object, &r); err != nil {
			t.Fatal(err)
		}
		code := ""
		if r.Refusal != nil {
			code = r.Refusal.Code
			if r.Refusal.Message == "" || r.Leak == nil || r.Leak.Flow != nil || r.Verdict != nil {
				t.Errorf("%s: refused without words, or with a leak: %+v", r.File, r)
			}
		}
		if code != want[i] || r.File != args[i] {
			t.Errorf("object %d: file %q, refusal %q; want %q, %q", i, r.File, code, args[i], want[i])
		}
		if r.Verdict != nil {
			t.Errorf("%s: verdict %q without a limit", r.File, *r.Verdict)
		}
	}
}

// Several tests of one port are one object, with each test's own inside it; the
// truth of each is 12 cm³/min or near it.
func TestJSONOfOnePort(t *testing.T) {
	dir := t.TempDir()
	inventAll(t, dir)
	args := []string{"--same-port", "--rig", filepath.Join(dir, "rig.toml"), "--limit", "40 cm3/min"}
	for _, n := range []string{"again-1.csv", "flat.csv", "again-2.csv", "again-3.csv"} {
		args = append(args, filepath.Join(dir, n))
	}
	out, code := runJSON(t, args...)
	if code != 0 {
		t.Errorf("exit code %d, want 0", code)
	}
	sameKeys(t, out, keys)
	var r struct {
		readingJSON
		Tests    int
		Between  *intervalJSON `json:"between_test_cv"`
		One      *intervalJSON `json:"one_test_flow_cm3_min"`
		Narrows  *float64      `json:"one_more_test_narrows_to"`
		Repeats  []json.RawMessage
		Warnings []struct{ Code, Message string }
	}
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatal(err)
	}
	if r.Tests != 3 || r.Leak.IntervalOf != "these tests" || len(r.Repeats) != 4 || *r.Verdict != "holds" {
		t.Errorf("%d tests, of %q, %d repeats, verdict %s", r.Tests, r.Leak.IntervalOf, len(r.Repeats), *r.Verdict)
	}
	if f := r.Leak.Flow; !f.ok() || *f.Low > 12 || *f.High < 12 {
		t.Errorf("these tests: %+v", f)
	}
	if !r.Between.ok() || !r.One.ok() || r.Narrows == nil || *r.Narrows < 0.5 || *r.Narrows > 1 {
		t.Errorf("between %+v, one %+v, narrows to %v", r.Between, r.One, r.Narrows)
	}
	if len(r.Warnings) != 1 || r.Warnings[0].Code != "repeat-refused" || !strings.Contains(r.Warnings[0].Message, "flat.csv") {
		t.Errorf("warnings %+v", r.Warnings)
	}
	again := *r.TestedAgain
	var one struct {
		readingJSON
		Tests   int
		Repeats []json.RawMessage
	}
	sameKeys(t, r.Repeats[0], keys)
	if err := json.Unmarshal(r.Repeats[0], &one); err != nil {
		t.Fatal(err)
	}
	if one.Tests != 1 || one.Leak.IntervalOf != "this trace" || one.Repeats == nil || len(one.Repeats) != 0 {
		t.Errorf("a test's own object: %+v", one)
	}
	if *again.High / *again.Low > *one.TestedAgain.High / *one.TestedAgain.Low {
		t.Errorf("tested again, of three tests %g to %g, of one %g to %g", *again.Low, *again.High, *one.TestedAgain.Low, *one.TestedAgain.High)
	}
}

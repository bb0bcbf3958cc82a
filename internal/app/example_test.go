package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The example head comes to what it was made to show: the answers hold the
// truth, the verdicts and the refusal are those of truth.csv.
func TestExampleHead(t *testing.T) {
	const from = "../../examples/inline-three"
	out := t.TempDir()
	var said, wrong bytes.Buffer
	a := &App{Stdout: &said, Stderr: &wrong, Version: "test"}
	if exit := a.Demo(context.Background(), DemoJob{From: from, Out: out}); exit != Answered || wrong.Len() > 0 {
		t.Fatalf("exit %d, %s", exit, wrong.String())
	}
	text, err := os.ReadFile(filepath.Join(out, "readings.json"))
	if err != nil {
		t.Fatal(err)
	}
	var readings []exampleReading
	if err := json.Unmarshal(text, &readings); err != nil {
		t.Fatal(err)
	}
	truths := readTruth(t, filepath.Join(from, "truth.csv"))
	seen := 0
	for _, r := range readings {
		each := r.Repeats
		if len(each) == 0 {
			each = []exampleReading{r}
		}
		seen += len(each)
		for _, e := range each {
			truth, ok := truths[e.File]
			if !ok {
				t.Errorf("%s is not in truth.csv", e.File)
				continue
			}
			e.holds(t, truth)
		}
		truth := truths[each[0].File]
		state := "refused"
		if r.Verdict != nil {
			state = map[string]string{"holds": "holds", "leaks": "leaks", "cant-tell-yet": "can't tell yet"}[*r.Verdict]
		}
		if state != truth.comesTo {
			t.Errorf("%s: %s, want %s", r.File, state, truth.comesTo)
		}
		if state == "refused" {
			if r.Refusal == nil || r.Refusal.Code != "gauge-stuck" || r.Leak.Flow != nil {
				t.Errorf("%s: refusal %+v, leak %+v; want gauge-stuck and none", r.File, r.Refusal, r.Leak)
			}
			continue
		}
		// what all its tests say holds the port's own leak
		if f := r.Leak.Flow; f.Low > truth.port || f.High < truth.port {
			t.Errorf("%s: %g to %g cm³/min does not hold the port's %g", r.File, f.Low, f.High, truth.port)
		}
		if r.Again == nil || r.Again.Low > truth.port || r.Again.High < truth.port {
			t.Errorf("%s: tested again %+v does not hold the port's %g", r.File, r.Again, truth.port)
		}
		first := "nothing"
		if len(r.Warnings) > 0 {
			first = r.Warnings[0].Code
		}
		if first != truth.warns {
			t.Errorf("%s: warns of %+v, want %s first", r.File, r.Warnings, truth.warns)
		}
	}
	if seen != len(truths) {
		t.Errorf("%d tests read, %d in truth.csv", seen, len(truths))
	}
	// Worst first, and the refused one told apart with what to do.
	table := said.String()
	last := -1
	for _, words := range []string{"cylinder 1 exhaust  leaks", "cylinder 2 intake   leaks", "cylinder 3 exhaust  can't tell yet", "cylinder 3 intake   holds, retest", "cylinder 1 intake   holds", "cylinder 2 exhaust (cylinder-2-exhaust.csv) refused: The gauge stood still", "Tap the gauge",
		"cylinder 1 exhaust leaks: wipe seat, stem and guide dry", "cylinder 3 intake holds, but test it again: dry the port", "The hold broke", "Part of the fall dies away"} {
		at := strings.Index(table, words)
		if at <= last {
			t.Errorf("the table lacks %q, or has it out of its order:\n%s", words, table)
		}
		last = at
	}
	readme, err := os.ReadFile("../../examples/README.md")
	if err != nil {
		t.Fatal(err)
	}
	// Which valve of the shared port leaks, by the tests with masks: the intervals
	// hold what their traces were made from.
	for _, line := range []string{"cylinder 2 intake: the left valve leaks. By 5 tests with different openings sealed off", "  left valve    leaks", "  right valve   holds", "  what is left"} {
		if !strings.Contains(table, line) {
			t.Errorf("the words lack %q:\n%s", line, table)
		}
	}
	masked := readTruth(t, filepath.Join(from, "truth-masked.csv"))
	both := masked["cylinder-2-intake-left-and-right-masked.csv"].port
	for words, want := range map[string]float64{
		"left valve    leaks ": masked["cylinder-2-intake-right-masked.csv"].port - both,
		"right valve   holds ": masked["cylinder-2-intake-left-masked.csv"].port - both,
		"what is left ":        both,
	} {
		_, rest, _ := strings.Cut(table, words)
		var q, low, high float64
		if _, err := fmt.Sscanf(strings.TrimSpace(rest), "%g (%g to %g)", &q, &low, &high); err != nil || low > want || high < want {
			t.Errorf("%s: %g to %g does not hold the true %g: %v", words, low, high, want, err)
		}
	}
	for file, truth := range masked {
		truths[file] = truth
	}
	for file, truth := range truths {
		row := "| `" + file + "` | " + truth.text + " |"
		if !strings.Contains(string(readme), row) {
			t.Errorf("examples/README.md lacks the truth of a trace: %s", row)
		}
	}
}

type exampleReading struct {
	File string
	Leak struct {
		Flow *struct{ Low, High float64 } `json:"flow_cm3_min"`
	}
	Again    *struct{ Low, High float64 } `json:"tested_again_cm3_min"`
	Share    *struct{ Low, High float64 } `json:"opening_share"`
	Verdict  *string
	Refusal  *struct{ Code, Message string }
	Warnings []struct{ Code string }
	Kind     *string
	Repeats  []exampleReading
}

// holds fails where the interval of one test does not hold its truth.
func (r exampleReading) holds(t *testing.T, truth truth) {
	t.Helper()
	if r.Refusal != nil {
		return
	}
	if f := r.Leak.Flow; f.Low > truth.leak || f.High < truth.leak {
		t.Errorf("%s: this trace %g to %g cm³/min does not hold the true %g", r.File, f.Low, f.High, truth.leak)
	}
	// The truth of a pure leak stands at the very end of its interval.
	if s := r.Share; s == nil || s.Low > truth.share+1e-4 || s.High < truth.share-1e-4 {
		t.Errorf("%s: share %+v does not hold the true %g", r.File, s, truth.share)
	}
	switch k := *r.Kind; {
	case truth.share > 0.95 && k != "opening", truth.share < 0.05 && k != "seep":
		t.Errorf("%s: way of flowing %s with a true share of %g", r.File, k, truth.share)
	}
}

type truth struct {
	leak, share, port float64
	comesTo, warns    string
	text              string // the row's other fields as README.md shows them
}

func readTruth(t *testing.T, name string) map[string]truth {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]truth{}
	for _, row := range rows[1:] {
		leak, err1 := strconv.ParseFloat(row[1], 64)
		share, err2 := strconv.ParseFloat(row[2], 64)
		n := len(row)
		port, err3 := strconv.ParseFloat(row[n-3], 64)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("%s: %q", name, row)
		}
		all[row[0]] = truth{leak, share, port, row[n-2], row[n-1], strings.Join(row[1:], " | ")}
	}
	return all
}

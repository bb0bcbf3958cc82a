package app

import (
	"bytes"
	"context"
	"os"
	"regexp"
	"strings"
	"testing"
)

func lossOut(t *testing.T, job LossJob) (out, complaint string, exit Exit) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	a := &App{Stdout: &stdout, Stderr: &stderr}
	exit = a.Loss(context.Background(), job)
	return stdout.String(), stderr.String(), exit
}

// What docs/engine-cost.md says that the program prints is what it prints.
func TestLossGuide(t *testing.T) {
	const three = "examples/inline-three/"
	jobs := map[string]LossJob{
		`--bore "48 mm" --stroke "49.5 mm" --leak "60 ± 10 cm3/min"`: {Bore: "48 mm", Stroke: "49.5 mm", Leaks: []string{"60 ± 10 cm3/min"}},
		`--bore "83 mm" --stroke "83.2 mm" --leak "60 ± 10 cm3/min"`: {Bore: "83 mm", Stroke: "83.2 mm", Leaks: []string{"60 ± 10 cm3/min"}},
		three + "cylinder-1-exhaust.csv " + three + "cylinder-1-intake.csv --rig " + three + `rig.toml --bore "72 mm" --stroke "81.8 mm"`: {
			Traces: []string{"../../" + three + "cylinder-1-exhaust.csv", "../../" + three + "cylinder-1-intake.csv"}, Rig: "../../" + three + "rig.toml", Bore: "72 mm", Stroke: "81.8 mm",
		},
	}
	page, err := os.ReadFile("../../docs/engine-cost.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile(`(?m)^    \$ seatproof loss (.+)\n((?:    .*\n|\n)+)`).FindAllStringSubmatch(string(page), -1)
	if len(blocks) != len(jobs) {
		t.Fatalf("%d blocks of output found in docs/engine-cost.md, %d wanted", len(blocks), len(jobs))
	}
	for _, b := range blocks {
		job, ok := jobs[b[1]]
		if !ok {
			t.Errorf("docs/engine-cost.md runs %s, which no job here stands for", b[1])
			continue
		}
		out, complaint, exit := lossOut(t, job)
		if exit != Answered {
			t.Errorf("%s: exit %d, %s", b[1], exit, complaint)
		}
		var lines []string
		for _, l := range strings.Split(strings.TrimRight(b[2], "\n"), "\n") {
			lines = append(lines, strings.TrimPrefix(l, "    "))
		}
		if want := strings.TrimRight(strings.Join(lines, "\n"), "\n"); !strings.HasPrefix(out, want) {
			t.Errorf("docs/engine-cost.md says that %s prints\n%s\nand it prints\n%s", b[1], want, out)
		}
	}
}

// Engines and leaks that can't be have a word each.
func TestLossFaults(t *testing.T) {
	const three = "../../examples/inline-three/"
	leak := []string{"60 cm3/min"}
	for _, c := range []struct {
		name string
		job  LossJob
		want string
	}{
		{"nothing of the engine", LossJob{Leaks: leak}, "how large the cylinder is"},
		{"rod shorter than the throw", LossJob{Bore: "70 mm", Stroke: "80 mm", Rod: "30 mm", Leaks: leak}, "does not reach round a stroke"},
		{"chamber larger than the cylinder", LossJob{Bore: "70 mm", Stroke: "80 mm", Chamber: "600 cm3", Leaks: leak}, "nothing is compressed"},
		{"no clearance", LossJob{Bore: "70 mm", Ratio: "0.5", Leaks: leak}, "no room above the piston"},
		{"chamber below zero", LossJob{Bore: "70 mm", Stroke: "80 mm", Chamber: "-3 cm3", Leaks: leak}, "above zero"},
		{"leak of zero", LossJob{Bore: "70 mm", Leaks: []string{"0 cm3/min"}}, "costs nothing"},
		{"open port", LossJob{Bore: "70 mm", Leaks: []string{"9000 L/min"}}, "leak 9000 L/min must be below what the valve passes"},
		{"speed of zero", LossJob{Bore: "70 mm", Cranking: "0 rpm", Leaks: leak}, "above zero"},
		{"speed of 30,000", LossJob{Bore: "70 mm", TopSpeed: "30000 rpm", Leaks: leak}, "no speed of a crankshaft"},
		{"two sizes", LossJob{Bore: "70 mm", Swept: "300 cm3", Leaks: leak}, "both say the same"},
		{"unknown way of flowing", LossJob{Bore: "70 mm", Kinds: []string{"hole"}, Leaks: leak}, "opening, seep or not-known"},
		{"leaks of zero", LossJob{Bore: "70 mm", Leaks: []string{"0 cm3/min", "0 cm3/min"}}, "costs nothing"},
		{"leak below zero", LossJob{Bore: "70 mm", Leaks: []string{"-5 cm3/min", "60 cm3/min"}}, "a leak of -5 cm3/min can't be"},
		{"more ways of flowing than leaks", LossJob{Bore: "70 mm", Leaks: leak, Kinds: []string{"seep", "opening"}}, "given 2 times, and --leak 1 times"},
		{"fewer ways of flowing than leaks", LossJob{Bore: "70 mm", Leaks: []string{"1 cm3/min", "2 cm3/min", "3 cm3/min"}, Kinds: []string{"seep", "opening"}}, "given 2 times, and --leak 3 times"},
		{"one port twice", LossJob{Bore: "72 mm", Traces: []string{three + "cylinder-3-exhaust.csv", three + "cylinder-3-exhaust-2.csv"}, Rig: three + "rig.toml"}, "of cylinder 3 exhaust, and leaks of different ports are added up; give --same-port"},
		{"a masked test beside its port's", LossJob{Bore: "72 mm", Traces: []string{three + "cylinder-2-intake.csv", three + "cylinder-2-intake-left-masked.csv"}, Rig: three + "rig.toml"}, "valve masked"},
		{"kind beside traces", LossJob{Bore: "72 mm", Traces: []string{three + "cylinder-3-exhaust.csv"}, Kinds: []string{"seep"}}, "a trace says itself"},
		{"share of the engine", LossJob{Bore: "70 mm", Share: "90 %", Leaks: leak}, "can't be a limit"},
		{"traces and figures", LossJob{Bore: "70 mm", Leaks: leak, Traces: []string{"a.csv"}}, "traces are named as well"},
		{"head and bore", LossJob{Bore: "70 mm", Head: "EX-3"}, "which says that itself"},
		{"cylinder of no head", LossJob{Bore: "70 mm", Cylinder: 2}, "no head is named"},
		{"drawing of another kind", LossJob{Bore: "70 mm", Chart: "a.png"}, "drawings are SVG"},
	} {
		out, complaint, exit := lossOut(t, c.job)
		complaint = strings.Join(strings.Fields(complaint), " ")
		if exit != Wrong || !strings.Contains(complaint, c.want) || out != "" {
			t.Errorf("%s: exit %d, %q, printed %q; want exit %d and %q", c.name, exit, complaint, out, Wrong, c.want)
		}
	}
}

// A trace whose leak rate nobody can tell says why, and what would.
func TestLossWithoutRig(t *testing.T) {
	_, complaint, exit := lossOut(t, LossJob{Bore: "72 mm", Traces: []string{"../../examples/inline-three/cylinder-1-exhaust.csv"}})
	if words := strings.Join(strings.Fields(complaint), " "); exit != Unanswered || !strings.Contains(words, "what it costs: the volume of rig and port and the pump are not known") || !strings.Contains(words, "--rig FILE") {
		t.Errorf("exit %d, %q", exit, complaint)
	}
}

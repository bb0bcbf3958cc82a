package app

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "draw the charts of docs/rig.md again")

func chooseRig(t *testing.T, job RigChooseJob) (out, complaint string, exit Exit) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	a := &App{Stdout: &stdout, Stderr: &stderr}
	exit = a.RigChoose(context.Background(), job)
	return stdout.String(), stderr.String(), exit
}

// The charts of docs/rig.md are those the program draws, and what the page says it
// prints is what it prints.
func TestRigGuide(t *testing.T) {
	const parts, pictures = "../../examples/parts/", "../../docs/pictures/"
	dir := t.TempDir()
	for _, c := range []struct{ list, chart, ranges, sketch string }{
		{"1-pump.toml", "rig-1-pump.svg", "rig-1-pump-ranges.svg", ""},
		{"2-gauge.toml", "", "rig-2-gauge-ranges.svg", ""},
		{"3-hose.toml", "rig-3-hose.svg", "rig-3-hose-ranges.svg", ""},
		{"small-four-valve.toml", "rig-all.svg", "", "rig-plumbing.svg"},
	} {
		in := func(name string) string {
			if name == "" {
				return ""
			}
			return filepath.Join(dir, name)
		}
		if _, complaint, exit := chooseRig(t, RigChooseJob{Parts: parts + c.list, Chart: in(c.chart), Ranges: in(c.ranges), Sketch: in(c.sketch)}); exit != Answered {
			t.Fatalf("%s: exit %d, %s", c.list, exit, complaint)
		}
		for _, name := range []string{c.chart, c.ranges, c.sketch} {
			if name == "" {
				continue
			}
			drawn, err := os.ReadFile(in(name))
			if err != nil {
				t.Fatal(err)
			}
			if *update {
				if err := os.WriteFile(pictures+name, drawn, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			kept, err := os.ReadFile(pictures + name)
			if err != nil || !bytes.Equal(kept, drawn) {
				t.Errorf("docs/pictures/%s is not what the program draws: make guide (%v)", name, err)
			}
		}
	}
	page, err := os.ReadFile("../../docs/rig.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile(`(?m)^    \$ seatproof rig choose (\S+)\n((?:    .*\n|\n)+)`).FindAllStringSubmatch(string(page), -1)
	if len(blocks) < 5 {
		t.Fatalf("%d blocks of output found in docs/rig.md", len(blocks))
	}
	for _, b := range blocks {
		out, _, _ := chooseRig(t, RigChooseJob{Parts: "../../" + b[1]})
		var lines []string
		for _, l := range strings.Split(strings.TrimRight(b[2], "\n"), "\n") {
			lines = append(lines, strings.TrimPrefix(l, "    "))
		}
		if want := strings.TrimRight(strings.Join(lines, "\n"), "\n"); !strings.Contains(out, want) {
			t.Errorf("docs/rig.md says that %s prints\n%s\nand it prints\n%s", b[1], want, out)
		}
	}
}

// Wrong use is said, with what to do.
func TestRigChooseFaults(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		return name
	}
	good := "[[pump]]\nfree_flow = \"10 L/min\"\nblanked = \"78 kPa\"\n[[gauge]]\ndivision = \"1 inHg\"\n[[hose]]\nbore = \"6 mm\"\nlength = \"1 m\"\n[[port]]\nvalves = \"27 mm\"\n"
	for _, c := range []struct {
		name string
		job  RigChooseJob
		exit Exit
		want string
	}{
		{"no file", RigChooseJob{Parts: filepath.Join(dir, "none.toml")}, Wrong, "docs/rig.md"},
		{"a fault in the list", RigChooseJob{Parts: write("bad.toml", strings.Replace(good, "10 L/min", "10 kg", 1))}, Wrong, "line 2, column 13"},
		{"unknown unit", RigChooseJob{Parts: write("good.toml", good), Unit: "parsec"}, Wrong, "--unit"},
		{"no room for the chart", RigChooseJob{Parts: write("good.toml", good), Chart: filepath.Join(write("file", ""), "x.svg")}, Wrong, "--chart"},
		{"all left out", RigChooseJob{Parts: write("deep.toml", strings.Replace(good, "78 kPa", "780 kPa", 1))}, Unanswered, ""},
		{"good", RigChooseJob{Parts: write("good.toml", good)}, Answered, ""},
	} {
		out, complaint, exit := chooseRig(t, c.job)
		if exit != c.exit || !strings.Contains(complaint, c.want) {
			t.Errorf("%s: exit %d, want %d; %q, want %q", c.name, exit, c.exit, complaint, c.want)
		}
		if c.exit == Unanswered && !strings.Contains(out, "no rig to weigh") {
			t.Errorf("%s: says %q", c.name, out)
		}
	}
	out, _, _ := chooseRig(t, RigChooseJob{Parts: write("good.toml", good), JSON: true})
	var v struct {
		Rigs []map[string]any `json:"rigs"`
	}
	if err := json.Unmarshal([]byte(out), &v); err != nil || len(v.Rigs) != 1 {
		t.Errorf("JSON: %v, %d rigs", err, len(v.Rigs))
	}
}

package app

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/internal/practise"
	"seatproof/internal/store"
	"seatproof/internal/store/archive"
	"seatproof/internal/store/mem"
)

// The make-believe rig takes a head of any layout, in words.
func TestPracticeHead(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		text          string
		form          head.Form
		ports, valves int
		cylinders     []int
		err           string
	}{
		{"4x4", head.FormInline, 8, 16, []int{1, 2, 3, 4}, ""},
		{"3×2, vee, bank=2", head.FormVee, 6, 6, []int{4, 5, 6}, ""},
		{"2x4 flat intake=valve", head.FormFlat, 6, 8, []int{1, 2}, ""},
		{"4x2,intake=pairs,exhaust=centre,one-side", head.FormInline, 5, 8, []int{1, 2, 3, 4}, ""},
		{"1x5", head.FormInline, 2, 5, []int{1}, ""},
		{"four", "", 0, 0, nil, "no head"},
		{"4x4,round", "", 0, 0, nil, "says nothing of a layout"},
		{"4x9", "", 0, 0, nil, "9"},
		{"", "", 0, 0, nil, "no head is given"},
		{"missing.zip", "", 0, 0, nil, "missing.zip"},
	} {
		j, err := practiceHead(ctx, c.text)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: error %v, want one with %q", c.text, err, c.err)
			}
			continue
		}
		var cylinders []int
		for _, v := range j.Valves {
			if !slices.Contains(cylinders, v.Cylinder) {
				cylinders = append(cylinders, v.Cylinder)
			}
		}
		slices.Sort(cylinders)
		if err != nil || j.Engine.Form != c.form || len(j.Ports) != c.ports || len(j.Valves) != c.valves || !slices.Equal(cylinders, c.cylinders) {
			t.Errorf("%q: %v, %s, %d ports, %d valves, cylinders %v; want %+v", c.text, err, j.Engine.Form, len(j.Ports), len(j.Valves), cylinders, c)
		}
		if _, err := practise.New(practise.Setup{Ports: practise.HeadOf(&j, 1)}); err != nil {
			t.Errorf("%q: %v", c.text, err)
		}
	}
}

// A head that was edited, so that no words lay it out, comes by its export.
func TestPracticeHeadFromAnExport(t *testing.T) {
	ctx := context.Background()
	j, err := practiceHead(ctx, "2x4")
	if err != nil {
		t.Fatal(err)
	}
	j.Number = "EX-1"
	// one port takes a valve of its neighbour
	last := &j.Ports[1]
	j.Ports[0].Valves = append(j.Ports[0].Valves, last.Valves[0])
	last.Valves = last.Valves[1:]
	s := mem.New()
	kept, err := (store.Book{Store: s, NewID: newID, Now: func() int64 { return 1 }}).SaveJob(ctx, j, 0)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := archive.Export(ctx, s, kept.Is.ID, &b); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "EX-1.zip")
	if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := practiceHead(ctx, name)
	if err != nil || len(got.Ports[0].Valves) != 3 || len(got.Ports[1].Valves) != 1 {
		t.Fatalf("%+v, %v", got.Ports, err)
	}
}

// A fault is put on a port or a valve by its name.
func TestPracticeFaultByName(t *testing.T) {
	j, err := practiceHead(context.Background(), "2x4")
	if err != nil {
		t.Fatal(err)
	}
	v := j.Valves[1]
	for text, want := range map[string]string{
		"leaking-valve=200@" + j.ValveName(v.ID): v.ID,
		"wet-port@" + j.PortName(j.Ports[2].ID):  j.Ports[2].ID,
		"plate-not-seated=50@" + j.Ports[1].ID:   j.Ports[1].ID,
		"sticking-gauge":                         "",
		"leaking-valve":                          "",
	} {
		if f, err := practiceFault(&j, text); err != nil || f.Port != want {
			t.Errorf("%s: %+v, %v, want at %q", text, f, err, want)
		}
	}
	if _, err := practiceFault(&j, "leaking-valve@cylinder 9"); err == nil || !strings.Contains(err.Error(), j.ValveName(v.ID)) {
		t.Errorf("a valve that is not there: %v", err)
	}
}

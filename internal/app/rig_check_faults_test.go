package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"seatproof/check"
	"seatproof/internal/rigfile"
	"seatproof/internal/study"
	"seatproof/rig"
	"seatproof/trace"
)

// The recordings of a day on the command line come to the fault that was put in,
// as words and as JSON; what can't be read is told.
func TestRigCheckFaults(t *testing.T) {
	d, err := study.DrawDay(check.FaultShutOff, rand.New(rand.NewPCG(3, 3)))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	keep := func(name string, fill func(io.Writer) error) string {
		name = filepath.Join(dir, name)
		f, err := os.Create(name)
		if err == nil {
			err = fill(f)
		}
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
		return name
	}
	file := keep("rig.toml", func(w io.Writer) error { return rigfile.Write(w, d.Rig) })
	var args []string
	for i, p := range d.Pulls {
		what := map[check.On]string{check.OnABlank: "blank", check.OnAKnownLeak: "known", check.OnAPort: "port:" + p.Name}[p.On]
		if p.Pump == rig.PumpRunning {
			what = "running"
		}
		args = append(args, what+"="+keep(fmt.Sprintf("%d.csv", i), func(w io.Writer) error { return trace.Write(w, p.Trace) }))
	}
	run := func(job RigCheckJob) (string, string, Exit) {
		var out, complaint bytes.Buffer
		a := &App{Stdout: &out, Stderr: &complaint, Version: "test"}
		job.Kind, job.Rig, job.Now = "faults", file, time.Now()
		exit := a.RigCheck(context.Background(), job)
		return out.String(), complaint.String(), exit
	}
	out, complaint, exit := run(RigCheckJob{Readings: args})
	if exit != Answered || !strings.HasPrefix(out, "Likely: shut-off valve passing.\n") || !strings.Contains(out, "cm³/min with the pump stopped") || !strings.Contains(out, "To do: Clean or renew") {
		t.Errorf("exit %d, %s%s", exit, out, complaint)
	}
	out, _, _ = run(RigCheckJob{Readings: args, JSON: true})
	var found []check.Fault
	if err := json.Unmarshal([]byte(out), &found); err != nil || len(found) == 0 || found[0].Code != check.FaultShutOff {
		t.Errorf("%v: %s", err, out)
	}
	for _, c := range []struct{ arg, want string }{
		{"", "no recording"}, {"1.csv", "says not what the plate was on"}, {"table=1.csv", "nothing that a plate is on"}, {"blank=" + filepath.Join(dir, "none.csv"), "none.csv"},
		{"before:port=" + filepath.Join(dir, "5.csv"), "no recording"},
	} {
		var args []string
		if c.arg != "" {
			args = []string{c.arg}
		}
		if _, complaint, exit := run(RigCheckJob{Readings: args}); exit != Wrong || !strings.Contains(complaint, c.want) {
			t.Errorf("%q: exit %d, %s", c.arg, exit, complaint)
		}
	}
}

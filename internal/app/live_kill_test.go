package app

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"

	"seatproof/internal/session"
	"seatproof/internal/store/place"
	"seatproof/internal/store/sqlite"
)

// drillEnv tells the test's own program, run again as a child, which folder to
// run a head in.
const drillEnv = "SEATPROOF_LIVE_DRILL"

// TestMain lets the test's program be the child of a drill.
func TestMain(m *testing.M) {
	if os.Getenv(drillEnv) == "" {
		os.Exit(m.Run())
	}
	m.Run() // TestDrillChild alone: the parent says so
}

// drillSays is what the child tells of its run.
type drillSays struct {
	Filed, Records int
	Held           float64
	Target         string
	Run            string
}

// TestDrillChild is the child: a practice run on records on disk, until it is
// killed.
func TestDrillChild(t *testing.T) {
	folder := os.Getenv(drillEnv)
	if folder == "" {
		return // it is the child of TestKilledInARun alone
	}
	records, err := sqlite.Open(context.Background(), place.Database(folder), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := newStand(t, records, folder+"/runs")
	job := x.head()
	x.call("POST", "live", object{"job": job, "practise": object{"speed": 20, "faults": []string{}}, "conditions": conditions}, 201)
	for {
		n, ok := x.live.Now()
		if ok {
			s := drillSays{Filed: len(n.View.Filed), Records: len(n.Records), Target: n.View.Target, Run: n.Run.ID}
			if n.View.Test != nil {
				s.Held = n.View.Test.Held
			}
			b, _ := json.Marshal(s)
			fmt.Println("drill " + string(b))
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// kill -9 in the middle of a hold: what was filed is there once, what was under
// way is filed as cut short, and the run goes on at its port to the end.
func TestKilledInARun(t *testing.T) {
	if testing.Short() {
		t.Skip("runs and kills a program for some seconds")
	}
	t.Parallel() // it waits most of the time
	folder := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run=^TestDrillChild$", "-test.v")
	c.Env = append(os.Environ(), drillEnv+"="+folder)
	c.Stderr = os.Stderr
	pipe, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	var last drillSays
	lines, killed := bufio.NewScanner(pipe), false
	for lines.Scan() {
		var s drillSays
		text := lines.Text()
		if len(text) < 6 || text[:6] != "drill " || json.Unmarshal([]byte(text[6:]), &s) != nil {
			continue
		}
		if !killed {
			last = s
		}
		// two seconds into the hold of the sixth test; its journal is flushed in 0.7 s at most
		if s.Filed >= 5 && s.Held > 2 && !killed {
			killed = true
			if err := c.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := c.Wait(); err == nil || !killed {
		t.Fatalf("the child ended by itself: %v", err)
	}
	t.Logf("killed with %+v", last)
	records, err := sqlite.Open(context.Background(), place.Database(folder), sqlite.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { records.Close() })
	x := newStand(t, records, folder+"/runs")
	n, ok := x.live.Now()
	if !ok || n.Run.ID != last.Run {
		t.Fatalf("the run did not go on: %+v", n.Run)
	}
	r := x.live.current.Load()
	ports := r.pretend.kept.Ports
	n = x.until("the run is over and filed", 4*time.Minute, x.settled)
	x.checkPorts(n, n.Run.Job, ports, true)
	cut := 0
	for _, f := range n.View.Filed {
		if f.Interrupted {
			cut++
		}
	}
	// the journal may end before the pull that was killed: then nothing of it is there to be filed
	if cut > 1 {
		t.Errorf("%d tests are cut short", cut)
	}
	tests := x.call("GET", "tests?job="+n.Run.Job, nil, 200)["tests"].([]any)
	want := 0
	for _, f := range n.View.Filed {
		if f.Port != string(session.OnBlank) && f.Port != string(session.OnKnown) {
			want++
		}
	}
	if len(tests) != want || len(n.View.Filed) < last.Filed {
		t.Errorf("%d records of %d tests; %d tests in all, %d were filed before the kill", len(tests), want, len(n.View.Filed), last.Filed)
	}
	k, err := readKept(folder + "/runs/" + last.Run + "/" + keptName)
	if err != nil || k.Ended == 0 {
		t.Errorf("the run is not marked as ended: %+v, %v", k, err)
	}
	// started once more: nothing is run or filed again
	x.stop()
	y := newStand(t, records, folder+"/runs")
	if _, ok := y.live.Now(); ok {
		t.Error("a run that ended goes on")
	}
	if again := y.call("GET", "tests?job="+n.Run.Job, nil, 200)["tests"].([]any); len(again) != want {
		t.Errorf("%d records after another start, %d before", len(again), want)
	}
}

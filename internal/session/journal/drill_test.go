package journal

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"seatproof/internal/session"
	"seatproof/trace"
)

// drillEnv tells the test's own program, run again as a child, what to do.
const drillEnv = "SEATPROOF_JOURNAL_DRILL"

// TestMain lets the test's program be the child of a drill.
func TestMain(m *testing.M) {
	if s := os.Getenv(drillEnv); s != "" {
		if err := child(s); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(3)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const drillRate = 200 // samples a second, in drills

// child keeps a session's journal at a path, and says on standard output how
// many samples it has taken: first those up to a phase as fast as it can, then
// from there on in real time, until it is killed.
func child(s string) error {
	part := strings.Split(s, "|")
	start, err := strconv.ParseFloat(part[1], 64)
	if err != nil {
		return err
	}
	w, err := Create(part[0])
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	go w.Run(ctx, nil)
	r := rand.New(rand.NewPCG(7, 8))
	var st session.State
	give := func(e session.Event) error {
		if err := w.Append(e); err != nil {
			return err
		}
		st, _ = session.Step(st, e)
		return nil
	}
	err = errors.Join(give(session.Begin{Plan: plan(1)}), give(session.Key{Do: session.Skip}), give(session.Key{Do: session.Skip}))
	if err != nil {
		return err
	}
	n := 0
	take := func(upTo float64) error {
		k := int(upTo*drillRate) - n
		if k <= 0 {
			return nil
		}
		e := samples(r, 0, float64(n)/drillRate, 1.0/drillRate, k, false)
		n += k
		return give(e)
	}
	for t := 0.1; t < start; t += 0.1 {
		if err := take(t); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	began := time.Now()
	out := bufio.NewWriter(os.Stdout)
	for {
		if err := take(start + time.Since(began).Seconds()); err != nil {
			return err
		}
		phase := trace.PhaseName("")
		if v := st.View(); len(v.Gauges) > 0 {
			phase = v.Gauges[0].Phase
		}
		fmt.Fprintf(out, "%d %s\n", n, phase)
		out.Flush()
		time.Sleep(5 * time.Millisecond)
	}
}

// taken is how many samples the child said it had, and when.
type taken struct {
	n     int
	phase string
	at    time.Time
}

// runAndKill runs the child from a moment of a test on, kills it -9 after a
// while, and returns what it had said.
func runAndKill(t *testing.T, path string, start float64, after time.Duration) (all []taken, killed time.Time) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), fmt.Sprintf("%s=%s|%v", drillEnv, path, start))
	c.Stderr = os.Stderr
	pipe, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(pipe)
	var began time.Time
	for lines.Scan() {
		f := strings.Fields(lines.Text() + " -")
		n, err := strconv.Atoi(f[0])
		if err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		if began.IsZero() {
			began = now
		}
		all = append(all, taken{n, f[1], now})
		if now.Sub(began) >= after && killed.IsZero() {
			killed = now
			if err := c.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := c.Wait(); err == nil || killed.IsZero() {
		t.Fatalf("the child ended by itself: %v", err)
	}
	return all, killed
}

// kill -9 in each phase of a test, at random moments: of the samples that had
// come in a second before, none is missing; the tail is whole or said to be
// torn; and the session goes on in the phase, and on the port, that it was in.
func TestKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("runs and kills a program for some seconds")
	}
	r := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 1))
	for _, p := range []struct {
		phase trace.PhaseName
		start float64
	}{{trace.Vented, 1}, {trace.Pull, pullAt}, {trace.Steady, steadyAt}, {trace.Hold, holdAt + 1}, {trace.Vented, ventAt + 0.2}, {trace.Vented, testLong + 1}} {
		for i := range 2 {
			after := time.Duration(300+r.IntN(1500)) * time.Millisecond
			t.Run(fmt.Sprintf("%s at %v, %d", p.phase, p.start, i), func(t *testing.T) {
				t.Parallel()
				path := filepath.Join(t.TempDir(), "run.journal")
				all, killed := runAndKill(t, path, p.start, after)
				due, said := 0, ""
				for _, x := range all {
					if killed.Sub(x.at) >= time.Second {
						due, said = x.n, x.phase
					}
				}
				past, w, cut, err := Resume(path)
				if err != nil {
					t.Fatal(err)
				}
				defer w.Close()
				got := past.State.View().Gauges[0].Samples
				most := all[len(all)-1].n
				t.Logf("killed after %v: %d samples on disk of %d taken, %d due; cut %d bytes", after, got, most, due, cut)
				if got < due {
					t.Errorf("%d samples on disk, %d had come in a second and more before", got, due)
				}
				if got == 0 || got > most+drillRate {
					t.Errorf("%d samples on disk, %d taken", got, most)
				}
				v := past.State.View()
				if v.Target != "p1" || said != "" && said != "-" && v.Gauges[0].Phase == "" {
					t.Errorf("resumed on %q in phase %q; the child said %q", v.Target, v.Gauges[0].Phase, said)
				}
			})
		}
	}
}

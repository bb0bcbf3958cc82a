package journal

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"math/rand/v2"

	"seatproof/internal/session"
)

// limitEnv holds the path at which the child of TestFileSizeLimit writes.
const limitEnv = "SEATPROOF_JOURNAL_LIMIT"

// A real file that may not grow (RLIMIT_FSIZE, as a quota or a full disk) in a
// program of its own: the journal says so, ends whole, and goes on once it may.
func TestFileSizeLimit(t *testing.T) {
	if path := os.Getenv(limitEnv); path != "" {
		limited(t, path)
		return
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "run.journal")
	c := exec.Command(self, "-test.run", "^TestFileSizeLimit$", "-test.v")
	c.Env = append(os.Environ(), limitEnv+"="+path)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	past, _, err := Replay(f)
	if err != nil || past.Torn != nil || past.State.View().Gauges[0].Samples != 40*200 {
		t.Errorf("%v, torn %v, %+v", err, past.Torn, past.State.View().Gauges)
	}
}

// limited is the child.
func limited(t *testing.T, path string) {
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		t.Fatal(err)
	}
	w, err := Create(path)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	if err := w.Append(session.Begin{Plan: plan(1)}); err != nil {
		t.Fatal(err)
	}
	failed := 0
	for i := range 40 {
		switch i {
		case 5:
			if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 8000, Max: old.Max}); err != nil {
				t.Fatal(err)
			}
		case 30:
			if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Append(samples(r, 0, float64(i)*0.2, 0.001, 200, false)); err != nil {
			t.Fatal(err)
		}
		if err := w.Flush(); err != nil {
			failed++
			if !errors.Is(err, syscall.EFBIG) || w.Status().Err == nil || w.Status().Waiting == 0 {
				t.Fatalf("flush %d: %v, status %+v", i, err, w.Status())
			}
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			if past, _, err := Replay(f); err != nil || past.Torn != nil {
				t.Fatalf("at the limit: %v, %v", err, past.Torn)
			}
			f.Close()
		}
	}
	if failed < 10 || failed > 26 {
		t.Fatalf("%d flushes failed", failed)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

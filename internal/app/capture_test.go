package app

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/trace"
)

// spoken is what the program says, safe to look at meanwhile.
type spoken struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *spoken) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *spoken) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// made writes an invented recording: n samples, 10 ms apart, of a port that
// empties.
func made(t *testing.T, dir string, n int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("# port: cylinder 1 intake\ntime (s),vacuum (kPa)\n")
	for i := range n {
		fmt.Fprintf(&b, "%.2f,%.2f\n", 0.01*float64(i), 78*(1-math.Exp(-float64(i)/40)))
	}
	name := filepath.Join(dir, "made.csv")
	if err := os.WriteFile(name, []byte(b.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return name
}

func readBack(t *testing.T, name string) *trace.Trace {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tr, err := trace.Read(f, trace.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// What is recorded is what came, and read back as it was.
func TestCaptureReadsBack(t *testing.T) {
	dir := t.TempDir()
	from := made(t, dir, 200)
	to := filepath.Join(dir, "run.csv")
	var out, said spoken
	a := &App{Stdout: &out, Stderr: &said}
	if exit := a.Capture(t.Context(), CaptureJob{Source: "replay:" + from + "#speed=0", To: to, Held: "thumb"}); exit != Answered {
		t.Fatalf("exit %d: %s", exit, said.String())
	}
	was, is := readBack(t, from), readBack(t, to)
	if is.Len() != was.Len() || is.Kind != was.Kind || is.Header.Held != "thumb" {
		t.Fatalf("%d points %s, want %d %s", is.Len(), is.Kind, was.Len(), was.Kind)
	}
	for i := range was.Time {
		if math.Abs(is.Time[i]-was.Time[i]) > 1e-6 || math.Abs(is.Value[i]-was.Value[i]) > 1e-3 {
			t.Fatalf("sample %d: %g s %g Pa, want %g s %g Pa", i, is.Time[i], is.Value[i], was.Time[i], was.Value[i])
		}
	}
	if !strings.Contains(out.String(), "200 samples in") {
		t.Errorf("said %q", out.String())
	}
}

// Ctrl-C is how a recording ends: all that came is in the file.
func TestCaptureStopped(t *testing.T) {
	dir := t.TempDir()
	from, to := made(t, dir, 3000), filepath.Join(dir, "run.csv")
	ctx, cancel := context.WithCancel(t.Context())
	var out, said spoken
	a := &App{Stdout: &out, Stderr: &said, Terminal: true}
	ended := make(chan Exit)
	go func() {
		ended <- a.Capture(ctx, CaptureJob{Source: "replay:" + from, To: to, Beside: "replay:" + from + "#speed=2"})
	}()
	for end := time.Now().Add(10 * time.Second); !strings.Contains(said.String(), "kPa,") && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	cancel()
	if exit := <-ended; exit != Answered {
		t.Fatalf("exit %d: %s", exit, said.String())
	}
	for _, name := range []string{to, filepath.Join(dir, "run-2.csv")} {
		tr := readBack(t, name)
		if want := fmt.Sprintf("%d samples in %s", tr.Len(), name); !strings.Contains(out.String(), want) {
			t.Errorf("said %q, want %q", out.String(), want)
		}
	}
	if !strings.Contains(said.String(), "samples | ") {
		t.Errorf("progress of both was not shown: %q", said.String())
	}
}

// A full disk is told, with how much is in the file.
func TestCaptureDiskFull(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("this system has no device that is always full:", err)
	}
	dir := t.TempDir()
	from := made(t, dir, 20000)
	var out, said spoken
	c := capture{app: &App{Stdout: &out, Stderr: &said}, began: time.Now()}
	if err := c.prepare(CaptureJob{Source: "replay:" + from + "#speed=0", To: filepath.Join(dir, "run.csv")}); err != nil {
		t.Fatal(err)
	}
	c.recs[0].file.Close()
	c.recs[0].file = full
	if exit := c.run(t.Context()); exit != Wrong {
		t.Errorf("exit %d", exit)
	}
	if !strings.Contains(said.String(), "the disk is full; 0 samples are in") {
		t.Errorf("said %q", said.String())
	}
}

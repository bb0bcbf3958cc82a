package app

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// served starts a server on a folder of its own and returns its address, what it
// wrote, and how to stop it.
func served(t *testing.T, job ServeJob) (address string, stop func() (Exit, string)) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready := make(chan string, 1)
	job.Listen, job.ready = "127.0.0.1:0", func(a string) { ready <- a }
	var out, errs bytes.Buffer
	a := &App{Stdout: &out, Stderr: &errs, Version: "test"}
	exit := make(chan Exit, 1)
	go func() { exit <- a.Serve(ctx, job) }()
	stop = sync.OnceValues(func() (Exit, string) {
		cancel()
		return <-exit, errs.String()
	})
	t.Cleanup(func() { stop() })
	select {
	case address = <-ready:
	case e := <-exit:
		exit <- e
		t.Fatalf("the server ended with %d: %s", e, errs.String())
	case <-time.After(30 * time.Second):
		t.Fatal("the server does not start")
	}
	return address, stop
}

// What was booked in is there again after a stop, streams end with the server,
// and a second server on the same folder says so and touches nothing.
func TestServe(t *testing.T) {
	folder := t.TempDir()
	address, stop := served(t, ServeJob{Data: folder, Example: "../../examples/inline-three"})
	get := func(address, way string) string {
		t.Helper()
		res, err := http.Get(address + way)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if heads := get(address, "api/heads"); !strings.Contains(heads, `"number":"EX-3"`) {
		t.Errorf("the example is not booked in: %s", heads)
	}
	stream, err := http.Get(address + "api/events")
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()

	var errs bytes.Buffer
	second := &App{Stdout: io.Discard, Stderr: &errs, Version: "test"}
	if e := second.Serve(context.Background(), ServeJob{Listen: "127.0.0.1:0", Data: folder}); e != Wrong || !strings.Contains(errs.String(), "another seatproof has these records open") {
		t.Errorf("a second server on one folder: exit %d, %q", e, errs.String())
	}

	began := time.Now()
	if e, said := stop(); e != Answered {
		t.Errorf("stopping: exit %d: %s", e, said)
	}
	if d := time.Since(began); d > 8*time.Second {
		t.Errorf("stopping took %v with a stream open", d)
	}
	address, _ = served(t, ServeJob{Data: folder})
	if heads := get(address, "api/heads"); !strings.Contains(heads, `"number":"EX-3"`) {
		t.Errorf("after a stop the head is gone: %s", heads)
	}
}

func TestServeRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := writeFile(file, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		job  ServeJob
		says string
	}{
		{"a file for a folder", ServeJob{Listen: "127.0.0.1:0", Data: file}, "--data"},
		{"no address", ServeJob{Listen: "nowhere", Data: t.TempDir()}, "--listen nowhere"},
	} {
		var errs bytes.Buffer
		a := &App{Stdout: io.Discard, Stderr: &errs}
		if e := a.Serve(context.Background(), c.job); e != Wrong || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%s: exit %d, %q", c.name, e, errs.String())
		}
	}
}

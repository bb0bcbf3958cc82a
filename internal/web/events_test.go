package web

import (
	"bufio"
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"seatproof/rig"
)

// A stream that was quiet for longer than a write may take still brings what is
// told next. A deadline of the last write, left standing, once broke it.
func TestStreamOutlivesQuiet(t *testing.T) {
	if testing.Short() {
		t.Skip("is quiet for longer than a write may take")
	}
	s, err := New(Config{Keeper: NewMemory(), Version: "test", ReadRig: func(string) (rig.Rig, []RigFault) { return rig.Rig{}, nil }, EditRig: func(text string, _ rig.Rig) (string, []RigFault) { return text, nil }})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { s.Run(ctx); close(done) }()
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(func() { cancel(); <-done; srv.Close() })
	res, err := http.Get(srv.URL + "/api/events")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	told := make(chan string, 16)
	go func() {
		defer close(told)
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			if text, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				told <- text
			}
		}
	}()
	next := func() string {
		select {
		case text := <-told:
			return text
		case <-time.After(5 * time.Second):
			return "nothing within 5 s"
		}
	}
	if text := next(); !strings.Contains(text, "seq") {
		t.Fatal("no hello:", text)
	}
	put, err := http.Post(srv.URL+"/api/rigs", "application/json", strings.NewReader(`{"name": "quiet rig"}`)) // a change that is kept sets a deadline
	if err != nil {
		t.Fatal(err)
	}
	put.Body.Close()
	if text := next(); !strings.Contains(text, `"rig"`) {
		t.Fatalf("a new rig was told as %q (status %d)", text, put.StatusCode)
	}
	time.Sleep(writePatience + 500*time.Millisecond)
	for range 2 {
		s.TellLive()
		if text := next(); !strings.Contains(text, `"live"`) {
			t.Fatalf("after the quiet came %q", text)
		}
	}
}

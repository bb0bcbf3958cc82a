package app

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"seatproof/internal/practise"
	"seatproof/internal/session"
	"seatproof/internal/store"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
)

type object = map[string]any

// stand is a server of the sheets on records in memory, with what runs tests.
type stand struct {
	t     testing.TB
	url   string
	live  *live
	store store.Store
	stop  func()
}

func newStand(t testing.TB, records store.Store, runs string) *stand {
	t.Helper()
	log := slog.New(slog.NewTextHandler(testWriter{t}, &slog.HandlerOptions{Level: slog.LevelWarn}))
	a := &App{Stdout: io.Discard, Stderr: io.Discard, Version: "test"}
	c := a.sheetsOn(records, log)
	l := newLive(runs, log)
	c.Live = l
	s, err := web.New(c)
	if err != nil {
		t.Fatal(err)
	}
	l.sheets = s
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { s.Run(ctx); close(done) }()
	l.resume(ctx)
	srv := httptest.NewServer(s.Handler())
	x := &stand{t: t, url: srv.URL, live: l, store: records}
	stopped := false
	x.stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		<-done
		stopCtx, end := context.WithTimeout(context.Background(), 20*time.Second)
		defer end()
		if err := l.Stop(stopCtx); err != nil {
			t.Error(err)
		}
		srv.Close()
	}
	t.Cleanup(x.stop)
	return x
}

type testWriter struct{ t testing.TB }

func (w testWriter) Write(p []byte) (int, error) {
	w.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}

// call asks the API and returns its answer.
func (x *stand) call(method, way string, body any, status int) object {
	x.t.Helper()
	var b io.Reader
	if body != nil {
		j, err := json.Marshal(body)
		if err != nil {
			x.t.Fatal(err)
		}
		b = bytes.NewReader(j)
	}
	r, err := http.NewRequest(method, x.url+"/api/"+way, b)
	if err != nil {
		x.t.Fatal(err)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		x.t.Fatal(err)
	}
	defer res.Body.Close()
	var out object
	if err := json.NewDecoder(res.Body).Decode(&out); err != nil {
		x.t.Fatalf("%s %s: %v", method, way, err)
	}
	if res.StatusCode != status {
		x.t.Fatalf("%s %s: status %d, want %d: %v", method, way, res.StatusCode, status, out)
	}
	return out
}

// at goes down an answer: "run.view.stage".
func at(t testing.TB, o any, path string) any {
	t.Helper()
	for key := range strings.SplitSeq(path, ".") {
		m, ok := o.(object)
		if !ok {
			t.Fatalf("%s: there is no %s in %v", path, key, o)
		}
		o = m[key]
	}
	return o
}

// head books in a head of eight ports.
func (x *stand) head() string {
	x.t.Helper()
	r := x.call("POST", "heads", object{"number": "PR-8", "layout": object{
		"kind": "inline", "cylinders": 4, "valves": 4, "bore": "80", "intake_head": "30", "exhaust_head": "26", "unit": "mm",
	}}, 201)
	return at(x.t, r, "head.id").(string)
}

// until waits until ok holds of the run as it is shown.
func (x *stand) until(what string, within time.Duration, ok func(n web.LiveNow) bool) web.LiveNow {
	x.t.Helper()
	end := time.Now().Add(within)
	for {
		n, there := x.live.Now()
		if there && ok(n) {
			return n
		}
		if time.Now().After(end) {
			b, _ := json.Marshal(n.View)
			x.t.Fatalf("not within %v: %s; the run stands at %s", within, what, b)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

func over(n web.LiveNow) bool { return n.View.Stage == session.Over }

// settled says that the run is over, read and filed.
func (x *stand) settled(n web.LiveNow) bool {
	if !over(n) || len(n.Records) != len(n.View.Filed) {
		return false
	}
	for _, f := range n.View.Filed {
		if f.Estimate == nil {
			return false
		}
	}
	r := x.live.current.Load()
	return r.filer.idle() && r.estimate.idle()
}

// thinned is a kept trace in a hundred lines or so, and every line beside a gap: what
// a test that fails once in a dozen runs leaves to look at.
func (x *stand) thinned(blob string) string {
	res, err := http.Get(x.url + "/api/blobs/" + blob)
	if err != nil {
		return err.Error()
	}
	defer res.Body.Close()
	text, _ := io.ReadAll(res.Body)
	lines := strings.Split(string(text), "\n")
	var out []string
	last := 0.0
	for i, l := range lines {
		var at float64
		_, err := fmt.Sscanf(l, "%g", &at)
		if err != nil || i%(1+len(lines)/100) == 0 || at-last > 0.2 {
			out = append(out, l)
		}
		last = at
	}
	return strings.Join(out, "\n")
}

// checkPorts fails where a result is under a port that is not its own: the true
// leak of each port, drawn about its own from test to test, must meet what was
// read of it. On a bad line a test may be cut short, or refused.
func (x *stand) checkPorts(n web.LiveNow, job string, ports []practise.Port, badLine bool) {
	x.t.Helper()
	true_ := map[string]float64{}
	for _, p := range ports {
		for _, v := range p.Valves {
			true_[p.ID] += v.Leak
		}
	}
	tests := x.call("GET", "tests?job="+job, nil, 200)["tests"].([]any)
	byID := map[string]object{}
	for _, raw := range tests {
		byID[raw.(object)["id"].(string)] = raw.(object)
	}
	seen, answered := map[string]int{}, map[string]bool{}
	for _, f := range n.View.Filed {
		seen[f.Port]++
		if f.Port == string(session.OnBlank) || f.Port == string(session.OnKnown) {
			continue
		}
		rec := byID[n.Records[f.Test].ID]
		if rec == nil {
			x.t.Errorf("test %d of %s has no record", f.Test, f.Port)
			continue
		}
		if rec["port"] != f.Port || rec["source"] != "session" {
			x.t.Errorf("test %d of %s: its record is under %v, from %v", f.Test, f.Port, rec["port"], rec["source"])
		}
		if badLine && (f.Interrupted || f.Estimate.Leak == nil) {
			continue
		}
		answered[f.Port] = true
		if f.Estimate.Leak == nil {
			x.t.Errorf("test %d of %s: no reading: %s", f.Test, f.Port, f.Estimate.Refusal)
			continue
		}
		// tests scatter by 0.2 in the logarithm: four of it
		if low, high := f.Estimate.Leak.Low/2.3, f.Estimate.Leak.High*2.3; true_[f.Port] < low || true_[f.Port] > high {
			x.t.Errorf("test %d of %s: read %.3g to %.3g, the port leaks %.3g cm³/min", f.Test, f.Port, f.Estimate.Leak.Low*6e7, f.Estimate.Leak.High*6e7, true_[f.Port]*6e7)
			x.t.Logf("its trace, thinned:\n%s", x.thinned(rec["trace"].(string)))
		}
	}
	for _, p := range ports {
		if seen[p.ID] == 0 {
			x.t.Errorf("port %s was not tested", p.ID)
		}
	}
	if len(answered) < 6 {
		x.t.Errorf("only of %d ports is there a reading", len(answered))
	}
}

// A practice run of a head of eight ports through the whole of it: blank and
// known leak, every third port twice, each result under its own port and in the
// records, the checks with the rig, within ten minutes of its time.
func TestPracticeRun(t *testing.T) {
	x := newStand(t, mem.New(), t.TempDir())
	job := x.head()
	stream, err := http.Get(x.url + "/api/live/events")
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	type frame struct {
		T      float64
		Points [][2]float64
		Run    *struct{ ID string }
		Say    []struct{ Code, Words, Speak string }
		Fit    *struct{ Points [][2]float64 }
	}
	frames := make(chan frame, 100000)
	go func() {
		defer close(frames)
		lines := bufio.NewReader(stream.Body)
		for {
			line, err := lines.ReadString('\n')
			if err != nil {
				return
			}
			if data, ok := strings.CutPrefix(line, "data: "); ok {
				var f frame
				if err := json.Unmarshal([]byte(data), &f); err != nil {
					t.Error(err)
				}
				frames <- f
			}
		}
	}()
	r := x.call("POST", "live", object{"job": job, "practise": object{"speed": 40, "faults": []string{}}, "conditions": object{"held": "own-spring", "wet_with": "nothing", "guide": "open", "plugged": "yes", "state": "as-found", "masked": []string{}}, "by": "LM"}, 201)
	if at(t, r, "run.practise") != true || at(t, r, "run.view.target_name") != "the blank" {
		t.Errorf("begun as %v", r)
	}
	x.call("POST", "live", object{"job": job, "practise": object{"speed": 40}}, 409)
	ports := x.live.current.Load().pretend.kept.Ports
	n := x.until("the run is over and filed", 4*time.Minute, x.settled)
	if n.View.Now > 600 {
		t.Errorf("it took %.0f s of its own time", n.View.Now)
	}
	t.Logf("%d tests in %.0f s of its time", len(n.View.Filed), n.View.Now)
	if c := n.View.Check; c.Blank != session.Passed || c.Known != session.Passed {
		t.Errorf("checks: %+v", c)
	}
	x.checkPorts(n, job, ports, false)
	tests := map[string]int{}
	for _, f := range n.View.Filed {
		tests[f.Port]++
	}
	for i, p := range ports {
		want := 1
		if (i+1)%3 == 0 {
			want = 2
		}
		if tests[p.ID] != want {
			t.Errorf("%s was tested %d times, want %d", p.ID, tests[p.ID], want)
		}
	}
	rigs := x.call("GET", "rigs/practice-rig", nil, 200)
	var kinds []string
	for _, c := range at(t, rigs, "rig.checks").([]any) {
		kinds = append(kinds, c.(object)["kind"].(string))
		if w := c.(object)["words"].(string); !strings.Contains(w, "cm³/min") || !strings.Contains(w, "passed") {
			t.Errorf("a check says %q", w)
		}
	}
	if !slices.Contains(kinds, "rig leak") || !slices.Contains(kinds, "known leak") {
		t.Errorf("checks of the rig: %v", kinds)
	}
	if got := x.call("GET", "live", nil, 200); got["run"] != nil || len(got["kinds"].([]any)) < 5 {
		t.Errorf("after the end: %v", got["run"])
	}
	x.stop()
	codes, points, fits, last := map[string]int{}, 0, 0, -1.0
	for f := range frames {
		points += len(f.Points)
		for _, p := range f.Points {
			if p[0] < last-1e-3 {
				t.Errorf("points go back from %g to %g s", last, p[0])
			}
			last = p[0]
		}
		if f.Fit != nil && len(f.Fit.Points) > 10 {
			fits++
		}
		for _, s := range f.Say {
			codes[s.Code]++
			if s.Words == "" {
				t.Errorf("%s is said without words", s.Code)
			}
		}
	}
	for _, c := range []string{"put-on", "pulling", "shut-off-now", "filed", "read", "blank-holds", "known-right", "call", "done"} {
		if codes[c] == 0 {
			t.Errorf("%s was never said: %v", c, codes)
		}
	}
	if points < 10000 || fits < 10 {
		t.Errorf("%d points and %d fits came", points, fits)
	}
}

package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// The job card of 32 valves with 300 tests: server time of one answer, drawing
// and all, on records in memory. What the estimator takes for a trace is measured
// in package leak.

// largeHead is eight cylinders of four valves with 300 counted tests.
type largeHead struct {
	*bed
	id    string
	ports []string
	n     int
}

func newLargeHead(b *testing.B) *largeHead {
	l := &largeHead{bed: newBed(b)}
	h := call(b, l.bed, "POST", "heads", obj{"number": "L-1", "layout": obj{"kind": "inline", "cylinders": 8, "valves": 4, "bore": "86"}}, 201)
	l.id = at(b, h, "head.id").(string)
	for i := range 16 {
		l.ports = append(l.ports, at(b, h, fmt.Sprintf("head.ports.%d.id", i)).(string))
	}
	for range 300 {
		l.ask(b, "POST", "tests", l.test())
	}
	return l
}

// test is the next test: another port, other readings, a guide closed at times.
func (l *largeHead) test() obj {
	i := l.n
	l.n++
	t := counted(l.id, l.ports[i%len(l.ports)], "21½", []string{"21¼", "20", "21", "12", "20½"}[i%5])
	if i%3 == 0 {
		t["conditions"].(obj)["guide"] = "closed-off"
	}
	return t
}

// ask asks the handler itself, with no network between.
func (l *largeHead) ask(b *testing.B, method, way string, body obj) obj {
	b.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		b.Fatal(err)
	}
	rec := httptest.NewRecorder()
	r := httptest.NewRequest(method, l.URL+"/api/"+way, strings.NewReader(string(text)))
	r.RemoteAddr = "127.0.0.1:1" // other machines are not let in
	here := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 2}
	l.Config.Handler.ServeHTTP(rec, r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, here)))
	if rec.Code >= http.StatusBadRequest {
		b.Fatalf("%s %s: %d %s", method, way, rec.Code, rec.Body)
	}
	if method == "GET" {
		return nil
	}
	var out obj
	if err := json.Unmarshal(rec.Body.Bytes(), &out); err != nil {
		b.Fatal(err)
	}
	return out
}

// flip takes a record out of the lists or puts it back: a change each time, of
// which no records pile up.
func (l *largeHead) flip(b *testing.B, kind, id string) {
	b.Helper()
	d, err := l.keeper.Get(context.Background(), kind, id)
	if err != nil {
		b.Fatal(err)
	}
	d.Binned = !d.Binned
	if _, err := l.keeper.Put(context.Background(), d); err != nil {
		b.Fatal(err)
	}
}

func (l *largeHead) card(b *testing.B) { l.ask(b, "GET", "heads/"+l.id+"?width=810", nil) }

// BenchmarkCardCached: nothing changed since the last answer.
func BenchmarkCardCached(b *testing.B) {
	l := newLargeHead(b)
	for b.Loop() {
		l.card(b)
	}
}

// BenchmarkCardAfterTest: a test that was read before came or went.
func BenchmarkCardAfterTest(b *testing.B) {
	l := newLargeHead(b)
	id := at(b, l.ask(b, "POST", "tests", l.test()), "test.id").(string)
	for b.Loop() {
		b.StopTimer()
		l.flip(b, kindTest, id)
		b.StartTimer()
		l.card(b)
	}
}

// BenchmarkCardAfterWork: work on one valve came or went.
func BenchmarkCardAfterWork(b *testing.B) {
	l := newLargeHead(b)
	l.ask(b, "POST", "heads/"+l.id+"/work", obj{"valves": []string{"v1"}, "kind": "lapped"})
	work, err := l.keeper.List(context.Background(), Query{Kind: kindWork, JobID: l.id})
	if err != nil || len(work) != 1 {
		b.Fatal(len(work), err)
	}
	for b.Loop() {
		b.StopTimer()
		l.flip(b, kindWork, work[0].ID)
		b.StartTimer()
		l.card(b)
	}
}

// BenchmarkFileTest: a test of two readings is filed, read and answered with the
// card.
func BenchmarkFileTest(b *testing.B) {
	l := newLargeHead(b)
	for b.Loop() {
		r := l.ask(b, "POST", "tests", l.test())
		b.StopTimer()
		l.flip(b, kindTest, at(b, r, "test.id").(string))
		b.StartTimer()
	}
}

package app

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/practise"
	"seatproof/internal/session"
	"seatproof/internal/session/journal"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
	"seatproof/trace"
	"seatproof/unit"
)

// How soon what comes over a TCP connection at 100 samples a second is with who
// watches: from before the write to after the frame is read. Every second sample is 9 kPa above its neighbours, so that a mean of some is known as such,
// and none of it can be taken for the room.
func BenchmarkWireToFrame(t *testing.B) {
	const n = 1390
	var mu sync.Mutex
	var sent [n]time.Time
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	begin := make(chan struct{})
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for k := 0; k < n; {
			<-tick.C
			select {
			case <-begin:
			default:
				if _, err := fmt.Fprintf(c, "vacuum=%d.000 kPa\r\n", 50+k%2); err != nil {
					return
				}
				continue
			}
			mu.Lock()
			sent[k] = time.Now()
			mu.Unlock()
			if _, err := fmt.Fprintf(c, "vacuum=%.3f kPa\r\n", float64(30+9*(k%2))+float64(k)/1000); err != nil {
				return
			}
			k++
		}
		time.Sleep(time.Second)
	}()
	x := newStand(t, mem.New(), t.TempDir())
	x.call("PUT", "settings", object{"vacuum_unit": "kPa"}, 200)
	job := x.head()
	x.call("POST", "live", object{"job": job, "sources": []string{"tcp://" + l.Addr().String() + "#unit=kPa,reads=vacuum"}, "conditions": conditions}, 201)
	res, err := http.Get(x.url + "/api/live/events")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	var late []time.Duration
	next, frames := 0, 0
	lines := bufio.NewReader(res.Body)
	close(begin)
	for end := time.Now().Add(40 * time.Second); next < n-2; {
		if time.Now().After(end) {
			t.Fatalf("%d of %d samples came", next, n)
		}
		line, err := lines.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		data, ok := strings.CutPrefix(line, "data: ")
		if !ok {
			continue
		}
		var f struct{ Points [][2]float64 }
		if err := json.Unmarshal([]byte(data), &f); err != nil {
			t.Fatal(err)
		}
		newest := -1
		for _, p := range f.Points {
			switch v := p[1]; {
			case v >= 30 && v < 31.4:
				newest = int(1000*(v-30) + 0.5)
			case v >= 33 && v < 34.4: // the mean of three
				newest = int(1000*(v-33)+0.5) + 1
			case v >= 34.5 && v < 35.9: // of two
				newest = int(1000*(v-34.5) + 0.6)
			case v >= 36 && v < 37.4:
				newest = int(1000*(v-36)+0.5) + 1
			case v >= 39 && v < 40.4:
				newest = int(1000*(v-39) + 0.5)
			}
		}
		frames++
		for ; next <= newest && next < n; next++ {
			mu.Lock()
			late = append(late, now.Sub(sent[next]))
			mu.Unlock()
		}
	}
	slices.Sort(late)
	p50, p99 := late[len(late)/2], late[len(late)*99/100]
	ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
	t.ReportMetric(ms(p50), "p50-ms")
	t.ReportMetric(ms(p99), "p99-ms")
	t.ReportMetric(ms(late[len(late)-1]), "max-ms")
	t.ReportMetric(float64(len(late))/float64(frames), "samples/frame")
}

// One operation is one second of 16 sources at 1,000 samples a second through
// the driver: journal, session, readings, filing, one who watches. With -cpu 1
// its time is the share of one core.
func BenchmarkSixteenSources(b *testing.B) {
	x := newStand(b, mem.New(), "")
	job := x.head()
	j, err := practiceHead(context.Background(), "4x4")
	if err != nil {
		b.Fatal(err)
	}
	set := practise.Setup{Ports: practise.HeadOf(&j, 3), Seed: 3, Rate: 1000}
	rigged, err := practise.New(set)
	if err != nil {
		b.Fatal(err)
	}
	// one test of 30 s, again and again
	const long = 30.0
	var wave []float64
	steps := []struct {
		at float64
		do func(float64) error
	}{{3, rigged.Pump}, {8, rigged.ShutOff}, {26, rigged.Vent}}
	if err := rigged.Put(0, "p1"); err != nil {
		b.Fatal(err)
	}
	for k := range int(long * 1000) {
		at := float64(k) / 1000
		if len(steps) > 0 && at >= steps[0].at {
			if err := steps[0].do(at); err != nil {
				b.Fatal(err)
			}
			steps = steps[1:]
		}
		wave = append(wave, rigged.Shown(at))
	}
	r := &liveRun{live: x.live, id: "bench", began: time.Now(), inbox: make(chan liveInput, 1024), records: map[int]web.LiveRecord{}, filed: map[int]session.FileTest{}}
	r.is = web.LiveRun{ID: r.id, Job: job, Number: "PR-8"}
	r.prepare()
	if r.writer, err = journal.Create(filepath.Join(b.TempDir(), "journal")); err != nil {
		b.Fatal(err)
	}
	g := practise.Stated()
	g.Port.Volume = unit.About(100e-6, 10e-6)
	plan := session.Plan{Run: r.id, Started: r.began.UnixMilli(), Rig: g, Ports: []session.Port{{ID: "p1", Name: "cylinder 1 intake", Limit: 4e-7}}}
	for i := range 16 {
		plan.Sources = append(plan.Sources, session.SourcePlan{Name: fmt.Sprint("gauge ", i+1), Reads: trace.Vacuum, Step: 50})
	}
	r.is.Plan = plan
	x.live.current.Store(r)
	r.handle(session.Begin{Plan: plan})
	r.handle(session.Key{Do: session.Skip})
	r.handle(session.Key{Do: session.Skip})
	r.start()
	reader := x.live.Join()
	defer reader.Leave()
	k := 0
	for b.Loop() {
		for range 50 {
			for i := range 16 {
				e := session.Samples{Source: i, At: make([]float64, 20), Value: make([]float64, 20)}
				for n := range 20 {
					e.At[n] = float64(k+n) / 1000
					e.Value[n] = wave[(k+n)%len(wave)]
				}
				r.put(e)
			}
			k += 20
			reader.Take()
		}
		if err := r.wait(r.ctx, session.Tick{}); err != nil {
			b.Fatal(err)
		}
		await(r.ctx, r.estimate.idle)
	}
	n, _ := x.live.Now()
	b.ReportMetric(float64(len(n.View.Filed)), "tests")
	b.ReportMetric(float64(k)/1000, "s-of-session")
}

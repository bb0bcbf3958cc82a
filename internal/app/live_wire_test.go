package app

import (
	"context"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/practise"
	"seatproof/internal/session"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
)

// wired is a make-believe rig that speaks over TCP, with a person at it who does
// what the run on a stand says, hurry times as fast as real.
type wired struct {
	address string
	beside  string // of a second line to the same gauge, a good one
	feed    *practise.Feed
	set     practise.Setup
}

func wire(t testing.TB, x *stand, job string, hurry float64, speech string, faults ...practise.Fault) *wired {
	t.Helper()
	x.live.hurry = hurry
	set := practise.Setup{Seed: 11, Rate: 50, Faults: faults}
	j, err := practiceHead(context.Background(), "4x4")
	if err != nil {
		t.Fatal(err)
	}
	set.Ports = practise.HeadOf(&j, 11)
	b, err := practise.New(set)
	if err != nil {
		t.Fatal(err)
	}
	p := newPerson(b, 11)
	feed := &practise.Feed{Bench: b, Speed: hurry}
	feed.Act = func(at float64) error {
		n, ok := x.live.Now()
		if !ok || n.View.Target == "" {
			return nil
		}
		p.steps = n.Run.Plan.Steps
		return p.act(at, n.View, func(k session.Key) error {
			_ = x.live.Key(context.Background(), k)
			return nil
		})
	}
	s, err := practise.SpeechNamed(speech)
	if err != nil {
		t.Fatal(err)
	}
	w, err := practise.ListenTCP("127.0.0.1:0", s, practise.LineOf(set), feed)
	if err != nil {
		t.Fatal(err)
	}
	good, err := practise.ListenTCP("127.0.0.1:0", s, practise.LineOf(practise.Setup{Seed: set.Seed, Rate: set.Rate}), feed)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { _ = good.Serve(ctx, nil) })
	running.Go(func() { _ = feed.Run(ctx) })
	running.Go(func() { _ = w.Serve(ctx, nil) })
	t.Cleanup(func() { cancel(); running.Wait() })
	return &wired{w.Address(), good.Address(), feed, set}
}

// Over a real connection with bytes garbled, a board that starts again and a
// cable that is pulled, the run lives on to its end, each port's result is its
// own, and what the line did is counted. A second gauge is recorded beside it.
func TestBadWire(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a head over a TCP connection for most of a minute")
	}
	t.Parallel() // it waits most of the time
	x := newStand(t, mem.New(), t.TempDir())
	job := x.head()
	w := wire(t, x, job, 8, "timed",
		practise.Fault{Name: practise.NoisyLine, Strength: 0.002}, practise.Fault{Name: practise.BoardRestarts, Strength: 70}, practise.Fault{Name: practise.UnpluggedCable, Strength: 17})
	x.call("POST", "live", object{"job": job, "sources": []string{w.address + "#pattern=csv"}}, 422)
	x.call("POST", "live", object{"job": job, "sources": []string{w.address + "#unit=kPa,reads=vacuum", w.beside + "#unit=kPa,reads=vacuum"}, "known": "60 ± 3", "conditions": conditions}, 201)
	n := x.until("the run is over and filed", 100*time.Second, x.settled)
	g := n.View.Gauges[0]
	t.Logf("%d tests in %.0f s of its time; the gauge told %v", len(n.View.Filed), n.View.Now, g.Troubles)
	if g.Troubles["garbage"]+g.Troubles["half-line"]+g.Troubles["out-of-range"] == 0 || g.Troubles["lost"] == 0 {
		t.Errorf("the line's faults were not told: %v", g.Troubles)
	}
	x.checkPorts(n, job, w.set.Ports, true)
	for _, raw := range x.call("GET", "tests?job="+job, nil, 200)["tests"].([]any) {
		rec := raw.(object)
		beside := rec["beside"].([]any)
		if len(beside) != 1 {
			t.Errorf("test %s: %v is recorded beside it", rec["id"], beside)
			continue
		}
		of := beside[0].(object)["trace"].(string)
		res, err := http.Get(x.url + "/api/blobs/" + of)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := io.ReadAll(res.Body)
		res.Body.Close()
		if of == rec["trace"] || strings.Count(string(b), "\n") < 100 {
			t.Errorf("test %s: beside it stands %.200q", rec["id"], b)
		}
	}
}

var conditions = object{"held": "own-spring", "wet_with": "nothing", "guide": "open", "turned": false, "placed": true, "plugged": "yes", "state": "as-found", "masked": []string{}}

// A source that goes away is said to be gone and its last figure is not shown
// as now; when it is there again the run goes on by itself.
func TestSourceVanishes(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	place := l.Addr().String()
	speak := func(l net.Listener) (stop func()) {
		ctx, cancel := context.WithCancel(context.Background())
		var running sync.WaitGroup
		running.Go(func() {
			for {
				c, err := l.Accept()
				if err != nil {
					return
				}
				running.Go(func() {
					defer c.Close()
					for ctx.Err() == nil {
						if _, err := c.Write([]byte("vacuum=0.120 kPa\r\n")); err != nil {
							return
						}
						time.Sleep(20 * time.Millisecond)
					}
				})
			}
		})
		return func() { cancel(); l.Close(); running.Wait() }
	}
	stop := speak(l)
	x := newStand(t, mem.New(), t.TempDir())
	job := x.head()
	x.call("POST", "live", object{"job": job, "sources": []string{"tcp://" + place + "#unit=kPa,reads=vacuum"}, "conditions": conditions}, 201)
	fresh := func(n web.LiveNow) bool { return n.View.Gauges[0].Vacuum != nil && n.View.Gauges[0].Error == "" }
	x.until("the gauge shows", 10*time.Second, fresh)
	stop()
	n := x.until("the gauge is gone", 10*time.Second, func(n web.LiveNow) bool { return n.View.Gauges[0].Error != "" })
	if n.View.Gauges[0].Vacuum != nil || n.View.Gauges[0].Shown != nil {
		t.Errorf("an old figure is shown as new: %+v", n.View.Gauges[0])
	}
	shown := x.call("GET", "live", nil, 200)
	if g := at(t, shown, "run.view.gauges").([]any)[0].(object); !strings.Contains(g["says"].(string), "cable") || g["text"] != "" {
		t.Errorf("shown as %v", g)
	}
	l, err = net.Listen("tcp", place)
	if err != nil {
		t.Fatal(err)
	}
	stop = speak(l)
	defer stop()
	x.until("the gauge shows again", 20*time.Second, fresh)
	x.call("POST", "live/key", object{"do": "finish"}, 200)
	x.call("POST", "live/key", object{"do": "dance"}, 422)
}

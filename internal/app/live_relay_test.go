package app

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/practise"
	"seatproof/internal/session"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
)

// relayed is a make-believe rig whose pump and shut-off valve a relay runs, by
// HTTP calls, with nobody at it.
type relayed struct {
	mu          sync.Mutex
	pump, valve bool
	calls       []string
	relay, tcp  string
}

func (x *relayed) is() (pump, valve bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.pump, x.valve
}

func newRelayed(t *testing.T) *relayed {
	t.Helper()
	j, err := practiceHead(context.Background(), "4x4")
	if err != nil {
		t.Fatal(err)
	}
	b, err := practise.New(practise.Setup{Seed: 3, Rate: 50, Ports: practise.HeadOf(&j, 3)})
	if err != nil {
		t.Fatal(err)
	}
	x := &relayed{}
	srv := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		x.mu.Lock()
		defer x.mu.Unlock()
		x.calls = append(x.calls, r.URL.Path)
		switch on := strings.HasSuffix(r.URL.Path, "/on"); {
		case strings.HasPrefix(r.URL.Path, "/pump"):
			x.pump = on
		default:
			x.valve = on
		}
	}))
	t.Cleanup(srv.Close)
	x.relay = "relay-" + srv.URL + "#pump_on=/pump/on,pump_off=/pump/off,valve_on=/valve/on,valve_off=/valve/off,heartbeat=1s"
	if err := b.Put(0, practise.Blank); err != nil {
		t.Fatal(err)
	}
	draws := false
	feed := &practise.Feed{Bench: b, Act: func(at float64) error {
		pump, valve := x.is()
		if now := pump && valve; now != draws {
			if draws = now; now {
				return b.Pump(at)
			}
			return b.ShutOff(at)
		}
		return nil
	}}
	s, err := practise.SpeechNamed("named")
	if err != nil {
		t.Fatal(err)
	}
	w, err := practise.ListenTCP("127.0.0.1:0", s, nil, feed)
	if err != nil {
		t.Fatal(err)
	}
	x.tcp = w.Address()
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { _ = feed.Run(ctx) })
	running.Go(func() { _ = w.Serve(ctx, nil) })
	t.Cleanup(func() { cancel(); running.Wait() })
	return x
}

// A relay pulls when it is asked to, shuts off when the vacuum is steady, and is
// off when nobody watches and when the run ends.
func TestRelayRunsThePump(t *testing.T) {
	if testing.Short() {
		t.Skip("pulls a port in real time, for a quarter of a minute")
	}
	x := newStand(t, mem.New(), "")
	rig := newRelayed(t)
	job := x.head()
	x.call("POST", "live/relay", object{"do": "pull"}, 409) // no run yet
	x.call("POST", "live", object{"job": job, "sources": []string{rig.tcp}, "relay": "relay-pigeon:x"}, 422)
	x.call("POST", "live", object{"job": job, "sources": []string{rig.tcp}, "relay": rig.relay, "conditions": conditions}, 201)
	watcher := x.live.Join()
	off := func(what string) {
		t.Helper()
		for range 100 {
			if pump, valve := rig.is(); !pump && !valve {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
		t.Fatalf("%s, and the pump still runs: %v", what, rig.calls)
	}
	relayIs := func(state string) func(web.LiveNow) bool {
		return func(n web.LiveNow) bool { return n.Run.Relay != nil && n.Run.Relay.State == state }
	}
	x.until("all is off at first", 5*time.Second, relayIs("off"))
	x.until("the gauge is vented", 5*time.Second, func(n web.LiveNow) bool { return string(n.View.Gauges[0].Phase) == "vented" })
	x.call("POST", "live/relay", object{"do": "sing"}, 400)
	x.call("POST", "live/relay", object{"do": "pull"}, 200)
	x.until("the pump pulls", 5*time.Second, relayIs("pulling"))
	n := x.until("it was shut off by itself", 20*time.Second, func(n web.LiveNow) bool { return n.View.Test != nil && n.View.Test.Held > 0.5 })
	off("the vacuum was steady")
	if n.View.Stage != session.OnBlank || n.View.Test.Deepest < 60e3 {
		t.Errorf("the pull came to %+v", n.View.Test)
	}
	// pulled again, and the one who watches goes away
	x.call("POST", "live/relay", object{"do": "pull"}, 200)
	x.until("the pump pulls again", 5*time.Second, func(web.LiveNow) bool { p, v := rig.is(); return p && v })
	watcher.Leave()
	off("nobody watched")
	x.call("POST", "live/key", object{"do": "finish"}, 200)
	x.stop()
	off("the run ended")
}

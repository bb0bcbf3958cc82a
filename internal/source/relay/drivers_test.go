package relay

import (
	"context"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	bus "github.com/simonvetter/modbus"

	"seatproof/internal/source"
	"seatproof/internal/source/broker"
	"seatproof/internal/source/mqtt"
)

func openText(t *testing.T, text string) (Driver, Settings) {
	t.Helper()
	a, err := source.ParseAddress(text)
	if err != nil {
		t.Fatal(err)
	}
	d, s, err := Open(a)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = d.Close() })
	return d, s
}

// switches gives every order and wants each to come to want.
func switches(t *testing.T, d Driver, want Result, see func(Order)) {
	t.Helper()
	for _, o := range []Order{{Pump, false}, {Valve, false}, {Valve, true}, {Pump, true}, {Valve, false}, {Pump, false}} {
		ctx, cancel := context.WithTimeout(context.Background(), orderTime)
		got, err := d.Set(ctx, o)
		cancel()
		if got != want || err != nil {
			t.Fatalf("%s: got %v, %v, want %v", o, got, err, want)
		}
		see(o)
	}
}

// fails wants an order to fail.
func fails(t *testing.T, d Driver, part string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), orderTime)
	defer cancel()
	began := time.Now()
	got, err := d.Set(ctx, Order{Pump, false})
	if got != Failed || err == nil || !strings.Contains(err.Error(), part) {
		t.Errorf("got %v, %v, want a failure with %q", got, err, part)
	}
	if time.Since(began) > orderTime+time.Second {
		t.Errorf("took %v", time.Since(began))
	}
}

func TestHTTP(t *testing.T) {
	var mu sync.Mutex
	var asked []string
	status, answer := 200, `{"ison":true}`
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		asked = append(asked, r.Method+" "+r.URL.String())
		w.WriteHeader(status)
		_, _ = io.WriteString(w, answer)
	}))
	defer s.Close()
	where := "relay-" + s.URL + "#longest=90s,pump_on=/relay/0?turn=on&timer={seconds},pump_off=/relay/0?turn=off,valve_on=/relay/1?turn=on,valve_off=/relay/1?turn=off"
	d, _ := openText(t, where)
	switches(t, d, Confirmed, func(o Order) {
		want := map[Order]string{{Pump, true}: "GET /relay/0?turn=on&timer=90", {Pump, false}: "GET /relay/0?turn=off", {Valve, true}: "GET /relay/1?turn=on", {Valve, false}: "GET /relay/1?turn=off"}[o]
		if got := asked[len(asked)-1]; got != want {
			t.Errorf("%s: asked for %s, want %s", o, got, want)
		}
	})
	d, _ = openText(t, where+`,method=post,answer_off="ison":false`)
	fails(t, d, "lacks")
	if got := asked[len(asked)-1]; got != "POST /relay/0?turn=off" {
		t.Errorf("asked for %s", got)
	}
	status = 302
	fails(t, d, "302")
	s.Close()
	fails(t, d, "refused")
}

// coils is a device with coils; welded ones stay as they are.
type coils struct {
	mu     sync.Mutex
	is     [4]bool
	welded bool
	slow   time.Duration
}

func (c *coils) HandleCoils(r *bus.CoilsRequest) ([]bool, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	time.Sleep(c.slow)
	if int(r.Addr)+int(r.Quantity) > len(c.is) || r.UnitId != 5 {
		return nil, bus.ErrIllegalDataAddress
	}
	if r.IsWrite && !c.welded {
		copy(c.is[r.Addr:], r.Args)
	}
	return slices.Clone(c.is[r.Addr : r.Addr+r.Quantity]), nil
}

func (c *coils) HandleDiscreteInputs(*bus.DiscreteInputsRequest) ([]bool, error) {
	return nil, bus.ErrIllegalFunction
}

func (c *coils) HandleHoldingRegisters(*bus.HoldingRegistersRequest) ([]uint16, error) {
	return nil, bus.ErrIllegalFunction
}

func (c *coils) HandleInputRegisters(*bus.InputRegistersRequest) ([]uint16, error) {
	return nil, bus.ErrIllegalFunction
}

func TestModbus(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	host := l.Addr().String()
	_ = l.Close()
	c := &coils{}
	s, err := bus.NewServer(&bus.ServerConfiguration{URL: "tcp://" + host, Logger: log.New(io.Discard, "", 0)}, c)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Stop() }()
	d, _ := openText(t, "relay-modbus://"+host+"#id=5,pump=2,valve=0,timeout=200ms")
	switches(t, d, Confirmed, func(o Order) {
		c.mu.Lock()
		defer c.mu.Unlock()
		if at := map[Output]int{Pump: 2, Valve: 0}[o.Output]; c.is[at] != o.On {
			t.Errorf("%s: coils %v", o, c.is)
		}
	})
	c.mu.Lock()
	c.is[2], c.welded = true, true
	c.mu.Unlock()
	fails(t, d, "reads back as before")
	c.mu.Lock()
	c.welded, c.slow = false, 300*time.Millisecond
	c.mu.Unlock()
	fails(t, d, "device 5 does not answer")
	c.mu.Lock()
	c.slow = 0
	c.mu.Unlock()
	switches(t, d, Confirmed, func(Order) {})
	other, _ := openText(t, "relay-modbus://"+host+"#id=5,pump=9")
	fails(t, other, "device 5 has no coil 9 (exception 2)")
}

// TestMQTT switches through the built-in broker with a relay that says what it
// did, and with one that says nothing.
func TestMQTT(t *testing.T) {
	b, err := broker.Start(broker.Settings{Listen: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = b.Close() }()
	host := b.Addr().String()
	server := func() mqtt.Server {
		s, _, err := mqtt.ServerOf(source.Address{Kind: "mqtt", Place: "//" + host}, false)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	ctx := context.Background()
	got := make(chan string, 100)
	relay := func(topic string, dumb bool) {
		out, err := server().Connect(ctx, "", 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		in, err := server().Connect(ctx, topic+"/set", 1, func(m mqtt.Message) {
			got <- topic + " " + string(m.Payload)
			if !dumb {
				_ = out.Publish(ctx, topic+"/state", []byte(strings.ToLower(string(m.Payload))+"\n"))
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { in.Close(); out.Close() })
	}
	relay("pump", false)
	relay("valve", false)
	where := "relay-mqtt://" + host + "#pump=pump/set,pump_on=ON,pump_off=OFF,valve=valve/set,valve_on=OPEN,valve_off=SHUT"
	for _, c := range []struct {
		more string
		want Result
	}{{"", Sent}, {",pump_state=pump/state,valve_state=valve/state", Confirmed}} {
		d, _ := openText(t, where+c.more)
		switches(t, d, c.want, func(o Order) {
			want := map[Order]string{{Pump, true}: "pump ON", {Pump, false}: "pump OFF", {Valve, true}: "valve OPEN", {Valve, false}: "valve SHUT"}[o]
			if s := <-got; s != want {
				t.Errorf("%s: got %q", o, s)
			}
		})
	}
	d, _ := openText(t, where+",pump_state=nobody/there")
	fails(t, d, "does not say on nobody/there")
	<-got

	// the connection breaks off in the middle of a pull: the broker switches off
	d, _ = openText(t, strings.Replace(where, host, broken(t, host), 1))
	if r, err := d.Set(ctx, Order{Pump, true}); r != Sent || err != nil {
		t.Fatal(r, err)
	}
	if s := <-got; s != "pump ON" {
		t.Errorf("got %q", s)
	}
	cut()
	select {
	case s := <-got:
		if s != "pump OFF" {
			t.Errorf("got %q", s)
		}
	case <-time.After(20 * time.Second):
		t.Error("the will was not done")
	}
}

var cut func()

// broken is a way to the broker that cut breaks off.
func broken(t *testing.T, host string) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	var conns []net.Conn
	cut = func() {
		_ = l.Close()
		mu.Lock()
		defer mu.Unlock()
		for _, c := range conns {
			_ = c.Close()
		}
	}
	t.Cleanup(func() { cut(); wg.Wait() })
	wg.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			b, err := net.Dial("tcp", host)
			if err != nil {
				_ = c.Close()
				return
			}
			mu.Lock()
			conns = append(conns, c, b)
			mu.Unlock()
			wg.Go(func() { _, _ = io.Copy(b, c) })
			wg.Go(func() { _, _ = io.Copy(c, b) })
		}
	})
	return l.Addr().String()
}

func TestKinds(t *testing.T) {
	for _, k := range Kinds() {
		a, err := source.ParseAddress(k.Example)
		if err != nil || a.Kind != k.Name {
			t.Fatalf("%s: %v", k.Example, err)
		}
		d, s, err := Open(a)
		if err != nil {
			t.Errorf("%s: %v", k.Example, err)
			continue
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		if s.Longest <= 0 || s.Heartbeat <= 0 || s.NoValve == strings.Contains(k.Example, "valve") {
			t.Errorf("%s: %+v", k.Example, s)
		}
		seen := map[string]bool{}
		for _, o := range k.Options {
			if o.Words == "" || seen[o.Key] || strings.Contains(o.Words, "%!") {
				t.Errorf("%s: option %s has no words or is there twice: %s", k.Name, o.Key, o.Words)
			}
			seen[o.Key] = true
		}
	}
}

// Every address in the page opens, and the page names every option.
func TestPage(t *testing.T) {
	b, err := os.ReadFile("../../../" + page)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]bool{}
	for line := range strings.Lines(string(b)) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "relay-") {
			openText(t, line)
			kind, _, _ := strings.Cut(line, ":")
			kinds[kind] = true
		}
	}
	if len(kinds) < 5 {
		t.Errorf("only %v have an example", kinds)
	}
	mqttPage, err := os.ReadFile("../../../docs/sources/mqtt.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range Kinds() {
		if !strings.Contains(string(b), "`"+k.Name+":`") {
			t.Errorf("the page lacks %s", k.Name)
		}
		for _, o := range k.Options {
			// pump_on stands for all of its sort
			if strings.HasSuffix(o.Key, "_on") || strings.HasSuffix(o.Key, "_off") {
				continue
			}
			if name := "`" + o.Key + "`"; !strings.Contains(string(b), name) && !(strings.HasPrefix(k.Name, "relay-mqtt") && strings.Contains(string(mqttPage), name)) {
				t.Errorf("the page lacks the option %s of %s", o.Key, k.Name)
			}
		}
	}
}

func TestFaults(t *testing.T) {
	for text, key := range map[string]string{
		"relay-smoke://h#pump=1":                                    "",
		"relay-http://h#pump_on=/a":                                 "pump_off",
		"relay-http://h#pump_on=/a,pump_off=/a":                     "pump_off",
		"relay-http://h#pump_on=/a,pump_off=/b,valve_on=/c":         "valve_off",
		"relay-http://h#pump_on=//x/a,pump_off=/b":                  "",
		"relay-http://h#pump_on=/a,pump_off=/b,method=DELETE":       "method",
		"relay-http://h#pump_on=/a,pump_off=/b,longest=0s":          "longest",
		"relay-http://h#pump_on=/a,pump_off=/b,longest=2h":          "longest",
		"relay-http://h#pump_on=/a,pump_off=/b,heartbeat=9h":        "heartbeat",
		"relay-http://h#pump_on=/a,pump_off=/b,pump=3":              "pump",
		"relay-http:h#pump_on=/a,pump_off=/b":                       "",
		"relay-modbus://h#valve=1":                                  "pump",
		"relay-modbus://h#pump=1,valve=1":                           "valve",
		"relay-modbus://h#pump=70000":                               "pump",
		"relay-mqtt://h#pump=a/+,pump_on=1,pump_off=0":              "pump",
		"relay-mqtt://h#pump_on=1,pump_off=0":                       "pump",
		"relay-mqtt://h#pump=a,pump_state=b/#,pump_on=1,pump_off=0": "pump_state",
		"relay-serial:#pump_on=1,pump_off=0":                        "",
		"relay-serial:/dev/x#pump_on=hex:A,pump_off=0":              "pump_on",
		"relay-serial:/dev/x#pump_on=1,pump_off=0,baud=fast":        "baud",
		"relay-mqtt://h#pump=a,pump_on=1,pump_off=0,user=u,ca=x":    "ca",
	} {
		a, err := source.ParseAddress(text)
		if err != nil {
			t.Fatal(err)
		}
		_, _, err = Open(a)
		var f *source.Fault
		if !errors.As(err, &f) || f.Key != key || f.Hint == "" {
			t.Errorf("%s: got %v, want a fault of %q", text, err, key)
		}
	}
}

package modbus

import (
	"context"
	"errors"
	"io"
	"log"
	"math"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	bus "github.com/simonvetter/modbus"

	"seatproof/internal/source"
	"seatproof/trace"
)

// device is what the library's own server asks.
type device struct {
	mu      sync.Mutex
	holding map[uint16]uint16
	input   map[uint16]uint16
	fail    error
	slow    time.Duration
	asked   int
}

func (d *device) HandleCoils(*bus.CoilsRequest) ([]bool, error) { return nil, bus.ErrIllegalFunction }
func (d *device) HandleDiscreteInputs(*bus.DiscreteInputsRequest) ([]bool, error) {
	return nil, bus.ErrIllegalFunction
}
func (d *device) HandleHoldingRegisters(r *bus.HoldingRegistersRequest) ([]uint16, error) {
	return d.answer(d.holding, r.UnitId, r.Addr, r.Quantity)
}
func (d *device) HandleInputRegisters(r *bus.InputRegistersRequest) ([]uint16, error) {
	return d.answer(d.input, r.UnitId, r.Addr, r.Quantity)
}

func (d *device) answer(from map[uint16]uint16, id uint8, at, n uint16) ([]uint16, error) {
	d.mu.Lock()
	fail, slow := d.fail, d.slow
	d.asked++
	d.mu.Unlock()
	time.Sleep(slow)
	if fail != nil {
		return nil, fail
	}
	if id != 7 {
		return nil, bus.ErrGWTargetFailedToRespond
	}
	var out []uint16
	for i := range n {
		w, ok := from[at+i]
		if !ok {
			return nil, bus.ErrIllegalDataAddress
		}
		out = append(out, w)
	}
	return out, nil
}

func (d *device) set(f func()) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f()
}

// free returns an address of this machine that nothing listens on.
func free(t *testing.T) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().String()
}

// serve serves d at host until the test ends or stop is called.
func serve(t *testing.T, host string, d *device) (stop func()) {
	t.Helper()
	s, err := bus.NewServer(&bus.ServerConfiguration{URL: "tcp://" + host, Logger: log.New(io.Discard, "", 0)}, d)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	stop = sync.OnceFunc(func() { _ = s.Stop() })
	t.Cleanup(stop)
	return stop
}

// open opens an address and says what is wrong with it.
func open(t *testing.T, text string) source.Source {
	t.Helper()
	a, err := source.ParseAddress(text)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(a)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// run runs s into a memory until the test ends; stop ends it and returns its
// error.
func run(t *testing.T, s source.Source) (*source.Memory, func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	m, done := &source.Memory{}, make(chan error, 1)
	go func() { done <- s.Run(ctx, m) }()
	stop := sync.OnceValue(func() error { cancel(); return <-done })
	t.Cleanup(func() { _ = stop() })
	return m, stop
}

const patience = 10 * time.Second

func samples(n int) func([]source.Sample, []source.Notice) bool {
	return func(s []source.Sample, _ []source.Notice) bool { return len(s) >= n }
}

func told(code source.Code, part string) func([]source.Sample, []source.Notice) bool {
	return func(_ []source.Sample, notices []source.Notice) bool {
		for _, n := range notices {
			if n.Code == code && strings.Contains(n.Detail, part) {
				return true
			}
		}
		return false
	}
}

func TestTCP(t *testing.T) {
	d := &device{
		input:   map[uint16]uint16{0: 0xFE16}, // -490 tenths of kPa gauge
		holding: map[uint16]uint16{12: 0x0000, 13: 0x43FA},
	}
	host := free(t)
	serve(t, host, d)
	for _, c := range []struct {
		options string
		want    float64
		kind    trace.Kind
		step    float64
	}{
		{"register=30001,factor=0.1,unit=kPa,reads=gauge", 49e3, trace.Vacuum, 100},
		{"register=holding 12,type=f32,words=low,unit=mbar,reads=absolute", 50e3, trace.Absolute, 0}, // 0x43FA0000 is 500
		{"register=holding 12,type=u32,factor=1e-6,offset=10,unit=kPa,reads=vacuum", 10e3 + 0x43FA*1e-3, trace.Vacuum, 1e-3},
		{"register=input 0,type=i16,table=-500 = -50 kPa; 500 = 50 kPa", 49e3, trace.Vacuum, 100},
	} {
		s := open(t, "modbus://"+host+"#id=7,every=5ms,"+c.options)
		m, stop := run(t, s)
		if !m.Wait(patience, samples(5)) {
			t.Fatalf("%s: nothing came: %v", c.options, m.Notices())
		}
		if err := stop(); err != nil {
			t.Errorf("%s: %v", c.options, err)
		}
		got := m.Samples()[0]
		if math.Abs(got.Value-c.want) > 1e-9*c.want || !math.IsNaN(got.Clock) || time.Since(got.At) > patience {
			t.Errorf("%s: got %+v, want %g", c.options, got, c.want)
		}
		about := s.About()
		if about.Reads != c.kind || math.Abs(about.Resolution-c.step) > 1e-9*c.step || about.Interval != 0.005 {
			t.Errorf("%s: about %+v", c.options, about)
		}
		if n := m.Notices(); len(n) != 1 || n[0].Code != source.Connected {
			t.Errorf("%s: told %v", c.options, n)
		}
	}
}

func TestExceptions(t *testing.T) {
	d := &device{input: map[uint16]uint16{0: 1}}
	host := free(t)
	serve(t, host, d)
	s := open(t, "modbus://"+host+"#id=7,every=5ms,register=input 0,unit=kPa,reads=vacuum")
	m, _ := run(t, s)
	if !m.Wait(patience, samples(1)) {
		t.Fatal("nothing came")
	}
	for _, c := range []struct {
		fail error
		part string
	}{
		{bus.ErrServerDeviceBusy, "busy (exception 6)"},
		{bus.ErrServerDeviceFailure, "exception 4"},
		{bus.ErrGWTargetFailedToRespond, "exception 11"},
		// it answered before, so that even a refusal may mend itself
		{bus.ErrIllegalDataAddress, "has no input register 0 (30001) (exception 2)"},
	} {
		d.set(func() { d.fail = c.fail })
		if !m.Wait(patience, told(source.Stalled, c.part)) {
			t.Errorf("%v was not told as %q: %v", c.fail, c.part, m.Notices())
		}
	}
	n := len(m.Samples())
	d.set(func() { d.fail = nil })
	if !m.Wait(patience, samples(n+3)) {
		t.Error("nothing came once it answered again")
	}
	if m.Count(source.Lost) != 0 {
		t.Errorf("an exception is an answer, yet it was told as lost: %v", m.Notices())
	}
}

// TestRefused wants a fault where a device refuses from the first answer on.
func TestRefused(t *testing.T) {
	host := free(t)
	serve(t, host, &device{})
	s := open(t, "modbus://"+host+"#id=7,every=5ms,register=input 4,unit=kPa,reads=vacuum")
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	err := s.Run(ctx, &source.Memory{})
	var f *source.Fault
	if !errors.As(err, &f) || f.Key != "register" || !strings.Contains(err.Error(), "has no input register 4 (30005)") {
		t.Errorf("got %v", err)
	}
}

func TestReconnects(t *testing.T) {
	d := &device{input: map[uint16]uint16{0: 100}}
	host := free(t)
	s := open(t, "modbus://"+host+"#id=7,every=5ms,timeout=50ms,register=input 0,factor=0.1,unit=kPa,reads=vacuum")
	m, stop := run(t, s)
	if !m.Wait(patience, told(source.Lost, "refused")) {
		t.Fatalf("nobody listens, yet it was not told: %v", m.Notices())
	}
	halt := serve(t, host, d)
	if !m.Wait(patience, samples(3)) {
		t.Fatalf("nothing came: %v", m.Notices())
	}
	halt()
	lost := m.Count(source.Lost)
	if !m.Wait(patience, func(_ []source.Sample, n []source.Notice) bool { return len(n) > 0 && n[len(n)-1].Code == source.Lost }) {
		t.Fatalf("it went, yet it was not told (%d before): %v", lost, m.Notices())
	}
	n := len(m.Samples())
	serve(t, host, d)
	if !m.Wait(patience, samples(n+3)) {
		t.Fatalf("nothing came after it was back: %v", m.Notices())
	}
	if m.Count(source.Connected) < 2 {
		t.Errorf("told %v", m.Notices())
	}
	// slower than the timeout: silence, then lost
	d.set(func() { d.slow = 200 * time.Millisecond })
	if !m.Wait(patience, told(source.Stalled, "device 7 does not answer")) || !m.Wait(patience, told(source.Lost, "device 7 does not answer")) {
		t.Errorf("told %v", m.Notices())
	}
	d.set(func() { d.slow = 0 })
	n = len(m.Samples())
	if !m.Wait(patience, samples(n+3)) {
		t.Errorf("nothing came once it was quick again: %v", m.Notices())
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

func TestOutOfRange(t *testing.T) {
	d := &device{holding: map[uint16]uint16{0: 0x7FC0, 1: 0}}
	host := free(t)
	serve(t, host, d)
	m, _ := run(t, open(t, "modbus://"+host+"#id=7,every=5ms,register=holding 0,type=f32,unit=kPa,reads=vacuum"))
	if !m.Wait(patience, told(source.OutOfRange, "holding register 0 (40001) says NaN")) {
		t.Errorf("told %v", m.Notices())
	}
	if n := len(m.Samples()); n != 0 {
		t.Errorf("%d samples that are no figure", n)
	}
}

func TestFaults(t *testing.T) {
	const good = "unit=kPa,reads=vacuum"
	for text, key := range map[string]string{
		"modbus://h#" + good:                                   "register",
		"modbus://h#register=7," + good:                        "register",
		"modbus://h#register=input 65535,type=f32," + good:     "register",
		"modbus://h#register=input 0,type=u8," + good:          "type",
		"modbus://h#register=input 0,words=big," + good:        "words",
		"modbus://h#register=input 0,factor=0," + good:         "factor",
		"modbus://h#register=input 0,factor=x," + good:         "factor",
		"modbus://h#register=input 0,id=0," + good:             "id",
		"modbus://h#register=input 0,id=248," + good:           "id",
		"modbus://h#register=input 0,every=0s," + good:         "every",
		"modbus://h#register=input 0,timeout=2h," + good:       "timeout",
		"modbus://h#register=input 0,frame=ascii," + good:      "frame",
		"modbus://h:99999#register=input 0," + good:            "",
		"modbus://h/1#register=input 0," + good:                "",
		"modbus://#register=input 0," + good:                   "",
		"modbus-rtu:#register=input 0," + good:                 "",
		"modbus-rtu:/dev/a#register=input 0,baud=9," + good:    "baud",
		"modbus-rtu:/dev/a#register=input 0,parity=1," + good:  "parity",
		"modbus-rtu:/dev/a#register=input 0,stop=1.5," + good:  "stop",
		"modbus-rtu:/dev/a#register=input 0,unit=kPa":          "reads",
		"modbus-rtu:/dev/a#register=input 0,reads=vacuum":      "unit",
		"modbus-rtu:/dev/a#register=input 0,unit=m,reads=gage": "unit",
	} {
		a, err := source.ParseAddress(text)
		if err != nil {
			t.Fatal(err)
		}
		_, err = Open(a)
		var f *source.Fault
		if !errors.As(err, &f) || f.Key != key || f.Hint == "" {
			t.Errorf("%s: got %v, want a fault of %q", text, err, key)
		}
	}
}

func TestKinds(t *testing.T) {
	for _, k := range Kinds() {
		a, err := source.ParseAddress(k.Example)
		if err != nil {
			t.Fatal(err)
		}
		if err := a.Unknown(k, func(string, []string) string { return "" }); err != nil || a.Kind != k.Name {
			t.Errorf("%s: %v", k.Example, err)
		}
		if _, err := k.Open(a); err != nil {
			t.Errorf("%s: %v", k.Example, err)
		}
		for _, o := range k.Options {
			if o.Words == "" || o.Hint == "" {
				t.Errorf("%s: option %s has no words", k.Name, o.Key)
			}
		}
	}
}

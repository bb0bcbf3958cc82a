//go:build linux

package serial

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	port "go.bug.st/serial"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
	"seatproof/internal/source/sourcetest"
)

func TestSamples(t *testing.T) {
	p := openPTY(t)
	d := &device{pty: p, rate: 9600, gap: 5 * time.Millisecond, line: func(i int) string { return fmt.Sprintf("%d,%.1f\r\n", 5*i, -0.1*float64(i)) }}
	m, stop := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:"+p.path+"#baud=9600,value=2,unit=kPa,reads=gauge,time=1,time_unit=ms"))
	d.start(t)
	if !m.Wait(10*time.Second, sourcetest.AtLeast(100)) {
		t.Fatalf("got %d samples, %v", len(m.Samples()), m.Notices())
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	s := m.Samples()
	for i := 1; i < len(s); i++ {
		// 0.1 kPa and 5 ms a line
		if got := s[i].Value - s[i-1].Value; math.Abs(got-100) > 1e-6 {
			t.Fatalf("sample %d rose by %g Pa, want 100: one was lost", i, got)
		}
		if got := s[i].Clock - s[i-1].Clock; math.Abs(got-0.005) > 1e-9 {
			t.Fatalf("its clock went on by %g s, want 0.005", got)
		}
		if s[i].At.Before(s[i-1].At) {
			t.Fatal("arrivals go back")
		}
	}
}

// The bits of a board at 9,600 or 57,600 Bd, heard at other rates, are no text;
// the right rate is found.
func TestFindsTheRate(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds at wrong rates")
	}
	for _, rate := range []int{115200, 9600, 57600, 4800} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			t.Parallel()
			p := openPTY(t)
			d := &device{pty: p, rate: rate, gap: 20 * time.Millisecond, line: func(i int) string { return fmt.Sprintf("vac=%.2f kPa T=21.5 C\r\n", 70+0.01*float64(i)) }}
			m, _ := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:"+p.path))
			d.start(t)
			if !m.Wait(40*time.Second, sourcetest.AtLeast(20)) {
				t.Fatalf("got %d samples, %v", len(m.Samples()), m.Notices())
			}
			want := fmt.Sprintf("%s at %d Bd", p.path, rate)
			if n := m.Notices(); n[0].Code != source.Connected || n[0].Detail != want {
				t.Errorf("told %v, want first %q", n, want)
			}
			if v := m.Samples()[0].Value; v < 70e3 || v > 90e3 {
				t.Errorf("the first sample is %g Pa", v)
			}
		})
	}
}

// What every wrong rate makes of lines is told from lines.
func TestSenseAtWrongRates(t *testing.T) {
	text := []byte(strings.Repeat("12.34 kPa\r\n-0.5;21.5;OK\r\nP=-78.31\r\n", 8))
	if got := lines.Sense(text); got < 0.95 {
		t.Errorf("lines make sense to %g", got)
	}
	for _, sent := range rates {
		for _, heard := range rates {
			if sent == heard {
				continue
			}
			if got := lines.Sense(asHeard(text, sent, heard)); got >= sense {
				t.Errorf("lines sent at %d Bd and heard at %d make sense to %g", sent, heard, got)
			}
		}
	}
}

// A cable that is pulled and put back, under the same name: the port is a link
// that is pointed from one pair of terminals to another.
func TestComesBack(t *testing.T) {
	link := filepath.Join(t.TempDir(), "port")
	first, second := openPTY(t), openPTY(t)
	if err := os.Symlink(first.path, link); err != nil {
		t.Fatal(err)
	}
	say := func(i int) string { return fmt.Sprintf("%d,%.1f\n", 10*i, -0.1*float64(i)) }
	d := &device{pty: first, rate: 9600, gap: 10 * time.Millisecond, line: say}
	m, stop := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:"+link+"#baud=9600,value=2,unit=kPa,reads=gauge,time=1,time_unit=ms"))
	d.start(t)
	if !m.Wait(10*time.Second, sourcetest.AtLeast(20)) {
		t.Fatalf("got %d samples, %v", len(m.Samples()), m.Notices())
	}
	d.end()
	os.Remove(link)
	first.Close()
	if !m.Wait(5*time.Second, func(_ []source.Sample, n []source.Notice) bool { return n[len(n)-1].Code == source.Lost }) {
		t.Fatalf("the loss was not told: %v", m.Notices())
	}
	before := len(m.Samples())
	if err := os.Symlink(second.path, link); err != nil {
		t.Fatal(err)
	}
	again := &device{pty: second, rate: 9600, gap: 10 * time.Millisecond, line: say}
	again.start(t)
	if !m.Wait(10*time.Second, sourcetest.AtLeast(before+20)) {
		t.Fatalf("got %d samples after %d, %v", len(m.Samples()), before, m.Notices())
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if n := m.Count(source.Connected); n != 2 {
		t.Errorf("told %d connections, want 2", n)
	}
	s := m.Samples()
	for i := 1; i < len(s); i++ {
		if s[i].Clock < s[i-1].Clock {
			t.Fatalf("the clock went back at sample %d", i)
		}
	}
}

// An adapter that comes back under another name is known by its serial number.
func TestComesBackElsewhere(t *testing.T) {
	first, second := openPTY(t), openPTY(t)
	var at atomic.Value
	at.Store(first.path)
	a, _ := source.ParseAddress("serial:#usb=A5,baud=9600,value=1,unit=kPa,reads=vacuum")
	set, err := read(a)
	if err != nil {
		t.Fatal(err)
	}
	s, err := lines.New(a, &wire{settings: set, bare: a.Bare(), open: openPort, find: func(n string) string {
		if n != "A5" {
			t.Errorf("asked for %q", n)
		}
		return at.Load().(string)
	}})
	if err != nil {
		t.Fatal(err)
	}
	say := func(i int) string { return "50.0\n" }
	d := &device{pty: first, rate: 9600, gap: 10 * time.Millisecond, line: say}
	m, _ := sourcetest.Run(t, s)
	d.start(t)
	if !m.Wait(10*time.Second, sourcetest.AtLeast(5)) {
		t.Fatalf("got %d samples, %v", len(m.Samples()), m.Notices())
	}
	d.end()
	at.Store(second.path)
	first.Close()
	again := &device{pty: second, rate: 9600, gap: 10 * time.Millisecond, line: say}
	again.start(t)
	if !m.Wait(10*time.Second, func(s []source.Sample, n []source.Notice) bool {
		for _, x := range n {
			if x.Code == source.Connected && strings.HasPrefix(x.Detail, second.path) {
				return true
			}
		}
		return false
	}) {
		t.Fatalf("not found again: %v", m.Notices())
	}
}

// A meter that answers when it is asked.
func TestAsks(t *testing.T) {
	p := openPTY(t)
	go func() {
		buf := make([]byte, 100)
		for i := 0; ; i++ {
			n, err := p.Read(buf)
			if err != nil {
				return
			}
			if string(buf[:n]) == "READ?\r" {
				fmt.Fprintf(p, "%+.2f inHg vac\r", 1+0.01*float64(i))
			}
		}
	}()
	m, _ := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:"+p.path+`#baud=9600,value=1,unit=inHg,reads=vacuum,send=READ?\r,every=20 ms`))
	if !m.Wait(10*time.Second, sourcetest.AtLeast(10)) {
		t.Fatalf("got %d samples, %v", len(m.Samples()), m.Notices())
	}
	// 1 inHg is 3386.389 Pa: NIST SP 811 (2008), B.8
	if got := m.Samples()[1].Value; got < 3386 || got > 3800 {
		t.Errorf("got %g Pa", got)
	}
}

// What is no text is told, and that the rate may be wrong.
func TestWrongRateIsTold(t *testing.T) {
	p := openPTY(t)
	d := &device{pty: p, rate: 9600, gap: 5 * time.Millisecond, line: func(i int) string { return fmt.Sprintf("%.1f kPa\r\n", 70.0) }}
	m, stop := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:"+p.path+"#baud=19200,value=1,unit=kPa,reads=vacuum"))
	d.start(t)
	if !m.Wait(10*time.Second, func(_ []source.Sample, n []source.Notice) bool {
		for _, x := range n {
			if x.Code == source.Garbage {
				return true
			}
		}
		return false
	}) {
		t.Fatalf("garbage was not told: %v", m.Notices())
	}
	stop()
	if s := m.Samples(); len(s) > 0 {
		t.Errorf("%d samples came of it: %v", len(s), s[0])
	}
}

func TestNotThere(t *testing.T) {
	m, stop := sourcetest.Run(t, sourcetest.Open(t, Kind(), "serial:/dev/no-such-port#value=1,unit=kPa,reads=vacuum"))
	if !m.Wait(5*time.Second, func(_ []source.Sample, n []source.Notice) bool { return len(n) > 0 }) {
		t.Fatal("nothing told")
	}
	if n := m.Notices()[0]; n.Code != source.Lost || !strings.Contains(n.Detail, "is it plugged in?") {
		t.Errorf("told %v", n)
	}
	if err := stop(); err != nil {
		t.Error(err)
	}
}

func TestFaults(t *testing.T) {
	sourcetest.Faults(t, Kind(), map[string]string{
		"serial:":                         "says no port",
		"serial:/dev/x#baud=fast":         "is no rate",
		"serial:/dev/x#parity=some":       "is not known",
		"serial:/dev/x#bits=5":            "is not known",
		"serial:/dev/x#every=never":       "no time between",
		`serial:/dev/x#send=A\q`:          "backslash",
		"serial:/dev/x#unit=V":            "unit",
		"serial:/dev/x#time=1":            "value",
		"serial:/dev/x#value=3,of=2":      "of",
		"serial:/dev/x#table=1 V = 2 kPa": "fewer than two",
	})
}

// Find opens nothing, and gives addresses that can be opened.
func TestFind(t *testing.T) {
	for _, f := range Find(t.Context()) {
		if f.Failed != "" {
			t.Logf("not to be had here: %s", f.Failed)
			continue
		}
		if _, err := read(f.Address); err != nil {
			t.Errorf("%v: %v", f.Address, err)
		}
	}
}

var _ conn = port.Port(nil)

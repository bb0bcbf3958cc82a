package socket

import (
	"fmt"
	"io"
	"math"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/sourcetest"
)

// server is a board on the network: each connection gets lines until it is cut.
type server struct {
	net.Listener
	mu    sync.Mutex
	conns []net.Conn
	begin func(c net.Conn)
}

func serve(t *testing.T, addr string, begin func(c net.Conn)) *server {
	t.Helper()
	l, err := net.Listen("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	s := &server{Listener: l, begin: begin}
	var work sync.WaitGroup
	work.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			s.mu.Lock()
			s.conns = append(s.conns, c)
			s.mu.Unlock()
			work.Go(func() { s.begin(c); c.Close() })
		}
	})
	t.Cleanup(func() { s.end(); work.Wait() })
	return s
}

func (s *server) end() {
	s.Close()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, c := range s.conns {
		c.Close()
	}
}

// sendLines sends invented lines, 2 ms apart.
func sendLines(c net.Conn) {
	for i := 0; ; i++ {
		if _, err := fmt.Fprintf(c, "t=%d ms vac=%.2f kPa\r\n", 2*i, 0.01*float64(i)); err != nil {
			return
		}
		time.Sleep(2 * time.Millisecond)
	}
}

func TestTCP(t *testing.T) {
	s := serve(t, "127.0.0.1:0", sendLines)
	m, stop := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+s.Addr().String()))
	sourcetest.Await(t, m, sourcetest.AtLeast(100))
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	x := m.Samples()
	for i := 1; i < len(x); i++ {
		if d := x[i].Value - x[i-1].Value; math.Abs(d-10) > 1e-6 {
			t.Fatalf("sample %d rose by %g Pa, want 10", i, d)
		}
		if d := x[i].Clock - x[i-1].Clock; math.Abs(d-0.002) > 1e-9 {
			t.Fatalf("its clock went on by %g s, want 0.002", d)
		}
	}
}

// A board that loses its power comes back, and what was learned still holds.
func TestTCPComesBack(t *testing.T) {
	s := serve(t, "127.0.0.1:0", sendLines)
	addr := s.Addr().String()
	m, stop := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+addr))
	sourcetest.Await(t, m, sourcetest.AtLeast(30))
	s.end()
	sourcetest.Await(t, m, sourcetest.Told(source.Lost, ""))
	before := len(m.Samples())
	serve(t, addr, sendLines)
	sourcetest.Await(t, m, sourcetest.AtLeast(before+30))
	stop()
	x := m.Samples()
	for i := 1; i < len(x); i++ {
		if x[i].Clock < x[i-1].Clock {
			t.Fatalf("the clock went back at sample %d: %g, %g", i, x[i-1].Clock, x[i].Clock)
		}
	}
}

func TestTCPRefused(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	m, stop := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+addr+"#value=1,unit=kPa,reads=vacuum"))
	sourcetest.Await(t, m, sourcetest.Told(source.Lost, "refused"))
	if err := stop(); err != nil {
		t.Error("it may come yet, but gave up:", err)
	}
}

// The connection was made in the middle of a line, and ends in one: neither half
// is taken for a figure.
func TestTCPHalves(t *testing.T) {
	s := serve(t, "127.0.0.1:0", func(c net.Conn) {
		io.WriteString(c, "8.30\n78.31\n78.32\n7")
		time.Sleep(20 * time.Millisecond)
	})
	m, stop := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+s.Addr().String()+"#value=1,unit=kPa,reads=vacuum"))
	sourcetest.Await(t, m, sourcetest.AtLeast(4)) // of two connections
	stop()
	for _, x := range m.Samples() {
		if x.Value < 78.305e3 || x.Value > 78.325e3 {
			t.Errorf("half a line was taken for %g Pa", x.Value)
		}
	}
	if m.Count(source.HalfLine) < 2 {
		t.Error("half lines were not told:", m.Notices())
	}
}

// One line a connection.
func TestTCPWhole(t *testing.T) {
	s := serve(t, "127.0.0.1:0", func(c net.Conn) { io.WriteString(c, "vac 50.0 kPa\n") })
	m, _ := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+s.Addr().String()+"#whole=yes,value=vac,unit=kPa,reads=vacuum"))
	sourcetest.Await(t, m, sourcetest.AtLeast(2))
}

func TestTCPAsks(t *testing.T) {
	s := serve(t, "127.0.0.1:0", func(c net.Conn) {
		buf := make([]byte, 64)
		for {
			n, err := c.Read(buf)
			if err != nil {
				return
			}
			if string(buf[:n]) == "MEAS?\n" {
				io.WriteString(c, "-0.512 bar\n")
			}
		}
	})
	m, _ := sourcetest.Run(t, sourcetest.Open(t, TCP(), "tcp://"+s.Addr().String()+`#value=1,unit=bar,reads=gauge,send=MEAS?\n,every=20 ms`))
	sourcetest.Await(t, m, sourcetest.AtLeast(5))
	if got := m.Samples()[4].Value; math.Abs(got-51200) > 1e-6 {
		t.Errorf("got %g Pa", got)
	}
}

func TestUDP(t *testing.T) {
	port := freePort(t)
	m, stop := sourcetest.Run(t, sourcetest.Open(t, UDP(), fmt.Sprintf("udp://127.0.0.1:%d#value=vac,unit=kPa,reads=vacuum", port)))
	c, err := net.Dial("udp", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	sent := 0
	for len(m.Samples()) < 20 && sent < 1000 { // the first may come before the port is open
		fmt.Fprintf(c, `{"vac": %.1f}`, 50+0.1*float64(sent%10)) // no line end: a datagram is one
		sent++
		time.Sleep(5 * time.Millisecond)
	}
	stop()
	if n := len(m.Samples()); n < 20 {
		t.Fatalf("%d samples of %d datagrams, %v", n, sent, m.Notices())
	}
}

// A second board on the same port is told, not mixed in.
func TestUDPTwoSenders(t *testing.T) {
	port := freePort(t)
	m, stop := sourcetest.Run(t, sourcetest.Open(t, UDP(), fmt.Sprintf("udp://:%d#value=1,unit=kPa,reads=vacuum", port)))
	send := func(from string, text string) {
		c, err := net.DialUDP("udp", &net.UDPAddr{IP: net.ParseIP(from)}, &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1), Port: port})
		if err != nil {
			t.Skipf("this machine has no second address of its own (%v)", err)
		}
		io.WriteString(c, text)
		c.Close()
	}
	end := time.Now().Add(10 * time.Second)
	for len(m.Samples()) == 0 && time.Now().Before(end) {
		send("127.0.0.1", "50.0 kPa\n")
		time.Sleep(5 * time.Millisecond)
	}
	send("127.0.0.2", "60.0 kPa\n")
	sourcetest.Await(t, m, sourcetest.Told(source.Garbage, "127.0.0.2"))
	stop()
	for _, x := range m.Samples() {
		if x.Value != 50e3 {
			t.Errorf("got %g Pa of the other sender", x.Value)
		}
	}
}

func TestUDPPortInUse(t *testing.T) {
	c, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	s := sourcetest.Open(t, UDP(), "udp://"+c.LocalAddr().String()+"#value=1,unit=kPa,reads=vacuum")
	if err := s.Run(t.Context(), &source.Memory{}); err == nil || !strings.Contains(err.Error(), "can't be listened to") {
		t.Error("got", err)
	}
}

func freePort(t *testing.T) int {
	t.Helper()
	c, err := net.ListenUDP("udp", nil)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	return c.LocalAddr().(*net.UDPAddr).Port
}

func TestFaults(t *testing.T) {
	sourcetest.Faults(t, TCP(), map[string]string{
		"tcp:host:1":             "host and port",
		"tcp://host":             "host and port",
		"tcp://:4000":            "no host",
		"tcp://host:99999":       "host and port",
		"tcp://h:1#whole=mostly": "neither yes nor no",
		"tcp://h:1#unit=parsec":  "unit",
	})
	sourcetest.Faults(t, UDP(), map[string]string{
		"udp://5005":           "host and port",
		"udp://:5005#from=pub": "is no address",
	})
}

package app

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strconv"
	"testing"
	"time"
)

func TestPrivate(t *testing.T) {
	for _, c := range []struct {
		addr string
		want bool
		why  string
	}{
		{"10.0.0.1", true, "RFC 1918"}, {"172.16.0.1", true, "RFC 1918"}, {"172.31.255.255", true, "RFC 1918"}, {"192.168.1.20", true, "RFC 1918"},
		{"::ffff:192.168.1.20", true, "RFC 1918, mapped"}, {"fd00::2", true, "RFC 4193"}, {"fc00::1", true, "RFC 4193"}, {"169.254.3.4", true, "RFC 3927"}, {"fe80::1", true, "RFC 4291 §2.5.6"},
		{"172.32.0.1", false, "past RFC 1918"}, {"192.169.0.1", false, "past RFC 1918"}, {"8.8.8.8", false, "public"}, {"100.64.0.1", false, "a carrier's, RFC 6598"}, {"2001:db8::1", false, "documentation, RFC 3849"},
		{"fe00::1", false, "no link-local"}, {"0.0.0.0", false, "every address"}, {"::", false, "every address"},
	} {
		if got := private(netip.MustParseAddr(c.addr)); got != c.want {
			t.Errorf("private(%s) = %v, want %v: %s", c.addr, got, c.want, c.why)
		}
	}
}

func TestUnlikelyComesLast(t *testing.T) {
	home := spot{netip.MustParseAddr("192.168.1.20"), "wlan0"}
	for _, worse := range []spot{{netip.MustParseAddr("172.17.0.1"), "docker0"}, {netip.MustParseAddr("169.254.1.1"), "eth0"}, {netip.MustParseAddr("fd00::2"), "wlan0"}} {
		if unlikely(worse) <= unlikely(home) {
			t.Errorf("%v comes before %v", worse, home)
		}
	}
}

// A door listens where it is told, ends its streams when it is shut, and can be
// opened again at the same address.
func TestDoor(t *testing.T) {
	began := make(chan struct{}, 1)
	d := &door{log: slog.New(slog.DiscardHandler), find: func() ([]spot, error) { return []spot{{netip.MustParseAddr("127.0.0.1"), "lo"}}, nil }}
	d.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.WriteString(w, "hello\n")
		_ = http.NewResponseController(w).Flush()
		began <- struct{}{}
		<-r.Context().Done()
	})
	if err := d.Shut(); err != nil {
		t.Errorf("shutting what is shut: %v", err)
	}
	all, err := d.Open(t.Context())
	if err != nil || len(all) != 1 || all[0].Network != "lo" {
		t.Fatalf("Open: %v, %v", all, err)
	}
	if again, err := d.Open(t.Context()); err != nil || len(again) != 1 || again[0] != all[0] {
		t.Errorf("opening what is open: %v, %v", again, err)
	}
	res, err := http.Get("http://" + all[0].Host)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	<-began
	ended := make(chan struct{})
	go func() { _, _ = io.Copy(io.Discard, res.Body); close(ended) }()
	if err := d.Shut(); err != nil {
		t.Errorf("Shut: %v", err)
	}
	select {
	case <-ended:
	case <-time.After(10 * time.Second):
		t.Error("a stream outlives the door")
	}
	if c, err := net.DialTimeout("tcp", all[0].Host, time.Second); err == nil {
		c.Close()
		t.Error("a shut door still listens")
	}
	_, port, _ := net.SplitHostPort(all[0].Host)
	d.port, _ = strconv.Atoi(port)
	again, err := d.Open(t.Context())
	if err != nil || len(again) != 1 {
		t.Fatalf("opening it again: %v, %v", again, err)
	}
	if err := d.Shut(); err != nil {
		t.Error(err)
	}
	d.find = func() ([]spot, error) { return nil, nil }
	if _, err := d.Open(context.Background()); err == nil {
		t.Error("a machine without a private address opens")
	}
	d.find = func() ([]spot, error) { return nil, errors.New("no networks") }
	if _, err := d.Open(context.Background()); err == nil {
		t.Error("a fault of the system is lost")
	}
}

// Where the wanted port is taken the door takes another, and says which.
func TestDoorPortTaken(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	d := &door{log: slog.New(slog.DiscardHandler), port: portOf(taken.Addr()), handler: http.NotFoundHandler(), find: func() ([]spot, error) { return []spot{{netip.MustParseAddr("127.0.0.1"), "lo"}}, nil }}
	all, err := d.Open(t.Context())
	if err != nil || all[0].Host == taken.Addr().String() {
		t.Errorf("Open: %v, %v", all, err)
	}
	if err := d.Shut(); err != nil {
		t.Error(err)
	}
}

// fakeLine gives one connection after the other.
type fakeLine struct {
	net.Listener
	from   []string
	closed bytes.Buffer
}

type fakeConn struct {
	net.Conn
	from   string
	closed *bytes.Buffer
}

func (c fakeConn) RemoteAddr() net.Addr {
	return net.TCPAddrFromAddrPort(netip.MustParseAddrPort(c.from))
}
func (c fakeConn) Close() error { c.closed.WriteString(c.from + " "); return nil }

func (l *fakeLine) Accept() (net.Conn, error) {
	if len(l.from) == 0 {
		return nil, net.ErrClosed
	}
	c := fakeConn{from: l.from[0], closed: &l.closed}
	l.from = l.from[1:]
	return c, nil
}

func TestOnlyPrivate(t *testing.T) {
	line := &fakeLine{from: []string{"8.8.8.8:1", "[2001:db8::1]:1", "192.168.1.50:1"}}
	l := onlyPrivate{line}
	c, err := l.Accept()
	if err != nil || c.RemoteAddr().String() != "192.168.1.50:1" {
		t.Errorf("Accept: %v, %v", c, err)
	}
	if got := line.closed.String(); got != "8.8.8.8:1 [2001:db8::1]:1 " {
		t.Errorf("closed: %q", got)
	}
	if _, err := l.Accept(); !errors.Is(err, net.ErrClosed) {
		t.Errorf("at the end: %v", err)
	}
}

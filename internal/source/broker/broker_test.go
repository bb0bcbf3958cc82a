package broker

import (
	"errors"
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"seatproof/internal/source"
)

func TestFaults(t *testing.T) {
	used, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = used.Close() }()
	for _, c := range []struct {
		s   Settings
		key string
	}{
		{Settings{Listen: "0.0.0.0:0"}, "password"},
		{Settings{Listen: ":0"}, "password"},
		{Settings{Listen: "192.168.4.2:1883"}, "password"},
		{Settings{Listen: "127.0.0.1"}, "listen"},
		{Settings{Listen: used.Addr().String()}, "listen"},
		{Settings{Listen: "127.0.0.1:0", Certificate: "none.pem", Key: "none.pem"}, "certificate"},
		{Settings{Listen: "127.0.0.1:0", Key: "none.pem"}, "certificate"},
	} {
		b, err := Start(c.s)
		if err == nil {
			_ = b.Close()
		}
		var f *source.Fault
		if !errors.As(err, &f) || f.Key != c.key || f.Hint == "" {
			t.Errorf("%+v: got %v, want a fault of %q", c.s, err, c.key)
		}
	}
}

func TestClose(t *testing.T) {
	b, err := Start(Settings{Listen: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	c, err := net.Dial("tcp", b.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = c.Close() }()
	if err := errors.Join(b.Close(), b.Close()); err != nil {
		t.Error(err)
	}
	if err := c.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Read(make([]byte, 1)); err == nil || strings.Contains(err.Error(), "timeout") {
		t.Errorf("the connection outlived the broker: %v", err)
	}
	if c, err := net.Dial("tcp", b.Addr().String()); err == nil {
		_ = c.Close()
		t.Error("it still listens")
	}
}

func TestNearby(t *testing.T) {
	house := []netip.Prefix{netip.MustParsePrefix("2001:db8:1:2::7/64")}
	for text, want := range map[string]bool{
		"127.0.0.1":            true,
		"::1":                  true,
		"192.168.4.20":         true,
		"10.0.0.3":             true,
		"172.20.1.1":           true,
		"172.32.1.1":           false,
		"169.254.7.7":          true,
		"fe80::1%eth0":         true,
		"fd00::5":              true,
		"::ffff:192.168.4.20":  true,
		"::ffff:203.0.113.5":   false, // RFC 5737, for documentation
		"203.0.113.5":          false,
		"2001:db8:1:2::99":     true,
		"2001:db8:1:3::99":     false, // RFC 3849, for documentation
		"2001:db8:1:2:aa::1%0": true,
	} {
		if got := nearby(netip.MustParseAddr(text), house); got != want {
			t.Errorf("%s: got %v", text, got)
		}
	}
}

// from is a connection that claims to come from an address.
type from struct {
	net.Conn
	addr   string
	closed *int
}

func (f from) RemoteAddr() net.Addr {
	return net.TCPAddrFromAddrPort(netip.MustParseAddrPort(f.addr))
}
func (f from) SetDeadline(time.Time) error { return nil }
func (f from) Close() error                { *f.closed++; return nil }

type listed struct {
	net.Listener
	conns []net.Conn
}

func (l *listed) Accept() (net.Conn, error) {
	if len(l.conns) == 0 {
		return nil, net.ErrClosed
	}
	c := l.conns[0]
	l.conns = l.conns[1:]
	return c, nil
}

// A connection that was taken when the broker had hung up already is closed.
func TestTakenWhileClosing(t *testing.T) {
	closed := 0
	b := &near{Listener: &listed{conns: []net.Conn{from{addr: "127.0.0.1:40000", closed: &closed}}}, log: discard()}
	b.hangUp()
	if _, err := b.Accept(); !errors.Is(err, net.ErrClosed) || closed != 1 {
		t.Errorf("got %v, closed %d", err, closed)
	}
}

func TestOnlyFromNearby(t *testing.T) {
	closed := 0
	b := &near{Listener: &listed{conns: []net.Conn{
		from{addr: "203.0.113.5:40000", closed: &closed}, from{addr: "192.168.4.20:40000", closed: &closed}, from{addr: "203.0.113.6:1", closed: &closed},
	}}, log: discard()}
	c, err := b.Accept()
	if err != nil || c.RemoteAddr().String() != "192.168.4.20:40000" || closed != 1 {
		t.Errorf("took %v, %v, closed %d", c, err, closed)
	}
	if _, err := b.Accept(); !errors.Is(err, net.ErrClosed) || closed != 2 {
		t.Errorf("got %v, closed %d", err, closed)
	}
}

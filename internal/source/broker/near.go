package broker

import (
	"log/slog"
	"maps"
	"net"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// near is a listener that takes connections from this machine and its own
// networks only, or from anywhere, and can close those that it took: the
// broker's library waits for a connection that says nothing until it goes.
type near struct {
	net.Listener
	anywhere bool
	log      *slog.Logger

	mu    sync.Mutex
	conns map[net.Conn]bool
	shut  bool // hung up: one that was just taken goes too
}

// hello is how long a connection has to say who it is; the broker then sets
// another limit.
const hello = 10 * time.Second

// Accept returns the next connection from nearby and closes the others.
func (n *near) Accept() (net.Conn, error) {
	for {
		c, err := n.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from, err := netip.ParseAddrPort(c.RemoteAddr().String())
		if !n.anywhere && (err != nil || !nearby(from.Addr(), own())) {
			n.log.Warn("broker refused a connection from another network", "from", c.RemoteAddr().String())
			_ = c.Close() // nothing was said yet
			continue
		}
		_ = c.SetDeadline(time.Now().Add(hello)) // one that is closed already fails at its first read
		n.mu.Lock()
		defer n.mu.Unlock()
		if n.shut {
			_ = c.Close() // nothing was said yet
			return nil, net.ErrClosed
		}
		if n.conns == nil {
			n.conns = map[net.Conn]bool{}
		}
		k := &kept{Conn: c, of: n}
		n.conns[k] = true
		return k, nil
	}
}

// hangUp closes every connection that was taken, and the one being taken.
func (n *near) hangUp() {
	n.mu.Lock()
	n.shut = true
	conns := slices.Collect(maps.Keys(n.conns))
	n.mu.Unlock()
	for _, c := range conns {
		_ = c.Close() // it may have gone by itself
	}
}

// kept is a connection that its listener knows of.
type kept struct {
	net.Conn
	of *near
}

func (k *kept) Close() error {
	k.of.mu.Lock()
	delete(k.of.conns, k)
	k.of.mu.Unlock()
	return k.Conn.Close()
}

// nearby says whether an address belongs to this machine, to a private network
// (RFC 1918, RFC 4193), to the link, or to one of the networks given.
func nearby(a netip.Addr, networks []netip.Prefix) bool {
	a = a.Unmap().WithZone("")
	if a.IsLoopback() || a.IsPrivate() || a.IsLinkLocalUnicast() {
		return true
	}
	for _, n := range networks {
		if n.Contains(a) {
			return true
		}
	}
	return false
}

// own returns the networks this machine is in: over IPv6 the devices of a house
// often have addresses of the wide net.
func own() []netip.Prefix {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil // private networks are known without
	}
	var out []netip.Prefix
	for _, a := range addrs {
		if p, err := netip.ParsePrefix(a.String()); err == nil {
			out = append(out, p)
		}
	}
	return out
}

// alone says whether a listener on the host is reached from this machine only.
func alone(host string) bool {
	if host == "localhost" {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

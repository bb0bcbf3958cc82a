package socket

import (
	"context"
	"errors"
	"fmt"
	"net"
	"syscall"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

// UDP is a port of this machine that boards send datagrams to.
func UDP() source.Kind {
	return source.Kind{
		Name:    "udp",
		Words:   "a board that sends datagrams to this machine (UDP)",
		Page:    "docs/sources/udp.md",
		Example: "udp://:5005#value=vac,unit=kPa,reads=vacuum",
		Options: lines.Options(
			source.Option{Key: "from", Words: "the only machine that is listened to", Hint: "as in from=192.168.4.7; left out: the first one that sends"},
		),
		Open: openUDP,
	}
}

func openUDP(a source.Address) (source.Source, error) {
	host, err := hostPort(a, true)
	if err != nil {
		return nil, err
	}
	w := &udp{host: host, bare: a.Bare()}
	if text, ok := a.Options["from"]; ok {
		if w.from = net.ParseIP(text); w.from == nil {
			return nil, &source.Fault{Source: a.Bare(), Key: "from", What: fmt.Sprintf("%q is no address", text), Hint: "as in from=192.168.4.7"}
		}
	}
	return lines.New(a, w)
}

type udp struct {
	host, bare string
	from       net.IP
}

// Carry takes datagrams until ctx ends.
func (w *udp) Carry(ctx context.Context, in *lines.Inlet) error {
	told := false
	for ctx.Err() == nil {
		c, err := listen(w.host)
		switch {
		case errors.Is(err, syscall.EADDRINUSE), errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EADDRNOTAVAIL):
			return &source.Fault{Source: w.bare, What: "this port can't be listened to", Err: err, Hint: "use another port, or stop what else uses it"}
		case err != nil: // no network yet
			if !told {
				in.Tell(source.Lost, err.Error())
				told = true
			}
			wait(ctx, again)
			continue
		}
		err = w.use(ctx, c, in)
		if ctx.Err() == nil {
			in.Tell(source.Lost, err.Error())
			told = true
			wait(ctx, again)
		}
	}
	return nil
}

func listen(host string) (*net.UDPConn, error) {
	addr, err := net.ResolveUDPAddr("udp", host)
	if err != nil {
		return nil, err
	}
	if addr.IP.IsMulticast() {
		return net.ListenMulticastUDP("udp", nil, addr)
	}
	return net.ListenUDP("udp", addr)
}

// silent is after how long without a datagram another sender may be taken.
const silent = 5 * time.Second

func (w *udp) use(ctx context.Context, c *net.UDPConn, in *lines.Inlet) error {
	defer c.Close()
	defer context.AfterFunc(ctx, func() { c.Close() })()
	from, heard := w.from, time.Time{}
	connected := false
	buf := make([]byte, 64<<10)
	for {
		n, sender, err := c.ReadFromUDP(buf)
		if err != nil {
			return err
		}
		switch {
		case from == nil, w.from == nil && time.Since(heard) > silent && !sender.IP.Equal(from):
			from, connected = sender.IP, false
		case !sender.IP.Equal(from):
			if w.from == nil {
				in.Tell(source.Garbage, fmt.Sprintf("%s sends to this port too, and is left out: say from= to choose", sender.IP))
			}
			continue
		}
		heard = time.Now()
		if !connected {
			in.Opened(sender.IP.String(), true)
			connected = true
		}
		in.Packet(buf[:n])
	}
}

// Package socket reads lines of text from the network: from a server that a
// connection is made to, or from datagrams.
//
// Start with [TCP] and [UDP].
package socket

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"strings"
	"syscall"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

const (
	dialFor = 4 * time.Second
	again   = 500 * time.Millisecond // before the next try
)

// alive finds out within about 15 s that the other end is gone without a word:
// a board without power, a network that went away.
var alive = net.KeepAliveConfig{Enable: true, Idle: 5 * time.Second, Interval: 3 * time.Second, Count: 3}

// TCP is a server on the network that sends lines.
func TCP() source.Kind {
	return source.Kind{
		Name:    "tcp",
		Words:   "a board or converter on the network that sends lines of text (TCP)",
		Page:    "docs/sources/tcp.md",
		Example: "tcp://192.168.4.1:4000#value=vac,unit=kPa,reads=vacuum",
		Options: lines.Options(
			source.Option{Key: "whole", Words: "each connection begins with a whole line", Hint: "whole=yes where a connection brings one line and closes", Default: "no", Choice: []string{"no", "yes"}},
			source.Option{Key: "send", Words: "what asks the device for a figure", Hint: `as in send=READ?\n, where it does not send by itself`},
			source.Option{Key: "every", Words: "how often to ask", Hint: "as in every=200 ms", Default: "500 ms"},
		),
		Open: openTCP,
	}
}

func openTCP(a source.Address) (source.Source, error) {
	host, err := hostPort(a, false)
	if err != nil {
		return nil, err
	}
	w := &tcp{host: host}
	switch text := strings.ToLower(a.Options["whole"]); text {
	case "", "no":
	case "yes":
		w.whole = true
	default:
		return nil, &source.Fault{Source: a.Bare(), Key: "whole", What: "is neither yes nor no", Hint: "say one of them"}
	}
	if w.send, w.every, err = lines.Asking(a); err != nil {
		return nil, err
	}
	return lines.New(a, w)
}

// hostPort reads //host:port.
func hostPort(a source.Address, listen bool) (string, error) {
	place, ok := strings.CutPrefix(a.Place, "//")
	host, port, err := net.SplitHostPort(strings.TrimSuffix(place, "/"))
	if err == nil && (host == "" && !listen) {
		err = errors.New("it has no host")
	}
	if err == nil {
		_, err = net.LookupPort(a.Kind, port)
	}
	if !ok || err != nil {
		hint := "as in " + a.Kind + "://192.168.4.1:4000"
		if listen {
			hint = "as in udp://:5005, for what is sent to this machine's port 5005"
		}
		return "", &source.Fault{Source: a.Bare(), What: "has no host and port that make sense", Err: err, Hint: hint}
	}
	return net.JoinHostPort(host, port), nil
}

type tcp struct {
	host  string
	whole bool
	send  []byte
	every time.Duration
}

// Asks says how often the device is asked.
func (w *tcp) Asks() time.Duration {
	if len(w.send) == 0 {
		return 0
	}
	return w.every
}

// Carry connects, again and again, until ctx ends.
func (w *tcp) Carry(ctx context.Context, in *lines.Inlet) error {
	dialer := net.Dialer{Timeout: dialFor, KeepAliveConfig: alive}
	told := ""
	for ctx.Err() == nil {
		begun := time.Now()
		c, err := dialer.DialContext(ctx, "tcp", w.host)
		if err == nil {
			in.Opened(w.host, w.whole)
			told = ""
			err = w.use(ctx, c, in)
		}
		if ctx.Err() != nil {
			return nil
		}
		if why := w.why(err); why != told { // one that closes after each line is told by the Teller
			in.Tell(source.Lost, why)
			told = why
		}
		wait(ctx, again-min(again, time.Since(begun)))
	}
	return nil
}

// use reads a connection until it ends.
func (w *tcp) use(ctx context.Context, c net.Conn, in *lines.Inlet) error {
	defer c.Close()
	defer context.AfterFunc(ctx, func() { c.Close() })()
	if len(w.send) > 0 {
		done := make(chan struct{})
		asking, stop := context.WithCancel(ctx)
		go func() {
			defer close(done)
			for asking.Err() == nil {
				c.SetWriteDeadline(time.Now().Add(dialFor))
				if _, err := c.Write(w.send); err != nil {
					return // the read says so
				}
				wait(asking, w.every)
			}
		}()
		defer func() { stop(); c.Close(); <-done }()
	}
	buf := make([]byte, 16<<10)
	for {
		n, err := c.Read(buf)
		in.Bytes(buf[:n])
		if err != nil {
			return err
		}
	}
}

func (w *tcp) why(err error) string {
	var dns *net.DNSError
	switch {
	case errors.Is(err, io.EOF):
		return w.host + " closed the connection"
	case errors.Is(err, syscall.ECONNREFUSED):
		return w.host + " refused the connection: is its port right, and is it free for one more?"
	case errors.Is(err, syscall.EHOSTUNREACH), errors.Is(err, syscall.ENETUNREACH):
		return w.host + " is out of reach: is this machine in the same network?"
	case errors.As(err, &dns):
		return "no machine called " + dns.Name + " is known here"
	case errors.Is(err, os.ErrDeadlineExceeded), isTimeout(err):
		return w.host + " does not answer: is it on, and in the same network?"
	}
	return err.Error()
}

func isTimeout(err error) bool {
	var e net.Error
	return errors.As(err, &e) && e.Timeout()
}

func wait(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}

package practise

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"time"
)

// Wire speaks as a sensor on some transport does, until ctx ends.
type Wire interface {
	// Address is what to give as a source, to read this wire. It is complete once
	// the wire was opened.
	Address() string
	// Serve speaks until ctx ends, and closes all it opened.
	Serve(ctx context.Context, readings <-chan Reading) error
}

// lines writes readings to w until ctx ends or w fails.
func lines(ctx context.Context, w io.Writer, s Speech, l *Line, readings <-chan Reading) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case r := <-readings:
			if l.Unplugged() {
				continue
			}
			if _, err := w.Write(l.Garble([]byte(s.Write(r) + "\r\n"))); err != nil {
				return err
			}
		}
	}
}

// tcp listens and speaks to whoever connects.
type tcp struct {
	l    net.Listener
	s    Speech
	line *Line
	feed *Feed
}

// ListenTCP opens a wire that speaks lines of text to whoever connects to an
// address ("127.0.0.1:0" takes any free port).
func ListenTCP(at string, s Speech, line *Line, feed *Feed) (Wire, error) {
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, fmt.Errorf("practice rig, TCP: %w", err)
	}
	return &tcp{l, s, line, feed}, nil
}

func (w *tcp) Address() string { return "tcp://" + w.l.Addr().String() }

func (w *tcp) Serve(ctx context.Context, _ <-chan Reading) error {
	stop := context.AfterFunc(ctx, func() { w.l.Close() })
	defer stop()
	done := make(chan struct{})
	n := 0
	defer func() {
		for range n {
			<-done
		}
	}()
	for {
		c, err := w.l.Accept()
		if err != nil {
			if ctx.Err() != nil || errors.Is(err, net.ErrClosed) {
				return nil
			}
			return err
		}
		n++
		mine := w.feed.Open()
		go func() {
			defer func() { done <- struct{}{} }()
			defer c.Close()
			inner, cancel := context.WithCancel(ctx)
			defer cancel()
			go func() { // a client that goes away is noticed
				_, _ = io.Copy(io.Discard, c)
				cancel()
			}()
			stop := context.AfterFunc(inner, func() { c.Close() })
			defer stop()
			for inner.Err() == nil {
				if w.line.Unplugged() {
					return // as a cable does: the connection ends
				}
				select {
				case <-inner.Done():
				case r := <-mine:
					if _, err := c.Write(w.line.Garble([]byte(w.s.Write(r) + "\r\n"))); err != nil {
						return
					}
				}
			}
		}()
	}
}

type udp struct {
	to   string
	s    Speech
	line *Line
}

// SendUDP opens a wire that sends each reading as a datagram to an address.
func SendUDP(to string, s Speech, line *Line) Wire { return &udp{to, s, line} }

func (w *udp) Address() string {
	_, port, err := net.SplitHostPort(w.to)
	if err != nil {
		return "udp://" + w.to
	}
	return "udp://:" + port
}

func (w *udp) Serve(ctx context.Context, readings <-chan Reading) error {
	c, err := net.Dial("udp", w.to)
	if err != nil {
		return fmt.Errorf("practice rig, UDP: %w", err)
	}
	defer c.Close()
	for {
		select {
		case <-ctx.Done():
			return nil
		case r := <-readings:
			if !w.line.Unplugged() {
				// nobody listening yet is no fault: a datagram is lost, as on a real net
				_, _ = c.Write(w.line.Garble([]byte(w.s.Write(r) + "\n")))
			}
		}
	}
}

type web struct {
	l    net.Listener
	s    Speech
	line *Line
	feed *Feed
}

// ListenHTTP opens a wire that answers GET /vacuum with the latest reading.
func ListenHTTP(at string, s Speech, line *Line, feed *Feed) (Wire, error) {
	l, err := net.Listen("tcp", at)
	if err != nil {
		return nil, fmt.Errorf("practice rig, HTTP: %w", err)
	}
	return &web{l, s, line, feed}, nil
}

func (w *web) Address() string { return "http://" + w.l.Addr().String() + "/vacuum#every=20ms" }

func (w *web) Serve(ctx context.Context, _ <-chan Reading) error {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /vacuum", func(rw http.ResponseWriter, r *http.Request) {
		if w.line.Unplugged() {
			panic(http.ErrAbortHandler)
		}
		kind := "text/plain; charset=utf-8"
		if strings.HasPrefix(w.s.Example, "{") {
			kind = "application/json"
		}
		rw.Header().Set("Content-Type", kind)
		rw.Header().Set("Cache-Control", "no-store")
		_, _ = rw.Write(w.line.Garble([]byte(w.s.Write(w.feed.Last()) + "\n")))
	})
	srv := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	stop := context.AfterFunc(ctx, func() { srv.Close() })
	defer stop()
	if err := srv.Serve(w.l); !errors.Is(err, http.ErrServerClosed) && ctx.Err() == nil {
		return err
	}
	return nil
}

// stream writes lines to a file that is open, a terminal's other end or the
// standard output.
type stream struct {
	f       io.WriteCloser
	address string
	s       Speech
	line    *Line
}

// WriteTo opens a wire on a file that is open; address says what reads it. Serve
// closes it.
func WriteTo(f io.WriteCloser, address string, s Speech, line *Line) Wire {
	return &stream{f, address, s, line}
}

func (w *stream) Address() string { return w.address }

func (w *stream) Serve(ctx context.Context, readings <-chan Reading) error {
	stop := context.AfterFunc(ctx, func() { w.f.Close() })
	defer stop()
	err := lines(ctx, w.f, w.s, w.line, readings)
	if ctx.Err() != nil {
		return nil
	}
	w.f.Close()
	return err
}

type out struct {
	w    io.Writer
	s    Speech
	line *Line
}

// WriteOut opens a wire on a writer, for a pipe.
func WriteOut(w io.Writer, s Speech, line *Line) Wire { return &out{w, s, line} }

func (w *out) Address() string { return "stdin:" }

func (w *out) Serve(ctx context.Context, readings <-chan Reading) error {
	return lines(ctx, w.w, w.s, w.line, readings)
}

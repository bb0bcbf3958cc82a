package mqtt

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"seatproof/internal/source"
)

// Message is what came for a topic.
type Message struct {
	At       time.Time
	Payload  []byte
	Retained bool // the broker had it: it is from before we asked
}

// Conn is a connection to a broker.
type Conn struct {
	Version Version
	c       client
	stop    context.CancelFunc
}

// client is what both versions of the protocol do.
type client interface {
	publish(ctx context.Context, topic string, payload []byte) error
	done() <-chan struct{} // closed once the connection is lost
	why() error
	close()
}

// dialled says that the network connection itself failed: another version of
// the protocol would fail the same way.
type dialled struct{ err error }

func (d *dialled) Error() string { return d.err.Error() }
func (d *dialled) Unwrap() error { return d.err }

// Connect connects and, where topic is not "", subscribes to it. got is called
// from another goroutine, in the order of the messages; while it blocks, nothing
// is read from the broker. Connect logs in with the version that is asked for,
// or with 5 and then, where the broker does not know that, with 3.1.1.
func (s Server) Connect(ctx context.Context, topic string, qos byte, got func(Message)) (*Conn, error) {
	l, err := s.login()
	if err != nil {
		return nil, err
	}
	alive, stop := context.WithCancel(context.WithoutCancel(ctx))
	handle := func(m Message) {
		if alive.Err() == nil {
			got(m)
		}
	}
	c := &Conn{stop: stop}
	try := func(v Version) error {
		within, cancel := context.WithTimeout(ctx, 2*slow)
		defer cancel()
		conn, err := s.dial(within)
		if err != nil {
			return &dialled{err}
		}
		c.Version = v
		if v == V5 {
			c.c, err = connect5(within, s, l, conn, topic, qos, handle)
		} else {
			c.c, err = connect311(within, s, l, conn, topic, qos, handle)
		}
		return err
	}
	switch s.Version {
	case Either:
		if err = try(V5); err != nil && !final(err) && ctx.Err() == nil {
			// A broker of 3.1.1 answers with a code that 5 does not have, or
			// hangs up (MQTT 3.1.1, 3.1.2.2).
			if older := try(V311); older == nil || final(older) {
				err = older
			}
		}
	default:
		err = try(s.Version)
	}
	if err != nil {
		stop()
		return nil, err
	}
	return c, nil
}

// final says that trying the other version is of no use.
func final(err error) bool {
	var d *dialled
	var f *source.Fault
	return errors.As(err, &d) || errors.As(err, &f) || errors.Is(err, ErrRefused)
}

// Publish sends a message and waits until the broker has it (QoS 1).
func (c *Conn) Publish(ctx context.Context, topic string, payload []byte) error {
	within, cancel := context.WithTimeout(ctx, slow)
	defer cancel()
	return c.c.publish(within, topic, payload)
}

// Done is closed once the connection is lost; Why then says why.
func (c *Conn) Done() <-chan struct{} { return c.c.done() }

// Why returns why the connection was lost.
func (c *Conn) Why() error {
	if err := c.c.why(); err != nil {
		return err
	}
	return net.ErrClosed
}

// Close ends the connection; no message is given any more.
func (c *Conn) Close() {
	c.stop()
	c.c.close()
}

func refusedTopic(topic string, code byte) error {
	return fmt.Errorf("the broker refuses topic %s (code %d): may this user read it", topic, code)
}

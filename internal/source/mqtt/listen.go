package mqtt

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"seatproof/internal/source"
	"seatproof/internal/source/lines"
)

// How patiently a broker is tried again, and how much may wait.
const (
	soonest = 200 * time.Millisecond
	latest  = 5 * time.Second
	waiting = 4096 // messages between the network and the sink
	enough  = 3    // payloads in a row that can't be read are no accident
)

// listener listens to one topic in one goroutine.
type listener struct {
	t       *Topic
	sink    source.Sink
	tell    *source.Teller
	time    source.Timeline
	gaps    gaps
	parser  *lines.Parser
	counter *lines.Parser
	in      chan Message

	there bool // the broker let us in, at any time
	some  bool // a sample came, at any time
	bad   int
	wait  time.Duration
	batch []source.Sample
}

func newListener(t *Topic, sink source.Sink) *listener {
	l := &listener{t: t, sink: sink, tell: source.NewTeller(sink), parser: t.pattern.Parser(), in: make(chan Message, waiting)}
	if t.counts {
		l.counter = t.counter.Parser()
	}
	l.gaps.broke()
	return l
}

func (l *listener) run(ctx context.Context) error {
	defer l.tell.Rest()
	for ctx.Err() == nil {
		// a handler of a connection that is being closed must not wait for us
		alive, stop := context.WithCancel(ctx)
		conn, err := l.t.server.Connect(ctx, l.t.topic, l.t.qos, func(m Message) {
			select {
			case l.in <- m:
			case <-alive.Done():
			}
		})
		if err != nil {
			stop()
			if ctx.Err() != nil {
				return nil
			}
			if err := l.failed(err); err != nil {
				return err
			}
			l.pause(ctx)
			continue
		}
		l.there, l.wait = true, 0
		l.notice(time.Now(), source.Connected, fmt.Sprintf("%s, MQTT %s", l.t.server.Shown, conn.Version))
		err = l.listen(ctx, conn)
		stop()
		conn.Close()
		if err != nil {
			return err
		}
		if ctx.Err() == nil {
			l.lost(fmt.Sprintf("the connection to the broker ended: %v", conn.Why()))
			l.pause(ctx)
		}
	}
	return nil
}

// listen takes messages until the connection or ctx ends.
func (l *listener) listen(ctx context.Context, conn *Conn) error {
	due := time.NewTicker(time.Second)
	defer due.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case m := <-l.in:
			if err := l.take(m); err != nil {
				return err
			}
		case now := <-due.C:
			l.tell.Due(now)
		case <-conn.Done():
			for {
				select {
				case m := <-l.in:
					if err := l.take(m); err != nil {
						return err
					}
				default:
					return nil
				}
			}
		}
	}
}

// failed tells why there is no connection; what no waiting mends is a fault.
func (l *listener) failed(err error) error {
	var f *source.Fault
	s := l.t.server
	switch {
	case l.there: // it let us in before
	case errors.As(err, &f):
		return f
	case errors.Is(err, ErrRefused):
		return &source.Fault{Source: s.Shown, Key: "password", What: "is refused by the broker, or the user is", Hint: "ask whoever runs the broker"}
	case untrusted(err):
		return &source.Fault{Source: s.Shown, Key: "ca", What: "does not vouch for the broker's certificate", Err: err, Hint: "name the file of the authority that signed it; never mind the lock by going without TLS on a network of others"}
	}
	l.lost(err.Error())
	return nil
}

// take takes a message and all that wait behind it.
func (l *listener) take(m Message) error {
	l.batch = l.batch[:0]
	for n := len(l.in); ; n-- {
		if err := l.message(m); err != nil {
			return err
		}
		if n <= 0 {
			break
		}
		m = <-l.in
	}
	if len(l.batch) > 0 {
		l.some = true
		l.sink.Take(l.batch)
	}
	return nil
}

func (l *listener) message(m Message) error {
	if m.Retained {
		return nil // of any age
	}
	rows := rows(m.Payload)
	first, step := l.time.Batch(m.At, len(rows))
	for i, row := range rows {
		if err := l.row(first.Add(time.Duration(i)*step), row); err != nil {
			return err
		}
	}
	return nil
}

// rows returns the lines of a payload: one, if it is JSON.
func rows(payload []byte) [][]byte {
	payload = bytes.TrimSpace(payload)
	if len(payload) == 0 {
		return nil
	}
	if payload[0] == '{' || payload[0] == '[' {
		// JSON may go over several lines, which to a reader of lines is no text
		return [][]byte{bytes.Map(func(r rune) rune {
			if r == '\n' || r == '\r' {
				return ' '
			}
			return r
		}, payload)}
	}
	if bytes.IndexByte(payload, '\n') < 0 {
		return [][]byte{payload}
	}
	var out [][]byte
	for row := range bytes.SplitSeq(payload, []byte("\n")) {
		if row = bytes.TrimSpace(row); len(row) > 0 {
			out = append(out, row)
		}
	}
	return out
}

func (l *listener) row(at time.Time, row []byte) error {
	r, err := l.parser.Parse(row)
	if err != nil {
		l.notice(at, source.Garbage, fmt.Sprintf("%s: %v", shortly(row), err))
		if l.bad++; l.bad >= enough && !l.some && !l.t.said && errors.Is(err, lines.ErrShape) {
			return &source.Fault{Source: l.t.server.Shown, Key: "value", What: fmt.Sprintf("is not said, and %s has more than one figure or none", shortly(row)), Hint: "say which figure is the pressure, as in value=vac"}
		}
		return nil
	}
	l.bad = 0
	if l.counter != nil {
		n, err := l.counter.Parse(row)
		if err != nil || n.Missing || math.IsNaN(n.Value) {
			l.notice(at, source.Garbage, fmt.Sprintf("%s has no counter", shortly(row)))
		} else if again, told := l.gaps.count(n.Value); again {
			return nil
		} else {
			l.notices(at, told)
		}
	} else {
		l.notices(at, l.gaps.time(r.Clock))
	}
	if r.Missing {
		l.notice(at, source.OutOfRange, fmt.Sprintf("%s: the sensor gives no figure", shortly(row)))
		return nil
	}
	var pa float64
	if r.Unit.Name != "" && l.t.scale.Table == nil {
		pa, err = l.t.scale.PascalIn(r.Value, r.Unit)
	} else {
		pa, err = l.t.scale.Pascal(r.Value)
	}
	if err != nil {
		l.notice(at, source.OutOfRange, fmt.Sprintf("%s: %v", shortly(row), err))
		return nil
	}
	clock, told := l.time.Stamp(at, r.Clock)
	l.notices(at, told)
	l.batch = append(l.batch, source.Sample{At: at, Clock: clock, Value: pa})
	return nil
}

func (l *listener) notices(at time.Time, told []source.Notice) {
	for _, n := range told {
		n.At = at
		l.tell.Tell(n)
	}
}

func (l *listener) notice(at time.Time, code source.Code, detail string) {
	l.tell.Tell(source.Notice{At: at, Code: code, Detail: detail})
}

func (l *listener) lost(detail string) {
	l.time.Break()
	l.gaps.broke()
	l.notice(time.Now(), source.Lost, detail)
}

// pause waits before the next try, longer each time.
func (l *listener) pause(ctx context.Context) {
	l.wait = min(max(2*l.wait, soonest), latest)
	t := time.NewTimer(l.wait)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}

package lines

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"seatproof/internal/source"
)

const wrongRate = "bytes that are no text: is the rate right, and does the device speak text?"

// feed turns pieces into lines and lines into samples.
type feed struct {
	s        *stream
	sink     source.Sink
	tell     *source.Teller
	split    splitter
	line     source.Timeline
	batch    []source.Sample
	next     int    // lines to learn from, the next time
	held     []Line // while nothing is settled
	since    time.Time
	heard    time.Time
	at       time.Time // of the piece in hand
	learning bool      // only to learn
	enough   bool
	settling bool // lines that were held are read
	binary   int  // lines in a row that were no text
	faulty   error
}

func (f *feed) begin() {
	f.split.got = f.got
	f.split.half = func(line []byte) {
		if !f.s.ready && isText(line) {
			if plain := (scanner{dec: '.', units: newUnitCache()}); len(plain.scan(line)) == 0 {
				f.got(line) // it may be the names of what is to come
				return
			}
		}
		if f.s.ready || !isText(line) {
			f.tell.Tell(source.Notice{At: f.at, Code: source.HalfLine, Detail: fmt.Sprintf("%q has no beginning", short(string(line)))})
		}
	}
	f.split.tooLong = func(n int) {
		f.tell.Tell(source.Notice{At: f.at, Code: source.Garbage, Detail: fmt.Sprintf("%d bytes without a line end", n)})
	}
	f.heard = time.Now()
}

// take takes an event of the wire.
func (f *feed) take(e event) error {
	f.at = e.at
	switch e.what {
	case isOpened:
		f.lost()
		f.split.reset(e.bytes != nil)
		f.line.Break()
		e.notice.At = e.at
		f.tell.Tell(e.notice)
		return nil
	case isNotice:
		if e.notice.Code == source.Lost {
			f.lost()
		}
		e.notice.At = e.at
		f.tell.Tell(e.notice)
		return nil
	case isBytes:
		f.heard = e.at
		f.split.write(e.bytes)
		if l := f.split.line; len(l) > 200 && !isText(l) {
			// no line will come of it, and it should not take long to say so
			f.tell.Tell(source.Notice{At: f.at, Code: source.Garbage, Detail: wrongRate})
			f.split.reset(false)
		}
	case isPacket:
		f.heard = e.at
		f.packet(e.bytes)
	}
	f.flush()
	return f.faulty
}

// packet takes a whole record: one JSON text over several lines, or lines.
func (f *feed) packet(b []byte) {
	if t := bytes.TrimSpace(b); len(t) > 0 && (t[0] == '{' || t[0] == '[') && bytes.IndexByte(t, '\n') >= 0 {
		if s := (scanner{dec: '.', units: newUnitCache()}); s.json(t) {
			flat := bytes.ReplaceAll(bytes.ReplaceAll(t, []byte("\n"), []byte(" ")), []byte("\r"), []byte(" "))
			f.got(flat)
			return
		}
	}
	f.split.reset(true)
	f.split.write(b)
	f.split.end()
}

// lost ends a stream: the line in hand has no end.
func (f *feed) lost() {
	if len(f.split.line) > 0 && f.split.begun {
		f.tell.Tell(source.Notice{At: f.at, Code: source.HalfLine, Detail: fmt.Sprintf("%q has no end", short(string(f.split.line)))})
	}
	f.split.reset(false)
}

// got takes a line.
func (f *feed) got(line []byte) {
	if f.enough || f.faulty != nil {
		return
	}
	if len(trim(line)) == 0 {
		return
	}
	if !f.s.ready || f.learning {
		if f.since.IsZero() {
			f.since = f.at
		}
		f.held = append(f.held, Line{At: f.at, Text: string(line)})
		return
	}
	f.parse(f.at, line)
}

// parse reads a line once it is settled how.
func (f *feed) parse(at time.Time, line []byte) {
	r, err := f.s.parser.Parse(line)
	switch {
	case errors.Is(err, ErrOther):
		return
	case errors.Is(err, ErrBinary):
		f.binary++
		detail := "bytes that are no text"
		if f.binary >= 5 {
			detail = wrongRate
		}
		f.tell.Tell(source.Notice{At: at, Code: source.Garbage, Detail: detail})
		return
	case err != nil:
		names := f.settling && len(f.s.parser.scan.scan(line)) == 0
		if !names && !bytes.HasPrefix(trim(line), []byte("#")) {
			f.tell.Tell(source.Notice{At: at, Code: source.Garbage, Detail: fmt.Sprintf("%q: %v", short(string(line)), err)})
		}
		return
	case r.Missing:
		f.binary = 0
		f.tell.Tell(source.Notice{At: at, Code: source.OutOfRange, Detail: fmt.Sprintf("%q: the device gives no figure", short(string(line)))})
		return
	}
	f.binary = 0
	u := f.s.scale.Unit
	if r.Unit.Name != "" && f.s.scale.Table == nil {
		u = r.Unit // somebody may press the gauge's own unit key
	}
	p, err := f.s.scale.PascalIn(r.Value, u)
	if err != nil {
		f.tell.Tell(source.Notice{At: at, Code: source.OutOfRange, Detail: err.Error()})
		return
	}
	f.batch = append(f.batch, source.Sample{At: at, Clock: r.Clock, Value: p})
}

// flush hands on what the piece in hand gave.
func (f *feed) flush() {
	if f.learning || !f.s.ready {
		f.faulty = f.settle(false, f.at)
		return
	}
	f.hand(f.at)
}

// hand puts the batch on the timeline and gives it to the sink.
func (f *feed) hand(at time.Time) {
	if len(f.batch) == 0 {
		return
	}
	first, step := f.line.Batch(at, len(f.batch))
	for i := range f.batch {
		b := &f.batch[i]
		b.At = first.Add(step * time.Duration(i))
		var notices []source.Notice
		b.Clock, notices = f.line.Stamp(b.At, b.Clock)
		for _, n := range notices {
			n.At = b.At
			f.tell.Tell(n)
		}
	}
	f.sink.Take(f.batch)
	f.batch = f.batch[:0]
}

// settle learns from the lines held, once there are enough of them or now is
// set, and reads them. What is still open is tried again with more: a board may
// begin with a page of words.
func (f *feed) settle(now bool, at time.Time) error {
	n := len(f.held)
	if n == 0 {
		return nil
	}
	final := now || n >= mostLines || at.Sub(f.since) >= enoughTime
	if !final && n < max(f.next, enoughLines) {
		return nil
	}
	f.next = n + enoughLines
	c, err := f.choose()
	if f.learning {
		f.enough = final || err == nil
		return nil
	}
	if err != nil {
		if final {
			return err
		}
		return nil
	}
	if err := f.s.settle(c.Pattern, c); err != nil {
		return err
	}
	held := f.held
	f.held = nil
	f.settling = true
	defer func() { f.settling = false }()
	for i, l := range held {
		f.parse(l.At, []byte(l.Text))
		if i+1 == len(held) || !held[i+1].At.Equal(l.At) {
			f.hand(l.At)
		}
	}
	return nil
}

// choose picks the way to read the lines held, or says what to say.
func (f *feed) choose() (Candidate, error) {
	bare := f.s.address.Bare()
	if f.s.known { // which figure is said; its unit may be in the lines
		c := Candidate{Pattern: f.s.given}
		parser := c.Pattern.Parser()
		learned, _ := Learn(f.held)
		for _, l := range f.held {
			r, err := parser.Parse([]byte(l.Text))
			if err != nil || r.Missing {
				continue
			}
			for _, k := range learned {
				if other, err := k.Pattern.Parse([]byte(l.Text)); err == nil && other.Value == r.Value {
					c.Unit, c.Reads = k.Unit, k.Reads
					return c, nil
				}
			}
			c.Unit = r.Unit
		}
		return c, nil
	}
	learned, err := Learn(f.held)
	if err != nil {
		return Candidate{}, &source.Fault{Source: bare, What: err.Error()}
	}
	for i := range learned {
		learned[i].answered(f.s.address)
	}
	c := learned[0]
	if c.Sure() {
		return c, nil
	}
	unsure := &UnsureError{Candidates: learned}
	for _, l := range f.held[:min(len(f.held), 3)] {
		unsure.Lines = append(unsure.Lines, short(l.Text))
	}
	return c, &source.Fault{Source: bare, Key: c.Ask[0], What: "the lines leave open how they are meant", Hint: "say " + strings.Join(c.Ask, " and "), Err: unsure}
}

// idle looks after what time brings.
func (f *feed) idle(now time.Time) error {
	f.tell.Due(now)
	if now.Sub(f.heard) >= pauseAfter {
		f.at = f.heard
		f.split.pause()
		f.heard = now
	}
	f.at = now
	if f.faulty == nil {
		f.flushAt(now)
	}
	return f.faulty
}

func (f *feed) flushAt(now time.Time) {
	if f.learning || !f.s.ready {
		f.faulty = f.settle(false, now)
		return
	}
	f.hand(now)
}

// last reads what is held when it is over, before it was settled maybe; atEnd
// says that the stream ended by itself, so that a last line without an end is
// whole.
func (f *feed) last(atEnd bool) error {
	if atEnd && len(f.split.line) > 0 && f.split.begun {
		f.split.end()
	}
	if !f.s.ready || f.learning {
		if err := f.settle(true, time.Now()); err != nil {
			return err
		}
	}
	if !f.learning && f.s.ready {
		f.hand(f.at)
	}
	f.tell.Rest()
	return nil
}

func (f *feed) end() { f.tell.Due(time.Now()) }

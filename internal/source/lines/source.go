package lines

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"seatproof/internal/source"
)

// Options are the options of every kind of source that brings lines.
func Options(more ...source.Option) []source.Option {
	return append(append(more, PatternOptions()...), source.ScaleOptions()...)
}

// New returns a source of the lines that wire brings, read as the address says.
// Where it does not say which figure is meant, that is learned from the first
// lines; where these leave it open, Run returns a *source.Fault that says what
// to say. The error here is a *source.Fault.
func New(a source.Address, wire Wire) (source.Source, error) {
	p, known, err := PatternOf(a)
	if err != nil {
		return nil, err
	}
	s := &stream{address: a, wire: wire, given: p, known: known}
	if known {
		if err := s.settle(p, Candidate{}); err != nil && !asksUnit(err) {
			return nil, err
		}
		return s, nil
	}
	// what is said must be right, even while the rest is to be learned
	assumed := source.Scale{Reads: source.ReadsVacuum}
	assumed.Unit.Name = "?"
	if _, err := source.ScaleOf(a, assumed); err != nil {
		return nil, err
	}
	s.about = source.About{Kind: a.Kind, Name: a.Options["name"]}
	if s.about.Name == "" {
		s.about.Name = a.Bare()
	}
	return s, nil
}

// asksUnit says whether a fault is only that the unit or its meaning is not
// said, which the lines may say.
func asksUnit(err error) bool {
	var f *source.Fault
	return errors.As(err, &f) && (f.Key == "unit" || f.Key == "reads") && strings.HasPrefix(f.What, "nothing says")
}

// stream is a source of lines.
type stream struct {
	address source.Address
	wire    Wire
	given   Pattern // as the address has it
	known   bool    // the address says which figure is meant

	mu     sync.Mutex // guards about, which others read while Run runs
	about  source.About
	scale  source.Scale
	parser *Parser
	ready  bool // scale and parser are set
	words  string
}

// About says what is known of the source: with what was learned, once it was.
func (s *stream) About() source.About {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.about
}

// settle fixes how lines are read.
func (s *stream) settle(p Pattern, c Candidate) error {
	scale, err := source.ScaleOf(s.address, source.Scale{Reads: c.Reads, Unit: c.Unit})
	if err != nil {
		return err
	}
	about := source.About{}
	if err := scale.Describe(s.address, &about); err != nil {
		return err
	}
	s.mu.Lock()
	s.about, s.scale, s.parser, s.ready, s.words = about, scale, p.Parser(), true, c.Words
	s.mu.Unlock()
	return nil
}

// Explain says how the lines are read, once that was learned; what a person said
// needs no words.
func (s *stream) Explain() (string, map[string]string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.ready || s.words == "" {
		return "", nil
	}
	o := s.parser.Pattern.Options()
	for _, key := range []string{"table", "resolution", "accuracy"} {
		if v, ok := s.address.Options[key]; ok {
			o[key] = v
		}
	}
	if s.scale.Table == nil {
		o["unit"] = s.scale.Unit.Name
	}
	o["reads"] = string(s.scale.Reads)
	return s.words, o
}

// How much is read before it is settled how lines are read.
const (
	enoughLines = 12
	enoughTime  = 4 * time.Second
)

// pauseAfter is how long nothing must come for a pause to end a line, of a
// device that sends no line ends.
const pauseAfter = 60 * time.Millisecond

// Run reads until ctx ends or the stream is over.
func (s *stream) Run(ctx context.Context, sink source.Sink) error {
	f := &feed{s: s, sink: sink, tell: source.NewTeller(sink)}
	return s.pump(ctx, f)
}

// pump runs the wire in a goroutine of its own, and all the rest in this one.
func (s *stream) pump(whole context.Context, f *feed) error {
	ctx, stop := context.WithCancel(whole)
	defer stop()
	in := &Inlet{ctx: ctx, events: make(chan event, queue)}
	ended := make(chan error, 1)
	go func() {
		err := s.wire.Carry(ctx, in)
		close(in.events)
		ended <- err
	}()
	f.begin()
	tick := time.NewTicker(pauseAfter)
	defer tick.Stop()
	var fault error
	for open := true; open; {
		select {
		case e, ok := <-in.events:
			if !ok {
				open = false
				break
			}
			if fault == nil && !f.enough { // what was read before the end counts
				fault = f.take(e)
			}
		case now := <-tick.C:
			if fault == nil {
				fault = f.idle(now)
			}
		}
		if fault != nil || f.enough {
			stop()
		}
	}
	err := <-ended
	f.end()
	switch {
	case fault != nil:
		return fault
	case err != nil && !f.enough:
		return err
	case !f.enough:
		return f.last(whole.Err() == nil)
	}
	return nil
}

// Learn reads until enough lines have come to say how they may be read, or for
// as long as learning takes, and closes all it opened.
func (s *stream) Learn(ctx context.Context) ([]source.Learned, error) {
	f := &feed{s: s, sink: &source.Memory{}, learning: true}
	f.tell = source.NewTeller(f.sink)
	if err := s.pump(ctx, f); err != nil {
		return nil, err
	}
	if len(f.held) == 0 && ctx.Err() != nil {
		return nil, ctx.Err()
	}
	c, err := Learn(f.held)
	if err != nil {
		return nil, &source.Fault{Source: s.address.Bare(), What: err.Error()}
	}
	var out []source.Learned
	for i := range c {
		c[i].answered(s.address)
		out = append(out, c[i].learned())
	}
	for _, l := range f.held[:min(len(f.held), 4)] {
		out[0].Lines = append(out[0].Lines, short(l.Text))
	}
	return out, nil
}

func (c Candidate) learned() source.Learned {
	return source.Learned{Words: c.Words, Options: c.Options(), Ask: c.Ask, Now: c.Now}
}

// answered takes what the address says off what must be asked.
func (c *Candidate) answered(a source.Address) {
	for key := range a.Options {
		c.Ask = slices.DeleteFunc(c.Ask, func(k string) bool { return k == key })
	}
	if _, ok := a.Options["table"]; ok {
		c.Ask = slices.DeleteFunc(c.Ask, func(k string) bool { return k == "unit" })
	}
	if scale, err := source.ScaleOf(a, source.Scale{Reads: c.Reads, Unit: c.Unit}); err == nil {
		c.Unit, c.Reads, c.table = scale.Unit, scale.Reads, scale.Table != nil
		c.say()
		c.Ask = slices.DeleteFunc(c.Ask, func(k string) bool { return k != "value" })
	}
}

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

// UnsureError says that lines can be read in more than one way.
type UnsureError struct {
	Candidates []Candidate
	Lines      []string // some of them
}

func (e *UnsureError) Error() string {
	c := e.Candidates[0]
	return fmt.Sprintf("a line is %q, best read by %s", e.Lines[0], c.Words)
}

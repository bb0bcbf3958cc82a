package lines

import (
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
	s.about = source.About{Kind: a.Kind, Name: a.Options["name"], Interval: s.every()}
	if s.about.Name == "" {
		s.about.Name = a.Bare()
	}
	return s, nil
}

// every returns how often the wire asks [s]; 0: it listens.
func (s *stream) every() float64 {
	if w, ok := s.wire.(Asker); ok {
		return w.Asks().Seconds()
	}
	return 0
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
	about := source.About{Interval: s.every()}
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

// UnsureError says that lines can be read in more than one way.
type UnsureError struct {
	Candidates []Candidate
	Lines      []string // some of them
}

func (e *UnsureError) Error() string {
	c := e.Candidates[0]
	return fmt.Sprintf("a line is %q, best read by %s", e.Lines[0], c.Words)
}

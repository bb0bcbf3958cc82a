package lines

import (
	"bytes"
	"time"
)

// longestLine is how long a line may be; a longer one is no sensor's.
const longestLine = 4096

// pauses is how many times the stream must pause in the middle of what would
// be a line, with no line end ever seen, before pauses are taken as line ends.
const pauses = 3

// splitter makes lines of a stream, whatever its line ends: LF, CR, CRLF, or,
// where a device sends none, pauses. It holds one line at most.
type splitter struct {
	line    []byte
	begun   bool // the line in hand began within the stream, not before it
	cut     bool // the line in hand grew too long and is being left out
	ended   bool // a line end was seen
	paused  int
	got     func(line []byte)
	half    func(line []byte) // a line whose beginning was not seen
	tooLong func(n int)
	skipped int
}

// reset begins a new stream; whole says that it begins with a line.
func (s *splitter) reset(whole bool) {
	s.line, s.begun, s.cut, s.ended, s.paused = s.line[:0], whole, false, false, 0
}

// write takes a piece of the stream.
func (s *splitter) write(b []byte) {
	for len(b) > 0 {
		i := bytes.IndexAny(b, "\r\n")
		if i < 0 {
			s.keep(b)
			return
		}
		s.keep(b[:i])
		s.ended = true
		s.end()
		b = b[i+1:]
	}
}

func (s *splitter) keep(b []byte) {
	if s.cut {
		s.skipped += len(b)
		return
	}
	if len(s.line)+len(b) > longestLine {
		s.cut, s.skipped = true, len(s.line)+len(b)
		s.line = s.line[:0]
		return
	}
	s.line = append(s.line, b...)
}

// end ends the line in hand.
func (s *splitter) end() {
	switch {
	case s.cut:
		s.tooLong(s.skipped)
	case len(s.line) == 0:
	case s.begun:
		s.got(s.line)
	default:
		s.half(s.line)
	}
	s.line, s.cut, s.begun = s.line[:0], false, true
}

// pause says that nothing has come for a while.
func (s *splitter) pause() {
	if s.ended || len(s.line) == 0 {
		return
	}
	if s.paused++; s.paused >= pauses {
		s.end()
	}
}

// Line is a line as it came, for learning.
type Line struct {
	At   time.Time // zero: not known
	Text string
}

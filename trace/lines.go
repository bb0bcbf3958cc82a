package trace

import (
	"bytes"
	"fmt"
	"io"
)

const (
	bufferSize = 128 << 10
	windowSize = 64 << 10 // looked at to find out what the columns are
	mostWindow = 4 << 20  // looked at where that holds hardly anything but comments
	maxLine    = 1 << 20  // a longer line is no logger's
)

// lines hands out the lines of a stream without copying them.
type lines struct {
	r        io.Reader
	buf      []byte
	pos, end int
	eol      byte
	no       int  // number of the line last returned
	cut      bool // the line last returned was too long and lost its end
	skip     bool // inside the lost end
	eof      bool
	err      error // of the reader, if not io.EOF
}

// openLines finds out how the stream is encoded and prepares to read lines.
func openLines(r io.Reader, progress func(int64)) (*lines, error) {
	text, err := decode(&counter{r: r, progress: progress})
	if err != nil {
		return nil, err
	}
	l := &lines{r: text, buf: make([]byte, bufferSize), eol: '\n'}
	w := l.window(windowSize)
	if l.err != nil {
		return nil, fmt.Errorf("read trace: %w", l.err)
	}
	if len(w) == 0 {
		return nil, &FileError{What: "the file is empty", Hint: "check that the logger had finished writing it"}
	}
	if err := refuseBinary(w); err != nil {
		return nil, err
	}
	if bytes.IndexByte(w, '\n') < 0 && bytes.IndexByte(w, '\r') >= 0 {
		l.eol = '\r'
	}
	return l, nil
}

// window returns the bytes that come next, at least size of them unless the
// stream ends before, and without taking them.
func (l *lines) window(size int) []byte {
	for !l.eof && l.end-l.pos < size {
		l.fill()
	}
	return l.buf[l.pos:l.end]
}

// next returns the next line without its end, valid until the next call.
func (l *lines) next() ([]byte, bool) {
	for {
		i := bytes.IndexByte(l.buf[l.pos:l.end], l.eol)
		if i >= 0 {
			line := l.buf[l.pos : l.pos+i]
			l.pos += i + 1
			if l.skip {
				l.skip = false
				continue
			}
			l.no++
			l.cut = false
			return line, true
		}
		full := l.pos == 0 && l.end == len(l.buf) && len(l.buf) >= maxLine
		if l.eof || full {
			rest := l.buf[l.pos:l.end]
			l.pos = l.end
			if l.skip || len(rest) == 0 {
				if l.eof {
					return nil, false
				}
				l.fill()
				continue
			}
			l.no++
			l.cut, l.skip = full, full
			return rest, true
		}
		l.fill()
	}
}

// fill reads more, making room first.
func (l *lines) fill() {
	if l.pos > 0 {
		l.end = copy(l.buf, l.buf[l.pos:l.end])
		l.pos = 0
	}
	if l.end == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for range 100 {
		n, err := l.r.Read(l.buf[l.end:])
		l.end += n
		if err != nil {
			l.eof = true
			if err != io.EOF {
				l.err = err
			}
			return
		}
		if n > 0 {
			return
		}
	}
	l.eof, l.err = true, io.ErrNoProgress
}

// counter tells how many bytes went by.
type counter struct {
	r           io.Reader
	n, reported int64
	progress    func(int64)
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	if c.progress != nil && (c.n-c.reported >= 1<<20 || err == io.EOF && c.n != c.reported) {
		c.reported = c.n
		c.progress(c.n)
	}
	return n, err
}

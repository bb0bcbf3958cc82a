package trace

import (
	"bytes"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// sniffSize is how much of a file is looked at to find its encoding.
const sniffSize = 4096

// decode returns r as UTF-8 without a byte order mark. UTF-16 is known by its
// mark or by the zero that every other byte of plain figures is in it.
func decode(r io.Reader) (io.Reader, error) {
	start := make([]byte, sniffSize)
	n, err := io.ReadFull(r, start)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, fmt.Errorf("read trace: %w", err)
	}
	start = start[:n]
	rest := func(skip int) io.Reader { return io.MultiReader(bytes.NewReader(start[skip:]), r) }
	switch {
	case bytes.HasPrefix(start, []byte{0xEF, 0xBB, 0xBF}):
		return rest(3), nil
	case bytes.HasPrefix(start, []byte{0xFF, 0xFE}):
		return &utf16Reader{r: rest(2)}, nil
	case bytes.HasPrefix(start, []byte{0xFE, 0xFF}):
		return &utf16Reader{r: rest(2), big: true}, nil
	}
	switch little, big := zeroSides(start); {
	case little:
		return &utf16Reader{r: rest(0)}, nil
	case big:
		return &utf16Reader{r: rest(0), big: true}, nil
	}
	return rest(0), nil
}

// zeroSides says whether b looks like UTF-16 of mostly Latin text: at least
// nine in ten of one byte of each pair are zero and none of the other.
func zeroSides(b []byte) (little, big bool) {
	pairs := len(b) / 2
	if pairs < 3 {
		return false, false
	}
	even, odd := 0, 0
	for i := 0; i+1 < len(b); i += 2 {
		if b[i] == 0 {
			even++
		}
		if b[i+1] == 0 {
			odd++
		}
	}
	return even == 0 && odd*10 >= pairs*9, odd == 0 && even*10 >= pairs*9
}

// utf16Reader turns UTF-16 into UTF-8.
type utf16Reader struct {
	r    io.Reader
	big  bool
	raw  [4096]byte
	left int // bytes of raw not yet turned
	high rune
	out  []byte
	err  error
}

func (u *utf16Reader) Read(p []byte) (int, error) {
	for len(u.out) == 0 {
		if u.err != nil {
			return 0, u.err
		}
		n, err := u.r.Read(u.raw[u.left:])
		u.err = err
		u.turn(u.left + n)
		if n == 0 && err == nil {
			return 0, nil
		}
	}
	n := copy(p, u.out)
	u.out = u.out[n:]
	return n, nil
}

// turn appends the UTF-8 of the first n bytes of raw to out.
func (u *utf16Reader) turn(n int) {
	i := 0
	for ; i+1 < n; i += 2 {
		c := rune(u.raw[i]) | rune(u.raw[i+1])<<8
		if u.big {
			c = rune(u.raw[i+1]) | rune(u.raw[i])<<8
		}
		if u.high != 0 {
			if r := utf16.DecodeRune(u.high, c); r != utf8.RuneError {
				u.out = utf8.AppendRune(u.out, r)
				u.high = 0
				continue
			}
			u.out = utf8.AppendRune(u.out, utf8.RuneError)
			u.high = 0
		}
		if c >= 0xD800 && c < 0xDC00 {
			u.high = c
			continue
		}
		u.out = utf8.AppendRune(u.out, c) // a lone low half becomes U+FFFD
	}
	u.left = copy(u.raw[:], u.raw[i:n])
}

// refuseBinary is an error where the start of a file, taken as UTF-8, is no
// text. Zeros at the very end are let pass: a logger that lost its power
// leaves them, and the rows before are good.
func refuseBinary(b []byte) error {
	b = b[:min(len(b), sniffSize)]
	at := -1
	if i := bytes.IndexByte(b, 0); i >= 0 && (i == 0 || len(bytes.TrimRight(b, "\x00")) > i) {
		at = i
	}
	controls, invalid := 0, 0
	for i := 0; i < len(b) && at < 0; {
		c := b[i]
		if c < 0x20 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != 0x1A && c != 0 {
			controls++
			if controls > 2+len(b)/100 {
				at = i
			}
		}
		size := 1
		if c >= utf8.RuneSelf {
			var r rune
			if r, size = utf8.DecodeRune(b[i:]); r == utf8.RuneError && size == 1 {
				invalid++
				if invalid > 8+len(b)/10 {
					at = i
				}
			}
		}
		i += size
	}
	if at < 0 {
		return nil
	}
	return &FileError{
		Line: 1 + bytes.Count(b[:at], []byte{'\n'}),
		What: "this is a binary file, not text",
		Hint: "export the trace as CSV or JSON lines from the logger's own program",
	}
}

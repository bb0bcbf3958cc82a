package lines

import (
	"bytes"
	"unicode/utf8"

	"seatproof/trace"
)

// figure is a number of a line, with what stands about it. Its texts are slices
// of the line.
type figure struct {
	name   []byte // text before it that names it; nil: none
	label  []byte // of JSON: what a neighbour called name says
	unit   []byte // text behind it that is a unit; nil: none
	x      float64
	some   bool    // false: a word or an empty cell stands for a missing number
	stamp  bool    // a clock, x in s
	period float64 // after how many seconds the stamp begins anew; 0: never
	across bool    // the name stands in another cell
	cell   int     // how many separators stand before it
	at     int     // where it begins
}

// scanner takes lines apart. It is kept between lines, for its memory.
type scanner struct {
	dec   byte // decimal mark: '.' or ','
	glued bool // a letter may stand right before a number: P78.3
	parts bool // commas part thousands: 1,013.2
	units *unitCache
	figs  []figure
	paths []byte // of JSON
}

// scan finds the figures of a line, which are valid until the next call. It
// returns nil where there are none.
//
// What is a number and what only looks like one: digits with letters in them
// (3F, 0x12, v2, ch1), dates, addresses and fractions are none; a number right
// before a colon or an equals sign is a name (1: 78.3). A word behind a number
// is its unit if it is one, else it begins the next one's name.
func (s *scanner) scan(line []byte) []figure {
	s.figs, s.paths = s.figs[:0], s.paths[:0]
	line = trim(line)
	if len(line) == 0 {
		return nil
	}
	if i := jsonStart(line); i >= 0 {
		if s.json(line[i:]) {
			return s.figs
		}
		s.figs, s.paths = s.figs[:0], s.paths[:0]
	}
	if n := len(line); n >= 4 && line[n-3] == '*' && isHex(line[n-1]) && isHex(line[n-2]) {
		// a checksum as NMEA 0183 has it: two hexadecimal digits behind a star
		if line[0] == '$' && !checks(line[1:n-3], line[n-2:]) {
			return nil
		}
		line = line[:n-3]
	}
	s.text(line)
	return s.figs
}

// text finds the figures of a line that is no JSON.
func (s *scanner) text(line []byte) {
	var name []byte
	nameAt, nameEnd, nameCell := -1, -1, 0
	cell, inCell := 0, false // what was met since the last separator
	fresh := false           // the last thing met was a figure, whose unit may follow
	for i := 0; i < len(line); {
		c := line[i]
		switch {
		case c == ' ':
			i++
		case c == '\t' || c == ',' || c == ';' || c == '|':
			if !inCell && cell > 0 {
				s.figs = append(s.figs, figure{cell: cell, at: i})
				fresh = false
			}
			cell++
			inCell = false
			i++
		case s.startsNumber(line, i, fresh):
			f, next := s.number(line, i)
			inCell = true
			switch {
			case next < 0: // it only looks like one
				next = -next
				name, nameAt, nameEnd, fresh = nil, -1, -1, false
			case !f.stamp && next < len(line) && (line[next] == ':' || line[next] == '='):
				name, nameAt, nameEnd, nameCell, fresh = line[i:next], i, next, cell, false
				next++
			default:
				f.name, f.cell, f.at, f.across = name, cell, i, name != nil && nameCell != cell
				s.figs = append(s.figs, f)
				name, nameAt, nameEnd, fresh = nil, -1, -1, f.unit == nil
			}
			i = next
		case wordStart(line, i):
			end := s.word(line, i)
			word := line[i:end]
			inCell = true
			names := end < len(line) && (line[end] == '=' || line[end] == ':')
			if end < len(line) && line[end] == '{' { // labels: vacuum{port="1"}
				if k := bytes.IndexByte(line[end:], '}'); k > 0 {
					i = end + k + 1
					name, nameAt, nameEnd, nameCell, fresh = word, end-len(word), end, cell, false
					continue
				}
			}
			switch {
			case !names && i > 0 && line[i-1] == '=':
				// what a name without a figure says: sensor=a1
				name, nameAt, nameEnd, fresh = nil, -1, -1, false
			case !names && fresh && s.units.is(word) && (cell == s.figs[len(s.figs)-1].cell || !isCode(word)):
				s.figs[len(s.figs)-1].unit = word
				fresh = false
			case !names && len(s.figs) > 0 && s.saysForm(line, i, word):
				f := &s.figs[len(s.figs)-1]
				f.unit = line[i-len(f.unit)-1 : end]
			case !names && isMissing(word):
				s.figs = append(s.figs, figure{name: name, cell: cell, at: i})
				name, nameAt, nameEnd, fresh = nil, -1, -1, false
			default:
				if nameAt >= 0 && nameEnd <= i && !bytes.ContainsAny(line[nameEnd:i], "\t,;|=:<>") {
					name = line[nameAt:end] // a name of several words
				} else {
					name, nameAt = word, i
				}
				nameEnd, nameCell, fresh = end, cell, false
			}
			i = end
		default:
			if c == '=' || c == ':' {
				fresh = false
			}
			i++
		}
	}
}

// isCode says whether a cell of one letter is a code rather than a unit.
func isCode(w []byte) bool {
	return len(w) == 1 && w[0] != 'C' && w[0] != 'F' && w[0] != 'V' && w[0] != '%'
}

// saysForm says whether a word right behind the last figure's unit says what the
// unit means: kPa abs, inHg vac.
func (s *scanner) saysForm(line []byte, i int, word []byte) bool {
	u := s.figs[len(s.figs)-1].unit
	if u == nil || i < len(u)+1 || line[i-1] != ' ' || &line[i-1-len(u)] != &u[0] || len(word) > 12 {
		return false
	}
	h := s.units.heading(word)
	return h.Form != trace.SaysNothing && !h.HasUnit
}

// startsNumber says whether a number may begin at line[i]; fresh says that one
// has just ended, behind which a sign apart from its number is a dash.
func (s *scanner) startsNumber(line []byte, i int, fresh bool) bool {
	c := line[i]
	if digit(c) {
		return true
	}
	j := i
	if n := sign(line, i); n > 0 {
		j += n
		for !fresh && j < len(line) && line[j] == ' ' {
			j++
		}
	}
	if j >= len(line) {
		return false
	}
	return digit(line[j]) && j > i || line[j] == s.dec && j+1 < len(line) && digit(line[j+1])
}

// sign returns how long the sign at line[i] is; 0: there is none.
func sign(line []byte, i int) int {
	switch {
	case line[i] == '-' || line[i] == '+':
		return 1
	case bytes.HasPrefix(line[i:], []byte("\u2212")):
		return 3
	}
	return 0
}

// number reads a number or stamp that begins at line[i], with a unit that is
// written to it without a blank. Where it only looks like one, next is minus
// the index behind it.
func (s *scanner) number(line []byte, i int) (f figure, next int) {
	if digit(line[i]) {
		if seconds, period, n := trace.ParseStamp(line, i); n > 0 && ends(line, n) {
			return figure{x: seconds, some: true, stamp: true, period: period}, n
		}
	}
	j, minus := i, false
	if n := sign(line, i); n > 0 {
		minus = line[i] != '+'
		for j += n; line[j] == ' '; j++ {
		}
	}
	x, n := trace.ParseNumber(line, j, s.dec)
	if s.parts {
		if y, m := inParts(line, j); m > n {
			x, n = y, m
		}
	}
	if n < 0 {
		return f, -s.junk(line, j)
	}
	if minus {
		x = 0 - x
	}
	f.x, f.some = x, true
	if ends(line, n) || s.glued && sign(line, n) > 0 {
		return f, n
	}
	// letters right behind: a unit, or the next one's name, or no number at all
	end := n
	for end < len(line) && !stops(line[end]) && !digit(line[end]) && line[end] != '-' && line[end] != '+' && line[end] != '.' {
		end++
	}
	if end == n { // 1.2.3, 4-5, 3/4
		return f, -s.junk(line, j)
	}
	number := end < len(line) && (digit(line[end]) || s.glued && (line[end] == '-' || line[end] == '+'))
	if number && s.glued && letters(line[n:end]) {
		return f, n
	}
	full := s.word(line, n)
	if !s.units.is(line[n:full]) {
		return f, -full
	}
	f.unit = line[n:full]
	return f, full
}

// inParts reads a number whose thousands are parted by commas; next is -1 where
// there is none.
func inParts(line []byte, i int) (x float64, next int) {
	var plain [24]byte
	n := 0
	for n < 3 && i < len(line) && digit(line[i]) {
		plain[n] = line[i]
		n++
		i++
	}
	some := false
	for n > 0 && n < 16 && i+3 < len(line) && line[i] == ',' && digit(line[i+1]) && digit(line[i+2]) && digit(line[i+3]) && (i+4 >= len(line) || !digit(line[i+4])) {
		n += copy(plain[n:], line[i+1:i+4])
		i += 4
		some = true
	}
	if !some {
		return 0, -1
	}
	if i+1 < len(line) && line[i] == '.' && digit(line[i+1]) {
		for i < len(line) && n < len(plain) && (line[i] == '.' || digit(line[i])) {
			plain[n] = line[i]
			n++
			i++
		}
	}
	if x, m := trace.ParseNumber(plain[:n], 0, '.'); m == n {
		return x, i
	}
	return 0, -1
}

// junk returns the index behind what only looks like a number.
func (s *scanner) junk(line []byte, i int) int {
	i++ // whatever stands here is part of it
	for i < len(line) && !stops(line[i]) {
		i++
	}
	return i
}

// ends says whether a number that ends before line[n] ends there for certain.
func ends(line []byte, n int) bool {
	if n >= len(line) {
		return true
	}
	switch c := line[n]; c {
	case ' ', '\t', ',', ';', '|', ':', '=', ')', ']', '}', '>', '<', '"', '\'', '*', '!', '#', '&':
		return c != '"' || !bytes.HasPrefix(line[n:], []byte(`"Hg`)) && !bytes.HasPrefix(line[n:], []byte(`"H2O`))
	}
	return false
}

// stops says whether a word stops before c whatever it is.
func stops(c byte) bool {
	return c == ' ' || c == '\t' || c == ',' || c == ';' || c == '|' || c == '=' || c == ':'
}

// wordStart says whether a word begins at line[i]: letters, or what is no
// letter and stands in units or for a missing number; brackets that hold a word
// belong to one.
func wordStart(line []byte, i int) bool {
	c := line[i]
	switch {
	case letter(c) || c == '_' || c >= 0x80 || c == '%' || c == '-' || c == '?' || c == '/':
		return true
	case c == '(' || c == '[':
		return i+1 < len(line) && (letter(line[i+1]) || line[i+1] >= 0x80 || line[i+1] == '%') && bytes.IndexByte(line[i:], closing(c)) > 0
	case c == '"':
		return bytes.HasPrefix(line[i:], []byte(`"Hg`)) || bytes.HasPrefix(line[i:], []byte(`"H2O`))
	}
	return false
}

func closing(open byte) byte {
	if open == '(' {
		return ')'
	}
	return ']'
}

// word returns the index behind the word that begins at line[i].
func (s *scanner) word(line []byte, i int) int {
	start := i
	for i < len(line) {
		c := line[i]
		if c == '(' || c == '[' {
			if k := bytes.IndexByte(line[i:], closing(c)); k > 0 {
				i += k + 1
				continue
			}
		}
		if stops(c) || c == '"' && i > start || c == '*' || c == '<' || c == '>' || c == '{' || c == '}' {
			break
		}
		if s.glued && i > start && (digit(c) || (c == '-' || c == '+') && i+1 < len(line) && digit(line[i+1])) && letters(line[start:i]) && !namesAt(line, i) {
			break
		}
		i++
	}
	if i == start {
		i++
	}
	return i
}

// namesAt says whether the word that goes on at line[i] is followed by what
// follows a name.
func namesAt(line []byte, i int) bool {
	for i < len(line) && !stops(line[i]) {
		i++
	}
	return i < len(line) && (line[i] == '=' || line[i] == ':')
}

// isMissing tells the words that stand for a missing number.
func isMissing(w []byte) bool {
	if len(w) > 9 {
		return false
	}
	dashes := true
	for _, c := range w {
		dashes = dashes && (c == '-' || c == '.' || c == '?')
	}
	if dashes {
		return len(w) >= 2
	}
	var low [9]byte
	for i, c := range w {
		low[i] = c | 0x20
	}
	switch string(low[:len(w)]) {
	case "nan", "null", "none", "nil", "inf", "-inf", "infinity", "n/a", "na", "ol", "ovl", "err", "error", "ovf", "udf":
		return true
	}
	return false
}

// checks says whether the XOR of the bytes is what the two hexadecimal digits
// say.
func checks(body, digits []byte) bool {
	var sum byte
	for _, c := range body {
		sum ^= c
	}
	const hex = "0123456789abcdef"
	return hex[sum>>4] == lower(digits[0]) && hex[sum&15] == lower(digits[1])
}

func lower(c byte) byte {
	if c >= 'A' && c <= 'Z' {
		return c | 0x20
	}
	return c
}

func digit(c byte) bool  { return c-'0' <= 9 }
func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
func isHex(c byte) bool  { return digit(c) || c|0x20 >= 'a' && c|0x20 <= 'f' }

func letters(w []byte) bool {
	for _, c := range w {
		if !letter(c) && c != '_' {
			return false
		}
	}
	return len(w) > 0
}

// trim takes off blanks, a byte order mark, and the marks that frame records
// (STX, ETX and their like).
func trim(b []byte) []byte {
	b = bytes.TrimPrefix(b, []byte("\ufeff"))
	for len(b) > 0 && (b[0] == ' ' || b[0] < 0x20 && b[0] != '\t') {
		b = b[1:]
	}
	for len(b) > 0 && b[len(b)-1] <= ' ' {
		b = b[:len(b)-1]
	}
	return b
}

// isText says whether a line is text: what a line at the wrong rate, or of a
// binary protocol, is not. A few bytes that are no UTF-8 are degree signs of an
// old encoding.
func isText(line []byte) bool {
	odd := 0
	for i := 0; i < len(line); {
		c := line[i]
		switch {
		case c >= 0x20 && c < 0x7f || c == '\t':
			i++
			continue
		case c < 0x20 || c == 0x7f:
			// STX, ETX and the like frame records at their ends
			if i > 0 && i < len(line)-1 || c == 0 {
				return false
			}
			i++
			continue
		}
		r, n := utf8.DecodeRune(line[i:])
		if r == utf8.RuneError && n == 1 {
			odd++
		}
		i += n
	}
	return odd*8 <= len(line) || odd == 1 && len(line) >= 4
}

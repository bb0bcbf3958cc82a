package trace

import (
	"bytes"
	"strconv"
	"unicode/utf8"
)

// blanks stands for runs of blanks and tabs as the delimiter.
const blanks = ' '

// split appends the cells of a row to dst. Cells may be quoted; with blanks as
// the delimiter a date and the clock behind it are one cell.
func split(dst [][]byte, line []byte, delim byte) [][]byte {
	if delim == blanks {
		return splitBlanks(dst, line)
	}
	for {
		line = skipBlanks(line, delim)
		if len(line) > 0 && line[0] == '"' {
			var cell []byte
			cell, line = quoted(line)
			dst = append(dst, cell)
			i := bytes.IndexByte(line, delim)
			if i < 0 {
				return dst
			}
			line = line[i+1:]
			continue
		}
		i := bytes.IndexByte(line, delim)
		if i < 0 {
			return append(dst, trim(line))
		}
		dst = append(dst, trim(line[:i]))
		line = line[i+1:]
	}
}

func splitBlanks(dst [][]byte, line []byte) [][]byte {
	for {
		line = skipBlanks(line, 0)
		if len(line) == 0 {
			return dst
		}
		if line[0] == '"' {
			var cell []byte
			cell, line = quoted(line)
			dst = append(dst, cell)
			continue
		}
		if s, next := readStamp(line, 0); next > 0 && (s.form == datedStamp || s.form == clockStamp) &&
			(next == len(line) || line[next] == ' ' || line[next] == '\t') {
			dst = append(dst, trim(line[:next]))
			line = line[next:]
			continue
		}
		i := bytes.IndexAny(line, " \t")
		if i < 0 {
			return append(dst, line)
		}
		dst = append(dst, line[:i])
		line = line[i:]
	}
}

// quoted takes a quoted cell off the front of line; two quotes inside are one.
func quoted(line []byte) (cell, rest []byte) {
	line = line[1:]
	doubled := false
	for i := 0; i < len(line); i++ {
		if line[i] != '"' {
			continue
		}
		if i+1 < len(line) && line[i+1] == '"' {
			doubled = true
			i++
			continue
		}
		cell, rest = line[:i], line[i+1:]
		if doubled {
			cell = bytes.ReplaceAll(cell, []byte(`""`), []byte(`"`))
		}
		return trim(cell), rest
	}
	return trim(line), nil
}

func skipBlanks(b []byte, delim byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') && b[0] != delim {
		b = b[1:]
	}
	return b
}

// commentText returns what a comment line says, without its mark.
func commentText(line []byte) (string, bool) {
	switch {
	case len(line) == 0:
		return "", false
	case line[0] == '#' || line[0] == '%':
		line = bytes.TrimLeft(line, "#%")
	case bytes.HasPrefix(line, []byte("//")):
		line = bytes.TrimLeft(line, "/")
	default:
		return "", false
	}
	return oneLine(string(line)), true
}

// quoteShort quotes a cell for a message, cut where it is long.
func quoteShort[T string | []byte](s T) string {
	const most = 40
	if len(s) > most {
		cut := most
		for cut > most-4 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		return strconv.Quote(string(s[:cut])) + "..."
	}
	return strconv.Quote(string(s))
}

func itoa(n int) string { return strconv.Itoa(n) }

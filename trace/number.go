package trace

import (
	"bytes"
	"cmp"
	"math"
	"strconv"
)

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads a figure that starts at b[i], with the decimal mark dec, and
// returns it, the number of its decimals, and the index after it; next is -1
// where this takes more care than is spent here.
//
// A whole number up to 2^53 and a power of ten up to 10^22 are exact, so one
// multiplication or division rounds right (Clinger, How to read floating
// point numbers accurately, PLDI 1990).
func number(b []byte, i int, dec byte) (x float64, decimals, next int) {
	n := len(b)
	neg := false
	if i < n && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	var m uint64
	start := i
	for i < n {
		c := b[i] - '0'
		if c > 9 {
			break
		}
		m = m*10 + uint64(c)
		i++
	}
	digits := i - start
	if i < n && b[i] == dec {
		i++
		start = i
		for i < n {
			c := b[i] - '0'
			if c > 9 {
				break
			}
			m = m*10 + uint64(c)
			i++
		}
		decimals = i - start
		digits += decimals
	}
	if digits == 0 || digits > 18 {
		return 0, 0, -1
	}
	if i < n && b[i]|0x20 == 'e' {
		i++
		down := false
		if i < n && (b[i] == '-' || b[i] == '+') {
			down = b[i] == '-'
			i++
		}
		start = i
		e := 0
		for i < n && i-start < 4 {
			c := b[i] - '0'
			if c > 9 {
				break
			}
			e = e*10 + int(c)
			i++
		}
		if i == start || i-start == 4 {
			return 0, 0, -1
		}
		if down {
			e = -e
		}
		decimals -= e
	}
	if m >= 1<<53 || decimals > 22 || decimals < -22 {
		return 0, 0, -1
	}
	x = float64(m)
	if decimals > 0 {
		x /= pow10[decimals]
	} else if decimals < 0 {
		x *= pow10[-decimals]
	}
	if neg {
		x = -x
	}
	return x, decimals, i
}

// figureKind says what a cell that should hold a figure holds.
type figureKind uint8

const (
	isFigure    figureKind = iota
	isMissing              // empty, or a word for it
	isNotFinite            // NaN, Inf
	isTwoMarks             // both a point and a comma
	isText
)

// figure reads a whole cell with whichever decimal mark it has, and says which
// ('.', ',' or 0 for none).
func figure(cell []byte) (x float64, decimals int, mark byte, kind figureKind) {
	cell = trim(cell)
	if len(cell) == 0 {
		return 0, 0, 0, isMissing
	}
	point, comma := bytes.IndexByte(cell, '.') >= 0, bytes.IndexByte(cell, ',') >= 0
	mark = 0
	switch {
	case point && comma:
		if looksNumeric(cell) {
			return 0, 0, 0, isTwoMarks
		}
		return 0, 0, 0, isText
	case point:
		mark = '.'
	case comma:
		mark = ','
	}
	x, decimals, next := number(cell, 0, cmp.Or(mark, '.'))
	if next == len(cell) {
		return x, decimals, mark, isFigure
	}
	if !looksNumeric(cell) {
		return 0, 0, 0, wordKind(cell)
	}
	s := string(bytes.ReplaceAll(bytes.ReplaceAll(cell, []byte(","), []byte(".")), []byte("\u2212"), []byte("-")))
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, 0, 0, isText
	}
	// the same digits again for the decimals; beyond 18 digits no grid is told
	if _, d, next := number([]byte(s), 0, '.'); next == len(s) {
		decimals = d
	} else {
		decimals = 18
	}
	return x, decimals, mark, isFigure
}

// looksNumeric says whether a cell holds nothing but digits, signs, marks and
// an exponent, and at least one digit.
func looksNumeric(cell []byte) bool {
	digit := false
	cell = bytes.TrimPrefix(cell, []byte("\u2212"))
	for _, c := range cell {
		switch {
		case c >= '0' && c <= '9':
			digit = true
		case c == '+' || c == '-' || c == '.' || c == ',' || c == 'e' || c == 'E':
		default:
			return false
		}
	}
	return digit
}

// wordKind tells the words that stand for a missing or impossible figure.
func wordKind(cell []byte) figureKind {
	if len(cell) > 12 {
		return isText
	}
	switch string(bytes.ToLower(bytes.TrimLeft(cell, "+-"))) {
	case "nan", "inf", "infinity", "ind", "1.#ind", "1.#inf", "1.#qnan", "∞":
		return isNotFinite
	case "", "null", "none", "na", "n/a", "nil", "missing":
		return isMissing
	}
	return isText
}

// trim takes blanks and tabs off both ends.
func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\r') {
		b = b[:len(b)-1]
	}
	return b
}

// trimLine takes blanks off both ends of a line, but no tabs off its front,
// where they may stand for empty cells.
func trimLine(b []byte) []byte {
	for len(b) > 0 && b[0] == ' ' {
		b = b[1:]
	}
	if rest := trim(b); len(rest) == 0 {
		return nil
	}
	for c := b[len(b)-1]; c == ' ' || c == '\t' || c == '\r'; c = b[len(b)-1] {
		b = b[:len(b)-1]
	}
	return b
}

package lines

import "bytes"

// Sense says how much sense the bytes of a stream make as lines of text with
// figures, from 0 to 1: the share of lines that do, or, where too few lines
// are whole, of bytes that are text. A stream read at the wrong rate makes
// hardly any.
func Sense(b []byte) float64 {
	if len(b) < 4 {
		return 0
	}
	s := scanner{dec: '.', glued: true, units: newUnitCache()}
	pieces := bytes.FieldsFunc(b, func(r rune) bool { return r == '\r' || r == '\n' })
	if len(pieces) >= 4 {
		whole := pieces[1 : len(pieces)-1] // the ends may be cut
		good := 0.0
		for _, l := range whole {
			switch {
			case !isASCII(l):
			case len(s.scan(l)) > 0:
				good++
			default:
				good += 0.7 // words
			}
		}
		return good / float64(len(whole))
	}
	text, digits := 0, 0
	for _, c := range b {
		if c >= 0x20 && c < 0x7f || c == '\t' || c == '\r' || c == '\n' {
			text++
		}
		if digit(c) {
			digits++
		}
	}
	if digits == 0 {
		return 0.5 * float64(text) / float64(len(b))
	}
	share := float64(text) / float64(len(b))
	return share * share * share * share // a wrong rate gives much that is text by chance
}

// isASCII says whether a line is text without marks, but for one byte.
func isASCII(line []byte) bool {
	odd := 0
	for _, c := range trim(line) {
		if c < 0x20 && c != '\t' || c == 0x7f {
			return false
		}
		if c >= 0x80 {
			odd++
		}
	}
	return odd <= 2 && odd*4 <= len(line)
}

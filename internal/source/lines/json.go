package lines

import (
	"bytes"
	"strconv"

	"seatproof/trace"
)

// deepestJSON is how deep objects and arrays may lie in one another.
const deepestJSON = 8

// jsonStart returns where a JSON object or array begins that is all there is
// from there on; -1: nowhere. Text may stand before an object, as in
// `data: {"p":1}`.
func jsonStart(line []byte) int {
	switch end := line[len(line)-1]; {
	case line[0] == '{' && (end == '}' || end == ','), line[0] == '[' && end == ']':
		return 0
	case end == '}':
		return bytes.IndexByte(line, '{')
	}
	return -1
}

// json finds the figures of a JSON object or array, named by their path:
// a.b.0. It returns false where it is none.
func (s *scanner) json(b []byte) bool {
	i := s.value(b, 0, nil, 0)
	if i < 0 {
		return false
	}
	if b[0] == '[' {
		for k := range s.figs {
			if !bytes.ContainsFunc(s.figs[k].name, func(r rune) bool { return r != '.' && (r < '0' || r > '9') }) {
				s.figs[k].name = nil // a bare number is told by its number
			}
		}
	}
	if i = space(b, i); i < len(b) && b[i] == ',' {
		i = space(b, i+1)
	}
	return i == len(b)
}

// value reads the value at b[i], whose path is path, and returns the
// index behind it, -1 where it is none.
func (s *scanner) value(b []byte, i int, path []byte, depth int) int {
	if i >= len(b) || depth > deepestJSON {
		return -1
	}
	switch c := b[i]; {
	case c == '{':
		return s.object(b, i, path, depth)
	case c == '[':
		return s.array(b, i, path, depth)
	case c == '"':
		text, next := trace.JSONString(b, i)
		if next >= 0 {
			s.inText(text, path)
		}
		return next
	}
	end := i
	for end < len(b) && bytes.IndexByte([]byte(" \t\r\n,]}"), b[end]) < 0 {
		end++
	}
	word := b[i:end]
	switch {
	case len(word) == 0:
		return -1
	case digit(word[0]) || word[0] == '-' || word[0] == '+' || word[0] == '.':
		// numbers are with a point whatever the reader of text takes
		plain := scanner{dec: '.', units: s.units}
		var f figure
		next := -1
		if plain.startsNumber(word, 0, false) {
			f, next = plain.number(word, 0)
		}
		if next != len(word) || f.stamp || f.unit != nil {
			if isMissing(word) {
				s.figs = append(s.figs, figure{name: path})
				return end
			}
			return -1
		}
		f.name = path
		s.figs = append(s.figs, f)
	case isMissing(word):
		s.figs = append(s.figs, figure{name: path})
	case string(word) != "true" && string(word) != "false":
		return -1
	}
	return end
}

// inText takes a figure out of a string: "78.3 kPa". Of several it takes the
// first.
func (s *scanner) inText(text, path []byte) {
	if len(text) == 0 || len(text) > 64 {
		return
	}
	inner := scanner{dec: s.dec, units: s.units}
	if !inner.startsNumber(text, 0, false) {
		return // a word with a number in it says nothing of the vacuum
	}
	inner.text(text)
	if len(inner.figs) > 0 && inner.figs[0].some {
		f := inner.figs[0]
		f.name, f.cell = path, 0
		s.figs = append(s.figs, f)
	}
}

func (s *scanner) object(b []byte, i int, path []byte, depth int) int {
	first := len(s.figs)
	var unit, label []byte
	i = space(b, i+1)
	if i < len(b) && b[i] == '}' {
		return i + 1
	}
	for {
		key, next := trace.JSONString(b, space(b, i))
		if next < 0 {
			return -1
		}
		i = space(b, next)
		if i >= len(b) || b[i] != ':' {
			return -1
		}
		i = space(b, i+1)
		if i < len(b) && b[i] == '"' {
			text, _ := trace.JSONString(b, i)
			switch string(bytes.ToLower(key)) {
			case "unit", "units", "uom", "u":
				unit = text
			case "name", "sensor", "label", "type", "id", "channel":
				label = text
			}
		}
		if i = s.value(b, i, s.path(path, key), depth+1); i < 0 {
			return -1
		}
		i = space(b, i)
		if i >= len(b) {
			return -1
		}
		c := b[i]
		i++
		if c == '}' {
			break
		}
		if c != ',' {
			return -1
		}
	}
	for k := first; k < len(s.figs); k++ {
		f := &s.figs[k]
		if f.unit == nil && unit != nil && s.units.is(unit) {
			f.unit = unit
		}
		if f.label == nil {
			f.label = label
		}
	}
	return i
}

func (s *scanner) array(b []byte, i int, path []byte, depth int) int {
	i = space(b, i+1)
	if i < len(b) && b[i] == ']' {
		return i + 1
	}
	var no [20]byte
	for n := 0; ; n++ {
		if i = s.value(b, space(b, i), s.path(path, strconv.AppendInt(no[:0], int64(n), 10)), depth+1); i < 0 {
			return -1
		}
		i = space(b, i)
		if i >= len(b) {
			return -1
		}
		c := b[i]
		i++
		if c == ']' {
			return i
		}
		if c != ',' {
			return -1
		}
	}
}

// path returns the path of a step below outer. The memory is the scanner's.
func (s *scanner) path(outer, key []byte) []byte {
	begin := len(s.paths)
	if len(outer) > 0 {
		s.paths = append(append(s.paths, outer...), '.')
	}
	s.paths = append(s.paths, key...)
	return s.paths[begin:len(s.paths):len(s.paths)]
}

func space(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t' || b[i] == '\r' || b[i] == '\n') {
		i++
	}
	return i
}

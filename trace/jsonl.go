package trace

import (
	"encoding/json"
	"slices"
)

// findJSON lays out JSON lines: one object a line, keys named like headers.
func (l *layout) findJSON(rows []sampleLine, o ReadOptions) error {
	l.json = true
	l.dec = '.'
	if trim(rows[0].text)[0] == '[' {
		return &FileError{Line: rows[0].no, What: "a JSON array", Hint: "write one object a line, without brackets or commas around them (JSON lines)"}
	}
	var names []string
	l.headerLine = 0
	for i := range rows {
		_ = eachField(rows[i].text, func(key, _ []byte) {
			if !slices.Contains(names, string(key)) && len(names) < 1000 {
				names = append(names, string(key))
			}
		})
	}
	if len(names) == 0 {
		return &FileError{Line: rows[0].no, What: "not a JSON object with keys", Hint: `one object a line, as in {"t_s":0.1,"vacuum_kpa":78.3}`}
	}
	l.columns = columnsOf(names)
	if o.Columns != "" {
		cols, err := parseColumnsOption(o.Columns)
		if err != nil {
			return err
		}
		if len(cols) > len(names) {
			return &FileError{Field: "--columns", What: itoa(len(cols)) + " columns are named, the objects have " + itoa(len(names)) + " keys", Hint: "name as many as there are"}
		}
		for i := range l.columns {
			if i < len(cols) {
				cols[i].name = l.columns[i].name
				l.columns[i] = cols[i]
			} else {
				l.columns[i].skip = true
			}
		}
	}
	l.cells = len(names)
	for i := range rows {
		rows[i].cells, _ = l.jsonCells(nil, rows[i].text)
		if rows[i].cells != nil {
			rows[i].good = 2
		}
	}
	l.seeStamps(rows)
	err := l.choose(o.Column)
	l.decCertain = true // JSON knows only the point
	return err
}

// jsonCells takes the values of an object apart, in the order of l.columns; a
// key that is missing gives an empty cell.
func (l *layout) jsonCells(dst [][]byte, line []byte) ([][]byte, rowFault) {
	for range l.columns {
		dst = append(dst, nil)
	}
	ok := eachField(line, func(key, value []byte) {
		for i := range l.columns {
			if l.columns[i].name == string(key) {
				dst[i] = value
			}
		}
	})
	if !ok {
		return nil, rowFault{why: "is no JSON object", col: -1}
	}
	return dst, rowFault{}
}

// eachField calls f with each key of a JSON object and its value: a string
// without its quotes, anything else as written. It returns false where line
// is no object.
func eachField(line []byte, f func(key, value []byte)) bool {
	i := skipSpace(line, 0)
	if i >= len(line) || line[i] != '{' {
		return false
	}
	i = skipSpace(line, i+1)
	if i < len(line) && line[i] == '}' {
		return skipSpace(line, i+1) == len(line)
	}
	for {
		key, next := JSONString(line, skipSpace(line, i))
		if next < 0 {
			return false
		}
		i = skipSpace(line, next)
		if i >= len(line) || line[i] != ':' {
			return false
		}
		i = skipSpace(line, i+1)
		var value []byte
		if i < len(line) && line[i] == '"' {
			value, next = JSONString(line, i)
		} else {
			value, next = jsonValue(line, i)
		}
		if next < 0 {
			return false
		}
		f(key, value)
		i = skipSpace(line, next)
		if i >= len(line) {
			return false
		}
		switch line[i] {
		case ',':
			i++
		case '}':
			i = skipSpace(line, i+1)
			// a comma behind the object is let pass
			return i == len(line) || line[i] == ',' && skipSpace(line, i+1) == len(line)
		default:
			return false
		}
	}
}

func skipSpace(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\t' || b[i] == '\r') {
		i++
	}
	return i
}

// JSONString reads a JSON string at b[i] and returns what it says, without its
// quotes, and where it ends; -1 where none stands there. What it returns may share
// memory with b, which is not changed.
func JSONString(b []byte, i int) (s []byte, next int) {
	if i >= len(b) || b[i] != '"' {
		return nil, -1
	}
	escaped := false
	for j := i + 1; j < len(b); j++ {
		switch b[j] {
		case '\\':
			escaped = true
			j++
		case '"':
			if !escaped {
				return b[i+1 : j], j + 1
			}
			var text string
			if json.Unmarshal(b[i:j+1], &text) != nil {
				return nil, -1
			}
			return []byte(text), j + 1
		}
	}
	return nil, -1
}

// jsonValue passes over a number, word, array or object at b[i].
func jsonValue(b []byte, i int) (v []byte, next int) {
	depth := 0
	for j := i; j < len(b); j++ {
		switch b[j] {
		case '"':
			_, end := JSONString(b, j)
			if end < 0 {
				return nil, -1
			}
			j = end - 1
		case '{', '[':
			depth++
		case '}', ']', ',':
			if depth == 0 {
				if v = trim(b[i:j]); len(v) == 0 {
					return nil, -1
				}
				return v, j
			}
			if b[j] != ',' {
				depth--
			}
		}
	}
	return nil, -1
}

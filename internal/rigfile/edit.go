package rigfile

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"seatproof/rig"
	"seatproof/unit"
)

// Edit returns text, a rig file, changed so that it reads as r. Only keys whose
// figure changes are touched, where they stand: comments, blank lines, the order of
// keys and the spelling of all other figures are the person's own. A key that goes
// leaves the comment behind it on a line of its own; a new key goes below the last
// of its table. The error is [Faults] where text is no rig file, or says, as that of
// [Write], that no file can hold r.
func Edit(text string, r rig.Rig) (string, error) {
	mark := ""
	if rest, ok := strings.CutPrefix(text, "\ufeff"); ok {
		text, mark = rest, "\ufeff"
	}
	if _, err := Read(strings.NewReader(text), "rig"); err != nil {
		return "", err
	}
	data := []byte(text)
	// Once is enough but where one key's meaning hangs on another's, as that of an
	// accuracy given as a pressure hangs on the span.
	for range 3 {
		doc, fault := parseDocument(data)
		if fault != nil {
			return "", Faults{fault}
		}
		now, _ := fill(doc)
		e := edit{data: data, doc: doc, newline: "\n"}
		if bytes.Contains(data, []byte("\r\n")) {
			e.newline = "\r\n"
		}
		for _, f := range fields {
			if f.get(now) != f.get(r) {
				e.set(f.key, spelled(f, r))
			}
		}
		if r.Gauge.Unit != "" {
			e.dropUnitComment()
		}
		if len(e.cuts) == 0 && len(e.new) == 0 {
			break
		}
		data = e.apply()
	}
	back, err := Read(bytes.NewReader(data), "rig")
	if err != nil {
		return "", err
	}
	if !same(back, r) {
		return "", fmt.Errorf("write rig file: a rig file can't hold this rig: it would read back as\n%s", encode(back))
	}
	return mark + string(data), nil
}

// spelled returns a value as a person reads it off the gauge, where it is one that
// the gauge shows and reads back to the last bit so.
func spelled(f field, r rig.Rig) string {
	text := f.get(r)
	if r.Gauge.Unit == "" || !slices.Contains([]string{"pump.blanked", "gauge.zero", "gauge.division", "gauge.resolution"}, f.key) {
		return text
	}
	if q, err := unit.Parse(strings.Trim(text, `"`), unit.PressureDim); err == nil {
		if own := figure(q.Measured, unit.PressureDim, r.Gauge.Unit); strings.HasSuffix(own, " "+r.Gauge.Unit) {
			return quote(own)
		}
	}
	return text
}

// unitComment is how the gauge's unit stood in files before there was a key for it.
var unitComment = regexp.MustCompile(`(?m)^# gauge unit: (\S+)[ \t]*\r?(?:\n|\z)`)

// edit gathers the changes to a file.
type edit struct {
	data    []byte
	doc     document
	newline string
	cuts    []cut
	new     []addition
}

// cut puts a text in the place of a stretch of bytes.
type cut struct {
	from, to int
	with     string
	table    bool // a new table, which goes below all that comes to one there is
}

// addition is a key that the file has not.
type addition struct{ table, word, value string }

// set changes, drops ("") or adds a key.
func (e *edit) set(key, value string) {
	i := slices.IndexFunc(e.doc.entries, func(x entry) bool { return x.key == key })
	switch {
	case i < 0 && value != "":
		table, word, ok := strings.Cut(key, ".")
		if !ok {
			table, word = "", key
		}
		e.new = append(e.new, addition{table, word, value})
	case i < 0:
	case value != "":
		e.replace(e.doc.entries[i], value)
	default:
		e.drop(e.doc.entries[i])
	}
}

// replace puts a new value in the place of one; a comment behind it keeps its
// column where there is room.
func (e *edit) replace(x entry, value string) {
	from, to := x.from, x.to
	blanks := 0
	for to+blanks < len(e.data) && e.data[to+blanks] == ' ' {
		blanks++
	}
	if to+blanks < len(e.data) && e.data[to+blanks] == '#' && blanks > 0 {
		n := blanks + utf8.RuneCount(e.data[from:to]) - utf8.RuneCountInString(value)
		value += strings.Repeat(" ", max(1, n))
		to += blanks
	}
	e.cuts = append(e.cuts, cut{from, to, value, false})
}

// drop takes a key out, with its line or, in an inline table, with its comma.
func (e *edit) drop(x entry) {
	if !x.inline {
		end := e.lineEnd(x.to)
		rest := strings.TrimSpace(string(e.data[x.to:end]))
		if rest != "" {
			rest += e.newline
		}
		e.cuts = append(e.cuts, cut{e.lineStart(x.start), end, rest, false})
		return
	}
	from, to := x.start, skip(e.data, x.to)
	if to < len(e.data) && e.data[to] == ',' {
		to = skip(e.data, to+1)
	} else {
		to = x.to
		for from > 0 && strings.IndexByte(" \t\r\n", e.data[from-1]) >= 0 {
			from--
		}
		if from > 0 && e.data[from-1] == ',' {
			from--
		}
	}
	e.cuts = append(e.cuts, cut{from, to, "", false})
}

func (e *edit) dropUnitComment() {
	if m := unitComment.FindIndex(e.data); m != nil {
		e.cuts = append(e.cuts, cut{m[0], m[1], "", false})
	}
}

func (e *edit) lineStart(at int) int { return bytes.LastIndexByte(e.data[:at], '\n') + 1 }

func (e *edit) lineEnd(at int) int {
	if i := bytes.IndexByte(e.data[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(e.data)
}

// apply makes the changes, from the last to the first.
func (e *edit) apply() []byte {
	cuts := e.cuts
	for len(e.new) > 0 {
		table := e.new[0].table
		var of []addition
		e.new = slices.DeleteFunc(e.new, func(a addition) bool {
			if a.table == table {
				of = append(of, a)
			}
			return a.table == table
		})
		cuts = append(cuts, e.add(table, of))
	}
	// Of two at one place the earlier key's comes first.
	slices.SortStableFunc(cuts, func(a, b cut) int {
		switch {
		case a.from != b.from || a.table == b.table:
			return a.from - b.from
		case b.table:
			return -1
		}
		return 1
	})
	var out []byte
	at := 0
	for _, c := range cuts {
		out = append(out, e.data[at:c.from]...)
		if c.from == c.to && len(out) > 0 && strings.HasSuffix(c.with, "\n") && out[len(out)-1] != '\n' {
			out = append(out, e.newline...) // the last line had no end
		}
		if c.table && len(bytes.TrimSpace(out)) > 0 {
			out = append(out, e.newline...)
		}
		out = append(out, c.with...)
		at = c.to
	}
	return append(out, e.data[at:]...)
}

// add says where new keys of a table go, and as what.
func (e *edit) add(table string, keys []addition) cut {
	lines := func(before string) (s string) {
		for _, k := range keys {
			s += before + k.word + " = " + k.value + e.newline
		}
		return s
	}
	firstHeader := len(e.data)
	for i, t := range e.doc.tables {
		if t.inline {
			continue
		}
		firstHeader = min(firstHeader, t.start)
		if t.key != table {
			continue
		}
		// Below the last key of [table], or below its header.
		end := len(e.data)
		for _, next := range e.doc.tables[i+1:] {
			if !next.inline {
				end = next.start
				break
			}
		}
		at := e.lineEnd(t.start)
		for _, x := range e.doc.entries {
			if x.start > t.start && x.start < end {
				at = e.lineEnd(x.whole)
			}
		}
		return cut{at, at, lines(""), false}
	}
	var last *entry
	for i, x := range e.doc.entries {
		if x.start > firstHeader {
			break
		}
		if table == "" && !x.inline && !strings.Contains(x.key, ".") || table != "" && strings.HasPrefix(x.key, table+".") {
			last = &e.doc.entries[i]
		}
	}
	switch {
	case last != nil && last.inline:
		var s string
		for _, k := range keys {
			s += ", " + k.word + " = " + k.value
		}
		return cut{last.to, last.to, s, false}
	case last != nil && table != "":
		at := e.lineEnd(last.whole)
		return cut{at, at, lines(table + "."), false}
	case last != nil:
		at := e.lineEnd(last.whole)
		return cut{at, at, lines(""), false}
	case table == "":
		// Above all tables, below a comment that opens the file and stands alone.
		at := 0
		for strings.HasPrefix(string(e.data[at:]), "#") {
			at = e.lineEnd(at)
		}
		if rest := e.data[at:]; len(rest) > 0 && rest[0] != '\n' && rest[0] != '\r' {
			at = 0
		}
		s := lines("")
		if at < len(e.data) && e.data[at] != '\n' && e.data[at] != '\r' {
			s += e.newline
		}
		return cut{at, at, s, false}
	}
	return cut{len(e.data), len(e.data), "[" + table + "]" + e.newline + lines(""), true}
}

// skip returns where blanks and line ends behind at are over.
func skip(data []byte, at int) int {
	for at < len(data) && strings.IndexByte(" \t\r\n", data[at]) >= 0 {
		at++
	}
	return at
}

// valueEnd returns where the TOML value that begins at from ends.
func valueEnd(data []byte, from int) int {
	depth := 0
	for i := from; i < len(data); {
		switch c := data[i]; {
		case c == '"' || c == '\'':
			i = stringEnd(data, i)
			if depth == 0 {
				return i
			}
			continue
		case c == '[' || c == '{':
			depth++
		case (c == ']' || c == '}') && depth > 0:
			if depth--; depth == 0 {
				return i + 1
			}
		case c == '#' && depth > 0:
			for i < len(data) && data[i] != '\n' {
				i++
			}
			continue
		case depth == 0 && strings.IndexByte(",]}#\r\n", c) >= 0:
			for i > from && (data[i-1] == ' ' || data[i-1] == '\t') {
				i--
			}
			return i
		}
		i++
	}
	return len(bytes.TrimRight(data, " \t\r\n"))
}

// stringEnd returns where the string that begins at from ends.
func stringEnd(data []byte, from int) int {
	quote := data[from : from+1]
	if long := bytes.Repeat(quote, 3); bytes.HasPrefix(data[from:], long) {
		quote = long
	}
	for i := from + len(quote); i < len(data); i++ {
		switch {
		case data[i] == '\\' && quote[0] == '"':
			i++
		case bytes.HasPrefix(data[i:], quote):
			i += len(quote)
			for len(quote) == 3 && i < len(data) && data[i] == quote[0] { // """" ends with a quote in it
				i++
			}
			return i
		}
	}
	return len(data)
}

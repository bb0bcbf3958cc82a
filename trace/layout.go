package trace

import (
	"bytes"
	"strings"

	"seatproof/unit"
)

// layout says how the rows of a file are to be read.
type layout struct {
	json       bool
	delim      byte
	dec        byte // decimal mark, as far as known: '.' until a comma is met
	decCertain bool // a mark was seen
	columns    []column
	cells      int // cells a row has
	tcol, vcol int
	ccol       int // column of sample counts, -1 if none
	means      bool
	stamps     bool      // times are stamps
	form       stampForm // of the first stamp
	day0       int64     // day of the first stamp
	headerLine int       // 0 if there is none
	quickly    bool      // plain rows may take the fast way
	decimals   int       // most decimals a pressure was written with
}

func (l *layout) pressureUnit() unit.UnitInfo { return l.columns[l.vcol].unit }

// seconds returns the factor from times as read to seconds.
func (l *layout) seconds() float64 {
	if l.stamps {
		return 1
	}
	return l.columns[l.tcol].unit.ToSI(1)
}

// sampleLine is a line of the window that is neither blank nor comment.
type sampleLine struct {
	no    int
	text  []byte
	cells [][]byte
	good  int // cells that are figures or stamps
}

// At most so many lines are looked at, and no more once so many begin as
// figures do.
const (
	mostSampleLines  = 400
	enoughSampleRows = 80
)

// findLayout finds out from the start of a file what its rows look like: which
// delimiter gives the most cells that are figures or stamps, where the header
// stands, and which columns hold time and pressure.
func findLayout(start sampled, o ReadOptions) (*layout, error) {
	rows := start.rows
	l := &layout{dec: '.', ccol: -1}
	if len(rows) == 0 {
		return nil, &FileError{What: "no rows of figures", Hint: "a trace needs at least a time and a pressure in each line below the header"}
	}
	if c := trim(rows[0].text)[0]; c == '{' || c == '[' {
		return l, l.findJSON(rows, o)
	}
	l.findDelimiter(rows)
	first := -1
	for i := range rows {
		if isDataRow(&rows[i]) {
			first = i
			break
		}
	}
	var err error
	switch {
	case o.Columns != "":
		err = l.headerFromOption(rows, first, o.Columns)
	default:
		err = l.findHeader(rows, first, start.comment, start.commentLine)
	}
	if err != nil {
		return nil, err
	}
	l.findDecimal(rows)
	l.seeStamps(rows)
	if err := l.choose(o.Column); err != nil {
		return nil, err
	}
	if err := l.countCells(rows, o.Columns != ""); err != nil {
		return nil, err
	}
	l.quickly = l.delim != blanks || !l.stamps || l.tcol == 0 && l.vcol > 0
	if l.ccol >= 0 || l.delim == ',' && l.dec == ',' {
		l.quickly = false
	}
	return l, nil
}

// sampled is what the window of a file holds: the first lines that are neither
// blank nor comments, and the last comment before them.
type sampled struct {
	rows        []sampleLine
	comment     string
	commentLine int
}

// sample takes the window apart; whole says that the file ends with it.
func sample(window []byte, whole bool) (s sampled) {
	eol := []byte{'\n'}
	if bytes.IndexByte(window, '\n') < 0 && bytes.IndexByte(window, '\r') >= 0 {
		eol = []byte{'\r'}
	}
	figures := 0
	for no := 1; len(window) > 0 && len(s.rows) < mostSampleLines && figures < enoughSampleRows; no++ {
		line, rest, ended := bytes.Cut(window, eol)
		if !ended && !whole && no > 1 {
			break // the window ends inside this line
		}
		window = rest
		line = trimLine(line)
		if text, ok := commentText(trim(line)); ok {
			if len(s.rows) == 0 {
				s.comment, s.commentLine = text, no
			}
			continue
		}
		if len(line) > 0 {
			s.rows = append(s.rows, sampleLine{no: no, text: line})
			if c := line[0]; c-'0' <= 9 || c == '-' || c == '+' || c == '.' || c == '"' || c == '{' {
				figures++
			}
		}
	}
	return s
}

// findDelimiter picks the delimiter under which most cells are figures or
// stamps; of equals the first of tab, semicolon, comma, blanks.
func (l *layout) findDelimiter(rows []sampleLine) {
	best := 0.0
	l.delim = blanks
	for _, d := range []byte{'\t', ';', ',', blanks} {
		score := 0.0
		for i := range rows {
			if d != blanks && bytes.IndexByte(rows[i].text, d) < 0 {
				continue
			}
			cells, good := judge(rows[i].text, d)
			if good >= 2 {
				score += float64(good) / float64(len(cells))
			}
		}
		if score > best+1e-9 {
			best, l.delim = score, d
		}
	}
	if best == 0 {
		// no row of two figures: the delimiter that parts the first line into
		// the most cells, for the sake of a good message
		most := 1
		for _, d := range []byte{'\t', ';', ','} {
			if n := len(split(nil, rows[0].text, d)); n > most {
				most, l.delim = n, d
			}
		}
	}
	for i := range rows {
		rows[i].cells, rows[i].good = judge(rows[i].text, l.delim)
	}
}

// judge splits a line and counts the cells that are figures or stamps.
func judge(line []byte, delim byte) (cells [][]byte, good int) {
	cells = split(nil, line, delim)
	for len(cells) > 1 && len(cells[len(cells)-1]) == 0 {
		cells = cells[:len(cells)-1]
	}
	for _, c := range cells {
		if _, _, _, kind := figure(c); kind == isFigure {
			good++
		} else if _, ok := wholeStamp(c); ok {
			good++
		}
	}
	return cells, good
}

func isDataRow(r *sampleLine) bool { return r.good >= 2 }

// headerFromOption takes the columns from --columns; whatever stands before
// the first row of figures is passed over.
func (l *layout) headerFromOption(rows []sampleLine, first int, spec string) error {
	cols, err := parseColumnsOption(spec)
	if err != nil {
		return err
	}
	l.columns = cols
	if first < 0 {
		first = 0
	}
	l.headerLine = rows[first].no - 1
	return nil
}

// findHeader finds the header among the lines before the first row of figures:
// the nearest one of which a time or a pressure is known; a line of units below
// a line of names counts with it; failing those, the last comment before.
func (l *layout) findHeader(rows []sampleLine, first int, comment string, commentLine int) error {
	want, before := 0, rows
	if first >= 0 {
		want, before = len(rows[first].cells), rows[:first]
	}
	for i := len(before) - 1; i >= 0; i-- {
		if before[i].good > 0 && before[i].good*2 >= len(before[i].cells) {
			continue
		}
		names := l.headerCells(before[i].text, want)
		if i > 0 && allUnits(names) {
			if above := l.headerCells(before[i-1].text, len(names)); len(above) == len(names) && !allUnits(above) {
				for k := range names {
					if u := strings.Trim(names[k], "()[] "); u != "" && u != "-" {
						above[k] += " (" + u + ")"
					}
				}
				names = above
			}
		}
		if cols := columnsOf(names); anyKnown(cols) {
			l.columns, l.headerLine = cols, before[i].no
			return nil
		}
	}
	if cols := columnsOf(l.headerCells([]byte(comment), want)); comment != "" && hasTimeAndPressure(cols) {
		l.columns, l.headerLine = cols, commentLine
		return nil
	}
	if n := len(before); n > 0 && before[n-1].good == 0 {
		l.columns, l.headerLine = columnsOf(l.headerCells(before[n-1].text, want)), before[n-1].no
		return nil
	}
	line := rows[0].no
	if first >= 0 {
		line = rows[first].no
	}
	return &FileError{Line: line, What: "no header names the columns", Hint: columnsHint}
}

// headerCells parts a header line. Where blanks are the delimiter names may
// hold blanks too; of several ways to part them the one that gives as many
// names as the rows have cells is taken.
func (l *layout) headerCells(line []byte, want int) []string {
	if l.delim != blanks {
		// a header may be parted otherwise than the rows below it
		var cells []string
		for _, d := range []byte{l.delim, '\t', ';', ','} {
			c := toStrings(split(nil, line, d))
			for len(c) > 1 && c[len(c)-1] == "" {
				c = c[:len(c)-1]
			}
			if cells == nil || len(cells) < 2 && len(c) == want {
				cells = c
			}
		}
		return cells
	}
	ways := [][]string{
		toStrings(split(nil, line, blanks)), atWideBlanks(string(line)), atBrackets(string(line), false), atBrackets(string(line), true),
	}
	for _, d := range []byte{'\t', ';', ','} {
		ways = append(ways, toStrings(split(nil, line, d)))
	}
	for i, w := range ways {
		if i == 0 && bytes.ContainsAny(line, "([") {
			continue
		}
		if len(w) == want {
			return w
		}
		if w = joinDateTime(w); len(w) == want {
			return w
		}
	}
	return ways[2]
}

func toStrings(cells [][]byte) []string {
	s := make([]string, len(cells))
	for i, c := range cells {
		s[i] = string(bytes.ToValidUTF8(c, []byte("°"))) // a lone byte is mostly a degree sign of an old encoding
	}
	return s
}

// atWideBlanks parts a line at tabs and at two or more blanks.
func atWideBlanks(s string) []string {
	var out []string
	for _, part := range strings.Split(strings.ReplaceAll(s, "\t", "  "), "  ") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// atBrackets parts a line at blanks outside brackets and joins brackets to the
// name before them; with onlyThere, at closing brackets alone.
func atBrackets(s string, onlyThere bool) []string {
	var out []string
	depth, start := 0, 0
	cut := func(end int) {
		part := strings.TrimSpace(s[start:end])
		start = end
		if part == "" {
			return
		}
		if !onlyThere && (part[0] == '(' || part[0] == '[') && len(out) > 0 {
			out[len(out)-1] += " " + part
			return
		}
		out = append(out, part)
	}
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '(', '[':
			depth++
		case ')', ']':
			depth = max(0, depth-1)
			if depth == 0 {
				cut(i + 1)
			}
		case ' ', '\t':
			if depth == 0 && !onlyThere {
				cut(i)
			}
		}
	}
	cut(len(s))
	return out
}

// joinDateTime joins neighbouring names "date" and "time": with blanks as the
// delimiter their cells are one.
func joinDateTime(names []string) []string {
	for i := 0; i+1 < len(names); i++ {
		if strings.EqualFold(names[i], "date") && strings.HasPrefix(strings.ToLower(names[i+1]), "time") {
			out := append([]string{}, names[:i]...)
			return append(append(out, names[i]+" "+names[i+1]), names[i+2:]...)
		}
	}
	return names
}

func columnsOf(names []string) []column {
	cols := make([]column, len(names))
	for i, n := range names {
		cols[i] = parseColumn(n)
	}
	return cols
}

func anyKnown(cols []column) bool {
	for i := range cols {
		if cols[i].time || cols[i].pressure || cols[i].isTime() || cols[i].isPressure() {
			return true
		}
	}
	return false
}

func hasTimeAndPressure(cols []column) bool {
	t, p := false, false
	for i := range cols {
		t = t || cols[i].isTime() || cols[i].time && !cols[i].hasUnit
		p = p || cols[i].isPressure()
	}
	return t && p && len(cols) >= 2
}

// allUnits says whether a header line holds units and nothing else.
func allUnits(names []string) bool {
	some := false
	for _, n := range names {
		n = strings.Trim(n, "()[] ")
		if n == "" || n == "-" {
			continue
		}
		if _, _, ok := lookUnit(n); !ok {
			return false
		}
		some = true
	}
	return some && len(names) > 1
}

package trace

import "bytes"

// row reads time, pressure and sample count of a row that was split.
func (l *layout) row(cells [][]byte) (t, v float64, w int32, f rowFault) {
	t, f = l.time(cells[l.tcol])
	if f.why != "" {
		return 0, 0, 0, f
	}
	v, decimals, f := l.figure(cells[l.vcol], l.vcol)
	if f.why != "" {
		return 0, 0, 0, f
	}
	l.decimals = max(l.decimals, decimals)
	w = 1
	if l.ccol >= 0 && l.means && l.ccol < len(cells) {
		n, _, _, kind := figure(cells[l.ccol])
		if kind != isFigure || n < 1 || n > 1e9 {
			return 0, 0, 0, rowFault{why: "is no count of samples", col: l.ccol, cell: cells[l.ccol]}
		}
		w = int32(n)
	}
	return t, v, w, f
}

// rowFault says what is wrong with a row; no why, nothing.
type rowFault struct {
	why  string
	col  int // -1: the row as a whole
	cell []byte
}

// checkCount finds rows that are too short or too long.
func (l *layout) checkCount(cells [][]byte) rowFault {
	n := len(cells)
	for n > 1 && len(cells[n-1]) == 0 {
		n--
	}
	if need := max(l.tcol, l.vcol) + 1; len(cells) < need {
		return rowFault{why: "has " + itoa(n) + " of " + itoa(need) + " cells", col: -1}
	}
	if n > l.cells {
		return rowFault{why: "has " + itoa(n) + " cells instead of " + itoa(l.cells), col: -1}
	}
	return rowFault{}
}

// time reads the cell of the time: a figure or a stamp.
func (l *layout) time(cell []byte) (float64, rowFault) {
	if !l.stamps {
		t, decimals, f := l.figure(cell, l.tcol)
		_ = decimals
		return t, f
	}
	s, ok := wholeStamp(trim(cell))
	if !ok {
		why := "is no stamp"
		if len(trim(cell)) == 0 {
			why = "is empty"
		}
		return 0, rowFault{why: why, col: l.tcol, cell: cell}
	}
	t, ok := l.sinceFirst(s)
	if !ok {
		return 0, rowFault{why: "is another kind of stamp than the first", col: l.tcol, cell: cell}
	}
	return t, rowFault{}
}

// sinceFirst turns a stamp into seconds since the day of the first one.
func (l *layout) sinceFirst(s stamp) (float64, bool) {
	if l.form == noStamp {
		l.form, l.day0 = s.form, s.day
	}
	return float64(s.day-l.day0)*86400 + s.seconds, s.form == l.form
}

// figure reads a cell that should hold a figure.
func (l *layout) figure(cell []byte, col int) (float64, int, rowFault) {
	x, decimals, mark, kind := figure(cell)
	f := rowFault{col: col, cell: cell}
	switch kind {
	case isMissing:
		f.why = "is empty"
		if len(trim(cell)) > 0 {
			f.why = "means there is no figure"
		}
	case isNotFinite:
		f.why = "is not finite"
	case isTwoMarks:
		f.why = "has both a point and a comma"
	case isText:
		f.why = "is not a figure"
		if bytes.IndexByte(cell, 0) >= 0 {
			f.why = "holds zero bytes"
		}
	}
	if f.why != "" || mark == 0 {
		return x, decimals, f
	}
	if !l.decCertain {
		l.dec, l.decCertain = mark, true
	}
	if mark != l.dec {
		f.why = "has another decimal mark than the other rows"
	}
	return x, decimals, f
}

// explain puts what is wrong with a row into words.
func (l *layout) explain(f rowFault) string {
	if f.col < 0 {
		return "the row " + f.why
	}
	what := quoteShort(l.columns[f.col].name) + " "
	if len(f.cell) > 0 {
		what += quoteShort(f.cell) + " "
	}
	return what + f.why
}

// quick reads a plain row; ok is false where it needs the careful way.
func (l *layout) quick(b []byte) (t, v float64, ok bool) {
	i := 0
	last := max(l.tcol, l.vcol)
	var decimals, most int
	marks := false
	for col := 0; ; col++ {
		for i < len(b) && (b[i] == ' ' || b[i] == '\t') && (b[i] != l.delim || l.delim == blanks) {
			i++
		}
		switch col {
		case l.tcol:
			if l.stamps {
				var s stamp
				cell := b
				if k := bytes.IndexByte(b[i:], l.delim); k >= 0 && l.delim != blanks {
					cell = b[:i+k] // a comma behind it is no fraction
				}
				if s, i = readStamp(cell, i); i < 0 {
					return 0, 0, false
				}
				if t, ok = l.sinceFirst(s); !ok {
					return 0, 0, false
				}
			} else if t, decimals, i = number(b, i, l.dec); i < 0 {
				return 0, 0, false
			}
			marks = marks || decimals > 0
		case l.vcol:
			if v, decimals, i = number(b, i, l.dec); i < 0 {
				return 0, 0, false
			}
			most = decimals
			marks = marks || decimals > 0
		default:
			for i < len(b) && b[i] != l.delim && (b[i] != '\t' || l.delim != blanks) {
				if b[i] == '"' {
					return 0, 0, false
				}
				i++
			}
		}
		start := i
		for i < len(b) && (b[i] == ' ' || b[i] == '\t') && (b[i] != l.delim || l.delim == blanks) {
			i++
		}
		if col == last && i == len(b) {
			break
		}
		if l.delim == blanks {
			if i == start {
				return 0, 0, false
			}
		} else {
			if i >= len(b) || b[i] != l.delim {
				return 0, 0, false
			}
			i++
		}
		if col == last {
			if i < len(b) && !l.fits(b[i:], col+1) {
				return 0, 0, false
			}
			break
		}
	}
	if !l.decCertain && marks {
		return 0, 0, false // which decimal mark it is, is settled carefully
	}
	if most > l.decimals {
		l.decimals = most
	}
	return t, v, true
}

// fits says whether the rest of a row after the columns read holds as many
// cells as there should be.
func (l *layout) fits(rest []byte, read int) bool {
	if bytes.IndexByte(rest, '"') >= 0 {
		return false
	}
	if l.delim != blanks {
		return read+1+bytes.Count(rest, []byte{l.delim}) == l.cells
	}
	inCell := false
	for _, c := range rest {
		blank := c == ' ' || c == '\t'
		if !blank && !inCell {
			read++
		}
		inCell = !blank
	}
	return read == l.cells
}

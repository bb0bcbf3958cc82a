package trace

import (
	"strconv"
	"strings"
)

// findDecimal takes the decimal mark that most cells have.
func (l *layout) findDecimal(rows []sampleLine) {
	points, commas := 0, 0
	for i := range rows {
		if !isDataRow(&rows[i]) {
			continue
		}
		for _, c := range rows[i].cells {
			switch _, _, mark, kind := figure(c); {
			case kind != isFigure:
			case mark == '.':
				points++
			case mark == ',':
				commas++
			}
		}
	}
	l.decCertain = points+commas > 0
	if commas > points {
		l.dec = ','
	}
}

// seeStamps marks the columns whose cells are stamps.
func (l *layout) seeStamps(rows []sampleLine) {
	for c := range l.columns {
		stamps, figures := 0, 0
		for i := range rows {
			if !isDataRow(&rows[i]) || c >= len(rows[i].cells) {
				continue
			}
			if _, ok := wholeStamp(rows[i].cells[c]); ok {
				stamps++
			} else if _, _, _, kind := figure(rows[i].cells[c]); kind == isFigure {
				figures++
			}
		}
		if stamps+figures > 0 {
			l.columns[c].stamps = stamps > figures
		}
	}
}

// choose picks the time column and the pressure column.
func (l *layout) choose(picked string) error {
	t, err := l.chooseTime()
	if err != nil {
		return err
	}
	v, err := l.choosePressure(picked, t)
	if err != nil {
		return err
	}
	l.tcol, l.vcol, l.stamps = t, v, l.columns[t].stamps
	for i := range l.columns {
		if l.columns[i].name == samplesName {
			l.ccol = i
		}
	}
	return nil
}

// chooseTime picks, of the columns that can be the time, one that is named so
// and has a unit, before one that is named so and holds stamps, before one
// that only has a unit of time, before one that only holds stamps; of equals
// the first.
func (l *layout) chooseTime() (int, error) {
	best, rank := -1, 0
	for i := range l.columns {
		c := &l.columns[i]
		r := 0
		switch {
		case c.skip:
		case c.time && c.isTime() && !c.stamps:
			r = 4
		case c.time && c.stamps:
			r = 3
		case c.isTime():
			r = 2
		case c.stamps:
			r = 1
		}
		if r > rank {
			best, rank = i, r
		}
	}
	if best >= 0 {
		return best, nil
	}
	for i := range l.columns {
		c := &l.columns[i]
		if !c.time || c.hasUnit && len(c.name) <= 3 {
			continue // "t (°C)" is no time
		}
		e := &FileError{Line: l.headerLine, Column: i + 1, Field: c.name}
		switch {
		case c.badUnit != "":
			e.What = "unknown unit " + quoteShort(c.badUnit)
			e.Hint = "the time may be in s, ms, min or h, or as RFC 3339 or hh:mm:ss.fff stamps"
		case c.hasUnit:
			e.What = c.unit.Name + " is no unit of time"
			e.Hint = "the time may be in s, ms, min or h, or as RFC 3339 or hh:mm:ss.fff stamps"
		default:
			e.What = "the time column has no unit, and its cells are no stamps"
			e.Hint = `write it as in "time (s)", or ` + columnsHint
		}
		return 0, e
	}
	return 0, &FileError{Line: l.headerLine, What: "no time column among " + l.names(), Hint: `name it as in "time (s)", or ` + columnsHint}
}

// choosePressure picks the pressure column: the one that was asked for, else
// the only one with a unit of pressure.
func (l *layout) choosePressure(picked string, t int) (int, error) {
	if picked != "" {
		i, err := l.byName(picked)
		if err != nil {
			return 0, err
		}
		if i == t || !l.columns[i].isPressure() {
			if i == t {
				return 0, &FileError{Field: "--column", What: quoteShort(picked) + " is the time column", Hint: "the columns are " + l.names()}
			}
			return 0, l.notPressure(i)
		}
		return i, nil
	}
	var found []int
	for i := range l.columns {
		if c := &l.columns[i]; i != t && c.isPressure() && !c.skip {
			found = append(found, i)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		var names []string
		for _, i := range found {
			names = append(names, quoteShort(l.columns[i].name))
		}
		return 0, &FileError{
			Line: l.headerLine,
			What: strconv.Itoa(len(found)) + " pressure columns: " + strings.Join(names, ", "),
			Hint: "say which with --column, by name or by number, as in --column " + names[0] + " or --column " + itoa(found[0]+1),
		}
	}
	for i := range l.columns {
		if l.columns[i].pressure && i != t {
			return 0, l.notPressure(i)
		}
	}
	// a column of unknown name with an unknown or electrical unit may be meant
	for i := range l.columns {
		if l.columns[i].badUnit != "" && i != t {
			return 0, l.notPressure(i)
		}
	}
	return 0, &FileError{Line: l.headerLine, What: "no pressure column among " + l.names(), Hint: `name it as in "vacuum (kPa)", "gauge (mbar)" or "pressure abs (kPa)", or ` + columnsHint}
}

const pressureUnits = "pressures may be in Pa, kPa, mbar, bar, psi, inHg, mmHg, Torr or inH2O"

// notPressure says why column i cannot be read as a pressure.
func (l *layout) notPressure(i int) error {
	c := &l.columns[i]
	e := &FileError{Line: l.headerLine, Column: i + 1, Field: c.name}
	switch {
	case c.voltage:
		e.What = quoteShort(c.badUnit) + " is what a sensor puts out, not a pressure"
		e.Hint = "turn it into a pressure by the sensor's data sheet first; " + pressureUnits
	case c.badUnit != "":
		e.What = "unknown unit " + quoteShort(c.badUnit)
		e.Hint = pressureUnits
	case c.hasUnit:
		e.What = c.unit.Name + " is no unit of pressure"
		e.Hint = pressureUnits
	default:
		e.What = "the column has no unit"
		e.Hint = `write it as in "vacuum (kPa)", or ` + columnsHint
	}
	return e
}

// byName finds the column that a person means: its name as in the header, its
// name without the unit, or its number from 1.
func (l *layout) byName(picked string) (int, error) {
	want := strings.TrimSpace(picked)
	var found []int
	for i := range l.columns {
		if strings.EqualFold(l.columns[i].name, want) {
			return i, nil
		}
		outside, _ := cutBrackets(l.columns[i].name)
		if strings.EqualFold(strings.TrimSpace(outside), want) {
			found = append(found, i)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	if len(found) > 1 {
		return 0, &FileError{Field: "--column", What: quoteShort(want) + " fits " + itoa(len(found)) + " columns", Hint: "give it with its unit or by number; the columns are " + l.names()}
	}
	if n, err := strconv.Atoi(want); err == nil && n >= 1 && n <= len(l.columns) {
		return n - 1, nil
	}
	return 0, &FileError{Field: "--column", What: "there is no column " + quoteShort(want), Hint: "the columns are " + l.names()}
}

// names lists the columns for a message.
func (l *layout) names() string {
	const most = 12
	var s []string
	for i := range l.columns {
		if i == most {
			s = append(s, "...")
			break
		}
		s = append(s, quoteShort(l.columns[i].name))
	}
	return strings.Join(s, ", ")
}

// countCells finds how many cells a row has. Rows of figures with more cells
// than there are names, parted by commas, are refused: the comma may be the
// decimal mark as well.
func (l *layout) countCells(rows []sampleLine, byOption bool) error {
	names := len(l.columns)
	counts := map[int]int{}
	total, wider, line := 0, 0, 0
	for i := range rows {
		if !isDataRow(&rows[i]) || rows[i].no <= l.headerLine {
			continue
		}
		n := len(rows[i].cells)
		counts[n]++
		total++
		if n > names && (rows[i].good == n || byOption) {
			wider++
			if line == 0 {
				line = rows[i].no
			}
		}
	}
	if wider*2 > total && (l.delim == ',' || byOption) {
		e := &FileError{Line: line, What: "rows have more cells than the " + itoa(names) + " columns that are named"}
		e.Hint = `name them all, with "-" for a column to skip`
		if l.delim == ',' {
			e.Hint = "if the comma is the decimal mark too, export with semicolons or tabs between the columns; else " + e.Hint
		}
		return e
	}
	if byOption && total > 0 {
		widest := 0
		for n := range counts {
			widest = max(widest, n)
		}
		if widest < names {
			return &FileError{Field: "--columns", What: itoa(names) + " columns are named, the rows have " + itoa(widest), Hint: "name as many as there are"}
		}
	}
	l.cells = names
	for n, k := range counts {
		if n > l.cells && k*2 > total {
			l.cells = n
		}
	}
	return nil
}

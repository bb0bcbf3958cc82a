package trace

import (
	"fmt"
	"io"
)

// Taken is what a column of a file is taken for.
type Taken string

// What a column may be taken for. A pressure column of unclear form is settled
// by its values when the file is read.
const (
	TakenSkip     Taken = "-"
	TakenTime     Taken = "time"
	TakenVacuum   Taken = "vacuum"
	TakenGauge    Taken = "gauge"
	TakenAbsolute Taken = "absolute"
	TakenPressure Taken = "pressure"
)

// SeenColumn is one column of a file, as [Look] sees it.
type SeenColumn struct {
	Name  string   // as its header has it; "" without one
	Taken Taken    // used for; TakenSkip for a column that is not read
	Unit  string   // canonical; "stamp" for clock stamps
	Cells []string // of the first rows, as written
}

// Seen is what a file looks like before it is read.
type Seen struct {
	Columns []SeenColumn
	Hand    bool // readings by eye
}

// Look says what the columns of a file are taken for, from its first lines,
// with at most the first six rows of it. Where that can't be said the error is
// that of [Read], and Seen holds the cells alone, so that a person can say it.
func Look(r io.Reader, o ReadOptions) (Seen, error) {
	src, err := openLines(r, nil)
	if err != nil {
		return Seen{}, err
	}
	start := sample(src.window(mostWindow), src.eof)
	lay, err := findLayout(start, o)
	if lay == nil || err != nil {
		l := &layout{}
		if len(start.rows) > 0 {
			l.findDelimiter(start.rows)
		}
		if err == nil {
			err = fmt.Errorf("look at trace: no layout found")
		}
		return l.seen(start, false), err
	}
	if src.err != nil {
		return Seen{}, src.err
	}
	return lay.seen(start, true), nil
}

func (l *layout) seen(start sampled, found bool) Seen {
	var s Seen
	const rows = 6
	for i := range start.rows {
		row := &start.rows[i]
		if row.good < 2 || len(s.Columns) > 0 && len(s.Columns[0].Cells) >= rows {
			continue
		}
		for k, c := range row.cells {
			for len(s.Columns) <= k {
				s.Columns = append(s.Columns, SeenColumn{Taken: TakenSkip})
			}
			s.Columns[k].Cells = append(s.Columns[k].Cells, string(c))
		}
	}
	if !found {
		return s
	}
	for i := range l.columns {
		for len(s.Columns) <= i {
			s.Columns = append(s.Columns, SeenColumn{Taken: TakenSkip})
		}
		c, to := &l.columns[i], &s.Columns[i]
		if to.Name = c.name; c.skip {
			continue
		}
		switch {
		case i == l.tcol:
			to.Taken, to.Unit = TakenTime, c.unit.Name
			if l.stamps {
				to.Unit = "stamp"
			}
		case i == l.vcol:
			to.Unit = c.unit.Name
			to.Taken = map[form]Taken{formVacuum: TakenVacuum, formGauge: TakenGauge, formAbsolute: TakenAbsolute, formUnclear: TakenPressure}[c.form]
		}
	}
	return s
}

package trace

import (
	"bytes"

	"seatproof/unit"
)

// mostHandReadings is more than a person writes down in one test.
const mostHandReadings = 1000

// handRow is a row of a file of hand readings, in the units of the file.
type handRow struct {
	t, v     float64
	censored bool
}

// takeHand takes a row of a file that says "# hand readings". A cell that
// holds the word "above" means: still above this when I stopped.
func (rd *reader) takeHand(no int, t, v float64, cells [][]byte) {
	f := &rd.rec.faults
	f.Rows++
	last := 0.0
	if n := len(rd.hand); n > 0 {
		last = rd.hand[n-1].t
		if rd.lay.stamps {
			t = rd.rec.acrossMidnight(t, last)
		}
	} else if rd.lay.stamps {
		last = t
	}
	switch {
	case t < last && len(rd.hand) == 0:
		rd.rec.leaveOut(no, func() string { return "its time lies before shut-off" })
		return
	case t < last:
		rd.rec.leaveOut(no, outOfOrder)
		return
	case !(v >= -rd.rec.vMost && v <= rd.rec.vMost) || t > rd.rec.tMost:
		rd.rec.leaveOut(no, func() string { return "its figures are beyond all reason" })
		return
	case len(rd.hand) == mostHandReadings:
		rd.rec.leaveOut(no, func() string { return "there are more rows than a person reads by eye" })
		return
	}
	row := handRow{t: t, v: v}
	for i, c := range cells {
		if i != rd.lay.tcol && i != rd.lay.vcol && bytes.Contains(bytes.ToLower(c), []byte("above")) {
			row.censored = true
		}
	}
	rd.hand = append(rd.hand, row)
}

// finishHand turns the rows into hand readings: vacuum against time since
// shut-off. The spreads are those of the comment lines: half a division, and
// the reaction time; 0 where there are none.
func (rd *reader) finishHand() (*Trace, error) {
	t := &Trace{Kind: Vacuum, Header: rd.notes.head, Faults: rd.rec.faults}
	if len(rd.hand) == 0 {
		return nil, rd.noRows(t.Faults)
	}
	division, err := headerFigure("# division", rd.notes.division, unit.PressureDim, "0.5 inHg")
	if err != nil {
		return nil, err
	}
	reaction, err := headerFigure("# reaction", rd.notes.reaction, unit.TimeDim, "0.3 s")
	if err != nil {
		return nil, err
	}
	u := rd.lay.pressureUnit()
	values := make([]float64, len(rd.hand))
	for i, h := range rd.hand {
		values[i] = u.ToSI(h.v)
	}
	form, err := rd.lay.settleForm(values)
	if err != nil {
		return nil, err
	}
	if form == formAbsolute && !(rd.o.AirPressure > 0) {
		return nil, &FileError{
			Line: rd.lay.headerLine, Column: rd.lay.vcol + 1, Field: rd.lay.columns[rd.lay.vcol].name,
			What: "hand readings of absolute pressure need the room's air pressure",
			Hint: "state the air pressure in the rig file, or write the readings as vacuum",
		}
	}
	zero := 0.0
	if rd.lay.stamps {
		zero = rd.hand[0].t
	}
	for i, h := range rd.hand {
		v := values[i]
		switch form {
		case formGauge:
			v = 0 - v
		case formAbsolute:
			v = rd.o.AirPressure - v
		}
		sec := h.t - zero
		if !rd.lay.stamps {
			sec = rd.lay.columns[rd.lay.tcol].unit.ToSI(h.t)
		}
		t.Hand = append(t.Hand, HandReading{Time: sec, TimeSpread: reaction, Value: v, Spread: division / 2, Censored: h.censored})
	}
	return t, nil
}

// headerFigure reads the figure of a comment line; "" is 0, not known.
func headerFigure(field, text string, dim unit.Dimension, example string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	q, err := unit.Parse(text, dim)
	if err == nil && q.Value < 0 {
		return 0, &FileError{Field: field, What: quoteShort(text) + " is negative", Hint: `write it as in "` + field + ` ` + example + `"`}
	}
	if err != nil {
		return 0, &FileError{Field: field, What: err.Error(), Hint: `write it as in "` + field + ` ` + example + `"`}
	}
	return q.Value, nil
}

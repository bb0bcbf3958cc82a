package trace

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ReadOptions is what a person may say about a file beside its contents.
type ReadOptions struct {
	// Columns says what the columns hold where no header does, or overrules
	// the header: "s, kPa vacuum", "ms, mbar abs", "s, -, inHg gauge". One
	// entry a column, "-" for a column to skip, "stamp" for a clock or date.
	Columns string
	// Column picks the pressure column where there are several: its name as in
	// the header (any case, with or without its unit) or its number from 1.
	Column string
	// AirPressure is the room's pressure [Pa]. It is only needed for hand
	// readings written as absolute pressures; 0: not known.
	AirPressure float64
	// MaxPoints is the most points that are kept; neighbours are averaged
	// pairwise in longer recordings. 0: 65,536.
	MaxPoints int
	// Progress, if set, is called now and then with the bytes read so far.
	Progress func(bytes int64)
}

// defaultMaxPoints keeps a file of four minutes at 250 Hz sample by sample.
const defaultMaxPoints = 1 << 16

// FileError says what is wrong with a file, where, and what to do.
type FileError struct {
	Line   int    // from 1; 0: the file as a whole
	Column int    // from 1; 0: the line as a whole
	Field  string // name of the column or option; "" if none
	What   string // what is wrong
	Hint   string // what to do
}

// Error returns the parts as one line: where, what, what to do.
func (e *FileError) Error() string {
	var b strings.Builder
	b.WriteString("read trace: ")
	if e.Line > 0 {
		b.WriteString("line " + strconv.Itoa(e.Line))
		if e.Column > 0 {
			b.WriteString(", column " + strconv.Itoa(e.Column))
		}
		b.WriteString(": ")
	}
	if e.Field != "" {
		b.WriteString(strconv.Quote(e.Field) + ": ")
	}
	b.WriteString(e.What)
	if e.Hint != "" {
		b.WriteString("; " + e.Hint)
	}
	return b.String()
}

// Read reads a recording as loggers write it and returns it in SI units.
//
// It takes columns parted by commas, semicolons, tabs or blanks, with decimal
// points or commas, in UTF-8 or UTF-16; comment lines (#, %, //) anywhere; or
// JSON lines whose keys are named like headers. Header names carry their unit
// in brackets or after an underscore, in any order and case:
//
//	time (s)   Time [s]   t_ms   elapsed (min)         a time
//	Timestamp, with cells as 2026-05-04T12:00:00.25Z   a time
//	vacuum (kPa)   vacuum_inHg                         below the room, positive
//	gauge (kPa)   p_bar_gauge   p (psig)               negative below the room
//	Pressure abs [mbar]   p_bar_abs   p (bara)         absolute
//
// A file without a header needs o.Columns. Opening comment lines as
// "# rig: small rig" (port, held, started, gauge, state, seat) fill the Header; "# hand readings"
// makes the rows hand readings, with "# division 0.5 inHg" and
// "# reaction 0.3 s" for their spreads and the word above in a third column
// for a reading that was still above the figure at the end.
//
// Times count from the first sample. Clock stamps may cross midnight. Rows
// that cannot be used are left out and counted in Faults; so are samples far
// from both neighbours (see [Faults]). Where time steps back and stays back,
// reading stops there.
//
// A pressure column that says neither abs, gauge nor vacuum is taken for what
// its values prove it to be, else it is an error: see settleForm.
//
// Up to o.MaxPoints rows every sample is kept and Count is nil. Beyond that
// neighbours are averaged pairwise, again and again, so that memory stays
// bounded whatever the length of the file.
//
// What is wrong with the file as a whole (empty, binary, no usable row, no
// time or pressure column, unknown unit) is a *[FileError]; a failing reader's
// own error is wrapped. A single good row is no error.
func Read(r io.Reader, o ReadOptions) (*Trace, error) {
	src, err := openLines(r, o.Progress)
	if err != nil {
		return nil, err
	}
	start := sample(src.window(windowSize), src.eof)
	for size := 4 * windowSize; len(start.rows) < 20 && !src.eof && size <= mostWindow; size *= 4 {
		start = sample(src.window(size), src.eof)
	}
	lay, err := findLayout(start, o)
	if err == nil && src.err != nil {
		err = src.err
	}
	if err != nil {
		return nil, err
	}
	rd := reader{src: src, lay: lay, o: o, rec: newRecorder(lay, o.MaxPoints)}
	rd.run()
	if src.err != nil {
		return nil, fmt.Errorf("read trace: after line %d: %w", src.no, src.err)
	}
	return rd.finish()
}

// reader is one file being read.
type reader struct {
	src   *lines
	lay   *layout
	o     ReadOptions
	rec   *recorder
	notes comments
	hand  []handRow
	cells [][]byte
}

// run feeds the rows to the recorder.
func (rd *reader) run() {
	lay, rec, src := rd.lay, rd.rec, rd.src
	opening := true
	for !rec.stopped {
		line, ok := src.next()
		if !ok {
			return
		}
		if n := len(line); n > 0 && line[n-1] == '\r' {
			line = line[:n-1]
		}
		if src.no > lay.headerLine && lay.quickly && !src.cut && !rd.notes.hand {
			if t, v, ok := lay.quick(line); ok {
				rec.add(src.no, t, v, 1)
				opening = false
				continue
			}
		}
		line = trimLine(line)
		if len(line) == 0 {
			continue
		}
		if text, ok := commentText(trim(line)); ok {
			if opening {
				rd.notes.take(text)
				lay.means = rd.notes.means
			}
			continue
		}
		if src.no <= lay.headerLine {
			continue
		}
		opening = false
		rd.carefully(line)
	}
}

// carefully reads a row that is not plain: quoted, odd, or not usable.
func (rd *reader) carefully(line []byte) {
	lay, rec := rd.lay, rd.rec
	no := rd.src.no
	if rd.src.cut {
		rec.drop(no, rowFault{why: "is longer than " + itoa(maxLine>>10) + " KiB", col: -1})
		return
	}
	var f rowFault
	if lay.json {
		rd.cells, f = lay.jsonCells(rd.cells[:0], line)
	} else {
		rd.cells = split(rd.cells[:0], line, lay.delim)
		f = lay.checkCount(rd.cells)
	}
	var t, v float64
	w := int32(1)
	if f.why == "" {
		t, v, w, f = lay.row(rd.cells)
	}
	if f.why != "" {
		rec.drop(no, f)
		return
	}
	if rd.notes.hand {
		rd.takeHand(no, t, v, rd.cells)
		return
	}
	rec.add(no, t, v, w)
}

// finish turns what was recorded into a Trace.
func (rd *reader) finish() (*Trace, error) {
	rd.rec.finish()
	if rd.notes.hand {
		return rd.finishHand()
	}
	t := rd.rec.trace()
	t.Header = rd.notes.header()
	if t.Len() == 0 {
		return nil, rd.noRows(t.Faults)
	}
	form, err := rd.lay.settleForm(t.Value)
	if err != nil {
		return nil, err
	}
	t.Kind = Vacuum
	switch form {
	case formAbsolute:
		t.Kind = Absolute
	case formGauge:
		for i := range t.Value {
			t.Value[i] = 0 - t.Value[i]
		}
	}
	return t, nil
}

// noRows is the error of a file in which no row could be used.
func (rd *reader) noRows(f Faults) error {
	if f.Rows == 0 {
		return &FileError{
			What: "no rows of figures",
			Hint: "a trace needs at least a time and a pressure in each line below the header",
		}
	}
	return &FileError{
		Line: f.FirstDropped,
		What: fmt.Sprintf("none of the %d rows can be used; the first: %s", f.Rows, f.DroppedWhy),
		Hint: "check the delimiter, the decimal mark and the columns",
	}
}

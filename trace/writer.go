package trace

import (
	"bufio"
	"fmt"
	"io"
)

// Writer writes a recording while it is made, sample by sample, as CSV that
// [Read] reads back: opening comment lines, a header with units, and a row a
// sample, time in s and pressure in kPa. What was written before a machine lost
// its power is a whole trace.
type Writer struct {
	b    *bufio.Writer
	row  []byte
	rows int
}

// NewWriter writes comment lines and header to w. A failed write is told by the
// next Flush.
func NewWriter(w io.Writer, h Header, kind Kind) *Writer {
	b := bufio.NewWriter(w)
	writeHeader(b, h)
	name := "vacuum (kPa)"
	if kind == Absolute {
		name = "pressure abs (kPa)"
	}
	b.WriteString("time (s)," + name + "\n")
	return &Writer{b: b}
}

// Row adds a sample: time [s] to twelve significant digits, pressure [Pa] to
// nine. It is an error if one is not finite, or if the file can't be written.
func (w *Writer) Row(time, value float64) error {
	if !isFinite(time) || !isFinite(value) {
		return fmt.Errorf("write trace: sample %d is not finite", w.rows+1)
	}
	w.row = appendFigure(w.row[:0], time, 12)
	w.row = appendFigure(append(w.row, ','), value/1e3, 9)
	if _, err := w.b.Write(append(w.row, '\n')); err != nil {
		return fmt.Errorf("write trace: after %d rows: %w", w.rows, err)
	}
	w.rows++
	return nil
}

// Remark adds a comment line.
func (w *Writer) Remark(text string) {
	if text = oneLine(text); text != "" {
		fmt.Fprintln(w.b, "# "+text)
	}
}

// Rows returns how many samples were added.
func (w *Writer) Rows() int { return w.rows }

// Flush hands all rows to the file.
func (w *Writer) Flush() error {
	if err := w.b.Flush(); err != nil {
		return fmt.Errorf("write trace: %w", err)
	}
	return nil
}

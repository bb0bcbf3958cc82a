package trace

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Write writes t as CSV that [Read] reads back: comment lines for rig, port,
// held and started (gauge, state and seat where said) and for the other comments, a header with units, and a row
// a point, time in s and pressure in kPa. Times have twelve significant
// digits, pressures nine, which is finer than any gauge.
//
// A recording that stands above the room throughout is written as gauge
// pressure, one of averaged points with the number of samples of each, hand
// readings as such. It is an error if a figure is not finite, or if hand
// readings differ in their spreads, which the file has no place for. Nothing
// of the file says what Faults counted.
func Write(w io.Writer, t *Trace) error {
	b := bufio.NewWriter(w)
	writeHeader(b, t.Header)
	write := writeSamples
	if t.Hand != nil {
		write = writeHand
	}
	if err := write(b, t); err != nil {
		return fmt.Errorf("write trace: %w", err)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write trace: %w", err)
	}
	return nil
}

// writeHeader writes the opening comment lines; a failed write is told by Flush.
func writeHeader(b *bufio.Writer, h Header) {
	for _, line := range [][2]string{
		{"rig", h.Rig}, {"port", h.Port}, {"held", h.Held}, {"started", h.Started},
	} {
		fmt.Fprintln(b, strings.TrimSpace("# "+line[0]+": "+oneLine(line[1])))
	}
	for _, line := range [][2]string{{"gauge", h.Gauge}, {"state", h.State}, {"seat", h.Seat}} {
		if text := oneLine(line[1]); text != "" {
			fmt.Fprintln(b, "# "+line[0]+": "+text)
		}
	}
	for _, text := range h.Others {
		if text = oneLine(text); text != "" {
			fmt.Fprintln(b, "# "+text)
		}
	}
}

// oneLine makes text fit for a comment line.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.TrimSpace(s)
}

func writeSamples(b *bufio.Writer, t *Trace) error {
	if len(t.Value) != len(t.Time) || t.Count != nil && len(t.Count) != len(t.Time) {
		return errors.New("times, values and counts differ in number")
	}
	name, sign := "vacuum (kPa)", 1.0
	switch {
	case t.Kind == Absolute:
		name = "pressure abs (kPa)"
	case onlyNegative(t.Value):
		name, sign = "gauge (kPa)", -1
	}
	if t.Count != nil {
		b.WriteString("# " + meansComment + "\n")
		name += "," + samplesName
	}
	b.WriteString("time (s)," + name + "\n")
	var row []byte
	for i, x := range t.Time {
		if !isFinite(x) || !isFinite(t.Value[i]) {
			return fmt.Errorf("point %d is not finite", i+1)
		}
		row = appendFigure(row[:0], x, 12)
		row = appendFigure(append(row, ','), sign*t.Value[i]/1e3, 9)
		if t.Count != nil {
			row = strconv.AppendInt(append(row, ','), int64(t.Count[i]), 10)
		}
		b.Write(append(row, '\n')) // a failed write is told by Flush
	}
	return nil
}

func writeHand(b *bufio.Writer, t *Trace) error {
	b.WriteString("# " + handComment + "\n")
	for i, h := range t.Hand {
		if h.Spread != t.Hand[0].Spread || h.TimeSpread != t.Hand[0].TimeSpread {
			return fmt.Errorf("hand reading %d has another spread than the first", i+1)
		}
		if !isFinite(h.Time) || !isFinite(h.Value) || !isFinite(h.Spread) || !isFinite(h.TimeSpread) {
			return fmt.Errorf("hand reading %d is not finite", i+1)
		}
	}
	var row []byte
	if len(t.Hand) > 0 {
		if d := 2 * t.Hand[0].Spread; d > 0 {
			row = append(appendFigure(append(row, "# division: "...), d/1e3, 9), " kPa\n"...)
		}
		if r := t.Hand[0].TimeSpread; r > 0 {
			row = append(appendFigure(append(row, "# reaction: "...), r, 9), " s\n"...)
		}
	}
	b.Write(append(row, "time (s),vacuum (kPa),note\n"...))
	for _, h := range t.Hand {
		row = appendFigure(row[:0], h.Time, 12)
		row = appendFigure(append(row, ','), h.Value/1e3, 9)
		row = append(row, ',')
		if h.Censored {
			row = append(row, "above"...)
		}
		b.Write(append(row, '\n'))
	}
	return nil
}

// appendFigure appends x with that many significant digits at most, without
// trailing zeros.
func appendFigure(b []byte, x float64, digits int) []byte {
	a := math.Abs(x)
	if a != 0 && (a < 1e-5 || a >= 1e12) {
		return strconv.AppendFloat(b, x, 'g', digits, 64)
	}
	decimals := 0
	if a != 0 {
		decimals = max(0, digits-1-int(math.Floor(math.Log10(a))))
	}
	start := len(b)
	b = strconv.AppendFloat(b, x+0, 'f', decimals, 64)
	if decimals == 0 {
		return b
	}
	end := len(b)
	for end > start && b[end-1] == '0' {
		end--
	}
	if b[end-1] == '.' {
		end--
	}
	if string(b[start:end]) == "-0" {
		return append(b[:start], '0')
	}
	return b[:end]
}

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

package web

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"

	"seatproof/head"
)

// tableHead names the columns of the table as a file. Leaks and limits are free air
// at 50 kPa vacuum; intervals are of 95 %; chances go from 0 to 1.
var tableHead = []string{
	"head", "port", "verdict", "leak (cm3/min)", "these tests low (cm3/min)", "these tests high (cm3/min)",
	"tested again low (cm3/min)", "tested again high (cm3/min)", "limit one valve (cm3/min)", "limit all valves (cm3/min)",
	"chance over one valve", "chance over all valves", "tests", "counts for sign-off", "note",
}

// Table is what the ports of a head come to, to be written as a file.
type Table struct {
	Number string // of the head
	ports  [][]any
	tests  [][]any
}

// TableOf makes the table of a head; ErrNotFound.
func (s *Server) TableOf(ctx context.Context, jobID string) (Table, error) {
	k, err := s.jobOf(ctx, jobID)
	if err != nil {
		return Table{}, err
	}
	c, err := s.card(ctx, k)
	if err != nil {
		return Table{}, err
	}
	t := Table{Number: k.V.Number}
	for _, row := range c.Rows {
		t.ports = append(t.ports, tableRow(k.V.Number, row))
	}
	t.tests, err = s.testRows(ctx, k, c)
	return t, err
}

// getTable sends the table as a file of the kind its way ends in.
func (s *Server) getTable(write func(Table, io.Writer) error, ending, mediaType string) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		t, err := s.TableOf(r.Context(), r.PathValue("id"))
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := write(t, &b); err != nil {
			return err
		}
		attach(w, safeName(t.Number)+ending)
		w.Header().Set("Content-Type", mediaType)
		_, _ = w.Write(b.Bytes())
		return nil
	}
}

// WriteCSV writes a line for each port (RFC 4180).
func (t Table) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	_ = out.Write(tableHead) // Flush says what went wrong
	for _, row := range t.ports {
		cells := make([]string, len(row))
		for i, v := range row {
			cells[i] = csvCell(v)
		}
		_ = out.Write(cells)
	}
	out.Flush()
	return out.Error()
}

// tableRow is a port's line: texts, figures (float64, int), nil for what is not
// known. Figures of before some work stand in the note: a spreadsheet can't strike
// them through, and would take them for today's.
func tableRow(number string, r cardRow) []any {
	p := r.card
	leak, againLeak := make([]any, 3), make([]any, 3)
	var notes []string
	note := func(s string) {
		if s != "" {
			notes = append(notes, s)
		}
	}
	if p.Standing != head.Lapsed {
		leak, againLeak = ends(p.Leak, p.UpperOnly), ends(p.Again, p.UpperOnly)
		if p.UpperOnly && p.Leak != nil {
			note("no more than an upper bound")
		}
	}
	if r.Lapsed != "" {
		note(r.Lapsed)
		if r.Leak != "" {
			note("was " + r.Leak + " cm³/min")
		}
	}
	note(strings.TrimSuffix(r.Why, "."))
	note(r.Odd)
	sign := "no"
	if r.SignOff {
		sign = "yes"
	}
	return []any{
		number, r.Name, r.Word, leak[0], leak[1], leak[2], againLeak[1], againLeak[2], flowCell(p.OneLimit), flowCell(p.AllLimit),
		chanceCell(p.OverOne), chanceCell(p.OverAll), r.Tests, sign, strings.Join(notes, "; "),
	}
}

// ends are the middle, the low and the high end of an estimate [m³/s] in cm³/min;
// of an upper bound only the high end means something.
func ends(e *head.Estimate, upper bool) []any {
	switch {
	case e == nil:
		return make([]any, 3)
	case upper:
		return []any{nil, nil, flowCell(e.High)}
	}
	return []any{flowCell(e.Median), flowCell(e.Low), flowCell(e.High)}
}

func flowCell(q float64) any {
	if !(q > 0) {
		return nil
	}
	return rounded(q * 6e7)
}

func chanceCell(p *float64) any {
	if p == nil {
		return nil
	}
	return rounded(*p)
}

// rounded keeps three digits that count: 0.00123456 is 0.00123, 123456 is 123000.
func rounded(x float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	return y
}

// csvCell writes a cell for a program: figures with a point and no exponent.
func csvCell(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case int:
		return strconv.Itoa(v)
	}
	return harmless(fmt.Sprint(v))
}

// harmless keeps a text from being run as a formula: spreadsheets take what begins
// with = + - @, a tab or a return for one (common practice, no source). An
// apostrophe before it makes it text.
func harmless(s string) string {
	if strings.ContainsAny(s[:min(1, len(s))], "=+-@\t\r\n") {
		return "'" + s
	}
	return s
}

package web

import (
	"bytes"
	"encoding/csv"
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

// getTable sends what the ports of a head come to as CSV (RFC 4180).
func (s *Server) getTable(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	c, err := s.card(r.Context(), k)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.UseCRLF = true
	_ = out.Write(tableHead) // a buffer takes all
	for _, row := range c.Rows {
		_ = out.Write(tableRow(k.V.Number, row))
	}
	if out.Flush(); out.Error() != nil {
		return out.Error()
	}
	attach(w, safeName(k.V.Number)+".csv")
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	_, _ = w.Write(b.Bytes())
	return nil
}

// tableRow is a port's line. Figures of before some work stand in the note: a
// spreadsheet can't strike them through, and would take them for today's.
func tableRow(number string, r cardRow) []string {
	p := r.card
	var leak, low, high, againLow, againHigh string
	var notes []string
	note := func(s string) {
		if s != "" {
			notes = append(notes, s)
		}
	}
	if p.Standing != head.Lapsed {
		leak, low, high = ends(p.Leak, p.UpperOnly)
		_, againLow, againHigh = ends(p.Again, p.UpperOnly)
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
	return []string{
		harmless(number), harmless(r.Name), harmless(r.Word), leak, low, high, againLow, againHigh, flowCell(p.OneLimit), flowCell(p.AllLimit),
		chanceCell(p.OverOne), chanceCell(p.OverAll), strconv.Itoa(r.Tests), sign, harmless(strings.Join(notes, "; ")),
	}
}

// ends are the middle and the ends of an estimate [m³/s] in cm³/min; of an upper
// bound only the high end means something.
func ends(e *head.Estimate, upper bool) (median, low, high string) {
	switch {
	case e == nil:
		return "", "", ""
	case upper:
		return "", "", flowCell(e.High)
	}
	return flowCell(e.Median), flowCell(e.Low), flowCell(e.High)
}

func flowCell(q float64) string {
	if q <= 0 {
		return ""
	}
	return plain(q * 6e7)
}

func chanceCell(p *float64) string {
	if p == nil {
		return ""
	}
	return plain(*p)
}

// plain writes a figure for a program: three digits that count, a point, no
// exponent. 0.00123456 is 0.00123, 123456 is 123000.
func plain(x float64) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return "0"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 2, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
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

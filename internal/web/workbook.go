package web

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/xuri/excelize/v2"

	"seatproof/head"
	"seatproof/leak"
)

// testsHead names the columns of the second sheet of a workbook: every test of the
// head that is not in the bin, oldest first. A leak is that of the test alone.
var testsHead = []string{
	"head", "port", "when", "by", "how", "counts for the port", "leak (cm3/min)", "this trace low (cm3/min)", "this trace high (cm3/min)",
	"tested again low (cm3/min)", "tested again high (cm3/min)", "state", "why not", "warnings", "source", "note", "program",
}

// testRows are the lines of all tests of a head.
func (s *Server) testRows(ctx context.Context, k kept[head.Job], c card) ([][]any, error) {
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: k.ID})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(tests, func(a, b kept[test]) int { return cmp.Compare(a.V.At, b.V.At) })
	b, err := s.bench(ctx, k.V)
	if err != nil {
		return nil, err
	}
	read, err := s.readAll(ctx, b, tests) // kept since the card was made
	if err != nil {
		return nil, err
	}
	var rows [][]any
	for i, t := range tests {
		o, v := read[i], t.V
		shown := showReading(o, b.style, s.Version)
		counts, why := "yes", ""
		for _, r := range c.Rows {
			if w, aside := r.Aside[t.ID]; aside {
				counts = "no: " + w
			}
		}
		var leak, again []any = make([]any, 3), make([]any, 3)
		if o.Answered() {
			leak, again = intervalCells(o.Reading.Leak, o.Reading.UpperLimitOnly), intervalCells(o.Reading.TestedAgain, o.Reading.UpperLimitOnly)
		}
		if m := shown.Refusal; m != nil {
			why = strings.TrimSpace(m.What + " " + m.Do)
		}
		var warnings []string
		for _, m := range shown.Warnings {
			warnings = append(warnings, strings.TrimSpace(m.What+" "+m.Do))
		}
		rows = append(rows, []any{
			k.V.Number, b.job.PortName(v.PortID), time.UnixMilli(v.At).In(s.Now().Location()), v.By, how(v.Conditions, b.job.MaskWords(v.PortID, v.Conditions.Masked)), counts, leak[0], leak[1], leak[2],
			again[1], again[2], shown.Word, why, strings.Join(warnings, " "), wordOf(sourceWords, v.Source), v.Note, shown.Version,
		})
	}
	return rows, nil
}

func intervalCells(i *leak.Interval, upper bool) []any {
	if i == nil {
		return make([]any, 3)
	}
	return ends(&head.Estimate{Median: i.Median, Low: i.Low, High: i.High}, upper)
}

// widths of the columns of a workbook, in letters.
func widthOf(name string) float64 {
	switch name {
	case "note", "why not", "warnings", "how":
		return 48
	case "port", "when", "counts for the port":
		return 20
	}
	return 13
}

// WriteXLSX writes a workbook: the ports on the first sheet, every test on the
// second. Figures are numbers and texts are texts, never formulas; the row of
// heads stays in sight.
func (t Table) WriteXLSX(w io.Writer) (err error) {
	f := excelize.NewFile()
	defer func() {
		if cerr := f.Close(); err == nil {
			err = cerr
		}
	}()
	if err := f.SetDocProps(&excelize.DocProperties{Creator: "seatproof", Title: printable(t.Number)}); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	if err := f.SetSheetName("Sheet1", "Ports"); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	if _, err := f.NewSheet("Tests"); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	if err := fillSheet(f, "Ports", tableHead, t.ports); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	if err := fillSheet(f, "Tests", testsHead, t.tests); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	if err := f.Write(w); err != nil {
		return fmt.Errorf("write workbook: %w", err)
	}
	return nil
}

func fillSheet(f *excelize.File, sheet string, heads []string, rows [][]any) error {
	top, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	form := "yyyy-mm-dd hh:mm"
	moments, err := f.NewStyle(&excelize.Style{CustomNumFmt: &form})
	if err != nil {
		return err
	}
	out, err := f.NewStreamWriter(sheet)
	if err != nil {
		return err
	}
	for i, name := range heads {
		if err := out.SetColWidth(i+1, i+1, widthOf(name)); err != nil {
			return err
		}
	}
	if err := out.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	line := make([]any, len(heads))
	for i, name := range heads {
		line[i] = excelize.Cell{StyleID: top, Value: name}
	}
	if err := out.SetRow("A1", line); err != nil {
		return err
	}
	for i, row := range rows {
		line := make([]any, len(row))
		for k, v := range row {
			switch v := v.(type) {
			case string:
				line[k] = printable(v)
			case time.Time:
				line[k] = excelize.Cell{StyleID: moments, Value: v}
			default:
				line[k] = v
			}
		}
		if err := out.SetRow(fmt.Sprintf("A%d", i+2), line); err != nil {
			return err
		}
	}
	return out.Flush()
}

// printable leaves out what XML can't hold (control characters and the like) and
// keeps a text within a cell's 32,767 letters.
// Source: the limit of a cell, from memory.
func printable(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || r == 0xFFFE || r == 0xFFFF {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if r := []rune(s); len(r) > 32_000 {
		s = string(r[:32_000])
	}
	return s
}

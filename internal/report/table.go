package report

import (
	"bufio"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"seatproof/leak"
)

// WriteTable writes several outcomes as a table, worst first, then those
// without an answer and why, then what was noted about single ports.
func WriteTable(w io.Writer, all []*Outcome, s Style) error {
	b := bufio.NewWriter(w)
	answered, unanswered := WorstFirst(all)
	if len(answered) > 0 {
		writeRows(b, answered, s)
	}
	if words := caption(answered); words != "" {
		fmt.Fprintln(b, wrap(words, ""))
	}
	if t := limitsTable(append(slices.Clone(answered), unanswered...), s); len(t.Rows) > 0 {
		t.write(b)
	}
	writeApart(b, answered)
	if len(unanswered) > 0 {
		if len(answered) > 0 {
			fmt.Fprintln(b)
		}
		for _, o := range unanswered {
			if o.State() == Unreadable { // its error is told where errors go
				fmt.Fprintf(b, "%s unreadable\n", o.label())
				continue
			}
			fmt.Fprintln(b, wrap(fmt.Sprintf("%s %s: %s", o.label(), o.State(), o.Why(s)), "  "))
		}
	}
	writeNotes(b, answered, s)
	return b.Flush()
}

// caption says what the figures of the table are.
func caption(rows []*Outcome) string {
	leaks, judged, one := false, false, false
	for _, o := range rows {
		leaks = leaks || o.Reading.Leak != nil
		judged = judged || o.Verdict != ""
		one = one || o.Limit != nil && (o.Limit.Workmanship || o.Judged != nil)
	}
	var words []string
	if leaks {
		words = append(words, "Leaks are free air at 50 kPa vacuum.")
	}
	if one {
		words = append(words, "Limits are those of one valve.")
	}
	if judged {
		words = append(words, "Verdicts go by this port, tested again.")
	}
	return strings.Join(words, " ")
}

// label names an outcome in running words: port and file.
func (o *Outcome) label() string {
	if o.Port == "" {
		return o.File
	}
	return o.Port + " (" + o.File + ")"
}

// namedByFile says whether the file is named as its port is, so that a table
// need not give both: cylinder-1-intake.csv.
func (o *Outcome) namedByFile() bool {
	base := path.Base(strings.ReplaceAll(o.FirstFile(), `\`, "/"))
	base = strings.TrimSuffix(base, path.Ext(base))
	plain := strings.NewReplacer("-", " ", "_", " ")
	return strings.EqualFold(plain.Replace(base), plain.Replace(o.Port))
}

type column struct {
	head  [2]string // two lines
	right bool
	cell  func(*Outcome) string
}

func writeRows(b *bufio.Writer, rows []*Outcome, s Style) {
	judged, limited, named, several := false, false, false, false
	for _, o := range rows {
		judged = judged || o.Verdict != ""
		limited = limited || o.Limit != nil
		several = several || o.Tests() > 1
		named = named || o.Port != "" && !o.namedByFile()
	}
	columns := []column{{[2]string{"", "port"}, false, (*Outcome).Name}}
	if judged {
		columns = append(columns, column{[2]string{"", "verdict"}, false, (*Outcome).verdictCell})
	}
	narrow := [2]string{"", "this trace"}
	if several {
		columns = append(columns, column{[2]string{"", "tests"}, true, func(o *Outcome) string { return strconv.Itoa(o.Tests()) }})
		narrow = [2]string{"this trace,", "these tests"}
	}
	columns = append(columns,
		column{[2]string{"leak", "cm³/min"}, true, func(o *Outcome) string { return leakCell(o, s) }},
		column{narrow, true, func(o *Outcome) string { return traceCell(o, s) }},
		column{[2]string{"this port,", "tested again"}, true, func(o *Outcome) string { return againCell(o, s) }},
	)
	if limited {
		columns = append(columns,
			column{[2]string{"", "limit"}, true, func(o *Outcome) string {
				if o.Limit == nil {
					return "–"
				}
				return s.flow(o.Limit.Flow)
			}},
			column{[2]string{"chance of", "being over"}, true, func(o *Outcome) string {
				if o.Over == nil {
					return "–"
				}
				return Chance(*o.Over)
			}})
	}
	over, same := lostOver(rows)
	head := [2]string{"", "lost"}
	if same {
		head = [2]string{"lost in", seconds(over)}
	}
	columns = append(columns, column{head, true, func(o *Outcome) string {
		switch l := o.Reading.Lost; {
		case l == nil:
			return "–"
		case same:
			return s.lost(l.Vacuum)
		default:
			return s.lost(l.Vacuum) + " in " + seconds(l.Over)
		}
	}})
	if named {
		columns = append(columns, column{[2]string{"", "file"}, false, func(o *Outcome) string { return o.baseNames() }})
	}
	grid := make([][]string, 0, len(rows)+2)
	for line := range 2 {
		cells := make([]string, len(columns))
		for i, c := range columns {
			cells[i] = c.head[line]
		}
		grid = append(grid, cells)
	}
	for _, o := range rows {
		cells := make([]string, len(columns))
		for i, c := range columns {
			cells[i] = c.cell(o)
		}
		grid = append(grid, cells)
	}
	right := make([]bool, len(columns))
	for i, c := range columns {
		right[i] = c.right
	}
	writeGrid(b, grid, right, "")
}

// writeGrid writes cells in columns, some of them flush right.
func writeGrid(b *bufio.Writer, grid [][]string, right []bool, indent string) {
	width := make([]int, len(right))
	for _, cells := range grid {
		for i, c := range cells {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, cells := range grid {
		var line strings.Builder
		line.WriteString(indent)
		for i, c := range cells {
			if i > 0 {
				line.WriteString("  ")
			}
			if right[i] {
				line.WriteString(padLeft(c, width[i]))
			} else {
				line.WriteString(pad(c, width[i]))
			}
		}
		fmt.Fprintln(b, strings.TrimRight(line.String(), " "))
	}
}

// lostOver returns the time that every loss is given over, and whether it is
// the same for all.
func lostOver(rows []*Outcome) (over float64, same bool) {
	for _, o := range rows {
		l := o.Reading.Lost
		switch {
		case l == nil:
		case over == 0:
			over = l.Over
		case l.Over != over:
			return 0, false
		}
	}
	return over, over > 0
}

// baseNames returns the names of the outcome's files without their folders.
func (o *Outcome) baseNames() string {
	if len(o.Each) == 0 {
		return path.Base(o.File)
	}
	var names []string
	for _, e := range o.Each {
		names = append(names, path.Base(e.File))
	}
	return strings.Join(names, ", ")
}

// verdictCell is the state, and that a port must be tested again though it holds.
func (o *Outcome) verdictCell() string {
	if o.retest() {
		return string(o.State()) + ", retest"
	}
	return string(o.State())
}

// traceCell is the narrower interval.
func traceCell(o *Outcome, s Style) string {
	if o.Reading.Leak == nil || o.Reading.UpperLimitOnly {
		return "–"
	}
	return s.between(*o.Reading.Leak, cm3min)
}

func leakCell(o *Outcome, s Style) string {
	switch {
	case o.Reading.Leak == nil:
		return "–"
	case o.Reading.UpperLimitOnly:
		return "less than " + s.flow(o.Reading.Leak.High)
	default:
		return s.flow(o.Reading.Leak.Median)
	}
}

func againCell(o *Outcome, s Style) string {
	switch {
	case o.Reading.TestedAgain == nil:
		return "–"
	case o.Reading.UpperLimitOnly:
		return "less than " + s.flow(o.Reading.TestedAgain.High)
	default:
		return s.between(*o.Reading.TestedAgain, cm3min)
	}
}

// writeNotes writes next steps and warnings below the table. What is true of
// every port is said once.
func writeNotes(b *bufio.Writer, rows []*Outcome, s Style) {
	var next, notes []string
	said := map[string]bool{}
	for _, o := range rows {
		if n := o.Next(); n.Step != "" {
			line := o.Name() + " " + string(o.State())
			if o.retest() {
				line += ", but test it again"
			}
			next = append(next, wrap(line+": "+lower(n.words(said)), "  ")) // a reason once; the next port needs the step only
		}
	}
	for _, n := range sharedNotes(rows, func(o *Outcome, w leak.Warning) string { return o.noteOf(s, w) }, s) {
		where := "Note, " + strings.Join(n.ports, ", ") + ": "
		if len(n.ports) == len(rows) {
			where = "Note: "
		}
		notes = append(notes, wrap(where+n.words, "  "))
	}
	for _, group := range [][]string{next, notes} {
		if len(group) > 0 {
			fmt.Fprintf(b, "\n%s\n", strings.Join(group, "\n"))
		}
	}
}

// note is a warning or guess and the ports it is about.
type note struct {
	words string
	ports []string
}

// sharedNotes gathers warnings, as say words them, and guesses; those in the
// same words once.
func sharedNotes(rows []*Outcome, say func(*Outcome, leak.Warning) string, s Style) []note {
	var notes []note
	add := func(words, port string) {
		for i := range notes {
			if notes[i].words == words {
				notes[i].ports = append(notes[i].ports, port)
				return
			}
		}
		notes = append(notes, note{words, []string{port}})
	}
	for _, o := range rows {
		for _, w := range o.Reading.Warnings {
			add(say(o, w), o.Name())
		}
	}
	for _, o := range rows {
		for _, g := range guesses(o, s) {
			add("Guessed "+g+".", o.Name())
		}
	}
	return notes
}

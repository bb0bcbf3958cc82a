package report

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"
)

// lossBar is how wide the axis of the text chart is, and what it spans.
const (
	lossBar           = 36
	lossLow, lossHigh = 1e-4, 1.0
)

// WriteLoss writes what leaks cost an engine for a person.
func WriteLoss(w io.Writer, l *Loss, s Style) error {
	b := bufio.NewWriter(w)
	shown := s.Loss(l)
	fmt.Fprintf(b, "%s\n\n%s\n", wrap(shown.Engine, ""), wrap(shown.Line, ""))
	for i, c := range shown.Cylinders {
		if c.Name == "" && len(c.Leaks)+len(c.Untold)+len(c.Runs) == 0 {
			continue
		}
		fmt.Fprintln(b)
		if c.Name != "" {
			fmt.Fprintf(b, "%s: %s\n", upper(c.Name), c.Line)
		}
		for _, x := range append(c.Leaks, c.Untold...) {
			fmt.Fprintf(b, "  %s\n", wrap(x, "    "))
		}
		if len(c.Runs) == 0 {
			continue
		}
		head := []string{"", "without the leaks", "with them", "lost"}
		if len(l.Ask.Cylinders[i].Leaks) == 1 {
			head = []string{"", "without the leak", "with it", "lost"}
		}
		var rows [][]string
		for _, r := range c.Runs {
			words := r.Words
			if r.Guessed {
				words += ", guessed"
			}
			rows = append(rows, []string{r.Name + ", " + words})
			for _, k := range r.Rows {
				rows = append(rows, k.cells())
			}
		}
		writeRuns(b, head, rows)
		fmt.Fprintf(b, "  chance of taking more than %s of the cranking peak: %s\n", l.share(), c.Chance)
	}
	fmt.Fprintf(b, "\nThe limit: %s\n", wrap(shown.Limit, "  "))
	for _, x := range shown.Limits {
		fmt.Fprintf(b, "  %s%s (%s)\n", pad(x.Name, 20), x.Value, x.From)
	}
	fmt.Fprintf(b, "\nLost of the cranking peak against the leak: o through an opening, s if it seeps, : the limit\n")
	writeLossCurve(b, l, s)
	fmt.Fprintf(b, "\n%s\n", shown.Other)
	writeColumns(b, "  ", shown.Others.Head, shown.Others.Rows)
	list := func(title string, all []string) {
		if len(all) == 0 {
			return
		}
		fmt.Fprintf(b, "\n%s\n", title)
		for _, x := range all {
			fmt.Fprintf(b, "  - %s\n", wrap(x, "    "))
		}
	}
	list("Guessed", shown.Guessed)
	list("Bear in mind", shown.Says)
	return b.Flush()
}

// writeRuns writes a table in which a row of one cell is the name of those below.
func writeRuns(b io.Writer, head []string, rows [][]string) {
	wide := make([]int, len(head))
	for _, r := range append([][]string{head}, rows...) {
		if len(r) == 1 {
			continue
		}
		for i, c := range r {
			wide[i] = max(wide[i], len([]rune(c)))
		}
	}
	for _, r := range append([][]string{head}, rows...) {
		line := "  "
		if len(r) == 1 {
			line += r[0]
		} else {
			for i, c := range r {
				line += pad(c, wide[i]+2)
			}
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
}

// writeLossCurve draws the curve in text: a line for each round leak rate, what is
// lost from left to right on a scale of decades.
func writeLossCurve(b io.Writer, l *Loss, s Style) {
	at01 := func(x float64) int {
		f := math.Log(x/lossLow) / math.Log(lossHigh/lossLow)
		return int(math.Round(math.Max(0, math.Min(1, f)) * (lossBar - 1)))
	}
	mark := at01(l.Ask.Share)
	rows := [][]string{}
	for _, q := range l.roundFlows() {
		o, p := at(l.Curve.Flows, l.Curve.Opening, q), at(l.Curve.Flows, l.Curve.Seep, q)
		line := []rune(strings.Repeat(" ", lossBar))
		line[mark] = ':'
		a, z := at01(o.Median), at01(p.Median)
		for i := a; i <= z; i++ {
			if line[i] != ':' {
				line[i] = '-'
			}
		}
		line[z], line[a] = 's', 'o'
		rows = append(rows, []string{s.anyFlow(q, 0), string(line), s.percent(o.Median), s.percent(p.Median)})
	}
	scale := []rune(strings.Repeat(" ", lossBar))
	for _, t := range []struct {
		x    float64
		name string
	}{{0.0001, "0.01 %"}, {0.001, "0.1"}, {0.01, "1"}, {0.1, "10"}, {1, "100 %"}} {
		i := at01(t.x)
		if n := len([]rune(t.name)); i+n > lossBar {
			i = lossBar - n
		}
		copy(scale[i:], []rune(t.name))
	}
	writeColumns(b, "  ", []string{"leak", string(scale), "opening", "seep"}, rows)
}

package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// rigsListed is how many rigs a list shows where not all are asked for.
const rigsListed = 8

// WriteChoice writes a choice for a terminal.
func WriteChoice(w io.Writer, c *Chosen, s Style) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "%s\n%s\n", c.Title, wrap(c.Line, ""))
	if len(c.Questions) > 0 {
		fmt.Fprintf(b, "\nAsked about:\n")
		for _, q := range c.Questions {
			words := q.Name + ": " + q.What
			if q.Maybe != "" {
				words += " " + q.Maybe
			}
			if q.Out {
				words += " It is left out until that is mended."
			}
			fmt.Fprintf(b, "  ? %s\n", wrap(words, "    "))
		}
	}
	if c.Pick == nil {
		fmt.Fprintf(b, "\nThere is no rig to weigh: mend what is asked about.\n")
		return b.Flush()
	}
	one := func(title string, r *RigShown) {
		price := ""
		if r.Price != "" {
			price = " (" + r.Price + ")"
		}
		fmt.Fprintf(b, "\n%s\n", wrap(title+": "+r.Name+price, "  "))
		for _, x := range r.Reasons {
			fmt.Fprintf(b, "  - %s\n", wrap(x, "    "))
		}
		if r.Swap != "" {
			fmt.Fprintf(b, "  > %s\n", wrap(r.Swap, "    "))
		}
	}
	one("Take", c.Pick)
	if c.Yours != nil {
		one(fmt.Sprintf("Of parts that are there, rank %d", c.Yours.Rank), c.Yours)
	}
	if c.Cheapest != nil {
		one(fmt.Sprintf("Least money for the same, rank %d", c.Cheapest.Rank), c.Cheapest)
	}
	for _, p := range c.Pick.Ports {
		fmt.Fprintf(b, "\n%s, with what to take\n", strings.ToUpper(p.Name[:1])+p.Name[1:])
		for _, f := range p.Facts {
			fmt.Fprintf(b, "  %s%s\n", pad(f[0], 16), wrap(f[1], strings.Repeat(" ", 18)))
		}
		writeColumns(b, "  ", p.Head, p.Rows)
	}
	shown := c.Rigs
	if !s.Full && len(shown) > rigsListed {
		shown = shown[:rigsListed]
	}
	fmt.Fprintf(b, "\nBest first")
	if n := len(c.Rigs) - len(shown); n > 0 {
		fmt.Fprintf(b, ", %d more with --full", n)
	}
	fmt.Fprintln(b)
	head := []string{"", "pump", "gauge", "hose", "", "least, 15 s", "steady reading tells", "down in"}
	var rows [][]string
	for _, r := range shown {
		rows = append(rows, []string{fmt.Sprint(r.Rank), r.Pump, r.Gauge, r.Hose, r.Word, r.Least, r.Steady, r.PullDown})
	}
	writeColumns(b, "  ", head, rows)
	fmt.Fprintf(b, "\nParts\n")
	for _, x := range c.List {
		words := x.Words
		if x.Price != "" {
			words += " (" + x.Price + ")"
		}
		fmt.Fprintf(b, "  %s%s\n", pad(x.What, 18), wrap(words, strings.Repeat(" ", 20)))
	}
	list := func(title string, all []string) {
		fmt.Fprintf(b, "\n%s\n", title)
		for _, x := range all {
			fmt.Fprintf(b, "  - %s\n", wrap(x, "    "))
		}
	}
	list("In this order", c.Plumbing)
	list("Altitude", c.Altitude)
	writeElsewhere(b, shown)
	list("Before the first port", c.Checks)
	list("Cautions", c.Cautions)
	if len(c.Guessed) > 0 {
		list("Guessed", c.Guessed)
	}
	return b.Flush()
}

// writeElsewhere writes what altitude does to each rig that is listed.
func writeElsewhere(b io.Writer, rigs []RigLine) {
	where := ""
	var rows [][]string
	for _, r := range rigs {
		a := r.Altitude
		if a == nil {
			rows = append(rows, []string{fmt.Sprint(r.Rank), "–", "–", "–", "–", "–", "can't be weighed there"})
			continue
		}
		where = a.Where
		rows = append(rows, []string{fmt.Sprint(r.Rank), a.Here, a.Blanked, r.Needle, a.Needle, a.Steady, a.Word})
	}
	if where != "" {
		fmt.Fprintf(b, "\nEach rig here, and there: %s\n", where)
		writeColumns(b, "  ", []string{"", "pulls to, here", "there", "limit drops, here", "there", "steady reading tells, there", "there"}, rows)
	}
}

// writeColumns writes a table in columns as wide as they need be.
func writeColumns(b io.Writer, indent string, head []string, rows [][]string) {
	wide := make([]int, len(head))
	for _, r := range append([][]string{head}, rows...) {
		for i, c := range r {
			wide[i] = max(wide[i], len([]rune(c)))
		}
	}
	for _, r := range append([][]string{head}, rows...) {
		line := indent
		for i, c := range r {
			line += pad(c, wide[i]+2)
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
}

package report

import (
	"bufio"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"seatproof/limit"
)

// reason says in a sentence what the verdict of a port stands on, where both limits
// count; "" elsewhere.
func (o *Outcome) reason(s Style) string {
	if o.Judged == nil || o.Verdict == "" || o.Over == nil {
		return ""
	}
	l := s.Limits(*o.Judged)
	one, all := "the limit of one valve", l.Both+" together"
	if l.All == "" {
		one, all = "the limit", "the limit"
	}
	over := l.OverAll
	if over == "" {
		over = l.OverOne
	}
	switch o.Verdict {
	case limit.Holds:
		if limit.Judge(*o.Over, false) != limit.Holds {
			return "Tests with valves masked clear every one of them."
		}
		return "Within " + one + ", " + l.One + " cm³/min; chance of being over it " + l.OverOne + "."
	case limit.Leaks:
		if o.Judged.Verdict != limit.Leaks {
			return "Tests with valves masked say so: " + lower(o.blamed()) + "."
		}
		if l.All == "" {
			return "Over the limit, " + l.One + " cm³/min: chance " + over + "."
		}
		return "Over what " + all + " may pass, " + l.All + " cm³/min: chance " + over + "."
	}
	words := "Chance of being over " + one + ", " + l.One + " cm³/min: " + l.OverOne
	if l.All != "" {
		words += "; over " + l.All + ", " + all + ": " + over
	}
	return words + "."
}

// blamed is what tests with valves masked tell.
func (o *Outcome) blamed() string {
	if o.Apart == nil {
		return ""
	}
	return o.Apart.Title
}

// limitOfKind is what a rule allows; nil: it has no figure.
func (o *Outcome) limitOfKind(k limit.Kind, s Style) (one, all string) {
	one, all = "–", "–"
	for i := range o.Judged.Limits {
		if x := &o.Judged.Limits[i]; x.Kind == k && x.One > 0 {
			one, all = s.flow(x.One), s.flow(x.All)
		}
	}
	return one, all
}

// limitsTable puts the limits of ports side by side, with which decides and the
// chances of being over them. Without rows where one limit alone counts.
func limitsTable(all []*Outcome, s Style) sideTable {
	t := sideTable{Title: "Both limits, cm³/min"}
	var rows []*Outcome
	both := "" // what the sum of the valves is called, where a port has several
	for _, o := range all {
		if o.Judged == nil || o.Limit == nil {
			continue
		}
		rows = append(rows, o)
		switch l := s.Limits(*o.Judged); {
		case l.Both == "":
		case both == "":
			both = l.Both
		case both != l.Both:
			both = "all valves"
		}
	}
	if len(rows) == 0 {
		return t
	}
	t.column("", "", "")
	t.column("", "decides", "decides")
	t.Words = []int{1}
	var kinds []limit.Kind // in the order in which rules are shown
	for _, k := range limit.Kinds {
		if !slices.ContainsFunc(rows, func(o *Outcome) bool { one, _ := o.limitOfKind(k, s); return one != "–" }) {
			continue
		}
		kinds = append(kinds, k)
		t.column(k.Words()+",", "one valve", k.Words()+", one valve")
		if both != "" {
			t.column("", both, k.Words()+", "+both)
		}
	}
	t.column("chance of being", "over one valve’s", "chance of being over one valve’s")
	if both != "" {
		t.column("", "over "+both+"’", "over "+both+"’")
	}
	for _, o := range rows {
		cells := []string{o.Name(), o.Limit.By}
		for _, k := range kinds {
			one, all := o.limitOfKind(k, s)
			if cells = append(cells, one); both != "" {
				cells = append(cells, all)
			}
		}
		l := s.Limits(*o.Judged)
		for _, x := range []string{l.OverOne, l.OverAll}[:len(t.Head)-len(cells)] {
			cells = append(cells, cmp.Or(x, "–"))
		}
		t.Rows = append(t.Rows, cells)
	}
	t.Below = limitsCaption(rows, s)
	return t
}

// limitsCaption says once how limits decide, and how the leaks were taken.
func limitsCaption(rows []*Outcome, s Style) []string {
	words := []string{"The stricter limit decides. A port holds within one valve’s limit, leaks over that of all its valves; between, nobody can tell."}
	var taken []string
	for _, o := range rows {
		if t := s.Limits(*o.Judged).Taken; o.Answered() && !slices.Contains(taken, t) {
			taken = append(taken, t)
		}
	}
	if len(taken) == 1 {
		return append(words, taken[0])
	}
	return append(words, "A leak is taken as a seep, the costlier, where its tests don’t tell how it flows.")
}

// limitRows are the rows under the verdict of one port: each limit, the chances, and
// how the leak was taken.
func (o *Outcome) limitRows(s Style) [][2]string {
	if o.Judged == nil || o.Limit == nil {
		return nil
	}
	l := s.Limits(*o.Judged)
	var rows [][2]string
	for i, r := range l.Rows {
		name := ""
		if i == 0 {
			name = "limits"
		}
		words := r.Words
		if r.One != "" {
			words += "; " + r.One + " cm³/min"
			if l.All != "" {
				words += " of one valve, " + r.All + " of " + strings.TrimSuffix(l.Both, " valves")
			}
		}
		rows = append(rows, [2]string{name, words})
	}
	if l.OverAll != "" {
		rows = append(rows, [2]string{"chance", "of being over one valve’s " + l.OverOne + ", over " + l.Both + "’ " + l.OverAll})
	}
	return append(rows, [2]string{"how taken", lower(strings.TrimSuffix(l.Taken, "."))})
}

// writeApart writes which opening of a port leaks, by tests with valves masked.
func writeApart(b *bufio.Writer, rows []*Outcome) {
	for _, o := range rows {
		if o.Apart == nil {
			continue
		}
		fmt.Fprintf(b, "\n%s\n", wrap(o.Name()+": "+lower(o.Apart.Title)+". "+o.Apart.Tests, "  "))
		var grid [][]string
		for _, x := range o.Apart.Openings {
			grid = append(grid, []string{lower(x.Name), x.Word, x.leak(), "cm³/min; " + x.Says})
		}
		writeGrid(b, grid, make([]bool, 4), "  ")
		if o.Apart.Clash != "" {
			fmt.Fprintln(b, "  "+wrap(o.Apart.Clash, "  "))
		}
	}
}

// leak is an opening's leak with its interval: "91 (59 to 130)".
func (x *Opening) leak() string {
	if x.Interval == "" {
		return x.Leak
	}
	return x.Leak + " (" + x.Interval + ")"
}

// shortLimits are the limits of a port in a row each, for its part of the page: the
// table beside has the words.
func (o *Outcome) shortLimits(s Style) [][2]string {
	if o.Judged == nil || o.Limit == nil {
		return nil
	}
	l := s.Limits(*o.Judged)
	var rows [][2]string
	for _, r := range l.Rows {
		if r.One == "" {
			continue
		}
		words := r.One + " cm³/min"
		if l.All != "" {
			words = r.One + " of one valve, " + r.All + " of " + strings.TrimSuffix(l.Both, " valves")
		}
		if r.Decides {
			words += ": decides"
		}
		rows = append(rows, [2]string{r.Kind.Words(), words})
	}
	return rows
}

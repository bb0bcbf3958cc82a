package report

import (
	"bufio"
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
		return "Within " + one + ", " + l.One + ": chance of being over " + l.OverOne + "."
	case limit.Leaks:
		if o.Judged.Verdict != limit.Leaks {
			return "Tests with valves masked say so: " + lower(o.blamed()) + "."
		}
		if l.All == "" {
			return "Over the limit, " + l.One + ": chance of being over " + over + "."
		}
		return "Over what " + all + " may pass, " + l.All + ": chance of being over " + over + "."
	}
	words := "Between: chance of being over " + one + ", " + l.One + ", " + l.OverOne
	if l.All != "" {
		words += "; over " + all + ", " + l.All + ", " + over
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

// bothLimits says whether both limits of some of the outcomes are known, and whether
// some port has several valves.
func bothLimits(all []*Outcome) (both, several bool) {
	for _, o := range all {
		if o.Judged != nil && len(o.Judged.Limits) > 0 {
			both = true
			several = several || o.Judged.AllLimit > 1.01*o.Judged.OneLimit
		}
	}
	return both, several
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

// writeLimits writes the limits of ports side by side, which decides, and the chances
// of being over them.
func writeLimits(b *bufio.Writer, rows []*Outcome, s Style) {
	rows = slices.DeleteFunc(slices.Clone(rows), func(o *Outcome) bool { return o.Judged == nil || o.Limit == nil })
	both, several := bothLimits(rows)
	if !both {
		return
	}
	var kinds []limit.Kind // in the order in which rules are shown
	for _, k := range limit.Kinds {
		if slices.ContainsFunc(rows, func(o *Outcome) bool { one, _ := o.limitOfKind(k, s); return one != "–" }) {
			kinds = append(kinds, k)
		}
	}
	top, head := []string{"limits, cm³/min", ""}, []string{"", "decides"}
	right := []bool{false, false}
	add := func(a, b string) { top, head, right = append(top, a), append(head, b), append(right, true) }
	for _, k := range kinds {
		add(k.Words()+",", "one valve")
		if several {
			add("", "all its")
		}
	}
	add("chance of being", "over one valve’s")
	if several {
		add("", "over all its")
	}
	grid := [][]string{top, head}
	for _, o := range rows {
		cells := []string{o.Name(), o.Limit.By}
		for _, k := range kinds {
			one, all := o.limitOfKind(k, s)
			cells = append(cells, one)
			if several {
				cells = append(cells, all)
			}
		}
		l := s.Limits(*o.Judged)
		for _, x := range []string{l.OverOne, l.OverAll}[:len(right)-len(cells)] {
			if x == "" {
				x = "–"
			}
			cells = append(cells, x)
		}
		grid = append(grid, cells)
	}
	fmt.Fprintln(b)
	writeGrid(b, grid, right, "")
	fmt.Fprintln(b, wrap(limitsCaption(rows, s), ""))
}

// limitsCaption says once how limits decide, and how the leaks were taken.
func limitsCaption(rows []*Outcome, s Style) string {
	words := "The stricter limit decides. A port holds within one valve’s limit, leaks over that of all its valves; between, nobody can tell."
	var taken []string
	for _, o := range rows {
		if t := s.Limits(*o.Judged).Taken; !slices.Contains(taken, t) {
			taken = append(taken, t)
		}
	}
	if len(taken) == 1 {
		words += " " + strings.Replace(taken[0], "The leak is", "Each leak is", 1)
	} else {
		words += " A leak is taken as a seep, the costlier, where the tests don’t tell how it flows."
	}
	return words
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
		rows = append(rows, [2]string{"chance of being over", "one valve’s " + l.OverOne + ", " + l.Both + "’ " + l.OverAll})
	}
	return append(rows, [2]string{"taken as", lower(strings.TrimSuffix(l.Taken, "."))})
}

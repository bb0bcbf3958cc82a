package lines

import (
	"bytes"
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"seatproof/internal/source"
	"seatproof/trace"
	"seatproof/unit"
)

// Candidate is one way to read lines.
type Candidate struct {
	Pattern Pattern
	Unit    unit.UnitInfo // of the pressure; Name "": not known
	Reads   source.Reads  // "": not known
	Raw     string        // what the figure is in where it is no pressure yet: V, counts

	// Ask names the options that a person must say, because nothing in the
	// lines does: unit, reads, table, value.
	Ask   []string
	Words string  // "the second figure of each line, taken as kPa"
	Now   float64 // the last such figure
	Share float64 // of the lines that this reads

	score float64
	which string // the figure, in words
	clock string // its clock, in words
	table bool   // a table says what the figures are
}

// Sure says that nothing need be asked.
func (c Candidate) Sure() bool { return len(c.Ask) == 0 }

// Options returns what reads the lines so, as options of an address.
func (c Candidate) Options() map[string]string {
	o := c.Pattern.Options()
	if c.Unit.Name != "" {
		o["unit"] = c.Unit.Name
	}
	if c.Reads != "" {
		o["reads"] = string(c.Reads)
	}
	return o
}

// LearnError says why nothing could be learned.
type LearnError struct {
	What, Hint string
}

func (e *LearnError) Error() string {
	if e.Hint == "" {
		return e.What
	}
	return e.What + "; " + e.Hint
}

const (
	fewest    = 3   // lines, to learn from
	mostLines = 400 // that are looked at
	sureBy    = 2   // by so much the first must be better than the second
)

// Learn finds how lines of a device can be read: which of their figures moves
// like a vacuum and which like a clock. Candidates come best first; where more
// than one may be meant each asks for "value". The error is a *[LearnError].
//
// Names say most (vacuum_kPa, "P"), units next, how a figure moves least. A
// line of names before the others names their figures. Lines may bear the
// moments at which they came in, which tell the unit of a nameless clock.
func Learn(lines []Line) ([]Candidate, error) {
	if len(lines) > mostLines {
		// the names may stand in the first ones
		lines = append(slices.Clone(lines[:mostLines/8]), lines[len(lines)-mostLines*7/8:]...)
	}
	var text []Line
	binary := 0
	for _, l := range lines {
		if !isText([]byte(l.Text)) {
			binary++
			continue
		}
		if len(bytes.TrimSpace([]byte(l.Text))) > 0 {
			text = append(text, l)
		}
	}
	if binary > len(text) {
		return nil, &LearnError{"what comes is no text", "is the baud rate right, and does the device speak text?"}
	}
	if len(text) == 0 {
		return nil, &LearnError{What: "nothing came", Hint: "is the device on, and sending?"}
	}
	var all []Candidate
	for _, glued := range []bool{false, true} {
		if len(all) > 0 && all[0].score >= 0 {
			break
		}
		var these []Candidate
		for _, set := range marks(text) {
			set.Glued = glued
			these = append(these, candidates(text, set)...)
		}
		slices.SortStableFunc(these, func(a, b Candidate) int { return cmp.Compare(b.score, a.score) })
		if len(these) > 0 && (len(all) == 0 || these[0].score > all[0].score+sureBy) {
			all = these
		}
	}
	if len(all) > 0 {
		if len(all) > 12 {
			all = all[:12]
		}
		if len(all) > 1 && all[0].score-all[1].score < sureBy {
			for i := range all {
				if all[0].score-all[i].score < sureBy {
					all[i].Ask = append([]string{"value"}, all[i].Ask...)
				}
			}
		}
		return all, nil
	}
	if len(text) < fewest {
		return nil, &LearnError{What: fmt.Sprintf("only %d lines came", len(text)), Hint: "wait for more"}
	}
	return nil, &LearnError{What: fmt.Sprintf("no figure in lines such as %q could be a vacuum", short(text[len(text)-1].Text)), Hint: "say which it is, as in value=2,unit=kPa"}
}

// marks returns how commas between digits may be meant, as settings of a
// Pattern: between figures, before decimals, between thousands.
func marks(lines []Line) []Pattern {
	list, comma, parts := Pattern{}, Pattern{Comma: true}, Pattern{Parts: true}
	points, commas, spaced := 0, 0, 0 // digits about a point, about a comma; a comma that parts something
	zeros, shaped, threes, words := 0, 0, 0, 0
	other := 0
	for _, l := range lines {
		b := l.Text
		for i := 1; i+1 < len(b); i++ {
			if b[i] == '.' && digit(b[i-1]) && digit(b[i+1]) {
				points++
			}
			if b[i] != ',' {
				continue
			}
			if !digit(b[i-1]) || !digit(b[i+1]) {
				spaced++
				continue
			}
			commas++
			end := i + 1
			for end < len(b) && digit(b[end]) {
				end++
			}
			from := i
			for from > 0 && digit(b[from-1]) {
				from--
			}
			after := end - i - 1
			if b[i+1] == '0' && after > 1 {
				zeros++ // 78,05 and 1,013 are no lists
			}
			if after <= 3 && (end >= len(b) || b[end] != ',') {
				shaped++
			}
			if after == 3 && i-from <= 3 && b[from] != '0' {
				threes++ // as thousands are
			}
			if rest := strings.TrimLeft(b[end:], " "); rest != "" && (letter(rest[0]) || rest[0] >= 0x80) {
				words++ // a unit behind it
			}
		}
		if strings.ContainsAny(b, ";\t") {
			other++
		}
	}
	switch {
	case commas == 0:
		return []Pattern{list}
	case threes == commas && spaced == 0 && !lists(lines):
		switch {
		case points > 0 && zeros > 0:
			return []Pattern{parts}
		case points > 0:
			return []Pattern{parts, list}
		}
		return []Pattern{comma, parts, list}
	case points > 0 || spaced > 0 || shaped < commas:
		return []Pattern{list}
	case zeros > 0 || other*2 > len(lines):
		return []Pattern{comma}
	case lists(lines):
		return []Pattern{list}
	case words*10 >= commas*9:
		return []Pattern{comma}
	}
	return []Pattern{comma, list} // 12,5 by itself: one figure or two
}

// lists says whether lines of whole numbers with commas are lists: what stands
// before the first comma moves like a clock, or there are many commas.
func lists(lines []Line) bool {
	s := scanner{dec: '.', units: newUnitCache()}
	var first series
	many := 0
	for _, l := range lines {
		figs := s.scan([]byte(l.Text))
		if len(figs) > 0 && figs[0].some {
			first.add(figs[0].x)
		}
		if strings.Count(l.Text, ",") > 1 && !strings.ContainsAny(strings.TrimSpace(l.Text), " ") {
			many++
		}
	}
	return first.steady() && first.n >= fewest || many*2 > len(lines)
}

// group is the lines of one shape.
type group struct {
	key    string
	lines  []Line
	names  []string // of its figures, "" where there is none
	cols   []column
	starts string // what they all begin with, where that tells them from others
	title  string // of a sentence: the one name, in a cell before all figures
	heads  bool   // the names come from a line before
}

// column is one figure of each line of a group.
type column struct {
	series
	heading trace.Heading
	inLine  trace.Heading // of the unit behind it
	units   map[string]int
	stamp   bool
	cell    int
	missing int
}

// candidates finds the ways to read lines with these settings.
func candidates(lines []Line, set Pattern) []Candidate {
	groups, heads := grouped(lines, set)
	var all []Candidate
	for i := range groups {
		g := &groups[i]
		share := float64(len(g.lines)) / float64(len(lines)-heads)
		if len(g.lines) < fewest && share < 0.5 || share < 0.04 || set.Glued && share < 0.6 {
			continue
		}
		all = append(all, g.candidates(set, groups, share)...)
	}
	return all
}

// grouped parts lines by their shape: how many figures they have and what these
// are called.
func grouped(lines []Line, set Pattern) ([]group, int) {
	byName := byShape(lines, set, true)
	most := 0
	for i := range byName {
		most = max(most, len(byName[i].lines))
	}
	groups := byName
	if most*2 < len(lines) && len(byName) > 4 && !set.Glued {
		groups = byShape(lines, set, false) // names that change are no names
	}
	heads := 0
	var head, units []string
	s := set.scanner()
	for _, l := range lines {
		if len(s.scan([]byte(l.Text))) > 0 {
			continue
		}
		heads++
		cells := headCells(l.Text)
		if len(head) > 0 && len(cells) == len(head) && allUnits(cells, s.units) {
			units = cells
			continue
		}
		head, units = cells, nil
	}
	for i := range groups {
		groups[i].fill(set)
		groups[i].named(head, units)
	}
	return groups, heads
}

func byShape(lines []Line, set Pattern, names bool) []group {
	s := set.scanner()
	var groups []group
	index := map[string]int{}
	for _, l := range lines {
		figs := s.scan([]byte(l.Text))
		if len(figs) == 0 || len(figs) > mostFigures {
			continue
		}
		key := fmt.Sprint(len(figs))
		var called []string
		for _, f := range figs {
			if names {
				key += "|" + strings.ToLower(string(f.name))
			}
			name := string(f.name)
			if f.label != nil {
				name = string(f.label) + " " + name
			}
			called = append(called, strings.ToValidUTF8(name, "°"))
		}
		i, ok := index[key]
		if !ok {
			i = len(groups)
			if i > 300 {
				continue
			}
			index[key] = i
			groups = append(groups, group{key: key, names: called})
		}
		g := &groups[i]
		g.lines = append(g.lines, l)
		for k := range called {
			if !strings.EqualFold(g.names[k], called[k]) {
				g.names[k] = ""
			}
		}
	}
	return groups
}

// fill reads the figures of a group.
func (g *group) fill(set Pattern) {
	s := set.scanner()
	g.cols = make([]column, len(g.names))
	prefix := ""
	for i, l := range g.lines {
		figs := s.scan([]byte(l.Text))
		for k := range figs {
			f, c := &figs[k], &g.cols[k]
			c.cell = f.cell
			if !f.some {
				c.missing++
				continue
			}
			c.stamp = c.stamp || f.stamp
			c.add(f.x)
			if !l.At.IsZero() {
				c.arrived(l.At)
			}
			if f.unit != nil {
				if c.units == nil {
					c.units = map[string]int{}
				}
				c.units[string(f.unit)]++
			}
		}
		begin := strings.TrimLeft(l.Text, " \t\ufeff")
		if len(figs) > 0 && figs[0].name != nil {
			if k := strings.Index(begin, string(figs[0].name)); k >= 0 && k <= 3 {
				begin = begin[:k+len(figs[0].name)]
			}
		}
		if i == 0 {
			prefix = begin
		}
		prefix = common(prefix, begin)
		if i == 0 && len(figs) > 1 && figs[0].across && figs[0].unit == nil && !slices.ContainsFunc(figs[1:], func(f figure) bool { return f.name != nil }) {
			g.title, g.names[0] = g.names[0], ""
		}
	}
	if k := strings.IndexFunc(prefix, func(r rune) bool { return r >= '0' && r <= '9' }); k >= 0 && !letters([]byte(strings.TrimLeft(prefix[:k], "$#!>"))) {
		prefix = prefix[:k]
	}
	g.starts = strings.TrimRight(prefix, " \t-+.,;:=")
	for k := range g.cols {
		c := &g.cols[k]
		best := 0
		for u, n := range c.units {
			if n > best || n == best && u < c.inLine.Name {
				best = n
				c.inLine = s.units.heading([]byte(u))
			}
		}
		c.heading = headingOf(g.names[k])
		if g.title != "" {
			if h := headingOf(g.title); !c.inLine.HasUnit || c.inLine.Unit.Dim == unit.PressureDim {
				c.heading.Form = h.Form // a sentence called VAC holds a vacuum
			}
		}
	}
}

// numbered are names that tell channels apart by a number.
var numbered = regexp.MustCompile(`([A-Za-z])\d+($|[^A-Za-z0-9])`)

// headingOf takes the name of a figure apart.
func headingOf(name string) trace.Heading {
	return trace.ParseHeading(numbered.ReplaceAllString(strings.ReplaceAll(name, ".", " "), "$1$2"))
}

func common(a, b string) string {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return a[:n]
}

// named gives the figures the names of a line that stood before.
func (g *group) named(head, units []string) {
	cells := 0
	for _, n := range g.names {
		if n != "" {
			return
		}
	}
	for _, c := range g.cols {
		cells = max(cells, c.cell+1)
	}
	if len(head) < 2 || len(head) != len(g.cols) && len(head) < cells {
		return
	}
	for k := range g.cols {
		at := k
		if len(head) != len(g.cols) {
			at = g.cols[k].cell
		}
		name := head[at]
		if units != nil {
			name += " (" + strings.Trim(units[at], "()[] ") + ")"
		}
		g.names[k], g.cols[k].heading = name, trace.ParseHeading(name)
	}
	g.heads = true
}

// headCells parts a line of names.
func headCells(line string) []string {
	line = strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(line), "#%/ "))
	for _, sep := range []string{"\t", ";", ",", "|"} {
		if strings.Contains(line, sep) {
			cells := strings.Split(line, sep)
			for i := range cells {
				cells[i] = strings.Trim(cells[i], ` "'`)
			}
			return cells
		}
	}
	return strings.Fields(line)
}

func allUnits(cells []string, units *unitCache) bool {
	some := false
	for _, c := range cells {
		if c = strings.Trim(c, "()[] "); c == "" || c == "-" {
			continue
		}
		if !units.is([]byte(c)) {
			return false
		}
		some = true
	}
	return some
}

func short(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "..."
	}
	return s
}

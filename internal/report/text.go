package report

import (
	"bufio"
	"fmt"
	"io"
	"path"
	"strings"
	"unicode/utf8"

	"seatproof/leak"
	"seatproof/rig"
)

// sparkWidth is the width of a sparkline in a terminal, textWidth that of
// running words and detailWidth that of the names under the verdict.
const (
	sparkWidth  = 60
	textWidth   = 92
	detailWidth = 19
)

// WriteText writes one outcome in a few lines for a person.
func WriteText(w io.Writer, o *Outcome, s Style) error {
	b := bufio.NewWriter(w)
	title := o.File
	if o.Port != "" {
		title = o.Port + ", " + o.File
	}
	fmt.Fprintln(b, title)
	if line := o.Sketch.Sparkline(sparkWidth); line != "" {
		t0, t1, _, top, _ := extent(o.Sketch.All)
		fmt.Fprintf(b, "%s  to %s, %s\n", line, s.vacuum(top), seconds(t1-t0))
	}
	if !o.Answered() {
		why := o.Why(s)
		fmt.Fprintf(b, "\n%s\n", wrap(string(o.State())+": "+why.What, ""))
		if why.Do != "" {
			fmt.Fprintf(b, "%s\n", wrap("To do: "+why.Do, ""))
		}
		return b.Flush()
	}
	fmt.Fprintf(b, "\n%s\n", o.VerdictLine(s))
	if n := o.Next(); n.Step != "" {
		words := strings.TrimSpace(n.Reason + " " + n.Then)
		if o.State() == Leaks { // the verdict's line does not say the step
			words = "First " + lower(n.words(map[string]bool{}))
		}
		fmt.Fprintln(b, wrap(words, ""))
	}
	fmt.Fprintln(b)
	writeTests(b, o, s)
	for _, row := range append(o.limitRows(s), detail(o, s)...) {
		fmt.Fprintf(b, "  %s%s\n", pad(row[0], detailWidth), wrap(row[1], strings.Repeat(" ", detailWidth+2)))
	}
	for _, g := range guesses(o, s) {
		fmt.Fprintf(b, "  %s%s\n", pad("guessed", detailWidth), g)
	}
	if o.Worth != "" {
		fmt.Fprintf(b, "  %s%s\n", pad("check", detailWidth), o.Worth)
	}
	for _, warn := range o.Reading.Warnings {
		fmt.Fprintf(b, "\n%s\n", wrap("Note: "+o.noteOf(s, warn), ""))
	}
	return b.Flush()
}

// warnIn returns the words of a warning, with what the file's own faults add.
func warnIn(o *Outcome, s Style, w leak.Warning) Message {
	m := WarningMessage(s, w)
	if w.Code == leak.RowsDropped && o.Faults.DroppedWhy != "" {
		m.What = strings.TrimSuffix(m.What, ".") + ": " + o.Faults.DroppedWhy + "."
	}
	return m
}

// detail returns the rows under the verdict: name and figure.
func detail(o *Outcome, s Style) [][2]string {
	r := o.Reading
	var rows [][2]string
	add := func(name, words string) { rows = append(rows, [2]string{name, words}) }
	several := o.Tests() > 1
	if r.Lost != nil && !several { // of several each test's own is told
		add("lost", s.lost(r.Lost.Vacuum)+" in "+seconds(r.Lost.Over))
	}
	if r.Deepest != nil {
		add("at "+s.vacuum(r.Deepest.Vacuum), s.flow(r.Deepest.Flow.Median)+" cm³/min, "+s.between(r.Deepest.Flow, cm3min)+"; the deepest vacuum seen")
	}
	if r.Leak != nil {
		add("stated at", "50 kPa vacuum, as free air; valves held by "+HeldWords(o.Held))
	}
	if k := flowWords(o, s); k != "" {
		add("way of flowing", k)
	}
	if r.NozzleDiameter != nil {
		d, words := r.NozzleDiameter.Median, "a nozzle of "
		if r.UpperLimitOnly {
			d, words = r.NozzleDiameter.High, "less than a nozzle of "
		}
		add("as large as", words+Figure(d*1e3, s.digits())+" mm, effective")
	}
	if r.Gap != nil {
		words := Figure(r.Gap.Median*1e6, s.digits()) + " µm, " + s.between(*r.Gap, 1e6)
		if r.UpperLimitOnly {
			words = "less than " + Figure(r.Gap.High*1e6, s.digits()) + " µm"
		}
		add("mean gap", words+"; cube mean round the seat")
	}
	if r.Steady != nil {
		add("steady reading", steadyWords(r, s))
	}
	if r.Blanked != nil {
		add("blanked reading", s.vacuum(r.Blanked.Median))
	}
	if r.FallRate != nil && (s.Full || r.Leak == nil) {
		add("rate of fall", s.perSecond(*r.FallRate)+", ranks like ports")
	}
	if words := budgetWords(r, s); words != "" {
		name := "doubt, this trace"
		if several {
			name = "doubt, middle one"
		}
		add(name, words)
	}
	if several && r.Leak != nil {
		add("between tests", betweenWords(r.Between()))
	}
	if s.Full {
		if words := o.oneMore(); words != "" {
			add("worth of a test", words)
		}
		if !several && r.Leak != nil {
			add("between tests", betweenWords(r.Between())+"; what is expected until the port is tested again")
		}
		if r.Edge != nil {
			add("edge", Figure(r.Edge.Median, 4)+", "+s.between(*r.Edge, 1)+"; 0 is rounded, 1 sharp")
		}
		if r.Zero != nil {
			add("gauge at zero", s.vacuum(r.Zero.Median))
		}
		var phases []string
		for _, p := range r.Phases {
			phases = append(phases, fmt.Sprintf("%s %.1f to %.1f s", p.Name, p.From, p.To))
		}
		if len(phases) > 0 {
			add("phases", strings.Join(phases, ", "))
		}
	}
	return rows
}

// flowWords says how the leak flows, as far as what held the valves lets it be
// told: with their own springs kind and share, under a thumb or a light spring
// the share, under the vacuum alone neither.
func flowWords(o *Outcome, s Style) string {
	r := o.Reading
	words := KindWords(r.Kind)
	loose := o.Held == rig.HeldThumb || o.Held == rig.HeldLightSpring
	switch {
	case words == "":
		return ""
	case o.Held == rig.HeldNothing:
		return "not told: the vacuum alone held the valves"
	case r.Share == nil:
		return words
	case r.Kind == leak.KindUnresolved && loose:
		return "opening's share " + s.shares(*r.Share) + "; no kind is named under " + HeldWords(o.Held)
	case s.Full || r.Kind != leak.KindUnresolved:
		words += ", opening's share " + s.shares(*r.Share)
	}
	return words
}

// betweenWords says how much tests of the port differ.
func betweenWords(i leak.Interval) string {
	per := func(x float64) string { return Figure(100*x, 2) }
	return "tests differ by about " + per(i.Median) + " %, " + per(i.Low) + " to " + per(i.High) + " %"
}

// writeTests writes a line for each test of a port read together.
func writeTests(b *bufio.Writer, o *Outcome, s Style) {
	if len(o.Each) < 2 {
		return
	}
	rows := [][]string{{"test", "cm³/min", "this trace", "lost"}}
	for _, e := range o.Each {
		if !e.Answered() {
			rows = append(rows, []string{path.Base(e.File), string(e.State()), "–", "–"})
			continue
		}
		row := []string{path.Base(e.File), leakCell(e, s), traceCell(e, s), "–"}
		if l := e.Reading.Lost; l != nil {
			row[3] = s.lost(l.Vacuum) + " in " + seconds(l.Over)
		}
		rows = append(rows, row)
	}
	writeGrid(b, rows, []bool{false, true, true, true}, "  ")
	fmt.Fprintln(b)
}

// eachWords gives what each of several tests said by itself, in the order given.
func (o *Outcome) eachWords(s Style) string {
	if len(o.Each) < 2 {
		return ""
	}
	var figures []string
	none := 0
	for _, e := range o.Each {
		if e.Answered() && e.Reading.Leak != nil {
			figures = append(figures, leakCell(e, s))
		} else {
			none++
		}
	}
	var words []string
	if len(figures) > 0 {
		words = append(words, strings.Join(figures, ", ")+" cm³/min")
	}
	if none > 0 {
		words = append(words, count(none, "test")+" without a figure")
	}
	return strings.Join(words, "; ")
}

func steadyWords(r *leak.Reading, s Style) string {
	words := s.vacuum(r.Steady.Vacuum.Median)
	if r.Steady.Flow != nil {
		words += ", by the pump's curve " + s.flow(r.Steady.Flow.Median) + " cm³/min there, " + s.between(*r.Steady.Flow, cm3min)
	}
	return words
}

// budgetWords names what most of the doubt comes from: the inputs that make up
// nine tenths of it, three at most, or all of them.
func budgetWords(r *leak.Reading, s Style) string {
	var parts []string
	sum := 0.0
	for _, b := range r.Budget {
		if b.Share < 0.001 || !s.Full && (len(parts) == 3 || sum > 0.9 || b.Share < 0.01) {
			break
		}
		parts = append(parts, fmt.Sprintf("%s %s", b.Input, Chance(b.Share)))
		sum += b.Share
	}
	return strings.Join(parts, ", ")
}

// guesses says what was guessed and by how much that widened the interval.
func guesses(o *Outcome, s Style) []string {
	var out []string
	for _, g := range o.Reading.Guessed {
		if g.Widened > 0 && g.Widened < 1.15 && !s.Full {
			continue // 1.0 and 1.1 times as wide say nothing
		}
		words := g.Input
		if g.Guess.Known && g.Dim != 0 {
			words += " " + s.quantity(g.Guess, g.Dim)
		}
		if g.Widened >= 1.005 {
			words += ": interval " + Figure(g.Widened, max(2, s.digits()-1)) + " times as wide for it"
		} else if g.Widened > 0 {
			words += ": interval no wider for it"
		}
		out = append(out, words)
	}
	return out
}

// heldOf returns what held the valves, as the sheet says it once.
func heldOf(all []*Outcome) (held rig.Held, same bool) {
	for i, o := range all {
		if i > 0 && o.Held != held {
			return "", false
		}
		held = o.Held
	}
	return held, true
}

// pad fills s up with blanks on the right to so many characters.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s)))
}

// padLeft fills s up with blanks on the left.
func padLeft(s string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s))) + s
}

// wrap breaks words into lines of textWidth, those after the first beginning
// with indent.
func wrap(s, indent string) string { return wrapAt(s, indent, textWidth) }

// figuresJoined joins a figure to the word after it, which mostly is its unit,
// so that no line ends between them.
func figuresJoined(words []string) []string {
	var out []string
	for i, w := range words {
		if i > 0 && endsInDigit(words[i-1]) {
			out[len(out)-1] += " " + w
		} else {
			out = append(out, w)
		}
	}
	return out
}

func endsInDigit(s string) bool {
	return s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9'
}

func wrapAt(s, indent string, width int) string {
	var b strings.Builder
	col := utf8.RuneCountInString(indent)
	for i, word := range figuresJoined(strings.Fields(s)) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case col+1+n > width:
			b.WriteString("\n" + indent)
			col = utf8.RuneCountInString(indent)
		default:
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	return b.String()
}

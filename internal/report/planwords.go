package report

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"slices"
	"strings"

	"seatproof/head"
)

// advances are the widths of the typeface's letters from the blank to the tilde,
// in thousandths of its size, as a browser measured them; both weights have the
// same.
var advances = [...]float64{
	350, 350, 400, 850, 550, 900, 700, 200, 450, 450, 550, 600, 250, 450, 300, 550, 650, 650, 650, 650, 650, 650, 650, 650,
	650, 650, 300, 250, 650, 500, 650, 550, 1000, 650, 650, 600, 650, 600, 550, 650, 700, 300, 450, 600, 550, 900, 750, 800,
	600, 800, 650, 550, 600, 700, 650, 950, 650, 600, 600, 450, 550, 500, 750, 550, 550, 525, 600, 500, 600, 550, 400, 600,
	600, 300, 300, 550, 350, 900, 600, 600, 600, 600, 400, 450, 400, 600, 550, 750, 550, 550, 500, 649, 200, 600, 750,
}

// wide returns how wide a text is [px] at a size [px]. Letters that the table
// does not know are taken for wide ones.
func wide(s string, size float64) float64 {
	sum := 0.0
	for _, r := range s {
		switch {
		case r == '³' || r == '’':
			sum += 350
		case r < ' ' || r > '~':
			sum += 650
		default:
			sum += advances[r-' ']
		}
	}
	return sum * size / 1000
}

// level is how much is written at the mouths: as much as there is room for.
type level int

const (
	levelFull  level = iota // name, verdict, figure with its unit
	levelTight              // short name, a smaller verdict, figure
	levelName               // short name
	levelGroup              // one short name for the ports of a cylinder's side
	levelNone               // nothing
)

// Sizes of the words [px], and what keeps them apart.
const (
	nameSize    = 15.0
	verdictSize = 26.0
	tightSize   = 18.0
	sideSize    = 13.0
	wordGap     = 10.0
	rowStep     = 18.0
	mostRows    = 4
	pastOutline = 8.0 // mm that centre lines go past the outline; words stand beyond them
)

// saying is what stands at one mouth, or at those of a cylinder's side.
type saying struct {
	label head.Label
	ports []head.Label
	x, w  float64 // middle and width [px]
	row   int     // from the metal outwards
}

// words are the words of a plan, arranged.
type words struct {
	level       level
	rows        int
	above       []saying
	below       []saying
	lone        [2]bool // the side's name has a row to itself: above, below
	top, bottom float64 // px beside the metal
}

// arrange finds how much can be written at the mouths, on both sides alike,
// without two words touching or one leaving the drawing.
func (in *inked) arrange() words {
	out := words{level: levelNone, rows: 1}
	first := map[PlanWords]level{PlanFull: levelFull, PlanShort: levelName, PlanNone: levelNone}[in.Words]
search:
	for l := first; l < levelNone; l++ {
		rows := 1
		if l >= levelName {
			rows = mostRows
		}
		for n := 1; n <= rows; n++ {
			above, fitsAbove := in.sayings(true, l, n)
			below, fitsBelow := in.sayings(false, l, n)
			out.level, out.rows, out.above, out.below = l, n, above, below
			if fitsAbove && fitsBelow {
				break search
			}
		}
	}
	out.top, out.bottom = in.band(&out, true), in.band(&out, false)
	return out
}

// sayings places the words of one side in so many rows, and says whether they fit.
func (in *inked) sayings(above bool, l level, rows int) ([]saying, bool) {
	var out []saying
	for _, label := range in.plan.Labels {
		if label.Kind != head.LabelPort || label.Above != above {
			continue
		}
		if l == levelGroup {
			label.Short, _, _ = strings.Cut(label.Short, ",")
			if i := slices.IndexFunc(out, func(s saying) bool { return s.label.Short == label.Short }); i >= 0 {
				out[i].ports = append(out[i].ports, label)
				continue
			}
		}
		out = append(out, saying{label: label, ports: []head.Label{label}})
	}
	for i := range out {
		s := &out[i]
		for _, p := range s.ports {
			s.x += in.x(p.At.X) / float64(len(s.ports))
		}
		s.w = in.width(s.label, l)
	}
	slices.SortStableFunc(out, func(a, b saying) int { return cmp.Compare(a.x, b.x) })
	edge := math.Max(in.Width, 60) - 2
	ends := make([]float64, rows)
	fits := true
	for i := range out {
		s := &out[i]
		s.row = i % rows
		s.x = math.Min(math.Max(s.x, 2+s.w/2), edge-s.w/2)
		if s.w > edge-2 || s.x-s.w/2 < ends[s.row] {
			fits = false
		}
		ends[s.row] = s.x + s.w/2 + wordGap
	}
	return out, fits
}

// width is how wide the words of a label are at a level [px].
func (in *inked) width(l head.Label, at level) float64 {
	said, _, _, _ := in.look(l.Port)
	size, name := verdictSize, l.Text
	figure, unit := figureOf(said, at)
	switch at {
	case levelName, levelGroup:
		return wide(l.Short, nameSize)
	case levelTight:
		size, name = tightSize, l.Short
	}
	verdict := wide(string(said.State), size)
	if said.State == Leaks {
		verdict += 2 * platePad
	}
	if said.Retest {
		verdict = max(verdict, wide(retestWord, nameSize)+wide(figure, nameSize)+6)
		unit = ""
	}
	return max(wide(name, nameSize), verdict, wide(figure+unit, nameSize))
}

const (
	platePad   = 8.0 // of the plate behind a verdict that stands reversed, left and right
	retestWord = "retest"
)

// figureOf parts what is said of a port into figure and unit. Where there is
// little room, or something else to say, the table has the unit.
func figureOf(said PlanPort, at level) (figure, unit string) {
	figure, unit, ok := strings.Cut(said.Figure, " cm³")
	if !ok {
		return said.Figure, ""
	}
	if at == levelTight || said.Retest {
		return figure, ""
	}
	return figure, " cm³" + unit
}

// offset is how far beyond the outline the words begin [px].
func (in *inked) offset() float64 { return pastOutline*in.scale + 5 }

// depth is how high the words of a level are [px].
func (w *words) depth() float64 {
	switch w.level {
	case levelFull:
		return 71
	case levelTight:
		return 56
	case levelNone:
		return 0
	}
	return 14 + float64(w.rows-1)*rowStep
}

// band is how much room a side needs beside the metal [px].
func (in *inked) band(w *words, above bool) float64 {
	if in.Words == PlanNone {
		return map[bool]float64{true: 24, false: 8}[in.Here != ""]
	}
	said := w.above
	if !above {
		said = w.below
	}
	room := in.offset() + 3
	if len(said) > 0 {
		room += w.depth()
	}
	side, ok := in.side(above)
	if !ok {
		return room
	}
	left := math.Inf(1)
	for _, s := range said {
		left = min(left, s.x-s.w/2)
	}
	beside := len(said) > 0 && w.level <= levelTight && sideLeft+max(wide(side.Text, sideSize), wide(side.Below, sideSize))+wordGap <= left
	if !beside {
		room += 20
	}
	w.lone[map[bool]int{true: 0, false: 1}[above]] = !beside
	return room
}

const sideLeft = 10.0 // px from the drawing's edge

// side returns the name of a side; a narrow drawing has none, for its ports say it.
func (in *inked) side(above bool) (head.Label, bool) {
	for _, l := range in.plan.Labels {
		if l.Kind == head.LabelSide && l.Above == above && in.Words == PlanFull {
			return l, true
		}
	}
	return head.Label{}, false
}

// saySide writes the name of a side at the left: in two lines where the ports'
// words leave room, else in a row of its own.
func (in *inked) saySide(w *words, above bool) {
	l, ok := in.side(above)
	if !ok {
		return
	}
	y := in.y(in.plan.Height) + w.bottom - 6
	if above {
		y = 14
	}
	if w.lone[map[bool]int{true: 0, false: 1}[above]] {
		fmt.Fprintf(in, `<text class="side" x="%s" y="%s"><tspan class="b">%s</tspan>, %s</text>`, px(sideLeft), px(y), html.EscapeString(l.Text), html.EscapeString(l.Below))
		return
	}
	if !above {
		y = in.y(in.plan.Height) + in.offset() + 30
	} else {
		y = w.top - in.offset() - 42
	}
	fmt.Fprintf(in, `<text class="side b" x="%s" y="%s">%s</text><text class="side" x="%s" y="%s">%s</text>`,
		px(sideLeft), px(y), html.EscapeString(l.Text), px(sideLeft), px(y+18), html.EscapeString(l.Below))
}

// say writes at a mouth and makes a port a way to its sheet.
func (in *inked) say(w *words, s saying, gap float64) {
	if len(s.ports) == 1 {
		in.link(w, s, s.label, gap, func() { in.write(w, s) })
		return
	}
	in.write(w, s)
	for _, p := range s.ports {
		in.link(w, s, p, gap, func() {})
	}
}

// text writes one line in the middle of a saying; it ends with a blank, for a
// voice.
func (in *inked) text(class string, s saying, y float64, words string) {
	fmt.Fprintf(in, `<text class="%s" text-anchor="middle" x="%s" y="%s">%s</text> `, class, px(s.x), px(y), html.EscapeString(strings.ReplaceAll(words, "'", "’")))
}

// write writes the words of a saying.
func (in *inked) write(w *words, s saying) {
	l, out := s.label, in.offset()
	said, _, _, _ := in.look(l.Port)
	if w.level >= levelName {
		y := in.y(in.plan.Height) + out + 11 + float64(s.row)*rowStep
		if l.Above {
			y = in.y(0) - out - float64(s.row)*rowStep
		}
		in.text("name", s, y, l.Short)
		return
	}
	name, class, size := l.Text, "verdict", verdictSize
	lines := [3]float64{11, 41, 65} // baselines below the metal
	if w.level == levelTight {
		name, class, size = l.Short, "verdict tight", tightSize
		lines = [3]float64{11, 32, 52}
	}
	for i := range lines {
		if l.Above {
			lines[i] = in.y(0) - out - w.depth() + lines[i] + 3
		} else {
			lines[i] += in.y(in.plan.Height) + out
		}
	}
	in.text("cap name", s, lines[0], name)
	word := string(said.State)
	if said.State == Leaks {
		half := wide(word, size)/2 + platePad
		fmt.Fprintf(in, `<rect class="plate" x="%s" y="%s" width="%s" height="%s"/>`, px(s.x-half), px(lines[1]-.92*size), px(2*half), px(1.22*size))
		class += " on"
	}
	in.text(class, s, lines[1], word)
	accent := ""
	if said.State == Leaks {
		accent = " acc"
	}
	figure, unit := figureOf(said, w.level)
	switch {
	case said.Retest:
		fmt.Fprintf(in, `<text class="figure" text-anchor="middle" x="%s" y="%s">%s <tspan class="acc">%s</tspan></text> `, px(s.x), px(lines[2]), html.EscapeString(figure), retestWord)
	case unit != "": // the figure counts, its unit is beside it
		fmt.Fprintf(in, `<text class="figure%s" text-anchor="middle" x="%s" y="%s">%s<tspan class="unit">%s</tspan></text> `, accent, px(s.x), px(lines[2]), html.EscapeString(figure), html.EscapeString(unit))
	case strings.Contains(said.Figure, "cm³"):
		in.text("figure"+accent, s, lines[2], figure)
	case figure != "":
		in.text("figure unit", s, lines[2], figure)
	}
}

// link makes a port's passage, valves and mouth one way to its sheet, a finger's
// worth of target where its neighbours leave so much.
func (in *inked) link(w *words, s saying, l head.Label, gap float64, inside func()) {
	said, _, _, _ := in.look(l.Port)
	if said.Link == "" {
		inside()
		return
	}
	label := "" // in full the words say it themselves
	if w.level >= levelName {
		about := string(said.State)
		if said.Retest {
			about += ", " + retestWord
		}
		label = fmt.Sprintf(` aria-label="%s, %s, %s"`, html.EscapeString(l.Short), html.EscapeString(about), html.EscapeString(said.Figure))
	}
	fmt.Fprintf(in, `<a href="%s"%s>`, html.EscapeString(said.Link), label)
	inside()
	for _, sh := range in.plan.Shapes {
		if sh.Port == l.Port && sh.Kind == head.ShapePassage {
			fmt.Fprintf(in, `<path class="target" d="%s"/>`, in.path(sh.Path))
		}
	}
	top, reach := in.y(in.plan.Height)-24, min(44, gap/2)
	if l.Above {
		top = in.y(0) - 64
	}
	fmt.Fprintf(in, `<rect class="target" x="%s" y="%s" width="%s" height="88"/></a>`, px(in.x(l.At.X)-reach), px(top), px(2*reach))
}

package report

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// art is a drawing on paper, in mm from its upper left corner, that is written
// as PDF or as SVG: what is on the sheet is what is printed. Text is placed run
// by run with the typeface's own widths, so neither of the two lays anything out.
type art struct {
	width, height float64
	marks         []mark
	measure       func(text string, size float64, bold bool) float64
}

// mark is one thing drawn.
type mark struct {
	kind   markKind
	at     []artPoint // text: its baseline's start; line: its points; dot: its centre
	ink    token
	fill   bool    // a shape is filled, else outlined
	width  float64 // of lines; a dot's radius
	dash   []float64
	text   string
	size   float64
	bold   bool
	length float64 // of text
}

type markKind uint8

const (
	markText markKind = iota
	markLine
	markShape // closed
	markDot
)

type artPoint struct{ x, y float64 }

// run is a piece of text in one style.
type run struct {
	text string
	size float64
	bold bool
	ink  token
}

// text draws runs one after the other from x on the baseline y, and returns where
// they end.
func (a *art) text(x, y float64, runs ...run) float64 {
	for _, r := range runs {
		w := a.measure(r.text, r.size, r.bold)
		if strings.TrimSpace(r.text) != "" {
			a.marks = append(a.marks, mark{kind: markText, at: []artPoint{{x, y}}, ink: orInk(r.ink), text: r.text, size: r.size, bold: r.bold, length: w})
		}
		x += w
	}
	return x
}

// right draws runs that end at x.
func (a *art) right(x, y float64, runs ...run) {
	w := 0.0
	for _, r := range runs {
		w += a.measure(r.text, r.size, r.bold)
	}
	a.text(x-w, y, runs...)
}

// words breaks runs into lines no wider than wide, lead apart, and returns the
// baseline after the last. Neighbours of one style stay one run.
func (a *art) words(x, y, wide, lead float64, runs ...run) float64 {
	var line []run
	used := 0.0
	flush := func() {
		if len(line) > 0 {
			line[len(line)-1].text = strings.TrimRight(line[len(line)-1].text, " ")
			a.text(x, y, line...)
			y += lead
		}
		line, used = nil, 0
	}
	for _, r := range runs {
		for _, word := range strings.SplitAfter(r.text, " ") {
			if word == "" {
				continue
			}
			w := a.measure(strings.TrimRight(word, " "), r.size, r.bold)
			if used > 0 && used+w > wide {
				flush()
			}
			if n := len(line); n > 0 && line[n-1].size == r.size && line[n-1].bold == r.bold && line[n-1].ink == r.ink {
				line[n-1].text += word
			} else {
				line = append(line, run{word, r.size, r.bold, r.ink})
			}
			used += a.measure(word, r.size, r.bold)
		}
	}
	flush()
	return y
}

func (a *art) line(ink token, width float64, points ...artPoint) {
	a.marks = append(a.marks, mark{kind: markLine, at: points, ink: ink, width: width})
}

func (a *art) dashed(ink token, width float64, points ...artPoint) {
	a.marks = append(a.marks, mark{kind: markLine, at: points, ink: ink, width: width, dash: []float64{1.6, 0.9}})
}

func (a *art) box(ink token, width, x, y, w, h float64) {
	a.marks = append(a.marks, mark{kind: markShape, at: corners(x, y, w, h), ink: ink, width: width})
}

func (a *art) filled(ink token, points ...artPoint) {
	a.marks = append(a.marks, mark{kind: markShape, at: points, ink: ink, fill: true})
}

func corners(x, y, w, h float64) []artPoint {
	return []artPoint{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

// hatch draws the hatch of a state in a square: the same lines as hatchDefs, in
// mm, 1 px being 0.26 mm on paper.
func (a *art) hatch(st State, x, y, size float64) {
	const px = 0.26
	slant := func(ink token, width, every float64, down bool) {
		// lines of x-y or x+y constant, every so far apart across
		step := every * math.Sqrt2
		for c := -size + step/2; c < size; c += step {
			p := artPoint{x + math.Max(0, c), y + math.Max(0, -c)}
			q := artPoint{x + math.Min(size, size+c), y + math.Min(size, size-c)}
			if !down {
				p.y, q.y = 2*y+size-p.y, 2*y+size-q.y
			}
			if math.Abs(p.x-q.x) > 0.2 {
				a.line(ink, width, p, q)
			}
		}
	}
	edge := ink
	switch st {
	case Holds:
		slant(ink, 1.2*px, 7*px, false)
	case Leaks:
		edge = accent
		slant(accent, 2.6*px, 6.5*px, true)
		slant(accent, 2.6*px, 6.5*px, false)
	case CantTellYet:
		d := 7 * px / math.Sqrt2
		r := 1.75 * px
		for i := 0; float64(i)*d < size; i++ {
			for k := i % 2; float64(k)*d < size; k += 2 {
				cx, cy := (float64(k)+0.5)*d, (float64(i)+0.5)*d
				if cx+r < size && cy+r < size {
					a.marks = append(a.marks, mark{kind: markDot, at: []artPoint{{x + cx, y + cy}}, ink: ink, width: r})
				}
			}
		}
	}
	a.box(edge, 1.5*px, x, y, size, size)
}

func orInk(t token) token {
	if t == "" {
		return ink
	}
	return t
}

// svg writes the drawing, its size left to the page; label is what it shows.
func (a *art) svg(label string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="wall" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-label="%s">`, px(a.width), px(a.height), html.EscapeString(label))
	for _, m := range a.marks {
		p := m.at[0]
		paint := "s-" + string(m.ink)
		if m.fill || m.kind == markText || m.kind == markDot {
			paint = "f-" + string(m.ink)
		}
		switch m.kind {
		case markText:
			weight := ""
			if m.bold {
				weight = " b"
			}
			fmt.Fprintf(&b, `<text class="%s%s" x="%s" y="%s" font-size="%s" textLength="%s">%s</text>`, paint, weight, px(p.x), px(p.y), px(m.size), px(m.length), html.EscapeString(m.text))
		case markDot:
			fmt.Fprintf(&b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, paint, px(p.x), px(p.y), px(m.width))
		default:
			var d strings.Builder
			for i, q := range m.at {
				fmt.Fprintf(&d, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], px(q.x), px(q.y))
			}
			if m.kind == markShape {
				d.WriteString("Z")
			}
			more := ""
			if !m.fill {
				more = fmt.Sprintf(` stroke-width="%s"`, px(m.width))
			}
			if m.dash != nil {
				more += fmt.Sprintf(` stroke-dasharray="%s %s"`, px(m.dash[0]), px(m.dash[1]))
			}
			fmt.Fprintf(&b, `<path class="%s" d="%s"%s/>`, paint, d.String(), more)
		}
	}
	b.WriteString(`</svg>`)
	return b.String()
}

// wallCSS paints what svg writes: f fills, s strokes, by token.
var wallCSS = func() string {
	var b strings.Builder
	b.WriteString(".wall{display:block;width:100%;height:auto;background:var(--sheet)}\n.wall text{font-family:B612,\"DejaVu Sans\",Verdana,sans-serif;white-space:pre}\n.wall .b{font-weight:700}\n") // sizes are attributes, which any rule here would overrule
	for _, c := range colours {
		fmt.Fprintf(&b, ".wall .f-%[1]s{fill:var(--%[1]s);stroke:none}\n.wall .s-%[1]s{stroke:var(--%[1]s);fill:none}\n", c.name)
	}
	return b.String()
}()

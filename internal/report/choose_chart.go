package report

import (
	"fmt"
	"html"
	"io"
	"math"
	"slices"
	"strconv"

	"seatproof/check"
)

// chooseLayout is where the parts of the chart of pumps stand [px].
type chooseLayout struct {
	width, height            float64
	left, right, top, bottom float64
	alone                    bool // a file of its own, with title and names
}

var (
	chooseSheet = chooseLayout{width: 760, height: 520, left: 62, right: 520, top: 92, bottom: 440, alone: true}
	chooseCard  = chooseLayout{width: 360, height: 320, left: 44, right: 352, top: 34, bottom: 262}
)

// WriteChoiceChart writes the chart of a choice as an SVG file: what each pump's
// gauge reads against the leak, wide where a leak can be told from another, with
// the limit.
func WriteChoiceChart(w io.Writer, c *check.Choice, s Style) error {
	svg, _ := chooseChart(c, s, chooseSheet)
	_, err := io.WriteString(w, svg)
	return err
}

// chooseChart draws the reading against the leak, a line for each pump with its
// best gauge and hose; for each gauge or hose where that is what there are several
// of.
func chooseChart(c *check.Choice, s Style, l chooseLayout) (string, []LegendEntry) {
	s.Full = false // a drawing has room for two digits
	order, names := varied(c)
	if len(order) == 0 {
		return "", nil
	}
	pick := order[0]
	limit := pick.Ports[pick.Worst].Limit
	lo, hi, top := limit/20, 0.0, 0.0
	for _, x := range order {
		hi, top = math.Max(hi, x.Most()), math.Max(top, x.Blanked)
	}
	lo, hi = math.Pow(10, math.Floor(math.Log10(lo*cm3min))), math.Pow(10, math.Ceil(math.Log10(hi*cm3min)))
	u := s.unit()
	y := axis{from: 0, to: top / u.Size * 1.06, a: l.bottom, b: l.top}
	yt, yd := within(0, y.to, 5)
	x := axis{from: lo, to: hi, a: l.left, b: l.right, log: true}
	d := &drawing{s: s}
	words := fmt.Sprintf("What the gauge reads against the leak, for %s: the limit of %s moves the needle %s with %s", count(len(order), "rig"), s.anyFlow(limit, 0),
		s.lost(pick.Ports[pick.Worst].Drops[1].Needle), names[0])
	if l.alone {
		fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`, px(l.width), px(l.height), html.EscapeString(words))
		fmt.Fprintf(d, "<title>%s</title><style>\n%s%s</style>", html.EscapeString(c.Parts.Name), tokenCSS("svg"), drawingCSS)
		fmt.Fprintf(d, `<rect style="fill:var(--paper)" width="%s" height="%s"/>`, px(l.width), px(l.height))
		d.text("b", "start", 24, 34, "What the gauge reads against the leak")
		d.text("cap", "start", 24, 54, "Pump on, valve open. Wide line: there the steady reading tells a leak.")
	} else {
		fmt.Fprintf(d, `<svg class="d" role="img" viewBox="0 0 %s %s" aria-label="%s">`, px(l.width), px(l.height), html.EscapeString(words))
	}
	for _, t := range yt {
		d.line("grid", x.a, y.at(t), x.b, y.at(t))
		d.text("cap", "end", x.a-8, y.at(t)+4.5, label(t, yd))
	}
	for t := lo; t <= hi*1.001; t *= 10 {
		d.line("grid", x.at(t), l.top, x.at(t), l.bottom)
		name := label(t, int(math.Max(0, -math.Log10(t))))
		if t >= 999 {
			name = label(t/1e3, 0) + " L"
		}
		if t*1.001 < hi || l.alone { // the last has no room on a card
			d.text("cap", "middle", x.at(t), l.bottom+17, name)
		}
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sV%sH%s"/>`, px(l.left), px(l.top), px(l.bottom), px(l.right))
	d.text("b", "start", l.left, l.top-10, "reading, "+u.Name)
	d.text("b", "middle", (l.left+l.right)/2, l.bottom+34, "leak, cm³/min; with an L, L/min")
	at := x.at(limit * cm3min)
	d.line("limit", at, l.top-6, at, l.bottom)
	d.text("b acc halo", "start", at+6, l.bottom-10, "limit "+s.flow(limit))

	var legend []LegendEntry
	var marks [][2]float64
	const points = 160
	for _, r := range order {
		most := r.Most() * cm3min
		line := func(from, to float64) []Point {
			var pts []Point
			from, to = math.Max(from, lo), math.Min(to, most)
			if !(to > from) {
				return nil
			}
			for k := range points {
				q := from * math.Pow(to/from, float64(k)/(points-1))
				pts = append(pts, Point{q, r.Reading(q/cm3min) / u.Size})
			}
			return pts
		}
		d.path("thin", line(lo, most), x, y)
		v := r.Ports[r.Worst].Steady
		if v.Any() && !math.IsInf(v.Low, 1) {
			d.path("fit", line(v.Low*cm3min, v.High*cm3min), x, y)
		}
	}
	for i, r := range order {
		most := r.Most() * cm3min
		// the mark sits where the reading has fallen to a share that differs from line to line
		var cx, cy float64
		for try := range 8 {
			share := 0.78 - 0.5*float64(i)/float64(max(1, len(order)-1)) - 0.11*float64(try)
			if share < 0.1 {
				share += 0.75
			}
			q := lo
			for q < most && r.Reading(q/cm3min) > share*r.Blanked {
				q *= 1.02
			}
			cx, cy = x.at(q), y.at(r.Reading(q/cm3min)/u.Size)
			if !slices.ContainsFunc(marks, func(m [2]float64) bool { return math.Hypot(m[0]-cx, m[1]-cy) < 21 }) {
				break
			}
		}
		marks = append(marks, [2]float64{cx, cy})
		mark := strconv.Itoa(i + 1)
		fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="9"/>`, px(cx), px(cy))
		d.text("b", "middle", cx, cy+4.5, mark)
		legend = append(legend, LegendEntry{mark, names[i], i == 0})
		if l.alone {
			yy := l.top + 20 + float64(i)*44
			fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="9"/>`, px(l.right+32), px(yy-4.5))
			d.text("b", "middle", l.right+32, yy, mark)
			class := ""
			if i == 0 {
				class = "b"
			}
			d.text(class, "start", l.right+48, yy, shortened(names[i], 24))
			d.text("cap", "start", l.right+48, yy+17, "drops "+s.lost(r.Ports[r.Worst].Drops[1].Needle)+" at the limit")
		}
	}
	if t := pick.Ports[pick.Worst].Thumb; t.Any() {
		a, b := x.at(t.Low*cm3min), x.at(t.High*cm3min)
		fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="%s" height="5"/>`, px(a), px(l.bottom-5), px(math.Max(2, b-a)))
		if l.alone {
			fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="18" height="5"/>`, px(l.right+23), px(l.bottom-24))
			d.text("cap", "start", l.right+48, l.bottom-18, "what 15 s of hold tell,")
			d.text("cap", "start", l.right+48, l.bottom-2, "with the first of them")
		} else {
			fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="18" height="5"/>`, px(l.left), px(l.bottom+48))
			d.text("cap", "start", l.left+24, l.bottom+54, "what 15 s of hold tell, with the first")
		}
	}
	d.WriteString("</svg>\n")
	return d.String(), legend
}

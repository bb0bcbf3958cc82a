package report

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"seatproof/check"
)

// rangesShown is the most rows of a chart of ranges.
const rangesShown = 8

// varied returns, of the kind of part of which there are several (pumps before
// gauges before hoses), the best rig with each and the part's name.
func varied(c *check.Choice) (rigs []*check.Candidate, names []string) {
	p := &c.Parts
	of := func(x *check.Candidate) (int, string) { return x.Hose, p.Hoses[x.Hose].Name }
	switch {
	case len(p.Pumps) > 1:
		of = func(x *check.Candidate) (int, string) { return x.Pump, p.Pumps[x.Pump].Name }
	case len(p.Gauges) > 1:
		of = func(x *check.Candidate) (int, string) { return x.Gauge, p.Gauges[x.Gauge].Name }
	}
	seen := map[int]bool{}
	for i := range c.Rigs {
		k, name := of(&c.Rigs[i])
		if !seen[k] && len(rigs) < rangesShown {
			seen[k] = true
			rigs, names = append(rigs, &c.Rigs[i]), append(names, name)
		}
	}
	return rigs, names
}

// WriteChoiceRanges writes, as an SVG file, which leaks each part's best rig
// tells apart: by 15 s of hold, by 60 s, and by the steady reading, with the
// limit.
func WriteChoiceRanges(w io.Writer, c *check.Choice, s Style) error {
	_, err := io.WriteString(w, rangesChart(c, s))
	return err
}

// shortened cuts a name to so many letters, for a drawing.
func shortened(name string, letters int) string {
	r := []rune(name)
	if len(r) <= letters {
		return name
	}
	return strings.TrimRight(string(r[:letters-1]), " ,.") + "…"
}

func rangesChart(c *check.Choice, s Style) string {
	s.Full = false
	rigs, names := varied(c)
	if len(rigs) == 0 {
		return ""
	}
	const (
		width, left, right = 760.0, 266.0, 724.0
		top, row           = 92.0, 62.0
	)
	bottom := top + row*float64(len(rigs)) + 8
	height := bottom + 78
	limit := rigs[0].Ports[rigs[0].Worst].Limit
	lo, hi := limit/30*cm3min, 0.0
	for _, x := range rigs {
		v := x.Ports[x.Worst]
		for _, r := range []check.Range{v.Thumb, v.Minute, v.Steady} {
			if r.Any() && !math.IsInf(r.High, 1) {
				lo, hi = math.Min(lo, r.Low*cm3min), math.Max(hi, r.High*cm3min)
			}
		}
	}
	hi = math.Max(hi, limit*cm3min*100)
	lo, hi = math.Pow(10, math.Floor(math.Log10(lo))), math.Pow(10, math.Ceil(math.Log10(hi)))
	x := axis{from: lo, to: hi, a: left, b: right, log: true}
	d := &drawing{s: s}
	words := fmt.Sprintf("Which leaks can be told, for %s: by a hold of 15 s, of 60 s and by the steady reading, with the limit of %s", count(len(rigs), "rig"), s.anyFlow(limit, 0))
	fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`, px(width), px(height), html.EscapeString(words))
	fmt.Fprintf(d, "<title>%s</title><style>\n%s%s</style>", html.EscapeString(c.Parts.Name), tokenCSS("svg"), drawingCSS)
	fmt.Fprintf(d, `<rect style="fill:var(--paper)" width="%s" height="%s"/>`, px(width), px(height))
	d.text("b", "start", 24, 34, "Which leaks can be told")
	d.text("cap", "start", 24, 54, "Best first. A bar is where a leak is told from another by that reading.")
	for t := lo; t <= hi*1.001; t *= 10 {
		d.line("grid", x.at(t), top-14, x.at(t), bottom)
		name := label(t, int(math.Max(0, math.Ceil(-math.Log10(t)-1e-9))))
		if t >= 999 {
			name = label(t/1e3, 0) + " L"
		}
		d.text("cap", "middle", x.at(t), bottom+17, name)
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sH%s"/>`, px(left), px(bottom), px(right))
	d.text("b", "middle", (left+right)/2, bottom+36, "leak, cm³/min; with an L, L/min")
	for i, r := range rigs {
		y := top + row*float64(i)
		v := r.Ports[r.Worst]
		class := ""
		if i == 0 {
			class = "b"
		}
		d.text(class, "start", 24, y+14, shortened(names[i], 24))
		d.text("cap", "start", 24, y+31, tellsWords[r.Tells])
		for k, b := range []struct {
			name string
			r    check.Range
		}{{"15 s", v.Thumb}, {"60 s", v.Minute}, {"steady", v.Steady}} {
			yy := y + 4 + 17*float64(k)
			d.text("cap", "end", left-8, yy+9, b.name)
			if !b.r.Any() || math.IsInf(b.r.Low, 1) {
				d.text("cap", "start", left+4, yy+9, "nothing")
				continue
			}
			a, z := x.at(b.r.Low*cm3min), x.at(math.Min(b.r.High*cm3min, hi))
			fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="%s" height="9"/>`, px(a), px(yy), px(math.Max(2, z-a)))
		}
	}
	at := x.at(limit * cm3min)
	d.line("limit", at, top-20, at, bottom)
	d.text("b acc halo", "start", at+6, top-16, "limit "+s.flow(limit))
	d.WriteString("</svg>\n")
	return d.String()
}

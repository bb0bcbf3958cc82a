package report

import (
	"fmt"
	"html"
	"math"
	"slices"
	"strconv"
)

// Drawings of rig checks: the blanked series as an individuals chart, the
// gauge's line, the pump's curve, and what the checks do to the intervals of
// readings. They are drawn in the lines of the other drawings, at a width that
// the sheet says.

// Individuals is a series of blanked readings with the lines of its chart.
type Individuals struct {
	Values             []float64 // Pa, in the order in which they were made
	Mean, Lower, Upper float64   // Pa, the centre and the limits
	Out                []int     // indices of values outside the limits
}

// Cross is a point with its doubt in both directions.
type Cross struct{ X, Y, SpreadX, SpreadY float64 }

// Curve is points, a line through them, and what the line may be off.
type Curve struct {
	Name         string // what it shows, for who hears it
	XName, YName string // with their units
	Points       []Cross
	Line         []Cross // SpreadY is its 95 %; drawn as a band
	Zero         bool    // the y axis has zero in it, drawn
}

// Shrink is one reading before and after the checks [cm³/min].
type Shrink struct {
	Name        string
	Before, Now [2]float64 // low, high; high 0: no figure
	UpTo        [2]bool    // only the upper end says something
	Limit       float64    // 0: none
	Words       string     // of both: "5.7 to 13, now 7.5 to 11"
}

func (d *drawing) open(width, height float64, words string) {
	fmt.Fprintf(d, `<svg class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`, px(width), px(height), html.EscapeString(words))
}

// axes draws the axes of a chart with their ticks.
func (d *drawing) axes(x, y axis, xt, yt []float64, xd, yd int) {
	for _, t := range yt {
		d.line("grid", x.a, y.at(t), x.b, y.at(t))
		d.text("cap", "end", x.a-8, y.at(t)+4.5, label(t, yd))
	}
	for _, t := range xt {
		d.line("axis", x.at(t), y.a, x.at(t), y.a+5)
		d.text("cap", "middle", x.at(t), y.a+20, label(t, xd))
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sV%sH%s"/>`, px(x.a), px(y.b), px(y.a), px(x.b))
}

// IndividualsChart draws a series of blanked readings: the mean, the limits at
// 2.66 mean moving ranges (ISO 7870-2), and those outside them by a filled mark
// and their word.
func IndividualsChart(c Individuals, s Style, width float64) string {
	if len(c.Values) == 0 {
		return ""
	}
	size := s.Unit.Size
	if size == 0 {
		s.Unit, size = KPa, KPa.Size
	}
	d := &drawing{s: s}
	const height, top, base = 250.0, 30.0, 206.0
	left, right := 56.0, width-84
	d.open(width, height, fmt.Sprintf("Blanked readings in order: %d pulls, mean %s, limits %s and %s, %d outside.", len(c.Values), s.Vacuum(c.Mean), s.Vacuum(c.Lower), s.Vacuum(c.Upper), len(c.Out)))
	lo, hi := min(c.Lower, slices.Min(c.Values)), max(c.Upper, slices.Max(c.Values))
	if !(hi > lo) {
		lo, hi = lo-size/2, hi+size/2
	}
	y, yt, yd := linear((lo-0.08*(hi-lo))/size, (hi+0.08*(hi-lo))/size, base, top, 5)
	x := axis{from: 0.5, to: float64(len(c.Values)) + 0.5, a: left, b: right}
	var xt []float64
	for i := 1; i <= len(c.Values); i += len(c.Values)/12 + 1 {
		xt = append(xt, float64(i))
	}
	d.axes(x, y, xt, yt, 0, yd)
	d.text("b", "start", 4, 16, "vacuum, "+s.Unit.Name)
	d.text("cap", "middle", (left+right)/2, height-6, "pull")
	type named struct {
		at    float64
		class string
		words string
	}
	lines := []named{{c.Upper, "limit", "upper limit"}, {c.Mean, "axis", "mean"}, {c.Lower, "limit", "lower limit"}}
	if !(c.Upper > c.Lower) {
		lines = lines[1:2]
	}
	last := -math.MaxFloat64
	for _, l := range lines {
		at := y.at(l.at / size)
		d.line(l.class, left, at, right, at)
		class := "b"
		if l.class == "limit" {
			class = "b acc"
		}
		last = max(at+4.5, last+15)
		d.text(class, "start", right+6, last, l.words)
	}
	var pts []Point
	for i, v := range c.Values {
		pts = append(pts, Point{float64(i + 1), v / size})
	}
	d.path("thin", pts, x, y)
	for i, p := range pts {
		if slices.Contains(c.Out, i) {
			fmt.Fprintf(d, `<circle class="bar" cx="%s" cy="%s" r="6"/>`, px(x.at(p.Time)), px(y.at(p.Vacuum)))
			d.text("b halo", "middle", x.at(p.Time), y.at(p.Vacuum)-11, "outside")
			continue
		}
		fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="4.5"/>`, px(x.at(p.Time)), px(y.at(p.Vacuum)))
	}
	d.WriteString("</svg>")
	return d.String()
}

// CurveChart draws points with their doubt and a line with its band.
func CurveChart(c Curve, width float64) string {
	all := append(slices.Clone(c.Points), c.Line...)
	if len(all) == 0 {
		return ""
	}
	d := &drawing{}
	const height, top, base = 280.0, 32.0, 226.0
	left, right := 62.0, width-18
	lox, hix, loy, hiy := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range all {
		lox, hix = min(lox, p.X-p.SpreadX), max(hix, p.X+p.SpreadX)
		loy, hiy = min(loy, p.Y-p.SpreadY), max(hiy, p.Y+p.SpreadY)
	}
	if c.Zero {
		loy, hiy = min(loy, 0), max(hiy, 0)
	}
	x, xt, xd := linear(lox, hix, left, right, 5)
	y, yt, yd := linear(loy, hiy, base, top, 5)
	d.open(width, height, c.Name)
	d.axes(x, y, xt, yt, xd, yd)
	d.text("b", "start", 4, 16, c.YName)
	d.text("b", "end", right, height-8, c.XName)
	if c.Zero {
		d.line("axis", left, y.at(0), right, y.at(0))
	}
	if len(c.Line) > 1 {
		var line, edge []Point
		for _, p := range c.Line {
			line = append(line, Point{p.X, p.Y})
			edge = append(edge, Point{p.X, p.Y + p.SpreadY})
		}
		for _, p := range slices.Backward(c.Line) {
			edge = append(edge, Point{p.X, p.Y - p.SpreadY})
		}
		d.path("band", edge, x, y)
		d.path("fit", line, x, y)
	}
	for _, p := range c.Points {
		d.line("axis", x.at(p.X-p.SpreadX), y.at(p.Y), x.at(p.X+p.SpreadX), y.at(p.Y))
		d.line("axis", x.at(p.X), y.at(p.Y-p.SpreadY), x.at(p.X), y.at(p.Y+p.SpreadY))
		fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="4.5"/>`, px(x.at(p.X)), px(y.at(p.Y)))
	}
	d.WriteString("</svg>")
	return d.String()
}

// ShrinkChart draws the intervals of readings before and after the checks, on
// one logarithmic line, with the limit of each.
func ShrinkChart(rows []Shrink, width float64) string {
	lo, hi := math.Inf(1), 0.0
	for _, r := range rows {
		for i, v := range [][2]float64{r.Before, r.Now} {
			if v[1] > 0 {
				hi = max(hi, v[1])
				if v[0] > 0 && !r.UpTo[i] {
					lo = min(lo, v[0])
				} else {
					lo = min(lo, v[1]/8)
				}
			}
		}
		if r.Limit > 0 {
			lo, hi = min(lo, r.Limit/1.5), max(hi, r.Limit*1.5)
		}
	}
	if !(hi > lo) || !(lo > 0) {
		return ""
	}
	lo, hi = max(lo, hi/1e5)/1.25, hi*1.25
	d := &drawing{}
	const each, top = 60.0, 22.0
	base := top + each*float64(len(rows))
	x := axis{from: lo, to: hi, a: 8, b: width - 8, log: true}
	d.open(width, base+44, "Intervals of "+strconv.Itoa(len(rows))+" readings, before the checks and now, cm³/min")
	ticks := decades(lo, hi)
	for len(ticks) > int(width/50) {
		var fewer []float64
		for i := 0; i < len(ticks); i += 2 {
			fewer = append(fewer, ticks[i])
		}
		ticks = fewer
	}
	for _, t := range ticks {
		d.line("grid", x.at(t), top, x.at(t), base)
		half := 4.5 * float64(len(Figure(t, 1)))
		d.line("axis", x.at(t), base, x.at(t), base+5)
		d.text("cap", "middle", min(max(x.at(t), half), width-half), base+19, Figure(t, 1))
	}
	d.line("axis", x.a, base, x.b, base)
	d.text("cap", "end", width-8, base+37, "cm³/min of free air at 50 kPa")
	named := false
	for i, r := range rows {
		y := top + each*float64(i)
		if r.Limit > 0 {
			d.line("limit", x.at(r.Limit), y+22, x.at(r.Limit), y+each)
			if !named {
				named = true
				d.text("b acc", "middle", min(max(x.at(r.Limit), 24), width-24), 14, "limit")
			}
		}
		d.text("b halo", "start", 8, y+14, r.Name)
		d.text("halo", "end", width-8, y+14, r.Words)
		for k, v := range [][2]float64{r.Before, r.Now} {
			if !(v[1] > 0) {
				continue
			}
			a, b := x.at(max(v[0], lo)), x.at(v[1])
			if r.UpTo[k] {
				a = x.a
			}
			if k == 1 {
				fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="%s" height="9"/>`, px(a), px(y+43), px(max(3, b-a)))
				continue
			}
			fmt.Fprintf(d, `<path class="axis two" d="M%s %sH%s`, px(a), px(y+31), px(b))
			if !r.UpTo[k] {
				fmt.Fprintf(d, `M%s %sv12`, px(a), px(y+25))
			}
			fmt.Fprintf(d, `M%s %sv12"/>`, px(b), px(y+25))
		}
	}
	d.WriteString("</svg>")
	return d.String()
}

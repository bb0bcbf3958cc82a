package report

import (
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"

	"seatproof/engine"
)

// lossLayout is where the parts of the chart of losses stand [px].
type lossLayout struct {
	width, height            float64
	left, right, top, bottom float64
	alone                    bool // a file of its own, with title and names
}

var (
	lossSheet = lossLayout{width: 760, height: 500, left: 74, right: 690, top: 96, bottom: 420, alone: true}
	lossCard  = lossLayout{width: 360, height: 300, left: 46, right: 350, top: 26, bottom: 240}
)

// WriteLossChart writes the chart of what is lost as an SVG file.
func WriteLossChart(w io.Writer, l *Loss, s Style) error {
	_, err := io.WriteString(w, lossChart(l, s, lossSheet))
	return err
}

// lossChart draws what is lost of the cranking peak against the leak rate, as an
// opening and as a seep, each with its band; the limit across; the leaks at hand
// as crosses of both their intervals.
func lossChart(l *Loss, s Style, lay lossLayout) string {
	s.Full = false // a drawing has room for two digits
	f := l.Curve.Flows
	x := axis{from: f[0] * cm3min, to: f[len(f)-1] * cm3min, a: lay.left, b: lay.right, log: true}
	low, high := 1.0, 0.0
	for i := range f {
		low, high = math.Min(low, l.Curve.Opening[i].Median), math.Max(high, l.Curve.Seep[i].High)
	}
	low, high = floor125(math.Max(low, 2e-5)), math.Min(1, math.Pow(10, math.Ceil(math.Log10(math.Max(high, 2*l.Ask.Share)))))
	y := axis{from: low, to: high, a: lay.bottom, b: lay.top, log: true}
	d := &drawing{s: s}
	words := fmt.Sprintf("What is lost of the cranking peak against the leak: %s is lost at %s if it seeps, at %s through an opening", l.share(), s.anyFlow(l.Limit.Seep, 0), s.anyFlow(l.Limit.Opening, 0))
	if lay.alone {
		fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`, px(lay.width), px(lay.height), html.EscapeString(words))
		fmt.Fprintf(d, "<title>What a leak costs</title><style>\n%s%s</style>", tokenCSS("svg"), drawingCSS)
		fmt.Fprintf(d, `<rect style="fill:var(--paper)" width="%s" height="%s"/>`, px(lay.width), px(lay.height))
		d.text("b", "start", 24, 34, "What a leak takes of the cranking peak")
		for i, line := range strings.Split(wrapAt(s.lossEngine(l), "", 92), "\n") {
			if i < 2 {
				d.text("cap", "start", 24, 54+17*float64(i), line)
			}
		}
	} else {
		fmt.Fprintf(d, `<svg class="d" role="img" viewBox="0 0 %s %s" aria-label="%s">`, px(lay.width), px(lay.height), html.EscapeString(words))
	}
	for t := math.Pow(10, math.Ceil(math.Log10(low)-1e-9)); t <= high*1.001; t *= 10 {
		d.line("grid", x.a, y.at(t), x.b, y.at(t))
		d.text("cap", "end", x.a-8, y.at(t)+4.5, strconv.FormatFloat(100*t, 'g', 3, 64))
	}
	for t := math.Pow(10, math.Ceil(math.Log10(x.from)-1e-9)); t <= x.to*1.001; t *= 10 {
		d.line("grid", x.at(t), lay.top, x.at(t), lay.bottom)
		name := strconv.FormatFloat(t, 'g', 4, 64)
		if t >= 999 {
			name = strconv.FormatFloat(t/1e3, 'g', 4, 64) + " L"
		}
		d.text("cap", "middle", x.at(t), lay.bottom+17, name)
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sV%sH%s"/>`, px(lay.left), px(lay.top), px(lay.bottom), px(lay.right))
	d.text("b", "start", math.Max(4, lay.left-40), lay.top-10, "lost, %")
	d.text("b", "middle", (lay.left+lay.right)/2, lay.bottom+34, "leak, cm³/min; with an L, L/min")

	band := func(e []engine.Estimate) {
		var up, down []Point
		for i := range f {
			up = append(up, Point{f[i] * cm3min, math.Max(low, e[i].High)})
			down = append(down, Point{f[len(f)-1-i] * cm3min, math.Max(low, e[len(f)-1-i].Low)})
		}
		fmt.Fprintf(d, `<path class="band" d="%sZ"/>`, joined(append(up, down...), x, y, "M"))
	}
	line := func(class string, e []engine.Estimate) {
		var pts []Point
		for i := range f {
			if e[i].Median >= low {
				pts = append(pts, Point{f[i] * cm3min, e[i].Median})
			}
		}
		d.path(class, pts, x, y)
	}
	band(l.Curve.Opening)
	band(l.Curve.Seep)
	line("fit", l.Curve.Seep)
	line("fit", l.Curve.Opening)
	at2 := y.at(l.Ask.Share)
	d.line("limit", x.a, at2, x.b, at2)
	d.text("b acc halo", "start", x.a+6, at2-7, "limit "+l.share())
	// each curve bears its name where it has come near the limit's line from below
	name := func(words string, e []engine.Estimate, clear float64, anchor string, dx, dy float64) {
		for i := len(f) - 1; i >= 0; i-- {
			if p := y.at(e[i].Median); p > at2+clear || i == 0 {
				d.text("halo", anchor, x.at(f[i]*cm3min)+dx, p+dy, words)
				return
			}
		}
	}
	// clear of the line of the limit, above and below it
	name("a seep", l.Curve.Seep, math.Min(4*l.Ask.Share, high/3), "end", -8, -4)
	name("an opening", l.Curve.Opening, math.Max(l.Ask.Share/16, 2*low), "start", 10, 12)
	d.leaks(l, x, y)
	d.WriteString("</svg>\n")
	return d.String()
}

// leaks marks the leaks at hand: of each cylinder the interval of its leaks
// together, and what they take, with its number.
func (d *drawing) leaks(l *Loss, x, y axis) {
	for _, c := range l.Cylinders {
		k := c.Cost.Cranking.Share
		a, b := x.at(c.Flow.Low*cm3min), x.at(c.Flow.High*cm3min)
		top, foot := y.at(math.Max(y.from, k.High)), y.at(math.Max(y.from, k.Low))
		at, mid := x.at(c.Flow.Median*cm3min), y.at(math.Max(y.from, k.Median))
		fmt.Fprintf(d, `<path class="axis" d="M%s %sV%sM%s %sH%s"/>`, px(at), px(top), px(foot), px(a), px(mid), px(b))
	}
	for _, c := range l.Cylinders { // above all lines
		at, mid := x.at(c.Flow.Median*cm3min), y.at(math.Max(y.from, c.Cost.Cranking.Share.Median))
		if c.Number == 0 {
			fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="6"/>`, px(at), px(mid))
			continue
		}
		fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="9"/>`, px(at), px(mid))
		d.text("b", "middle", at, mid+4.5, strconv.Itoa(c.Number))
	}
}

// floor125 is the next lower of 1, 2 and 5 times a power of ten.
func floor125(x float64) float64 {
	ten := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{5, 2} {
		if x >= k*ten {
			return k * ten
		}
	}
	return ten
}

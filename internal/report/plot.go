package report

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"seatproof/leak"
	"seatproof/trace"
)

// layout is where the parts of a plot stand [px].
type layout struct {
	width, height float64
	left, right   float64 // of the panels
	top, bottom   float64 // of the hold
	strip, foot   float64 // of the whole trace
	ticks         int
	alone         bool // a file of its own, with a title
}

var (
	sheetPlot = layout{width: 760, height: 580, left: 62, right: 660, top: 128, bottom: 418, strip: 476, foot: 546, ticks: 7, alone: true}
	cardPlot  = layout{width: 360, height: 286, left: 44, right: 292, top: 22, bottom: 160, strip: 216, foot: 264, ticks: 4}
)

// WritePlot writes the drawing of one outcome as an SVG file: the hold with
// its fitted curve, the limit from the same start, and the whole trace below
// with its phases named. Without a hold the whole trace stands alone.
func WritePlot(w io.Writer, o *Outcome, s Style) error {
	_, err := io.WriteString(w, plot(o, s, sheetPlot))
	return err
}

type drawing struct {
	strings.Builder
	s Style
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(d, `<path class="%s" d="M%s %sL%s %s"/>`, class, px(x1), px(y1), px(x2), px(y2))
}

func (d *drawing) text(class, anchor string, x, y float64, words string) {
	fmt.Fprintf(d, `<text class="%s" text-anchor="%s" x="%s" y="%s">%s</text>`, class, anchor, px(x), px(y), html.EscapeString(words))
}

// path joins points with lines.
func (d *drawing) path(class string, pts []Point, x, y axis) {
	if len(pts) == 0 {
		return
	}
	fmt.Fprintf(d, `<path class="%s" d="%s"/>`, class, joined(pts, x, y, "M"))
}

func joined(pts []Point, x, y axis, start string) string {
	var b strings.Builder
	for i, p := range pts {
		b.WriteString(start)
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(px(math.Round(x.at(p.Time)*10)/10) + " " + px(math.Round(y.at(p.Vacuum)*10)/10))
		start = "L"
		if i > 0 {
			start = ""
		}
	}
	return b.String()
}

// plot draws an outcome.
func plot(o *Outcome, s Style, l layout) string {
	d := &drawing{s: s}
	words := describe(o, s)
	open := `<svg class="d" role="img" viewBox="0 0 %s %s" aria-label="%s">`
	if l.alone {
		open = `<svg xmlns="http://www.w3.org/2000/svg" class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`
	}
	whole := !o.Answered() || len(o.Sketch.Hold) < 2 // the whole trace, with nothing below
	if whole && !l.alone {
		l.height = l.bottom + 44
	}
	fmt.Fprintf(d, open, px(l.width), px(l.height), html.EscapeString(words))
	if l.alone {
		fmt.Fprintf(d, "<title>%s</title><style>\n%s%s</style>%s", html.EscapeString(o.Name()), tokenCSS("svg"), drawingCSS, hatchDefs)
		fmt.Fprintf(d, `<rect style="fill:var(--paper)" width="%s" height="%s"/>`, px(l.width), px(l.height))
		d.title(o)
	}
	if len(o.Sketch.All) > 0 {
		if !whole {
			d.hold(o, l)
			if !o.Sketch.Hand {
				d.whole(o, l, l.strip, l.foot)
			}
		} else {
			bottom := l.bottom
			if l.alone { // nothing stands below
				bottom = l.foot - 33
			}
			d.whole(o, l, l.top, bottom)
		}
	}
	d.WriteString("</svg>\n")
	return d.String()
}

// describe says in words what a drawing shows.
func describe(o *Outcome, s Style) string {
	words := o.Name() + ": " + o.VerdictLine(s)
	if r := o.Reading; r != nil && r.Lost != nil {
		words += ". Lost " + s.lost(r.Lost.Vacuum) + " in " + seconds(r.Lost.Over)
	}
	return words + "."
}

// title draws state, name and figure over a plot that stands alone.
func (d *drawing) title(o *Outcome) {
	d.WriteString(swatch(o.State(), 24, 20, 34))
	word := o.verdictCell()
	size := 26.0
	if o.State() == Leaks {
		fmt.Fprintf(d, `<rect class="plate" x="70" y="20" width="102" height="34"/><text class="on" x="78" y="46" style="font-size:26px">%s</text>`, word)
	} else {
		fmt.Fprintf(d, `<text class="b" x="70" y="46" style="font-size:%spx">%s</text>`, px(size), html.EscapeString(word))
	}
	fmt.Fprintf(d, `<text class="b" text-anchor="end" x="736" y="46" style="font-size:18px">%s</text>`, html.EscapeString(o.Name()))
	line := ""
	if o.Answered() {
		line = o.figures(d.s)
	} else {
		line = o.Why(d.s).What
	}
	for i, part := range strings.Split(wrapAt(line, "", 96), "\n") {
		if i < 2 {
			d.text("cap", "start", 24, 76+18*float64(i), part)
		}
	}
}

// frame draws grid, axes and labels of a panel.
func (d *drawing) frame(x, y axis, xt, yt []float64, xd, yd int, top, bottom float64) {
	for _, t := range yt {
		d.line("grid", x.a, y.at(t), x.b, y.at(t))
		d.text("cap", "end", x.a-8, y.at(t)+4.5, label(t, yd))
	}
	for _, t := range xt {
		d.line("grid", x.at(t), top, x.at(t), bottom)
		d.text("cap", "middle", x.at(t), bottom+17, label(t, xd))
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sV%sH%s"/>`, px(x.a), px(top), px(bottom), px(x.b))
}

// held returns the samples of the hold without those, at its very end, in which
// the vent already shows: the fit leaves them out too.
func (o *Outcome) held() []Point {
	pts, c := o.Sketch.Hold, o.Reading.Curve
	if o.Sketch.Hand || len(c) == 0 || len(pts) == 0 {
		return pts
	}
	const vent = 0.5 // s
	from := max(c[len(c)-1].Time, pts[len(pts)-1].Time-vent)
	n := len(pts)
	for n > 2 && pts[n-1].Time > from {
		n--
	}
	return pts[:n]
}

// othersHeld returns the holds of the other tests of the port, from their own
// shut-off, the vacuum in units of size.
func (o *Outcome) othersHeld(size float64) [][]Point {
	var out [][]Point
	for i, e := range o.Each {
		if i == o.Middle || !e.Answered() || len(e.Sketch.Hold) < 2 || e.Sketch.Hand {
			continue
		}
		zero := e.Sketch.Hold[0].Time
		if h := holdOf(e.Reading.Phases); h != nil {
			zero = h.From
		}
		var pts []Point
		for _, p := range e.held() {
			pts = append(pts, Point{p.Time - zero, p.Vacuum / size})
		}
		out = append(out, pts)
	}
	return out
}

// broke returns when the drawn hold broke [s since the shut-off]; 0: it did not.
func (o *Outcome) broke() float64 {
	r := o.Reading
	if len(o.Each) > 0 {
		r = o.Each[o.Middle].Reading
	}
	for _, w := range r.Warnings {
		if w.Code == leak.HoldBreaks {
			return w.Figure
		}
	}
	return 0
}

// hold draws the hold, large: the samples, the fitted curve in its band and
// the limit.
func (d *drawing) hold(o *Outcome, l layout) {
	u := d.s.unit()
	zero := o.Sketch.Hold[0].Time
	if h := holdOf(o.Reading.Phases); h != nil {
		zero = h.From
	}
	scaled := func(pts []Point) []Point {
		out := make([]Point, len(pts))
		for i, p := range pts {
			out[i] = Point{p.Time - zero, p.Vacuum / u.Size}
		}
		return out
	}
	samples := scaled(o.held())
	var fit []Point
	for _, c := range o.Reading.Curve {
		fit = append(fit, Point{c.Time - zero, c.Vacuum / u.Size})
	}
	high, low := o.bandOf()
	high, low = scaled(high), scaled(low)
	var limit []Point
	if o.Limit != nil && o.Reading.Leak != nil {
		limit = scaled(o.other(o.one().Median, o.Limit.Flow, 0))
	}
	var seen []Point
	others := o.othersHeld(u.Size)
	for _, pts := range append([][]Point{samples, fit, limit}, others...) {
		seen = append(seen, pts...)
	}
	t0, t1, v0, v1, _ := extent(seen)
	t0 = min(t0, 0)
	n := l.ticks - 1
	y, yt, yd := linear(v0, v1, l.bottom, l.top, n)
	xt, xd := within(t0, t1, l.ticks-1)
	x := axis{from: t0, to: t1, a: l.left, b: l.right}
	d.frame(x, y, xt, yt, xd, yd, l.top, l.bottom)
	d.text("b", "start", l.left, l.top-10, "vacuum, "+u.Name)
	d.text("b", "middle", (l.left+l.right)/2, l.bottom+33, "seconds since the pump was shut off")
	if len(others) > 0 {
		d.text("cap", "end", l.right, l.top-10, "thin: "+count(len(others), "other test"))
	}
	if at := o.broke(); at > 0 {
		d.line("broke", x.at(at), l.top, x.at(at), l.bottom)
		d.text("cap", "end", l.right, l.top-10, "broke after "+seconds(at))
	}

	if len(high) > 1 && len(low) > 1 {
		back := make([]Point, len(low))
		for i, p := range low {
			back[len(low)-1-i] = p
		}
		fmt.Fprintf(d, `<path class="band" d="%s %sZ"/>`, joined(high, x, y, "M"), joined(back, x, y, "L"))
	}
	for _, pts := range others {
		fmt.Fprintf(d, `<path class="thin" style="opacity:.4" d="%s"/>`, joined(pts, x, y, "M"))
	}
	if o.Sketch.Hand {
		for _, p := range samples {
			fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="4"/>`, px(x.at(p.Time)), px(y.at(p.Vacuum)))
		}
	} else {
		d.path("thin", samples, x, y)
	}
	d.path("limit", limit, x, y)
	d.path("fit", fit, x, y)

	// Names at the lines' ends, pushed apart where they would touch.
	type name struct {
		y            float64
		class, words string
	}
	var names []name
	if len(fit) > 0 {
		names = append(names, name{y.at(fit[len(fit)-1].Vacuum), "b", "fitted"})
	} else {
		names = append(names, name{y.at(samples[len(samples)-1].Vacuum), "", "trace"})
	}
	if len(limit) > 0 {
		names = append(names, name{y.at(limit[len(limit)-1].Vacuum), "b acc", "limit " + d.s.flow(o.Limit.Flow)})
	}
	if len(names) == 2 {
		const gap = 17
		a, b := &names[0], &names[1]
		if a.y > b.y {
			a, b = b, a
		}
		if short := gap - (b.y - a.y); short > 0 {
			a.y, b.y = a.y-short/2, b.y+short/2
		}
		if over := b.y - l.bottom; over > 0 {
			b.y -= over
			a.y = min(a.y, b.y-gap)
		}
	}
	for _, n := range names {
		d.text(n.class, "start", l.right+7, n.y+4.5, n.words)
	}
}

// whole draws the whole trace with its phases named.
func (d *drawing) whole(o *Outcome, l layout, top, bottom float64) {
	u := d.s.unit()
	t0, t1, v0, v1, ok := extent(o.Sketch.All)
	if !ok {
		return
	}
	if t1 <= t0 {
		t1 = t0 + 1
	}
	small := bottom-top < 100
	n := 4
	if small {
		n = 1
	}
	lo, hi := v0/u.Size, max(v1/u.Size, 1e3/u.Size)
	if lo > -0.05*hi { // noise about zero
		lo = 0
	}
	y, yt, yd := linear(lo, hi, bottom, top, n)
	if small {
		y = axis{from: lo, to: hi, a: bottom, b: top}
		yt, yd = []float64{0}, 0
		if v1/u.Size > 0.5 {
			yt = append(yt, math.Floor(v1/u.Size))
		}
	}
	x := axis{from: t0, to: t1, a: l.left, b: l.right}
	xt, xd := within(t0, t1, l.ticks-1)
	d.frame(x, y, xt, yt, xd, yd, top, bottom)
	if !small {
		d.text("b", "start", l.left, top-10, "vacuum, "+u.Name)
		d.text("b", "middle", (l.left+l.right)/2, bottom+33, "seconds")
	}
	var phases []trace.Phase
	if o.Reading != nil {
		phases = o.Reading.Phases
	}
	for i, p := range phases {
		a, b := x.at(p.From), x.at(p.To)
		if i > 0 {
			d.line("part", a, top-8, a, bottom)
		}
		if p.Name == trace.Hold {
			fmt.Fprintf(d, `<rect class="here" x="%s" y="%s" width="%s" height="%s"/>`, px(a), px(top), px(max(0, b-a)), px(bottom-top))
		}
	}
	scaled := make([]Point, len(o.Sketch.All))
	for i, p := range o.Sketch.All {
		scaled[i] = Point{p.Time, p.Vacuum / u.Size}
	}
	if o.Sketch.Hand {
		for _, p := range scaled {
			fmt.Fprintf(d, `<circle class="mark" cx="%s" cy="%s" r="4"/>`, px(x.at(p.Time)), px(y.at(p.Vacuum)))
		}
	} else {
		d.path("thin", scaled, x, y)
	}
	for _, p := range phases {
		a, b := x.at(p.From), x.at(p.To)
		name := string(p.Name)
		if p.Name == trace.Steady && o.Reading.Refusal != nil && o.Reading.Refusal.Code == leak.GaugeStuck {
			name = "stood still" // no steady reading
		}
		if w := 7.2 * float64(len(name)); b-a > w+2 {
			d.text("cap halo", "middle", (a+b)/2, bottom-(bottom-top)*0.32, name)
		}
	}
}

// intervals draws both intervals on one log line between holds and leaks: this
// trace (or these tests) a thick bar, tested again a thin one with end marks.
func intervals(o *Outcome, s Style) string {
	r := o.Reading
	if r == nil || r.Leak == nil || r.Refusal != nil {
		return ""
	}
	const (
		left, right = 6.0, 354.0
		top, base   = 18.0, 74.0
	)
	low, high := r.Leak.Low, r.Leak.High
	if r.TestedAgain != nil {
		low, high = min(low, r.TestedAgain.Low), max(high, r.TestedAgain.High)
	}
	if o.Limit != nil {
		low, high = min(low, o.Limit.Flow/4), max(high, o.Limit.Flow*4)
	}
	floor := r.Leak.High / 100
	low, high = max(low, floor)*cm3min/1.3, high*cm3min*1.3
	if !(low > 0) || !(high > low) || math.IsInf(high, 0) {
		return ""
	}
	x := axis{from: low, to: high, a: left, b: right, log: true}
	d := &drawing{s: s}
	fmt.Fprintf(d, `<svg class="d" role="img" viewBox="0 0 360 94" aria-label="%s">`, html.EscapeString("Both intervals on one line, cm³/min: "+o.leakWords(s)))
	if o.Limit != nil {
		at := x.at(o.Limit.Flow * cm3min)
		fmt.Fprintf(d, `<g class="soft"><rect class="h-holds" x="%s" y="%s" width="%s" height="%s"/><rect class="h-leaks" x="%s" y="%s" width="%s" height="%s"/></g>`,
			px(left), px(top), px(at-left), px(base-top), px(at), px(top), px(right-at), px(base-top))
		d.line("limit", at, top-4, at, base)
		d.text("b acc", "middle", min(max(at, 40), 320), 11, "limit "+s.flow(o.Limit.Flow))
		if at-left > 52 {
			d.text("b halo", "start", left+6, top+14, "holds")
		}
		if right-at > 52 {
			d.text("b acc halo", "end", right-6, top+14, "leaks")
		}
	}
	fmt.Fprintf(d, `<path class="axis" d="M%s %sH%s"/>`, px(left), px(base), px(right))
	ticks := decades(low, high)
	for len(ticks) > 7 {
		var fewer []float64
		for i := 0; i < len(ticks); i += 2 {
			fewer = append(fewer, ticks[i])
		}
		ticks = fewer
	}
	for _, t := range ticks {
		d.line("axis", x.at(t), base, x.at(t), base+5)
		half := 4.5 * float64(len(Figure(t, 1)))
		d.text("cap", "middle", min(max(x.at(t), half), 360-half), base+18, Figure(t, 1))
	}
	from := r.Leak.Low * cm3min
	if r.UpperLimitOnly {
		from = low
	}
	a, b := x.at(from), x.at(r.Leak.High*cm3min)
	fmt.Fprintf(d, `<rect class="bar" x="%s" y="38" width="%s" height="9"/>`, px(a), px(max(3, b-a)))
	if g := r.TestedAgain; g != nil {
		from := g.Low * cm3min
		if r.UpperLimitOnly {
			from = low
		}
		a, b := x.at(from), x.at(g.High*cm3min)
		fmt.Fprintf(d, `<path class="axis two" d="M%s 60H%s`, px(a), px(b))
		if !r.UpperLimitOnly {
			fmt.Fprintf(d, `M%s 54V66`, px(a))
		}
		fmt.Fprintf(d, `M%s 54V66"/>`, px(b))
		if !r.UpperLimitOnly {
			fmt.Fprintf(d, `<circle class="bar" cx="%s" cy="60" r="4.5"/>`, px(x.at(r.Leak.Median*cm3min)))
		}
	}
	d.WriteString("</svg>")
	return d.String()
}

package report

import (
	"fmt"
	"html"
	"math"
	"slices"
	"strings"

	"seatproof/head"
)

// PlanPort is what a plan says at one port.
type PlanPort struct {
	State  State
	Figure string // "9.6 cm³/min", or words: "worked on since"
	Link   string // "" for none
	Retest bool   // it holds, and must be tested again
}

// PlanWords says how much is written at the mouths.
type PlanWords string

// The amounts.
const (
	PlanFull  PlanWords = "full"  // name, verdict, figure
	PlanShort PlanWords = "short" // name
	PlanNone  PlanWords = "none"  // nothing: a mini drawing
)

// Plan is a drawing of a head in plan.
type Plan struct {
	Job    head.Job
	Ports  map[string]PlanPort // by the port's identity; absent: not tested
	Masked map[string]bool     // valves, by identity
	Valves map[string]State    // of valves that stand otherwise than their port does, by identity
	Width  float64             // px
	Words  PlanWords
	Here   string // the port under test: states are dropped and only it is filled
}

// States that only a drawing of a head knows.
const (
	Lapsed    State = "lapsed"
	NotTested State = "not tested"
	Masked    State = "masked"
)

// sheetScale is how large a head is drawn: to the width there is, but a single
// must not fill the sheet.
func (pl Plan) sheetScale(p head.Plan) (scale, left float64) {
	w := math.Max(pl.Width, 60)
	edge := 28.0
	if pl.Words == PlanNone || w < 420 {
		edge = 12
	}
	scale = math.Min((w-2*edge)/p.Width, 460/p.Height)
	return scale, (w - p.Width*scale) / 2
}

// ScaleBar returns how many px of the screen 50 mm of the head are.
func (pl Plan) ScaleBar() float64 {
	scale, _ := pl.sheetScale(head.PlanOf(&pl.Job))
	return 50 * scale
}

// SVG draws a head in plan from its own data, to scale, as it lies before the
// person, each port and valve in the hatch of its state. Hatches are px of the
// screen and come from [HatchDefs], which the page holds once.
func (pl Plan) SVG() string {
	p := head.PlanOf(&pl.Job)
	in := inked{Plan: pl, plan: p}
	in.scale, in.left = pl.sheetScale(p)
	said := in.arrange()
	in.top = said.top
	w, h := math.Max(pl.Width, 60), p.Height*in.scale+said.top+said.bottom
	class := "plan"
	if pl.Words == PlanNone {
		class = "plan mini"
	}
	fmt.Fprintf(&in, `<svg xmlns="http://www.w3.org/2000/svg" class="%s" role="group" viewBox="0 0 %s %s" width="%s" height="%s" aria-label="%s">`,
		class, px(w), px(h), px(w), px(h), html.EscapeString(pl.describe()))
	for _, s := range p.Shapes {
		in.shape(s)
	}
	gap := in.room()
	for _, above := range []bool{true, false} {
		in.saySide(&said, above)
	}
	for _, s := range slices.Concat(said.above, said.below) {
		in.say(&said, s, gap)
	}
	for _, l := range p.Labels {
		if l.Kind == head.LabelLandmark {
			in.landmark(l)
		}
	}
	in.WriteString("</svg>")
	return in.String()
}

// inked is a plan being drawn.
type inked struct {
	Plan
	strings.Builder
	plan             head.Plan
	scale, left, top float64
}

func (in *inked) x(mm float64) float64 { return in.left + mm*in.scale }
func (in *inked) y(mm float64) float64 { return in.top + mm*in.scale }

// room is the least distance between the names of two ports of a side [px].
func (in *inked) room() float64 {
	least := math.Inf(1)
	for i, a := range in.plan.Labels {
		for _, b := range in.plan.Labels[:i] {
			if a.Kind == head.LabelPort && b.Kind == head.LabelPort && a.Above == b.Above {
				least = min(least, math.Abs(a.At.X-b.At.X)*in.scale)
			}
		}
	}
	return least
}

func (pl Plan) describe() string {
	return fmt.Sprintf("Plan of the head: %d cylinders, %d ports. %s", pl.Job.Engine.Cylinders, len(pl.Job.Ports), LieWords(pl.Job.Lie))
}

// path is a shape's outline in px.
func (in *inked) path(segments []head.Segment) string {
	var b strings.Builder
	at := func(p head.Point) string { return px(in.x(p.X)) + " " + px(in.y(p.Y)) }
	for _, s := range segments {
		b.WriteString(s.Op)
		switch s.Op {
		case "C":
			b.WriteString(at(s.Control1) + " " + at(s.Control2) + " " + at(s.To))
		case "M", "L":
			b.WriteString(at(s.To))
		}
	}
	return b.String()
}

// look says how a port is drawn: what is said of it, its state as drawn, the
// class of its lines and its hatch.
func (pl Plan) look(port string) (said PlanPort, st State, kind, fill string) {
	said = pl.Ports[port]
	if said.State == "" {
		said.State = NotTested
	}
	st = said.State
	if pl.Here != "" {
		st = NotTested
	}
	kind = planClass(st)
	if pl.Here != "" && pl.Here == port {
		kind = "here"
	}
	return said, st, kind, planFill(st)
}

// shape gives one shape its ink.
func (in *inked) shape(s head.Shape) {
	mini := in.Words == PlanNone
	_, st, kind, fill := in.look(s.Port)
	if own, ok := in.Valves[s.Valve]; ok && s.Kind == head.ShapeValve && in.Here == "" {
		st, kind, fill = own, planClass(own), planFill(own)
	}
	draw := func(class, paint string, more float64) {
		if paint != "" {
			paint = ` fill="` + paint + `"`
		}
		if s.R > 0 {
			fmt.Fprintf(in, `<circle class="%s"%s cx="%s" cy="%s" r="%s"/>`, class, paint, px(in.x(s.Centre.X)), px(in.y(s.Centre.Y)), px(s.R*in.scale*more))
			return
		}
		fmt.Fprintf(in, `<path class="%s"%s d="%s"/>`, class, paint, in.path(s.Path))
	}
	switch s.Kind {
	case head.ShapeOutline:
		draw("metal", "", 1)
	case head.ShapeBore:
		draw("bore", "", 1)
	case head.ShapeBoltHole, head.ShapePlug, head.ShapeLandmark:
		if !mini {
			draw("hole", "", 1)
		}
	case head.ShapeCentreLine:
		if !mini {
			draw("centre", "", 1)
		}
	case head.ShapePassage:
		draw("passage "+kind, fill, 1)
	case head.ShapeCrotch:
		if kind != "here" {
			draw("crotch "+kind, "", 1)
		}
	case head.ShapeMouth:
		draw("mouth "+kind, "", 1)
		if kind == "here" {
			in.arrow(s)
		}
	case head.ShapeValve:
		draw("valve "+kind, "", 1)
		switch {
		case mini:
		case in.Masked[s.Valve]:
			draw("seat", "var(--ink)", .88)
		default:
			draw("seat "+kind, fill, .88)
			if st == Refused {
				x, y, r := in.x(s.Centre.X), in.y(s.Centre.Y), s.R*in.scale*.6
				fmt.Fprintf(in, `<path class="x" d="M%s %sL%s %sM%s %sL%s %s"/>`, px(x-r), px(y-r), px(x+r), px(y+r), px(x+r), px(y-r), px(x-r), px(y+r))
			}
		}
	}
}

// arrow points at the mouth of the port under test.
func (in *inked) arrow(s head.Shape) {
	if len(s.Path) < 2 {
		return
	}
	a, z := s.Path[0].To, s.Path[len(s.Path)-1].To
	x, y, down := (in.x(a.X)+in.x(z.X))/2, in.y(a.Y), 1.0
	if a.Y < in.plan.Height/2 {
		down = -1
	}
	fmt.Fprintf(in, `<path class="arrow" d="M%s %sl-11 %sh22z"/>`, px(x), px(y+down*6), px(down*16))
}

// landmark names what is at an end, in the metal: below the centre line where
// there is room for the words, else across it, else nowhere.
func (in *inked) landmark(l head.Label) {
	var box head.Shape
	for _, s := range in.plan.Shapes {
		if s.Kind == head.ShapeLandmark {
			box = s
		}
	}
	if in.Words == PlanNone || len(box.Path) < 3 {
		return
	}
	mid, low := in.y(l.At.Y), in.y(max(box.Path[0].To.Y, box.Path[2].To.Y))
	width, across := wide(l.Text, sideSize), math.Abs(box.Path[1].To.X-box.Path[0].To.X)*in.scale
	at, anchor, class := low-8, "start", "side cap"
	switch {
	case across < 17 || width > 2*(low-mid)-16:
		return
	case width > low-mid-12:
		at, anchor, class = mid, "middle", "side cap onhole"
	}
	fmt.Fprintf(in, `<text class="%s" text-anchor="%s" transform="translate(%s %s) rotate(-90)">%s</text>`, class, anchor, px(in.x(l.At.X)+4.5), px(at), html.EscapeString(l.Text))
}

// LieWords says how a head lies.
func LieWords(l head.Lie) string {
	if !l.Said {
		return "How it lies on your bench was not said: drawn chambers up, cylinder 1 at the left."
	}
	up, end, mark := "Chambers up", "right", "cylinder 1's end"
	if !l.ChambersUp {
		up = "Cam side up, the chambers drawn as seen through the metal"
	}
	if l.FirstLeft {
		end = "left"
	}
	if l.Landmark != "" {
		mark = l.Landmark
	}
	return fmt.Sprintf("%s, %s at the %s.", up, mark, end)
}

// planFill is the hatch of a state, as a paint.
func planFill(s State) string {
	switch s {
	case Holds:
		return "url(#holds)"
	case Leaks:
		return "url(#leaks)"
	case CantTellYet, NoVerdict:
		return "url(#open)"
	case Lapsed:
		return "url(#lapsed)"
	case Masked:
		return "var(--ink)"
	}
	return "none"
}

func planClass(s State) string {
	switch s {
	case Leaks:
		return "leaks"
	case NotTested:
		return "none"
	}
	return ""
}

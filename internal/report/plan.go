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

// PlanPort is what a plan says at one port.
type PlanPort struct {
	State  State
	Figure string // "9.6 cm³/min", or words: "worked on since"
	Link   string // "" for none
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

// guessedBore is drawn where nobody gave a bore (a guess; common practice, no
// source).
const guessedBore = 80e-3 // m

// valveAt is a valve as it is drawn: in mm, x along the head from the end at
// which its maker starts to count, y from the middle towards the intake side.
type valveAt struct {
	id, port string
	x, y, r  float64
}

type mouthAt struct {
	port   head.Port
	x, y   float64
	half   float64
	valves []valveAt
}

// geometry is a head in plan, before it is turned to lie as it does.
type geometry struct {
	bore, pitch, length, depth, margin float64 // mm
	cylinders                          []int   // numbers, in the order they stand
	centres                            []float64
	mouths                             []mouthAt
}

// valvePlaces are where the valves of one side stand in a bore of 1, by how
// many there are: x, y, and the diameter guessed where none was given.
var valvePlaces = map[int][][3]float64{
	1: {{0, .235, .42}},
	2: {{-.195, .205, .35}, {.195, .205, .35}},
	3: {{-.29, .115, .28}, {0, .27, .28}, {.29, .115, .28}},
}

// planGeometry puts cylinders, valves and ports where they stand.
func planGeometry(j head.Job) geometry {
	g := geometry{bore: j.Engine.Bore.Value * 1e3}
	if !j.Engine.Bore.Known || g.bore <= 0 {
		g.bore = guessedBore * 1e3
	}
	g.pitch, g.depth, g.margin = 1.14*g.bore, 2.04*g.bore, .36*g.bore
	for _, v := range j.Valves {
		if !slices.Contains(g.cylinders, v.Cylinder) {
			g.cylinders = append(g.cylinders, v.Cylinder)
		}
	}
	slices.Sort(g.cylinders)
	n := max(1, len(g.cylinders))
	g.length = float64(n)*g.pitch + g.margin + .1*g.bore
	for i := range g.cylinders {
		g.centres = append(g.centres, g.margin+(float64(i)+.5)*g.pitch)
	}
	portOf := map[string]string{}
	for _, p := range j.Ports {
		for _, v := range p.Valves {
			portOf[v] = p.ID
		}
	}
	at := map[string]valveAt{}
	for i, c := range g.cylinders {
		for _, side := range []head.Side{head.Intake, head.Exhaust} {
			var vs []head.Valve
			for _, v := range j.Valves {
				if v.Cylinder == c && v.Side == side {
					vs = append(vs, v)
				}
			}
			for k, v := range vs {
				place := [3]float64{(float64(k) - float64(len(vs)-1)/2) * .25, .2, .2}
				if p := valvePlaces[len(vs)]; p != nil {
					place = p[k]
				}
				if side == head.Exhaust {
					place[1], place[2] = -place[1], .86*place[2]
				}
				d := place[2] * g.bore
				if v.Head.Known && v.Head.Value*1e3 < .7*g.bore {
					d = v.Head.Value * 1e3
				}
				at[v.ID] = valveAt{v.ID, portOf[v.ID], g.centres[i] + place[0]*g.bore, place[1] * g.bore, d / 2}
			}
		}
	}
	for _, p := range j.Ports {
		m := mouthAt{port: p, y: g.depth / 2}
		if p.Side == head.Exhaust {
			m.y = -m.y
		}
		for _, id := range p.Valves {
			if v, ok := at[id]; ok {
				m.valves = append(m.valves, v)
			}
		}
		if len(m.valves) == 0 {
			continue
		}
		slices.SortFunc(m.valves, func(a, b valveAt) int { return cmp.Compare(a.x, b.x) })
		for _, v := range m.valves {
			m.x += v.x / float64(len(m.valves))
		}
		m.half = .145 * g.bore
		if len(m.valves) > 1 {
			m.half = .27 * g.bore
		}
		g.mouths = append(g.mouths, m)
	}
	return g
}

// placed turns a point of the geometry to lie as the head does, in px.
type placed struct {
	g          geometry
	lie        head.Lie
	scale      float64 // px a mm
	left, top  float64 // px, of the metal
	wide, high float64 // px, of the metal
}

func (p placed) x(mm float64) float64 {
	if !p.lie.FirstLeft && p.lie.Said {
		mm = p.g.length - mm
	}
	return p.left + mm*p.scale
}

func (p placed) y(mm float64) float64 {
	if p.lie.IntakeAway {
		mm = -mm
	}
	return p.top + p.high/2 + mm*p.scale
}

// down is 1 where the side's mouth lies towards the person, -1 where away.
func (p placed) down(s head.Side) float64 {
	if (s == head.Intake) != p.lie.IntakeAway {
		return 1
	}
	return -1
}

// SVG draws a head in plan from its own data, to scale, as it lies before the
// person, each port and valve in the hatch of its state. Hatches are px of the
// screen and come from [HatchDefs], which the page holds once.
func (pl Plan) SVG() string {
	g := planGeometry(pl.Job)
	w := math.Max(pl.Width, 60)
	mini := pl.Words == PlanNone
	edge := 28.0
	if mini || w < 420 {
		edge = 12
	}
	p := placed{g: g, lie: pl.Job.Lie, left: edge}
	p.wide = w - 2*edge
	p.scale = p.wide / g.length
	if most := 460.0 / g.depth; p.scale > most { // a single must not fill the sheet
		p.scale = most
		p.wide = g.length * p.scale
		p.left = (w - p.wide) / 2
	}
	p.high = g.depth * p.scale
	gap := pl.room(g, p)
	words := pl.Words
	if words == PlanFull && gap < 128 {
		words = PlanShort
	}
	over := map[PlanWords]float64{PlanFull: 92, PlanShort: 34, PlanNone: 8}[words]
	if mini && pl.Here != "" {
		over = 24
	}
	p.top = over
	h := p.high + 2*over
	var d strings.Builder
	class := "plan"
	if mini {
		class = "plan mini"
	}
	fmt.Fprintf(&d, `<svg xmlns="http://www.w3.org/2000/svg" class="%s" role="group" viewBox="0 0 %s %s" width="%s" height="%s" aria-label="%s">`,
		class, px(w), px(h), px(w), px(h), html.EscapeString(pl.describe()))
	pl.metal(&d, p, mini)
	// Passages run under the bores' rings, and valves stand in them.
	for _, m := range g.mouths {
		pl.passage(&d, p, m)
	}
	for i := range g.centres {
		fmt.Fprintf(&d, `<circle class="bore" cx="%s" cy="%s" r="%s"/>`, px(p.x(g.centres[i])), px(p.y(0)), px(g.bore*p.scale/2))
	}
	for _, m := range g.mouths {
		pl.port(&d, p, m, words)
	}
	if !mini {
		pl.centreLines(&d, p)
	}
	d.WriteString("</svg>")
	return d.String()
}

// room is the least distance between two mouths of a side [px].
func (pl Plan) room(g geometry, p placed) float64 {
	least := math.Inf(1)
	for i, a := range g.mouths {
		for _, b := range g.mouths[:i] {
			if a.port.Side == b.port.Side {
				least = min(least, math.Abs(a.x-b.x)*p.scale)
			}
		}
	}
	return least
}

func (pl Plan) describe() string {
	return fmt.Sprintf("Plan of the head: %d cylinders, %d ports. %s", pl.Job.Engine.Cylinders, len(pl.Job.Ports), LieWords(pl.Job.Lie))
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

// metal draws outline, landmark, holes and bores' rings behind the ports.
func (pl Plan) metal(d *strings.Builder, p placed, mini bool) {
	c := math.Min(14, p.high*.05)
	l, t, r, b := p.left, p.top, p.left+p.wide, p.top+p.high
	fmt.Fprintf(d, `<path class="metal" d="M%s %sL%s %sL%s %sL%s %sL%s %sL%s %sL%s %sL%s %sZ"/>`,
		px(l+c), px(t), px(r-c), px(t), px(r), px(t+c), px(r), px(b-c), px(r-c), px(b), px(l+c), px(b), px(l), px(b-c), px(l), px(t+c))
	if mini {
		return
	}
	a, z := p.x(.07*p.g.bore), p.x(.24*p.g.bore)
	if a > z {
		a, z = z, a
	}
	fmt.Fprintf(d, `<rect class="hole" x="%s" y="%s" width="%s" height="%s"/>`, px(a), px(t+p.high*.18), px(z-a), px(p.high*.64))
	if mark := pl.Job.Lie.Landmark; mark != "" && p.high*.6 > 9*float64(len(mark)) && z-a > 16 {
		fmt.Fprintf(d, `<text class="cap" text-anchor="middle" transform="translate(%s %s) rotate(-90)">%s</text>`, px((a+z)/2+4.5), px(t+p.high*.655), html.EscapeString(mark))
	}
	for i := 0; i <= len(p.g.centres); i++ {
		mm := p.g.margin + float64(i)*p.g.pitch
		if i == 0 {
			mm += .02 * p.g.bore
		}
		for _, y := range []float64{-.36 * p.g.depth, .36 * p.g.depth} {
			fmt.Fprintf(d, `<circle class="hole" cx="%s" cy="%s" r="%s"/>`, px(p.x(mm)), px(p.y(y)), px(.07*p.g.bore*p.scale))
		}
	}
}

// fill is the hatch of a state, as a paint.
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

// look says how a port is drawn: what is said of it, its state as drawn, the
// class of its lines and its hatch.
func (pl Plan) look(port head.Port) (said PlanPort, st State, kind, fill string) {
	said = pl.Ports[port.ID]
	if said.State == "" {
		said.State = NotTested
	}
	st = said.State
	if pl.Here != "" {
		st = NotTested
	}
	kind = planClass(st)
	if pl.Here == port.ID {
		kind = "here"
	}
	return said, st, kind, planFill(st)
}

// passage draws the way from a port's mouth to its valves, hidden under the face.
func (pl Plan) passage(d *strings.Builder, p placed, m mouthAt) {
	_, _, kind, fill := pl.look(m.port)
	path := passage(p, m)
	if pl.Here == m.port.ID {
		fmt.Fprintf(d, `<path class="passage here" d="%s"/>`, path)
		return
	}
	fmt.Fprintf(d, `<path class="passage %s" fill="%s" d="%s"/>`, kind, fill, path)
}

// port draws one port over its passage: its valves, its mouth and what is said
// there.
func (pl Plan) port(d *strings.Builder, p placed, m mouthAt, words PlanWords) {
	said, st, kind, fill := pl.look(m.port)
	here := pl.Here == m.port.ID
	name := PortName(m.port)
	open, end := `<g>`, `</g>`
	if said.Link != "" {
		label := sentence(name) + ", " + string(said.State)
		if said.Figure != "" {
			label += ", " + said.Figure
		}
		open, end = fmt.Sprintf(`<a href="%s" aria-label="%s">`, html.EscapeString(said.Link), html.EscapeString(label)), `</a>`
	}
	d.WriteString(open)
	for _, v := range m.valves {
		vk, vf := kind, fill
		if pl.Masked[v.id] {
			vk, vf = "", "var(--ink)"
		}
		x, y, r := px(p.x(v.x)), px(p.y(v.y)), v.r*p.scale
		if here {
			fmt.Fprintf(d, `<circle class="valve here" cx="%s" cy="%s" r="%s"/>`, x, y, px(r))
			continue
		}
		fmt.Fprintf(d, `<circle class="valve %s" cx="%s" cy="%s" r="%s"/>`, vk, x, y, px(r))
		if pl.Words != PlanNone {
			fmt.Fprintf(d, `<circle class="seat %s" fill="%s" cx="%s" cy="%s" r="%s"/>`, vk, vf, x, y, px(r*.88))
			if st == Refused {
				fmt.Fprintf(d, `<path class="x" d="M%s %sL%s %sM%s %sL%s %s"/>`, px(p.x(v.x)-r*.6), px(p.y(v.y)-r*.6), px(p.x(v.x)+r*.6), px(p.y(v.y)+r*.6), px(p.x(v.x)+r*.6), px(p.y(v.y)-r*.6), px(p.x(v.x)-r*.6), px(p.y(v.y)+r*.6))
			}
		}
	}
	x, y, half, down := p.x(m.x), p.y(m.y), m.half*p.scale, p.down(m.port.Side)
	fmt.Fprintf(d, `<path class="mouth %s" d="M%s %sH%s"/>`, kind, px(x-half), px(y), px(x+half))
	if here {
		fmt.Fprintf(d, `<path class="arrow" d="M%s %sl-11 %sh22z"/>`, px(x), px(y+down*6), px(down*16))
	}
	pl.say(d, m, said, x, y, down, words)
	if said.Link != "" { // a finger's worth of target about the mouth
		reach := math.Max(24, half)
		top, high := y-64, 88.0
		if down > 0 {
			top = y - 24
		}
		fmt.Fprintf(d, `<path class="target" d="%s"/><rect class="target" x="%s" y="%s" width="%s" height="%s"/>`, passage(p, m), px(x-reach), px(top), px(2*reach), px(high))
	}
	d.WriteString(end)
}

// say writes at a mouth.
func (pl Plan) say(d *strings.Builder, m mouthAt, said PlanPort, x, y, down float64, words PlanWords) {
	text := func(class, s string, at float64) {
		fmt.Fprintf(d, `<text class="%s" text-anchor="middle" x="%s" y="%s">%s</text>`, class, px(x), px(at), html.EscapeString(strings.ReplaceAll(s, "'", "’")))
	}
	switch words {
	case PlanShort:
		at := y - 12
		if down > 0 {
			at = y + 24
		}
		text("name", PortShort(m.port), at)
	case PlanFull:
		lines := [3]float64{y - 76, y - 46, y - 21}
		if down > 0 {
			lines = [3]float64{y + 31, y + 61, y + 85}
		}
		text("cap name", sentence(PortName(m.port)), lines[0])
		word := string(said.State)
		if said.State == Leaks {
			fmt.Fprintf(d, `<rect class="plate" x="%s" y="%s" width="80" height="32"/>`, px(x-40), px(lines[1]-24))
			text("verdict on", word, lines[1])
		} else {
			text("verdict", word, lines[1])
		}
		class := "figure"
		if said.State == Leaks {
			class = "figure acc"
		}
		if figure, unit, ok := strings.Cut(said.Figure, " cm³"); ok { // the figure counts, its unit is beside it
			fmt.Fprintf(d, `<text class="%s" text-anchor="middle" x="%s" y="%s">%s<tspan class="unit"> cm³%s</tspan></text>`, class, px(x), px(lines[2]), html.EscapeString(figure), html.EscapeString(unit))
		} else if said.Figure != "" {
			text("figure unit", said.Figure, lines[2])
		}
	}
}

// passage is the outline of a port's passage from its mouth to its valves.
func passage(p placed, m mouthAt) string {
	var b strings.Builder
	ex, ey := func(mm float64) string { return px(p.x(mm)) }, func(mm float64) string { return px(p.y(mm)) }
	curve := func(x1, y1, x2, y2, x, y float64) {
		fmt.Fprintf(&b, "C%s %s %s %s %s %s", ex(x1), ey(y1), ex(x2), ey(y2), ex(x), ey(y))
	}
	first, last := m.valves[0], m.valves[len(m.valves)-1]
	y0 := m.y
	const in, inner = .95, .5
	fmt.Fprintf(&b, "M%s %s", ex(m.x-m.half), ey(y0))
	curve(m.x-m.half*1.05, y0*.8, first.x-first.r*in, y0*.62, first.x-first.r*in, first.y)
	for i := 0; i+1 < len(m.valves); i++ {
		a, z := m.valves[i], m.valves[i+1]
		mid, apex := (a.x+z.x)/2, y0*.8
		if z.x-a.x > p.g.bore*.6 { // siamesed: the branches part near the mouth
			mid, apex = m.x, y0*.86
		}
		fmt.Fprintf(&b, "L%s %s", ex(a.x+a.r*inner), ey(a.y))
		curve(a.x+a.r*inner, y0*.56, mid-m.half*.1, y0*.74, mid, apex)
		curve(mid+m.half*.1, y0*.74, z.x-z.r*inner, y0*.56, z.x-z.r*inner, z.y)
	}
	fmt.Fprintf(&b, "L%s %s", ex(last.x+last.r*in), ey(last.y))
	curve(last.x+last.r*in, y0*.62, m.x+m.half*1.05, y0*.8, m.x+m.half, y0)
	b.WriteString("Z")
	return b.String()
}

// centreLines draws the long dash and dot through the bores.
func (pl Plan) centreLines(d *strings.Builder, p placed) {
	past := 8 * p.scale
	down := min(past, 13) // what is said at the mouths stands past it
	fmt.Fprintf(d, `<path class="centre" d="M%s %sH%s`, px(p.left-past), px(p.y(0)), px(p.left+p.wide+past))
	for i := range p.g.centres {
		x := p.x(p.g.centres[i])
		fmt.Fprintf(d, `M%s %sV%s`, px(x), px(p.top-down), px(p.top+p.high+down))
		if len(p.g.mouths) > 0 && len(pl.Job.Valves) >= 4*len(p.g.centres) {
			r := .07 * p.g.bore * p.scale
			fmt.Fprintf(d, `"/><circle class="hole" cx="%s" cy="%s" r="%s"/><path class="centre" d="`, px(x), px(p.y(0)), px(r))
		}
	}
	d.WriteString(`"/>`)
}

// PortName names a port as screens and voices do: "cylinder 2 intake",
// "cylinders 2 and 3 exhaust", "cylinder 1 intake, left".
func PortName(p head.Port) string {
	name := ""
	switch len(p.Cylinders) {
	case 0:
		name = "no cylinder's"
	case 1:
		name = fmt.Sprintf("cylinder %d", p.Cylinders[0])
	default:
		var all []string
		for _, c := range p.Cylinders {
			all = append(all, fmt.Sprint(c))
		}
		name = "cylinders " + strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
	}
	name += " " + string(p.Side)
	if p.Part != "" {
		name += ", " + p.Part
	}
	return name
}

// PortShort is the name where there is little room: "2 intake".
func PortShort(p head.Port) string {
	name := strings.TrimPrefix(strings.TrimPrefix(PortName(p), "cylinders "), "cylinder ")
	return strings.ReplaceAll(name, " and ", "+")
}

// ScaleBar returns how many px of the screen 50 mm of the head are in a plan so
// many px wide.
func (pl Plan) ScaleBar() float64 {
	g := planGeometry(pl.Job)
	w := math.Max(pl.Width, 60)
	edge := 28.0
	if w < 420 {
		edge = 12
	}
	return 50 * math.Min((w-2*edge)/g.length, 460/g.depth)
}

package head

import (
	"cmp"
	"math"
	"slices"
)

// way is a port on its way out of the head: its valves' circles and its mouth on
// one side.
type way struct {
	port   *Port
	valves []Shape // from the left
	down   bool    // towards the intake side of the drawing's frame
	x, w   float64 // middle and width of the mouth
}

// ports draws the passages and returns the mouths, which are drawn last; and
// labels them.
func (d *drawing) ports() []Shape {
	var ways []*way
	for i := range d.job.Ports {
		p := &d.job.Ports[i]
		w := &way{port: p, down: p.Side == Intake || d.job.Engine.SameSide}
		sum := 0.0
		for _, id := range p.Valves {
			if v, ok := d.valves[id]; ok {
				w.valves = append(w.valves, v)
				w.x += v.Centre.X
				sum += 2 * v.R
			}
		}
		if n := float64(len(w.valves)); n > 0 {
			w.x /= n
		} else if at := slices.Index(d.cyl, first(p.Cylinders)); at >= 0 {
			w.x, sum = d.x(at), 0.4*d.bore
		} else {
			continue // of no cylinder of the head: the form asks about it
		}
		slices.SortStableFunc(w.valves, func(a, b Shape) int { return cmp.Compare(a.Centre.X, b.Centre.X) })
		w.w = math.Min(0.85*sum, 0.62*d.bore)
		ways = append(ways, w)
	}
	for _, down := range []bool{true, false} {
		var row []*way
		for _, w := range ways {
			if w.down == down {
				row = append(row, w)
			}
		}
		spread(row, 0.05*d.bore, 0.05*d.bore, d.plan.Width-0.05*d.bore)
	}
	defer d.boltHoles(ways)
	var mouths []Shape
	for _, w := range ways {
		y := 0.0
		if w.down {
			y = d.plan.Height
		}
		d.passage(w, y)
		mouths = append(mouths, Shape{
			Kind: ShapeMouth, Port: w.port.ID, Cylinder: first(w.port.Cylinders),
			Path: []Segment{move(w.x-w.w/2, y), line(w.x+w.w/2, y)},
		})
		d.plan.Labels = append(d.plan.Labels, Label{Kind: LabelPort, Port: w.port.ID, Text: capital(d.job.PortName(w.port.ID)), Short: d.job.shortName(w.port), At: Point{w.x, y}, Above: !w.down})
	}
	return mouths
}

// spread moves mouths of one side apart where they overlap, keeps their order,
// and narrows them where the side is too short for them.
func spread(row []*way, gap, from, to float64) {
	if len(row) == 0 {
		return
	}
	slices.SortStableFunc(row, func(a, b *way) int { return cmp.Compare(a.x, b.x) })
	need := gap * float64(len(row)-1)
	for _, w := range row {
		need += w.w
	}
	if need > to-from {
		shrink := (to - from) / need
		gap *= shrink
		for _, w := range row {
			w.w *= shrink
		}
	}
	// A few sweeps that share what overlaps between the two, then one from each
	// end that settles it.
	for range 50 {
		for i := 1; i < len(row); i++ {
			a, b := row[i-1], row[i]
			if over := a.x + a.w/2 + gap - (b.x - b.w/2); over > 0 {
				a.x -= over / 2
				b.x += over / 2
			}
		}
	}
	at := from
	for _, w := range row {
		w.x = math.Max(w.x, at+w.w/2)
		at = w.x + w.w/2 + gap
	}
	at = to
	for _, w := range slices.Backward(row) {
		w.x = math.Min(w.x, at-w.w/2)
		at = w.x - w.w/2 - gap
	}
}

// passage draws a port's passage from its valves to its mouth at y: one closed
// path round all its branches, and the edge between neighbouring ones.
func (d *drawing) passage(w *way, y float64) {
	id, cyl := w.port.ID, first(w.port.Cylinders)
	if len(w.valves) == 0 {
		return
	}
	out := 1.0
	if !w.down {
		out = -1
	}
	left, right := w.valves[0], w.valves[len(w.valves)-1]
	l, r := Point{left.Centre.X - left.R, left.Centre.Y}, Point{right.Centre.X + right.R, right.Centre.Y}
	ml, mr := Point{w.x - w.w/2, y}, Point{w.x + w.w/2, y}
	bend := func(from, to Point) Segment {
		h := 0.5 * (to.Y - from.Y)
		return curve(Point{from.X, from.Y + h}, Point{to.X, to.Y - 0.6*h}, to)
	}
	path := []Segment{move(ml.X, ml.Y), bend(ml, l)}
	for _, v := range w.valves { // round the inner edge of each valve
		k := 0.5523 * v.R // a quarter of a circle as a cubic
		c := v.Centre
		in := Point{c.X, c.Y - out*v.R}
		if last := path[len(path)-1].To; last != (Point{c.X - v.R, c.Y}) {
			path = append(path, line(c.X-v.R, c.Y))
		}
		path = append(path,
			curve(Point{c.X - v.R, c.Y - out*k}, Point{c.X - k, in.Y}, in),
			curve(Point{c.X + k, in.Y}, Point{c.X + v.R, c.Y - out*k}, Point{c.X + v.R, c.Y}))
	}
	path = append(path, bend(r, mr), closed())
	d.add(Shape{Kind: ShapePassage, Port: id, Cylinder: cyl, Path: path})
	for i := 1; i < len(w.valves); i++ {
		a, b := w.valves[i-1], w.valves[i]
		x0, x1 := a.Centre.X+0.6*a.R, b.Centre.X-0.6*b.R
		near := func(c Shape) float64 { return c.Centre.Y + out*0.8*c.R }
		tip := Point{w.x + ((x0+x1)/2-w.x)*0.5, y - 0.3*(y-d.mid)}
		d.add(Shape{Kind: ShapeCrotch, Port: id, Cylinder: cyl, Path: []Segment{
			move(x0, near(a)),
			curve(Point{x0, near(a) + 0.5*(tip.Y-near(a))}, Point{tip.X, tip.Y - 0.3*(tip.Y-near(a))}, tip),
			curve(Point{tip.X, tip.Y - 0.3*(tip.Y-near(b))}, Point{x1, near(b) + 0.5*(tip.Y-near(b))}, Point{x1, near(b)}),
		}})
	}
}

// boltHoles draws the bolt holes over the passages, but for those that a mouth
// leaves no room for.
func (d *drawing) boltHoles(ways []*way) {
	for i := range len(d.cyl) + 1 {
		x := d.x(i) - pitchShare/2*d.bore
		for _, down := range []bool{false, true} {
			r, y := holeShare*d.bore, d.mid-boltShare*d.bore
			if down {
				y = d.mid + boltShare*d.bore
			}
			if !slices.ContainsFunc(ways, func(w *way) bool { return w.down == down && math.Abs(w.x-x) < w.w/2+r }) {
				d.add(Shape{Kind: ShapeBoltHole, Centre: Point{x, y}, R: r})
			}
		}
	}
}

func first(n []int) int {
	if len(n) == 0 {
		return 0
	}
	return n[0]
}

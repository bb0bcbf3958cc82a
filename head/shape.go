package head

// Plan is a head in plan as it lies before the person: shapes in millimetres of
// metal, x to the right, y downwards, the outline from (0, 0) to (Width, Height).
// What is away from the person is at the top. Who draws it gives it ink.
type Plan struct {
	Width  float64 `json:"width"`  // mm
	Height float64 `json:"height"` // mm
	Shapes []Shape `json:"shapes"` // in the order to draw them
	Labels []Label `json:"labels"`
	Lie    Lie     `json:"lie"`   // that it is drawn in
	Guess  bool    `json:"guess"` // the bore is guessed: the scale is not to be trusted
}

// ShapeKind is what a shape stands for.
type ShapeKind string

// The kinds of shape.
const (
	ShapeOutline    ShapeKind = "outline"
	ShapeLandmark   ShapeKind = "landmark"
	ShapeBoltHole   ShapeKind = "bolt-hole"
	ShapePassage    ShapeKind = "port-passage" // closed: it takes the port's hatch
	ShapeCrotch     ShapeKind = "port-crotch"  // the edge between two branches of a passage, inside it
	ShapeBore       ShapeKind = "bore"
	ShapeValve      ShapeKind = "valve"     // the head's edge: it takes the valve's hatch
	ShapeThroat     ShapeKind = "throat"    // within a valve
	ShapePlug       ShapeKind = "plug-hole" // of the spark plug or injector, in the middle of a bore
	ShapeMouth      ShapeKind = "mouth"     // of a port, where the plate goes: a line
	ShapeCentreLine ShapeKind = "centre-line"
)

// Shape is a circle where R is above zero, else a path.
type Shape struct {
	Kind     ShapeKind `json:"kind"`
	Port     string    `json:"port,omitempty"`
	Valve    string    `json:"valve,omitempty"`
	Cylinder int       `json:"cylinder,omitempty"`
	Centre   Point     `json:"centre"`
	R        float64   `json:"r,omitempty"`
	Path     []Segment `json:"path,omitempty"`
}

// Point is a place on the plan [mm].
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Segment is a piece of a path, by the letters of SVG: M moves to To, L draws a
// line there, C a cubic through the two controls, Z closes.
type Segment struct {
	Op       string `json:"op"`
	Control1 Point  `json:"c1"`
	Control2 Point  `json:"c2"`
	To       Point  `json:"to"`
}

// LabelKind is what a label names.
type LabelKind string

// The kinds of label.
const (
	LabelPort     LabelKind = "port"
	LabelSide     LabelKind = "side"
	LabelLandmark LabelKind = "landmark"
)

// Label is words with the place they belong to; Above says that they stand above
// it.
type Label struct {
	Kind  LabelKind `json:"kind"`
	Port  string    `json:"port,omitempty"`
	Text  string    `json:"text"`
	Short string    `json:"short,omitempty"` // the same in a narrow place: "3 exhaust, left"
	Below string    `json:"below,omitempty"` // a second line: "away from you"
	At    Point     `json:"at"`
	Above bool      `json:"above"`
}

// turned returns a plan with every point moved; to must keep lengths.
func (p Plan) turned(to func(Point) Point) Plan {
	out := p
	out.Shapes, out.Labels = nil, nil
	for _, s := range p.Shapes {
		s.Centre = to(s.Centre)
		path := s.Path
		s.Path = nil
		for _, g := range path {
			if g.Op == "Z" {
				s.Path = append(s.Path, g)
				continue
			}
			n := Segment{Op: g.Op, To: to(g.To)}
			if g.Op == "C" {
				n.Control1, n.Control2 = to(g.Control1), to(g.Control2)
			}
			s.Path = append(s.Path, n)
		}
		out.Shapes = append(out.Shapes, s)
	}
	for _, l := range p.Labels {
		l.At = to(l.At)
		out.Labels = append(out.Labels, l)
	}
	return out
}

// mirroredEnds changes left and right, mirroredSides top and bottom.
func (p Plan) mirroredEnds() Plan {
	return p.turned(func(q Point) Point { return Point{p.Width - q.X, q.Y} })
}

func (p Plan) mirroredSides() Plan {
	out := p.turned(func(q Point) Point { return Point{q.X, p.Height - q.Y} })
	for i := range out.Labels {
		if l := &out.Labels[i]; l.Kind == LabelPort {
			l.Above = !l.Above
		}
	}
	return out
}

func move(x, y float64) Segment { return Segment{Op: "M", To: Point{x, y}} }
func line(x, y float64) Segment { return Segment{Op: "L", To: Point{x, y}} }
func curve(a, b, to Point) Segment {
	return Segment{Op: "C", Control1: a, Control2: b, To: to}
}
func closed() Segment { return Segment{Op: "Z"} }

func rectangle(x0, y0, x1, y1 float64) []Segment {
	return []Segment{move(x0, y0), line(x1, y0), line(x1, y1), line(x0, y1), closed()}
}

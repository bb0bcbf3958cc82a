package head

import (
	"math"
	"reflect"
	"strings"
	"testing"
)

// lies are the eight ways a head can lie.
func lies() []Lie {
	var out []Lie
	for i := range 8 {
		out = append(out, Lie{Said: true, ChambersUp: i&1 > 0, FirstLeft: i&2 > 0, IntakeAway: i&4 > 0, Landmark: "timing chain"})
	}
	return out
}

func (p Plan) of(kind ShapeKind) []Shape {
	var out []Shape
	for _, s := range p.Shapes {
		if s.Kind == kind {
			out = append(out, s)
		}
	}
	return out
}

// points are all the points of a shape that it goes through.
func (s Shape) points() []Point {
	var out []Point
	if s.R > 0 {
		out = append(out, s.Centre)
	}
	for _, g := range s.Path {
		if g.Op != "Z" {
			out = append(out, g.To)
		}
		if g.Op == "C" {
			out = append(out, g.Control1, g.Control2)
		}
	}
	return out
}

// Mirrored twice, either way, a plan is what it was.
func TestMirroredTwice(t *testing.T) {
	for _, s := range anySchemes(60) {
		j, _ := Layout(s)
		p := PlanOf(&j)
		for name, mirror := range map[string]func(Plan) Plan{"ends": Plan.mirroredEnds, "sides": Plan.mirroredSides} {
			once, twice := mirror(p), mirror(mirror(p))
			if reflect.DeepEqual(once, p) {
				t.Fatalf("%s: mirrored is the same", name)
			}
			if !samePlan(twice, p, 1e-9) {
				t.Fatalf("%+v: %s: mirrored twice is another plan", s, name)
			}
		}
	}
}

func samePlan(a, b Plan, tol float64) bool {
	if len(a.Shapes) != len(b.Shapes) || len(a.Labels) != len(b.Labels) || a.Width != b.Width || a.Height != b.Height {
		return false
	}
	near := func(p, q Point) bool { return math.Hypot(p.X-q.X, p.Y-q.Y) < tol }
	for i, s := range a.Shapes {
		o := b.Shapes[i]
		x, y := s.points(), o.points()
		if s.Kind != o.Kind || s.Port != o.Port || s.Valve != o.Valve || s.R != o.R || len(x) != len(y) {
			return false
		}
		for k := range x {
			if !near(x[k], y[k]) {
				return false
			}
		}
	}
	for i, l := range a.Labels {
		if o := b.Labels[i]; l.Text != o.Text || l.Above != o.Above || !near(l.At, o.At) {
			return false
		}
	}
	return true
}

// A head that is turned is the same metal: turned round on the bench, its drawing
// is turned by half a turn; rolled over, so that the other face is up, it is
// mirrored about the long axis. Neither changes the hand on which its intake
// lies, seen from the maker's first end; twice is as it was.
func TestTurning(t *testing.T) {
	j, _ := Layout(Scheme{Cylinders: 3, Valves: 5, Exhaust: PortValve, Bore: inMM(81)})
	for _, l := range append(lies(), Lie{}) {
		j.Lie = l
		p := PlanOf(&j)
		if l.TurnedOver().IntakeRight() != l.IntakeRight() || l.TurnedRound().IntakeRight() != l.IntakeRight() {
			t.Errorf("%+v: turning changed the head's hand", l)
		}
		if l.Mirrored().IntakeRight() == l.IntakeRight() {
			t.Errorf("%+v: mirrored is the same head", l)
		}
		if l.Said && (l.TurnedOver().TurnedOver() != l || l.TurnedRound().TurnedRound() != l || l.Mirrored().Mirrored() != l) {
			t.Errorf("%+v: twice is another", l)
		}
		if l.TurnedOver().ChambersUp == p.Lie.ChambersUp || l.TurnedRound().ChambersUp != p.Lie.ChambersUp {
			t.Errorf("%+v: the wrong face is up", l)
		}
		shapes := func(l Lie) Plan {
			j.Lie = l
			q := PlanOf(&j)
			q.Labels = nil
			return q
		}
		bare := p
		bare.Labels = nil
		if !samePlan(shapes(l.TurnedOver()), bare.mirroredSides(), 1e-9) {
			t.Errorf("%+v: rolled over is not the mirror about the long axis", l)
		}
		if !samePlan(shapes(l.TurnedRound()), bare.mirroredSides().mirroredEnds(), 1e-9) {
			t.Errorf("%+v: turned round is not half a turn", l)
		}
	}
}

// How it lies is how it is drawn: the maker's first cylinder and the landmark at
// the end he starts from, intake mouths on the intake side, first words at the
// top for what is away.
func TestPlanLiesAsSaid(t *testing.T) {
	j, _ := Layout(Scheme{Cylinders: 4, Valves: 4, Numbers: []int{5, 6, 7, 8}, Bore: inMM(80)})
	for _, l := range lies() {
		j.Lie = l
		p := PlanOf(&j)
		bores := map[int]Point{}
		for _, s := range p.of(ShapeBore) {
			bores[s.Cylinder] = s.Centre
		}
		if left := bores[5].X < bores[8].X; left != l.FirstLeft {
			t.Errorf("%+v: cylinder 5 at %v, 8 at %v", l, bores[5], bores[8])
		}
		mark := p.of(ShapeLandmark)[0].points()[0]
		if left := mark.X < p.Width/2; left != l.FirstLeft {
			t.Errorf("%+v: landmark at %v", l, mark)
		}
		for _, m := range p.of(ShapeMouth) {
			top := (j.port(m.Port).Side == Intake) == l.IntakeAway
			for _, q := range m.points() {
				if want := map[bool]float64{true: 0, false: p.Height}[top]; math.Abs(q.Y-want) > 1e-9 {
					t.Errorf("%+v: mouth of %s at %v, want y %v", l, j.PortName(m.Port), q, want)
				}
			}
		}
		for _, label := range p.Labels {
			switch label.Kind {
			case LabelPort:
				if label.Above != (label.At.Y < p.Height/2) {
					t.Errorf("%+v: %q stands on the metal", l, label.Text)
				}
			case LabelSide:
				away := label.Below == "away from you"
				if away != label.Above || strings.HasPrefix(label.Text, "Intake") != (away == l.IntakeAway) {
					t.Errorf("%+v: %+v", l, label)
				}
			}
		}
		// a valve that is called left lies left of its sister
		for _, port := range j.Ports {
			at := map[string]float64{}
			for _, s := range p.of(ShapeValve) {
				if s.Port == port.ID {
					at[j.lying(j.valve(s.Valve).Place)] = s.Centre.X
				}
			}
			if !(at["left"] < at["right"]) {
				t.Errorf("%+v: %s: left valve at %v, right at %v", l, j.PortName(port.ID), at["left"], at["right"])
			}
		}
	}
}

// Any layout: valves inside their bore and clear of each other, mouths on the
// head and clear of each other, everything within the outline but centre lines,
// each port with one mouth, labels that no two share.
func TestPlanOfAnyHead(t *testing.T) {
	for _, s := range anySchemes(400) {
		j, _ := Layout(s)
		j.Lie = Lie{Landmark: "timing chain"}
		p := PlanOf(&j)
		bore := map[int]Shape{}
		for _, b := range p.of(ShapeBore) {
			bore[b.Cylinder] = b
		}
		valves := p.of(ShapeValve)
		if len(valves) != len(j.Valves) || len(bore) != s.Cylinders || len(p.of(ShapeMouth)) != len(j.Ports) || len(p.of(ShapePassage)) != len(j.Ports) {
			t.Fatalf("%+v: %d valves, %d bores, %d mouths", s, len(valves), len(bore), len(p.of(ShapeMouth)))
		}
		for i, v := range valves {
			if b := bore[v.Cylinder]; math.Hypot(v.Centre.X-b.Centre.X, v.Centre.Y-b.Centre.Y)+v.R > b.R+1e-9 {
				t.Fatalf("%+v: %s reaches out of its bore", s, j.ValveName(v.Valve))
			}
			for _, o := range valves[:i] {
				if d := math.Hypot(v.Centre.X-o.Centre.X, v.Centre.Y-o.Centre.Y); d < v.R+o.R {
					t.Fatalf("%+v: %s and %s overlap by %.2f mm", s, j.ValveName(v.Valve), j.ValveName(o.Valve), v.R+o.R-d)
				}
			}
			head, _ := j.HeadOr(j.valve(v.Valve))
			if math.Abs(2*v.R-head.Value*1e3) > 1e-9 {
				t.Fatalf("%+v: %s is not to scale", s, j.ValveName(v.Valve))
			}
		}
		var mouths []Shape
		for _, m := range p.of(ShapeMouth) {
			a, b := m.points()[0], m.points()[1]
			if a.X >= b.X || a.X < 0 || b.X > p.Width {
				t.Fatalf("%+v: mouth from %v to %v of %v mm", s, a, b, p.Width)
			}
			for _, o := range mouths {
				c, d := o.points()[0], o.points()[1]
				if a.Y == c.Y && a.X < d.X && c.X < b.X {
					t.Fatalf("%+v: mouths of %s and %s overlap", s, j.PortName(m.Port), j.PortName(o.Port))
				}
			}
			mouths = append(mouths, m)
		}
		for _, sh := range p.Shapes {
			for _, q := range sh.points() {
				if sh.Kind != ShapeCentreLine && (q.X < -1e-9 || q.Y < -1e-9 || q.X > p.Width+1e-9 || q.Y > p.Height+1e-9) {
					t.Fatalf("%+v: %s of %s at %v lies outside", s, sh.Kind, sh.Port, q)
				}
			}
			if sh.R == 0 && (len(sh.Path) < 2 || sh.Path[0].Op != "M") {
				t.Fatalf("%+v: a %s that nobody can draw: %+v", s, sh.Kind, sh)
			}
		}
		texts := map[string]bool{}
		for _, l := range p.Labels {
			if l.Kind == LabelPort && (texts[l.Short] || l.Short == "") {
				t.Fatalf("%+v: short label %q is there twice", s, l.Short)
			}
			texts[l.Short] = true
			if texts[l.Text] || l.Text == "" {
				t.Fatalf("%+v: label %q is there twice", s, l.Text)
			}
			texts[l.Text] = true
		}
		if p.Guess == s.Bore.Known {
			t.Fatalf("%+v: scale guessed: %v", s, p.Guess)
		}
	}
}

// The plan is to scale: pitch and width stand to a bore of 72 mm as is usual, the
// bore itself is 72 mm (common practice, no source, for all but the bore).
func TestPlanScale(t *testing.T) {
	j, _ := Layout(Scheme{Cylinders: 3, Valves: 4, Bore: inMM(72), IntakeHead: inMM(27), ExhaustHead: inMM(23.5)})
	p := PlanOf(&j)
	b := p.of(ShapeBore)
	if math.Abs(b[0].R-36) > 1e-9 || math.Abs(b[1].Centre.X-b[0].Centre.X-1.14*72) > 1e-9 {
		t.Errorf("%+v", b)
	}
	for _, v := range p.of(ShapeValve) {
		if want := map[Side]float64{Intake: 13.5, Exhaust: 11.75}[j.valve(v.Valve).Side]; math.Abs(v.R-want) > 1e-9 {
			t.Errorf("%s: radius %v", v.Valve, v.R)
		}
	}
}

// A plan stands whatever the data: no bore, a port of no cylinder, a valve larger
// than its bore, nothing at all.
func TestPlanOfAnything(t *testing.T) {
	sound := func(name string, j Job) {
		for _, s := range PlanOf(&j).Shapes {
			for _, q := range append(s.points(), Point{s.R, 0}) {
				if math.IsNaN(q.X+q.Y) || math.IsInf(q.X+q.Y, 0) {
					t.Fatalf("%s: %+v", name, s)
				}
			}
		}
	}
	sound("nothing", Job{})
	j, _ := Layout(Scheme{Cylinders: 2, Valves: 4, Bore: inMM(20), IntakeHead: inMM(35)})
	sound("too large", j)
	j.Ports[0].Valves, j.Ports[1].Cylinders, j.Ports[1].Valves = nil, nil, nil
	j.Ports[2].Valves = []string{"v99"}
	j.Valves = append(j.Valves, Valve{ID: "v98", Cylinder: 77})
	sound("half edited", j)
	sound("no valves", Job{Engine: Engine{Cylinders: 2}, Ports: []Port{{ID: "p1", Cylinders: []int{1}, Side: Intake}}})
}

// Whatever the head and however it lies: turned or mirrored twice the whole
// drawing, words and all, is what it was; once it is another. Both ways of turning
// in either order are one.
func TestTurnedTwiceIsTheSame(t *testing.T) {
	n := 60
	if testing.Short() {
		n = 12
	}
	for _, s := range anySchemes(n) {
		j, _ := Layout(s)
		plan := func(l Lie) Plan {
			j.Lie = l
			return PlanOf(&j)
		}
		for _, l := range lies() {
			p := plan(l)
			for name, turn := range map[string]func(Lie) Lie{"turned over": Lie.TurnedOver, "turned round": Lie.TurnedRound, "mirrored": Lie.Mirrored} {
				if q := plan(turn(turn(l))); !reflect.DeepEqual(q, p) {
					t.Fatalf("%+v, %+v: twice %s is another drawing", s, l, name)
				}
				if q := plan(turn(l)); samePlan(q, p, 1e-9) {
					t.Fatalf("%+v, %+v: %s is the same drawing", s, l, name)
				}
			}
			if a, b := plan(l.TurnedOver().TurnedRound()), plan(l.TurnedRound().TurnedOver()); !reflect.DeepEqual(a, b) {
				t.Fatalf("%+v, %+v: over and round is not round and over", s, l)
			}
		}
	}
}

// Whatever the head and however it lies, each mouth is on the side that its port
// has in the lie, its words are beside it, cylinders run from the maker's first
// end, and the sides' own words say what is there.
func TestMouthsAndWordsWhereTheLieSays(t *testing.T) {
	for _, s := range anySchemes(60) {
		j, _ := Layout(s)
		for _, l := range append(lies(), Lie{}) {
			j.Lie = l
			p, as := PlanOf(&j), l.orUsual()
			mouth := map[string]Point{}
			for _, m := range p.of(ShapeMouth) {
				port, at := j.port(m.Port), m.points()
				mouth[m.Port] = Point{(at[0].X + at[1].X) / 2, at[0].Y}
				intakeSide := port.Side == Intake || s.SameSide
				if away := at[0].Y < p.Height/2; away != (intakeSide == as.IntakeAway) || at[0].Y != at[1].Y || at[0].Y != 0 && math.Abs(at[0].Y-p.Height) > 1e-9 {
					t.Fatalf("%+v, %+v: mouth of %s at %v", s, l, j.PortName(m.Port), at)
				}
			}
			if len(mouth) != len(j.Ports) {
				t.Fatalf("%+v, %+v: %d mouths of %d ports", s, l, len(mouth), len(j.Ports))
			}
			var sides, words int
			for _, w := range p.Labels {
				switch w.Kind {
				case LabelPort:
					words++
					if m := mouth[w.Port]; math.Hypot(w.At.X-m.X, w.At.Y-m.Y) > 1e-9 || w.Above != (m.Y < p.Height/2) {
						t.Fatalf("%+v, %+v: %q stands at %v, its mouth is at %v", s, l, w.Text, w.At, m)
					}
				case LabelSide:
					sides++
					intake := w.Above == as.IntakeAway
					want := map[bool]string{true: "Intake side", false: "Exhaust side"}[intake]
					if s.SameSide {
						want = map[bool]string{true: "Port side", false: "Side without ports"}[intake]
					}
					if !strings.HasPrefix(w.Text, want) || w.Below != map[bool]string{true: "away from you", false: "towards you"}[w.Above] || w.Above != (w.At.Y < p.Height/2) {
						t.Fatalf("%+v, %+v: %+v, want %q", s, l, w, want)
					}
				}
			}
			if sides != 2 || words != len(j.Ports) {
				t.Fatalf("%+v, %+v: %d sides and %d ports have words", s, l, sides, words)
			}
			bores := p.of(ShapeBore)
			for i := 1; i < len(bores); i++ { // in the maker's order
				if right := bores[i].Centre.X > bores[i-1].Centre.X; right != as.FirstLeft {
					t.Fatalf("%+v, %+v: cylinder %d after %d", s, l, bores[i].Cylinder, bores[i-1].Cylinder)
				}
			}
		}
	}
}

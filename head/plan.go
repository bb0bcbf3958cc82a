package head

import (
	"cmp"
	"math"
	"slices"
)

// A head in plan, over the bore: common practice, no source. The real one's
// pitch and width are not asked for; what is to scale are bore and valves.
const (
	pitchShare  = 1.14 // from bore to bore
	endShare    = 0.92 // from the last bore's centre to the end
	widthShare  = 2.04 // of the head
	boltShare   = 0.72 // bolts, from the middle
	holeShare   = 0.07 // radius of a bolt hole
	gapShare    = 0.02 // least metal between valves, and from valve to bore
	throatShare = 0.86 // of a valve's head
)

// drawing is a plan in the making, in the head's own frame: x from the maker's
// first end, y from the side away from the intake towards it.
type drawing struct {
	job    *Job
	plan   Plan
	bore   float64 // mm
	mid    float64 // mm, the bores' line
	cyl    []int
	valves map[string]Shape
}

// PlanOf draws a head in plan from its own data, as it lies. Bore and valves are
// to scale where they are known, and the rest stands to them as is usual. Looking
// at the chambers mirrors what is seen from the cam side: both follow from
// [Lie], which a head that is turned changes in two things at once.
func PlanOf(j *Job) Plan {
	bore, guessed := j.BoreOr()
	d := &drawing{job: j, bore: math.Min(bore.Value*1e3, 1e4), cyl: j.Engine.cylinders(), valves: map[string]Shape{}}
	b, n := d.bore, float64(max(1, len(d.cyl)))
	d.plan = Plan{Width: b * (2*endShare + pitchShare*(n-1)), Height: b * widthShare, Guess: guessed, Lie: j.Lie.orUsual()}
	d.mid = d.plan.Height / 2
	d.metal()
	var bores, lines []Shape
	for i, c := range d.cyl {
		x := d.x(i)
		bores = append(bores, Shape{Kind: ShapeBore, Cylinder: c, Centre: Point{x, d.mid}, R: b / 2})
		lines = append(lines, Shape{Kind: ShapeCentreLine, Cylinder: c, Path: []Segment{move(x, -8), line(x, d.plan.Height+8)}})
		d.placeValves(i, c)
	}
	lines = append(lines, Shape{Kind: ShapeCentreLine, Path: []Segment{move(-8, d.mid), line(d.plan.Width+8, d.mid)}})
	mouths := d.ports()
	d.add(bores...)
	d.plugHoles(bores)
	for i := range j.Valves {
		if s, ok := d.valves[j.Valves[i].ID]; ok {
			throat := s
			throat.Kind, throat.R = ShapeThroat, s.R*throatShare
			d.add(s, throat)
		}
	}
	d.add(lines...)
	d.add(mouths...)
	out := d.plan
	if !out.Lie.FirstLeft {
		out = out.mirroredEnds()
	}
	if out.Lie.IntakeAway {
		out = out.mirroredSides()
	}
	out.sides(j)
	return out
}

func (d *drawing) add(s ...Shape) { d.plan.Shapes = append(d.plan.Shapes, s...) }

func (d *drawing) x(i int) float64 { return d.bore * (endShare + pitchShare*float64(i)) }

// metal draws outline and landmark.
func (d *drawing) metal() {
	b, w, h := d.bore, d.plan.Width, d.plan.Height
	c := 0.07 * b
	d.add(Shape{Kind: ShapeOutline, Path: []Segment{
		move(c, 0), line(w-c, 0), line(w, c), line(w, h-c), line(w-c, h), line(c, h), line(0, h-c), line(0, c), closed(),
	}})
	if d.plan.Lie.Landmark != "" {
		x0, x1, y := 0.08*b, 0.25*b, 0.64*b
		d.add(Shape{Kind: ShapeLandmark, Path: rectangle(x0, d.mid-y, x1, d.mid+y)})
		d.plan.Labels = append(d.plan.Labels, Label{Kind: LabelLandmark, Text: d.plan.Lie.Landmark, At: Point{(x0 + x1) / 2, d.mid}})
	}
}

// placeValves places the valves of a cylinder: those of a side on an arc near the
// bore's edge, each a little off the next. With intake and exhaust ports on one
// side and two valves a cylinder the two stand in line along the head, like
// beside like in neighbouring cylinders.
func (d *drawing) placeValves(i, cylinder int) {
	of := map[Side][]*Valve{}
	for k := range d.job.Valves {
		if v := &d.job.Valves[k]; v.Cylinder == cylinder {
			of[v.Side] = append(of[v.Side], v)
		}
	}
	inLine := d.job.Engine.SameSide && len(of[Intake]) == 1 && len(of[Exhaust]) == 1
	for _, side := range []Side{Intake, Exhaust} {
		valves := of[side]
		slices.SortStableFunc(valves, func(a, b *Valve) int { return cmp.Compare(placeRank(a.Place), placeRank(b.Place)) })
		out := 1.0 // towards the intake side
		if side == Exhaust {
			out = -1
		}
		widest := 0.0
		for _, v := range valves {
			widest = math.Max(widest, d.head(v))
		}
		gap := gapShare * d.bore
		reach := math.Max(0.05*d.bore, d.bore/2-gap-widest/2) // from the bore's centre
		step := 2 * math.Asin(math.Min(1, (widest+gap)/(2*reach)))
		for k, v := range valves {
			a := (float64(k) - float64(len(valves)-1)/2) * step
			at := Point{d.x(i) + reach*math.Sin(a), d.mid + out*reach*math.Cos(a)}
			if inLine {
				to := 1.0 // of the intake valve: towards the neighbour that shares its port
				if i%2 == 1 {
					to = -1
				}
				at = Point{d.x(i) + out*to*reach, d.mid}
			}
			d.valves[v.ID] = Shape{Kind: ShapeValve, Valve: v.ID, Cylinder: cylinder, Centre: at, R: d.head(v) / 2, Port: d.portID(v.ID)}
		}
	}
}

// plugHoles draws the hole of a plug in the middle of each bore that has room for
// one there; elsewhere nobody said where it is.
func (d *drawing) plugHoles(bores []Shape) {
	for _, b := range bores {
		hole := Shape{Kind: ShapePlug, Cylinder: b.Cylinder, Centre: b.Centre, R: holeShare * d.bore}
		free := true
		for _, v := range d.valves {
			if math.Hypot(v.Centre.X-hole.Centre.X, v.Centre.Y-hole.Centre.Y) < v.R+hole.R {
				free = false
			}
		}
		if free {
			d.add(hole)
		}
	}
}

func (d *drawing) portID(valve string) string {
	if p := d.job.portOf(valve); p != nil {
		return p.ID
	}
	return ""
}

// head is the diameter of a valve's head [mm]; one too large for the bore is
// drawn as large as it goes, for the form asks about it.
func (d *drawing) head(v *Valve) float64 {
	h, _ := d.job.HeadOr(v)
	return math.Min(h.Value*1e3, 0.94*d.bore)
}

// placeRank orders places from the left.
func placeRank(place string) int {
	switch place {
	case "left":
		return -1
	case "right":
		return 1
	}
	return 0
}

// sides names the two sides, after the plan was turned.
func (p *Plan) sides(j *Job) {
	words := [2]string{"Exhaust side", "Intake side"} // top, bottom
	if p.Lie.IntakeAway {
		words = [2]string{"Intake side", "Exhaust side"}
	}
	if j.Engine.SameSide {
		for i := range words {
			if words[i] == "Intake side" {
				words[i] = "Port side"
			} else {
				words[i] = "Side without ports"
			}
		}
	}
	p.Labels = append(p.Labels,
		Label{Kind: LabelSide, Text: words[0], Below: "away from you", At: Point{0, 0}, Above: true},
		Label{Kind: LabelSide, Text: words[1], Below: "towards you", At: Point{0, p.Height}},
	)
}

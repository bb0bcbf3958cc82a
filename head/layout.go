package head

import (
	"slices"
	"strconv"

	"seatproof/unit"
)

// Scheme is a head in a few figures: what [Layout] needs.
type Scheme struct {
	Form      Form   `json:"form"`
	Cylinders int    `json:"cylinders"` // of this head, 1 to 16
	Numbers   []int  `json:"numbers"`   // as the maker counts; none: by Bank and Count
	Bank      int    `json:"bank"`      // of a vee or flat engine: 1 or 2; 0 as 1
	Count     Count  `json:"count"`
	Valves    int    `json:"valves"` // a cylinder, 2 to 5
	Intake    Gather `json:"intake"`
	Exhaust   Gather `json:"exhaust"`
	SameSide  bool   `json:"same_side"` // intake and exhaust ports open on one side

	Bore        unit.Measured `json:"bore"`         // m
	Stroke      unit.Measured `json:"stroke"`       // m
	IntakeHead  unit.Measured `json:"intake_head"`  // m, diameter; not known: guessed from the bore, and said so
	ExhaustHead unit.Measured `json:"exhaust_head"` // m
	Plugs       []string      `json:"plugs"`        // other openings of each intake port: "injector hole"
}

// Count is how a maker numbers the cylinders of two banks.
type Count string

// The ways to count. The zero value counts bank after bank.
const (
	CountBanks Count = ""        // 1 2 3 on one bank, 4 5 6 on the other
	CountTurns Count = "in-turn" // 1 3 5 and 2 4 6
)

// Gather is how the ports of one side go to the cylinders.
type Gather string

// The ways to gather. The zero value is a port for each cylinder.
const (
	PortEach   Gather = ""       // one port a cylinder, whatever its valves
	PortValve  Gather = "valve"  // one port a valve
	PortPairs  Gather = "pairs"  // siamesed: cylinders 1 and 2, 3 and 4 …; an odd last one alone
	PortCentre Gather = "centre" // siamesed within: 1 alone, 2 and 3 …, the last alone
)

// Layout returns a whole head: engine, ports and valves, in the order of the
// cylinders. Fields of the job that a scheme does not know are left empty. The
// faults are those of the scheme; with any that nobody may insist on the job is
// empty.
func Layout(s Scheme) (Job, Faults) {
	f := s.Validate()
	if f.Err() != nil {
		return Job{}, f
	}
	j := Job{Engine: Engine{
		Cylinders: s.Cylinders, Numbers: s.numbers(), Form: s.Form, SameSide: s.SameSide, Bore: s.Bore, Stroke: s.Stroke,
	}}
	if slices.Equal(j.Engine.Numbers, (&Engine{Cylinders: s.Cylinders}).cylinders()) {
		j.Engine.Numbers = nil
	}
	for _, n := range j.Engine.cylinders() {
		for _, side := range []Side{Intake, Exhaust} {
			head := s.IntakeHead
			if side == Exhaust {
				head = s.ExhaustHead
			}
			for _, place := range places(s.valves(side)) {
				id := "v" + strconv.Itoa(len(j.Valves)+1)
				j.Valves = append(j.Valves, Valve{ID: id, Cylinder: n, Side: side, Place: place, Head: head})
			}
		}
	}
	j.addPorts(Intake, s.Intake, s.Plugs)
	j.addPorts(Exhaust, s.Exhaust, nil)
	order := j.Engine.cylinders()
	slices.SortStableFunc(j.Ports, func(a, b Port) int {
		return slices.Index(order, a.Cylinders[0]) - slices.Index(order, b.Cylinders[0])
	})
	for i := range j.Ports {
		j.Ports[i].ID = "p" + strconv.Itoa(i+1)
	}
	return j, append(f, j.fits(f)...)
}

// fits questions what the job says of its figures and the scheme did not.
func (j *Job) fits(told Faults) Faults {
	var all, out Faults
	j.fitFaults(&all)
	for _, x := range all {
		switch {
		case x.Field == "engine.bore":
			x.Field = "bore"
		default: // all valves of a side are alike: one fault for each side
			x.Field = "intake_head"
			for i := range j.Valves {
				if j.Valves[i].Side == Exhaust && index("valves", i)+".head_diameter" == all[0].Field {
					x.Field = "exhaust_head"
				}
			}
		}
		if !told.has(x.Field) && !out.has(x.Field) {
			out = append(out, x)
		}
	}
	return out
}

// Validate returns all that is wrong or odd in a scheme.
func (s *Scheme) Validate() Faults {
	var f Faults
	e := Engine{Cylinders: s.Cylinders, Numbers: s.Numbers, Form: s.Form, Bore: s.Bore, Stroke: s.Stroke}
	f = append(f, e.Validate()...)
	if s.Valves < 2 || s.Valves > 5 {
		f.add("valves", "%d valves a cylinder: 2 to 5 are laid out in one step, edit the valves for others", s.Valves)
	}
	if s.Bank < 0 || s.Bank > 2 {
		f.add("bank", "bank %d: an engine has bank 1 and bank 2; each has a head of its own", s.Bank)
	}
	oneOf(&f, "count", "no way to count cylinders", s.Count, CountBanks, CountTurns)
	oneOf(&f, "intake", "no way to gather ports", s.Intake, PortEach, PortValve, PortPairs, PortCentre)
	oneOf(&f, "exhaust", "no way to gather ports", s.Exhaust, PortEach, PortValve, PortPairs, PortCentre)
	f.figure("intake_head", s.IntakeHead, usualHead)
	f.figure("exhaust_head", s.ExhaustHead, usualHead)
	for i, p := range s.Plugs {
		f.text(index("plugs", i), "opening", p, 60)
		if p == "" {
			f.add(index("plugs", i), "the opening has no name: write what must be plugged, such as injector hole")
		}
	}
	return f
}

// valves returns how many valves of a side each cylinder has: of three one is an
// exhaust valve, of five two are (common practice, no
// source).
func (s *Scheme) valves(side Side) int {
	intake := [...]int{2: 1, 3: 2, 4: 2, 5: 3}[s.Valves]
	if side == Intake {
		return intake
	}
	return s.Valves - intake
}

// numbers returns the numbers of the head's cylinders.
func (s *Scheme) numbers() []int {
	if len(s.Numbers) > 0 {
		return slices.Clone(s.Numbers)
	}
	out := make([]int, s.Cylinders)
	second := s.Bank == 2 && (s.Form == FormVee || s.Form == FormFlat)
	for i := range out {
		switch {
		case s.Count == CountTurns && (s.Form == FormVee || s.Form == FormFlat):
			out[i] = 2*i + 1
			if second {
				out[i]++
			}
		case second:
			out[i] = s.Cylinders + i + 1
		default:
			out[i] = i + 1
		}
	}
	return out
}

// places names n things beside each other.
func places(n int) []string {
	switch n {
	case 2:
		return []string{"left", "right"}
	case 3:
		return []string{"left", "middle", "right"}
	}
	return []string{""}
}

// addPorts puts the valves of a side on ports.
func (j *Job) addPorts(side Side, g Gather, plugs []string) {
	cyl := j.Engine.cylinders()
	for _, group := range g.groups(len(cyl)) {
		p := Port{Side: side, Plugs: slices.Clone(plugs)}
		for _, i := range group {
			p.Cylinders = append(p.Cylinders, cyl[i])
		}
		for i := range j.Valves {
			v := &j.Valves[i]
			if v.Side != side || !slices.Contains(p.Cylinders, v.Cylinder) {
				continue
			}
			if g == PortValve {
				one := p
				one.Plugs, one.Part, one.Valves = slices.Clone(plugs), v.Place, []string{v.ID}
				j.Ports = append(j.Ports, one)
				continue
			}
			p.Valves = append(p.Valves, v.ID)
		}
		if g != PortValve {
			j.Ports = append(j.Ports, p)
		}
	}
}

// groups parts n cylinders into those that share a port.
func (g Gather) groups(n int) [][]int {
	var out [][]int
	for i := 0; i < n; {
		size := 1
		if g == PortPairs && i+1 < n || g == PortCentre && i > 0 && i+2 < n {
			size = 2
		}
		var group []int
		for k := range size {
			group = append(group, i+k)
		}
		out = append(out, group)
		i += size
	}
	return out
}

// SameAs returns a head like another: everything but what was measured of that
// one head (contact widths, guide clearances), whose it is, and its label, dates
// and notes. What a kind of head has stays: sizes, ports, port volumes, plugs,
// limit, rig, and how it lay.
func SameAs(j Job) Job {
	out := Job{
		Title: j.Title, Initials: j.Initials, Invented: j.Invented,
		Engine: j.Engine, Lie: j.Lie, Limit: j.Limit, RigID: j.RigID,
	}
	out.Engine.Numbers = slices.Clone(j.Engine.Numbers)
	for _, p := range j.Ports {
		p.Cylinders, p.Valves, p.Plugs = slices.Clone(p.Cylinders), slices.Clone(p.Valves), slices.Clone(p.Plugs)
		p.Since = 0 // it has no tests yet
		out.Ports = append(out.Ports, p)
	}
	for _, v := range j.Valves {
		v.Contact, v.Clearance = unit.Measured{}, unit.Measured{}
		out.Valves = append(out.Valves, v)
	}
	return out
}

package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"seatproof/head"
	"seatproof/unit"
)

// layoutAsk is a head in one step.
type layoutAsk struct {
	Kind        string `json:"kind"`
	Cylinders   int    `json:"cylinders"`
	Numbers     string `json:"numbers"` // as its maker counts: "1 3 5"
	Valves      int    `json:"valves"`  // a cylinder
	Intakes     int    `json:"intakes"` // of them; 0: the usual number
	Ports       string `json:"ports"`
	Bore        asked  `json:"bore"`
	Stroke      asked  `json:"stroke"`
	IntakeHead  asked  `json:"intake_head"`
	ExhaustHead asked  `json:"exhaust_head"`
	Unit        string `json:"unit"`
}

// places are what the valves of a side are called, by how many there are.
var places = map[int][]string{1: {""}, 2: {"left", "right"}, 3: {"left", "middle", "right"}}

// job makes a head of a layout; what is wrong stands at its fields.
func (a layoutAsk) job(f *faults) head.Job {
	var j head.Job
	mm := a.Unit
	if mm == "" {
		mm = "mm"
	}
	if a.Cylinders < 1 || a.Cylinders > 16 {
		f.add("layout.cylinders", "A head has 1 to 16 cylinders.", "")
	}
	if a.Valves < 2 || a.Valves > 6 {
		f.add("layout.valves", "A cylinder has 2 to 6 valves.", "")
	}
	intakes := a.Intakes
	if intakes == 0 {
		intakes = (a.Valves + 1) / 2
	}
	if a.Valves >= 2 && (intakes < 1 || intakes >= a.Valves || intakes > 3 || a.Valves-intakes > 3) {
		f.add("layout.intakes", fmt.Sprintf("Of %d valves, %d can't all be on the intake side.", a.Valves, intakes), "")
	}
	j.Engine.Cylinders = a.Cylinders
	j.Engine.Bore = a.Bore.positive(unit.LengthDim, mm, "layout.bore", f)
	j.Engine.Stroke = a.Stroke.positive(unit.LengthDim, mm, "layout.stroke", f)
	in := a.IntakeHead.positive(unit.LengthDim, mm, "layout.intake_head", f)
	ex := a.ExhaustHead.positive(unit.LengthDim, mm, "layout.exhaust_head", f)
	questionBore(j.Engine.Bore, f)
	questionValve(in, j.Engine.Bore, "layout.intake_head", f)
	questionValve(ex, j.Engine.Bore, "layout.exhaust_head", f)
	numbers := a.numbers(f)
	if len(*f) > 0 {
		return j
	}
	for _, c := range numbers {
		for _, side := range []head.Side{head.Exhaust, head.Intake} {
			n, d := intakes, in
			if side == head.Exhaust {
				n, d = a.Valves-intakes, ex
			}
			var ids []string
			for k := range n {
				v := head.Valve{ID: "v" + strconv.Itoa(len(j.Valves)+1), Cylinder: c, Side: side, Place: places[n][k], Head: d}
				j.Valves = append(j.Valves, v)
				ids = append(ids, v.ID)
			}
			j.Ports = addPorts(j.Ports, a.Ports, c, side, ids, places[n])
		}
	}
	return j
}

// addPorts gives the valves of one side of a cylinder their ports.
func addPorts(all []head.Port, kind string, c int, side head.Side, valves, parts []string) []head.Port {
	add := func(cs []int, part string, ids []string) {
		all = append(all, head.Port{ID: "p" + strconv.Itoa(len(all)+1), Cylinders: cs, Side: side, Part: part, Valves: ids})
	}
	switch kind {
	case "single":
		for i, v := range valves {
			add([]int{c}, parts[i], []string{v})
		}
		return all
	case "siamesed":
		for i := range all {
			if p := &all[i]; p.Side == side && len(p.Cylinders) == 1 && p.Cylinders[0] != c {
				p.Cylinders = append(p.Cylinders, c)
				p.Valves = append(p.Valves, valves...)
				return all
			}
		}
	}
	add([]int{c}, "", valves)
	return all
}

func (a layoutAsk) numbers(f *faults) []int {
	var out []int
	for _, t := range strings.FieldsFunc(a.Numbers, func(r rune) bool { return r == ' ' || r == ',' }) {
		n, err := strconv.Atoi(t)
		if err != nil || n < 1 || n > 99 {
			f.add("layout.numbers", t+" is no number of a cylinder.", "Write them as in 1 3 5.")
			return nil
		}
		out = append(out, n)
	}
	if len(out) == 0 {
		for i := range max(0, min(a.Cylinders, 16)) {
			out = append(out, i+1)
		}
	}
	if len(out) != a.Cylinders {
		f.add("layout.numbers", fmt.Sprintf("%d cylinders, and %d numbers.", a.Cylinders, len(out)), "")
	}
	return out
}

// questionBore asks about a bore that smells of a slip.
func questionBore(bore unit.Measured, f *faults) {
	if bore.Known && (bore.Value < 20e-3 || bore.Value > 300e-3) {
		f.add("layout.bore", fmt.Sprintf("A bore of %s would be unusual.", unit.Format(bore, unit.LengthDim, "mm", 3)), "Check figure and unit.")
	}
}

// questionValve asks about a valve that does not fit.
func questionValve(d, bore unit.Measured, field string, f *faults) {
	if !d.Known {
		return
	}
	if d.Value < 10e-3 || d.Value > 100e-3 {
		f.add(field, fmt.Sprintf("A valve of %s would be unusual.", unit.Format(d, unit.LengthDim, "mm", 3)), "Check figure and unit.")
		return
	}
	if bore.Known && d.Value > .75*bore.Value {
		f.add(field, fmt.Sprintf("A %s valve does not fit a %s bore.", unit.Format(d, unit.LengthDim, "mm", 3), unit.Format(bore, unit.LengthDim, "mm", 3)), "Check both.")
	}
}

// headAsk is a head to be booked in.
type headAsk struct {
	Number   string    `json:"number"`
	Title    string    `json:"title"`
	Owner    string    `json:"owner"`
	Initials string    `json:"initials"`
	Notes    string    `json:"notes"`
	Rig      string    `json:"rig"`
	Layout   layoutAsk `json:"layout"`
	Lie      lieAsk    `json:"lie"`
	SameAs   string    `json:"same_as"`
	Invented bool      `json:"invented"`
}

type lieAsk struct {
	Said       *bool   `json:"said"`
	ChambersUp *bool   `json:"chambers_up"`
	FirstLeft  *bool   `json:"first_left"`
	IntakeAway *bool   `json:"intake_away"`
	Landmark   *string `json:"landmark"`
}

func (a lieAsk) to(l *head.Lie) {
	set(&l.Said, a.Said)
	set(&l.ChambersUp, a.ChambersUp)
	set(&l.FirstLeft, a.FirstLeft)
	set(&l.IntakeAway, a.IntakeAway)
	set(&l.Landmark, a.Landmark)
}

// build makes the job; s.SameAs copies ports, valves, engine, limit and rig.
func (s *Server) build(r *http.Request, a headAsk, f *faults) (head.Job, error) {
	var j head.Job
	if a.SameAs != "" {
		old, err := load[head.Job](r.Context(), s.Keeper, kindJob, a.SameAs)
		if err != nil {
			return j, err
		}
		o := old.V
		j = head.Job{Title: o.Title, Owner: o.Owner, Engine: o.Engine, Lie: o.Lie, Ports: o.Ports, Valves: o.Valves, Limit: o.Limit, RigID: o.RigID}
	} else {
		j = a.Layout.job(f)
		j.Lie = head.Lie{ChambersUp: true, FirstLeft: true}
	}
	a.Lie.to(&j.Lie)
	j.Number, j.Notes, j.Initials, j.Invented = strings.TrimSpace(a.Number), a.Notes, a.Initials, a.Invented
	if a.Owner != "" {
		j.Owner = a.Owner
	}
	if a.Title != "" {
		j.Title = a.Title
	}
	if j.Title == "" {
		j.Title = titleOf(j, a.Layout.Kind)
	}
	if a.Rig != "" {
		j.RigID = a.Rig
	}
	return j, nil
}

func titleOf(j head.Job, kind string) string {
	first := upper(wordOf(layoutWords, kind))
	if kind == "" {
		first = "Head"
	}
	c := "cylinders"
	if j.Engine.Cylinders == 1 {
		c = "cylinder"
	}
	return fmt.Sprintf("%s, %d %s, %d valves", first, j.Engine.Cylinders, c, len(j.Valves))
}

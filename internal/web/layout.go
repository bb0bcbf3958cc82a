package web

import (
	"fmt"
	"net/http"
	"strings"

	"seatproof/head"
	"seatproof/unit"
)

// layoutAsk is a head in one step.
type layoutAsk struct {
	Kind        head.Form   `json:"kind"`
	Cylinders   int         `json:"cylinders"`
	Numbers     string      `json:"numbers"` // as its maker counts: "1 3 5"
	Bank        int         `json:"bank"`
	Count       head.Count  `json:"count"`
	Valves      int         `json:"valves"` // a cylinder
	Intake      head.Gather `json:"intake"`
	Exhaust     head.Gather `json:"exhaust"`
	SameSide    bool        `json:"same_side"`
	Bore        asked       `json:"bore"`
	Stroke      asked       `json:"stroke"`
	IntakeHead  asked       `json:"intake_head"`
	ExhaustHead asked       `json:"exhaust_head"`
	Plugs       []string    `json:"plugs"`
	Unit        string      `json:"unit"`
}

// job makes a head of a layout; what is wrong stands at its fields. What is odd
// but may be so is asked about, unless a person insists.
func (a layoutAsk) job(insist bool, f *faults) head.Job {
	mm := a.Unit
	if mm == "" {
		mm = "mm"
	}
	s := head.Scheme{
		Form: a.Kind, Cylinders: a.Cylinders, Numbers: numbersOf(a.Numbers, "layout.numbers", f), Bank: a.Bank, Count: a.Count, Valves: a.Valves, Intake: a.Intake, Exhaust: a.Exhaust, SameSide: a.SameSide, Plugs: a.Plugs,
		Bore:        a.Bore.positive(unit.LengthDim, mm, "layout.bore", f),
		Stroke:      a.Stroke.positive(unit.LengthDim, mm, "layout.stroke", f),
		IntakeHead:  a.IntakeHead.positive(unit.LengthDim, mm, "layout.intake_head", f),
		ExhaustHead: a.ExhaustHead.positive(unit.LengthDim, mm, "layout.exhaust_head", f),
	}
	j, wrong := head.Layout(s)
	f.take("layout.", wrong, insist)
	return j
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
	Insist   bool      `json:"insist"` // what is odd is so
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
		j = head.SameAs(old.V)
		j.Owner, j.Title = old.V.Owner, old.V.Title
	} else {
		j = a.Layout.job(a.Insist, f)
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
		j.Title = titleOf(j, string(a.Layout.Kind))
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

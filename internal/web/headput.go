package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/limit"
	"seatproof/unit"
)

// putAsk holds only what changes of a head.
type putAsk struct {
	Rev      int64      `json:"rev"`
	By       string     `json:"by"`
	Number   *string    `json:"number"`
	Title    *string    `json:"title"`
	Owner    *string    `json:"owner"`
	Initials *string    `json:"initials"`
	Notes    *string    `json:"notes"`
	Rig      *string    `json:"rig"`
	Insist   bool       `json:"insist"` // what is odd is so
	Tray     bool       `json:"tray"`   // the tests of ports taken out go to the tray
	Lie      lieAsk     `json:"lie"`
	Engine   engineAsk  `json:"engine"`
	Ports    []portAsk  `json:"ports"`
	Valves   []valveAsk `json:"valves"`
	Limit    struct {
		Flow   *asked `json:"flow"`
		Gap    *asked `json:"gap"`
		Strict *bool  `json:"strict"`

		Cost   *asked      `json:"cost"` // %, of cranking pressure
		NoCost *bool       `json:"no_cost"`
		Basis  *limit.Kind `json:"basis"`
		Drop   *asked      `json:"drop"`
		Good   *string     `json:"good"`
	} `json:"limit"`
}

type engineAsk struct {
	Kind             *head.Form `json:"kind"`
	Numbers          *string    `json:"numbers"` // of all its cylinders: "1 3 5"
	SameSide         *bool      `json:"same_side"`
	Bore             *asked     `json:"bore"`
	Stroke           *asked     `json:"stroke"`
	Rod              *asked     `json:"rod"`
	Chamber          *asked     `json:"chamber"`
	CompressionRatio *asked     `json:"compression_ratio"`
	IntakeCloses     *asked     `json:"intake_closes"`
	Cranking         *asked     `json:"cranking"`
	Idle             *asked     `json:"idle"`
	TopSpeed         *asked     `json:"top_speed"`
}

// portAsk is a port by its identity. A new one has an identity of the asker's
// own making, by which the rest of the request can name it.
type portAsk struct {
	ID        string     `json:"id"`
	New       bool       `json:"new"`
	Out       bool       `json:"out"`
	Cylinders *[]int     `json:"cylinders"`
	Side      *head.Side `json:"side"`
	Part      *string    `json:"part"`
	Valves    *[]string  `json:"valves"`
	Plugs     *[]string  `json:"plugs"`
	Volume    *asked     `json:"volume"`
}

type valveAsk struct {
	ID        string        `json:"id"`
	New       bool          `json:"new"`
	Out       bool          `json:"out"`
	Cylinder  *int          `json:"cylinder"`
	Side      *head.Side    `json:"side"`
	Place     *string       `json:"place"`
	Head      *asked        `json:"head_diameter"`
	Stem      *asked        `json:"stem_diameter"`
	Contact   *asked        `json:"contact_width"`
	SeatAngle *asked        `json:"seat_angle"`
	FaceAngle *asked        `json:"face_angle"`
	Guide     *asked        `json:"guide_length"`
	Clearance *asked        `json:"guide_clearance"`
	Seal      *string       `json:"seal"`
	Coating   *head.Coating `json:"coating"`
}

func put(to *unit.Measured, given *asked, dim unit.Dimension, u, field string, f *faults) {
	if given != nil {
		*to = given.positive(dim, u, field, f)
	}
}

// change puts what was asked into a head. past are its revisions, whose
// identities don't come back; said is what the asker calls what is new, by the
// identity it got.
func (a putAsk) change(j *head.Job, past []head.Job) (said map[string]string, err error) {
	var f faults
	a.Engine.to(&j.Engine, &f)
	put(&j.Limit.Flow, a.Limit.Flow, unit.FlowDim, "cm³/min", "limit.flow", &f)
	put(&j.Limit.Gap, a.Limit.Gap, unit.LengthDim, "µm", "limit.gap", &f)
	set(&j.Limit.Strict, a.Limit.Strict)
	put(&j.Limit.Cost, a.Limit.Cost, unit.RatioDim, "%", "limit.cost", &f)
	put(&j.Limit.Drop, a.Limit.Drop, unit.PressureDim, "kPa", "limit.drop", &f)
	set(&j.Limit.NoCost, a.Limit.NoCost)
	set(&j.Limit.Basis, a.Limit.Basis)
	set(&j.Limit.Good, a.Limit.Good)
	set(&j.Number, a.Number)
	set(&j.Title, a.Title)
	set(&j.Owner, a.Owner)
	set(&j.Initials, a.Initials)
	set(&j.Notes, a.Notes)
	set(&j.RigID, a.Rig)
	a.Lie.to(&j.Lie)
	if j.Number = strings.TrimSpace(j.Number); a.Number != nil && j.Number == "" {
		f.add("number", "Give the head a label, as you would write on its tag.", "")
	}
	j.Ports, j.Valves = slices.Clone(j.Ports), slices.Clone(j.Valves)
	said = map[string]string{}
	a.putValves(j, past, said, &f)
	a.putPorts(j, past, said, &f)
	if len(f) > 0 {
		return said, f.err()
	}
	f.take("", j.Validate(), a.Insist)
	for i := range f { // by identity, as the API names valves and ports
		f[i].Field = byIdentity(f[i].Field, j, said)
	}
	j.Order()
	return said, f.err()
}

// askDrop asks about a drop that the needle of this rig can't stand below its blanked
// reading, in the unit it was typed in.
func (s *Server) askDrop(ctx context.Context, j *head.Job, ask putAsk) error {
	if d := ask.Limit.Drop; d == nil || ask.Insist || !j.Limit.Drop.Known {
		return nil
	}
	b, err := s.bench(ctx, *j)
	if err != nil {
		return err
	}
	_, c := s.pumpToday(b)
	if c == nil || j.Limit.Drop.Value < c.Blanked() {
		return nil
	}
	name := typedIn(ask.Limit.Drop.Text, unit.PressureDim, "kPa")
	in := func(pa float64) string { return unit.Format(unit.Exactly(pa), unit.PressureDim, name, 3) }
	return faults{{
		Field: "limit.drop", What: "A drop of " + in(j.Limit.Drop.Value) + " is all of this rig’s blanked reading of " + in(c.Blanked()) + ", or more.", Maybe: "The habit is 2 inHg.", Ask: true,
	}}.err()
}

func (a engineAsk) to(e *head.Engine, f *faults) {
	set(&e.Form, a.Kind)
	set(&e.SameSide, a.SameSide)
	if a.Numbers != nil {
		switch n := numbersOf(*a.Numbers, "engine.numbers", f); {
		case len(n) > 0:
			e.Cylinders, e.Numbers = len(n), n
		case strings.TrimSpace(*a.Numbers) == "":
			f.add("engine.numbers", "No cylinder is named.", "Write them as in 1 2 3, from the end at which its maker starts to count.")
		}
	}
	put(&e.Bore, a.Bore, unit.LengthDim, "mm", "engine.bore", f)
	put(&e.Stroke, a.Stroke, unit.LengthDim, "mm", "engine.stroke", f)
	put(&e.Rod, a.Rod, unit.LengthDim, "mm", "engine.rod", f)
	put(&e.Chamber, a.Chamber, unit.VolumeDim, "cm³", "engine.chamber", f)
	put(&e.CompressionRatio, a.CompressionRatio, unit.RatioDim, "1", "engine.compression_ratio", f)
	put(&e.IntakeCloses, a.IntakeCloses, unit.AngleDim, "°", "engine.intake_closes", f)
	put(&e.Cranking, a.Cranking, unit.SpeedDim, "r/min", "engine.cranking", f)
	put(&e.Idle, a.Idle, unit.SpeedDim, "r/min", "engine.idle", f)
	put(&e.TopSpeed, a.TopSpeed, unit.SpeedDim, "r/min", "engine.top_speed", f)
}

func (a putAsk) putValves(j *head.Job, past []head.Job, said map[string]string, f *faults) {
	for _, v := range a.Valves {
		at := "valves." + v.ID + "."
		i := slices.IndexFunc(j.Valves, func(q head.Valve) bool { return q.ID == v.ID || said[q.ID] == v.ID })
		switch {
		case v.New && i < 0:
			id := head.FreeID("v", append(past, *j)...)
			said[id] = v.ID
			j.Valves = append(j.Valves, head.Valve{ID: id})
			i = len(j.Valves) - 1
		case i < 0:
			f.add(at+"id", "This head has no such valve.", "")
			continue
		case v.Out:
			j.Valves = slices.Delete(j.Valves, i, i+1)
			for k := range j.Ports { // the ports it was on lose it, unless they say what they feed
				j.Ports[k].Valves = slices.DeleteFunc(slices.Clone(j.Ports[k].Valves), func(id string) bool { return id == v.ID })
			}
			continue
		}
		to := &j.Valves[i]
		set(&to.Cylinder, v.Cylinder)
		set(&to.Side, v.Side)
		set(&to.Place, v.Place)
		set(&to.Seal, v.Seal)
		set(&to.Coating, v.Coating)
		put(&to.Head, v.Head, unit.LengthDim, "mm", at+"head_diameter", f)
		put(&to.Stem, v.Stem, unit.LengthDim, "mm", at+"stem_diameter", f)
		put(&to.Contact, v.Contact, unit.LengthDim, "mm", at+"contact_width", f)
		put(&to.SeatAngle, v.SeatAngle, unit.AngleDim, "°", at+"seat_angle", f)
		put(&to.FaceAngle, v.FaceAngle, unit.AngleDim, "°", at+"face_angle", f)
		put(&to.Guide, v.Guide, unit.LengthDim, "mm", at+"guide_length", f)
		put(&to.Clearance, v.Clearance, unit.LengthDim, "mm", at+"guide_clearance", f)
	}
}

func (a putAsk) putPorts(j *head.Job, past []head.Job, said map[string]string, f *faults) {
	for _, p := range a.Ports {
		at := "ports." + p.ID + "."
		i := slices.IndexFunc(j.Ports, func(q head.Port) bool { return q.ID == p.ID || said[q.ID] == p.ID })
		switch {
		case p.New && i < 0:
			id := head.FreeID("p", append(past, *j)...)
			said[id] = p.ID
			j.Ports = append(j.Ports, head.Port{ID: id})
			i = len(j.Ports) - 1
		case i < 0:
			f.add(at+"id", "This head has no such port.", "")
			continue
		case p.Out:
			j.Ports = slices.Delete(j.Ports, i, i+1)
			continue
		}
		to := &j.Ports[i]
		set(&to.Cylinders, p.Cylinders)
		set(&to.Side, p.Side)
		set(&to.Part, p.Part)
		set(&to.Plugs, p.Plugs)
		put(&to.Volume, p.Volume, unit.VolumeDim, "cm³", at+"volume", f)
		if p.Valves != nil {
			to.Valves = nil
			for _, v := range *p.Valves {
				for id, name := range said {
					if name == v && strings.HasPrefix(id, "v") {
						v = id
					}
				}
				to.Valves = append(to.Valves, v)
			}
		}
	}
}

// byIdentity turns the index in a fault's field, "valves.3.place", into the
// identity there, or what the asker calls it.
func byIdentity(field string, j *head.Job, said map[string]string) string {
	list, rest, ok := strings.Cut(field, ".")
	n, after, more := strings.Cut(rest, ".")
	i, err := strconv.Atoi(n)
	if !ok || !more || err != nil {
		return field
	}
	var id string
	switch {
	case list == "valves" && i < len(j.Valves):
		id = j.Valves[i].ID
	case list == "ports" && i < len(j.Ports):
		id = j.Ports[i].ID
	default:
		return field
	}
	if s, ok := said[id]; ok {
		id = s
	}
	return list + "." + id + "." + after
}

// numbersOf reads the numbers of cylinders: "1 3 5".
func numbersOf(text, field string, f *faults) []int {
	var out []int
	for _, t := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' }) {
		n, err := strconv.Atoi(t)
		if err != nil {
			f.add(field, t+" is no number of a cylinder.", "Write them as in 1 3 5.")
			return nil
		}
		out = append(out, n)
	}
	return out
}

func (s *Server) putHead(w http.ResponseWriter, r *http.Request) error {
	var ask putAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	ctx := r.Context()
	k, err := s.job(r)
	if err != nil {
		return err
	}
	if ask.Rev != k.Rev {
		return &Conflict{Now: k.Doc}
	}
	was := k.V
	past, err := s.pastOf(ctx, k.ID, ask)
	if err != nil {
		return err
	}
	said, err := ask.change(&k.V, past)
	if err != nil {
		return err
	}
	if err := s.askDrop(ctx, &k.V, ask); err != nil {
		return err
	}
	if r.URL.Query().Get("try") != "" {
		return s.tried(w, r, k, said)
	}
	orphans, err := s.orphans(ctx, k.ID, &was, &k.V)
	if err != nil {
		return err
	}
	if err := askTray(orphans, &was, ask.Tray); err != nil {
		return err
	}
	k.V.Regrouped(&was, s.Now().UnixMilli())
	if err := s.toTray(ctx, orphans, ask.By); err != nil {
		return err
	}
	if k, err = save(ctx, s, k, ask.By); err != nil {
		return err
	}
	// a test that was filed meanwhile must not be lost with its port either
	if orphans, err = s.orphans(ctx, k.ID, &was, &k.V); err == nil {
		err = s.toTray(ctx, orphans, ask.By)
	}
	if err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusOK, k)
}

// tried answers what a head would be, drawn, with the names of its ports and
// valves by what the asker calls them.
func (s *Server) tried(w http.ResponseWriter, r *http.Request, k kept[head.Job], said map[string]string) error {
	names := map[string]string{}
	name := func(id, words string) {
		if own, ok := said[id]; ok {
			id = own
		}
		names[id] = words
	}
	for _, p := range k.V.Ports {
		name(p.ID, k.V.PortName(p.ID))
	}
	for _, v := range k.V.Valves {
		name(v.ID, k.V.ValveName(v.ID))
	}
	wide := 520.0
	if n, err := strconv.ParseFloat(r.URL.Query().Get("try"), 64); err == nil && n >= 60 && n <= 4000 {
		wide = n
	}
	plan := report.Plan{Job: k.V, Width: wide, Words: report.PlanShort}
	return s.answer(w, http.StatusOK, map[string]any{"head": showHead(k), "plan": plan.SVG(), "names": names})
}

// pastOf returns the revisions of a head, where identities are needed.
func (s *Server) pastOf(ctx context.Context, id string, a putAsk) ([]head.Job, error) {
	if !slices.ContainsFunc(a.Ports, func(p portAsk) bool { return p.New }) && !slices.ContainsFunc(a.Valves, func(v valveAsk) bool { return v.New }) {
		return nil, nil
	}
	docs, err := s.Keeper.History(ctx, kindJob, id)
	if err != nil {
		return nil, err
	}
	var out []head.Job
	for _, d := range docs {
		k, err := decoded[head.Job](d)
		if err != nil {
			return nil, err
		}
		out = append(out, k.V)
	}
	return out, nil
}

// orphans returns the tests, those in the bin too, of ports that a head had and
// has no more.
func (s *Server) orphans(ctx context.Context, id string, was, is *head.Job) ([]kept[test], error) {
	var out []kept[test]
	gone := func(port string) bool {
		of := func(p head.Port) bool { return p.ID == port }
		return slices.ContainsFunc(was.Ports, of) && !slices.ContainsFunc(is.Ports, of)
	}
	if !slices.ContainsFunc(was.Ports, func(p head.Port) bool { return gone(p.ID) }) {
		return nil, nil
	}
	for _, binned := range []bool{false, true} {
		tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: id, Binned: binned})
		if err != nil {
			return nil, err
		}
		for _, t := range tests {
			if gone(t.V.PortID) {
				out = append(out, t)
			}
		}
	}
	return out, nil
}

// askTray refuses to take out a port that has tests until a person says that they
// go to the tray.
func askTray(orphans []kept[test], was *head.Job, yes bool) error {
	if yes || len(orphans) == 0 {
		return nil
	}
	var f faults
	for _, p := range was.Ports {
		n := 0
		for _, t := range orphans {
			if t.V.PortID == p.ID {
				n++
			}
		}
		words := fmt.Sprintf("%s has %d tests.", upper(was.PortName(p.ID)), n)
		if n == 1 {
			words = upper(was.PortName(p.ID)) + " has a test."
		}
		if n > 0 {
			f.add("ports."+p.ID+".out", words, "It stays, or its tests go to the tray, where they can be filed again.")
		}
	}
	return f.err()
}

func (s *Server) toTray(ctx context.Context, tests []kept[test], by string) error {
	for _, t := range tests {
		t.V.JobID, t.V.PortID, t.JobID = "", "", ""
		if _, err := save(ctx, s, t, by); err != nil {
			return err
		}
	}
	return nil
}

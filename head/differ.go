package head

import (
	"slices"
	"strings"

	"seatproof/unit"
)

// Difference is one thing that two revisions of a head do not agree on.
type Difference struct {
	Of   string `json:"of"`   // "cylinder 2 intake"; "": the head itself
	What string `json:"what"` // "volume"
	Was  string `json:"was"`  // "45 cm³"; "" where there was nothing to say
	Is   string `json:"is"`
}

// String writes it in one line: "cylinder 2 intake: volume 45 cm³ → 60 cm³".
func (d Difference) String() string {
	s := d.What
	if d.Of != "" {
		s = d.Of + ": " + s
	}
	if d.Was == "" && d.Is == "" { // it came, or went
		return s
	}
	or := func(x string) string {
		if x == "" {
			return "not said"
		}
		return x
	}
	return s + " " + or(d.Was) + " → " + or(d.Is)
}

// figureOf is a figure of a thing, as it is called and in the unit it is shown in.
type figureOf[T any] struct {
	name string
	get  func(*T) unit.Measured
	dim  unit.Dimension
	unit string
}

var (
	engineFigures = []figureOf[Engine]{
		{"bore", func(e *Engine) unit.Measured { return e.Bore }, unit.LengthDim, "mm"},
		{"stroke", func(e *Engine) unit.Measured { return e.Stroke }, unit.LengthDim, "mm"},
		{"rod length", func(e *Engine) unit.Measured { return e.Rod }, unit.LengthDim, "mm"},
		{"chamber volume", func(e *Engine) unit.Measured { return e.Chamber }, unit.VolumeDim, "cm³"},
		{"compression ratio", func(e *Engine) unit.Measured { return e.CompressionRatio }, unit.RatioDim, "1"},
		{"intake closing", func(e *Engine) unit.Measured { return e.IntakeCloses }, unit.AngleDim, "°"},
		{"cranking speed", func(e *Engine) unit.Measured { return e.Cranking }, unit.SpeedDim, "r/min"},
		{"idle speed", func(e *Engine) unit.Measured { return e.Idle }, unit.SpeedDim, "r/min"},
		{"top speed", func(e *Engine) unit.Measured { return e.TopSpeed }, unit.SpeedDim, "r/min"},
	}
	valveFigures = []figureOf[Valve]{
		{"head", func(v *Valve) unit.Measured { return v.Head }, unit.LengthDim, "mm"},
		{"stem", func(v *Valve) unit.Measured { return v.Stem }, unit.LengthDim, "mm"},
		{"contact width", func(v *Valve) unit.Measured { return v.Contact }, unit.LengthDim, "mm"},
		{"seat angle", func(v *Valve) unit.Measured { return v.SeatAngle }, unit.AngleDim, "°"},
		{"face angle", func(v *Valve) unit.Measured { return v.FaceAngle }, unit.AngleDim, "°"},
		{"guide length", func(v *Valve) unit.Measured { return v.Guide }, unit.LengthDim, "mm"},
		{"guide clearance", func(v *Valve) unit.Measured { return v.Clearance }, unit.LengthDim, "mm"},
	}
	limitFigures = []figureOf[Limit]{
		{"limit of one valve", func(l *Limit) unit.Measured { return l.Flow }, unit.FlowDim, "cm³/min"},
		{"gap of the limit", func(l *Limit) unit.Measured { return l.Gap }, unit.LengthDim, "µm"},
	}
)

// differences gathers what two revisions do not agree on.
type differences []Difference

func (d *differences) text(of, what, was, is string) {
	if was != is {
		*d = append(*d, Difference{of, what, was, is})
	}
}

func (d *differences) yes(of, what string, was, is bool) {
	word := map[bool]string{true: "yes", false: "no"}
	d.text(of, what, word[was], word[is])
}

func figures[T any](d *differences, of string, was, is *T, all []figureOf[T]) {
	for _, f := range all {
		if a, b := f.get(was), f.get(is); a != b {
			d.text(of, f.name, f.words(a), f.words(b))
		}
	}
}

func (f figureOf[T]) words(m unit.Measured) string {
	if !m.Known {
		return ""
	}
	return unit.Plain(m, f.dim, f.unit)
}

// Differences returns what is otherwise in a head than it was, in the order of
// its sheets. Ports and valves are called by the names they have now, those that
// are gone by the names they had.
func Differences(was, is *Job) []Difference {
	var d differences
	d.text("", "label", was.Number, is.Number)
	d.text("", "title", was.Title, is.Title)
	d.text("", "owner", was.Owner, is.Owner)
	d.text("", "initials", was.Initials, is.Initials)
	d.text("", "notes", was.Notes, is.Notes)
	if was.RigID != is.RigID {
		d.text("", "rig", "one", "another")
	}
	d.lie(was.Lie, is.Lie)
	d.text("", "engine", string(was.Engine.Form), string(is.Engine.Form))
	d.text("", "cylinders", list(was.Engine.cylinders()), list(is.Engine.cylinders()))
	d.yes("", "intake and exhaust on one side", was.Engine.SameSide, is.Engine.SameSide)
	figures(&d, "", &was.Engine, &is.Engine, engineFigures)
	figures(&d, "", &was.Limit, &is.Limit, limitFigures)
	d.yes("", "strict", was.Limit.Strict, is.Limit.Strict)
	named := *was
	named.Lie = is.Lie // turned over, its left is called right: no change of the head
	d.ports(&named, is)
	d.valves(&named, is)
	return d
}

func (d *differences) lie(was, is Lie) {
	side := func(yes bool, a, b string) string {
		if yes {
			return a
		}
		return b
	}
	said := map[bool]string{true: "said", false: ""}
	d.text("", "how it lies", said[was.Said], said[is.Said])
	d.text("", "face up", side(was.ChambersUp, "chambers", "cam side"), side(is.ChambersUp, "chambers", "cam side"))
	d.text("", "first end", side(was.FirstLeft, "left", "right"), side(is.FirstLeft, "left", "right"))
	d.text("", "intake side", side(was.IntakeAway, "away", "towards you"), side(is.IntakeAway, "away", "towards you"))
	d.text("", "landmark", was.Landmark, is.Landmark)
}

func (d *differences) ports(was, is *Job) {
	for i := range was.Ports {
		if p := &was.Ports[i]; is.port(p.ID) == nil {
			*d = append(*d, Difference{Of: was.PortName(p.ID), What: "taken out"})
		}
	}
	for i := range is.Ports {
		p := &is.Ports[i]
		name, o := is.PortName(p.ID), was.port(p.ID)
		if o == nil {
			*d = append(*d, Difference{Of: name, What: "added, for the " + feeds(is, p)})
			continue
		}
		d.text(name, "name", was.PortName(p.ID), name)
		d.text(name, "side", string(o.Side), string(p.Side))
		if !sameValves(o.Valves, p.Valves) {
			d.text(name, "feeds", feeds(was, o), feeds(is, p))
		}
		d.text(name, "openings to plug", strings.Join(o.Plugs, ", "), strings.Join(p.Plugs, ", "))
		figures(d, name, o, p, []figureOf[Port]{{"volume", func(p *Port) unit.Measured { return p.Volume }, unit.VolumeDim, "cm³"}})
	}
}

// feeds names the valves of a port.
func feeds(j *Job, p *Port) string {
	var words []string
	for _, id := range p.Valves {
		words = append(words, j.valveOf(p, id))
	}
	return and(words)
}

func (d *differences) valves(was, is *Job) {
	for i := range was.Valves {
		if v := &was.Valves[i]; is.valve(v.ID) == nil {
			*d = append(*d, Difference{Of: was.ValveName(v.ID), What: "taken out"})
		}
	}
	for i := range is.Valves {
		v := &is.Valves[i]
		name, o := is.ValveName(v.ID), was.valve(v.ID)
		if o == nil {
			*d = append(*d, Difference{Of: name, What: "added"})
			continue
		}
		d.text(name, "name", was.ValveName(v.ID), name)
		figures(d, name, o, v, valveFigures)
		d.text(name, "seal", o.Seal, v.Seal)
		d.text(name, "coated or hollow", string(o.Coating), string(v.Coating))
	}
}

// Alike joins what is said alike of several ports or valves of a head: "all intake
// valves: head 27 mm → 28 mm" would be eight lines else. It keeps the order of the
// first.
func Alike(j *Job, all []Difference) []Difference {
	var out []Difference
	var of [][]string
	for _, d := range all {
		at := slices.IndexFunc(out, func(x Difference) bool {
			return d.Of != "" && x.Of != "" && x.What == d.What && x.Was == d.Was && x.Is == d.Is
		})
		if at < 0 {
			out, of = append(out, d), append(of, []string{d.Of})
			continue
		}
		of[at] = append(of[at], d.Of)
	}
	for i := range out {
		if len(of[i]) > 1 {
			out[i].Of = j.together(of[i])
		}
	}
	return out
}

// together names several ports or valves at once.
func (j *Job) together(names []string) string {
	groups := map[string][]string{}
	for i := range j.Ports {
		p := &j.Ports[i]
		for _, g := range []string{"all ports", "all " + string(p.Side) + " ports"} {
			groups[g] = append(groups[g], j.PortName(p.ID))
		}
	}
	for i := range j.Valves {
		v := &j.Valves[i]
		for _, g := range []string{"all valves", "all " + string(v.Side) + " valves"} {
			groups[g] = append(groups[g], j.ValveName(v.ID))
		}
	}
	for name, all := range groups {
		if sameValves(all, names) {
			return name
		}
	}
	return strings.Join(names, "; ")
}

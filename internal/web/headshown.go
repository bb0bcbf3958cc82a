package web

import (
	"slices"
	"strconv"

	"seatproof/head"
	"seatproof/limit"
	"seatproof/unit"
)

type engineShown struct {
	Kind             head.Form `json:"kind"`
	Cylinders        int       `json:"cylinders"`
	Numbers          []int     `json:"numbers"`
	SameSide         bool      `json:"same_side"`
	Bore             *shown    `json:"bore"`
	Stroke           *shown    `json:"stroke"`
	Rod              *shown    `json:"rod"`
	Chamber          *shown    `json:"chamber"`
	CompressionRatio *shown    `json:"compression_ratio"`
	IntakeCloses     *shown    `json:"intake_closes"`
	Cranking         *shown    `json:"cranking"`
	Idle             *shown    `json:"idle"`
	TopSpeed         *shown    `json:"top_speed"`
}

type portShown struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	Short     string    `json:"short"`
	Cylinders []int     `json:"cylinders"`
	Side      head.Side `json:"side"`
	Part      string    `json:"part"`
	Valves    []string  `json:"valves"`
	Plugs     []string  `json:"plugs"`
	Volume    *shown    `json:"volume"`
}

type valveShown struct {
	ID        string       `json:"id"`
	Name      string       `json:"name"`
	Cylinder  int          `json:"cylinder"`
	Side      head.Side    `json:"side"`
	Place     string       `json:"place"`
	Head      *shown       `json:"head_diameter"`
	Stem      *shown       `json:"stem_diameter"`
	Contact   *shown       `json:"contact_width"`
	SeatAngle *shown       `json:"seat_angle"`
	FaceAngle *shown       `json:"face_angle"`
	Guide     *shown       `json:"guide_length"`
	Clearance *shown       `json:"guide_clearance"`
	Seal      string       `json:"seal"`
	Coating   head.Coating `json:"coating"`
}

type limitShown struct {
	Flow   *shown `json:"flow"`
	Gap    *shown `json:"gap"`
	Strict bool   `json:"strict"`

	Cost   *shown     `json:"cost"`
	NoCost bool       `json:"no_cost"`
	Basis  limit.Kind `json:"basis"`
	Drop   *shown     `json:"drop"`
	Good   string     `json:"good"`
}

type headShown struct {
	ID       string       `json:"id"`
	Rev      int64        `json:"rev"`
	By       string       `json:"by"`
	Binned   bool         `json:"binned"`
	Number   string       `json:"number"`
	Title    string       `json:"title"`
	Owner    string       `json:"owner"`
	Initials string       `json:"initials"`
	Opened   int64        `json:"opened"`
	Notes    string       `json:"notes"`
	Invented bool         `json:"invented"`
	Engine   engineShown  `json:"engine"`
	Lie      head.Lie     `json:"lie"`
	Ports    []portShown  `json:"ports"`
	Valves   []valveShown `json:"valves"`
	Limit    limitShown   `json:"limit"`
	Rig      string       `json:"rig"`
	Says     string       `json:"says"` // the layout in words
}

func length(m unit.Measured) *shown { return show(m, unit.LengthDim, "mm") }

// guess shows what a rule guessed, to three figures and marked; nil where it
// guessed nothing.
func guess(m unit.Measured, dim unit.Dimension, name string) *shown {
	x, err := unit.FromSI(m.Value, name)
	if !m.Known || err != nil {
		return nil
	}
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	si, _ := unit.ToSI(x, name)
	return &shown{Text: unit.Plain(unit.Exactly(si), dim, name), Value: m.Value, Spread: m.Spread, Unit: name, Guessed: true}
}

// or shows a figure, or the guess that stands in for it.
func or(m unit.Measured, guessed bool, dim unit.Dimension, name string) *shown {
	if guessed {
		return guess(m, dim, name)
	}
	return show(m, dim, name)
}

func showPort(j *head.Job, p head.Port) portShown {
	v, guessed := j.VolumeOr(&p)
	volume := or(v, guessed, unit.VolumeDim, "cm³")
	return portShown{
		p.ID, j.PortName(p.ID), shortName(j.PortName(p.ID)), append([]int{}, p.Cylinders...), p.Side, p.Part,
		append([]string{}, p.Valves...), append([]string{}, p.Plugs...), volume,
	}
}

func showEngine(j *head.Job) engineShown {
	e := j.Engine
	g, guessed := j.Given()
	of := func(m unit.Measured, dim unit.Dimension, name, what string) *shown {
		return or(m, slices.Contains(guessed, what), dim, name)
	}
	numbers := append([]int{}, e.Numbers...)
	for n := 1; len(numbers) < e.Cylinders; n++ {
		numbers = append(numbers, n)
	}
	return engineShown{
		e.Form, e.Cylinders, numbers, e.SameSide,
		of(g.Bore, unit.LengthDim, "mm", "bore"), of(g.Stroke, unit.LengthDim, "mm", "stroke"), of(g.Rod, unit.LengthDim, "mm", "connecting rod"),
		show(e.Chamber, unit.VolumeDim, "cm³"), of(g.Ratio, unit.RatioDim, "1", "compression ratio"),
		of(g.IntakeCloses, unit.AngleDim, "°", "intake closing"), of(g.Cranking, unit.SpeedDim, "r/min", "cranking speed"),
		of(g.Idle, unit.SpeedDim, "r/min", "idle speed"), of(g.TopSpeed, unit.SpeedDim, "r/min", "top speed"),
	}
}

func showValve(j *head.Job, v *head.Valve) valveShown {
	d, guessed := j.HeadOr(v)
	return valveShown{
		v.ID, j.ValveName(v.ID), v.Cylinder, v.Side, v.Place, or(d, guessed, unit.LengthDim, "mm"), length(v.Stem), length(v.Contact),
		show(v.SeatAngle, unit.AngleDim, "°"), show(v.FaceAngle, unit.AngleDim, "°"), length(v.Guide), length(v.Clearance), v.Seal, v.Coating,
	}
}

func showHead(k kept[head.Job]) headShown {
	j := k.V
	h := headShown{
		ID: k.ID, Rev: k.Rev, By: k.By, Binned: k.Binned, Number: j.Number, Title: j.Title, Owner: j.Owner, Initials: j.Initials,
		Opened: j.Opened, Notes: j.Notes, Invented: j.Invented, Lie: j.Lie, Rig: j.RigID, Ports: []portShown{}, Valves: []valveShown{},
		Engine: showEngine(&j), Says: j.LayoutWords(),
		Limit: showLimit(&j),
	}
	for _, p := range j.Ports {
		h.Ports = append(h.Ports, showPort(&j, p))
	}
	for i := range j.Valves {
		h.Valves = append(h.Valves, showValve(&j, &j.Valves[i]))
	}
	return h
}

package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/limit"
	"seatproof/unit"
)

// Chosen is a choice of rigs as screens show it: words and figures only.
type Chosen struct {
	Title     string        `json:"title"`
	Line      string        `json:"line"` // what was weighed
	Questions []Question    `json:"questions"`
	Guessed   []string      `json:"guessed"`
	Rigs      []RigLine     `json:"rigs"` // best first
	Pick      *RigShown     `json:"pick"` // nil: nothing to pick from
	Yours     *RigShown     `json:"yours,omitempty"`
	Cheapest  *RigShown     `json:"cheapest,omitempty"`
	List      []PartShown   `json:"list"` // what the pick is built from
	Plumbing  []string      `json:"plumbing"`
	Altitude  []string      `json:"altitude"`
	Checks    []string      `json:"checks"`
	Cautions  []string      `json:"cautions"`
	Chart     string        `json:"chart"`  // SVG
	Sketch    string        `json:"sketch"` // SVG
	Legend    []LegendEntry `json:"legend"`
}

// Question is a figure that is asked about.
type Question struct {
	Part  string `json:"part"`  // "pump"
	Index int    `json:"index"` // in its list
	Field string `json:"field"`
	Code  string `json:"code"`
	Name  string `json:"name"`
	What  string `json:"what"`
	Maybe string `json:"maybe,omitempty"`
	Out   bool   `json:"out"` // left out until it is mended
}

// RigLine is a rig in the list of all.
type RigLine struct {
	Rank     int    `json:"rank"`
	Pump     string `json:"pump"`
	Gauge    string `json:"gauge"`
	Hose     string `json:"hose"`
	Word     string `json:"word"`      // "tells in 15 s"
	Least    string `json:"least"`     // leak told in 15 s of hold
	Minute   string `json:"minute"`    // and in 60 s
	Steady   string `json:"steady"`    // what the steady reading tells
	Needle   string `json:"needle"`    // drop at the limit
	PullDown string `json:"pull_down"` // of the port seen worst
	Price    string `json:"price,omitempty"`
	Reason   string `json:"reason"` // the first of its reasons

	Altitude *RigElsewhere `json:"altitude,omitempty"` // at sea level, or from there at 2,000 m
}

// RigElsewhere is a rig at another altitude than that of the room.
type RigElsewhere struct {
	Where   string `json:"where"`   // "at 2,000 m"
	Here    string `json:"here"`    // what it pulls to in the room
	Blanked string `json:"blanked"` // and there
	Needle  string `json:"needle"`  // drop at the limit there
	Steady  string `json:"steady"`  // what the steady reading tells there
	Word    string `json:"word"`    // "tells in 15 s", there
	Words   string `json:"words"`   // all of it in a line
}

// RigShown is a rig with all that is said of it.
type RigShown struct {
	RigLine
	Name    string      `json:"name"`
	Reasons []string    `json:"reasons"`
	Swap    string      `json:"swap,omitempty"`
	Ports   []PortSight `json:"ports"`
}

// PortSight is what a rig sees of a kind of port.
type PortSight struct {
	Name  string      `json:"name"`
	Facts [][2]string `json:"facts"`
	Head  []string    `json:"head"`
	Rows  [][]string  `json:"rows"`
}

// PartShown is a line of the parts list.
type PartShown struct {
	What  string `json:"what"`
	Words string `json:"words"`
	Price string `json:"price,omitempty"`
}

// LegendEntry names a line of the chart.
type LegendEntry struct {
	Mark string `json:"mark"`
	Name string `json:"name"`
	Best bool   `json:"best"`
}

// tellsWords are the classes in words.
var tellsWords = map[check.Tells]string{
	check.TellsByThumb:   "tells in 15 s",
	check.TellsInAMinute: "tells in a minute",
	check.TellsTheLimit:  "tells the limit only",
	check.TellsNothing:   "tells nothing",
}

// Choice puts a choice into words and drawings.
func Choice(c *check.Choice, s Style) *Chosen {
	p := &c.Parts
	out := &Chosen{Title: p.Name, Questions: []Question{}, Guessed: []string{}, Rigs: []RigLine{}, Altitude: []string{}, List: []PartShown{}, Plumbing: []string{}, Legend: []LegendEntry{}}
	if out.Title == "" {
		out.Title = "A rig from parts"
	}
	var ports []string
	for _, x := range p.Ports {
		ports = append(ports, x.Name)
	}
	out.Line = fmt.Sprintf("%s from %s, %s and %s, for %s; air %s", count(len(c.Rigs), "rig"), count(len(p.Pumps), "pump"), count(len(p.Gauges), "gauge"), count(len(p.Hoses), "hose"),
		strings.Join(ports, " and "), Figure(c.Pressure/1e3, 3)+" kPa")
	for _, q := range c.Questions {
		name := map[check.Part]func() string{
			check.PartPump:  func() string { return p.Pumps[q.Index].Name },
			check.PartGauge: func() string { return p.Gauges[q.Index].Name },
			check.PartHose:  func() string { return p.Hoses[q.Index].Name },
		}[q.Part]()
		out.Questions = append(out.Questions, Question{string(q.Part), q.Index, q.Field, string(q.Code), name, s.sentence(q.What), s.sentence(q.Maybe), q.Blocks})
	}
	for _, g := range c.Guessed {
		out.Guessed = append(out.Guessed, s.sentence(g))
	}
	for i := range c.Rigs {
		out.Rigs = append(out.Rigs, s.rigLine(c, i))
	}
	out.Cautions = append(append([]string{}, chooseCautions...), cautions[0])
	out.Checks = chooseChecks
	if len(c.Rigs) == 0 {
		return out
	}
	out.Pick = s.rigShown(c, 0)
	if c.Yours > 0 {
		out.Yours = s.rigShown(c, c.Yours)
	}
	if c.Cheapest > 0 && c.Cheapest != c.Yours {
		out.Cheapest = s.rigShown(c, c.Cheapest)
	}
	out.List = s.partsList(c, &c.Rigs[0])
	out.Plumbing = s.plumbing(c, &c.Rigs[0])
	out.Altitude = s.altitude(c, &c.Rigs[0])
	out.Chart, out.Legend = chooseChart(c, s, chooseCard)
	out.Sketch = plumbingSketch(c, &c.Rigs[0], s, false)
	return out
}

// sentence writes a sentence of package check with its figures in this style.
func (s Style) sentence(x check.Sentence) string { return x.In(s.checked) }

// checked writes a figure of a sentence.
func (s Style) checked(f check.Figure) string {
	m := f.Is
	switch f.Dim {
	case unit.FlowDim:
		return s.anyFlow(m.Value, m.Spread)
	case unit.PressureDim:
		switch {
		case m.Spread == 0 && m.Value < 10e3:
			return s.lost(m.Value)
		case m.Spread == 0:
			return s.vacuum(m.Value)
		}
	case 0:
		return Figure(m.Value, 3)
	case unit.TimeDim:
		return seconds(math.Max(0.1, m.Value))
	}
	return s.quantity(m, f.Dim)
}

// anyFlow writes a flow in cm³/min, from 2,000 on in L/min.
func (s Style) anyFlow(q, spread float64) string {
	x, name := q*cm3min, " cm³/min"
	if x >= 1999 {
		x, spread, name = x/1e3, spread/1e3, " L/min"
	}
	t := Figure(x, s.digits())
	if spread > 0 {
		t += " ± " + Figure(spread*cm3min, s.digits())
	}
	return t + name
}

func (s Style) rangeWords(r check.Range) string {
	if !r.Any() || math.IsInf(r.Low, 1) {
		return "–"
	}
	low, high := s.anyFlow(r.Low, 0), s.anyFlow(r.High, 0)
	if a, unit, ok := strings.Cut(low, " "); ok && strings.HasSuffix(high, " "+unit) {
		low = a
	}
	return low + " to " + high
}

// money writes a price.
func money(x float64, c *check.Choice) string {
	if math.IsNaN(x) {
		return ""
	}
	if x == 0 {
		return "nothing to buy"
	}
	name := ""
	for _, p := range c.Parts.Costs() {
		if p.Money != "" {
			name = " " + p.Money
			break
		}
	}
	return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) + name
}

func (s Style) rigLine(c *check.Choice, i int) RigLine {
	x := &c.Rigs[i]
	p := &c.Parts
	v := x.Ports[x.Worst]
	l := RigLine{Rank: i + 1, Pump: p.Pumps[x.Pump].Name, Gauge: p.Gauges[x.Gauge].Name, Hose: p.Hoses[x.Hose].Name,
		Word: tellsWords[x.Tells], Least: s.anyFlow(v.Thumb.Low, 0), Minute: s.anyFlow(v.Minute.Low, 0), Steady: s.rangeWords(v.Steady),
		Needle: s.lost(v.Drops[1].Needle), PullDown: seconds(math.Max(0.1, v.PullDown)), Price: money(x.Price, c)}
	if len(x.Reasons) > 0 {
		l.Reason = s.sentence(x.Reasons[0])
	}
	if e := x.Elsewhere; e != nil {
		a := RigElsewhere{Where: altitudeWords(e.At), Here: s.vacuum(x.Blanked), Blanked: s.vacuum(e.Blanked), Needle: s.lost(e.Needle), Steady: s.rangeWords(e.Steady), Word: tellsWords[e.Tells]}
		a.Words = strings.ToUpper(a.Where[:1]) + a.Where[1:] + " it pulls to " + a.Blanked + " (here " + a.Here + "), the needle drops " + a.Needle + " at the limit (here " + l.Needle + ")"
		if e.Steady.Any() {
			a.Words += " and tells " + a.Steady
		} else {
			a.Words += " and tells no leak from another"
		}
		if e.Tells != x.Tells {
			a.Words += "; there it " + a.Word
		}
		a.Words += "."
		l.Altitude = &a
	}
	return l
}

// altitudeWords says where an altitude [m] is.
func altitudeWords(h float64) string {
	if h == 0 {
		return "at sea level"
	}
	t := strconv.Itoa(int(h))
	if n := len(t); n > 3 {
		t = t[:n-3] + "," + t[n-3:]
	}
	return "at " + t + " m"
}

func (s Style) rigShown(c *check.Choice, i int) *RigShown {
	x := &c.Rigs[i]
	r := &RigShown{RigLine: s.rigLine(c, i), Reasons: []string{}}
	r.Name = r.Pump + ", " + r.Gauge + ", hose " + r.Hose
	for _, w := range x.Reasons {
		r.Reasons = append(r.Reasons, s.sentence(w))
	}
	if w := x.Swap; w != nil {
		r.Swap = s.sentence(w.Words)
		if w.After < 0.95*w.Before && !math.IsInf(w.Before, 1) {
			r.Swap += " The least leak told in 15 s goes from " + s.anyFlow(w.Before, 0) + " to " + s.anyFlow(w.After, 0) + "."
		}
	}
	for k, v := range x.Ports {
		r.Ports = append(r.Ports, s.portSight(c, x, c.Parts.Ports[k], v))
	}
	return r
}

// limitedBy says what a kind of port's limit stands on, and what the other rule
// would allow; "" for one that was typed.
func (s Style) limitedBy(p *check.PortPart) string {
	by, ok := p.LimitedBy()
	if !ok {
		return ""
	}
	size := "its valve"
	if slices.Max(p.Heads) > slices.Min(p.Heads) {
		size = "its smaller valve"
	} else if len(p.Heads) > 1 {
		size = "one of its valves"
	}
	words := ", workmanship, of " + size
	if by.Kind == limit.ByCost {
		words = ", cost, the leak taken as a seep: the part of " + size + " in " + limitShare(by.Share) + " of the cranking pressure"
	}
	for _, x := range p.Rules {
		if x.Kind != by.Kind {
			words += "; " + x.Kind.Words() + " alone would allow " + s.anyFlow(x.At(0), 0)
		}
	}
	return words
}

// limitShare writes a share of cranking pressure: 2 %.
func limitShare(x float64) string { return strconv.FormatFloat(100*x, 'g', 3, 64) + " %" }

func (s Style) portSight(c *check.Choice, x *check.Candidate, port check.PortPart, v check.Sight) PortSight {
	most := s.anyFlow(v.Limit, 0)
	most += s.limitedBy(&port)
	volume := Figure(v.Volume*1e6, 3) + " cm³, the rig's " + Figure(x.Volume*1e6, 2) + " in it"
	if port.VolumeGuessed {
		volume += "; the port's part is guessed"
	}
	out := PortSight{Name: port.Name, Head: []string{"leak", "of the limit", "needle drops", "lost in 15 s", "lost in 60 s"}}
	out.Facts = [][2]string{
		{"limit", most},
		{"volume", volume},
		{"hold of 15 s", "tells " + s.rangeWords(v.Thumb) + ", in steps of " + s.anyFlow(v.ThumbStep, 0)},
		{"hold of 60 s", "tells " + s.rangeWords(v.Minute) + ", in steps of " + s.anyFlow(v.MinuteStep, 0)},
		{"steady reading", "tells " + s.rangeWords(v.Steady) + ", good to " + s.anyFlow(v.SteadyStep, 0) + "; the blanked reading's own scatter makes " + s.anyFlow(v.SteadyFloor, 0) + " of that"},
		{"pull-down", seconds(math.Max(0.1, v.PullDown)) + " to 98 % of the blanked reading, " + s.vacuum(x.Blanked)},
		{"hose", "takes " + s.lost(v.HoseLoss) + " at ten times the limit, with the pump on; nothing in a hold"},
	}
	for _, d := range v.Drops {
		needle := s.lost(d.Needle)
		switch {
		case d.Below:
			needle += ", not told"
		case d.Over:
			needle += ", all but open"
		}
		out.Rows = append(out.Rows, []string{s.anyFlow(d.Leak, 0), Figure(d.Times, 2) + " ×", needle, s.lost(d.Lost15), s.lost(d.Lost60)})
	}
	return out
}

// altitude says what the rig would do elsewhere.
func (s Style) altitude(c *check.Choice, x *check.Candidate) []string {
	at, highest := c.Altitudes(x)
	var parts []string
	for _, a := range at {
		parts = append(parts, altitudeWords(a.At)+" "+s.vacuum(a.Blanked))
	}
	out := []string{"Here it pulls to " + s.vacuum(x.Blanked) + "; " + strings.Join(parts, ", ") + ". A pump reaches a ratio of pressures, not a vacuum."}
	switch {
	case math.IsInf(highest, 1):
		out = append(out, "It is deep enough at any altitude that heads are worked on.")
	case math.IsNaN(highest):
		out = append(out, "It nowhere reaches the "+s.vacuum(60e3)+" that leave a hold room above the "+s.vacuum(50e3)+" at which leaks are stated.")
	default:
		out = append(out, "Up to some "+strconv.Itoa(int(math.Round(highest/100)*100))+" m it reaches "+s.vacuum(60e3)+", which leaves a hold room above the "+s.vacuum(50e3)+" at which leaks are stated.")
	}
	return out
}

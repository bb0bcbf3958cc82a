package web

import (
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

// partField is a figure of a part that the sheet asks for. A bare figure takes its
// unit; several for one thing are parted by " / ".
type partField struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Unit string `json:"unit"`
	Hint string `json:"hint"`
	More bool   `json:"more"` // shown when asked for
	dim  unit.Dimension
}

// partKind is a kind of part, of which there may be several.
type partKind struct {
	Key    string      `json:"key"`
	Name   string      `json:"name"` // "Pumps"
	One    string      `json:"one"`  // "pump"
	Single bool        `json:"single"`
	Says   string      `json:"says"`
	Fields []partField `json:"fields"`
}

var partKinds = []partKind{
	{"port", "Ports", "kind of port", false, "What the rig is to test, one of each kind. Valves alone will do: volume and limit are guessed from them.", []partField{
		{Key: "name", Name: "Name"},
		{Key: "valves", Name: "Its valves’ heads", Unit: "mm", Hint: "Each that it feeds: 27 / 27.", dim: unit.LengthDim},
		{Key: "bore", Name: "Bore of the cylinder", Unit: "mm", dim: unit.LengthDim},
		{Key: "volume", Name: "Volume", Unit: "cm³", Hint: "Guessed from the valves if left out.", dim: unit.VolumeDim},
		{Key: "limit", Name: "Limit of one valve", Unit: "cm³/min", Hint: "Workmanship if left out, and cost where the engine is known.", dim: unit.FlowDim},
	}},
	{"pump", "Pumps", "pump", false, "What its sheet or label says, in any unit. State all figures it gives for one thing, with a / between: they are held against each other.", []partField{
		{Key: "name", Name: "Name"},
		{Key: "free_flow", Name: "Flow, open to the room", Unit: "L/min", Hint: "2.5 cfm, or 10 L/min / 0.35 cfm.", dim: unit.FlowDim},
		{Key: "blanked", Name: "Vacuum it reaches", Unit: "kPa", Hint: "78 kPa / 23 inHg.", dim: unit.PressureDim},
		{Key: "end_pressure", Name: "Or what it leaves, absolute", Unit: "kPa", More: true, dim: unit.PressureDim},
		{Key: "curve", Name: "Or its curve", Hint: "0 kPa, 10 L/min / 40 kPa, 4.6 L/min / 78 kPa, 0 L/min", More: true},
		{Key: "rated_at", Name: "Stated at an air pressure of", Unit: "kPa", Hint: "Sea level if left out; here, where its figures were read in this room.", More: true, dim: unit.PressureDim},
		{Key: "power", Name: "Power it takes", Unit: "W", Hint: "Shows whether its flow can be right.", More: true},
		{Key: "price", Name: "Price", More: true},
		{Key: "supply", Name: "Runs on", More: true},
		{Key: "have", Name: "It is there already", More: true},
	}},
	{"gauge", "Gauges", "gauge", false, "A needle has divisions, a sensor a step.", []partField{
		{Key: "name", Name: "Name"},
		{Key: "division", Name: "One division, of a needle", Unit: "inHg", dim: unit.PressureDim},
		{Key: "resolution", Name: "Or its step, of a sensor", Unit: "kPa", dim: unit.PressureDim},
		{Key: "span", Name: "Scale", Hint: "0..30 inHg; 0..100 kPa if left out.", More: true},
		{Key: "class", Name: "Class on its dial", Hint: "1.6; or the accuracy.", More: true},
		{Key: "accuracy", Name: "Or accuracy, of its scale", Unit: "%", Hint: "2 % if left out.", More: true, dim: unit.RatioDim},
		{Key: "price", Name: "Price", More: true},
		{Key: "have", Name: "It is there already", More: true},
	}},
	{"hose", "Hoses", "hose", false, "Between valve and plate. Its volume slows the hold, its bore the pull.", []partField{
		{Key: "name", Name: "Name"},
		{Key: "bore", Name: "Bore", Unit: "mm", dim: unit.LengthDim},
		{Key: "length", Name: "Length", Unit: "m", dim: unit.LengthDim},
		{Key: "price", Name: "Price", More: true},
		{Key: "have", Name: "It is there already", More: true},
	}},
	{"air", "The room", "room", true, "", []partField{
		{Key: "pressure", Name: "Air pressure here", Unit: "kPa", Hint: "As it is here, not reduced to sea level.", dim: unit.PressureDim},
		{Key: "altitude", Name: "Or altitude", Unit: "m", dim: unit.LengthDim},
		{Key: "temperature", Name: "Air", Unit: "°C", More: true, dim: unit.TemperatureDim},
	}},
	{"engine", "The engine", "engine", true, "What it can spare of its cranking pressure is a limit beside workmanship: the stricter is taken. Its bore will do.", []partField{
		{Key: "bore", Name: "Bore", Unit: "mm", dim: unit.LengthDim},
		{Key: "stroke", Name: "Stroke", Unit: "mm", Hint: "As the bore, ± 20 %, if left out.", dim: unit.LengthDim},
		{Key: "compression_ratio", Name: "Compression ratio", Hint: "9.5 ± 2.5 if left out."},
		{Key: "valves", Name: "Heads of a cylinder’s valves", Unit: "mm", Hint: "27 / 27 / 23 / 23; one port of each kind if left out.", More: true, dim: unit.LengthDim},
		{Key: "rod", Name: "Connecting rod", Unit: "mm", More: true, dim: unit.LengthDim},
		{Key: "intake_closes", Name: "Intake closes after bottom", Unit: "°", More: true, dim: unit.AngleDim},
		{Key: "cranking", Name: "Cranking speed", Unit: "r/min", More: true, dim: unit.SpeedDim},
		{Key: "cost", Name: "May cost of the cranking pressure", Unit: "%", Hint: "All valves of a cylinder together; 2 % if left out.", More: true, dim: unit.RatioDim},
	}},
	{"", "The rest of the rig", "rest", true, "", []partField{
		{Key: "fittings", Name: "Volume of tee, valve and plate", Unit: "cm³", Hint: "Without the hose; guessed if left out.", dim: unit.VolumeDim},
		{Key: "rig_leak", Name: "Rig leak", Unit: "cm³/min", Hint: "Guessed if left out.", dim: unit.FlowDim},
	}},
}

// inventedParts is a list to try the sheet on: every part in it is invented.
var inventedParts = map[string][]map[string]string{
	"engine": {{"bore": "72", "stroke": "81.8", "compression_ratio": "9.5"}},
	"port":   {{"name": "intake port", "valves": "27 / 27", "bore": "72"}, {"name": "exhaust port", "valves": "23.5 / 23.5", "bore": "72"}},
	"pump": {
		{"name": "small diaphragm pump", "free_flow": "10 L/min", "blanked": "78 kPa / 23 inHg", "power": "12"},
		{"name": "large diaphragm pump", "free_flow": "70 L/min", "blanked": "78 kPa", "power": "130"},
		{"name": "pump with an odd sheet", "free_flow": "1.5 L/min / 1.5 cfm", "blanked": "80 kPa", "power": "90"},
	},
	"gauge": {{"name": "needle, 63 mm", "division": "1 inHg", "span": "0..30 inHg", "class": "2.5", "have": "yes"}, {"name": "sensor with a display", "resolution": "0.1 kPa", "accuracy": "0.5 %"}},
	"hose":  {{"name": "4 mm, 1.5 m", "bore": "4", "length": "1.5"}, {"name": "12 mm, 1.5 m", "bore": "12", "length": "1.5"}},
}

// askChoose tells the sheet what to ask, an invented list, and the heads a port
// may be taken from; with ?head= the ports of that one.
func (s *Server) askChoose(w http.ResponseWriter, r *http.Request) error {
	if id := r.URL.Query().Get("head"); id != "" {
		k, err := s.jobOf(r.Context(), id)
		if err != nil {
			return err
		}
		return s.answer(w, http.StatusOK, map[string]any{"ports": portsForm(ChoosePorts(&k.V)), "engine": engineForm(&k.V)})
	}
	heads, err := list[head.Job](r.Context(), s.Keeper, Query{Kind: kindJob})
	if err != nil {
		return err
	}
	type headWord struct {
		Code string `json:"code"`
		Word string `json:"word"`
	}
	from := []headWord{}
	for _, h := range heads {
		from = append(from, headWord{h.ID, strings.Trim(h.V.Number+", "+h.V.Title, ", ")})
	}
	return s.answer(w, http.StatusOK, map[string]any{"kinds": partKinds, "invented": inventedParts, "heads": from})
}

// ChoosePorts returns the kinds of port that a head has, one of each: ports of
// one side with like valves are one kind.
func ChoosePorts(j *head.Job) []check.PortPart {
	type kind struct {
		part check.PortPart
		side head.Side
	}
	var kinds []kind
	for i := range j.Ports {
		p := &j.Ports[i]
		part := check.PortPart{Volume: p.Volume}
		if b, _ := j.BoreOr(); b.Known {
			part.Bore = b.Value
		}
		for k := range j.Valves {
			if v := &j.Valves[k]; slices.Contains(p.Valves, v.ID) {
				d, _ := j.HeadOr(v)
				part.Heads = append(part.Heads, d.Value)
			}
		}
		if j.Limit.Flow.Known {
			part.Limit = j.Limit.Flow.Value
		}
		if len(part.Heads) == 0 {
			continue
		}
		if !slices.ContainsFunc(kinds, func(x kind) bool {
			return x.side == p.Side && x.part.Volume == part.Volume && slices.Equal(x.part.Heads, part.Heads)
		}) {
			part.Name = string(p.Side) + " port"
			kinds = append(kinds, kind{part, p.Side})
		}
	}
	var out []check.PortPart
	for i, k := range kinds {
		for m := range i {
			if kinds[m].side == k.side { // several kinds on one side
				k.part.Name = fmt.Sprintf("%s port %d", k.side, i+1)
			}
		}
		out = append(out, k.part)
	}
	return out
}

// engineForm puts a head's engine into the texts of the form, as far as it was
// said.
func engineForm(j *head.Job) map[string]string {
	e := report.EngineLimit(j)
	m := map[string]string{}
	if !e.Bore.Known {
		return m
	}
	is := &j.Engine
	for _, f := range []struct {
		key string
		m   unit.Measured
		dim unit.Dimension
		as  string
	}{
		{"bore", e.Bore, unit.LengthDim, "mm"}, {"stroke", is.Stroke, unit.LengthDim, "mm"}, {"rod", is.Rod, unit.LengthDim, "mm"}, {"compression_ratio", is.CompressionRatio, unit.RatioDim, "1"},
		{"intake_closes", is.IntakeCloses, unit.AngleDim, "°"}, {"cranking", is.Cranking, unit.SpeedDim, "r/min"}, {"cost", j.Limit.Cost, unit.RatioDim, "%"},
	} {
		if f.m.Known {
			m[f.key] = unit.Plain(f.m, f.dim, f.as)
		}
	}
	if !is.CompressionRatio.Known && is.Chamber.Known { // the form has no chamber
		m["compression_ratio"] = unit.Format(e.Ratio, unit.RatioDim, "1", 2)
	}
	var heads []string
	for _, d := range e.Heads {
		heads = append(heads, unit.Plain(unit.Exactly(d), unit.LengthDim, "mm"))
	}
	m["valves"] = strings.Join(heads, " / ")
	return m
}

// portsForm puts ports into the texts of the form.
func portsForm(ports []check.PortPart) []map[string]string {
	out := []map[string]string{}
	for _, p := range ports {
		m := map[string]string{"name": p.Name}
		var heads []string
		for _, d := range p.Heads {
			heads = append(heads, unit.Plain(unit.Exactly(d), unit.LengthDim, "mm"))
		}
		m["valves"] = strings.Join(heads, " / ")
		if p.Bore > 0 {
			m["bore"] = unit.Plain(unit.Exactly(p.Bore), unit.LengthDim, "mm")
		}
		if p.Volume.Known {
			m["volume"] = unit.Plain(p.Volume, unit.VolumeDim, "cm³")
		}
		if p.Limit > 0 {
			m["limit"] = report.Figure(p.Limit*60e6, 3)
		}
		out = append(out, m)
	}
	return out
}

// choose weighs the parts of a form.
func (s *Server) choose(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Parts map[string][]map[string]string `json:"parts"`
		Keep  bool                           `json:"keep"` // the best is kept as a rig
		By    string                         `json:"by"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if s.ReadParts == nil {
		return &Fault{Status: http.StatusNotFound, What: "this server can't choose rigs", Do: "use the command seatproof rig choose"}
	}
	parts, wrong := s.ReadParts(withUnits(ask.Parts))
	var f faults
	for _, x := range wrong {
		f.add(x.Key, upper(parsed.ReplaceAllString(x.Problem, ""))+".", "")
	}
	if err := f.err(); err != nil {
		return err
	}
	n := len(parts.Pumps) * len(parts.Gauges) * len(parts.Hoses)
	if n > mostRigs {
		return &Fault{What: fmt.Sprintf("that is %d rigs, more than the %d that are weighed at once", n, mostRigs), Do: "take some parts out"}
	}
	c, err := check.Choose(parts)
	if err != nil {
		return &Fault{What: strings.TrimPrefix(err.Error(), "choose a rig: "), Do: "mend that figure, then weigh them again", cause: err}
	}
	if ask.Keep && len(c.Rigs) > 0 {
		return s.keepChosen(w, r, c, ask.By)
	}
	return s.answer(w, http.StatusOK, report.Choice(c, s.style(r.Context())))
}

// keepChosen keeps the best rig with what is known of it before it is built.
func (s *Server) keepChosen(w http.ResponseWriter, r *http.Request, c *check.Choice, by string) error {
	best := c.Rig(&c.Rigs[0])
	file, wrong := s.EditRig("", best)
	if len(wrong) > 0 {
		return &Fault{What: "the rig can't be written down: " + wrong[0].Problem, Do: "describe it on the sheet Rigs"}
	}
	v := head.Rig{ID: s.NewID(), Name: best.Name, File: file}
	k, err := save(r.Context(), s, kept[head.Rig]{Doc: Doc{Kind: kindRig, ID: v.ID}, V: v}, by)
	if err != nil {
		return err
	}
	return s.answerRig(w, r.Context(), http.StatusCreated, k)
}

// parsed is what a fault of package unit begins with: the field shows the text.
var parsed = regexp.MustCompile(`^(figure \d+: )?parse "[^"]*": `)

// mostRigs is how many combinations are weighed at once.
const mostRigs = 2000

// withUnits gives bare figures of a form the unit that its field shows.
func withUnits(form map[string][]map[string]string) map[string][]map[string]string {
	out := map[string][]map[string]string{}
	for kind, items := range form {
		fields := map[string]partField{}
		for _, k := range partKinds {
			if k.Key == kind {
				for _, f := range k.Fields {
					fields[f.Key] = f
				}
			}
		}
		for _, item := range items {
			m := map[string]string{}
			for key, text := range item {
				f := fields[key]
				parts := strings.Split(text, "/")
				if f.dim != 0 && f.dim != unit.FlowDim && len(parts) > 1 { // 27/27 as 27 / 27; a flow has a slash of its own
					text = strings.Join(trimmed(parts), " / ")
				}
				if f.Unit != "" {
					var with []string
					for _, t := range strings.Split(text, " / ") {
						with = append(with, f.withUnit(strings.TrimSpace(t)))
					}
					text = strings.Join(with, " / ")
				}
				m[key] = text
			}
			out[kind] = append(out[kind], m)
		}
	}
	return out
}

func trimmed(all []string) (out []string) {
	for _, t := range all {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// withUnit gives a bare figure the field's unit.
func (f partField) withUnit(text string) string {
	if text == "" {
		return ""
	}
	if f.dim == 0 {
		if strings.Trim(text, "0123456789.,½¼¾ ") == "" {
			return text + " " + f.Unit
		}
		return text
	}
	var missing *unit.MissingUnitError
	if _, err := unit.Parse(text, f.dim); errors.As(err, &missing) {
		return text + " " + f.Unit
	}
	return text
}

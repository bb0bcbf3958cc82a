package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/unit"
)

// rigField is a figure of a rig that a sheet asks for; all else is in the file.
type rigField struct {
	key, name, unit, hint string
	dim                   unit.Dimension
	at                    func(*rig.Rig) *unit.Measured
}

var rigFields = []rigField{
	{"pump.blanked", "Blanked reading", "", "Pump on, a blank on the plate: where the needle stands.", unit.PressureDim, func(r *rig.Rig) *unit.Measured { return &r.Pump.Blanked }},
	{"pump.free_flow", "Pump, open to the room", "L/min", "From its label; it makes the steady reading speak.", unit.FlowDim, func(r *rig.Rig) *unit.Measured { return &r.Pump.FreeFlow }},
	{"volume", "Volume of the rig", "cm³", "Hose, fittings and plate, up to the port: fill it with water and measure that.", unit.VolumeDim, func(r *rig.Rig) *unit.Measured { return &r.Volume }},
	{"port.volume", "Volume of a port", "cm³", "Pour one port full. A head's own figure goes before this one.", unit.VolumeDim, func(r *rig.Rig) *unit.Measured { return &r.Port.Volume }},
	{"rig_leak", "Rig leak", "cm³/min", "What the rig itself leaks with a blank on it.", unit.FlowDim, func(r *rig.Rig) *unit.Measured { return &r.RigLeak }},
	{"air.pressure", "Air pressure here", "kPa", "As it is here, not reduced to sea level.", unit.PressureDim, func(r *rig.Rig) *unit.Measured { return &r.Air.Pressure }},
	{"air.altitude", "Altitude", "m", "Where no barometer is at hand.", unit.LengthDim, func(r *rig.Rig) *unit.Measured { return &r.Air.Altitude }},
	{"air.temperature", "Air", "°C", "", unit.TemperatureDim, func(r *rig.Rig) *unit.Measured { return &r.Air.Temperature }},
}

// checkedBy are the figures that a check goes before.
var checkedBy = map[string]check.Kind{
	"pump.blanked": check.KindBlanked, "pump.free_flow": check.KindPump, "volume": check.KindVolume, "rig_leak": check.KindRigLeak,
}

type rigFieldShown struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Text string `json:"text"`
	Unit string `json:"unit"`
	Hint string `json:"hint"`

	Checked string `json:"checked"` // what its check says, which goes before it; "" where none stands
}

type checkShown struct {
	head.Check
	When string `json:"when"`
}

type gaugeShown struct {
	Kind     rig.GaugeKind `json:"kind"`
	Unit     string        `json:"unit"`
	Division string        `json:"division"`
	Step     float64       `json:"step"` // of the buttons, in the unit
}

type rigShown struct {
	ID     string          `json:"id"`
	Rev    int64           `json:"rev"`
	Name   string          `json:"name"`
	File   string          `json:"file"`
	Line   string          `json:"line"`
	Blunt  string          `json:"blunt"` // what a steady reading alone can't tell on it
	Gauge  gaugeShown      `json:"gauge"`
	Fields []rigFieldShown `json:"fields"`
	Checks []checkShown    `json:"checks"`

	Standing []standingShown `json:"standing"` // of each kind of check that was made
	Check    string          `json:"check"`    // where they stand, in a sentence
}

// gaugeUnit is the unit a rig's needle is read in on the sheets: its own, where
// they have that one, else inHg.
func gaugeUnit(r rig.Rig) string {
	if u, ok := report.UnitNamed(r.Gauge.Unit); ok {
		return u.Name
	}
	return "inHg"
}

// show is a figure as the form shows it, in its unit; "" where it is not known.
func (f rigField) show(r *rig.Rig) (text, name string) {
	if name = f.unit; name == "" {
		name = gaugeUnit(*r)
	}
	if m := *f.at(r); m.Known {
		text = unit.Format(m, f.dim, name, 3)
	}
	return text, name
}

func showDivision(r rig.Rig) (text string, size float64) {
	if r.Gauge.Division <= 0 {
		return "", 0
	}
	x, _ := unit.FromSI(r.Gauge.Division, gaugeUnit(r))
	return report.Figure(x, 3), x
}

func (s *Server) showRig(k kept[head.Rig], checks []kept[head.Check]) rigShown {
	r, _ := s.ReadRig(k.V.File)
	u := gaugeUnit(r)
	out := rigShown{ID: k.ID, Rev: k.Rev, Name: k.V.Name, File: k.V.File, Fields: []rigFieldShown{}, Checks: []checkShown{}, Gauge: gaugeShown{Kind: r.Gauge.Kind, Unit: u}}
	out.Blunt = blunt(r, u)
	text, size := showDivision(r)
	out.Gauge.Division, out.Gauge.Step = text, size/2
	var line []string
	for _, f := range rigFields {
		text, name := f.show(&r)
		if text != "" && len(line) < 3 {
			line = append(line, strings.ToLower(f.name)+" "+text)
		}
		out.Fields = append(out.Fields, rigFieldShown{Key: f.key, Name: f.name, Text: text, Unit: name, Hint: f.hint})
	}
	out.Line = strings.Join(line, ", ")
	if out.Line == "" {
		out.Line = "nothing known of it yet: all is guessed, wide"
	}
	for _, c := range checks {
		if c.V.RigID == k.ID {
			v := c.V // what it was computed from stays on the sheet of the check
			v.Fields, v.Rows, v.Traces, v.Result = nil, nil, nil, nil
			out.Checks = append(out.Checks, checkShown{v, moment(v.At)})
		}
	}
	out.Standing, out.Check = s.standingOf(k.ID, r.Gauge.Unit, checks)
	for i := range out.Fields {
		for _, x := range out.Standing {
			if x.State == "good" && x.Kind == checkedBy[out.Fields[i].Key] {
				out.Fields[i].Checked = x.Value
			}
		}
	}
	return out
}

func (s *Server) listRigs(w http.ResponseWriter, r *http.Request) error {
	rigs, err := list[head.Rig](r.Context(), s.Keeper, Query{Kind: kindRig, Binned: r.URL.Query().Get("binned") != ""})
	if err != nil {
		return err
	}
	checks, err := s.checks(r.Context())
	if err != nil {
		return err
	}
	out := []rigShown{}
	for _, k := range rigs {
		out = append(out, s.showRig(k, checks))
	}
	return s.answer(w, http.StatusOK, map[string]any{"rigs": out})
}

// checks are all checks, newest first.
func (s *Server) checks(ctx context.Context) ([]kept[head.Check], error) {
	checks, err := list[head.Check](ctx, s.Keeper, Query{Kind: kindCheck})
	slices.SortStableFunc(checks, func(a, b kept[head.Check]) int { return int(min(1, max(-1, b.V.At-a.V.At))) })
	return checks, err
}

func (s *Server) answerRig(w http.ResponseWriter, ctx context.Context, status int, k kept[head.Rig]) error {
	checks, err := s.checks(ctx)
	if err != nil {
		return err
	}
	return s.answer(w, status, map[string]any{"rig": s.showRig(k, checks)})
}

func (s *Server) getRig(w http.ResponseWriter, r *http.Request) error {
	k, err := load[head.Rig](r.Context(), s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	return s.answerRig(w, r.Context(), http.StatusOK, k)
}

type rigAsk struct {
	Rev       int64             `json:"rev"`
	By        string            `json:"by"`
	Name      *string           `json:"name"`
	File      *string           `json:"file"`
	Fields    map[string]string `json:"fields"`
	GaugeUnit *string           `json:"gauge_unit"`
	Division  *string           `json:"division"`
	Kind      *string           `json:"kind"`
}

// change puts what was asked into a rig, and into its file where figures changed.
// A figure that comes back as it was shown is no change: what is shown is rounded.
func (a rigAsk) change(s *Server, v *head.Rig) error {
	var f faults
	if a.File != nil {
		_, fs := s.ReadRig(*a.File)
		for _, x := range fs {
			at := ""
			if x.Line > 0 {
				at = "Line " + strconv.Itoa(x.Line) + ", column " + strconv.Itoa(x.Column) + ": "
			}
			f.add("file", at+x.Problem, "")
		}
		if err := f.err(); err != nil {
			return err
		}
		v.File = *a.File
	}
	set(&v.Name, a.Name)
	if strings.TrimSpace(v.Name) == "" {
		f.add("name", "Give the rig a name, as you would call it at the bench.", "")
	}
	r, unread := s.ReadRig(v.File)
	if len(unread) > 0 {
		return &Fault{What: "the rig's file can't be read: " + unread[0].Problem, Do: "mend the file first", Fields: []FieldFault{{Field: "file", What: upper(unread[0].Problem) + "."}}}
	}
	was := r
	if a.GaugeUnit != nil {
		x, ok := report.UnitNamed(*a.GaugeUnit)
		switch {
		case !ok:
			f.add("gauge_unit", "This is no unit of vacuum.", "Is it inHg?")
		case r.Gauge.Unit == "" || x.Name != gaugeUnit(r): // the sheets show a unit of their own for one they have not
			r.Gauge.Unit = x.Name
		}
	}
	u := gaugeUnit(r)
	if a.Kind != nil {
		r.Gauge.Kind = rig.GaugeKind(*a.Kind)
	}
	if text, _ := showDivision(was); a.Division != nil && (strings.TrimSpace(*a.Division) != text || u != gaugeUnit(was)) {
		r.Gauge.Division = 0
		if m := (asked{Text: *a.Division}).positive(unit.PressureDim, u, "division", &f); m.Known {
			r.Gauge.Division = m.Value
		}
	}
	for key, text := range a.Fields {
		i := slices.IndexFunc(rigFields, func(x rigField) bool { return x.key == key })
		if i < 0 {
			f.add("fields."+key, "A rig has no such figure.", "")
			continue
		}
		x := rigFields[i]
		shown, name := x.show(&was)
		if strings.TrimSpace(text) == shown {
			continue
		}
		if x.unit == "" {
			name = u
		}
		if m := (asked{Text: text}).read(x.dim, name, "fields."+key, &f); m.Known || strings.TrimSpace(text) == "" {
			*x.at(&r) = m
		}
	}
	if err := f.err(); err != nil {
		return err
	}
	if a.Fields == nil && a.Division == nil && a.GaugeUnit == nil && a.Kind == nil && a.Name == nil {
		return nil
	}
	r.Name = v.Name
	file, fs := s.EditRig(v.File, r)
	if len(fs) > 0 { // what smells of a slip is asked about
		for _, x := range fs {
			switch {
			case x.Key == "name":
				f.add("name", upper(x.Problem)+".", "")
			case x.Key == "gauge.division":
				f.add("division", upper(x.Problem)+".", "")
			case slices.ContainsFunc(rigFields, func(known rigField) bool { return known.key == x.Key }):
				f.add("fields."+x.Key, upper(x.Problem)+".", "")
			default: // nothing that the form shows
				return &Fault{What: strings.TrimPrefix(x.Key+": "+x.Problem, ": "), Do: "mend it in the rig's file"}
			}
		}
		return f.err()
	}
	v.File = file
	return nil
}

func (s *Server) addRig(w http.ResponseWriter, r *http.Request) error {
	var ask rigAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	v := head.Rig{ID: s.NewID()}
	if err := ask.change(s, &v); err != nil {
		return err
	}
	k, err := save(r.Context(), s, kept[head.Rig]{Doc: Doc{Kind: kindRig, ID: v.ID}, V: v}, ask.By)
	if err != nil {
		return err
	}
	return s.answerRig(w, r.Context(), http.StatusCreated, k)
}

func (s *Server) putRig(w http.ResponseWriter, r *http.Request) error {
	var ask rigAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := load[head.Rig](r.Context(), s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	if ask.Rev != k.Rev {
		return &Conflict{Now: k.Doc}
	}
	if err := ask.change(s, &k.V); err != nil {
		return err
	}
	if k, err = save(r.Context(), s, k, ask.By); err != nil {
		return err
	}
	return s.answerRig(w, r.Context(), http.StatusOK, k)
}

func (s *Server) addCheck(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Kind  string `json:"kind"`
		Words string `json:"words"`
		By    string `json:"by"`
		At    int64  `json:"at"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := load[head.Rig](r.Context(), s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	var f faults
	if !known(checkWords, ask.Kind) {
		f.add("kind", "This is no kind of check.", "See /api/words.")
	}
	if strings.TrimSpace(ask.Words) == "" {
		f.add("words", "Write what was found.", "")
	}
	if err := f.err(); err != nil {
		return err
	}
	c := head.Check{ID: s.NewID(), RigID: k.ID, At: ask.At, By: ask.By, Kind: ask.Kind, Words: ask.Words}
	if c.At == 0 {
		c.At = s.Now().UnixMilli()
	}
	if _, err := save(r.Context(), s, kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: c.ID}, V: c}, ask.By); err != nil {
		return err
	}
	return s.answerRig(w, r.Context(), http.StatusCreated, k)
}

// airWords says what air a rig stands in.
func airWords(r rig.Rig) string {
	var parts []string
	if p := r.Air.Pressure; p.Known {
		parts = append(parts, report.Figure(p.Value/1e3, 4)+" kPa")
	}
	if t := r.Air.Temperature; t.Known {
		parts = append(parts, report.Figure(t.Value-273.15, 2)+" °C")
	}
	if len(parts) == 0 {
		return "not said"
	}
	return strings.Join(parts, ", ")
}

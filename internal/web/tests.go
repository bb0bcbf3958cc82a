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
	"seatproof/rig"
	"seatproof/unit"
)

type readingAsk struct {
	Time    string `json:"time"`
	Reading string `json:"reading"`
	Above   bool   `json:"above"`
}

type testAsk struct {
	Job        string           `json:"job"`
	Port       string           `json:"port"`
	By         string           `json:"by"`
	Rig        string           `json:"rig"`
	Check      string           `json:"check"`
	Note       string           `json:"note"`
	At         int64            `json:"at"`
	Conditions *head.Conditions `json:"conditions"`
	Source     head.Source      `json:"source"`
	Unit       string           `json:"unit"`
	Division   string           `json:"division"`
	Readings   []readingAsk     `json:"readings"`
	Trace      string           `json:"trace"`
	Columns    string           `json:"columns"`
}

type budgetShown struct {
	Input   string  `json:"input"`
	Share   float64 `json:"share"`
	Percent string  `json:"percent"`
}

type messageShown struct {
	What string `json:"what"`
	Do   string `json:"do"`
}

type readingShown struct {
	State    report.State   `json:"state"`
	Word     string         `json:"word"`
	Line     string         `json:"line"`
	Leak     string         `json:"leak"`
	This     string         `json:"this"`
	Again    string         `json:"again"`
	Lost     string         `json:"lost"`
	Refusal  *messageShown  `json:"refusal"`
	Warnings []messageShown `json:"warnings"`
	Guessed  []string       `json:"guessed"`
	Budget   []budgetShown  `json:"budget"`
	Version  string         `json:"version"`
}

type testShown struct {
	ID         string          `json:"id"`
	Rev        int64           `json:"rev"`
	Binned     bool            `json:"binned"`
	Job        string          `json:"job"`
	Head       string          `json:"head"` // its number
	Port       string          `json:"port"`
	PortName   string          `json:"port_name"`
	At         int64           `json:"at"`
	When       string          `json:"when"`
	By         string          `json:"by"`
	Source     head.Source     `json:"source"`
	SourceWord string          `json:"source_word"`
	Rig        string          `json:"rig"`
	Check      string          `json:"check"`
	Conditions head.Conditions `json:"conditions"`
	How        string          `json:"how"`
	Trace      string          `json:"trace"`
	Beside     []head.Beside   `json:"beside"` // of other gauges
	Columns    string          `json:"columns"`
	Note       string          `json:"note"`
	Reading    readingShown    `json:"reading"`
}

func messages(ms []report.Message) []messageShown {
	out := []messageShown{}
	for _, m := range ms {
		out = append(out, messageShown{m.What, m.Do})
	}
	return out
}

func showReading(o *report.Outcome, st report.Style, version string) readingShown {
	r := readingShown{
		State: o.State(), Word: wordOf(stateWords, o.State()), Line: o.VerdictLine(st), Leak: o.LeakCell(st), This: o.ThisCell(st), Again: o.AgainCell(st),
		Lost: o.LostWords(st), Warnings: messages(o.WarningWords(st)), Guessed: o.GuessWords(st), Budget: []budgetShown{}, Version: version,
	}
	if !o.Answered() {
		m := o.Why(st)
		r.Refusal = &messageShown{m.What, m.Do}
	}
	if o.Reading != nil {
		for _, l := range o.Reading.Budget {
			r.Budget = append(r.Budget, budgetShown{l.Input, l.Share, report.Percent(l)})
		}
	}
	return r
}

// how says how a test was made.
func how(c head.Conditions, masked string) string {
	parts := []string{"valves held by " + report.HeldWords(c.Held)}
	if c.Held == rig.HeldNotSaid {
		parts = []string{"what held the valves was not said"}
	}
	if c.Wet != rig.WetNotSaid {
		parts = append(parts, "seats "+wordOf(wetWords, c.Wet))
	}
	if c.Guide != head.GuideNotSaid {
		parts = append(parts, "guides "+wordOf(guideWords, c.Guide))
	}
	if c.State != head.StateNotSaid {
		parts = append(parts, wordOf(conditionWords, c.State))
	}
	if c.Turned {
		parts = append(parts, "valves turned and dropped")
	}
	if c.Placed {
		parts = append(parts, "plate put down again")
	}
	if masked != "" {
		parts = append(parts, masked)
	}
	if c.Plugged == head.No {
		parts = append(parts, "other openings left open")
	}
	return strings.Join(parts, ", ")
}

// showTest shows a test with its reading; job may be nil, and is then looked up.
func (s *Server) showTest(ctx context.Context, t kept[test], b *bench) (testShown, error) {
	if b == nil {
		var j head.Job
		if t.V.JobID != "" {
			k, err := load[head.Job](ctx, s.Keeper, kindJob, t.V.JobID)
			if err != nil {
				return testShown{}, err
			}
			j = k.V
		}
		nb, err := s.bench(ctx, j)
		if err != nil {
			return testShown{}, err
		}
		b = &nb
	}
	o, err := s.read(ctx, *b, t)
	if err != nil {
		return testShown{}, err
	}
	name := "not filed"
	for _, p := range b.job.Ports {
		if p.ID == t.V.PortID {
			name = b.job.PortName(p.ID)
		}
	}
	v := t.V
	return testShown{
		t.ID, t.Rev, t.Binned, v.JobID, b.job.Number, v.PortID, name, v.At, moment(v.At), v.By, v.Source, wordOf(sourceWords, v.Source), v.RigID, v.CheckID,
		v.Conditions, how(v.Conditions, b.job.MaskWords(v.PortID, v.Conditions.Masked)), v.TraceID, append([]head.Beside{}, v.Beside...), v.Columns, v.Note, showReading(o, b.style, s.Version),
	}, nil
}

func (s *Server) listTests(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	query := Query{Kind: kindTest, JobID: q.Get("job"), NoJob: q.Get("tray") != "", Binned: q.Get("binned") != ""}
	if query.JobID == "" && !query.NoJob && !query.Binned {
		return &Fault{Status: http.StatusBadRequest, What: "whose tests are asked for is not said", Do: "give tray=1, job=ID or binned=1"}
	}
	tests, err := list[test](r.Context(), s.Keeper, query)
	if err != nil {
		return err
	}
	out := []testShown{}
	for _, t := range tests {
		v, err := s.showTest(r.Context(), t, nil)
		if err != nil {
			return err
		}
		out = append(out, v)
	}
	return s.answer(w, http.StatusOK, map[string]any{"tests": out})
}

// portOf checks that a job has a port; both empty is the tray.
func (s *Server) portOf(ctx context.Context, job, port string, f *faults) (*kept[head.Job], error) {
	if job == "" {
		if port != "" {
			f.add("port", "A port belongs to a head, and none is named.", "")
		}
		return nil, nil
	}
	k, err := load[head.Job](ctx, s.Keeper, kindJob, job)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(k.V.Ports, func(p head.Port) bool { return p.ID == port }) {
		f.add("port", "This head has no such port.", "Choose one from the drawing.")
	}
	return &k, nil
}

func checkConditions(c head.Conditions, job *kept[head.Job], f *faults) {
	f.take("conditions.", c.Validate(), false)
	if job != nil {
		f.take("conditions.", job.V.UnknownValves("masked", c.Masked), false)
	}
}

func (s *Server) addTest(w http.ResponseWriter, r *http.Request) error {
	var ask testAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	ctx := r.Context()
	var f faults
	job, err := s.portOf(ctx, ask.Job, ask.Port, &f)
	if err != nil {
		return err
	}
	set, err := s.loadSettings(ctx)
	if err != nil {
		return err
	}
	t := test{
		ID: s.NewID(), JobID: ask.Job, PortID: ask.Port, At: ask.At, By: ask.By, Source: ask.Source, RigID: ask.Rig, CheckID: ask.Check,
		Conditions: set.V.Conditions, TraceID: ask.Trace, Columns: ask.Columns, Note: ask.Note,
	}
	if t.At == 0 {
		t.At = s.Now().UnixMilli()
	}
	if ask.Conditions != nil {
		t.Conditions = *ask.Conditions
	}
	checkConditions(t.Conditions, job, &f)
	if t.RigID == "" && job != nil {
		t.RigID = job.V.RigID
	}
	if t.RigID == "" {
		t.RigID = set.V.Rig
	}
	if !known(sourceWords, t.Source) {
		f.add("source", "Where the figures came from is not said.", "")
	}
	var text string
	if t.Source == head.FromFile || t.Source == head.FromSession {
		if ask.Trace == "" {
			f.add("trace", "No recording was sent.", "Choose a file first.")
		} else if _, body, err := s.Keeper.OpenBlob(ctx, ask.Trace); err != nil {
			f.add("trace", "This recording is not here any more.", "Send the file again.")
		} else {
			body.Close()
		}
	} else {
		text = ask.handFile(s.gauge(ctx, t.RigID), &f)
	}
	if err := f.err(); err != nil {
		return err
	}
	if text != "" {
		b, err := s.Keeper.AddBlob(ctx, "readings.csv", "text/csv", stream(text))
		if err != nil {
			return err
		}
		t.TraceID = b.ID
	}
	k, err := save(ctx, s, kept[test]{Doc: Doc{Kind: kindTest, ID: t.ID, JobID: t.JobID}, V: t}, t.By)
	if err != nil {
		return err
	}
	return s.answerTest(w, ctx, http.StatusCreated, k)
}

// answerTest answers with a test and the card of its head.
func (s *Server) answerTest(w http.ResponseWriter, ctx context.Context, status int, k kept[test]) error {
	v, err := s.showTest(ctx, k, nil)
	if err != nil {
		return err
	}
	body := map[string]any{"test": v, "card": nil, "intervals": "", "narrow": nil}
	if k.V.JobID != "" {
		job, err := load[head.Job](ctx, s.Keeper, kindJob, k.V.JobID)
		if err != nil {
			return err
		}
		c, err := s.card(ctx, job)
		if err != nil {
			return err
		}
		body["card"] = c
		if i := slices.IndexFunc(c.Rows, func(r cardRow) bool { return r.Port == k.V.PortID }); i >= 0 && c.Rows[i].outcome != nil {
			o := c.Rows[i].outcome
			body["intervals"] = o.IntervalsSVG(s.style(ctx))
			b, err := s.bench(ctx, job.V)
			if err != nil {
				return err
			}
			narrow := s.narrowOf(o.Reading, b, &k.V)
			v.Reading.Guessed = narrow.once(v.Reading.Guessed)
			body["narrow"], body["test"] = narrow, v
		}
	}
	return s.answer(w, status, body)
}

// gauge is what a rig's file says of its gauge.
func (s *Server) gauge(ctx context.Context, id string) rig.Gauge {
	k, err := load[head.Rig](ctx, s.Keeper, kindRig, id)
	if err != nil {
		return rig.Gauge{}
	}
	r, _ := s.ReadRig(k.V.File)
	return r.Gauge
}

// handFile writes readings by eye as the file of hand readings that package
// trace reads, each figure in the unit it was typed in.
func (a testAsk) handFile(g rig.Gauge, f *faults) string {
	u := a.Unit
	if _, ok := report.UnitNamed(u); !ok {
		f.add("unit", "The gauge's unit is not said.", "Is it inHg?")
		return ""
	}
	least := 2
	if a.Source == head.FromSteady {
		least = 1
	}
	if len(a.Readings) < least {
		f.add("readings", fmt.Sprintf("%d readings are needed.", least), "")
	}
	var b strings.Builder
	b.WriteString("# hand readings\n# source: " + string(a.Source) + "\n")
	division := g.Division
	if a.Division != "" {
		if m := (asked{Text: a.Division, Unit: u}).positive(unit.PressureDim, u, "division", f); m.Known {
			division = m.Value
		}
	}
	if division > 0 {
		x, _ := unit.FromSI(division, u)
		fmt.Fprintf(&b, "# division %s %s\n", strconv.FormatFloat(x, 'g', 9, 64), u)
	}
	fmt.Fprintf(&b, "time (s),vacuum (%s),note\n", u)
	last := -1.0
	for i, x := range a.Readings {
		at := fmt.Sprintf("readings.%d.", i)
		sec := (asked{Text: x.Time}).read(unit.TimeDim, "s", at+"time", f)
		v := (asked{Text: x.Reading}).read(unit.PressureDim, u, at+"reading", f)
		if !v.Known {
			if x.Reading == "" {
				f.add(at+"reading", "No figure stands here.", "What did the needle show?")
			}
			continue
		}
		if v.Value < 0 {
			f.add(at+"reading", "A vacuum is a figure above zero.", "Leave the minus out.")
		}
		if v.Value > 110e3 {
			f.add(at+"reading", "No air pressure allows a vacuum as deep as that.", "Check the unit; is it "+suggestUnit(v.Value, u)+"?")
		}
		if sec.Value <= last {
			f.add(at+"time", "Times must rise.", "")
		}
		last = sec.Value
		note := ""
		if x.Above {
			note = "above"
		}
		y, _ := unit.FromSI(v.Value, u)
		fmt.Fprintf(&b, "%s,%s,%s\n", strconv.FormatFloat(sec.Value, 'g', 9, 64), strconv.FormatFloat(y, 'g', 9, 64), note)
	}
	return b.String()
}

// suggestUnit names a unit in which a figure would be a vacuum.
func suggestUnit(pa float64, in string) string {
	x, err := unit.FromSI(pa, in)
	if err != nil {
		return "kPa"
	}
	for _, u := range []string{"kPa", "inHg", "mbar", "mmHg"} {
		if si, err := unit.ToSI(x, u); err == nil && u != in && si > 5e3 && si < 101e3 {
			return u
		}
	}
	return "mbar"
}

func (s *Server) test(r *http.Request) (kept[test], error) {
	return load[test](r.Context(), s.Keeper, kindTest, r.PathValue("id"))
}

func (s *Server) getTest(w http.ResponseWriter, r *http.Request) error {
	k, err := s.test(r)
	if err != nil {
		return err
	}
	v, err := s.showTest(r.Context(), k, nil)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, map[string]any{"test": v})
}

func (s *Server) putTest(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Rev        int64            `json:"rev"`
		By         *string          `json:"by"`
		At         *int64           `json:"at"`
		Note       *string          `json:"note"`
		Columns    *string          `json:"columns"`
		Conditions *head.Conditions `json:"conditions"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := s.test(r)
	if err != nil {
		return err
	}
	if ask.Rev != k.Rev {
		return &Conflict{Now: k.Doc}
	}
	set(&k.V.By, ask.By)
	set(&k.V.At, ask.At)
	set(&k.V.Note, ask.Note)
	set(&k.V.Columns, ask.Columns)
	set(&k.V.Conditions, ask.Conditions)
	var f faults
	checkConditions(k.V.Conditions, nil, &f)
	if err := f.err(); err != nil {
		return err
	}
	if k, err = save(r.Context(), s, k, ""); err != nil {
		return err
	}
	return s.answerTest(w, r.Context(), http.StatusOK, k)
}

func (s *Server) moveTest(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Rev  int64  `json:"rev"`
		By   string `json:"by"`
		Job  string `json:"job"`
		Port string `json:"port"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := s.test(r)
	if err != nil {
		return err
	}
	if ask.Rev != k.Rev {
		return &Conflict{Now: k.Doc}
	}
	var f faults
	job, err := s.portOf(r.Context(), ask.Job, ask.Port, &f)
	if err == nil {
		err = f.err()
	}
	if err != nil {
		return err
	}
	k.V.JobID, k.V.PortID, k.JobID = ask.Job, ask.Port, ask.Job
	if k.V.RigID == "" && job != nil {
		k.V.RigID = job.V.RigID
	}
	if k, err = save(r.Context(), s, k, ask.By); err != nil {
		return err
	}
	return s.answerTest(w, r.Context(), http.StatusOK, k)
}

func (s *Server) binTest(w http.ResponseWriter, r *http.Request) error {
	k, err := s.test(r)
	if err != nil {
		return err
	}
	if k.V.JobID != "" && r.PathValue("what") == "unbin" { // its port may be gone meanwhile
		job, err := s.jobOf(r.Context(), k.V.JobID)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(job.V.Ports, func(p head.Port) bool { return p.ID == k.V.PortID }) {
			k.V.JobID, k.V.PortID, k.JobID = "", "", ""
		}
	}
	if k, err = bin(w, r, s, k); err != nil {
		return err
	}
	return s.answerTest(w, r.Context(), http.StatusOK, k)
}

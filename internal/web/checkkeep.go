package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// checkAsk is what was taken in a step, as a sheet sends it.
type checkAsk struct {
	Fields map[string]string   `json:"fields"`
	Rows   []map[string]string `json:"rows"`
	Traces []string            `json:"traces"` // as /api/preview answered them
	Days   check.Days          `json:"days"`   // how long it is trusted; 0: as the one before, or as usual
	By     string              `json:"by"`
	At     int64               `json:"at"`
}

// doCheck takes a step of a check, by hand or from recordings, and keeps what
// comes of it.
func (s *Server) doCheck(w http.ResponseWriter, r *http.Request) error {
	var ask checkAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	ctx := r.Context()
	g, err := load[head.Rig](ctx, s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	step := stepBy(r.PathValue("step"))
	if step == nil {
		return &Fault{Status: http.StatusNotFound, What: "the check has no such step", Do: "see docs/api.md"}
	}
	c := head.Check{
		ID: s.NewID(), RigID: g.ID, At: ask.At, By: ask.By, Kind: string(step.Kind), Step: step.Code,
		Fields: ask.Fields, Rows: ask.Rows, Traces: ask.Traces,
	}
	if c.At == 0 {
		c.At = s.Now().UnixMilli()
	}
	if c.Fields == nil {
		c.Fields = map[string]string{}
	}
	c.Fields["unit"] = vacuumUnit(s.checkStyle(ctx, g.ID)) // that the fields showed
	var f faults
	res, err := s.computeCheck(ctx, &c, &f)
	if e := f.err(); e != nil {
		return e
	}
	if err != nil {
		return &Fault{What: "no result comes of this: " + err.Error(), Do: "see to it, and take it again"}
	}
	if res.Days = ask.Days; res.Days == 0 {
		res.Days = s.daysBefore(ctx, g.ID, step.Kind)
	}
	if err := s.keepCheck(ctx, kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: c.ID}, V: c}, &res, nil); err != nil {
		return err
	}
	if err := s.recheck(ctx, g.ID, step.Kind); err != nil {
		return err
	}
	return s.answerCheck(w, ctx, http.StatusCreated, g.ID, 0)
}

// keepCheck keeps a check with what came of it, or why nothing did.
func (s *Server) keepCheck(ctx context.Context, k kept[head.Check], res *check.Result, why error) error {
	was := string(k.V.Result)
	k.V.Result = nil
	switch {
	case res != nil:
		b, err := json.Marshal(res)
		if err != nil {
			return err
		}
		k.V.Result, k.V.Words = b, resultWords(res, s.checkStyle(ctx, k.V.RigID))
	case why != nil:
		k.V.Words = "no result yet: " + why.Error()
	}
	if k.Rev > 0 && was == string(k.V.Result) && was != "" {
		return nil
	}
	_, err := save(ctx, s, k, k.V.By)
	return err
}

// resultOf is what came of a check that is kept; false: nothing, or it is of
// before results were kept.
func resultOf(c head.Check) (check.Result, bool) {
	var r check.Result
	if len(c.Result) == 0 || json.Unmarshal(c.Result, &r) != nil {
		return r, false
	}
	return r, true
}

// rigChecks are the checks of a rig, newest first, and their results, oldest first.
func (s *Server) rigChecks(ctx context.Context, rigID string) ([]kept[head.Check], []check.Result, error) {
	all, err := s.checks(ctx)
	if err != nil {
		return nil, nil, err
	}
	all = slices.DeleteFunc(all, func(c kept[head.Check]) bool { return c.V.RigID != rigID })
	var results []check.Result
	for _, c := range slices.Backward(all) {
		if r, ok := resultOf(c.V); ok {
			results = append(results, r)
		}
	}
	return all, results, nil
}

// daysBefore is how long a person said that a kind of check of a rig is trusted;
// 0: nobody did.
func (s *Server) daysBefore(ctx context.Context, rigID string, k check.Kind) check.Days {
	all, _, err := s.rigChecks(ctx, rigID)
	if err != nil {
		return 0
	}
	for _, c := range all {
		if r, ok := resultOf(c.V); ok && r.Kind == k {
			return r.Days
		}
	}
	return 0
}

// computeCheck computes what a check comes to, on its rig as the other checks
// say it is. What is wrong with its figures is in f.
func (s *Server) computeCheck(ctx context.Context, c *head.Check, f *faults) (check.Result, error) {
	t, err := s.takenOf(ctx, c, f)
	if err != nil || f.err() != nil {
		return check.Result{}, err
	}
	res, err := t.result(c.Step)
	return res, plainly(err)
}

// takenOf gathers what a check is computed from.
func (s *Server) takenOf(ctx context.Context, c *head.Check, f *faults) (*taken, error) {
	step := stepBy(c.Step)
	if step == nil {
		return nil, errors.New("it was made by no step that is known")
	}
	g, err := load[head.Rig](ctx, s.Keeper, kindRig, c.RigID)
	if err != nil {
		return nil, err
	}
	r, bad := s.ReadRig(g.V.File)
	if len(bad) > 0 {
		return nil, errors.New("the rig’s file can’t be read: " + bad[0].Problem)
	}
	all, results, err := s.rigChecks(ctx, c.RigID)
	if err != nil {
		return nil, err
	}
	at := time.UnixMilli(c.At)
	others := slices.DeleteFunc(slices.Clone(results), func(x check.Result) bool { return x.Kind == step.Kind })
	when := at // of the day all checks speak, in whatever order they were made
	if c.At >= today(s.Now()) {
		when = s.Now()
	}
	t := &taken{at: at, stated: r, rig: check.Apply(r, others, when), by: map[string]unit.Measured{}}
	t.way, t.limit = c.Fields["way"], s.leastLimit(ctx, c.RigID, t.rig)
	readFields(c, step, either(c.Fields["unit"], gaugeUnit(r)), t, f)
	for i, id := range c.Traces {
		x, err := s.recording(ctx, id, "", t.rig)
		if err != nil {
			f.add("traces."+strconv.Itoa(i), "This recording can’t be read: "+err.Error()+".", "")
			continue
		}
		t.traces = append(t.traces, x)
	}
	step.missing(t, f)
	for _, x := range all { // the newest hold on the blank, of the same run first
		if x.V.Step == stepRigLeak && len(x.V.Traces) > 0 && (c.Run == "" || x.V.Run == c.Run) {
			if b, err := s.recording(ctx, x.V.Traces[len(x.V.Traces)-1], "", t.rig); err == nil {
				t.blank = &b
			}
			break
		}
	}
	return t, nil
}

// readFields understands the figures of a check: each in the unit of its field.
func readFields(c *head.Check, step *checkStep, gauge string, t *taken, f *faults) {
	read := func(col column, text, field string) unit.Measured {
		u := col.Unit
		if u == "" {
			u = gauge
		}
		if col.Key == "known" {
			if m, way := catalogued(text, t.rig); m.Known {
				t.way = way
				return m
			}
		}
		if col.Key == "mass" && text != "" { // a gram of water is a cubic centimetre
			text, u = strings.TrimSuffix(strings.TrimSpace(text), "g"), "cm³"
		}
		m := (asked{Text: text}).read(col.dim, u, field, f)
		return m
	}
	for _, col := range step.Fields {
		t.by[col.Key] = read(col, c.Fields[col.Key], "fields."+col.Key)
	}
	for i, row := range c.Rows {
		out := map[string]unit.Measured{}
		some := false
		for _, col := range step.Rows {
			out[col.Key] = read(col, row[col.Key], "rows."+strconv.Itoa(i)+"."+col.Key)
			some = some || strings.TrimSpace(row[col.Key]) != ""
		}
		for _, col := range step.Rows { // a row that was left empty is none
			if some && strings.TrimSpace(row[col.Key]) == "" && len(c.Traces) == 0 {
				f.add("rows."+strconv.Itoa(i)+"."+col.Key, "This row needs both figures.", "Or leave the whole row empty.")
			}
		}
		if k := row["leak"]; k != "" { // the known leak that was on, of a recording
			if m := (asked{Text: k}).positive(unit.FlowDim, "cm³/min", "rows."+strconv.Itoa(i)+".leak", f); m.Known {
				t.known, t.ways = append(t.known, within(m)), append(t.ways, row["way"])
			}
		}
		switch m := out["known"]; {
		case len(c.Traces) == 0 && some:
			t.rows = append(t.rows, out)
		case m.Known:
			t.known, t.ways = append(t.known, within(m)), append(t.ways, c.Fields["way"])
		}
	}
}

// within is the interval of a known leak; one without ± may be off by a twentieth
// (common practice, no source: a jet is rarely known better).
func within(m unit.Measured) leak.Interval {
	if m.Spread <= 0 {
		m.Spread = 0.05 * m.Value
	}
	return leak.Interval{Median: m.Value, Low: max(0, m.Value-m.Spread), High: m.Value + m.Spread}
}

// catalogued is what a known leak of the catalogue passes at 50 kPa on a rig, and
// what it is made of: "drill 80", "needle 30, 13 mm". Not known where the
// catalogue has none of that name, or its length is missing.
func catalogued(text string, r rig.Rig) (unit.Measured, string) {
	name, length, _ := strings.Cut(strings.TrimSpace(text), ", ")
	k, ok := check.Find(check.Catalogue(), name)
	if !ok || name == "" {
		return unit.Measured{}, ""
	}
	if q, err := unit.ParseIn(length, unit.LengthDim, "mm"); err == nil {
		k.Length = q.Measured
	}
	pa, ta := check.RoomOf(r)
	q, err := k.FreeAir(gas.StatedVacuum, pa, ta)
	if err != nil {
		return unit.Measured{}, ""
	}
	way := wayTube
	if k.Way == check.Jet || k.Way == check.Drilled {
		way = wayJet
	}
	return unit.About(q.Median, max(q.High-q.Median, q.Median-q.Low)), way
}

// missing says which figures a step can't do without.
func (c *checkStep) missing(t *taken, f *faults) {
	if len(t.traces) > 0 { // of a recording only what the known leaks pass
		switch {
		case (c.Code == stepKnown || c.Code == stepTwoHolds) && len(t.known) == 0 && !t.by["known"].Known:
			f.add("fields.known", "What the known leak passes is needed.", "As in 60 ± 5.")
		case c.Code == stepCurve && len(t.known) < len(t.traces):
			f.add("rows."+strconv.Itoa(len(t.known))+".known", "Give the known leak of each recording, in their order.", "")
		}
		return
	}
	for _, col := range c.Fields {
		if !col.Skip && !t.by[col.Key].Known && !slices.ContainsFunc(*f, func(x FieldFault) bool { return x.Field == "fields."+col.Key }) {
			f.add("fields."+col.Key, "This figure is needed.", "")
		}
	}
	if c.Code == stepWater && !t.by["volume"].Known && !t.by["mass"].Known && len(*f) == 0 {
		f.add("fields.volume", "How much water it took is needed.", "Measured or weighed.")
	}
	if len(c.Rows) > 0 && len(t.rows) == 0 && len(*f) == 0 {
		f.add("rows.0."+c.Rows[0].Key, "Nothing was written down yet.", "")
	}
}

// recording reads a recording that is kept.
func (s *Server) recording(ctx context.Context, id, columns string, r rig.Rig) (recorded, error) {
	_, body, err := s.Keeper.OpenBlob(ctx, id)
	if err != nil {
		return recorded{}, err
	}
	defer body.Close()
	tr, err := trace.Read(body, trace.ReadOptions{Columns: columns, AirPressure: room(r)})
	if err != nil {
		return recorded{}, err
	}
	return recorded{trace: tr, shut: shutIn(tr)}, nil
}

// leaning are the kinds that others are read by, and those others.
var leaning = map[check.Kind][]string{
	check.KindZero:    {},
	check.KindGauge:   {stepTwoHolds, stepRigLeak, stepKnown, stepValve, stepDry},
	check.KindVolume:  {stepRigLeak, stepKnown, stepValve, stepDry},
	check.KindRigLeak: {stepTwoHolds, stepKnown, stepValve},
}

// recheck computes anew what leans on a kind of check that was just made: a rig
// leak is a figure only once the volume is known. Their samples and figures are
// as they were.
func (s *Server) recheck(ctx context.Context, rigID string, k check.Kind) error {
	for _, code := range leaning[k] {
		all, _, err := s.rigChecks(ctx, rigID)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(all, func(c kept[head.Check]) bool { return c.V.Kind == string(stepBy(code).Kind) })
		if i < 0 || all[i].V.Step != code || all[i].V.At < today(s.Now()) {
			continue
		}
		x := all[i]
		var f faults
		was, had := resultOf(x.V)
		res, err := s.computeCheck(ctx, &x.V, &f)
		switch {
		case f.err() != nil:
			continue
		case err != nil && had:
			continue
		case err != nil:
			err = s.keepCheck(ctx, x, nil, err)
		default:
			res.Days = was.Days
			err = s.keepCheck(ctx, x, &res, nil)
		}
		var there *Conflict
		if err != nil && !errors.As(err, &there) {
			return err
		}
	}
	return nil
}

// CheckStepLive keeps what the tests of a step of a check came to, told anew with
// each of them: a revision of the same check.
func (s *Server) CheckStepLive(ctx context.Context, r LiveRun, code string, tests []session.FileTest, at int64) error {
	step := r.step(code)
	of := stepBy(code)
	if step == nil || of == nil || r.RigID == "" || len(tests) == 0 {
		return nil
	}
	at = min(at, s.Now().UnixMilli()) // a clock that runs ahead makes no checks of tomorrow
	id := r.ID + "-" + code
	k, err := load[head.Check](ctx, s.Keeper, kindCheck, id)
	switch {
	case errors.Is(err, ErrNotFound):
		k = kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: id}, V: head.Check{ID: id, RigID: r.RigID, By: r.By, Kind: string(of.Kind), Step: code, Run: r.ID}}
	case err != nil:
		return err
	}
	k.V.At, k.V.Traces, k.V.Rows = at, nil, nil
	for _, t := range tests {
		tr := *t.Traces[0]
		sayShut(&tr, t.ShutAt)
		blob, err := s.keepTrace(ctx, &tr, r.name(code))
		if err != nil {
			return err
		}
		k.V.Traces = append(k.V.Traces, blob)
		row := map[string]string{}
		if n := t.Known; n > 0 && n <= len(step.Known) {
			q := step.Known[n-1]
			row["name"], row["way"] = q.Name, q.Way
			row["leak"] = unit.Plain(unit.About(q.Flow.Median, (q.Flow.High-q.Flow.Low)/2), unit.FlowDim, "cm³/min")
		}
		k.V.Rows = append(k.V.Rows, row)
	}
	var f faults
	res, why := s.computeCheck(ctx, &k.V, &f)
	if e := f.err(); e != nil && why == nil {
		why = e
	}
	if why != nil {
		if _, had := resultOf(k.V); had {
			k.V.Result = nil
		}
		err = s.keepCheck(ctx, k, nil, why)
	} else {
		res.Days = s.daysBefore(ctx, r.RigID, of.Kind)
		err = s.keepCheck(ctx, k, &res, nil)
	}
	if err != nil {
		return err
	}
	if code == stepKnown { // where it is the only known leak it tells the volume too
		if err := s.volumeByKnown(ctx, r, k.V, at); err != nil {
			return err
		}
	}
	return s.recheck(ctx, r.RigID, of.Kind)
}

// volumeByKnown makes the two holds on blank and known leak a check of the
// volume, where no other known leak is at hand and no volume is trusted.
func (s *Server) volumeByKnown(ctx context.Context, r LiveRun, known head.Check, at int64) error {
	if r.step(stepTwoHolds) != nil || r.step(stepRigLeak) == nil {
		return nil
	}
	_, results, err := s.rigChecks(ctx, r.RigID)
	if err != nil {
		return err
	}
	for _, x := range check.Current(results, time.UnixMilli(at)) {
		if x.Kind == check.KindVolume && x.Result != nil && !x.Old && !x.Result.At.Equal(time.UnixMilli(at)) {
			return nil
		}
	}
	id := r.ID + "-" + stepTwoHolds
	k, err := load[head.Check](ctx, s.Keeper, kindCheck, id)
	if errors.Is(err, ErrNotFound) {
		k = kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: id}}
	} else if err != nil {
		return err
	}
	k.V = head.Check{ID: id, RigID: r.RigID, At: at, By: r.By, Kind: string(check.KindVolume), Step: stepTwoHolds, Run: r.ID, Traces: known.Traces[:1], Rows: known.Rows[:1]}
	var f faults
	res, why := s.computeCheck(ctx, &k.V, &f)
	if why != nil || f.err() != nil {
		return nil // the known leak's own check says why
	}
	if err := s.keepCheck(ctx, k, &res, nil); err != nil {
		return err
	}
	return s.recheck(ctx, r.RigID, check.KindVolume)
}

// shutMark is the remark in a recording that says when a person said that the
// pump was shut off.
const shutMark = "pump shut off at "

func sayShut(t *trace.Trace, shut *float64) {
	if shut != nil {
		t.Header.Others = append(slices.Clone(t.Header.Others), shutMark+strconv.FormatFloat(*shut, 'f', 3, 64)+" s, as it was said")
	}
}

func shutIn(t *trace.Trace) *float64 {
	for _, x := range t.Header.Others {
		if _, rest, ok := strings.Cut(x, shutMark); ok {
			text, _, _ := strings.Cut(rest, " ")
			if v, err := strconv.ParseFloat(text, 64); err == nil {
				return &v
			}
		}
	}
	return nil
}

// plainly takes the operation off an error of package check: the sheet says it.
func plainly(err error) error {
	if err == nil {
		return nil
	}
	var refused *check.RefusedError
	if errors.As(err, &refused) {
		m := report.RefusalMessage(report.Style{}, refused.Refusal)
		return errors.New(refused.What + ": " + strings.TrimSuffix(lowerFirst(m.What), ".") + "; " + strings.TrimSuffix(lowerFirst(m.Do), "."))
	}
	return err
}

// leastLimit is the smallest limit of a port of the heads that are tested on a rig
// [m³/s of free air at 50 kPa]; where there is none, that of a usual valve.
func (s *Server) leastLimit(ctx context.Context, rigID string, r rig.Rig) (least float64) {
	jobs, err := list[head.Job](ctx, s.Keeper, Query{Kind: kindJob})
	if err != nil {
		return 0
	}
	for _, j := range jobs {
		if j.V.RigID != rigID {
			continue
		}
		job, err := s.reckoned(ctx, j, r)
		if err != nil {
			continue
		}
		for i := range j.V.Ports {
			if one, _ := job.PortLimits(&j.V.Ports[i], room(r), r.Air.Temperature.Or(unit.Exactly(0)).Value); one > 0 && (least == 0 || one < least) {
				least = one
			}
		}
	}
	if least == 0 {
		if q, err := limit.Workmanship(usualValve, 3e-6, gas.SeaLevelPressure, 293.15); err == nil {
			least = q
		}
	}
	return least
}

// usualValve is the head of a small intake valve [m] (common practice, no source).
const usualValve = 27e-3

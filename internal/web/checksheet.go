package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/unit"
)

// checkShownKind is where one kind of check of a rig stands, as its sheet shows it.
type checkShownKind struct {
	Kind    check.Kind    `json:"kind"`
	Name    string        `json:"name"`
	Why     string        `json:"why"`
	State   string        `json:"state"` // "none", "good" (trusted), "old"
	Word    string        `json:"word"`  // of the state, or the verdict
	Verdict check.Verdict `json:"verdict"`
	Value   string        `json:"value"`
	Says    []string      `json:"says"` // the evidence
	Do      string        `json:"do"`
	When    string        `json:"when"`
	By      string        `json:"by"`
	Until   string        `json:"until"` // "trusted until 3 Dec", "until a part is changed"
	Days    check.Days    `json:"days"`
	ID      string        `json:"id"` // of the check; "": none
	Way     string        `json:"way"`
	Chart   string        `json:"chart"` // SVG
	Drawn   string        `json:"drawn"` // what its lines are
	Shares  []shareShown  `json:"shares"`
	Steps   []checkStep   `json:"steps"`
	Due     bool          `json:"due"` // none, or old

	at int64 // ms since 1970 UTC, of the one that speaks
}

type shareShown struct {
	Input   string `json:"input"`
	Percent string `json:"percent"`
}

type trustShown struct {
	Days check.Days `json:"days"`
	Word string     `json:"word"`
}

// trusts are the spans that a person may choose from.
var trusts = []trustShown{
	{check.TheDay, "the day"}, {7, "a week"}, {check.AMonth, "a month"}, {check.HalfAYear, "half a year"}, {365, "a year"}, {check.UntilPartNew, "until a part is changed"},
}

type checkSheet struct {
	Rig      sheetRig         `json:"rig"`
	Unit     string           `json:"unit"` // of the gauge
	Line     string           `json:"line"`
	Narrow   *narrowShown     `json:"narrow"` // the check that would narrow the readings most; null: none would
	Kinds    []checkShownKind `json:"kinds"`
	Trust    []trustShown     `json:"trust"`
	Parts    []word           `json:"parts"`
	Readings shrunkSheet      `json:"readings"`
	Usual    []string         `json:"usual"` // steps of a live check that are due
	Leaks    []leakShown      `json:"leaks"` // the catalogue's known leaks
	Log      []logShown       `json:"log"`
	Cautions []string         `json:"cautions"`
}

// leakShown is a known leak of the catalogue, to choose.
type leakShown struct {
	Code   string `json:"code"`
	Word   string `json:"word"`   // with what it passes, where its length need not be said
	Length bool   `json:"length"` // its length has to be said
}

// shownLeaks are those of the catalogue, with what each passes on a rig.
func shownLeaks(r rig.Rig) []leakShown {
	out := []leakShown{}
	for _, k := range check.Catalogue() {
		l := leakShown{Code: k.Name, Word: k.Name}
		if l.Length = (k.Way == check.Needle || k.Way == check.Capillary) && !k.Length.Known; !l.Length {
			m, _ := catalogued(k.Name, r)
			if !m.Known {
				continue
			}
			l.Word += ", " + unit.Format(m, unit.FlowDim, "cm³/min", 2)
		}
		out = append(out, l)
	}
	return out
}

type sheetRig struct {
	ID       string `json:"id"`
	Rev      int64  `json:"rev"`
	Name     string `json:"name"`
	Practise bool   `json:"practise"`
}

type narrowShown struct {
	Kind  check.Kind `json:"kind"`
	Name  string     `json:"name"`
	Words string     `json:"words"`
}

type logShown struct {
	ID    string `json:"id"`
	When  string `json:"when"`
	Kind  string `json:"kind"`
	Words string `json:"words"`
	By    string `json:"by"`
	Stale string `json:"stale"` // why it does not speak: "a newer one speaks"; "" where it does
}

// practiceRigs are the rigs on which make-believe checks may stand.
func practiceRigs(id string) bool { return id == practiceRigID || id == bareRigID }

// checkStyle shows the figures of a rig's checks in the unit of its gauge.
func (s *Server) checkStyle(ctx context.Context, rigID string) report.Style {
	name := "inHg"
	if g, err := load[head.Rig](ctx, s.Keeper, kindRig, rigID); err == nil {
		r, _ := s.ReadRig(g.V.File)
		if name = gaugeUnit(r); r.Gauge.Unit == "" {
			return s.style(ctx)
		}
	}
	u, _ := report.UnitNamed(name)
	return report.Style{Unit: u}
}

// figureIn writes a figure of a check in a person's units.
func figureIn(st report.Style) func(check.Figure) string {
	return func(f check.Figure) string {
		switch f.Dim {
		case 0:
			return strconv.FormatFloat(f.Is.Value, 'g', 3, 64)
		case unit.PressureDim:
			return unit.Format(f.Is, f.Dim, vacuumUnit(st), 2)
		}
		return unit.Format(f.Is, f.Dim, checkUnits[f.Dim], 2)
	}
}

func vacuumUnit(st report.Style) string {
	if st.Unit.Size == 0 {
		return report.KPa.Name
	}
	return st.Unit.Name
}

var checkUnits = map[unit.Dimension]string{
	unit.FlowDim: "cm³/min", unit.LengthDim: "mm", unit.VolumeDim: "cm³", unit.TemperatureDim: "°C", unit.TimeDim: "s", unit.RatioDim: "%",
}

// valueWords is the value of a result with its interval; "" where it has none.
func valueWords(r *check.Result, st report.Style) string {
	if !r.Value.Known || r.Dim == 0 {
		return ""
	}
	return figureIn(st)(check.Figure{Is: r.Value, Dim: r.Dim})
}

// passedWords is what came of a check, in words.
func passedWords(v check.Verdict) string {
	if v == check.Failed {
		return "not passed"
	}
	return string(v)
}

// resultWords is a result in one line, for a log.
func resultWords(r *check.Result, st report.Style) string {
	w := passedWords(r.Verdict)
	if len(r.Evidence) > 0 { // which says the value
		return w + ": " + lowerFirst(r.Evidence[0].In(figureIn(st)))
	}
	if v := valueWords(r, st); v != "" {
		w += ", " + v
	}
	return w
}

func (s *Server) getCheck(w http.ResponseWriter, r *http.Request) error {
	width, _ := strconv.ParseFloat(r.URL.Query().Get("width"), 64)
	return s.answerCheck(w, r.Context(), http.StatusOK, r.PathValue("id"), width)
}

// answerCheck answers with where the checks of a rig stand; its drawings are of a
// width [px], 0: that of a phone.
func (s *Server) answerCheck(w http.ResponseWriter, ctx context.Context, status int, id string, width float64) error {
	if !(width >= 240 && width <= 1200) {
		width = 340
	}
	g, err := load[head.Rig](ctx, s.Keeper, kindRig, id)
	if err != nil {
		return err
	}
	all, results, err := s.rigChecks(ctx, id)
	if err != nil {
		return err
	}
	now := s.Now()
	st := s.checkStyle(ctx, id)
	is, _ := s.ReadRig(g.V.File) // one that can't be read has no air: it is guessed
	out := checkSheet{
		Rig: sheetRig{g.ID, g.Rev, g.V.Name, practiceRigs(g.ID)}, Unit: vacuumUnit(st), Kinds: []checkShownKind{}, Trust: trusts, Usual: []string{}, Log: []logShown{}, Leaks: shownLeaks(is),
		Cautions: report.Cautions(), Parts: partWords,
	}
	for _, x := range check.Current(results, now) {
		k := s.showKind(&x, all, st, width, now)
		out.Kinds = append(out.Kinds, k)
		for _, c := range k.Steps {
			if k.Due && c.Live && !slices.Contains(out.Usual, c.Code) {
				out.Usual = append(out.Usual, c.Code)
			}
		}
	}
	spoken := map[string]bool{}
	for _, k := range out.Kinds {
		spoken[k.ID] = true
	}
	for _, c := range all {
		l := logShown{ID: c.ID, When: moment(c.V.At), Kind: c.V.Kind, Words: c.V.Words, By: c.V.By}
		if _, ok := resultOf(c.V); ok && !spoken[c.ID] && c.V.Kind != string(check.KindPart) {
			l.Stale = "a newer one speaks, or its part was changed"
			if slices.ContainsFunc(out.Kinds, func(k checkShownKind) bool { return k.Kind == check.Kind(c.V.Kind) && k.at > 0 && k.at < c.V.At }) {
				l.Stale = "a narrower one that it agrees with speaks"
			}
		}
		out.Log = append(out.Log, l)
	}
	out.Line = standingLine(out.Kinds)
	if out.Readings, out.Narrow, err = s.shrunk(ctx, g, results, width); err != nil {
		return err
	}
	return s.answer(w, status, map[string]any{"check": out})
}

// standingLine says in one sentence where the checks of a rig stand.
func standingLine(kinds []checkShownKind) string {
	var failed, old, none []string
	good := 0
	for _, k := range kinds {
		name := lowerFirst(k.Name)
		switch {
		case k.State == "none":
			none = append(none, name)
		case k.Verdict == check.Failed:
			failed = append(failed, name)
		case k.State == "old":
			old = append(old, name)
		default:
			good++
		}
	}
	var parts []string
	if good == 0 && len(failed) == 0 && len(old) == 0 {
		return "Nothing of this rig has been checked yet: what is not known is guessed, wide."
	}
	if len(failed) > 0 {
		parts = append(parts, "Not passed: "+strings.Join(failed, "; ")+".")
	}
	switch {
	case good == len(kinds):
		return "All checks stand."
	case good > 0:
		parts = append(parts, strconv.Itoa(good)+" of "+strconv.Itoa(len(kinds))+" checks stand.")
	}
	if len(old) > 0 {
		parts = append(parts, "Old: "+strings.Join(old, "; ")+".")
	}
	if len(none) > 0 && len(none) < 7 {
		parts = append(parts, "Not made: "+strings.Join(none, "; ")+".")
	}
	return strings.Join(parts, " ")
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// showKind shows where one kind of check stands.
func (s *Server) showKind(x *check.Standing, all []kept[head.Check], st report.Style, width float64, now time.Time) checkShownKind {
	k := checkShownKind{
		Kind: x.Kind, Name: checkNames[x.Kind], Why: checkWhy[x.Kind], State: "none", Word: "not made", Says: []string{}, Shares: []shareShown{}, Steps: []checkStep{}, Due: x.Result == nil || x.Old,
		Days: check.Usual(x.Kind),
	}
	for _, c := range checkSteps {
		if c.Kind == x.Kind {
			if c.Fields == nil {
				c.Fields = []column{}
			}
			if c.Rows == nil {
				c.Rows = []column{}
			}
			k.Steps = append(k.Steps, c)
		}
	}
	for _, c := range all { // one that came to nothing yet is newer than what speaks
		if c.V.Kind != string(x.Kind) || len(c.V.Result) > 0 || c.V.Step == "" {
			continue
		}
		if x.Result == nil || time.UnixMilli(c.V.At).After(x.Result.At) {
			k.Word, k.Says, k.When, k.By, k.Way = "no result yet", append(k.Says, upper(strings.TrimPrefix(c.V.Words, "no result yet: "))+"."), moment(c.V.At), c.V.By, c.V.Step
		}
		break
	}
	r := x.Result
	if r == nil {
		return k
	}
	k.State, k.Word, k.Verdict, k.Value, k.Days, k.Do = "good", passedWords(r.Verdict), r.Verdict, valueWords(r, st), r.Trust(), r.Do
	if x.Old {
		k.State, k.Word = "old", "old"
	}
	if len(k.Says) == 0 {
		k.When = moment(r.At.UnixMilli())
	}
	for _, e := range r.Evidence {
		k.Says = append(k.Says, e.In(figureIn(st)))
	}
	k.at = r.At.UnixMilli()
	for _, c := range all { // newest first: a later one that does not speak is told
		if y, ok := resultOf(c.V); ok && y.Kind == r.Kind && y.At.After(r.At) && !y.At.After(now) {
			k.Says = append(k.Says, "One made since, "+valueWords(&y, st)+", agrees with it and is wider: this one goes on speaking.")
		}
		if c.V.Kind == string(r.Kind) {
			break
		}
	}
	for _, sh := range r.Shares {
		if sh.Share >= 0.005 {
			k.Shares = append(k.Shares, shareShown{sh.Input, strconv.Itoa(int(100*sh.Share+0.5)) + " %"})
		}
	}
	k.Until = untilWords(x, r, now)
	for _, c := range all {
		if y, ok := resultOf(c.V); ok && y.Kind == r.Kind && y.At.Equal(r.At) {
			k.ID, k.By, k.Way = c.ID, c.V.By, c.V.Step
			if k.Chart = s.chartOf(&c.V, r, st, width); k.Chart != "" {
				k.Drawn = drawnWords[r.Kind]
			}
			break
		}
	}
	return k
}

func untilWords(x *check.Standing, r *check.Result, now time.Time) string {
	end, ends := r.Until()
	switch {
	case !ends:
		return "trusted until a part is changed"
	case x.Old:
		return "trusted until " + day(end.Add(-time.Second).UnixMilli()) + ", and old since"
	case end.Sub(now) < 24*time.Hour:
		return "trusted today"
	}
	return "trusted until " + day(end.Add(-time.Second).UnixMilli())
}

// putCheck changes how long a check is trusted; what was found stays as it was.
func (s *Server) putCheck(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Days check.Days `json:"days"`
		By   string     `json:"by"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := load[head.Check](r.Context(), s.Keeper, kindCheck, r.PathValue("id"))
	if err != nil {
		return err
	}
	var f faults
	if ask.Days < -1 || ask.Days == 0 || ask.Days > 3660 {
		f.add("days", "Give the days that it is trusted, or -1 for until a part is changed.", "")
	}
	res, ok := resultOf(k.V)
	if !ok {
		f.add("days", "This check is in words only: it is logged, and no figure leans on it.", "")
	}
	if err := f.err(); err != nil {
		return err
	}
	res.Days = ask.Days
	k.V.By = either(ask.By, k.V.By)
	if err := s.keepCheck(r.Context(), k, &res, nil); err != nil {
		return err
	}
	return s.answerCheck(w, r.Context(), http.StatusOK, k.V.RigID, 0)
}

// partWords are the parts of a rig that may be changed.
var partWords = []word{
	{Code: string(check.PartPump), Word: "pump"}, {Code: string(check.PartGauge), Word: "gauge"}, {Code: string(check.PartHose), Word: "hose"},
	{Code: string(check.PartPlate), Word: "plate"}, {Code: string(check.PartValve), Word: "shut-off valve"},
}

// changePart logs that a part of a rig was changed: older checks that hang on it
// say nothing any more.
func (s *Server) changePart(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Part string `json:"part"`
		By   string `json:"by"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	g, err := load[head.Rig](r.Context(), s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	var f faults
	if !known(partWords, ask.Part) {
		f.add("part", "A rig has no such part.", "See the sheet for those it has.")
	}
	if err := f.err(); err != nil {
		return err
	}
	at := s.Now()
	res := check.PartChanged(at, check.Part(ask.Part))
	c := head.Check{ID: s.NewID(), RigID: g.ID, At: at.UnixMilli(), By: ask.By, Kind: string(check.KindPart)}
	k := kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: c.ID}, V: c}
	if err := s.keepCheck(r.Context(), k, &res, nil); err != nil {
		return err
	}
	return s.answerCheck(w, r.Context(), http.StatusCreated, g.ID, 0)
}

package report

import (
	"math"
	"strconv"

	"seatproof/leak"
	"seatproof/unit"
)

// What the sheets in the browser show is written here, by the same functions as
// the printed pages: a screen has no words and no colours of its own.

// SheetCSS is the sheets' part of the stylesheet that this package knows: the
// colours and what drawings are made of.
func SheetCSS() string { return tokenCSS(":root") + drawingCSS + wallCSS }

// HatchDefs are the patterns of all states, which a page holds once.
func HatchDefs() string {
	return hatchDefs[:len(hatchDefs)-len("</defs>")] +
		`<pattern id="lapsed" width="14" height="10" patternUnits="userSpaceOnUse"><path class="p-lapsed" d="M0 2.5H9M7 7.5H14M0 7.5H2"/></pattern></defs>`
}

// Fonts are the typeface's files, by name.
func Fonts() map[string][]byte {
	return map[string][]byte{"b612-400.woff2": regular, "b612-700.woff2": bold}
}

// Cautions stand where the work can hurt.
func Cautions() []string { return append([]string(nil), cautions...) }

// LeakCell, AgainCell, ThisCell, LimitCell are the figures of a port as tables
// show them, cm³/min; empty where there is none.
func (o *Outcome) LeakCell(s Style) string {
	if !o.Answered() || o.Reading.Leak == nil {
		return ""
	}
	return leakCell(o, s)
}

// AgainCell is the interval of this port, tested again.
func (o *Outcome) AgainCell(s Style) string {
	if !o.Answered() || o.Reading.Leak == nil {
		return ""
	}
	return againCell(o, s)
}

// ThisCell is the interval of this trace, or these tests.
func (o *Outcome) ThisCell(s Style) string {
	if !o.Answered() || o.Reading.Leak == nil {
		return ""
	}
	if o.Reading.UpperLimitOnly {
		return leakCell(o, s)
	}
	return s.between(*o.Reading.Leak, cm3min)
}

// Of names the interval of ThisCell: "this trace" or "these tests".
func (o *Outcome) Of() string { return o.of() }

// LimitCell is the limit.
func (o *Outcome) LimitCell(s Style) string {
	if o.Limit == nil {
		return ""
	}
	return s.flow(o.Limit.Flow)
}

// LostWords says what was lost in how long: "lost 1.2 inHg in 15 s".
func (o *Outcome) LostWords(s Style) string {
	if o.Reading == nil || o.Reading.Lost == nil {
		return ""
	}
	lost := s.lost(o.Reading.Lost.Vacuum)
	if o.Sketch.Hand { // a needle keeps its fractions
		if f, ok := fraction(o.Reading.Lost.Vacuum / s.unit().Size); ok {
			lost = f + " " + s.unit().Name
		}
	}
	return "lost " + lost + " in " + seconds(o.Reading.Lost.Over)
}

// fraction writes a figure in halves and quarters, as needle gauges show them;
// false where it is none.
func fraction(x float64) (string, bool) {
	n := math.Round(4 * x)
	if n < 0 || math.Abs(4*x-n) > 0.02 {
		return "", false
	}
	whole, part := int(n)/4, []string{"", "¼", "½", "¾"}[int(n)%4]
	if whole == 0 && part != "" {
		return part, true
	}
	return strconv.Itoa(whole) + part, true
}

// DetailRow is a row that is hidden until asked for.
type DetailRow struct {
	Name  string `json:"name"`
	Words string `json:"words"`
}

// DetailRows are the figures behind a verdict.
func (o *Outcome) DetailRows(s Style) []DetailRow {
	out := []DetailRow{}
	if !o.Answered() {
		return out
	}
	for _, row := range detail(o, s) {
		out = append(out, DetailRow{row[0], row[1]})
	}
	return out
}

// WarningWords are the warnings of a reading.
func (o *Outcome) WarningWords(s Style) []Message {
	out := []Message{}
	if o.Reading == nil {
		return out
	}
	for _, w := range o.Reading.Warnings {
		out = append(out, warnIn(o, s, w))
	}
	return out
}

// GuessWords says what was guessed, and by how much that widened the answer.
func (o *Outcome) GuessWords(s Style) []string {
	if o.Reading == nil || !o.Answered() {
		return []string{}
	}
	return append([]string{}, guesses(o, s)...)
}

// IntervalsSVG draws both intervals on one line between holds and leaks; empty
// where there is no leak rate.
func (o *Outcome) IntervalsSVG(s Style) string { return intervals(o, s) }

// FitBand returns the fitted hold of the middle test, what goes with the ends
// of its interval, and what a port at its limit would do from the same start;
// times are the trace's own, and zero is the shut-off. Each may be empty.
func (o *Outcome) FitBand() (zero float64, fit, low, high, limit []Point) {
	r := o.Reading
	if r == nil || r.Leak == nil || len(r.Curve) < 2 || len(o.Sketch.Hold) == 0 {
		return 0, nil, nil, nil, nil
	}
	zero = o.ShutOff()
	for _, p := range r.Curve {
		fit = append(fit, Point{p.Time, p.Vacuum})
	}
	low, high = o.bandOf()
	if o.Limit != nil {
		limit = o.other(o.one().Median, o.Limit.Flow, 0)
	}
	return zero, fit, low, high, limit
}

// ShutOff is when the hold began [s, the trace's own time].
func (o *Outcome) ShutOff() float64 {
	if o.Reading != nil {
		if h := holdOf(o.Reading.Phases); h != nil {
			return h.From
		}
	}
	if len(o.Sketch.Hold) > 0 {
		return o.Sketch.Hold[0].Time
	}
	return 0
}

// HeldPoints returns the samples of the hold, without the vent at its end.
func (o *Outcome) HeldPoints() []Point {
	if o.Reading == nil {
		return nil
	}
	return o.held()
}

// LimitPoints is what a port that leaks flow [m³/s] would do from the same start,
// until a time [s in the trace's] that may lie ahead; 0: as long as was fitted.
func (o *Outcome) LimitPoints(flow, until float64) []Point {
	if o.Reading == nil || o.Reading.Leak == nil {
		return nil
	}
	return o.other(o.one().Median, flow, until)
}

// Shown is a quantity as a sheet shows it and takes it back.
func Shown(m unit.Measured, dim unit.Dimension, name string, digits int) string {
	return unit.Format(m, dim, name, digits)
}

// Percent writes a share of a budget.
func Percent(l leak.BudgetLine) string { return Figure(100*l.Share, 2) + " %" }

package web

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"seatproof/crosscheck"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

// otherKind is a kind of test that can be entered, with its own fields.
type otherKind struct {
	word
	OfCylinder bool         `json:"of_cylinder"`
	Figure     string       `json:"figure"` // the field of what was seen: the others stay from one to the next
	Fields     []otherField `json:"fields"`
}

type otherField struct {
	Key   string `json:"key"`
	Name  string `json:"name"`
	Unit  string `json:"unit"`
	Guess string `json:"guess"` // stands in for nothing
	More  bool   `json:"more"`  // seldom wanted
	Words []word `json:"words"` // one of these; none: a figure
}

var liquidWords = func() (out []word) {
	for _, l := range crosscheck.Liquids {
		out = append(out, word{Code: l.Code, Word: l.Name})
	}
	return out
}()

var seenWords = []word{
	{Code: string(crosscheck.SeenDry), Word: "nothing, dry"}, {Code: string(crosscheck.SeenPaper), Word: "a paper wet"}, {Code: string(crosscheck.SeenDrop), Word: "a drop"},
}

const ownRestrict = "own"

var restrictorWords = []word{{Code: "", Word: crosscheck.Restrictor040.Name}, {Code: "0.060", Word: crosscheck.Restrictor060.Name}, {Code: ownRestrict, Word: "own"}}

var observedKinds = []otherKind{
	{word{Code: string(head.ObservedLeakDown), Word: "leak-down"}, true, "second", []otherField{
		{Key: "second", Name: "Second gauge shows", Unit: "psi", Words: []word{}}, {Key: "supply", Name: "Supply", Unit: "psi", Guess: "80", Words: []word{}},
		{Key: "restrictor", Name: "Restrictor", Words: restrictorWords}, {Key: "orifice", Name: "Own restrictor’s bore", Unit: "mm", More: true, Words: []word{}},
		{Key: "known_leak", Name: "Or a known leak on it", Unit: "cm³/min", More: true, Words: []word{}}, {Key: "known_second", Name: "with which the second gauge shows", Unit: "psi", More: true, Words: []word{}},
	}},
	{word{Code: string(head.ObservedLiquid), Word: "liquid"}, false, "after", []otherField{
		{Key: "liquid", Name: "Liquid", Words: liquidWords}, {Key: "seen", Name: "Seen outside", Words: seenWords},
		{Key: "after", Name: "After", Unit: "s", Words: []word{}}, {Key: "height", Name: "Height over the seat", Unit: "mm", Guess: "30 ± 20", Words: []word{}},
	}},
	{word{Code: string(head.ObservedCranking), Word: "cranking gauge"}, true, "reading", []otherField{{Key: "reading", Name: "Gauge shows", Unit: "bar", Words: []word{}}}},
	{word{Code: string(head.ObservedNeedle), Word: "needle on a pump"}, false, "below", []otherField{
		{Key: "below", Name: "Below the blanked reading", Unit: "inHg", Words: []word{}}, {Key: "free_flow", Name: "Pump’s free flow", Unit: "L/min", Words: []word{}}, {Key: "blanked", Name: "Blanked reading", Unit: "inHg", Words: []word{}},
	}},
}

// kindsOf are the kinds with the units that a person chose; rig says that the pump of
// the head's rig is known, which then is meant where none is given.
func kindsOf(style report.Style, rig bool) []otherKind {
	out := slices.Clone(observedKinds)
	for i := range out {
		out[i].Fields = slices.Clone(out[i].Fields)
		for k := range out[i].Fields {
			x := &out[i].Fields[k]
			x.Unit = cmp.Or(unitOf(style, head.ObservedKind(out[i].Code), x.Key), x.Unit)
			if rig && (x.Key == "free_flow" || x.Key == "blanked") {
				x.Guess = "this rig’s"
			}
		}
	}
	return out
}

// unitOf is the unit of a field that goes by the settings; "": it goes by none.
func unitOf(style report.Style, k head.ObservedKind, key string) string {
	switch {
	case key == "reading":
		return style.CrankingUnit().Name
	case k == head.ObservedNeedle && (key == "below" || key == "blanked"):
		return style.VacuumUnit().Name
	}
	return ""
}

// observedShown is what was seen, how it stands to the forecast, and what it says.
type observedShown struct {
	ID       string            `json:"id"`
	Rev      int64             `json:"rev"`
	Kind     head.ObservedKind `json:"kind"`
	Word     string            `json:"word"`
	Cylinder int               `json:"cylinder"`
	Port     string            `json:"port"`
	On       string            `json:"on"`
	At       int64             `json:"at"`
	When     string            `json:"when"`
	By       string            `json:"by"`
	Fields   map[string]string `json:"fields"`
	Note     string            `json:"note"`
	Seen     string            `json:"seen"`     // in words
	Forecast string            `json:"forecast"` // "" where there is none
	Stands   crosscheck.Stands `json:"stands"`   // "" where nothing can be compared
	Verdict  string            `json:"verdict"`  // a word or two
	Says     string            `json:"says"`     // a sentence: what else may be in it
	Bound    string            `json:"bound"`    // a sentence: what it says of the leak by itself
	Lapsed   string            `json:"lapsed"`   // when the valves were worked on since

	figure float64 // SI; 0 where it can't be read
}

// observedOn reads what was entered of a head against the sheet's forecasts.
func (s *Server) observedOn(ctx context.Context, k kept[head.Job], b bench, air crosscheck.Port, out *otherShown) error {
	work, err := list[head.Work](ctx, s.Keeper, Query{Kind: kindWork, JobID: k.ID})
	if err != nil {
		return err
	}
	done := make([]head.Work, len(work))
	for i := range work {
		done[i] = work[i].V
	}
	for _, binned := range []bool{false, true} {
		all, err := list[head.Observed](ctx, s.Keeper, Query{Kind: kindObserved, JobID: k.ID, Binned: binned})
		if err != nil {
			return err
		}
		slices.SortStableFunc(all, func(a, b kept[head.Observed]) int { return int(min(1, max(-1, b.V.At-a.V.At))) })
		for _, o := range all {
			x := observedShown{
				ID: o.ID, Rev: o.Rev, Kind: o.V.Kind, Cylinder: o.V.Cylinder, Port: o.V.PortID, At: o.V.At, When: moment(o.V.At), By: o.V.By, Fields: o.V.Fields, Note: o.V.Note,
			}
			x.Word = observedWord(o.V.Kind)
			if at := k.V.ObservedLapsed(&o.V, done); at > 0 {
				x.Lapsed = "worked on since, " + moment(at)
			}
			if err := s.compare(&k.V, &o.V, b, air, out, &x); err != nil {
				return err
			}
			if binned {
				out.Binned = append(out.Binned, x)
			} else {
				out.Observed = append(out.Observed, x)
			}
		}
	}
	return nil
}

// spreadOfCranking compares the latest cranking readings of the cylinders with the
// published rule; "" for fewer than two that still speak of the head as it is.
func spreadOfCranking(all []observedShown) string {
	var low, high *observedShown
	done := map[int]bool{}
	for i := range all { // newest first
		x := &all[i]
		if x.Kind != head.ObservedCranking || x.Lapsed != "" || x.figure <= 0 || done[x.Cylinder] {
			continue
		}
		done[x.Cylinder] = true
		if low == nil || x.figure < low.figure {
			low = x
		}
		if high == nil || x.figure > high.figure {
			high = x
		}
	}
	if len(done) < 2 {
		return ""
	}
	part := low.figure / high.figure
	is := "within"
	if part < crosscheck.SpreadRule {
		is = "outside"
	}
	return fmt.Sprintf("Cranking gauge, %d cylinders: the lowest, %s on %s, is %s %% of the highest, %s on %s: %s the published rule that it should be 75 %% at least (TM 5-4210-230-14&P-1; the maker’s own comes first). The rule is wide: it names no valve, and a leak common to all stays unseen.",
		len(done), low.Seen, low.On, report.Figure(100*part, 2), high.Seen, high.On, is)
}

// readsObserved is what was typed of an observed figure, understood.
type readsObserved struct {
	down   crosscheck.LeakDown
	liquid crosscheck.LiquidTest
	pump   crosscheck.Pump
	rig    bool // the pump is this rig's
	seen   crosscheck.Seen
	figure unit.Measured // with a ±, a guess where none was typed
	typed  unit.Measured
	unit   string
}

// What a bare figure is in that was kept before figures were kept with their unit.
const needleUnit, crankingUnit = "inHg", "bar"

// Guesses of how well a figure is read where no ± was typed (95 %), no source: a psi
// of the second gauge, a quarter of an inch of mercury, parts of a cranking reading
// and of a time.
const (
	readsSecond, readsBelow   = 6.9e3, 850.0 // Pa
	readsCranking, readsAfter = 0.05, 0.1
)

// doubted gives a figure without a ± the guessed one.
func (r *readsObserved) doubted(spread float64) {
	if r.typed = r.figure; r.figure.Known && r.figure.Spread == 0 {
		r.figure.Spread = spread
	}
}

// supply is the supply in the second gauge's unit: as typed where it was typed in that
// unit, else in three digits.
func (r *readsObserved) supply(o *head.Observed) string {
	typed := o.Fields["supply"]
	if typed == "" {
		typed = report.OtherSupply
	}
	if typedIn(typed, unit.PressureDim, "psi") == r.unit {
		return unit.Plain(r.down.Supply, unit.PressureDim, r.unit)
	}
	return unit.Format(r.down.Supply, unit.PressureDim, r.unit, 3)
}

// pumpThen is the pump of a head's rig as it was on the day of an observed figure.
func (s *Server) pumpThen(b bench, o *head.Observed) *crosscheck.Pump {
	if o.Kind != head.ObservedNeedle {
		return nil
	}
	b.now = b.speaks(&test{At: o.At})
	return s.rigPump(b)
}

// leastLeft is the part of the supply under which a second gauge is asked about (a
// choice, no source): at 80 psi a hole of three restrictors, or a figure in another unit.
const leastLeft = 0.2

// question asks about what may be so, and is seldom meant.
func (r *readsObserved) question(k head.ObservedKind, f *faults) {
	if k == head.ObservedLeakDown && r.figure.Value < leastLeft*r.down.Supply.Value {
		*f = append(*f, FieldFault{Field: "fields.second", Ask: true,
			What:  "Less than a fifth of the supply is left: that is a hole larger than the restrictor.",
			Maybe: "Is it in another unit than the supply, or is a valve open, the piston not at its top or the plug out?"})
	}
}

// readObserved understands what was typed; what is wrong stands at its field. bound
// is what it says of the leak by itself, nil of a cranking gauge.
// rig is the head's own pump, nil: not known.
func readObserved(o *head.Observed, air crosscheck.Port, rig *crosscheck.Pump, f *faults) (readsObserved, *crosscheck.Bound) {
	var r readsObserved
	at := func(key string) string { return "fields." + key }
	text := func(key, otherwise string) asked {
		if o.Fields[key] == "" {
			return asked{Text: otherwise}
		}
		return asked{Text: o.Fields[key]}
	}
	need := func(key string, dim unit.Dimension, name string) unit.Measured {
		if o.Fields[key] == "" {
			f.add(at(key), "This is what was seen: give it.", "")
			return unit.Measured{}
		}
		r.unit = typedIn(o.Fields[key], dim, name)
		return text(key, "").read(dim, name, at(key), f)
	}
	before := len(*f)
	var b crosscheck.Bound
	var err error
	names := map[string]string{"second": at("second"), "supply": at("supply"), "orifice": at("orifice"), "known leak": at("known_leak"), "free flow": at("free_flow"), "blanked": at("blanked"), "below": at("below"), "head": at("height"), "after": at("after"), "seen": at("seen"), "liquid": at("liquid")}
	switch o.Kind {
	case head.ObservedLeakDown:
		r.figure = need("second", unit.PressureDim, "psi")
		r.doubted(readsSecond)
		r.down.Supply = text("supply", report.OtherSupply).read(unit.PressureDim, "psi", at("supply"), f)
		switch o.Fields["restrictor"] {
		case "":
			r.down.Restrictor = crosscheck.Restrictor040
		case "0.060":
			r.down.Restrictor = crosscheck.Restrictor060
		case ownRestrict:
			var own faults
			x, _ := ownRestrictor(text, r.down.Supply, air, &own)
			for _, bad := range own {
				f.add(at(bad.Field), bad.What, bad.Maybe)
			}
			if x == nil && len(own) == 0 {
				f.add(at("orifice"), "An own restrictor needs its bore, or a known leak with what the second gauge shows with it.", "")
			}
			if x != nil {
				r.down.Restrictor = *x
			}
		default:
			f.add(at("restrictor"), "This is none of the restrictors.", "")
		}
		if len(*f) == before {
			b, err = r.down.Leak(r.figure, air)
		}
	case head.ObservedLiquid:
		r.liquid.Liquid, err = crosscheck.LiquidOf(o.Fields["liquid"])
		if err != nil {
			inputFault(f, err, names, "")
			err = nil
		}
		r.liquid.Head = text("height", report.OtherHeight).read(unit.LengthDim, "mm", at("height"), f)
		r.seen = crosscheck.Seen(o.Fields["seen"])
		r.figure = need("after", unit.TimeDim, "s")
		r.doubted(readsAfter * max(0, r.figure.Value))
		if len(*f) == before {
			b, err = r.liquid.Leak(r.seen, r.figure, air)
		}
	case head.ObservedNeedle:
		r.figure = need("below", unit.PressureDim, needleUnit)
		r.doubted(readsBelow)
		in := r.unit
		switch free, blanked := o.Fields["free_flow"] != "", o.Fields["blanked"] != ""; {
		case !free && rig == nil:
			f.add(at("free_flow"), "This rig’s pump is not known: give the pump’s free flow and its blanked reading.", "")
		case free && !blanked:
			f.add(at("blanked"), "Another pump’s free flow goes with its own blanked reading: give it, or leave both empty for this rig’s pump.", "")
		case free:
			r.pump.Free, r.pump.Blanked = need("free_flow", unit.FlowDim, "L/min"), need("blanked", unit.PressureDim, needleUnit)
		default:
			r.pump, r.rig = *rig, true
			if blanked {
				r.pump.Blanked = need("blanked", unit.PressureDim, needleUnit)
			}
		}
		r.unit = in
		if len(*f) == before {
			b, err = r.pump.Leak(r.figure, air)
		}
	case head.ObservedCranking:
		r.figure = need("reading", unit.PressureDim, crankingUnit)
		r.doubted(readsCranking * max(0, r.figure.Value))
		if len(*f) == before && !(r.figure.Value > 0 && r.figure.Value < 1e7) {
			f.add(at("reading"), "A cranking gauge shows something above 0 and below 100 bar.", "")
		}
		return r, nil
	}
	if err != nil {
		inputFault(f, err, names, r.unit)
	}
	if len(*f) > before {
		return r, nil
	}
	return r, &b
}

// compare fills in what an observed figure says, by itself and beside the forecast.
func (s *Server) compare(j *head.Job, o *head.Observed, b bench, air crosscheck.Port, out *otherShown, x *observedShown) error {
	var leaks []crosscheck.Leak
	var cyl *otherCylinder
	if o.Kind.OfCylinder() {
		x.On = "cylinder " + strconv.Itoa(o.Cylinder)
		for i := range out.Cylinders {
			if out.Cylinders[i].Cylinder == o.Cylinder {
				cyl = &out.Cylinders[i]
				leaks = cyl.Leaks
			}
		}
	} else {
		x.On = j.PortName(o.PortID)
		air = report.PortAir(j, o.PortID, nil)
		for i := range out.Ports {
			if p := &out.Ports[i]; p.Port == o.PortID && p.Known != nil {
				leaks, air = []crosscheck.Leak{*p.Known}, p.Known.Port
			}
		}
	}
	var f faults
	r, bound := readObserved(o, air, s.pumpThen(b, o), &f)
	if len(f) > 0 {
		x.Verdict, x.Says = "can’t be read", f[0].What
		return nil
	}
	dim := unit.PressureDim
	if o.Kind == head.ObservedLiquid {
		dim = unit.TimeDim
	}
	x.figure, x.Seen = r.figure.Value, unit.Plain(r.typed, dim, r.unit)
	switch o.Kind {
	case head.ObservedLeakDown:
		x.Seen += " of " + r.supply(o) + ", restrictor " + r.down.Restrictor.Name
	case head.ObservedLiquid:
		x.Seen = wordOf(seenWords, r.seen) + map[bool]string{true: " for ", false: " after "}[r.seen == crosscheck.SeenDry] + x.Seen + ", " + r.liquid.Liquid.Name
	case head.ObservedNeedle:
		x.Seen += " below the blanked reading, "
		if r.rig {
			x.Seen += "this rig’s pump"
		} else {
			x.Seen += "pump of " + unit.Plain(r.pump.Free, unit.FlowDim, "L/min")
		}
	}
	if bound != nil {
		x.Bound = "By itself it says of the leak: " + boundWords(*bound) + "."
		if o.Kind.OfCylinder() {
			x.Bound = "All that leaves the cylinder, rings too, taken as one leak at 50 kPa vacuum: " + boundWords(*bound) + "."
		} else if known := medianOf(leaks); bound.UpperOnly && bound.High > 2*known && known > 0 {
			x.Bound += " The vacuum test found " + report.Figure(known*6e7, 2) + ": it says far more."
		}
	}
	if len(leaks) == 0 {
		x.Verdict = "no forecast"
		return nil
	}
	return s.stand(j, o, r, bound, leaks, cyl, x)
}

// medianOf is the leak of a port, 0 where it is not of one.
func medianOf(leaks []crosscheck.Leak) float64 {
	if len(leaks) != 1 {
		return 0
	}
	return middleOf(&leaks[0])
}

func middleOf(l *crosscheck.Leak) float64 {
	if len(l.Draws) == 0 {
		return 0
	}
	var q []float64
	for _, d := range l.Draws {
		q = append(q, d.Flow)
	}
	slices.Sort(q)
	return q[len(q)/2]
}

// stand compares it with the forecast made for the way it was tested.
func (s *Server) stand(j *head.Job, o *head.Observed, r readsObserved, bound *crosscheck.Bound, leaks []crosscheck.Leak, cyl *otherCylinder, x *observedShown) error {
	missing := ""
	if cyl != nil {
		missing = cyl.Missing
	}
	switch o.Kind {
	case head.ObservedLeakDown:
		f, err := r.down.Forecast(leaks...)
		if err != nil {
			return err
		}
		x.Forecast, x.Stands = words(report.GaugeFigure(f.Second, r.unit)), crosscheck.Stand(r.figure, f.Second, false)
	case head.ObservedLiquid:
		f, err := r.liquid.Forecast(leaks[0])
		if err != nil {
			return err
		}
		shown := f.Paper
		if r.seen == crosscheck.SeenDrop {
			shown = f.Drop
		}
		x.Forecast, x.Stands = words(report.TimesFigure(shown)), f.Stand(r.seen, r.figure)
	case head.ObservedNeedle:
		f, err := r.pump.Forecast(leaks[0])
		if err != nil {
			return err
		}
		x.Forecast, x.Stands = words(report.GaugeFigure(f.Below, r.unit)), crosscheck.Stand(r.figure, f.Below, true)
	case head.ObservedCranking:
		f, none, err := s.crankingOf(j, cyl)
		if err != nil {
			return err
		}
		if f == nil {
			x.Verdict, x.Says = "no forecast", none
			return nil
		}
		x.Forecast, x.Stands = words(report.GaugeFigure(f.With, r.unit)), crosscheck.Stand(r.figure, f.With, false)
	}
	x.Verdict = map[crosscheck.Stands]string{crosscheck.Agrees: "agrees", crosscheck.More: "a larger leak", crosscheck.Less: "a smaller leak"}[x.Stands]
	if o.Kind == head.ObservedCranking { // a leak is one of many things that move it
		x.Verdict = map[crosscheck.Stands]string{crosscheck.Agrees: "agrees", crosscheck.More: "lower than forecast", crosscheck.Less: "higher than forecast"}[x.Stands]
	}
	x.Says = standWords(o.Kind, x.Stands)
	if o.Kind == head.ObservedLeakDown && x.Stands == crosscheck.Agrees && bound != nil {
		x.Says = explainedWords(leaks, bound)
	}
	if missing != "" && x.Stands == crosscheck.More {
		x.Says = "The forecast lacks the " + missing + " port. " + x.Says
	}
	return nil
}

func words(f otherFigure) string {
	if f.Range == "" {
		return f.Figure
	}
	return f.Figure + " (" + f.Range + ")"
}

// standWords says what may make the difference: no cause is read out of a figure.
func standWords(k head.ObservedKind, is crosscheck.Stands) string {
	switch is {
	case crosscheck.Agrees:
		return "Within what the vacuum test forecasts."
	case crosscheck.More:
		switch k {
		case head.ObservedLeakDown:
			return "More leaves than the valves leaked: rings, gasket, plug, a crack or the tester’s own joints are also in it. Listen at the oil filler, the intake, the exhaust and the coolant."
		case head.ObservedCranking:
			return "Lower than the valves’ leaks make it: rings, gasket, cranking speed, a throttle that is shut or the gauge’s hose are also in it."
		case head.ObservedLiquid:
			return "Sooner than the leak lets it: another way out (guide, gasket face, plug), a wet outside, or a valve that sits otherwise than in the vacuum test."
		}
		return "Farther below than the leak lets it: hose, plate and plugs leak on that pump too, or the valve sits otherwise."
	}
	switch k {
	case head.ObservedLeakDown:
		return "Less leaves than the valves leaked: the pressure may press them shut, or they sit otherwise now."
	case head.ObservedCranking:
		return "Higher than forecast: the chamber is smaller, oil stands on the piston, or the valves sit otherwise now."
	case head.ObservedLiquid:
		return "Later than the leak lets it: the liquid may be held by its own surface or by dirt, or the valves sit otherwise now. It does not undo the vacuum test."
	}
	return "Nearer than forecast: the valves sit otherwise now, or the pump draws more than was said."
}

// littleLeft is the part of what the valves leak under which the rest that a second
// gauge leaves room for is little (a choice, no source).
const littleLeft = 0.5

// explainedWords says of a second gauge that agrees how much it leaves to other ways
// out than the valves: as much as its own bound is above what they leak.
func explainedWords(leaks []crosscheck.Leak, all *crosscheck.Bound) string {
	valves := 0.0
	for i := range leaks {
		valves += middleOf(&leaks[i])
	}
	const explains = "What the valves leak explains it; "
	rest := all.High - valves
	switch {
	case all.LowerOnly || math.IsInf(rest, 1):
		return explains + "how much goes past the rings it does not tell."
	case rest <= littleLeft*valves:
		return explains + "of the rings it leaves little."
	}
	return explains + "so read, it leaves room for up to " + report.Figure(rest*6e7, 2) + " cm³/min past rings, gasket and joints beside them."
}

package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/engine"
	"seatproof/leak"
	"seatproof/unit"
)

// LossShown is what leaks cost an engine as screens show it: words and figures
// only.
type LossShown struct {
	Line      string              `json:"line"`   // what it comes to, one sentence
	Engine    string              `json:"engine"` // what was reckoned with
	Cylinders []LossCylinderShown `json:"cylinders"`
	Limit     string              `json:"limit"`       // what may be lost
	Limits    []LossRow           `json:"limits"`      // as a leak rate
	Other     string              `json:"other_title"` // of the table below
	Others    LossTable           `json:"others"`      // the same leak in other cylinders
	Curve     LossTable           `json:"curve"`       // the chart in figures
	Guessed   []string            `json:"guessed"`     // each with what it widened
	Says      []string            `json:"says"`        // what to bear in mind
	Chart     string              `json:"chart"`       // SVG
}

// LossCylinderShown is one cylinder.
type LossCylinderShown struct {
	Name   string    `json:"name"`
	Line   string    `json:"line"`   // what it loses: "1.8 % of the cranking peak (0.6 to 3.7 %)"
	Leaks  []string  `json:"leaks"`  // one a port, then all together
	Untold []string  `json:"untold"` // ports that are left out, and why
	Over   bool      `json:"over"`   // the middle figure is over the limit
	Chance string    `json:"chance"` // of costing more than the limit; "" without a leak
	Runs   []LossRun `json:"runs"`   // starter, idle, top speed; none without a leak
}

// LossRun is one way in which the engine turns.
type LossRun struct {
	Name    string     `json:"name"`  // "On the starter"
	Words   string     `json:"words"` // "250 ± 100 r/min"
	Guessed bool       `json:"guessed"`
	Rows    []LossCost `json:"rows"`
}

// LossCost is one figure with and without the leaks.
type LossCost struct {
	Name    string `json:"name"`
	Without string `json:"without"` // "" where it is not told
	Around  string `json:"around"`  // its interval
	With    string `json:"with"`
	Between string `json:"between"` // its interval
	Lost    string `json:"lost"`    // "" where it is not told
	From    string `json:"from"`    // its interval
}

// LossRow is a name with a figure and its interval.
type LossRow struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	From  string `json:"from"`
}

// LossTable is a small table.
type LossTable struct {
	Head []string   `json:"head"`
	Rows [][]string `json:"rows"`
}

// lossSays are the sentences beside the figures.
var lossSays = []string{
	"In the engine tens of bar press the valve onto its seat: the same leak may be smaller in service. Heat and carbon change it too.",
	"The engine maker's service manual comes first: where it gives a cranking pressure or a leak-down figure, go by that.",
}

// percent writes a share: 1.4 %, 23 %, 0.018 %.
func (s Style) percent(x float64) string {
	if x > 0 && x < 0.00001 {
		return "under 0.001 %"
	}
	return Figure(100*math.Max(0, x), s.digits()) + " %"
}

func (s Style) percents(e engine.Estimate) string {
	return Figure(100*math.Max(0, e.Low), s.digits()) + " to " + s.percent(e.High)
}

// Loss puts what leaks cost into words.
func (s Style) Loss(l *Loss) *LossShown {
	out := &LossShown{Cylinders: []LossCylinderShown{}, Limits: []LossRow{}, Says: lossSays, Engine: s.lossEngine(l)}
	out.Limit = l.share() + " of the cranking peak, all valves of a cylinder together"
	for _, x := range []struct {
		name string
		q    float64
		sd   float64
	}{{"if it seeps", l.Limit.Seep, l.Limit.SeepSD}, {"through an opening", l.Limit.Opening, l.Limit.OpeningSD}} {
		out.Limits = append(out.Limits, LossRow{x.name, s.anyFlow(x.q, 0), s.flowsBetween(x.q*math.Exp(-1.96*x.sd), x.q*math.Exp(1.96*x.sd))})
	}
	n := 0
	for _, c := range l.Ask.Cylinders {
		shown := LossCylinderShown{Name: c.Name, Leaks: []string{}, Untold: append([]string{}, c.Untold...), Runs: []LossRun{}, Line: "no leak of it is known"}
		if len(c.Leaks) > 0 {
			s.lossCylinder(l, &l.Cylinders[n], &shown)
			n++
		}
		out.Cylinders = append(out.Cylinders, shown)
	}
	out.Line, out.Other = "No leak is known: the limit and the curve alone.", "The limit in other cylinders, made like this one"
	if c := l.worst(); c != nil {
		out.Line = s.takes(c)
		out.Other = "This leak in other cylinders, made like this one"
		if len(c.Leaks) > 1 {
			out.Other = "These leaks in other cylinders, made like this one"
		}
		if c.Name != "" {
			if len(l.Ask.Cylinders) > 1 {
				out.Line = upper(c.Name) + " loses most. " + out.Line
			}
			out.Other = "The leaks of " + c.Name + " in other cylinders, made like it"
		}
	}
	out.Others = s.lossOthers(l)
	out.Curve = s.lossCurve(l)
	out.Guessed = l.guessed()
	out.Chart = lossChart(l, s, lossCard)
	return out
}

// takes says what a cylinder loses on the starter.
func (s Style) takes(c *CylinderLoss) string {
	its := "its leaks take"
	if len(c.Leaks) == 1 {
		its = "the leak takes"
	}
	x := c.Cost.Cranking.Share
	return "On the starter " + its + " " + s.percent(x.Median) + " of the peak pressure (" + s.percents(x) + ")."
}

// lossCylinder puts one cylinder into words.
func (s Style) lossCylinder(l *Loss, c *CylinderLoss, out *LossCylinderShown) {
	for _, k := range c.Leaks {
		name := k.Name
		if name != "" {
			name += ": "
		}
		out.Leaks = append(out.Leaks, name+s.lossLeak(k))
	}
	if len(c.Leaks) > 1 {
		out.Leaks = append(out.Leaks, "together: "+s.lossFlow(c.All))
	}
	x := c.Cost.Cranking.Share
	out.Line = s.percent(x.Median) + " of the cranking peak (" + s.percents(x) + ")"
	out.Chance, out.Over = Chance(c.Over), x.Median > l.Ask.Share
	out.Runs = s.lossRuns(l, c)
}

// share writes the limit: 2 %.
func (l *Loss) share() string { return strconv.FormatFloat(100*l.Ask.Share, 'g', 3, 64) + " %" }

// CrankingUnit is the unit of cranking pressures: that of vacuums where gauges for
// cranking have it or a person asks for it, else the nearest that they have.
func (s Style) CrankingUnit() VacuumUnit {
	u := s.unit()
	if s.Asked {
		return u
	}
	switch u.Name {
	case "inHg":
		u, _ = UnitNamed("psi")
	case "mmHg", "mbar":
		u = KPa
	}
	return u
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// lossLeak writes a leak with its interval and its way of flowing.
func (s Style) lossLeak(l LossLeak) string {
	if l.tight() {
		return "tight"
	}
	way := map[leak.Kind]string{leak.KindOpening: "an opening", leak.KindSeep: "a seep", leak.KindMixed: "an opening and a seep"}[l.Kind]
	if way == "" {
		way = "way of flowing not known"
	}
	return s.lossFlow(l) + ", " + way
}

// lossFlow writes how much a leak lets through.
func (s Style) lossFlow(l LossLeak) string {
	f := flowOf(l)
	if l.Upper {
		return "less than " + s.anyFlow(f.High, 0)
	}
	words := s.anyFlow(f.Median, 0)
	if f.High > 1.005*f.Low {
		words += " (" + s.flowsBetween(f.Low, f.High) + ")"
	}
	return words
}

// flowsBetween writes two leak rates, in cm³/min without the unit, or in L/min
// where both are large.
func (s Style) flowsBetween(low, high float64) string {
	if high*cm3min >= 1999 {
		return Figure(low*cm3min/1e3, s.digits()) + " to " + Figure(high*cm3min/1e3, s.digits()) + " L/min"
	}
	return s.flow(low) + " to " + s.flow(high)
}

// lossEngine says which cylinder was reckoned with.
func (s Style) lossEngine(l *Loss) string {
	g := &l.Ask.Engine
	swept := math.Pi / 4 * g.Bore.Value * g.Bore.Value * g.Stroke.Value
	guess := ""
	switch {
	case l.Ask.Square:
		guess = " (bore and stroke guessed alike)"
	case slices.Contains(l.Ask.Guessed, "stroke"):
		guess = " (stroke guessed)"
	}
	words := []string{Figure(g.Bore.Value*1e3, 3) + " × " + Figure(g.Stroke.Value*1e3, 3) + " mm" + guess + ", " + Figure(swept*1e6, 3) + " cm³ swept"}
	for _, in := range lossInputs[2:5] {
		words = append(words, in.name+" "+l.input(in))
	}
	return strings.Join(words, ", ") + "; room " + Figure(l.Ask.Room*kPa, 3) + " kPa"
}

// format writes a figure with its ±, in two digits of that.
func (in lossInput) format(m unit.Measured) string {
	if m.Spread == 0 {
		return unit.Plain(m, in.dim, in.unit)
	}
	return unit.Format(m, in.dim, in.unit, 2)
}

// input writes a figure of the engine, guesses as such.
func (l *Loss) input(in lossInput) string {
	m := *in.of(&l.Ask.Engine)
	text := in.format(m)
	for _, k := range l.Ask.Guessed {
		if k == in.key {
			return text + " (guessed)"
		}
	}
	return text
}

// lossRuns writes the figures of the three runs.
func (s Style) lossRuns(l *Loss, x *CylinderLoss) []LossRun {
	runs := []struct {
		name string
		key  int // in lossInputs
		cost *engine.RunLoss
	}{{"On the starter", 5, &x.Cost.Cranking}, {"At idle", 6, &x.Cost.Idle}, {"At top speed", 7, &x.Cost.Top}}
	var out []LossRun
	for i, r := range runs {
		in := lossInputs[r.key]
		run := LossRun{Name: r.name, Words: in.format(*in.of(&l.Ask.Engine))}
		for _, k := range l.Ask.Guessed {
			run.Guessed = run.Guessed || k == in.key
		}
		name, size, digits, unitName := "work of a cycle", 1.0, 3, " J"
		if i == 0 {
			u := s.CrankingUnit()
			name, size, unitName = "peak, absolute", u.Size, " "+u.Name
		}
		cost := func(name string, size float64, unitName string, without, with engine.Estimate) LossCost {
			f := func(e engine.Estimate) string {
				return Figure(e.Low/size, digits) + " to " + Figure(e.High/size, digits)
			}
			return LossCost{Name: name, Without: Figure(without.Median/size, digits) + unitName, Around: f(without), With: Figure(with.Median/size, digits) + unitName, Between: f(with)}
		}
		c := cost(name, size, unitName, r.cost.Without, r.cost.With)
		c.Lost, c.From = s.percent(r.cost.Share.Median), s.percents(r.cost.Share)
		run.Rows = append(run.Rows, c)
		if i == 0 { // the charge left at the top is what a leak takes first
			t := r.cost.Trapped
			run.Rows = append(run.Rows, LossCost{Name: "charge at the top", With: Figure(t.Median*1e3, digits) + " g", Between: Figure(t.Low*1e3, digits) + " to " + Figure(t.High*1e3, digits), Lost: s.percent(r.cost.TrappedShare.Median), From: s.percents(r.cost.TrappedShare)})
		}
		out = append(out, run)
	}
	return out
}

// lossOthers is the table of the same leak in other cylinders.
func (s Style) lossOthers(l *Loss) LossTable {
	leaky := l.worst() != nil
	t := LossTable{Head: []string{"swept", "limit, a seep", "limit, an opening"}, Rows: [][]string{}}
	if leaky {
		t.Head = []string{"swept", "lost on the starter", "", "limit, a seep", "limit, an opening"}
	}
	for _, o := range l.Others {
		row := []string{fmt.Sprintf("%.0f cm³", o.Swept*1e6)}
		switch {
		case o.Gone:
			row = append(row, "nothing left", "")
		case leaky:
			row = append(row, s.percent(o.Lost.Median), s.percents(o.Lost))
		}
		t.Rows = append(t.Rows, append(row, s.anyFlow(o.Limit.Seep, 0), s.anyFlow(o.Limit.Opening, 0)))
	}
	return t
}

// lossCurve is the curve in figures, at round leak rates.
func (s Style) lossCurve(l *Loss) LossTable {
	t := LossTable{Head: []string{"leak", "an opening takes", "a seep takes"}, Rows: [][]string{}}
	for _, q := range l.roundFlows() {
		t.Rows = append(t.Rows, []string{s.anyFlow(q, 0), s.percent(at(l.Curve.Flows, l.Curve.Opening, q).Median), s.percent(at(l.Curve.Flows, l.Curve.Seep, q).Median)})
	}
	return t
}

// roundFlows are round leak rates inside the curve [m³/s].
func (l *Loss) roundFlows() []float64 {
	f := l.Curve.Flows
	var out []float64
	for _, q := range decades(f[0]*cm3min, f[len(f)-1]*cm3min) {
		out = append(out, q/cm3min)
	}
	return out
}

// at reads an estimate off a curve, straight between its points in the logarithm
// of the flow.
func at(flows []float64, y []engine.Estimate, q float64) engine.Estimate {
	i := 0
	for i < len(flows)-2 && flows[i+1] < q {
		i++
	}
	f := math.Log(q/flows[i]) / math.Log(flows[i+1]/flows[i])
	f = math.Max(0, math.Min(1, f))
	mix := func(a, b float64) float64 { return a + f*(b-a) }
	return engine.Estimate{Median: mix(y[i].Median, y[i+1].Median), Low: mix(y[i].Low, y[i+1].Low), High: mix(y[i].High, y[i+1].High)}
}

// guessed names what nobody gave, with what each widened, the widest first.
func (l *Loss) guessed() []string {
	out := []string{}
	name := func(key string) string {
		for _, in := range lossInputs {
			if in.key == key {
				return in.name + ", " + in.format(*in.of(&l.Ask.Engine))
			}
		}
		return key
	}
	if len(l.Widest) == 0 {
		for _, k := range l.Ask.Guessed {
			out = append(out, name(k))
		}
		return out
	}
	for _, g := range l.Widest {
		words := name(g.Key)
		if w := Figure(g.Widened, 2); g.Widened > 1.05 {
			words += ": makes what is lost " + map[string]string{"idle": "at idle ", "top_speed": "at top speed "}[g.Key] + w + " times as wide"
		}
		out = append(out, words)
	}
	return out
}

// cells are figure and interval of a row, for a column of text.
func (c LossCost) cells() []string {
	lost := ""
	if c.Lost != "" {
		lost = c.Lost + " (" + strings.TrimSuffix(c.From, " %") + ")"
	}
	without := ""
	if c.Without != "" {
		without = c.Without + " (" + c.Around + ")"
	}
	return []string{"  " + c.Name, without, c.With + " (" + c.Between + ")", lost}
}

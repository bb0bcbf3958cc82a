package web

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/engine"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// cost finds what a cylinder can spare, each engine's once: it takes milliseconds,
// and every card asks.
func (s *Server) cost(g engine.Given, share, pa, ta float64) (engine.CostLimit, error) {
	return s.costs.of([]any{g, share, pa, ta}, func() (engine.CostLimit, error) { return g.CostLimit(share, pa, ta) })
}

// pumpOf is the curve of the pump of a head's rig, in its room; nil where it is not
// known.
func (s *Server) pumpOf(b bench) *rig.Curve {
	r, faults := s.ReadRig(b.rigs[b.job.RigID])
	if b.job.RigID == "" || len(faults) > 0 {
		return nil
	}
	r = check.Apply(r, b.checks[b.job.RigID], b.now)
	pa := room(r)
	if pa == 0 {
		pa = 101325
	}
	c, err := r.Pump.Here(pa)
	if err != nil {
		return nil
	}
	return c
}

// limitRow is one rule of the table of limits, cm³/min.
type limitRow struct {
	Kind    limit.Kind `json:"kind"`
	Words   string     `json:"words"` // "workmanship, 3 µm gap: decides"
	One     string     `json:"one"`   // "" where there is no figure
	All     string     `json:"all"`
	Decides bool       `json:"decides"`
	Counts  bool       `json:"counts"`
	Reason  string     `json:"reason"`
	Means   []string   `json:"means"` // the same in the others' terms
}

// limitsShown are the limits that a port is judged by, cm³/min, and the chances
// of being over them; empty where there is none.
type limitsShown struct {
	Words   string     `json:"words"` // of the one that decides
	Both    string     `json:"both"`  // what the sum is called; empty for a port of one valve
	One     string     `json:"one"`
	All     string     `json:"all"`
	OverOne string     `json:"over_one"`
	OverAll string     `json:"over_all"`
	Rows    []limitRow `json:"rows"`  // the one that decides first
	Taken   string     `json:"taken"` // how the leak was taken
}

func cm3min(q float64) string { return report.Figure(q*6e7, 2) }

func showLimits(row cardRow, s report.Style) limitsShown {
	l := limitsShown{One: row.Limit, OverOne: row.Chance, Rows: []limitRow{}}
	p := row.card
	if l.One == "" || p == nil {
		return l
	}
	if row.limits[1] > 1.01*row.limits[0] {
		l.All, l.Both = cm3min(row.limits[1]), "all valves"
		if p.OverAll != nil {
			l.OverAll = report.Chance(*p.OverAll)
		}
		if row.limits[1] < 2.01*row.limits[0] {
			l.Both = "both valves"
		}
	}
	for i := range p.Limits {
		x := &p.Limits[i]
		r := limitRow{Kind: x.Kind, Words: ruleWords(x, p.As, s), Decides: x.Decides, Counts: x.Counts, Reason: x.Kind.Reason(), Means: meansOf(x, s)}
		if x.One > 0 {
			r.One = cm3min(x.One)
			if l.All != "" {
				r.All = cm3min(x.All)
			}
		}
		switch {
		case x.Decides:
			r.Words += ": decides"
			l.Words = ruleWords(x, p.As, s)
		case x.Fault != "":
			r.Words += ": " + x.Fault
		case !x.Counts:
			r.Words += ": set aside"
		}
		l.Rows = append(l.Rows, r)
	}
	l.Taken = "The leak is taken as a seep, the costlier: the tests don’t tell how it flows."
	if p.Reading != nil && p.Reading.Share != nil && p.Reading.Kind != leak.KindUnresolved {
		switch p.As {
		case leak.KindOpening:
			l.Taken = "The leak flows like an opening, and is taken as one."
		case leak.KindMixed:
			l.Taken = "The leak flows partly like an opening, and is taken so."
		default:
			l.Taken = "The leak flows as a seep, and is taken as one."
		}
	}
	return l
}

// limitsBeside are the limits of one valve that count for a port and do not decide.
func limitsBeside(p *head.PortCard) string {
	var out []string
	for i := range p.Limits {
		if x := &p.Limits[i]; x.Counts && !x.Decides && x.One > 0 {
			out = append(out, x.Kind.Words()+" "+cm3min(x.One))
		}
	}
	return strings.Join(out, ", ")
}

// limitsOfHead says which limits the ports of a head are judged by, from the
// strictest valve to the most lenient; "" where there is none.
func limitsOfHead(made *head.Card) string {
	var kinds []limit.Kind
	least, most := map[limit.Kind]float64{}, map[limit.Kind]float64{}
	for i := range made.Ports {
		for _, x := range made.Ports[i].Limits {
			if !x.Counts || x.One <= 0 {
				continue
			}
			if _, had := least[x.Kind]; !had {
				kinds = append(kinds, x.Kind)
				least[x.Kind] = x.One
			}
			least[x.Kind], most[x.Kind] = min(least[x.Kind], x.One), max(most[x.Kind], x.One)
		}
	}
	slices.SortFunc(kinds, func(a, b limit.Kind) int { return cmp.Compare(least[a], least[b]) })
	var out []string
	for _, k := range kinds {
		of := k.Words() + " " + cm3min(least[k])
		if high := cm3min(most[k]); high != cm3min(least[k]) {
			of += " to " + high
		}
		out = append(out, of)
	}
	if len(out) == 0 {
		return ""
	}
	words := " Limits of one valve: " + strings.Join(out, ", ") + " cm³/min"
	if len(out) > 1 {
		words += "; the stricter decides"
	}
	return words + "."
}

// ruleWords names a rule with what was set of it.
func ruleWords(x *head.PortLimit, as leak.Kind, s report.Style) string {
	switch x.Kind {
	case limit.ByWorkmanship:
		return "workmanship, " + set3(x.Set*1e6) + "\u00a0µm gap"
	case limit.ByCost:
		kind := "a seep"
		switch as {
		case leak.KindOpening:
			kind = "an opening"
		case leak.KindMixed:
			kind = "a mixture"
		}
		return "cost, " + set3(x.Set*100) + "\u00a0% of cranking pressure, as " + kind
	case limit.ByDrop:
		return "a drop of " + set3(x.Set/s.Unit.Size) + "\u00a0" + s.Unit.Name + " below the blanked reading, on this pump"
	}
	return x.Kind.Words()
}

// meansOf says what a limit is in the terms of the other rules.
func meansOf(x *head.PortLimit, s report.Style) []string {
	out := []string{}
	if !(x.One > 0) {
		return out
	}
	if x.Kind != limit.ByWorkmanship && x.Gap > 0 {
		out = append(out, "a gap of "+report.Figure(x.Gap*1e6, 2)+"\u00a0µm all round the contact")
	}
	if x.Kind == limit.ByCost {
		out = append(out, cm3min(x.Seep)+" as a seep, "+cm3min(x.Opening)+" as an opening")
		if x.SD > 0 {
			out = append(out, "known to a factor of "+report.Figure(factor95(x.SD), 2)+", by what is guessed of the engine")
		}
	} else if x.CostSeep > 0 {
		out = append(out, share(x.CostSeep)+" of cranking pressure as a seep, "+share(x.CostOpening)+" as an opening, were all valves of the cylinder at it")
	}
	if x.Kind != limit.ByDrop && x.Drop > 0 {
		out = append(out, "the needle "+report.Figure(x.Drop/s.Unit.Size, 2)+"\u00a0"+s.Unit.Name+" below the blanked reading on this pump")
	}
	return out
}

// set shows a figure that a person set, as it was set.
func set3(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

// expected says what a step is expected to come to, "" where it was not worked out.
func expected(e *head.Expect) string {
	if e == nil {
		return ""
	}
	to := cm3min(e.Again.Low) + " to " + cm3min(e.Again.High)
	if e.UpperOnly {
		to = "less than " + cm3min(e.Again.High)
	}
	often := "that rarely settles it by itself"
	if n := int(math.Round(10 * e.Settles)); n > 0 {
		often = "that settles it in about " + strconv.Itoa(n) + " of 10 cases"
	}
	return "Expected then: tested again " + to + " cm³/min; " + often + "."
}

func share(x float64) string { return report.Figure(x*100, 2) + "\u00a0%" }

// limitOf is the limit that decides about a port, for drawings and lines.
func limitOf(p *head.PortCard) *report.Limit {
	l := &report.Limit{Flow: p.OneLimit}
	for i := range p.Limits {
		if x := &p.Limits[i]; x.Decides {
			l.Workmanship, l.Rule, l.By = x.Kind == limit.ByWorkmanship, x.Kind, x.Kind.Words()
			l.Set = x.Set
		}
	}
	return l
}

// showLimit is how the limit of a head is set, for its form.
func showLimit(j *head.Job) limitShown {
	l := j.Limit
	basis := l.Basis
	if basis == "" && l.Flow.Known {
		basis = limit.ByOwn
	}
	return limitShown{
		show(l.Flow, unit.FlowDim, "cm³/min"), show(l.Gap, unit.LengthDim, "µm"), l.Strict,
		show(l.Cost, unit.RatioDim, "%"), l.NoCost, basis, show(l.Drop, unit.PressureDim, "kPa"), l.Good,
	}
}

// factor95 is the factor within which a figure lies 95 times in 100, by the sd of
// its logarithm.
func factor95(sd float64) float64 { return math.Exp(1.96 * sd) }

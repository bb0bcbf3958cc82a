package report

import (
	"math"
	"strconv"

	"seatproof/head"
	"seatproof/leak"
	"seatproof/limit"
)

// LimitRow is one rule of the table of limits, cm³/min.
type LimitRow struct {
	Kind    limit.Kind `json:"kind"`
	Words   string     `json:"words"` // "workmanship, 3 µm gap: decides"
	One     string     `json:"one"`   // "" where there is no figure
	All     string     `json:"all"`
	Decides bool       `json:"decides"`
	Counts  bool       `json:"counts"`
	Reason  string     `json:"reason"`
	Means   []string   `json:"means"` // the same in the others' terms
}

// LimitsSaid are the limits that a port is judged by, cm³/min, and the chances
// of being over them; empty where there is none.
type LimitsSaid struct {
	Words   string     `json:"words"` // of the one that decides
	Both    string     `json:"both"`  // what the sum is called; empty for a port of one valve
	One     string     `json:"one"`
	All     string     `json:"all"`
	OverOne string     `json:"over_one"`
	OverAll string     `json:"over_all"`
	Rows    []LimitRow `json:"rows"`  // the one that decides first
	Taken   string     `json:"taken"` // how the leak was taken
}

// Limits puts the limits of a port side by side, each with its reason and what it
// means in the others' terms.
func (s Style) Limits(p head.Judged) LimitsSaid {
	l := LimitsSaid{Rows: []LimitRow{}}
	if !(p.OneLimit > 0) {
		return l
	}
	l.One = s.flow(p.OneLimit)
	if p.OverOne != nil {
		l.OverOne = Chance(*p.OverOne)
	}
	if p.AllLimit > 1.01*p.OneLimit {
		l.All, l.Both = s.flow(p.AllLimit), "all valves"
		if p.OverAll != nil {
			l.OverAll = Chance(*p.OverAll)
		}
		if p.AllLimit < 2.01*p.OneLimit {
			l.Both = "both valves"
		}
	}
	for i := range p.Limits {
		x := &p.Limits[i]
		r := LimitRow{Kind: x.Kind, Words: s.ruleWords(x, p.As), Decides: x.Decides, Counts: x.Counts, Reason: x.Kind.Reason(), Means: s.meansOf(x)}
		if x.One > 0 {
			r.One = s.flow(x.One)
			if l.All != "" {
				r.All = s.flow(x.All)
			}
		}
		switch {
		case x.Decides:
			r.Words += ": decides"
			l.Words = s.ruleWords(x, p.As)
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

// ruleWords names a rule with what was set of it.
func (s Style) ruleWords(x *head.PortLimit, as leak.Kind) string {
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
		return "a drop of " + set3(x.Set/s.unit().Size) + "\u00a0" + s.unit().Name + " below the blanked reading, on this pump"
	}
	return x.Kind.Words()
}

// meansOf says what a limit is in the terms of the other rules.
func (s Style) meansOf(x *head.PortLimit) []string {
	out := []string{}
	if !(x.One > 0) {
		return out
	}
	if x.Kind != limit.ByWorkmanship && x.Gap > 0 {
		out = append(out, "a gap of "+Figure(x.Gap*1e6, 2)+"\u00a0µm all round the contact")
	}
	if x.Kind == limit.ByCost {
		out = append(out, s.flow(x.Seep)+" as a seep, "+s.flow(x.Opening)+" as an opening")
		if x.SD > 0 {
			out = append(out, "known to a factor of "+Figure(factor95(x.SD), 2)+", by what is guessed of the engine")
		}
	} else if x.CostSeep > 0 {
		out = append(out, shareWords(x.CostSeep)+" of cranking pressure as a seep, "+shareWords(x.CostOpening)+" as an opening, were all valves of the cylinder at it")
	}
	if x.Kind != limit.ByDrop && x.Drop > 0 {
		out = append(out, "the needle "+Figure(x.Drop/s.unit().Size, 2)+"\u00a0"+s.unit().Name+" below the blanked reading on this pump")
	}
	return out
}

// set shows a figure that a person set, as it was set.
func set3(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

// shareWords is a share of the cranking pressure taken as straight in the leak, which
// it is while it is small.
func shareWords(x float64) string {
	if x > straightShare {
		return "more than " + Figure(straightShare*100, 2) + "\u00a0%"
	}
	return Figure(x*100, 2) + "\u00a0%"
}

const straightShare = 0.05

// LimitOf is the limit that decides about a port, for drawings and lines.
func LimitOf(p head.Judged) *Limit {
	l := &Limit{Flow: p.OneLimit}
	for i := range p.Limits {
		if x := &p.Limits[i]; x.Decides {
			l.Workmanship, l.Rule, l.By = x.Kind == limit.ByWorkmanship, x.Kind, x.Kind.Words()
			l.Set = x.Set
		}
	}
	return l
}

// factor95 is the factor within which a figure lies 95 times in 100, by the sd of
// its logarithm.
func factor95(sd float64) float64 { return math.Exp(1.96 * sd) }

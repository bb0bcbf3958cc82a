package web

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
)

// apartShown is what tests with different masks say of each opening of a port,
// what tells the rest, what the guides may pass, and what an advice stands on.
type apartShown struct {
	Title    string         `json:"title"` // "The left valve leaks"
	Tests    string         `json:"tests"` // "by 3 tests: one with no mask …"
	Clash    string         `json:"clash"`
	Openings []openingShown `json:"openings"`
	Scale    string         `json:"scale"` // the right end of the bars
	Plan     *maskShown     `json:"plan"`
	Guide    *guideShown    `json:"guide"`
	Advice   *adviceShown   `json:"advice"`
}

type openingShown struct {
	Name     string       `json:"name"`
	State    report.State `json:"state"` // "" for what is no valve
	Word     string       `json:"word"`
	Leak     string       `json:"leak"`     // "98" or "less than 12"; "" where not told
	Interval string       `json:"interval"` // "71 to 130"
	Says     string       `json:"says"`     // chance over the limit, in words
	Bar      *barShown    `json:"bar"`
}

// barShown is a bar on the scale, each from 0 to 1.
type barShown struct {
	Low    float64 `json:"low"`
	Median float64 `json:"median"` // 0 where only the high end means something
	High   float64 `json:"high"`
	Limit  float64 `json:"limit"` // 0: none
}

type maskShown struct {
	Words string   `json:"words"` // "one more test may settle it, at worst two"
	First string   `json:"first"` // what comes before any mask
	Mask  []string `json:"mask"`
	Do    string   `json:"do"` // of the button
}

type guideShown struct {
	Words string `json:"words"`
	Basis string `json:"basis"`
}

type adviceShown struct {
	Label   string          `json:"label"` // above the step
	Head    string          `json:"head"`  // above its grounds
	Kind    head.AdviceKind `json:"kind"`
	Words   string          `json:"words"`
	Grounds []head.Ground   `json:"grounds"`
}

// showApart puts it in words; nil where there is nothing to say.
func showApart(made *head.Card, p *head.PortCard, valves []string) *apartShown {
	if p == nil {
		return nil
	}
	out := &apartShown{Openings: []openingShown{}}
	if a := p.Advice; a != nil {
		out.Advice = &adviceShown{"The one thing to do", "What was tried", a.Kind, upper(a.Words) + ".", a.Grounds}
		if a.Kind == head.AdviceMend {
			out.Advice.Label, out.Advice.Head = "Advice", "What this advice stands on"
		}
	}
	if g := p.Guide; g != nil && p.Standing != head.Holds {
		out.Guide = &guideShown{upper(g.Words(len(valves))) + ".", upper(g.Basis()) + ". It is a forecast, and nothing is taken off a leak rate for it."}
	}
	a := p.Apart
	if a != nil && (a.Rest != nil || a.Guides != nil) { // measured, alone or with what is left
		out.Guide = nil
	}
	if a != nil {
		out.openings(made, p, a)
		out.plan(made, p, a.Plan)
	}
	if out.Advice == nil && out.Guide == nil && a == nil {
		return nil
	}
	return out
}

// openings fills the rows: each valve, what is left, the guides.
func (s *apartShown) openings(made *head.Card, p *head.PortCard, a *head.Apart) {
	told := slices.ContainsFunc(a.Valves, func(v head.ValveLeak) bool { return v.Known }) || a.Guides != nil || a.Rest != nil
	if !told && len(p.Masked) == 0 {
		return // one kind of test: nothing is told apart yet
	}
	s.Tests = fmt.Sprintf("By %d tests with different openings sealed off, taken together.", len(a.Tests))
	if a.Clash {
		s.Clash = "These tests contradict each other by more than tests scatter: a mask that did not seal, or a plate that moved. Make the odd one again."
	}
	top := 0.0
	for _, v := range a.Valves {
		top = math.Max(top, math.Max(v.Leak.High, 1.3*v.Limit))
	}
	for _, o := range []*head.OpeningLeak{a.Rest, a.Guides} {
		if o != nil {
			top = math.Max(top, o.Leak.High)
		}
	}
	s.Scale = report.Figure(top*6e7, 2)
	var leaking []string
	for _, v := range a.Valves {
		c := valveCard(made, v.ID)
		row := openingShown{Name: upper(c.Short), State: report.State(c.Standing.Words()), Word: c.Standing.Words()}
		if c.OneOf {
			row.State, row.Word = report.CantTellYet, "it or another"
		}
		row.fill(&v.OpeningLeak, v.Limit, top)
		row.Says = "chance of being over its limit of " + report.Figure(v.Limit*6e7, 2) + ": " + report.Chance(v.Over)
		if !v.Known {
			row.Leak, row.Interval = "up to "+report.Figure(v.Leak.High*6e7, 2), ""
			row.Says = "not told from what was open with it"
			if c.Standing == head.Holds {
				row.Says = "within its limit, whatever was open with it"
			}
		}
		if c.Standing == head.Leaks && !c.OneOf {
			leaking = append(leaking, "the "+c.Short)
		}
		s.Openings = append(s.Openings, row)
	}
	if o := a.Rest; o != nil {
		row := openingShown{Name: "What is left", Says: "guide, insert, crack, plate or another opening"}
		if a.Guides != nil {
			row.Says = "insert, crack, plate or another opening"
		}
		row.fill(o, 0, top)
		s.Openings = append(s.Openings, row)
	}
	if o := a.Guides; o != nil {
		name := "Its guide"
		if len(a.Valves) > 1 {
			name = "Its guides"
		}
		row := openingShown{Name: name, Says: "open less closed off"}
		row.fill(o, 0, top)
		s.Openings = append(s.Openings, row)
	}
	switch n := len(leaking); {
	case n == 1:
		s.Title = upper(leaking[0]) + " leaks"
	case n > 1:
		s.Title = upper(strings.Join(leaking, " and ")) + " leak"
	default:
		s.Title = "Which valve"
	}
	if len(a.Valves) == 1 && len(leaking) == 0 {
		s.Title = "Seat or guide"
	}
}

func (r *openingShown) fill(o *head.OpeningLeak, limit, top float64) {
	r.Leak, r.Interval = report.Figure(o.Leak.Median*6e7, 2), report.Figure(o.Leak.Low*6e7, 2)+" to "+report.Figure(o.Leak.High*6e7, 2)
	r.Bar = &barShown{Low: round(o.Leak.Low / top), Median: round(o.Leak.Median / top), High: round(o.Leak.High / top), Limit: round(limit / top)}
	if o.UpperOnly {
		r.Leak, r.Interval, r.Bar.Median = "less than "+report.Figure(o.Leak.High*6e7, 2), "", 0
	}
}

// plan says which mask is next and how many tests it takes.
func (s *apartShown) plan(made *head.Card, p *head.PortCard, m *head.MaskPlan) {
	if m == nil {
		return
	}
	s.Plan = &maskShown{Words: upper(m.Words()) + ".", First: m.First, Mask: m.Mask}
	var names []string
	for _, id := range m.Mask {
		names = append(names, valveCard(made, id).Short)
	}
	switch n := len(names); {
	case n == 0:
		s.Plan.Do = "Test with no valve masked"
	case n == len(p.Apart.Valves) && n == 2:
		s.Plan.Do = "Test with both valves masked"
	case n == len(p.Apart.Valves):
		s.Plan.Do = fmt.Sprintf("Test with all %d valves masked", n)
	default:
		s.Plan.Do = "Test with the " + strings.Join(names, " and the ") + " masked"
	}
	if m.Again {
		s.Plan.Do += " once more"
	}
	if s.Title == "" {
		s.Title = "Which valve"
	}
}

func valveCard(made *head.Card, id string) head.ValveCard {
	for _, v := range made.Valves {
		if v.ID == id {
			return v
		}
	}
	return head.ValveCard{Short: "valve"}
}

// blame names the valves of a shared port that leak, "" where it has one or
// nobody can tell: "the left valve".
func blame(made *head.Card, port string) string {
	var names []string
	of := 0
	for _, v := range made.Valves {
		if v.Port != port {
			continue
		}
		of++
		if v.Standing == head.Leaks {
			if v.OneOf {
				return ""
			}
			names = append(names, v.Short)
		}
	}
	if of < 2 || len(names) == 0 {
		return ""
	}
	return strings.Join(names, " and ")
}

// planValves says which valves of shared ports stand otherwise than their ports.
func (c card) planValves() map[string]report.State {
	out := map[string]report.State{}
	for _, v := range c.made.Valves {
		for _, p := range c.made.Ports {
			if p.ID == v.Port && p.Standing == head.Leaks && !v.OneOf && v.Standing != head.Leaks {
				out[v.ID] = report.State(v.Standing.Words())
			}
		}
	}
	return out
}

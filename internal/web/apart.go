package web

import (
	"fmt"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
)

// apartShown is what tests with different masks say of each opening of a port,
// what tells the rest, what the guides may pass, and what an advice stands on.
type apartShown struct {
	report.Apart
	Plan   *maskShown   `json:"plan"`
	Guide  *guideShown  `json:"guide"`
	Advice *adviceShown `json:"advice"`
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
	out := &apartShown{Apart: report.ApartOf(made, p)}
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
		out.plan(made, p, a.Plan)
	}
	if out.Advice == nil && out.Guide == nil && a == nil {
		return nil
	}
	return out
}

// plan says which mask is next and how many tests it takes.
func (s *apartShown) plan(made *head.Card, p *head.PortCard, m *head.MaskPlan) {
	if m == nil {
		return
	}
	s.Plan = &maskShown{Words: upper(m.Words()) + ".", First: m.First, Mask: m.Mask}
	var names []string
	for _, id := range m.Mask {
		names = append(names, report.ValveCardOf(made, id).Short)
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

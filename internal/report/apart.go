package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"seatproof/head"
)

// Apart is what tests with different openings sealed off tell apart.
type Apart struct {
	Title    string    `json:"title"` // "The left valve leaks"
	Tests    string    `json:"tests"` // "by 3 tests: one with no mask …"
	Clash    string    `json:"clash"`
	Openings []Opening `json:"openings"`
	Scale    string    `json:"scale"` // the right end of the bars
}

// Opening is one of them: a seat, the guides, or what is left.
type Opening struct {
	Name     string      `json:"name"`
	State    State       `json:"state"` // "" for what is no valve
	Word     string      `json:"word"`
	Leak     string      `json:"leak"`     // "98" or "less than 12"; "" where not told
	Interval string      `json:"interval"` // "71 to 130"
	Says     string      `json:"says"`     // chance over the limit, in words
	Bar      *OpeningBar `json:"bar"`
}

// OpeningBar is a bar on the scale, each from 0 to 1.
type OpeningBar struct {
	Low    float64 `json:"low"`
	Median float64 `json:"median"` // 0 where only the high end means something
	High   float64 `json:"high"`
	Limit  float64 `json:"limit"` // 0: none
}

// ApartOf tells apart what a port leaks by: each valve, what is left, the guides.
// Without rows where nothing is told apart yet.
func ApartOf(made *head.Card, p *head.PortCard) Apart {
	s := Apart{Openings: []Opening{}}
	a := p.Apart
	if a == nil {
		return s
	}
	told := slices.ContainsFunc(a.Valves, func(v head.ValveLeak) bool { return v.Known }) || a.Guides != nil || a.Rest != nil
	if !told && len(p.Masked) == 0 {
		return s // one kind of test
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
	s.Scale = Figure(top*cm3min, 2)
	var leaking []string
	for _, v := range a.Valves {
		c := ValveCardOf(made, v.ID)
		row := Opening{Name: upper(c.Short), State: State(c.Standing.Words()), Word: c.Standing.Words()}
		if c.OneOf {
			row.State, row.Word = CantTellYet, "it or another"
		}
		row.fill(&v.OpeningLeak, v.Limit, top)
		row.Says = "chance of being over its limit of " + Figure(v.Limit*cm3min, 2) + ": " + Chance(v.Over)
		if !v.Known {
			row.Leak, row.Interval = "up to "+Figure(v.Leak.High*cm3min, 2), ""
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
		row := Opening{Name: "What is left", Says: "guide, insert, crack, plate or another opening"}
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
		row := Opening{Name: name, Says: "open less closed off"}
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
	return s
}

func (r *Opening) fill(o *head.OpeningLeak, limit, top float64) {
	r.Leak, r.Interval = Figure(o.Leak.Median*cm3min, 2), Figure(o.Leak.Low*cm3min, 2)+" to "+Figure(o.Leak.High*cm3min, 2)
	r.Bar = &OpeningBar{Low: thousandths(o.Leak.Low / top), Median: thousandths(o.Leak.Median / top), High: thousandths(o.Leak.High / top), Limit: thousandths(limit / top)}
	if o.UpperOnly {
		r.Leak, r.Interval, r.Bar.Median = "less than "+Figure(o.Leak.High*cm3min, 2), "", 0
	}
}

func thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }

// ValveCardOf is the card of a valve.
func ValveCardOf(made *head.Card, id string) head.ValveCard {
	for _, v := range made.Valves {
		if v.ID == id {
			return v
		}
	}
	return head.ValveCard{Short: "valve"}
}

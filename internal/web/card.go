package web

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/unit"
)

type stateCount struct {
	State report.State `json:"state"`
	N     int          `json:"n"`
	Word  string       `json:"word"`
}

type cardRow struct {
	Port   string       `json:"port"`
	Name   string       `json:"name"`
	Short  string       `json:"short"`
	State  report.State `json:"state"`
	Word   string       `json:"word"`
	Leak   string       `json:"leak"`
	Again  string       `json:"again"`
	This   string       `json:"this"`
	Of     string       `json:"of"`
	Limit  string       `json:"limit"`
	Chance string       `json:"chance"`
	Lapsed string       `json:"lapsed"`
	Tests  int          `json:"tests"`
	Why    string       `json:"why"`
	Reason string       `json:"reason"`

	outcome *judged
	tests   []kept[test] // those that count, oldest first
}

type cardNext struct {
	Port   string `json:"port"`
	Head   string `json:"head"`
	Words  string `json:"words"`
	Reason string `json:"reason"`
	Do     string `json:"do"`
}

type card struct {
	Line       string             `json:"line"`
	Counts     []stateCount       `json:"counts"`
	Rows       []cardRow          `json:"rows"`
	Next       []cardNext         `json:"next"`
	Result     string             `json:"result"`
	Unit       string             `json:"unit"`
	Lie        string             `json:"lie"`
	TitleBlock []report.DetailRow `json:"title_block"`
	Rev        int64              `json:"rev"`
}

// card says of every port what holds, what leaks and what to do next.
func (s *Server) card(ctx context.Context, k kept[head.Job]) (card, error) {
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: k.ID})
	if err != nil {
		return card{}, err
	}
	work, err := list[head.Work](ctx, s.Keeper, Query{Kind: kindWork, JobID: k.ID})
	if err != nil {
		return card{}, err
	}
	b, err := s.bench(ctx, k.V)
	if err != nil {
		return card{}, err
	}
	slices.SortStableFunc(tests, func(a, b kept[test]) int { return int(min(1, max(-1, a.V.At-b.V.At))) })
	if _, err := s.readAll(ctx, b, tests); err != nil { // on all cores; rows then find them kept
		return card{}, err
	}
	c := card{Unit: "cm³/min", Lie: report.LieWords(k.V.Lie), Rows: []cardRow{}, Next: []cardNext{}, Rev: k.Rev}
	for _, p := range k.V.Ports {
		row, err := s.row(ctx, b, p, tests, work)
		if err != nil {
			return card{}, err
		}
		c.Rows = append(c.Rows, row)
	}
	c.count()
	c.say(k.V, tests)
	c.TitleBlock = s.titleBlock(ctx, k, b)
	return c, nil
}

// row judges one port by the tests that count: those since the last work on its
// valves, made like the newest of them.
func (s *Server) row(ctx context.Context, b bench, p head.Port, tests []kept[test], work []kept[head.Work]) (cardRow, error) {
	row := cardRow{Port: p.ID, Name: report.PortName(p), Short: report.PortShort(p), State: report.NotTested, Of: "this trace"}
	var mine []kept[test]
	for _, t := range tests {
		if t.V.PortID == p.ID {
			mine = append(mine, t)
		}
	}
	var last *head.Work
	for _, w := range work {
		touches := len(w.V.Valves) == 0 || slices.ContainsFunc(w.V.Valves, func(v string) bool { return slices.Contains(p.Valves, v) })
		if touches && (last == nil || w.V.At > last.At) {
			last = &w.V
		}
	}
	since := slices.DeleteFunc(slices.Clone(mine), func(t kept[test]) bool { return last != nil && t.V.At <= last.At })
	row.Tests = len(since)
	if l, err := limitsOf(b.job, p, 101325, 293.15); err == nil && l.one > 0 {
		row.Limit = report.Figure(l.one*6e7, 2)
	}
	lapsed := len(since) == 0 && len(mine) > 0
	if lapsed {
		since = mine
	}
	if len(since) > 0 {
		newest := since[len(since)-1]
		since = slices.DeleteFunc(since, func(t kept[test]) bool { return !like(t.V.Conditions, newest.V.Conditions) })
		all, err := s.readAll(ctx, b, since)
		if err != nil {
			return row, err
		}
		o, err := together(b.job, p, all)
		if err != nil {
			return row, err
		}
		row.outcome, row.tests = o, since
		row.State = o.State()
		row.Leak, row.Again, row.This, row.Of = o.LeakCell(b.style), o.AgainCell(b.style), o.ThisCell(b.style), o.Of()
		if o.Limit != nil {
			row.Limit = o.LimitCell(b.style)
		}
		if o.Over != nil {
			row.Chance = report.Chance(*o.Over)
		}
		if !o.Answered() {
			m := o.Why(b.style)
			row.Why, row.Reason = m.What, m.Do
		}
	}
	if lapsed {
		row.State = report.Lapsed
		row.Lapsed = "worked on since: " + wordOf(workWords, last.Kind) + ", " + day(last.At)
	}
	row.Word = wordOf(stateWords, row.State)
	return row, nil
}

func (c *card) count() {
	c.Counts = []stateCount{}
	for _, w := range stateWords {
		n := 0
		for _, r := range c.Rows {
			if string(r.State) == w.Code {
				n++
			}
		}
		if n > 0 {
			word := w.Word
			if n > 1 && w.Many != "" {
				word = w.Many
			}
			c.Counts = append(c.Counts, stateCount{report.State(w.Code), n, word})
		}
	}
}

func (c *card) n(st report.State) int {
	for _, x := range c.Counts {
		if x.State == st {
			return x.N
		}
	}
	return 0
}

// say writes the line, the result and what to do next, the worst first.
func (c *card) say(j head.Job, tests []kept[test]) {
	total, holds, leaks := len(c.Rows), c.n(report.Holds), c.n(report.Leaks)
	switch {
	case c.n(report.NotTested) == total:
		c.Line = "No port tested yet."
	case holds == total:
		c.Line = "All " + fmt.Sprint(total) + " ports hold."
	default:
		c.Line = fmt.Sprintf("%d of %d ports hold.", holds, total)
	}
	c.Result = c.Line
	if leaks > 0 {
		c.Result += fmt.Sprintf(" %d %s.", leaks, map[bool]string{true: "leaks", false: "leak"}[leaks == 1])
	}
	if held, same := heldAlike(tests); same && len(tests) > 0 {
		c.Result += " Valves held by " + report.HeldWords(held) + "."
	}
	c.Result += " Leak rates are free air at 50 kPa vacuum."
	var guessed []string
	if !j.Engine.Bore.Known {
		guessed = append(guessed, "the bore")
	}
	if slices.ContainsFunc(j.Valves, func(v head.Valve) bool { return !v.Head.Known }) && !j.Limit.Flow.Known {
		guessed = append(guessed, "valve sizes, and the limits with them")
	}
	for _, r := range c.Rows {
		if r.outcome != nil && r.outcome.Reading != nil {
			for _, g := range r.outcome.Reading.Guessed {
				if g.Input == "volume" && !slices.Contains(guessed, "volumes") {
					guessed = append(guessed, "volumes")
				}
			}
		}
	}
	if len(guessed) > 0 {
		c.Result += " Guessed, wide: " + strings.Join(guessed, ", ") + "."
	}
	for _, st := range []report.State{report.Leaks, report.Refused, report.Unreadable, report.CantTellYet, report.NoVerdict, report.Lapsed, report.NotTested} {
		for _, r := range c.Rows {
			if r.State == st {
				c.Next = append(c.Next, r.next(j))
			}
		}
	}
}

func heldAlike(tests []kept[test]) (held rig.Held, same bool) {
	for i, t := range tests {
		if i > 0 && t.V.Conditions.Held != held {
			return held, false
		}
		held = t.V.Conditions.Held
	}
	return held, true
}

// next is the one thing to do about a port.
func (r cardRow) next(j head.Job) cardNext {
	n := cardNext{Port: r.Port, Head: upper(r.Name) + " " + r.Word + ".", Do: "Test " + r.Name}
	switch r.State {
	case report.NotTested:
		n.Head = upper(r.Name) + ":"
		n.Words = "test it."
		for _, p := range j.Ports {
			if p.ID == r.Port && len(p.Plugs) > 0 {
				n.Words = "plug the " + strings.Join(p.Plugs, ", the ") + ", then test."
			}
		}
	case report.Lapsed:
		n.Head, n.Words = upper(r.Name)+":", "test again, "+strings.TrimPrefix(r.Lapsed, "worked on since: ")+"."
	case report.Refused, report.Unreadable:
		n.Head, n.Words = upper(r.Name)+" was "+r.Word+".", r.Reason
	default:
		step := r.outcome.Next()
		if r.State == report.CantTellYet && r.outcome.between() && r.valves(j) > 1 {
			step = report.Next{Step: "mask one valve, then test again", Reason: "It leaks more than one valve may and less than all of them may: grease the seat of one all round, and what is left is the other's."}
		}
		n.Words, n.Reason = upper(step.Step)+".", step.Reason
		if r.State == report.CantTellYet || r.State == report.NoVerdict {
			n.Head, n.Words = upper(r.Name)+":", step.Step+"."
		}
	}
	return n
}

func (r cardRow) valves(j head.Job) int {
	for _, p := range j.Ports {
		if p.ID == r.Port {
			return len(p.Valves)
		}
	}
	return 0
}

// planPorts is what a drawing says at the ports.
func (c card) planPorts(job string, links bool) map[string]report.PlanPort {
	out := map[string]report.PlanPort{}
	for _, r := range c.Rows {
		p := report.PlanPort{State: r.State}
		switch {
		case r.State == report.Lapsed:
			p.Figure = "worked on since"
		case r.Leak != "":
			p.Figure = r.Leak + " " + c.Unit
		}
		if links {
			p.Link = "#/heads/" + job + "/ports/" + r.Port
		}
		out[r.Port] = p
	}
	return out
}

func (s *Server) titleBlock(ctx context.Context, k kept[head.Job], b bench) []report.DetailRow {
	j := k.V
	or := func(x, other string) string {
		if x == "" {
			return other
		}
		return x
	}
	rigName, air := "none said", "not said"
	if r, err := load[head.Rig](ctx, s.Keeper, kindRig, j.RigID); err == nil {
		rigName = r.V.Name
		if parsed, f := s.ReadRig(r.V.File); len(f) == 0 {
			air = airWords(parsed)
		}
	}
	engine := "not said"
	if e := j.Engine; e.Bore.Known && e.Stroke.Known {
		engine = report.Figure(e.Bore.Value*1e3, 3) + " × " + report.Figure(e.Stroke.Value*1e3, 3) + " mm"
	} else if e.Bore.Known {
		engine = "bore " + unit.Format(e.Bore, unit.LengthDim, "mm", 3)
	}
	owner := or(j.Owner, "not said")
	if j.Invented {
		owner = "invented example"
	}
	return []report.DetailRow{
		{Name: "Title", Words: j.Title}, {Name: "Head no.", Words: j.Number},
		{Name: "Legal owner", Words: owner}, {Name: "Document type", Words: "Job card"}, {Name: "Rev.", Words: fmt.Sprint(k.Rev)},
		{Name: "Rig", Words: rigName}, {Name: "Air", Words: air}, {Name: "Engine", Words: engine},
		{Name: "Made by", Words: or(j.Initials, "not said")}, {Name: "Approved by", Words: "not yet"}, {Name: "Date of issue", Words: day(k.At)},
	}
}

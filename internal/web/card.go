package web

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

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
	By     string       `json:"limit_by"` // the rule that decides, where it is not workmanship
	Beside string       `json:"beside"`   // the other limits that count: "cost 52"
	Chance string       `json:"chance"`
	Ground string       `json:"ground"` // the chance that the verdict stands on: "over 23: 1.8 %", "over both: 97 %"
	Lapsed string       `json:"lapsed"`
	Tests  int          `json:"tests"`
	Why    string       `json:"why"`
	Reason string       `json:"reason"`

	Blame   string            `json:"blame"`    // of a shared port: which of its valves leak, "" where nobody can tell
	Retest  string            `json:"retest"`   // the step of a port that holds by a figure in doubt
	SignOff bool              `json:"sign_off"` // the verdict counts for the sign-off
	Off     []string          `json:"off"`      // why not
	Odd     string            `json:"odd"`
	Rank    string            `json:"rank"`
	Aside   map[string]string `json:"aside"` // tests it does not stand on, and why

	outcome *report.Outcome
	tests   []kept[test] // those that count, oldest first
	card    *head.PortCard
	limits  [2]float64 // m³/s: of one valve, of all
}

type cardNext struct {
	Kind   head.TodoKind `json:"kind"`
	Valves []string      `json:"valves"` // to mask
	Port   string        `json:"port"`
	Head   string        `json:"head"`
	Words  string        `json:"words"`
	Reason string        `json:"reason"`
	Expect string        `json:"expect"` // what the step is expected to come to, of one that can't be told yet
	Do     string        `json:"do"`
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
	Checked    bool               `json:"checked"` // the rig was checked today

	made *head.Card
}

// card says of every port what holds, what leaks and what to do next: what
// package head makes of the records, in the words of a sheet.
func (s *Server) card(ctx context.Context, k kept[head.Job]) (card, error) {
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: k.ID})
	if err != nil {
		return card{}, err
	}
	work, err := list[head.Work](ctx, s.Keeper, Query{Kind: kindWork, JobID: k.ID})
	if err != nil {
		return card{}, err
	}
	checks, err := s.checks(ctx)
	if err != nil {
		return card{}, err
	}
	b, err := s.bench(ctx, k.V)
	if err != nil {
		return card{}, err
	}
	slices.SortStableFunc(tests, func(a, b kept[test]) int { return cmp.Compare(a.V.At, b.V.At) })
	read, err := s.readAll(ctx, b, tests)
	if err != nil {
		return card{}, err
	}
	records := head.Records{Job: k.V, Today: today(s.Now())}
	for i, t := range tests {
		records.Tests = append(records.Tests, head.Tested{Test: t.V, Reading: read[i].Reading})
	}
	for _, w := range work {
		records.Work = append(records.Work, w.V)
	}
	for _, x := range checks {
		records.Checks = append(records.Checks, x.V)
	}
	h := sha256.New()
	enc := json.NewEncoder(h)
	_ = enc.Encode([]any{k.Rev, records.Today, b.rigs})
	for _, t := range tests {
		_ = enc.Encode([]any{t.ID, t.Rev})
	}
	for _, w := range work {
		_ = enc.Encode([]any{w.ID, w.Rev})
	}
	for _, x := range checks {
		_ = enc.Encode([]any{x.ID, x.Rev})
	}
	made := s.cards.of(k.ID, [32]byte(h.Sum(nil)), func() *head.Card {
		together, done := s.pooled.of(k.ID)
		defer done()
		records.Together, records.Kept, records.Cost, records.Pump = together, s.pooled.keptOf(k.ID), s.cost, s.pumpOf(b)
		return head.CardOf(records)
	})
	c := card{Unit: "cm³/min", Lie: report.LieWords(k.V.Lie), Rows: []cardRow{}, Next: []cardNext{}, Rev: k.Rev, Checked: made.Checked, made: made}
	for i := range made.Ports {
		r := row(b, &made.Ports[i], tests, read)
		r.Blame = blame(made, r.Port)
		c.Rows = append(c.Rows, r)
	}
	c.count()
	c.say(tests, made)
	c.askForCheck(k.V.RigID, b)
	c.TitleBlock = s.titleBlock(ctx, k, b)
	return c, nil
}

// today is when the day began where the program runs.
func today(now time.Time) int64 {
	y, m, d := now.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, now.Location()).UnixMilli()
}

// row puts what a port comes to into the words and figures of a table.
func row(b bench, p *head.PortCard, tests []kept[test], read []*report.Outcome) cardRow {
	r := cardRow{
		Port: p.ID, Name: p.Name, Short: shortName(p.Name), State: report.State(p.Standing.Words()), Word: p.Standing.Words(), Of: "this trace", Tests: len(p.Counted),
		SignOff: p.SignOff, Off: append([]string{}, p.Off...), Aside: map[string]string{}, card: p, limits: [2]float64{p.OneLimit, p.AllLimit},
	}
	if p.Retest { // as the command read writes it
		r.Word, r.Retest = r.Word+", retest", p.Next.Do
	}
	for _, a := range p.Aside {
		r.Aside[a.Test] = strings.Join(a.Why, ", ")
	}
	if p.OneLimit > 0 {
		r.Limit = report.Figure(p.OneLimit*6e7, 2)
		if l := report.LimitOf(p.Judged()); !l.Workmanship {
			r.By = l.By
		}
	}
	r.Beside = limitsBeside(p)
	if p.OverOne != nil {
		r.Chance = report.Chance(*p.OverOne)
		r.Ground = "over " + r.Limit + ": " + r.Chance
		if l := b.style.Limits(p.Judged()); p.Standing == head.Leaks && l.OverAll != "" {
			r.Ground = "over " + strings.TrimSuffix(l.Both, " valves") + ": " + l.OverAll
		}
	}
	if p.Odd != nil {
		r.Odd = fmt.Sprintf("passes %s times as much as the middle one of %d like ports", report.Figure(p.Leak.Median/p.Odd.Usual, 2), p.Odd.Sisters)
	}
	if p.Rank > 0 {
		r.Rank = fmt.Sprintf("%d of %d like ports, 1 leaks most", p.Rank, p.Ranked)
	}
	ids := p.Counted
	if o := p.Old; o != nil && len(ids) == 0 {
		if r.Lapsed = o.Why; r.Lapsed == "" {
			r.Lapsed = "worked on since"
		}
		if o.WorkAt > 0 {
			r.Lapsed += ", " + day(o.WorkAt)
		}
		r.Leak, r.Again = estimate(o.Leak), span(o.Again)
	}
	if len(ids) == 0 { // refused ones show why
		for _, a := range p.Aside {
			if !a.Lapsed {
				ids = append(ids, a.Test)
			}
		}
	}
	o := &report.Outcome{Port: p.Name, Reading: p.Reading}
	for i, t := range tests {
		if !slices.Contains(ids, t.ID) {
			continue
		}
		r.tests = append(r.tests, t)
		o.Each = append(o.Each, read[i])
	}
	if len(o.Each) == 0 {
		return r
	}
	o.Middle = len(o.Each) - 1
	if p.Reading != nil && p.Reading.Repeats != nil && p.Reading.Repeats.Middle < len(o.Each) {
		o.Middle = p.Reading.Repeats.Middle
	}
	m := o.Each[o.Middle]
	o.Err, o.Held, o.Faults, o.Sketch, o.Room, o.Volume, o.RigLeak = m.Err, m.Held, m.Faults, m.Sketch, m.Room, m.Volume, m.RigLeak
	if o.Reading == nil {
		o.Reading = m.Reading
	}
	if len(o.Each) == 1 {
		o.Each = nil
	}
	if p.OneLimit > 0 {
		o.Limit = report.LimitOf(p.Judged())
	}
	o.Over, o.Verdict = p.OverOne, p.Verdict
	r.outcome = o
	if p.Standing != head.Lapsed {
		r.Leak, r.Again, r.This, r.Of = o.LeakCell(b.style), o.AgainCell(b.style), o.ThisCell(b.style), o.Of()
	}
	if !o.Answered() {
		w := o.Why(b.style)
		what, _, _ := strings.Cut(w.What, ": ") // the sheet of the port says the rest
		r.Why, r.Reason = strings.TrimSuffix(what, ".")+".", w.Do
	}
	return r
}

func estimate(e *head.Estimate) string {
	if e == nil {
		return ""
	}
	return report.Figure(e.Median*6e7, 2)
}

func span(e *head.Estimate) string {
	if e == nil {
		return ""
	}
	return report.Figure(e.Low*6e7, 2) + " to " + report.Figure(e.High*6e7, 2)
}

// shortName is a port's name where there is little room: "2 intake".
func shortName(name string) string {
	return strings.ReplaceAll(strings.TrimPrefix(strings.TrimPrefix(name, "cylinders "), "cylinder "), " and ", "+")
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

// say writes the line, the result and what to do next.
func (c *card) say(tests []kept[test], made *head.Card) {
	total, holds, leaks := len(c.Rows), c.n(report.Holds), c.n(report.Leaks)
	switch {
	case c.n(report.NotTested) == total:
		c.Line = "No port tested yet."
	case holds == total:
		c.Line = "All " + fmt.Sprint(total) + " ports hold."
	default:
		c.Line = fmt.Sprintf("%d of %d ports %s.", holds, total, map[bool]string{true: "holds", false: "hold"}[holds == 1])
	}
	again := 0
	for _, r := range c.Rows {
		if r.Retest != "" {
			again++
		}
	}
	if again > 0 {
		c.Line = fmt.Sprintf("%s, %d of them in doubt: test again.", strings.TrimSuffix(c.Line, "."), again)
	}
	c.Result = c.Line
	if leaks > 0 {
		c.Result += fmt.Sprintf(" %d %s.", leaks, map[bool]string{true: "leaks", false: "leak"}[leaks == 1])
	}
	if holds > 0 {
		c.Result += fmt.Sprintf(" %d of the verdicts count for the sign-off.", made.SignOff)
	}
	if held, same := heldAlike(tests); same && len(tests) > 0 {
		c.Result += " Valves held by " + report.HeldWords(held) + "."
	}
	c.Result += " Leak rates are free air at 50 kPa vacuum." + limitsOfHead(made)
	var guessed []string
	for _, g := range made.Guesses {
		if g.Widened > 1.05 {
			guessed = append(guessed, fmt.Sprintf("%s, which made an answer %s times as wide", g.Input, report.Figure(g.Widened, 2)))
		}
	}
	if len(guessed) > 0 {
		c.Result += " Guessed, wide: " + strings.Join(guessed, "; ") + "."
	}
	for _, t := range made.Next {
		n := cardNext{Kind: t.Kind, Port: t.Port, Head: t.Head, Words: t.Do, Reason: t.Reason, Valves: append([]string{}, t.Valves...)}
		for _, r := range c.Rows {
			if r.Port == t.Port && t.Port != "" {
				n.Expect = expected(r.card.Expect)
			}
		}
		if t.At > 0 {
			n.Words = strings.TrimSuffix(n.Words, ".") + ", " + day(t.At) + "."
		}
		if strings.HasSuffix(n.Head, ":") {
			n.Words = strings.ToLower(n.Words[:1]) + n.Words[1:]
		}
		switch {
		case t.Kind == head.TodoCheck:
			n.Do = "Check the rig"
		case len(t.Valves) > 0:
			n.Do = "Test with it masked"
			if len(t.Valves) > 1 {
				n.Do = "Test with them masked"
			}
		default:
			for _, r := range c.Rows {
				if r.Port == t.Port {
					n.Do = "Test " + r.Name
					if r.State == report.Refused && r.Reason != "" {
						n.Head, n.Words = upper(r.Name)+" was refused.", r.Reason
					}
				}
			}
		}
		c.Next = append(c.Next, n)
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

// planPorts is what a drawing says at the ports.
func (c card) planPorts(job string, links bool) map[string]report.PlanPort {
	out := map[string]report.PlanPort{}
	for _, r := range c.Rows {
		p := report.PlanPort{State: r.State, Retest: r.Retest != ""}
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

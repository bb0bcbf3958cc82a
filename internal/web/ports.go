package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"

	"seatproof/head"
	"seatproof/internal/report"
)

type point [2]float64

type traceShown struct {
	Test   string  `json:"test"`
	Name   string  `json:"name"`
	Points []point `json:"points"`
	Hand   bool    `json:"hand"`
}

type limitLine struct {
	Words  string  `json:"words"`
	Points []point `json:"points"`
}

type chartShown struct {
	Unit   string       `json:"unit"`
	Traces []traceShown `json:"traces"`
	Fit    []point      `json:"fit"`
	Low    []point      `json:"low"`
	High   []point      `json:"high"`
	Limits []limitLine  `json:"limits"`
	Fitted string       `json:"fitted"`
}

// points turns points into what a chart draws: seconds since zero, the vacuum
// in the unit shown, three decimals.
func points(pts []report.Point, zero, size float64) []point {
	out := make([]point, 0, len(pts))
	for _, p := range pts {
		out = append(out, point{round(p.Time - zero), round(p.Vacuum / size)})
	}
	return out
}

func round(x float64) float64 { return math.Round(x*1000) / 1000 }

func (s *Server) getPort(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	k, err := s.job(r)
	if err != nil {
		return err
	}
	id := r.PathValue("port")
	i := slices.IndexFunc(k.V.Ports, func(p head.Port) bool { return p.ID == id })
	if i < 0 {
		return ErrNotFound
	}
	port := k.V.Ports[i]
	c, err := s.card(ctx, k)
	if err != nil {
		return err
	}
	row := c.Rows[i]
	b, err := s.bench(ctx, k.V)
	if err != nil {
		return err
	}
	all, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: k.ID})
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(t kept[test]) bool { return t.V.PortID != id })
	slices.SortStableFunc(all, func(a, b kept[test]) int { return int(min(1, max(-1, b.V.At-a.V.At))) })
	tests := []testShown{}
	for _, t := range all {
		v, err := s.showTest(ctx, t, &b)
		if err != nil {
			return err
		}
		tests = append(tests, v)
	}
	work, err := s.workOf(r, k.ID, port.Valves)
	if err != nil {
		return err
	}
	pictures, err := s.picturesOf(r, k.ID, id)
	if err != nil {
		return err
	}
	var next *cardNext
	for _, n := range c.Next {
		if n.Port == id {
			next = &n
		}
	}
	var neighbours []map[string]string
	for _, p := range k.V.Ports {
		if p.ID != id {
			neighbours = append(neighbours, map[string]string{"port": p.ID, "name": k.V.PortName(p.ID)})
		}
	}
	body := map[string]any{
		"head": map[string]any{"id": k.ID, "rev": k.Rev, "number": k.V.Number, "title": k.V.Title, "rig": k.V.RigID},
		"port": showPort(&k.V, port), "row": row, "question": question(row, len(port.Valves)), "tests": tests, "work": work, "pictures": pictures,
		"next": next, "others": neighbours, "unit": c.Unit, "title_block": portBlock(c.TitleBlock, row.Name),
		"chart":  chartShown{Unit: b.style.Unit.Name, Traces: []traceShown{}, Fit: []point{}, Low: []point{}, High: []point{}, Limits: []limitLine{}},
		"limits": b.style.Limits(row.card.Judged()), "sources": []report.SourceRow{},
		"apart": showApart(c.made, row.card, port.Valves), "narrow": nil, "intervals": "", "detail": []report.DetailRow{}, "notes": []messageShown{}, "guessed": []string{}, "budget": []budgetShown{},
	}
	if o := row.outcome; o != nil {
		body["chart"] = s.chart(o, row, b)
		body["intervals"] = o.IntervalsSVG(b.style)
		body["detail"], body["sources"] = o.DetailRows(b.style), o.Sources(b.style)
		shown := showReading(o, b.style, s.Version)
		narrow := s.narrowOf(o.Reading, b, &all[0].V)
		body["narrow"] = narrow
		body["notes"], body["guessed"], body["budget"] = shown.Warnings, narrow.once(shown.Guessed), shown.Budget
	}
	return s.answer(w, http.StatusOK, body)
}

// question is the head of the sheet: the verdict, and what keeps it open.
func question(row cardRow, valves int) string {
	if p := row.card; row.State == report.CantTellYet && valves > 1 && p.OverOne != nil && *p.OverOne >= .5 && p.OverAll != nil && *p.OverAll < .95 {
		if valves == 2 {
			return row.Word + ": one valve or both?"
		}
		return row.Word + ": one valve or more?"
	}
	return row.Word
}

// chart starts every hold at its shut-off.
func (s *Server) chart(o *report.Outcome, row cardRow, b bench) chartShown {
	size := b.style.Unit.Size
	c := chartShown{Unit: b.style.Unit.Name, Traces: []traceShown{}, Limits: []limitLine{}}
	each := o.Each
	if len(each) == 0 {
		each = []*report.Outcome{o}
	}
	for i, e := range each {
		pts := e.Sketch.All
		zero := 0.0
		if e.Answered() {
			pts, zero = e.HeldPoints(), e.ShutOff()
		}
		name, id := fmt.Sprintf("test %d", i+1), ""
		if i < len(row.tests) {
			id = row.tests[i].ID
		}
		c.Traces = append(c.Traces, traceShown{id, name, points(pts, zero, size), e.Sketch.Hand})
	}
	zero, fit, low, high, lim := o.FitBand()
	c.Fit, c.Low, c.High = points(fit, zero, size), points(low, zero, size), points(high, zero, size)
	if len(fit) > 0 {
		c.Fitted = "fitted hold, band " + o.ThisCell(b.style)
	}
	if len(lim) > 0 {
		words := "limit "
		if row.limits[1] > 1.01*row.limits[0] {
			words = "one valve "
			c.Limits = append(c.Limits, limitLine{"all valves " + report.Figure(row.limits[1]*6e7, 2), points(o.LimitPoints(row.limits[1], 0), zero, size)})
		}
		c.Limits = append(c.Limits, limitLine{words + row.Limit, points(lim, zero, size)})
	}
	return c
}

func portBlock(all []report.DetailRow, name string) []report.DetailRow {
	out := slices.Clone(all)
	out[0].Words = upper(name)
	out[3].Words = "Port sheet"
	return out
}

package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"

	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/unit"
)

// getLoss says what the leaks of a head cost its engine, cylinder by cylinder.
func (s *Server) getLoss(w http.ResponseWriter, r *http.Request) error {
	l, err := s.LossOf(r.Context(), r.PathValue("id"), 0, 0)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, s.style(r.Context()).Loss(l))
}

// LossOf reckons what the leaks of a head cost its engine: of one cylinder, or of
// all where that is 0. A share of 0 is the head's own. What was reckoned of the
// same figures before is kept.
func (s *Server) LossOf(ctx context.Context, jobID string, cylinder int, share float64) (*report.Loss, error) {
	k, err := s.jobOf(ctx, jobID)
	if err != nil {
		return nil, err
	}
	c, err := s.card(ctx, k)
	if err != nil {
		return nil, err
	}
	ask := lossAsk(&k.V, c.Rows)
	if ask.Share = share; share == 0 {
		ask.Share = k.V.Limit.CostShare()
	}
	if cylinder != 0 {
		ask.Cylinders = slices.DeleteFunc(ask.Cylinders, func(x report.LossCylinder) bool { return x.Number != cylinder })
		if len(ask.Cylinders) == 0 {
			return nil, &Fault{What: fmt.Sprintf("the head has no cylinder %d", cylinder), Do: "count as its maker does"}
		}
	}
	l, err := s.losses.of(ask, func() (*report.Loss, error) { return report.LossOf(ask) })
	if err != nil {
		return nil, &Fault{Status: http.StatusUnprocessableEntity, What: err.Error(), Do: "put the engine's figures right on the sheet Sizes", cause: err}
	}
	return l, nil
}

// lossAsk gathers the leaks of each cylinder: of each of its ports what the tests
// say that its verdict stands on. A port between two cylinders counts in both.
func lossAsk(j *head.Job, rows []cardRow) report.LossAsk {
	a := report.LossAsk{Room: gas.SeaLevelPressure, Temp: 293.15, Cylinders: []report.LossCylinder{}}
	a.Engine, a.Guessed = report.EngineOf(j)
	a.Engine.SeatWidth, a.Engine.Contact = seatOf(j)
	at := map[int]int{}
	for i := range rows {
		row, p := &rows[i], &j.Ports[i]
		for _, n := range p.Cylinders {
			k, ok := at[n]
			if !ok {
				k = len(a.Cylinders)
				at[n] = k
				a.Cylinders = append(a.Cylinders, report.LossCylinder{Name: fmt.Sprintf("cylinder %d", n), Number: n})
			}
			c := &a.Cylinders[k]
			name := portOfCylinder(p)
			if len(p.Cylinders) > 1 {
				name += ", which it shares"
			}
			var l report.LossLeak
			if g := row.card.Reading; g != nil && len(row.card.Counted) > 0 {
				l = report.LeakOf(name, g, row.middle(), p.Side == head.Intake)
			}
			if len(l.Draws) == 0 {
				c.Untold = append(c.Untold, name+" left out: "+row.Word)
				continue
			}
			c.Leaks = append(c.Leaks, l)
			a.Room, a.Temp = row.card.Reading.Room, row.card.Reading.RoomTemp
		}
	}
	return a
}

// middle is the reading of the test that speaks for several; nil where there is one.
func (r *cardRow) middle() *leak.Reading {
	if o := r.outcome; o != nil && o.Middle < len(o.Each) {
		return o.Each[o.Middle].Reading
	}
	return nil
}

// portOfCylinder names a port within its cylinder: "intake port", "left intake
// port".
func portOfCylinder(p *head.Port) string {
	name := string(p.Side) + " port"
	if p.Part != "" {
		name = p.Part + " " + name
	}
	return name
}

// seatOf is the seat that caps a seep: the middle one of the head's valves, and
// their contact where one is given.
func seatOf(j *head.Job) (width, contact unit.Measured) {
	var heads, contacts []unit.Measured
	for i := range j.Valves {
		d, _ := j.HeadOr(&j.Valves[i])
		heads = append(heads, d)
		if c := j.Valves[i].Contact; c.Known && c.Value > 0 {
			contacts = append(contacts, c)
		}
	}
	mean := func(all []unit.Measured) unit.Measured {
		if len(all) == 0 {
			return unit.Measured{}
		}
		sum, low, high, spread := 0.0, math.Inf(1), 0.0, 0.0
		for _, m := range all {
			sum, spread = sum+m.Value, math.Max(spread, m.Spread)
			low, high = math.Min(low, m.Value), math.Max(high, m.Value)
		}
		return unit.About(sum/float64(len(all)), math.Hypot(spread, (high-low)/2))
	}
	d := mean(heads)
	if d.Known {
		width, _ = report.SeatOf(d, unit.Measured{})
	}
	return width, mean(contacts)
}

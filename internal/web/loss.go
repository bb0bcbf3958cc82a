package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"

	"seatproof/internal/report"
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
	ask := report.LossOfHead(&k.V, c.ports())
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

// ports are the ports of a card with what their tests come to.
func (c *card) ports() []report.PortRead {
	out := make([]report.PortRead, len(c.Rows))
	for i := range c.Rows {
		out[i] = report.PortRead{Card: c.Rows[i].card, Outcome: c.Rows[i].outcome}
	}
	return out
}

package web

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/engine"
	"seatproof/head"
	"seatproof/internal/report"
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
	_, c := s.pumpToday(b)
	return c
}

// pumpToday is the pump of a head's rig as its checks found it, with its curve in its
// room: the one pump that the drop limit, the habit and the needle's forecast go by;
// nil where it is not known.
func (s *Server) pumpToday(b bench) (rig.Pump, *rig.Curve) {
	r, faults := s.ReadRig(b.rigs[b.job.RigID])
	if b.job.RigID == "" || len(faults) > 0 {
		return rig.Pump{}, nil
	}
	r = check.Apply(r, b.checks[b.job.RigID], b.now)
	if c := pumpHere(r); c != nil {
		return r.Pump, c
	}
	return rig.Pump{}, nil
}

// pumpHere is the curve of a rig's pump in its room; nil where it is not known.
func pumpHere(r rig.Rig) *rig.Curve {
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

// reckoned is a head with what its limits are found with on a rig as its checks
// say it is, as its card has them: the pump for a drop, the tests of a port known
// good.
func (s *Server) reckoned(ctx context.Context, k kept[head.Job], r rig.Rig) (head.Job, error) {
	var made *head.Card
	if k.V.Limit.Basis == limit.ByGoodPort {
		c, err := s.card(ctx, k)
		if err != nil {
			return k.V, err
		}
		made = c.made
	}
	return k.V.ReckonedBy(made, s.cost, pumpHere(r)), nil
}

func cm3min(q float64) string { return report.Figure(q*6e7, 2) }

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

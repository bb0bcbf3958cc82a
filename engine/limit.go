package engine

import (
	"math"
)

// CostLimit is the leak, as the vacuum test states it [m³/s of free air at 50 kPa],
// that costs a share of the cranking peak: as an opening and as a seep, and the
// standard deviation of its logarithm from what is not known of the engine.
type CostLimit struct {
	Opening, Seep     float64
	OpeningSD, SeepSD float64
}

// At returns the limit of a leak of which the share (0..1) flows as an opening:
// costs add up while they are small, so
//
//	1/limit = share/opening + (1 - share)/seep
func (l CostLimit) At(share float64) float64 {
	return 1 / (share/l.Opening + (1-share)/l.Seep)
}

// CostLimit returns the leak that costs `share` of the cranking peak, all valves
// of the cylinder together, in a room at pa [Pa], ta [K] for test and engine alike.
// An opening is taken with its edge halfway between rounded and sharp.
//
// The doubt is found by moving one figure at a time to ±√3 of its standard
// deviations (the three-point rule of Gauss and Hermite), variances of the
// logarithm added: TestCostLimitSpread holds it against a brute-force draw.
//
// Errors: *[Fault]; a share not above 0 and below 0.5; *[NotSolved].
func (g Given) CostLimit(share, pa, ta float64) (CostLimit, error) {
	if !(share > 0 && share < 0.5) {
		return CostLimit{}, fault("share of the cranking pressure", share, "%", 100, "be above 0 and below 50 %", "2 % is usual")
	}
	if err := g.check(); err != nil {
		return CostLimit{}, err
	}
	if err := (Run{Speed: 1000 * perMinute, Intake: pa, Room: pa, Temp: ta}).check(); err != nil {
		return CostLimit{}, err
	}
	var l CostLimit
	for _, a := range []struct {
		open      float64
		limit, sd *float64
	}{{1, &l.Opening, &l.OpeningSD}, {0, &l.Seep, &l.SeepSD}} {
		start := 1e-7 * g.Bore.Value * g.Bore.Value * g.Stroke.Value / 1e-4
		base, err := g.costs(point{}, share, a.open, pa, ta, start)
		if err != nil {
			return l, err
		}
		mean, variance := 0.0, 0.0
		for i := range doubts {
			var e [2]float64
			for n, sign := range []float64{-1, 1} {
				var z point
				z[i] = sign * math.Sqrt(3)
				if !g.moves(i) {
					continue
				}
				q, err := g.costs(z, share, a.open, pa, ta, base)
				if err != nil {
					return l, err
				}
				e[n] = math.Log(q / base)
			}
			m := (e[0] + e[1]) / 6
			mean += m
			variance += (e[0]*e[0]+e[1]*e[1])/6 - m*m
		}
		*a.limit, *a.sd = base*math.Exp(mean), math.Sqrt(math.Max(variance, 0))
	}
	return l, nil
}

// moves says whether a figure is in doubt at all.
func (g Given) moves(i int) bool {
	var z point
	z[i] = 1
	a, sa := g.at(point{}, cranking)
	b, sb := g.at(z, cranking)
	return a != b || sa != sb
}

// limitTolerance is enough for a limit: its doubt is percents.
const limitTolerance = 1e-6

// peak returns the cranking peak at a point of the design.
func (g Given) peak(z point, pa, ta float64, leaks ...Leak) (float64, error) {
	c, speed := g.at(z, cranking)
	y, err := c.solve(cranking.run(speed, pa, ta), leaks, limitTolerance, false)
	return y.Peak, err
}

// costs finds the leak that costs the share at one point of the design, by the
// secant rule from start: cost is nearly straight in the leak.
func (g Given) costs(z point, share, open, pa, ta, start float64) (float64, error) {
	whole, err := g.peak(z, pa, ta)
	if err != nil {
		return 0, err
	}
	lost := func(q float64) (float64, error) {
		p, err := g.peak(z, pa, ta, Leak{Flow: q, Share: open, Edge: 0.5, Room: pa, Temp: ta})
		return 1 - p/whole, err
	}
	q0, f0, q1 := 0.0, -share, start
	for range 50 {
		f1, err := lost(q1)
		if err != nil {
			return 0, err
		}
		f1 -= share
		if math.Abs(f1) < 1e-5*share {
			return q1, nil
		}
		q := q1 - f1*(q1-q0)/(f1-f0)
		if !(q > 0.05*q1) {
			q = 0.05 * q1
		}
		q0, f0, q1 = q1, f1, math.Min(q, 20*q1)
	}
	return q1, nil
}

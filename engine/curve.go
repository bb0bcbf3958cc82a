package engine

import (
	"math"
	"slices"
)

// Curve is the share of the cranking peak lost against the leak, as an opening and
// as a seep, each with a 95 % band from what is not known of the engine.
type Curve struct {
	Flows         []float64 // m³/s, as given
	Opening, Seep []Estimate
}

// curveNodes is the number of leaks that are solved; between them the logarithm of
// the loss is interpolated (TestCurveBetween holds the error).
const curveNodes = 9

// Curve returns the loss at each of the flows [m³/s, any order, each 0 or more],
// in a room at pa [Pa], ta [K]. The slice is kept. An opening has its edge halfway.
// Medians and bands are those of a lognormal loss, moments found as for
// [Given.CostLimit]. Errors: *[Fault], *[NotSolved].
func (g Given) Curve(flows []float64, pa, ta float64) (Curve, error) {
	out := Curve{Flows: flows, Opening: make([]Estimate, len(flows)), Seep: make([]Estimate, len(flows))}
	if err := g.check(); err != nil {
		return out, err
	}
	least, most := math.Inf(1), 0.0
	for _, q := range flows {
		if err := (Leak{Flow: q, Room: pa, Temp: ta}).check(); err != nil {
			return out, err
		}
		if q > 0 {
			least, most = math.Min(least, q), math.Max(most, q)
		}
	}
	if most == 0 {
		return out, nil
	}
	least = math.Max(least, most*1e-4) // below, the loss is straight in the leak
	nodes := curveNodes
	if most < least*1.0001 {
		nodes = 1
	}
	// Chebyshev points in the logarithm of the leak.
	var at, mean, sd [curveNodes]float64
	la, lb := math.Log(least), math.Log(most)
	for i := range nodes {
		at[i] = (la+lb)/2 - (lb-la)/2*math.Cos(math.Pi*float64(i)/math.Max(1, float64(nodes-1)))
	}
	for _, a := range []struct {
		open float64
		to   []Estimate
	}{{1, out.Opening}, {0, out.Seep}} {
		var base [curveNodes]float64
		clear(mean[:])
		clear(sd[:])
		for f := -1; f < doubts; f++ {
			if f >= 0 && !g.moves(f) {
				continue
			}
			var e [curveNodes][2]float64
			for n, sign := range []float64{-1, 1} {
				var z point
				if f >= 0 {
					z[f] = sign * math.Sqrt(3)
				}
				whole, err := g.peak(z, pa, ta)
				if err != nil {
					return out, err
				}
				for i := range nodes {
					p, err := g.peak(z, pa, ta, Leak{Flow: math.Exp(at[i]), Share: a.open, Edge: 0.5, Room: pa, Temp: ta})
					if err != nil {
						return out, err
					}
					e[i][n] = logit(1 - p/whole)
				}
				if f < 0 {
					for i := range nodes {
						base[i] = e[i][0]
					}
					break
				}
			}
			if f < 0 {
				continue
			}
			for i := range nodes {
				lo, hi := e[i][0]-base[i], e[i][1]-base[i]
				m := (lo + hi) / 6
				mean[i] += m
				sd[i] += (lo*lo+hi*hi)/6 - m*m
			}
		}
		for i := range nodes {
			mean[i] += base[i]
			sd[i] = math.Sqrt(math.Max(sd[i], 0))
		}
		for i, q := range flows {
			if q == 0 {
				continue
			}
			u, scale := math.Log(q), 1.0
			if q < least {
				u, scale = la, q/least
			}
			m, s := chebyshev(at[:nodes], mean[:nodes], u), chebyshev(at[:nodes], sd[:nodes], u)
			a.to[i] = Estimate{Median: scale * share(m), Low: scale * share(m-z95*s), High: scale * share(m+z95*s)}
		}
	}
	return out, nil
}

// logit and share go between a loss and the whole line, so that bands keep within
// 0 and 1.
func logit(p float64) float64 { return math.Log(math.Max(p, 1e-300) / (1 - p)) }
func share(l float64) float64 { return 1 / (1 + math.Exp(-l)) }

// chebyshev interpolates between values at the extreme points of a Chebyshev
// polynomial, by the barycentric formula.
func chebyshev(at, v []float64, x float64) float64 {
	if i := slices.Index(at, x); i >= 0 || len(at) == 1 {
		return v[max(i, 0)]
	}
	num, den := 0.0, 0.0
	for i := range at {
		w := 1.0
		if i == 0 || i == len(at)-1 {
			w = 0.5
		}
		if i%2 == 1 {
			w = -w
		}
		w /= x - at[i]
		num += w * v[i]
		den += w
	}
	return num / den
}

package rig

import (
	"fmt"
	"math"
	"sort"

	"seatproof/unit"
)

// Curve is a pump's free-air flow [m³/s] against the vacuum at its inlet [Pa],
// as it is here: straight between its points, 0 past the last.
type Curve struct {
	points  []PumpPoint
	blanked float64 // Pa, where the flow ends
	guessed bool    // a straight line through two numbers
}

// Here returns the pump's curve in a room at air pressure pa [Pa]. A blanked
// reading (or a curve) rated at another pressure is moved by the pressure ratio
// that the pump reaches,
//
//	v0' = pa (1 - p_end/pa_rated)
//
// one as read here is taken as it is. Measured points are stretched along the
// vacuum so that they end at the blanked reading, where one is given. An error
// says which figure is missing or impossible. Source: docs/model.md §2.
func (p Pump) Here(pa float64) (*Curve, error) {
	scale := func(v float64) float64 {
		if !p.RatedAt.Known || p.RatedAt.Value <= 0 {
			return v
		}
		return pa * (1 - (p.RatedAt.Value-v)/p.RatedAt.Value)
	}
	c := new(Curve)
	switch {
	case len(p.Curve) >= 2:
		c.points = append(c.points, p.Curve...)
		sort.SliceStable(c.points, func(i, j int) bool { return c.points[i].Vacuum < c.points[j].Vacuum })
		end := c.points[len(c.points)-1]
		if end.Flow > 0 { // carried on to no flow
			prev := c.points[len(c.points)-2]
			if prev.Flow > end.Flow {
				v := end.Vacuum + (end.Vacuum-prev.Vacuum)*unit.Vacuum(end.Flow/(prev.Flow-end.Flow))
				c.points = append(c.points, PumpPoint{Vacuum: v})
			}
		}
		last := float64(c.points[len(c.points)-1].Vacuum)
		c.blanked = last
		if p.Blanked.Known {
			c.blanked = p.Blanked.Value
		}
		c.blanked = scale(c.blanked)
		f := c.blanked / last
		for i := range c.points {
			c.points[i].Vacuum *= unit.Vacuum(f)
		}
	case p.FreeFlow.Known && p.Blanked.Known:
		c.blanked = scale(p.Blanked.Value)
		c.points = []PumpPoint{{0, p.FreeFlow.Value}, {unit.Vacuum(c.blanked), 0}}
		c.guessed = true
	default:
		return nil, fmt.Errorf("pump curve: needs free flow and blanked reading, or a curve of two points")
	}
	for i, p := range c.points {
		if v, q := float64(p.Vacuum), p.Flow; !(math.Abs(v) < 1e9 && q >= 0 && q < 1e3) || i > 0 && !(p.Vacuum > c.points[i-1].Vacuum) {
			return nil, fmt.Errorf("pump curve: point %d, %.3g Pa and %.3g m³/s, must be finite and its vacuum above that of the point before", i+1, v, q)
		}
	}
	if !(c.blanked > 0) || !(c.points[0].Flow > 0) {
		return nil, fmt.Errorf("pump curve: blanked reading %.3g Pa and free flow %.3g m³/s must be above zero", c.blanked, c.points[0].Flow)
	}
	return c, nil
}

// Blanked returns the vacuum [Pa] at which the pump stops drawing.
func (c *Curve) Blanked() float64 { return c.blanked }

// Guessed says whether the curve is a straight line through two numbers.
func (c *Curve) Guessed() bool { return c.guessed }

// Flow returns the free-air flow [m³/s] at the vacuum v [Pa]: not below 0, and
// the first point's below it.
func (c *Curve) Flow(v float64) float64 {
	pts := c.points
	if v <= float64(pts[0].Vacuum) {
		return pts[0].Flow
	}
	i := sort.Search(len(pts), func(i int) bool { return float64(pts[i].Vacuum) >= v })
	if i == len(pts) {
		return 0
	}
	a, b := pts[i-1], pts[i]
	w := (v - float64(a.Vacuum)) / float64(b.Vacuum-a.Vacuum)
	return math.Max(0, a.Flow+w*(b.Flow-a.Flow))
}

// Slope returns how fast the flow falls with the vacuum at v [m³/(s Pa), >= 0].
func (c *Curve) Slope(v float64) float64 {
	pts := c.points
	i := sort.Search(len(pts), func(i int) bool { return float64(pts[i].Vacuum) >= v })
	i = min(max(i, 1), len(pts)-1)
	a, b := pts[i-1], pts[i]
	return math.Max(0, (a.Flow-b.Flow)/float64(b.Vacuum-a.Vacuum))
}

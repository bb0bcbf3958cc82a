package engine

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"seatproof/unit"
)

// spread returns median and sd of the logarithm of f over n brute-force draws of
// the engine's figures.
func spread(t *testing.T, n int, f func(z point) float64) (median, sd float64) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(11, 12))
	logs := make([]float64, n)
	sum, sum2 := 0.0, 0.0
	for i := range logs {
		var z point
		for j := range z {
			z[j] = rnd.NormFloat64()
		}
		l := math.Log(f(z))
		logs[i], sum, sum2 = l, sum+l, sum2+l*l
	}
	slices.Sort(logs)
	m := sum / float64(n)
	return math.Exp(logs[n/2]), math.Sqrt(sum2/float64(n) - m*m)
}

// The limit and its doubt, moved one figure at a time, against 1,500 draws of all
// figures together (the draws' own error: 2 % of the sd, 0.6 % of the median).
func TestCostLimitSpread(t *testing.T) {
	n := 1500
	if testing.Short() {
		n = 400
	}
	for _, g := range []Given{
		known(),
		{Bore: unit.About(0.083, 1e-3), Stroke: unit.About(0.0832, 1e-3), Ratio: unit.About(9.5, 1), Cranking: unit.About(300*perMinute, 30*perMinute), Rod: unit.Exactly(0.144), Heat: Woschni},
	} {
		l, err := g.CostLimit(0.02, room, warm)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range []struct {
			open, limit, sd float64
		}{{1, l.Opening, l.OpeningSD}, {0, l.Seep, l.SeepSD}} {
			median, sd := spread(t, n, func(z point) float64 {
				q, err := g.costs(z, 0.02, k.open, room, warm, k.limit)
				if err != nil {
					t.Fatal(err)
				}
				return q
			})
			close(t, "limit", k.limit, median, 0.03)
			close(t, "its sd", k.sd, sd, 0.12)
			// what it means: the leak at the limit costs the share
			p0, _ := g.peak(point{}, room, warm)
			p1, err := g.peak(point{}, room, warm, Leak{Flow: k.limit, Share: k.open, Edge: 0.5, Room: room, Temp: warm})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "share lost at the limit", 1-p1/p0, 0.02, 0.0015)
		}
		if l.Seep > l.Opening/3 || l.At(0) != l.Seep || l.At(1) != l.Opening || l.At(0.5) < l.Seep || l.At(0.5) > l.Opening {
			t.Errorf("seep %g, opening %g, half %g", l.Seep, l.Opening, l.At(0.5))
		}
	}
}

// With no doubt stated, and guesses given as facts, only what nobody can give
// (rings, wall) is left, and a limit is the same whichever edge of a mixture.
func TestCostLimitSure(t *testing.T) {
	g := sure()
	l, err := g.CostLimit(0.02, room, warm)
	if err != nil {
		t.Fatal(err)
	}
	w, err := known().CostLimit(0.02, room, warm)
	if err != nil {
		t.Fatal(err)
	}
	if !(l.SeepSD < w.SeepSD/2 && l.OpeningSD < w.OpeningSD/2 && l.SeepSD > 0) {
		t.Errorf("sd %g and %g with all figures known, %g and %g with guesses", l.OpeningSD, l.SeepSD, w.OpeningSD, w.SeepSD)
	}
	small, err := g.CostLimit(0.01, room, warm)
	if err != nil {
		t.Fatal(err)
	}
	if r := l.Opening / small.Opening; r < 1.95 || r > 2.1 {
		t.Errorf("twice the share allows %g times the opening", r)
	}
}

func sure() Given {
	g := known()
	g.Bore.Spread, g.Stroke.Spread, g.Ratio.Spread = 0, 0, 0
	g.Rod, g.IntakeCloses, g.Cranking = unit.Exactly(0.085), unit.Exactly(50*degree), unit.Exactly(250*perMinute)
	g.Idle, g.TopSpeed = unit.Exactly(900*perMinute), unit.Exactly(6000*perMinute)
	g.SeatWidth, g.Contact = unit.Exactly(0.07), unit.Exactly(1e-3)
	return g
}

// Between its nodes the curve is what a cycle at that leak gives; it grows with
// the leak, and its band holds the median.
func TestCurveBetween(t *testing.T) {
	g := known()
	var flows []float64
	for i := range 40 {
		flows = append(flows, perMin*math.Pow(10, 3.3*float64(i)/39))
	}
	flows = append(flows, 0)
	c, err := g.Curve(flows, room, warm)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []struct {
		open float64
		e    []Estimate
	}{{1, c.Opening}, {0, c.Seep}} {
		for i, e := range k.e[:40] {
			if !(e.Low < e.Median && e.Median < e.High && e.High < 1) || i > 0 && !(e.Median > k.e[i-1].Median) {
				t.Errorf("at %g: %+v", flows[i], e)
			}
		}
		if k.e[40] != (Estimate{}) {
			t.Errorf("no leak costs %+v", k.e[40])
		}
	}
	// without doubt in the engine's figures the median is the cycle's own
	s := sure()
	if c, err = s.Curve(flows, room, warm); err != nil {
		t.Fatal(err)
	}
	whole, _ := s.peak(point{}, room, warm)
	for i := 1; i < 40; i += 6 {
		p, err := s.peak(point{}, room, warm, Leak{Flow: flows[i], Share: 0, Edge: 0.5, Room: room, Temp: warm})
		if err != nil {
			t.Fatal(err)
		}
		close(t, "share lost between nodes", c.Seep[i].Median, 1-p/whole, 0.006) // rings and wall are still in doubt
	}
}

// The curve's bands against brute-force draws.
func TestCurveBand(t *testing.T) {
	g := known()
	for _, q := range []float64{20, 300} {
		c, err := g.Curve([]float64{q * perMin}, room, warm)
		if err != nil {
			t.Fatal(err)
		}
		median, sd := spread(t, 600, func(z point) float64 {
			p0, err0 := g.peak(z, room, warm)
			p1, err1 := g.peak(z, room, warm, Leak{Flow: q * perMin, Edge: 0.5, Room: room, Temp: warm})
			if err0 != nil || err1 != nil {
				t.Fatal(err0, err1)
			}
			return (1 - p1/p0) / (p1 / p0)
		})
		e := c.Seep[0]
		close(t, "median", logit(e.Median), math.Log(median), 0.03)
		close(t, "band", (logit(e.High)-logit(e.Low))/(2*z95), sd, 0.15)
	}
}

// Losses: the interval of draws against brute force, of several valves, and the
// order of things (cranking loses most, top speed least).
func TestLoss(t *testing.T) {
	g := known()
	rnd := rand.New(rand.NewPCG(5, 6))
	var a, b []Leak
	for range 200 {
		a = append(a, tested(40*math.Exp(0.4*rnd.NormFloat64()), rnd.Float64(), rnd.Float64()))
		b = append(b, tested(10*math.Exp(0.2*rnd.NormFloat64()), 1, rnd.Float64()))
	}
	one, err := g.Loss(a)
	if err != nil {
		t.Fatal(err)
	}
	two, err := g.Loss(a, b)
	if err != nil {
		t.Fatal(err)
	}
	again, _ := g.Loss(a, b)
	if two != again {
		t.Error("the same input gave another answer")
	}
	if !(two.Cranking.Share.Median > one.Cranking.Share.Median) {
		t.Errorf("two leaks lose %+v, one %+v", two.Cranking.Share, one.Cranking.Share)
	}
	if !(one.Cranking.Share.Median > one.Idle.Share.Median && one.Idle.Share.Median > one.Top.Share.Median && one.Top.Share.Low >= 0) {
		t.Errorf("shares %+v", one)
	}
	for _, r := range []RunLoss{one.Cranking, one.Idle, one.Top} {
		for _, e := range []Estimate{r.Without, r.With, r.Trapped, r.Share, r.TrappedShare} {
			if !(e.Low <= e.Median && e.Median <= e.High) {
				t.Errorf("%+v", e)
			}
		}
	}
	const n = 2000
	lost := make([]float64, n)
	for i := range lost {
		var z point
		for j := range z {
			z[j] = rnd.NormFloat64()
		}
		p0, _ := g.peak(z, room, warm)
		p1, err := g.peak(z, room, warm, a[rnd.IntN(len(a))])
		if err != nil {
			t.Fatal(err)
		}
		lost[i] = 1 - p1/p0
	}
	e := estimate(lost)
	close(t, "median of the share", one.Cranking.Share.Median, e.Median, 0.08)
	close(t, "low end", one.Cranking.Share.Low, e.Low, 0.15)
	close(t, "high end", one.Cranking.Share.High, e.High, 0.15)
}

// A cylinder that is not known, or cannot be, is refused by name.
func TestGivenRefuses(t *testing.T) {
	for _, k := range []struct {
		field  string
		change func(g *Given)
	}{
		{"bore", func(g *Given) { g.Bore = unit.Measured{} }},
		{"stroke", func(g *Given) { g.Stroke = unit.Measured{} }},
		{"compression ratio", func(g *Given) { g.Ratio = unit.Measured{} }},
		{"compression ratio", func(g *Given) { g.Ratio = unit.Exactly(1) }},
		{"compression ratio", func(g *Given) { g.Ratio = unit.Exactly(0.5) }},
		{"connecting rod", func(g *Given) { g.Rod = unit.Exactly(0.01) }},
		{"bore", func(g *Given) { g.Bore = unit.Exactly(math.NaN()) }},
		{"engine speed", func(g *Given) { g.Cranking = unit.Exactly(0) }},
		{"engine speed", func(g *Given) { g.TopSpeed = unit.Exactly(30_000 * perMinute) }},
		{"± of bore", func(g *Given) { g.Bore.Spread = math.NaN() }},
		{"± of intake closing", func(g *Given) { g.IntakeCloses = unit.About(0.9, -1) }},
	} {
		g := known()
		k.change(&g)
		_, e1 := g.CostLimit(0.02, room, warm)
		_, e2 := g.Loss([]Leak{tested(1, 0, 0)})
		_, e3 := g.Curve([]float64{perMin}, room, warm)
		for _, err := range []error{e1, e2, e3} {
			var f *Fault
			if !errors.As(err, &f) || f.Field != k.field || f.Do == "" {
				t.Errorf("%s: got %v", k.field, err)
			}
		}
	}
	g := known()
	for _, s := range []float64{0, -1, 0.5, math.NaN()} {
		if l, err := g.CostLimit(s, room, warm); err == nil {
			t.Errorf("share %g: %+v", s, l)
		}
	}
	if _, err := g.CostLimit(0.02, 0, warm); err == nil {
		t.Error("no air: no error")
	}
	if _, err := g.CostLimit(0.02, 45e3, warm); err == nil {
		t.Error("air of 45 kPa, in which no leak can be stated: no error")
	}
	if _, err := g.Loss(); err == nil {
		t.Error("no draws: no error")
	}
	if _, err := g.Loss([]Leak{tested(1, 0, 0)}, nil); err == nil {
		t.Error("unequal draws: no error")
	}
	if c, err := g.Curve([]float64{-1}, room, warm); err == nil {
		t.Errorf("a negative leak: %+v", c)
	}
	if c, err := g.Curve(nil, room, warm); err != nil || len(c.Opening) != 0 {
		t.Errorf("no flows: %+v, %v", c, err)
	}
}

// The guess of a contact is the middle of its range, and its factor the rest.
func TestContactGuess(t *testing.T) {
	close(t, "middle", contactAt, math.Sqrt(LeastContact*MostContact), 0.01)
	close(t, "factor", contactFactor, math.Sqrt(MostContact/LeastContact), 0.02)
}

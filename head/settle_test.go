package head

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/num"
	"seatproof/unit"
)

// bench makes tests of one port of one valve, whose errors are as its readings
// say: own of each test, volume the same in all until it is measured.
type bench struct {
	job    *Job
	port   *Port
	chance *rand.Rand
	level  float64   // cm³/min, what the port passes
	sigma  float64   // from test to test
	off    float64   // logarithm of what the volume is wrong by
	volume float64   // sd of it
	adds   bool      // a test's own error adds to the flow; else it multiplies it
	flows  []float64 // cm³/min, as read
	own    []float64 // sd: of the logarithm, or cm³/min
}

// test makes one more test with that error of its own.
func (b *bench) test(own float64) {
	q, z := b.level*math.Exp(b.sigma*b.chance.NormFloat64()+b.off), b.chance.NormFloat64()
	if b.adds {
		q += own * z
	} else {
		q *= math.Exp(own * z)
	}
	b.flows, b.own = append(b.flows, q), append(b.own, own)
}

// reading is what the trace of a test says: its flow with its own error and that of
// the volume.
func (b *bench) reading(i int) *leak.Reading {
	q, own := b.flows[i], b.own[i]
	var at func(p float64) float64 // quantiles of the flow
	z := func(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
	if b.adds { // a normal cut at zero
		least := num.NormalCDF(-q / own)
		at = func(p float64) float64 { return q + own*z(least+(1-least)*p) }
		own /= math.Max(q, own)
	} else {
		at = func(p float64) float64 { return q * math.Exp(math.Hypot(own, b.volume)*z(p)) }
	}
	r := &leak.Reading{Room: 101325, RoomTemp: 293.15, Source: leak.FromHold, Kind: leak.KindUnresolved}
	const n = 100
	for i := range n {
		r.Draws = append(r.Draws, leak.Draw{Flow: at((float64(i)+0.5)/n) * cm3min, Share: 0.5, Edge: 0.5})
	}
	r.Leak = &leak.Interval{Median: at(0.5) * cm3min, Low: at(0.025) * cm3min, High: at(0.975) * cm3min}
	v, w := own*own, b.volume*b.volume
	r.Budget = []leak.BudgetLine{{Input: "volume", Share: w / (v + w)}, {Input: "samples", Share: v / (v + w)}}
	slices.SortFunc(r.Budget, func(a, b leak.BudgetLine) int { return cmp.Compare(b.Share, a.Share) })
	r.TestedAgain = &leak.Interval{Median: r.Leak.Median, Low: r.Leak.Low / 2, High: 2 * r.Leak.High} // no figure here goes by it
	return r
}

// read reads and judges all tests.
func (b *bench) read() *group {
	g := &group{like: likeOf(&asItRuns)}
	for i := range b.flows {
		g.tests = append(g.tests, &Tested{Test{ID: "t" + strconv.Itoa(i), Conditions: asItRuns}, b.reading(i)})
	}
	b.job.read(b.port, g, map[string]int{}, func(t []leak.Test) *leak.Reading { return leak.Together(t, nil) })
	return g
}

// width is that of the logarithm of one more test's 95 % interval.
func width(r *leak.Reading) float64 {
	at := func(over float64) float64 {
		lo, hi := math.Log(r.Leak.Median)-5, math.Log(r.Leak.Median)+5
		for range 14 {
			if m := (lo + hi) / 2; r.ChanceOver(math.Exp(m)) > over {
				lo = m
			} else {
				hi = m
			}
		}
		return lo
	}
	return at(0.025) - at(0.975)
}

// do does a step as a person would.
func (b *bench) do(t *testing.T, step Step) {
	t.Helper()
	switch step.Do {
	case OneMoreTest:
		b.test(b.own[0])
	case "hold longer":
		b.test(b.own[0] * 0.36)
	case "measure the volume":
		// What is found of the volume's error comes off every test; a quarter of its sd
		// is left, as the step says.
		left := b.volume / 4
		known := 1 - left*left/(b.volume*b.volume)
		found := b.off*known + b.chance.NormFloat64()*left*math.Sqrt(known)
		for i := range b.flows {
			b.flows[i] *= math.Exp(-found)
		}
		b.off, b.volume = b.off-found, left
	default:
		t.Fatalf("a step that nobody can make here: %q", step.Do)
	}
}

// What a step is expected to come to is what comes: ports of any level and scatter
// are tested, those that can't be told have the step made that was named, and the
// verdicts that come are as many as were expected; the intervals that come are, in
// the middle, as wide as was said, those of noisy holds an eighth wider. Levels are
// even in the logarithm, or in the flow where noise hides it, and the scatter is the
// common one, as the estimator believes.
func TestSettleIsWhatComes(t *testing.T) {
	n, slack := 45, 0.1
	if testing.Short() {
		n, slack = 25, 0.2 // eight widths of each
	}
	made := map[string]bool{}
	for _, c := range []struct {
		name        string
		own, volume float64
		adds        bool
		want        []string // the only steps that may come up
		width       float64  // of the intervals that were expected, over those that came
	}{
		{"sharp tests", 0.05, 0.05, false, []string{OneMoreTest, "hold longer"}, 1},
		{"a volume hardly known", 0.05, 0.4, false, []string{OneMoreTest, "measure the volume"}, 1},
		{"short holds", 0.24, 0.05, false, []string{OneMoreTest, "hold longer"}, 1},
		{"noisy holds", 8, 0.02, true, []string{OneMoreTest, "hold longer"}, 0.88},
	} {
		j, p := headOf(1)
		j.Limit.Flow = unit.Exactly(23 * cm3min)
		chance := rand.New(rand.NewPCG(11, 5))
		var s *leak.Scatter
		sigmas, weight := s.Nodes()
		said, came, variance, of := 0.0, 0.0, 0.0, 0
		var ratios []float64
		seen := map[string]int{}
		for of < n {
			b := &bench{job: j, port: p, chance: chance, volume: c.volume, adds: c.adds}
			b.level = 23 * math.Exp(4.4*(chance.Float64()-0.6)) // 1.6 to 134
			if c.adds {                                         // what tests don't resolve is taken as even in the flow
				b.level = 134 * chance.Float64()
			}
			at, u := 0, chance.Float64()
			for u > weight[at] && at < len(weight)-1 {
				u -= weight[at]
				at++
			}
			b.sigma, b.off = sigmas[at], c.volume*chance.NormFloat64()
			b.test(c.own)
			if b.flows[0] < 4 || b.flows[0] > 110 {
				continue // told at once, or so rarely not that it makes no odds
			}
			g := b.read()
			if g.verdict != limit.CantTellYet {
				continue
			}
			step, e := j.settle(g)
			if e == nil {
				t.Fatalf("%s: nothing is expected of %q", c.name, step.Do)
			}
			seen[step.Do]++
			of++
			said, variance = said+e.Settles, variance+e.Settles*(1-e.Settles)
			b.do(t, step)
			after := b.read()
			if after.verdict != limit.CantTellYet {
				came++
			}
			if !e.UpperOnly && !after.reading.UpperLimitOnly && of%3 == 0 {
				ratios = append(ratios, math.Log(e.Again.High/e.Again.Low)/width(after.reading))
			}
		}
		slices.Sort(ratios)
		middle := ratios[len(ratios)/2]
		t.Logf("%s: of %d %.1f were expected to be settled, %.0f were (sd %.1f); width %.3f of what came, in the middle; %v", c.name, of, said, came, math.Sqrt(variance), middle, seen)
		if math.Abs(said-came) > 3*math.Sqrt(variance) {
			t.Errorf("%s: %.0f settled, %.1f were expected", c.name, came, said)
		}
		if math.Abs(middle-c.width) > slack {
			t.Errorf("%s: in the middle expected %.3f times as wide as it came, want %.2f", c.name, middle, c.width)
		}
		for do := range seen {
			if made[do] = true; !slices.Contains(c.want, do) {
				t.Errorf("%s: %q came up, want %q only", c.name, do, c.want)
			}
		}
	}
	if len(made) < 3 {
		t.Errorf("steps made: %v, want all three", made)
	}
}

// The cheapest step that settles it more often than not is named, not the one that
// settles most: a look at a barometer before one more test, that before the volume.
// A port at 62 cm³/min against 23, known to half: after the half is gone it is e^1
// over the limit with 0.36, less than 1.645 of which is needed.
func TestSettleIsTheCheapest(t *testing.T) {
	for _, c := range []struct {
		name        string
		flow, sd    float64
		air, volume float64 // shares of the variance; the rest is the samples'
		want        string
		least, most float64 // how often it settles
	}{
		{"all of it is the air pressure", 62, 0.5, 0.98, 0, "read a barometer", 0.6, 0.95},
		{"all of it is the volume", 62, 0.5, 0, 0.98, "measure the volume", 0.5, 0.95},
		{"the test's own doubt, and a little of the air's", 45, 0.2, 0.06, 0, OneMoreTest, 0.5, 0.95},
		{"at the limit nothing does", 23, 0.05, 0, 0.5, OneMoreTest, 0, 0.3},
	} {
		j, p := headOf(1)
		j.Limit.Flow = unit.Exactly(23 * cm3min)
		r := reading(c.flow, c.sd)
		r.Budget = []leak.BudgetLine{{Input: "air pressure", Share: c.air}, {Input: "volume", Share: c.volume}, {Input: "samples", Share: 1 - c.air - c.volume}}
		g := &group{like: likeOf(&asItRuns), tests: []*Tested{{Test{ID: "t1", Conditions: asItRuns}, r}}}
		j.read(p, g, map[string]int{}, func(t []leak.Test) *leak.Reading { return leak.Together(t, nil) })
		if g.verdict != limit.CantTellYet {
			t.Errorf("%s: %s already", c.name, g.verdict)
			continue
		}
		step, e := j.settle(g)
		if e == nil || step.Do != c.want || e.Settles < c.least || e.Settles > c.most {
			t.Errorf("%s: %q, %+v, want %q settling %g to %g", c.name, step.Do, e, c.want, c.least, c.most)
			continue
		}
		if a := e.Again; !(a.Low < a.Median && a.Median < a.High) || a.Median < 0.6*r.Leak.Median || a.Median > 1.6*r.Leak.Median {
			t.Errorf("%s: expected %+v after %g", c.name, a, r.Leak.Median)
		}
	}
}

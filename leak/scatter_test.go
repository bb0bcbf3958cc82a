package leak

import (
	"math"
	"math/rand/v2"
	"testing"
)

// modeOf returns the sigma_b that makes the marginal likelihood of normals y
// with own sd u largest, sought between the nodes by golden section.
func modeOf(y []float64, u float64) float64 {
	at := func(logS float64) float64 {
		s2 := math.Exp(2 * logS)
		var a plainSums
		for _, v := range y {
			w := 1 / (s2 + u*u)
			a = plainSums{a.n + 1, a.w + w, a.wy + w*v, a.wyy + w*v*v, a.logW + math.Log(w)}
		}
		return a.evidence()
	}
	lo, hi := -12.0, 6.0
	g := (math.Sqrt(5) - 1) / 2
	for range 100 {
		a, b := hi-g*(hi-lo), lo+g*(hi-lo)
		if at(a) > at(b) {
			hi = b
		} else {
			lo = a
		}
	}
	return math.Exp((lo + hi) / 2)
}

// layoutOf returns, of a balanced one-way layout, group means and mean squares.
func layoutOf(groups [][]float64) (means []float64, between, within float64) {
	all, n := 0.0, 0.0
	for _, g := range groups {
		m := 0.0
		for _, y := range g {
			m += y / float64(len(g))
		}
		means = append(means, m)
		for _, y := range g {
			within += (y - m) * (y - m)
		}
		all += m / float64(len(groups))
		n += float64(len(g))
	}
	for _, m := range means {
		between += (m - all) * (m - all)
	}
	return means, between * n / float64(len(groups)) / float64(len(groups)-1), within / (n - float64(len(groups)))
}

// With a flat prior the mode of the marginal likelihood of the scatter is that
// of restricted maximum likelihood, which in a balanced one-way layout is the
// component of the analysis of variance, (MSB - MSW)/r. A group of r figures
// stands for a test: its mean is the reading, MSW/r its own variance.
func TestScatterIsThatOfAnalysisOfVariance(t *testing.T) {
	// NIST StRD, analysis of variance, SiRstv (resistivity of silicon, five
	// instruments, five days): certified mean squares 1.27865654000000E-02
	// between and 1.08318280000000E-02 within. Less 196.
	silicon := [][]float64{
		{.3052, .1240, .1890, .2569, .3403},
		{.3042, .3825, .1669, .3257, .0422},
		{.1303, .2005, .2889, .0343, .1811},
		{.2795, .1748, .1494, .1485, -.0115},
		{.2119, .1051, .1850, .0052, .2090},
	}
	// Davies and Goldsmith (eds), Statistical Methods in Research and Production,
	// 4th ed. 1972, 6.4: yield of dyestuff, six batches of five; also in Box and
	// Tiao, Bayesian Inference in Statistical Analysis, 1973, 5.1.2. Their
	// component between batches, 1764, is from memory. In hundreds.
	dyestuff := [][]float64{
		{15.45, 14.40, 14.40, 15.20, 15.80},
		{15.40, 15.55, 14.90, 15.60, 14.95},
		{15.95, 15.50, 16.05, 15.10, 15.60},
		{14.45, 14.40, 15.95, 14.65, 15.45},
		{15.95, 16.30, 15.15, 16.35, 16.25},
		{15.20, 14.55, 14.50, 14.80, 14.45},
	}
	for _, c := range []struct {
		name            string
		groups          [][]float64
		between, within float64 // certified or published; 0: not
		component       float64
	}{
		{"silicon", silicon, 1.27865654000000e-2, 1.08318280000000e-2, (1.27865654000000e-2 - 1.08318280000000e-2) / 5},
		{"dyestuff", dyestuff, 0, 0, 1764e-4},
	} {
		means, between, within := layoutOf(c.groups)
		if c.between > 0 {
			near(t, c.name+": mean square between", between, c.between, 1e-12)
			near(t, c.name+": mean square within", within, c.within, 1e-12)
		}
		r := float64(len(c.groups[0]))
		s := modeOf(means, math.Sqrt(within/r))
		near(t, c.name+": component by analysis of variance", s*s, (between-within)/r, 1e-6*(between-within)/r)
		near(t, c.name+": component as published", s*s, c.component, 5e-4*c.component)

		// and so is the joint posterior's own evidence: largest at the node
		// nearest to it, of the nodes in reach
		var tests []ownError
		for _, m := range means {
			q := math.Exp(m)
			tests = append(tests, ownError{median: q, mean: q, sd: q * math.Sqrt(within/r)})
		}
		if tests[0].plain() {
			p, best := poolPlain(tests, nil), 0
			for k, e := range p.evidence {
				if e > p.evidence[best] {
					best = k
				}
			}
			if want := math.Min(math.Max(math.Log(s), nodeLog(0)), nodeLog(scatterNodes-1)); math.Abs(nodeLog(best)-want) > scatterStep {
				t.Errorf("%s: the evidence is largest at %.3g, want the node next to %.3g", c.name, math.Exp(nodeLog(best)), s)
			}
		}
	}
}

// The nodes carry the common prior: lognormal, median 0.3, 95 % 0.12 to 0.8; the
// shop's and the port's part of it make the whole.
func TestCommonScatter(t *testing.T) {
	for _, s := range []*Scatter{nil, CommonScatter(), LearnScatter(nil)} {
		near(t, "median", s.quantile(0.5), 0.3, 1e-12)
		near(t, "low", s.quantile(0.025), 0.1126, 1e-3)
		near(t, "high", s.quantile(0.975), 0.8, 2e-3)
		near(t, "median of the nodes", nodeQuantile(s.weights(), 0.5), 0.3, 1e-3)
		near(t, "low of the nodes", nodeQuantile(s.weights(), 0.025), 0.1126, 4e-3)
		near(t, "high of the nodes", nodeQuantile(s.weights(), 0.975), 0.8, 3e-2)
		near(t, "relative, median", s.CV().Median, math.Sqrt(math.Exp(0.09)-1), 1e-12)
	}
	w := make([]float64, scatterNodes)
	for z := -4.0; z <= 4; z += 0.1 {
		for k, x := range aboutMedian(math.Log(0.3)+shopLogSD*z, portLogSD) {
			w[k] += x * math.Exp(-z*z/2)
		}
	}
	normalise(w)
	for k, x := range CommonScatter().weights() {
		near(t, "node", w[k], x, 2e-4)
	}
	// groups that teach nothing leave it as it is
	alone := []*Reading{madeReading(10, errorsOf{0.2, 0, 0.03})}
	if s := LearnScatter([][]*Reading{alone, nil, {{Refusal: &Refusal{}}, alone[0]}}); s.Ports != 0 || s.weight != nil {
		t.Errorf("got %+v", s)
	}
}

// A shop's repeats move the scatter towards the shop's own, the more the more
// there are; and one test's interval follows.
func TestLearnScatter(t *testing.T) {
	for _, truth := range []float64{0.1, 0.3, 0.7} {
		r := rand.New(rand.NewPCG(23, uint64(100*truth)))
		var groups [][]*Reading
		group := func() []*Reading {
			s := truth * math.Exp(0.3*r.NormFloat64())
			level := math.Exp(4 * r.Float64())
			var g []*Reading
			for range 3 {
				q := level * math.Exp(s*r.NormFloat64())
				g = append(g, madeReading(q, errorsOf{0.02 * q, 0, 0.03}))
			}
			return g
		}
		off := math.Abs(math.Log(0.3 / truth))
		for _, n := range []int{10, 40} {
			for len(groups) < n {
				groups = append(groups, group())
			}
			s := LearnScatter(groups)
			if s.Ports != n || s.Tests != 3*n {
				t.Errorf("%d ports, %d tests; want %d and %d", s.Ports, s.Tests, n, 3*n)
			}
			now := math.Abs(math.Log(s.quantile(0.5) / truth))
			t.Logf("true %.2f, %d ports: median %.3f, %.3f to %.3f", truth, n, s.quantile(0.5), s.quantile(0.025), s.quantile(0.975))
			if now > math.Max(off, 0.2) {
				t.Errorf("true %.2f, %d ports: median %.3f is no nearer than 0.3", truth, n, s.quantile(0.5))
			}
			off = math.Max(now, 0.1)
		}
		s := LearnScatter(groups)
		near(t, "median after 40 ports, over the truth", s.quantile(0.5)/truth, 1, 0.25)
		if ratio := math.Log(s.quantile(0.975)/s.quantile(0.025)) / math.Log(0.8/0.12); ratio > 0.85 {
			t.Errorf("true %.2f: the interval of the scatter is %.2f as wide as the common one", truth, ratio)
		}
	}
}

// Read uses the scatter it is given: one test's interval is that of the formula.
func TestReadWithScatter(t *testing.T) {
	v := sound()
	w := make([]float64, scatterNodes)
	w[4], w[5] = 0.5, 0.5 // 0.061 to 0.09
	s := &Scatter{weight: w}
	common, own := v.read(t), Read(v.trace(t), v.rig(), Options{Scatter: s})
	if *common.Leak != *own.Leak {
		t.Errorf("the scatter between tests changed this trace: %+v, was %+v", own.Leak, common.Leak)
	}
	if logWidth(own.TestedAgain) > 0.5*logWidth(common.TestedAgain) {
		t.Errorf("tested again %+v with a small scatter, %+v with the common one", own.TestedAgain, common.TestedAgain)
	}
	limit := 1.5 * own.Leak.Median
	if a, b := own.ChanceOver(limit), common.ChanceOver(limit); a > 0.01 || b < 0.1 {
		t.Errorf("chance of being half as large again: %.3f with a small scatter, %.3f with the common one", a, b)
	}
	if got := own.Between(); got != s.CV() {
		t.Errorf("between tests: %+v, want %+v", got, s.CV())
	}
	same := Read(v.trace(t), v.rig(), Options{Scatter: CommonScatter()})
	if *same.TestedAgain != *common.TestedAgain || same.ChanceOver(limit) != common.ChanceOver(limit) {
		t.Error("the common scatter, given, is another than the one not given")
	}
}

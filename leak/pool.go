package leak

import (
	"math"
	"sort"

	"seatproof/num"
)

// pool is the joint posterior of several tests of one port. Given sigma_b (a
// node of the scatter) and the port's own level Q, the true flow of test i is
// lognormal about Q with sigma_b, and what was read of it has the test's own
// error.
type pool struct {
	evidence []float64 // log marginal likelihood of each node of sigma_b
	weight   []float64 // posterior of the nodes
	level    *curve    // of ln Q, and of ln of the flow of one more test, the
	next     *curve    // common factor in both and the common added error in neither
	common   common
	tail     []float64 // of each test: two-sided chance to lie so far off the others
	upper    bool      // the level is not told from zero
}

// poolTests makes the joint posterior of tests under a scatter. Tests whose
// errors are small are normals in the logarithm and are done in closed form;
// others on a grid (grid.go). The prior of Q is flat in the logarithm where the
// tests resolve it, and flat in Q below.
func poolTests(tests []ownError, s *Scatter) *pool {
	for i := range tests {
		if !tests[i].plain() {
			return poolOnGrid(tests, s)
		}
	}
	return poolPlain(tests, s)
}

// poolPlain makes the joint posterior of normals y_i with own sd u_i:
//
//	y_i ~ N(ln Q, sigma_b² + u_i²), ln Q flat
//
// so that the marginal likelihood of sigma_b is that of restricted maximum
// likelihood in a one-way layout with known errors.
func poolPlain(tests []ownError, s *Scatter) *pool {
	l := layOut(tests)
	p := &pool{evidence: l.evidence(-1), common: commonOf(tests), tail: make([]float64, len(tests))}
	p.weight = posteriorOf(p.evidence, s)
	level, next := l.mixtures(p.weight, p.common.factor)
	p.level, p.next = curveOf(level), curveOf(next)
	p.upper = p.common.atZero(p.level) > 0.15
	if len(tests) < 2 {
		return p
	}
	for i := range tests { // each test against the posterior of the others
		below := 0.0
		for k, q := range posteriorOf(l.evidence(i), s) {
			a, w := l.node[k].without(l, k, i), plainWeight(k, l.u[i])
			below += q * num.NormalCDF((l.y[i]-a.wy/a.w)/math.Sqrt(1/a.w+1/w))
		}
		p.tail[i] = 2 * math.Min(below, 1-below)
	}
	return p
}

// plainLayout holds normals about their mean, and their sums at each node.
type plainLayout struct {
	ref  float64 // ln of the flow that y counts from
	y, u []float64
	node [scatterNodes]plainSums
}

// plainSums are sums over the tests of weights w = 1/(sigma_b² + u²).
type plainSums struct{ n, w, wy, wyy, logW float64 }

func layOut(tests []ownError) *plainLayout {
	l := &plainLayout{}
	for i := range tests {
		l.ref += math.Log(tests[i].median) / float64(len(tests))
	}
	for i := range tests {
		l.put(math.Log(tests[i].median), tests[i].relative())
	}
	return l
}

// put adds a test.
func (l *plainLayout) put(logFlow, u float64) {
	y := logFlow - l.ref
	l.y, l.u = append(l.y, y), append(l.u, u)
	for k := range l.node {
		a, w := &l.node[k], plainWeight(k, u)
		a.n++
		a.w += w
		a.wy += w * y
		a.wyy += w * y * y
		a.logW += math.Log(w)
	}
}

// without returns the sums at node k without test i.
func (a plainSums) without(l *plainLayout, k, i int) plainSums {
	w, y := plainWeight(k, l.u[i]), l.y[i]
	return plainSums{a.n - 1, a.w - w, a.wy - w*y, a.wyy - w*y*y, a.logW - math.Log(w)}
}

// evidence returns the log marginal likelihood of each node, without test i
// where that is not negative.
func (l *plainLayout) evidence(i int) []float64 {
	out := make([]float64, scatterNodes)
	for k, a := range l.node {
		if i >= 0 {
			a = a.without(l, k, i)
		}
		out[k] = a.evidence()
	}
	return out
}

// mixtures returns the level and one more test as mixtures over the nodes.
func (l *plainLayout) mixtures(weight []float64, factor float64) (level, next normals) {
	level, next = make(normals, scatterNodes), make(normals, scatterNodes)
	for k, a := range l.node {
		mean, v := l.ref+a.wy/a.w, 1/a.w+factor*factor
		level[k] = bump{weight[k], mean, v}
		next[k] = bump{weight[k], mean, v + math.Exp(2*nodeLog(k))}
	}
	return level, next
}

// plainWeight is 1/(sigma_b² + u²) at a node.
func plainWeight(k int, u float64) float64 {
	s := math.Exp(nodeLog(k))
	return 1 / (s*s + u*u)
}

// evidence is the log marginal likelihood, the level integrated out:
//
//	½ (sum ln w - ln sum w - (sum w y² - (sum w y)²/sum w))
func (a plainSums) evidence() float64 {
	if a.n < 1 {
		return 0
	}
	return 0.5 * (a.logW - math.Log(a.w) - math.Max(0, a.wyy-a.wy*a.wy/a.w))
}

// levelInterval returns the port's own level: median and equal-tailed 95 %
// interval, or 0 and the 95 % quantile where it is not told from zero.
func (p *pool) levelInterval() Interval {
	i := p.common.interval(p.level)
	if p.upper {
		i.Low, i.High = 0, p.common.quantile(p.level, 0.95)
	}
	return i
}

// posteriorOf weighs the nodes of a scatter by their evidence.
func posteriorOf(evidence []float64, s *Scatter) []float64 {
	top := math.Inf(-1)
	for _, e := range evidence {
		top = math.Max(top, e)
	}
	prior := s.weights()
	w := make([]float64, len(evidence))
	for k, e := range evidence {
		w[k] = prior[k] * math.Exp(e-top)
	}
	normalise(w)
	return w
}

// bump is one normal of a mixture.
type bump struct{ weight, mean, variance float64 }

// normals is a mixture of normals, the weights adding to 1.
type normals []bump

// below returns the chance of lying below x.
func (m normals) below(x float64) float64 {
	sum := 0.0
	for i := range m {
		p := &m[i]
		z := (x - p.mean) / math.Sqrt(p.variance)
		switch {
		case z > 8:
			sum += p.weight
		case z > -8:
			sum += p.weight * num.NormalCDF(z)
		}
	}
	return sum
}

// moments returns mean and sd.
func (m normals) moments() (mean, sd float64) {
	v := 0.0
	for _, c := range m {
		mean += c.weight * c.mean
	}
	for _, c := range m {
		v += c.weight * (c.variance + (c.mean-mean)*(c.mean-mean))
	}
	return mean, math.Sqrt(v)
}

// quantile returns where the chance of lying below is p, to 1e-6, by regula
// falsi (Illinois) from a bracket that the moments give.
func (m normals) quantile(p float64) float64 {
	mean, sd := m.moments()
	z := normalQuantile(p)
	lo, hi := mean+(z-0.5)*sd, mean+(z+0.5)*sd
	fl, fh := m.below(lo)-p, m.below(hi)-p
	for i := 0; fl > 0 && i < 60; i++ {
		hi, fh = lo, fl
		lo -= sd
		fl = m.below(lo) - p
	}
	for i := 0; fh < 0 && i < 60; i++ {
		lo, fl = hi, fh
		hi += sd
		fh = m.below(hi) - p
	}
	side := 0
	for i := 0; i < 100 && hi-lo > 1e-6; i++ {
		x := (lo*fh - hi*fl) / (fh - fl)
		if !(x > lo && x < hi) {
			x = (lo + hi) / 2
		}
		f := m.below(x) - p
		switch {
		case math.Abs(f) < 1e-9:
			return x
		case f < 0:
			lo, fl = x, f
			if side == -1 {
				fh /= 2
			}
			side = -1
		default:
			hi, fh = x, f
			if side == 1 {
				fl /= 2
			}
			side = 1
		}
	}
	return (lo + hi) / 2
}

// narrowing returns how wide the 95 % interval of one more test will be, after
// one more, against what it is now, in the logarithm: the mean over five
// quantiles of what that test may read. The common added error counts as a
// factor here. False where a test is not plain: then most of the doubt is its
// own.
func narrowing(tests []ownError, s *Scatter) (float64, bool) {
	if len(tests) == 0 {
		return 0, false
	}
	u := make([]float64, len(tests))
	for i := range tests {
		o := &tests[i]
		if !o.plain() || o.shift > 0.5*o.median {
			return 0, false
		}
		u[i] = o.relative()
	}
	c := commonOf(tests)
	sort.Float64s(u)
	usual := u[(len(u)-1)/2]
	l := layOut(tests)
	factor := math.Hypot(c.factor, c.shift/math.Exp(l.ref))
	width := func(l *plainLayout) float64 {
		_, next := l.mixtures(posteriorOf(l.evidence(-1), s), factor)
		return next.quantile(0.975) - next.quantile(0.025)
	}
	was := width(l)
	// what is read has its own error, and none against the others by the common
	_, read := l.mixtures(posteriorOf(l.evidence(-1), s), usual)
	sum := 0.0
	for _, p := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
		more := layOut(tests)
		more.put(read.quantile(p), usual)
		sum += width(more) / was / 5
	}
	return sum, true
}

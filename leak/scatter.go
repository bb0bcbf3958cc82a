package leak

import "math"

// Scatter is what is known of the scatter between tests of one port, the sd
// sigma_b of the logarithm of the leak from test to test (valve lifted, turned
// and dropped, plate put down again). It is a distribution: most ports scatter
// alike, none exactly so. A nil *Scatter is the common one.
type Scatter struct {
	Ports, Tests int // that it was learned from; 0: the common one

	weight []float64 // of the nodes, adding to 1; nil: the common one
}

// The nodes of sigma_b: evenly spaced in its logarithm, 0.033 to 2.7.
const (
	scatterNodes = 23
	scatterStep  = 0.2
)

func nodeLog(i int) float64 {
	return math.Log(betweenMedian) + scatterStep*float64(i-scatterNodes/2)
}

// Two parts of the common prior's 0.5: how the medians of shops differ, and how
// ports of one shop differ from its median. 0.4² + 0.3² = 0.5² (the split is a
// guess, as the 0.5 is).
const (
	shopLogSD = 0.4
	portLogSD = 0.3
)

// CommonScatter returns the scatter before a shop has repeats of its own:
// lognormal, median 0.3, 95 % 0.12 to 0.8 (a guess from common practice, no
// source).
func CommonScatter() *Scatter { return &Scatter{} }

// LearnScatter returns the scatter that a shop's own repeats teach, for one more
// port of the same shop. Each group holds the readings of one port. The shop's
// median m of sigma_b is lognormal about 0.3 (log sd 0.4) beforehand and ports
// scatter about it (log sd 0.3), which together is the common scatter; the
// posterior of m is the product of the groups' marginal likelihoods. Groups with
// fewer than two readings that carry a leak rate teach nothing and are not
// counted; without any other the answer is the common scatter.
func LearnScatter(groups [][]*Reading) *Scatter {
	out := CommonScatter()
	const half = 40
	var logPost [2*half + 1]float64
	median := func(j int) float64 { return math.Log(betweenMedian) + shopLogSD*float64(j-half)/10 }
	for j := range logPost {
		z := float64(j-half) / 10
		logPost[j] = -z * z / 2
	}
	for _, g := range groups {
		var with []*Reading
		for _, r := range g {
			if ownOf(r) != nil {
				with = append(with, r)
			}
		}
		if len(with) < 2 {
			continue
		}
		out.Ports++
		out.Tests += len(with)
		evidence := poolTests(ownsOf(with), nil).evidence
		top := math.Inf(-1)
		for _, e := range evidence {
			top = math.Max(top, e)
		}
		for j := range logPost {
			sum := 0.0
			for k, w := range aboutMedian(median(j), portLogSD) {
				sum += w * math.Exp(evidence[k]-top)
			}
			logPost[j] += math.Log(sum + 1e-300)
		}
	}
	if out.Ports == 0 {
		return out
	}
	top := math.Inf(-1)
	for _, l := range logPost {
		top = math.Max(top, l)
	}
	out.weight = make([]float64, scatterNodes)
	for j, l := range logPost {
		for k, w := range aboutMedian(median(j), portLogSD) {
			out.weight[k] += math.Exp(l-top) * w
		}
	}
	normalise(out.weight)
	return out
}

// aboutMedian returns weights of the nodes for a lognormal sigma_b.
func aboutMedian(logMedian, logSD float64) []float64 {
	w := make([]float64, scatterNodes)
	for k := range w {
		z := (nodeLog(k) - logMedian) / logSD
		w[k] = math.Exp(-z * z / 2)
	}
	normalise(w)
	return w
}

func normalise(w []float64) {
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	for i := range w {
		w[i] /= sum
	}
}

// weights returns the weights of the nodes; they add to 1.
func (s *Scatter) weights() []float64 {
	if s == nil || s.weight == nil {
		return aboutMedian(math.Log(betweenMedian), betweenLogSD)
	}
	return s.weight
}

// quantile returns the quantile p of sigma_b.
func (s *Scatter) quantile(p float64) float64 {
	if s == nil || s.weight == nil {
		return betweenMedian * math.Exp(betweenLogSD*normalQuantile(p))
	}
	return nodeQuantile(s.weight, p)
}

// nodeQuantile returns the quantile p of sigma_b, each node's weight spread
// evenly (in the logarithm) over the step about it.
func nodeQuantile(weight []float64, p float64) float64 {
	acc := 0.0
	for k, w := range weight {
		if acc+w >= p && w > 0 {
			return math.Exp(nodeLog(k) + scatterStep*((p-acc)/w-0.5))
		}
		acc += w
	}
	return math.Exp(nodeLog(scatterNodes - 1))
}

// CV returns the relative scatter between tests, sqrt(exp(sigma_b²) - 1), as
// median and equal-tailed 95 % interval.
func (s *Scatter) CV() Interval {
	return Interval{relativeOf(s.quantile(0.5)), relativeOf(s.quantile(0.025)), relativeOf(s.quantile(0.975))}
}

// relativeOf is the sd over the mean of a lognormal with log sd s.
func relativeOf(s float64) float64 { return math.Sqrt(math.Expm1(s * s)) }

package study

import (
	"math"
	"sort"
)

// splitRHat returns the potential scale reduction of chains, each cut in two
// (Gelman et al., Bayesian Data Analysis, 3rd edition, section 11.4): near 1
// when all tell the same.
func splitRHat(chains [][]float64) float64 {
	halves := split(chains)
	n := float64(len(halves[0]))
	between, within, _ := spread(halves)
	if within == 0 {
		return math.Inf(1)
	}
	return math.Sqrt(((n-1)/n*within + between) / within)
}

// effectiveSize returns the number of independent draws that the chains are
// worth for the mean, from their autocorrelation summed by pairs while these
// stay positive (Geyer 1992; Gelman et al., section 11.5).
func effectiveSize(chains [][]float64) float64 {
	halves := split(chains)
	n, m := len(halves[0]), len(halves)
	between, within, means := spread(halves)
	total := (float64(n)-1)/float64(n)*within + between
	if !(total > 0) || n < 8 {
		return 0
	}
	corr := func(lag int) float64 {
		v := 0.0
		for c, h := range halves {
			s := 0.0
			for i := lag; i < n; i++ {
				s += (h[i] - means[c]) * (h[i-lag] - means[c])
			}
			v += s / float64(n)
		}
		return 1 - (within-v/float64(m))/total
	}
	sum, last := 0.0, math.Inf(1)
	for lag := 0; lag+1 < n; lag += 2 {
		pair := corr(lag) + corr(lag+1)
		if pair < 0 {
			break
		}
		last = math.Min(last, pair)
		sum += last
	}
	return float64(n*m) / math.Max(2*sum-1, 1/math.Log10(float64(n*m)))
}

// tailSize returns the effective number of draws for the worse of the 2.5 and
// 97.5 % quantiles: that of being past them (Vehtari et al., Bayesian Analysis
// 16 (2021) 667, section 4.3).
func tailSize(chains [][]float64) float64 {
	var all []float64
	for _, c := range chains {
		all = append(all, c...)
	}
	sort.Float64s(all)
	low, high := all[len(all)*25/1000], all[len(all)*975/1000]
	size := math.Inf(1)
	for _, past := range []func(v float64) bool{func(v float64) bool { return v < low }, func(v float64) bool { return v > high }} {
		is := make([][]float64, len(chains))
		for i, c := range chains {
			for _, v := range c {
				u := 0.0
				if past(v) {
					u = 1
				}
				is[i] = append(is[i], u)
			}
		}
		size = math.Min(size, effectiveSize(is))
	}
	return size
}

// split cuts each chain in two of equal length.
func split(chains [][]float64) [][]float64 {
	var out [][]float64
	for _, c := range chains {
		h := len(c) / 2
		out = append(out, c[:h], c[h:2*h])
	}
	return out
}

// spread returns the variance of the chains' means, the mean of their
// variances, and the means.
func spread(chains [][]float64) (between, within float64, means []float64) {
	n, m := float64(len(chains[0])), float64(len(chains))
	all := 0.0
	for _, c := range chains {
		mean := 0.0
		for _, v := range c {
			mean += v / n
		}
		means = append(means, mean)
		all += mean / m
	}
	for i, c := range chains {
		between += (means[i] - all) * (means[i] - all) / (m - 1)
		for _, v := range c {
			within += (v - means[i]) * (v - means[i]) / (n - 1) / m
		}
	}
	return between, within, means
}

package leak

import (
	"math"
	"sort"
	"testing"

	"seatproof/num"
)

// quantilesOf returns n equally likely values of a distribution, given by its
// quantile function.
func quantilesOf(n int, q func(p float64) float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = q((float64(i) + 0.5) / float64(n))
	}
	return x
}

// Standard normal quantiles and probabilities (any table of the normal
// distribution).
func TestNormal(t *testing.T) {
	for _, c := range []struct{ p, z float64 }{
		{0.5, 0}, {0.841344746, 1}, {0.95, 1.644853627}, {0.975, 1.959963985}, {0.99, 2.326347874}, {0.0013498980, -3},
	} {
		near(t, "quantile", normalQuantile(c.p), c.z, 1e-7)
		near(t, "probability", num.NormalCDF(c.z), c.p, 1e-8)
	}
}

// quantile is that of Hazen: the k-th of n values stands at (k-½)/n, straight
// lines between.
func TestQuantile(t *testing.T) {
	x := []float64{1, 2, 3, 4}
	for _, c := range []struct{ q, want float64 }{
		{0, 1}, {0.125, 1}, {0.25, 1.5}, {0.375, 2}, {0.5, 2.5}, {0.625, 3}, {0.8, 3.7}, {0.875, 4}, {1, 4},
	} {
		near(t, "quantile of 1..4", quantile(x, c.q), c.want, 1e-12)
	}
	near(t, "of one value", quantile([]float64{7}, 0.3), 7, 0)
	i := equalTailed(quantilesOf(2000, normalQuantile))
	near(t, "median of a normal", i.Median, 0, 1e-9)
	near(t, "low", i.Low, -1.959964, 2e-3)
	near(t, "high", i.High, 1.959964, 2e-3)
	// JCGM 101, 9.4: y = x², x of sd 0.005 about 0, twice: exponential with mean
	// 50e-6, whose 95 % quantile is 149.787e-6 (its shortest interval's end)
	e := quantilesOf(2000, func(p float64) float64 { return -50e-6 * math.Log(1-p) })
	near(t, "95 % quantile of an exponential", quantile(e, 0.95), 149.787e-6, 1e-7)
}

// The shortest interval: at the end of a density that falls, in the middle of
// one that peaks, and never wider than the equal-tailed one.
func TestShortestInterval(t *testing.T) {
	for _, c := range []struct {
		name      string
		q         func(p float64) float64
		low, high float64
	}{
		// density 1/(2 sqrt x) falls: from 0 to 0.95²
		{"u²", func(p float64) float64 { return p * p }, 0, 0.9025},
		{"1-u²", func(p float64) float64 { return 1 - p*p }, 0.0975, 1},
		// density 2x rises: from sqrt(0.05) to 1
		{"sqrt u", math.Sqrt, math.Sqrt(0.05), 1},
		// symmetric triangle: its 2.5 % points, sqrt(0.05)/2
		{"triangle", func(p float64) float64 {
			if p < 0.5 {
				return math.Sqrt(p / 2)
			}
			return 1 - math.Sqrt((1-p)/2)
		}, math.Sqrt(0.05) / 2, 1 - math.Sqrt(0.05)/2},
		{"a point", func(float64) float64 { return 1 }, 1, 1},
	} {
		x := quantilesOf(4000, c.q)
		for i := range x { // in no order
			j := (i * 2654435761) % len(x)
			x[i], x[j] = x[j], x[i]
		}
		got := shortest(x)
		near(t, c.name+", low", got.Low, c.low, 2e-2)
		near(t, c.name+", high", got.High, c.high, 2e-2)
		if !sort.Float64sAreSorted(x) {
			t.Errorf("%s: not sorted", c.name)
		}
		in := 0
		for _, v := range x {
			if v >= got.Low && v <= got.High {
				in++
			}
		}
		if f := float64(in) / float64(len(x)); f < 0.95 {
			t.Errorf("%s: holds %.4f", c.name, f)
		}
		if e := equalTailed(x); got.High-got.Low > e.High-e.Low+1e-3 {
			t.Errorf("%s: %v is longer than the equal-tailed %v", c.name, got, e)
		}
	}
}

// The density of a normal figure cut at 0, at 0 over its peak, is exp(-m²/2) for
// a mean of m standard deviations: the rule of "less than" (above 0.15) turns
// at m = 1.95.
func TestDensityAtZero(t *testing.T) {
	cut := func(m float64) []float64 {
		below := num.NormalCDF(-m)
		return quantilesOf(2000, func(p float64) float64 { return m + normalQuantile(below+p*(1-below)) })
	}
	for _, m := range []float64{0, 0.5, 1, 1.5, 1.8, 2.1, 2.5, 3, 4, 8} {
		for _, unit := range []float64{1, 1e-9} {
			x := cut(m)
			for i := range x {
				x[i] *= unit
			}
			near(t, "density at 0 over its peak", densityAtZero(x), math.Exp(-m*m/2), 0.09) // its kernel is 0.3 sd wide
		}
	}
	if d := densityAtZero(cut(1.6)); d <= 0.15 {
		t.Errorf("1.6 sd from zero: got %v, want above 0.15", d)
	}
	if d := densityAtZero(cut(2.3)); d > 0.15 {
		t.Errorf("2.3 sd from zero: got %v, want 0.15 at most", d)
	}
	// an exponential peaks at 0
	near(t, "exponential", densityAtZero(quantilesOf(2000, func(p float64) float64 { return -math.Log(1 - p) })), 1, 0.1)
	for _, x := range [][]float64{nil, {1}, {0, 0, 0}, {2, 2, 2, 2}} {
		if d := densityAtZero(x); math.IsNaN(d) || d < 0 {
			t.Errorf("%v: got %v", x, d)
		}
	}
}

// overByIntegration is the chance that a leak known as a lognormal (median q,
// sd s of its logarithm) is over limit when tested again, by plain integration
// over the scatter between tests: ln sigma normal about ln 0.3, 0.12 to 0.8 at
// 95 %, and the next test sqrt(2) sigma away (docs/model.md §4).
func overByIntegration(q, s, limit float64) float64 {
	logSD := math.Log(0.8/0.12) / (2 * 1.959964)
	sum, weight := 0.0, 0.0
	for z := -6.0; z <= 6; z += 1e-3 {
		w := math.Exp(-z * z / 2)
		sigma := 0.3 * math.Exp(logSD*z)
		sum += w * num.NormalCDF(math.Log(q/limit)/math.Hypot(s, math.Sqrt2*sigma))
		weight += w
	}
	return sum / weight
}

func lognormalDraws(q, s float64) []Draw {
	x := quantilesOf(drawsKept, func(p float64) float64 { return q * math.Exp(s*normalQuantile(p)) })
	d := make([]Draw, len(x))
	for i, f := range x {
		d[i].Flow = f
	}
	return d
}

func TestChanceOver(t *testing.T) {
	const limit = 23 * cm3min
	for _, s := range []float64{0.01, 0.1, 0.5} {
		for _, ratio := range []float64{0.05, 0.3, 0.6, 0.9, 1, 1.2, 2, 5, 50} {
			rd := &Reading{Draws: lognormalDraws(ratio*limit, s)}
			got, want := rd.ChanceOver(limit), overByIntegration(ratio*limit, s, limit)
			near(t, "chance of being over", got, want, 4e-3)
		}
	}
	// a chance is a chance, however far off
	for _, q := range []float64{0, 1e-30, 1e-3, 1, 1e6} {
		rd := &Reading{Draws: lognormalDraws(q, 0.05)}
		if c := rd.ChanceOver(limit); !(c >= 0 && c <= 1) {
			t.Errorf("%v m³/s: got a chance of 1%+g", q, c-1)
		}
	}
	rd := &Reading{Draws: lognormalDraws(limit, 0.1)}
	if c := rd.ChanceOver(0); c != 1 {
		t.Errorf("no leak allowed: got %v, want 1", c)
	}
	last := 1.0
	for l := limit / 50; l < 50*limit; l *= 1.1 {
		c := rd.ChanceOver(l)
		if c > last+1e-12 {
			t.Fatalf("the chance rose from %v to %v as the limit grew to %v", last, c, l)
		}
		last = c
	}
}

// The interval of one more test is that of the same integral.
func TestTestedAgain(t *testing.T) {
	for _, s := range []float64{0.02, 0.2} {
		g := again(lognormalDraws(1, s), nil)
		for _, p := range []float64{0.025, 0.16, 0.5, 0.84, 0.975} {
			x := quantile(g, p)
			near(t, "probability of being over its quantile", overByIntegration(1, s, x), 1-p, 0.006)
		}
	}
	if g := again(nil, nil); len(g) != 0 {
		t.Errorf("no draws: got %v", g)
	}
}

// The low-discrepancy sequence is even: every tenth of every axis gets a tenth.
func TestSequenceIsEven(t *testing.T) {
	for _, d := range []int{1, 2, 3, 5} {
		s := num.NewSequence(d)
		u := make([]float64, d)
		count := make([][10]int, d)
		for range 2000 {
			s.Next(u)
			for k, x := range u {
				if x < 0 || x >= 1 {
					t.Fatalf("got %v", x)
				}
				count[k][int(x*10)]++
			}
		}
		for k := range count {
			for _, c := range count[k] {
				if c < 190 || c > 210 {
					t.Errorf("axis %d of %d: tenths %v", k, d, count[k])
					break
				}
			}
		}
	}
}

// The rounding of a gauge's step: a figure without noise is off by a
// rectangular error of step/sqrt(12) (GUM 4.3.7), one with noise of a step or
// more by nothing in the mean.
func TestRoundingSD(t *testing.T) {
	near(t, "no noise", roundingSD(0, 100), 100/math.Sqrt(12), 1e-9)
	near(t, "noise of a step", roundingSD(100, 100), 0, 1e-6)
	near(t, "no step", roundingSD(10, 0), 0, 0)
	// in between: the sd over the mean's offset, by direct summation of a
	// rounded normal
	for _, noise := range []float64{0.1, 0.2, 0.3, 0.5} {
		ss := 0.0
		for k := range 200 {
			mean := (float64(k) + 0.5) / 200
			m := 0.0
			for i := -6; i <= 7; i++ {
				p := num.NormalCDF((float64(i)+0.5-mean)/noise) - num.NormalCDF((float64(i)-0.5-mean)/noise)
				m += p * float64(i)
			}
			ss += (m - mean) * (m - mean) / 200
		}
		want := math.Sqrt(ss)
		if got := roundingSD(noise, 1); got < 0.8*want || got > 1.4*want+1e-4 {
			t.Errorf("noise of %v steps: got %.4f, by summation %.4f", noise, got, want)
		}
	}
}

package session

import (
	"math"
	"testing"

	"seatproof/num"
)

// passes returns the chance that a figure of no meaning passes c, in standard
// deviations, in at least one of the looks, whose information is info: sums of
// independent normal increments, integrated from look to look (the recursion of
// Armitage, McPherson and Rowe 1969, from memory). Two-sided where said.
func passes(c float64, info []float64, two bool) float64 {
	const n = 801
	density := func(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
	grid := func(k int) (from, h float64) {
		sd := math.Sqrt(info[k])
		from = -8 * sd
		if two {
			from = -c * sd
		}
		return from, (c*sd - from) / (n - 1)
	}
	weight := func(i int) float64 {
		switch {
		case i == 0 || i == n-1:
			return 1.0 / 3
		case i%2 == 1:
			return 4.0 / 3
		}
		return 2.0 / 3
	}
	from, h := grid(0)
	f := make([]float64, n)
	for i := range f {
		f[i] = density((from+float64(i)*h)/math.Sqrt(info[0])) / math.Sqrt(info[0])
	}
	for k := 1; k < len(info); k++ {
		to, hh := grid(k)
		d := math.Sqrt(info[k] - info[k-1])
		g := make([]float64, n)
		for j := range g {
			t := to + float64(j)*hh
			for i := range f {
				g[j] += weight(i) * h * f[i] * density((t-from-float64(i)*h)/d) / d
			}
		}
		f, from, h = g, to, hh
	}
	in := 0.0
	for i := range f {
		in += weight(i) * h * f[i]
	}
	return 1 - in
}

// The recursion gives the constants of Pocock 1977 for an overall 5 %,
// two-sided (from memory: 2.413 for five looks, 2.512 for eight).
func TestPocock(t *testing.T) {
	for _, c := range []struct {
		looks int
		bound float64
	}{{1, 1.960}, {2, 2.178}, {5, 2.413}, {8, 2.512}} {
		info := make([]float64, c.looks)
		for i := range info {
			info[i] = float64(i + 1)
		}
		if got := passes(c.bound, info, true); math.Abs(got-0.05) > 2e-4 {
			t.Errorf("%d looks at %v: %.5f in all, want 0.05", c.looks, c.bound, got)
		}
	}
}

// The level at which a look ends a hold early lets a figure of pure chance pass
// in 5 % of holds at most (2.5 % where strict), with the looks' information as
// the cube of the time.
func TestEarlyLevel(t *testing.T) {
	info := make([]float64, len(lookTimes))
	for i, x := range lookTimes {
		info[i] = math.Pow(x/lookTimes[0], 3)
	}
	for _, c := range []struct{ level, all float64 }{{earlyChance, 0.05}, {earlyChanceStrict, 0.025}} {
		lo, hi := 1.0, 5.0
		for range 60 {
			if m := (lo + hi) / 2; 1-num.NormalCDF(m) > c.level {
				lo = m
			} else {
				hi = m
			}
		}
		got := passes(lo, info, false)
		t.Logf("level %v (%.3f sd): %.4f in all", c.level, lo, got)
		if got > c.all || got < 0.97*c.all {
			t.Errorf("level %v lets %.4f pass, want just under %v", c.level, got, c.all)
		}
	}
}

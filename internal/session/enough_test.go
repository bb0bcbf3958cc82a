package session

import (
	"math"
	"testing"

	"seatproof/leak"
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

// What ends a hold, and what does not.
func TestEnough(t *testing.T) {
	est := func(held, low, mid, high, over, again float64) Estimate {
		return Estimate{Held: held, Limit: 20, Leak: &leak.Interval{Median: mid, Low: low, High: high}, Over: over, OverAgain: again, Spread: (high - low) / 2 / max(20, mid)}
	}
	for _, c := range []struct {
		name   string
		looks  []Estimate
		strict bool
		want   Reason
	}{
		{"no look yet", nil, false, ""},
		{"refused as too short", []Estimate{{Held: 3, Limit: 20, Refusal: leak.HoldTooShort}}, false, ""},
		{"far below", []Estimate{est(3, 1, 2, 3, 0, 0.001)}, false, Decided},
		{"far above", []Estimate{est(3, 190, 200, 210, 1, 0.999)}, false, Decided},
		{"below, not sure enough for an early end", []Estimate{est(3, 1, 4, 9, 0.001, 0.02)}, false, ""},
		{"enough, but not where strict", []Estimate{est(3, 1, 4, 9, 0.001, 0.005)}, true, ""},
		{"this trace is sharp, the port scatters", []Estimate{est(7, 15, 16, 17, 0.001, 0.3)}, false, RepeatOnly},
		{"on the limit, still narrowing", []Estimate{est(3, 10, 20, 30, 0.5, 0.5), est(4, 14, 20, 26, 0.5, 0.5), est(5.5, 16, 20, 24, 0.5, 0.5)}, false, ""},
		{"on the limit, no longer narrowing", []Estimate{est(7.5, 18, 20, 22, 0.5, 0.5), est(10, 18.05, 20, 21.95, 0.5, 0.5), est(14, 18.1, 20, 21.9, 0.5, 0.5)}, false, NoSharper},
		{"time is up", []Estimate{est(30, 10, 20, 30, 0.5, 0.5)}, false, TimeIsUp},
	} {
		if got, ok := Enough(c.looks, c.strict, 30); got != c.want || ok != (c.want != "") {
			t.Errorf("%s: got %q, %v, want %q", c.name, got, ok, c.want)
		}
	}
	upper := est(3, 0, 25, 40, 0.999, 0.999)
	upper.UpperOnly = true
	if got, ok := Enough([]Estimate{upper}, false, 30); ok {
		t.Errorf("\"less than\" above the limit ended a hold: %q", got)
	}
}

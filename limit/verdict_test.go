package limit

import (
	"math"
	"testing"
)

// normalOver returns P(Y > limit) of a normal Y.
func normalOver(mean, sd, limit float64) float64 {
	return 0.5 * math.Erfc((limit-mean)/(sd*math.Sqrt2))
}

// The worked examples of JCGM 106:2012 give conformance probabilities
// (recalled, recomputed here); the verdict must follow from them.
func TestJudgeJCGM106(t *testing.T) {
	for _, c := range []struct {
		name      string
		conform   float64 // probability of conformance by the example's inputs
		published float64
		want      Verdict
		strict    Verdict
	}{
		// 7.3.3 example 1: breakdown voltage -5.47 V, u 0.05 V, must be <= -5.40 V.
		{"breakdown voltage", 1 - normalOver(-5.47, 0.05, -5.40), 0.92, CantTellYet, CantTellYet},
		// 7.3.3 example 2: burst pressure 509.7 kPa, u 8.6 kPa, must be >= 490 kPa.
		{"burst pressure", normalOver(509.7, 8.6, 490), 0.99, Holds, Holds},
		// 7.4 example: viscosity 13.6, u 1.8, between 12.5 and 16.3.
		{"viscosity", normalOver(13.6, 1.8, 12.5) - normalOver(13.6, 1.8, 16.3), 0.66, CantTellYet, CantTellYet},
	} {
		t.Run(c.name, func(t *testing.T) {
			if math.Abs(c.conform-c.published) > 0.005 {
				t.Errorf("conformance probability %.4f, published %.2f", c.conform, c.published)
			}
			if got := Judge(1-c.conform, false); got != c.want {
				t.Errorf("Judge(%.4f, false) = %q, want %q", 1-c.conform, got, c.want)
			}
			if got := Judge(1-c.conform, true); got != c.strict {
				t.Errorf("Judge(%.4f, true) = %q, want %q", 1-c.conform, got, c.strict)
			}
			// What conforms by so much, fails by so much the other way round.
			if c.want == Holds {
				if got := Judge(c.conform, false); got != Leaks {
					t.Errorf("Judge(%.4f, false) = %q, want %q", c.conform, got, Leaks)
				}
			}
		})
	}
}

// ISO 14253-1:2017: a figure 1.645 u inside the limit is the last one accepted
// (edition details from memory).
func TestJudgeGuardBand(t *testing.T) {
	const u, limit = 2.0, 23.0
	for _, c := range []struct {
		name   string
		mean   float64
		strict bool
		want   Verdict
	}{
		{"just inside the guard band", limit - 1.6449*u, false, Holds},
		{"just short of it", limit - 1.6448*u, false, CantTellYet},
		{"at the limit", limit, false, CantTellYet},
		{"just short of leaking", limit + 1.6448*u, false, CantTellYet},
		{"just over", limit + 1.6449*u, false, Leaks},
		{"strict, at 1.645 u", limit - 1.6449*u, true, CantTellYet},
		{"strict, at 1.96 u", limit - 1.9600*u, true, Holds},
		{"strict, over at 1.96 u", limit + 1.9600*u, true, Leaks},
	} {
		over := normalOver(c.mean, u, limit)
		if got := Judge(over, c.strict); got != c.want {
			t.Errorf("%s: Judge(%.6f, %v) = %q, want %q", c.name, over, c.strict, got, c.want)
		}
	}
}

func TestJudgeOddChances(t *testing.T) {
	for _, over := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -0.01, 1.01} {
		if got := Judge(over, false); got != CantTellYet {
			t.Errorf("Judge(%v, false) = %q, want %q", over, got, CantTellYet)
		}
	}
	if got := Judge(0, true); got != Holds {
		t.Errorf("Judge(0, true) = %q, want %q", got, Holds)
	}
	if got := Judge(1, true); got != Leaks {
		t.Errorf("Judge(1, true) = %q, want %q", got, Leaks)
	}
}

// JCGM 106:2012, 8.3.3.2 example 1 (from memory, recomputed): a speed measured
// to 2 % is over the limit of 100 km/h with 99.9 % from 106.6 km/h on, which is
// 100/(1 - 0.02·3.0902). The same sum at 95 and 97.5 % is where this verdict
// turns: 103.40 and 104.08 km/h.
func TestJudgeSpeedLimit(t *testing.T) {
	over := func(v float64) float64 { return normalOver(v, 0.02*v, 100) }
	if p := over(106.6); p < 0.999 || over(106.5) > 0.999 {
		t.Errorf("over at 106.6 km/h with %.5f, at 106.5 with %.5f, published: 0.999 between", p, over(106.5))
	}
	for _, c := range []struct {
		speed  float64
		strict bool
		want   Verdict
	}{
		{103.39, false, CantTellYet}, {103.41, false, Leaks},
		{104.07, true, CantTellYet}, {104.09, true, Leaks},
		{96.80, false, Holds}, {96.90, false, CantTellYet}, // 100/(1 + 0.02·1.6449) = 96.815
	} {
		if got := Judge(over(c.speed), c.strict); got != c.want {
			t.Errorf("%v km/h, strict %v: got %q, want %q", c.speed, c.strict, got, c.want)
		}
	}
}

// The verdict only ever moves one way as the chance grows: holds, can't tell,
// leaks; and strict never says more.
func TestJudgeIsMonotone(t *testing.T) {
	rank := map[Verdict]int{Holds: 0, CantTellYet: 1, Leaks: 2}
	last := 0
	for i := 0; i <= 1000; i++ {
		c := float64(i) / 1000
		v, s := Judge(c, false), Judge(c, true)
		if rank[v] < last {
			t.Fatalf("at %v the verdict went back to %q", c, v)
		}
		last = rank[v]
		if s != CantTellYet && s != v {
			t.Errorf("at %v strict says %q, usual %q", c, s, v)
		}
	}
}

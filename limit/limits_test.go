package limit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A limit between an opening and a seep, by hand: half and half of 200 and 40 is
// 1/(0.5/200 + 0.5/40) = 66.67; its sd is that of both, each by its part of the
// cost, 66.67 (0.5/200 · 0.1 + 0.5/40 · 0.4) = 0.35.
func TestLimitBetween(t *testing.T) {
	l := Limit{Kind: ByCost, Opening: 200, Seep: 40, OpeningSD: 0.1, SeepSD: 0.4}
	for _, c := range []struct{ share, at, sd float64 }{
		{0, 40, 0.4}, {1, 200, 0.1}, {0.5, 66.6667, 0.35}, {-2, 40, 0.4}, {7, 200, 0.1},
	} {
		near(t, "limit", l.At(c.share), c.at, 1e-6)
		near(t, "its sd", l.SD(c.share), c.sd, 1e-6)
	}
	p := Plain(ByMaker, 60, 0.2)
	if p.At(0.3) != 60 || p.SD(0.3) != 0.2 {
		t.Errorf("a plain limit asks how the leak flows: %g, %g", p.At(0.3), p.SD(0.3))
	}
}

// Which of two limits decides may turn with the way the leak flows.
func TestStrictest(t *testing.T) {
	v := Valve{Plain(ByWorkmanship, 23, 0), {Kind: ByCost, Opening: 50, Seep: 10}}
	for _, c := range []struct {
		share float64
		want  Kind
		at    float64
	}{
		{0, ByCost, 10}, {1, ByWorkmanship, 23},
		{0.5, ByCost, 1 / (0.5/50 + 0.5/10)}, // 16.7
	} {
		l, ok := v.Decides(c.share)
		if !ok || l.Kind != c.want || math.Abs(v.At(c.share)-c.at) > 1e-9 {
			t.Errorf("share %g: %s decides at %g, want %s at %g", c.share, l.Kind, v.At(c.share), c.want, c.at)
		}
	}
	if _, ok := (Valve{}).Decides(0); ok || (Valve{}).At(0) != 0 {
		t.Error("no limit at all decides")
	}
}

// The steps of one lognormal limit are its quantiles at (i + 1/2)/9 in closed form;
// those of two near each other are the quantiles of the least of draws of both.
func TestFactors(t *testing.T) {
	f, exact := Valve{Plain(ByWorkmanship, 23, 0.1)}.Factors(0)
	if exact {
		t.Error("a limit in doubt is called exact")
	}
	for i, x := range f {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/Quantiles-1)
		near(t, "one limit", x, math.Exp(0.1*z), 1e-6)
	}
	if f, exact = (Valve{Plain(ByOwn, 23, 0)}).Factors(0); !exact || f[0] != 1 || f[Quantiles-1] != 1 {
		t.Errorf("a figure typed in: %v, exact %v", f, exact)
	}
	rng := rand.New(rand.NewPCG(3, 9))
	for _, v := range []Valve{
		{Plain(ByWorkmanship, 23, 0.1), Plain(ByCost, 25, 0.4)},
		{Plain(ByWorkmanship, 23, 0), Plain(ByCost, 23, 0.4)},
		{Plain(ByWorkmanship, 40, 0.2), Plain(ByCost, 23, 0.3), Plain(ByGoodPort, 30, 0.3)},
		{Plain(ByWorkmanship, 23, 0.05), Plain(ByCost, 2300, 0.3)}, // far off: never the least
	} {
		draws := make([]float64, 40_000)
		for d := range draws {
			draws[d] = math.Inf(1)
			for _, l := range v {
				draws[d] = math.Min(draws[d], l.Seep*math.Exp(l.SeepSD*rng.NormFloat64()))
			}
		}
		slices.Sort(draws)
		f, _ := v.Factors(0)
		for i, x := range f {
			want := draws[int((float64(i)+0.5)/Quantiles*float64(len(draws)))]
			near(t, "least of several", x*v.At(0), want, 0.012) // of 40,000 draws: three sds of the outer ones
		}
	}
}

// What a cylinder can spare is shared by diameter and adds up to it: 27, 27, 23.5
// and 23.5 mm of 40 are 10.69 and 9.31.
func TestSharedBy(t *testing.T) {
	heads := []float64{27e-3, 27e-3, 23.5e-3, 23.5e-3}
	sum := 0.0
	for i, want := range []float64{10.6931, 10.6931, 9.30693, 9.30693} {
		got := SharedBy(40, heads[i], heads)
		near(t, "share", got, want, 1e-5)
		sum += got
	}
	near(t, "all of them", sum, 40, 1e-12)
	if SharedBy(40, 27e-3, []float64{27e-3, 0}) != 0 || SharedBy(40, 0, heads) != 0 || SharedBy(40, 27e-3, nil) != 0 {
		t.Error("a valve of no diameter has a share")
	}
}

// Of a port the least limit of a valve clears all, the sum condemns.
func TestPortOfSeveral(t *testing.T) {
	p := Port{{Plain(ByOwn, 30, 0)}, {}, {Plain(ByWorkmanship, 23, 0), Plain(ByCost, 20, 0)}}
	if one, all, which := p.At(0); one != 20 || all != 50 || which != 2 {
		t.Errorf("least %g of valve %d, sum %g; want 20 of 2, 50", one, which, all)
	}
	if one, all, which := (Port{{}, {}}).At(0); one != 0 || all != 0 || which != -1 {
		t.Errorf("a port without limits: %g, %g, %d", one, all, which)
	}
}

func TestCheckShare(t *testing.T) {
	for _, s := range []float64{0.001, UsualShare, 0.5} {
		if err := CheckShare(s); err != nil {
			t.Errorf("%g: %v", s, err)
		}
	}
	for _, s := range []float64{0, -0.02, 0.0009, 0.51, 2, math.NaN()} {
		if CheckShare(s) == nil {
			t.Errorf("a share of %g is taken", s)
		}
	}
}

func TestEveryKindHasWords(t *testing.T) {
	for _, k := range Kinds {
		if k.Words() == string(k) && k != ByWorkmanship && k != ByCost || k.Reason() == "" {
			t.Errorf("%s: words %q, reason %q", k, k.Words(), k.Reason())
		}
	}
}

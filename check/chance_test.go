package check

import (
	"math"
	"math/rand/v2"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// share fails where k of n is further from want than four standard deviations of a
// count, and one part in a hundred.
func share(t *testing.T, what string, k, n int, want float64) {
	t.Helper()
	got := float64(k) / float64(n)
	t.Logf("%s: %.1f %% of %d", what, 100*got, n)
	if tol := 4*math.Sqrt(want*(1-want)/float64(n)) + 0.01; math.Abs(got-want) > tol {
		t.Errorf("%s: %.3f, want %.3f ± %.3f", what, got, want, tol)
	}
}

// atMost fails where k of n is surely more than most.
func atMost(t *testing.T, what string, k, n int, most float64) {
	t.Helper()
	got := float64(k) / float64(n)
	t.Logf("%s: %.1f %% of %d", what, 100*got, n)
	if got > most {
		t.Errorf("%s: %.3f, at most %.3f", what, got, most)
	}
}

// TestGaugeLineHoldsTruth: over gauges and second gauges drawn as the model has
// them, the line's 95 % interval holds what the gauge stood at 95 times in 100.
func TestGaugeLineHoldsTruth(t *testing.T) {
	d := rand.New(rand.NewPCG(1, 2))
	n, held := 4000, 0
	for range n {
		gain, off := 0.02*d.NormFloat64(), 500*d.NormFloat64()
		const accTwo = 0.01
		gainTwo, bowTwo := accTwo/1.96*d.NormFloat64(), accTwo/3.92*100e3*d.NormFloat64()
		step := 200.0
		read := func(x float64) unit.Measured { return unit.Exactly(math.Round(x/step+d.Float64()-0.5) * step) }
		var pairs []Pair
		for i, v := range []float64{0, 15e3, 35e3, 55e3, 75e3} {
			xi := v / 100e3
			two := v*(1+gainTwo) + bowTwo*4*xi*(1-xi) + 150
			pairs = append(pairs, Pair{Reading: read(v*(1+gain) + off), Reference: read(two), Vented: i == 0})
		}
		g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.04), Resolution: 2 * step}
		second := rig.Gauge{Span: g.Span, Accuracy: unit.Exactly(accTwo), Resolution: 2 * step}
		r, err := AgainstGauge(day, pairs, g, second)
		if err != nil {
			t.Fatal(err)
		}
		const at = 70e3
		c := r.Line.Correct(at*(1+gain) + off)
		bow := 0.0
		if r.Line.Bow.Known {
			bow = r.Line.Bow.Value * 4 * 0.7 * 0.3
		}
		if math.Abs(c.Value-at) <= math.Hypot(c.Spread, bow) {
			held++
		}
	}
	if got := float64(held) / float64(n); got < 0.94 {
		t.Errorf("%.3f hold the truth", got)
	} else {
		t.Logf("%.1f %% of %d", 100*got, n)
	}
}

// TestSyringeHoldsTruth: over syringes, gauges and rooms drawn as stated.
func TestSyringeHoldsTruth(t *testing.T) {
	d := rand.New(rand.NewPCG(3, 4))
	n, held := 4000, 0
	for range n {
		v := 40e-6 + 60e-6*d.Float64()
		gain, scale := 0.01/1.96*d.NormFloat64(), 1+0.03/1.96*d.NormFloat64()
		pa := 100e3 + 200/1.96*d.NormFloat64()
		step := 50.0
		read := func(x float64) unit.Measured { return unit.Exactly(x*(1+gain) + step*(d.Float64()-0.5)) }
		var steps []Syringe
		for _, v1 := range []float64{30e3, 40e3, 50e3} {
			s := Syringe{Step: unit.About(5e-6, 0.15e-6)}
			v2 := pa - (pa-v1)*v/(v+5e-6*scale)
			s.Before, s.After = read(v1), read(v2)
			steps = append(steps, s)
		}
		g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.01), Resolution: step}
		r, err := SyringeVolume(day, steps, unit.About(100e3, 200), g)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.Value.Value-v) <= r.Value.Spread {
			held++
		}
	}
	if got := float64(held) / float64(n); got < 0.94 {
		t.Errorf("%.3f hold the truth", got)
	} else {
		t.Logf("%.1f %% of %d", 100*got, n)
	}
}

// TestBlankedHoldsNext: the interval holds the next pull 95 times in 100, and a
// sound pump, whose pulls scatter by 1 %, is called unsound at most 3 times in 100.
func TestBlankedHoldsNext(t *testing.T) {
	d := rand.New(rand.NewPCG(5, 6))
	var r rig.Rig
	r.Gauge.Resolution = 10
	for _, k := range []int{5, 8} {
		n, held, out, drift := 4000, 0, 0, 0
		for range n {
			var pulls []float64
			for range k {
				pulls = append(pulls, 77e3*(1+0.005*d.NormFloat64()))
			}
			res, err := BlankedSeries(day, pulls, r)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(77e3*(1+0.005*d.NormFloat64())-res.Value.Value) <= res.Value.Spread {
				held++
			}
			if res.Verdict == Failed {
				out++
			}
			warm := make([]float64, k)
			for i := range warm {
				warm[i] = 75e3*(1+0.001*d.NormFloat64()) + 400*float64(i)
			}
			if res, err := BlankedSeries(day, warm, r); err == nil && res.Verdict == Failed {
				drift++
			}
		}
		share(t, "next pull held", held, n, 0.95)
		atMost(t, "sound ones failed", out, n, 0.03)
		atMost(t, "warm-up drifts missed", n-drift, n, 0.1)
	}
}

// TestDryHoldsStill: dry ports whose pulls scatter by 5 % fail at most 3 times in
// 100; a port that gives off as much again at first is found 9 times in 10.
func TestDryHoldsStill(t *testing.T) {
	d := rand.New(rand.NewPCG(7, 8))
	n, failed, missed := 4000, 0, 0
	for range n {
		var dry, wet []leak.Interval
		for i := range 5 {
			q := 20 * (1 + 0.05*d.NormFloat64())
			dry = append(dry, span3(q, q*0.9, q*1.1))
			w := q + 20*math.Exp(-float64(i)/1.5)
			wet = append(wet, span3(w, w*0.9, w*1.1))
		}
		if r, err := Dryness(day, dry); err == nil && r.Verdict == Failed {
			failed++
		}
		if r, err := Dryness(day, wet); err == nil && r.Verdict != Failed {
			missed++
		}
	}
	atMost(t, "dry ones failed", failed, n, 0.03)
	atMost(t, "moisture missed", missed, n, 0.1)
}

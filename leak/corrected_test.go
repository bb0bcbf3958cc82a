package leak

import (
	"math"
	"testing"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// biased is a test on a gauge that reads 6 % too much of a vacuum and stands 300 Pa
// high: wrong, as its accuracy of 7 % allows.
func biased() (test, rig.Rig) {
	v := sound()
	v.also = func(_, x float64) float64 { return 0.06*x + 300 }
	r := v.rig()
	r.Gauge.Accuracy = unit.Exactly(0.07)
	r.Pump.Blanked = unit.About(78e3*1.06, 1e3) // as it reads it
	return v, r
}

// aLine corrects that gauge, within 0.4 %.
func aLine() *rig.GaugeLine {
	return &rig.GaugeLine{Offset: unit.About(-300/1.06, 200), Slope: unit.About(1/1.06-1, 0.004), Correlation: -0.8, Bow: unit.Exactly(100)}
}

// TestGaugeLineCorrects: with the line a biased gauge reads as a true one does, and
// as surely as the line is known; without it the interval is the accuracy's.
func TestGaugeLineCorrects(t *testing.T) {
	truth := sound()
	r0 := truth.rig()
	true0 := truth.answered(t, r0)
	v, r := biased()
	tr := v.trace(t)
	was := append([]float64(nil), tr.Value...)
	wide := mustAnswer(t, Read(tr, r, Options{}))
	r.Gauge.Line = aLine()
	lined := mustAnswer(t, Read(tr, r, Options{}))
	near(t, "leak", lined.Leak.Median, true0.Leak.Median, 0.02*true0.Leak.Median)
	near(t, "steady", lined.Steady.Vacuum.Median, true0.Steady.Vacuum.Median, 120)
	near(t, "blanked", lined.Blanked.Median, 78e3, 1)
	near(t, "rate of fall", lined.FallRate.Median, true0.FallRate.Median, 0.01*true0.FallRate.Median)
	if wide.FallRate.Median < 1.05*true0.FallRate.Median {
		t.Errorf("uncorrected it must fall 6 %% too fast: %v, true %v", wide.FallRate.Median, true0.FallRate.Median)
	}
	share := func(rd *Reading) (s float64) {
		for _, b := range rd.Budget {
			if b.Input == inputGauge {
				s = b.Share
			}
		}
		return s
	}
	if share(lined) > 0.05 || share(wide) < 0.2 {
		t.Errorf("the gauge's share: with the line %.3f, without %.3f", share(lined), share(wide))
	}
	width := func(rd *Reading) float64 { return (rd.Leak.High - rd.Leak.Low) / rd.Leak.Median }
	if width(lined) > 0.85*width(wide) || width(lined) > 1.1*width(true0) {
		t.Errorf("widths: with the line %.3f, without %.3f, of a true gauge of 0.5 %% %.3f", width(lined), width(wide), width(true0))
	}
	if !holds(lined.Leak, 50*cm3min) {
		t.Errorf("%v does not hold 50 cm³/min", lined.Leak)
	}
	for i := range was {
		if tr.Value[i] != was[i] {
			t.Fatal("the trace was changed")
		}
	}
}

// TestGaugeLineAbsolute: an absolute sensor that is off in the same way.
func TestGaugeLineAbsolute(t *testing.T) {
	v, r := biased()
	tr := v.trace(t)
	r.Gauge.Line = aLine()
	want := mustAnswer(t, Read(tr, r, Options{}))
	abs := *tr
	abs.Kind, abs.Value = trace.Absolute, nil
	for _, x := range tr.Value {
		abs.Value = append(abs.Value, v.pa-x)
	}
	got := mustAnswer(t, Read(&abs, r, Options{}))
	near(t, "leak", got.Leak.Median, want.Leak.Median, 0.01*want.Leak.Median)
	near(t, "steady", got.Steady.Vacuum.Median, want.Steady.Vacuum.Median, 60)
}

// TestGaugeLineCovariance: a zero that the line alone tells has, with the gain, the
// line's own doubt at the vacuum read, sqrt(u1² + 2 r v u1 u2 + v² u2²) (GUM 5.2.2).
func TestGaugeLineCovariance(t *testing.T) {
	_, r := biased()
	r.Gauge.Line = aLine()
	k := takeRig(r)
	for _, v := range []float64{5e3, 20e3} {
		gain := r.Gauge.Line.Slope.SD() * v
		near(t, "doubt", math.Hypot(k.zeroSDAt(v), gain), r.Gauge.Line.Correct(v).SD(), 1e-9)
	}
	if k.zeroSDAt(76e3) != 0 {
		t.Errorf("strongly correlated, deep: %v", k.zeroSDAt(76e3))
	}
}

// TestGaugeLineByHand: readings by eye on the biased gauge.
func TestGaugeLineByHand(t *testing.T) {
	r := homeRig()
	tr := readings(0, 70e3, 15, 62e3)
	plain := mustAnswer(t, Read(tr, r, Options{}))
	r.Gauge.Line = &rig.GaugeLine{Offset: unit.About(0, 100), Slope: unit.About(-0.1, 0.01), Bow: unit.Exactly(100)}
	lined := mustAnswer(t, Read(tr, r, Options{}))
	near(t, "lost", lined.Lost.Vacuum, 0.9*plain.Lost.Vacuum, 1)
	if x := lined.Leak.Median / plain.Leak.Median; x > 0.95 || x < 0.85 {
		t.Errorf("leak %v of the uncorrected", x)
	}
}

package leak

import (
	"math"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

func shareOf(rd *Reading, input string) float64 {
	for _, l := range rd.Budget {
		if l.Input == input {
			return l.Share
		}
	}
	return 0
}

// relative returns the leak's relative standard uncertainty, from its interval.
func relative(rd *Reading) float64 {
	return (rd.Leak.High - rd.Leak.Low) / (2 * 1.959964) / rd.Leak.Median
}

// budgeted is a slow choked leak: 30 cm³/min from 77 kPa, which stays deeper
// than 50 kPa, so that q = V/pa dp/dt Ta/Tw and the budget can be done by hand.
// It is a seep, as the rig leak is, where share is 0.
func budgeted(t *testing.T, share, rigLeak float64, change func(r *rig.Rig)) *Reading {
	t.Helper()
	v := sound()
	v.flow, v.share, v.edge, v.rigLeak = 30, share, 0, rigLeak
	v.hold, v.rate = 40, 50
	r := v.rig()
	r.RigLeak = unit.Exactly(rigLeak * cm3min)
	r.Volume, r.Port.Volume = unit.Exactly(62e-6), unit.Exactly(95e-6)
	r.Gauge.Accuracy = unit.Exactly(0.0005)
	r.Air.Pressure = unit.Exactly(v.pa)
	r.Port.HeadTemperature = unit.Exactly(v.ta)
	change(&r)
	return v.answered(t, r)
}

// The budget is that of the GUM (JCGM 100:2008, 5.1): with q proportional to V,
// the volume's share is (u(V)/V)² over the relative variance of q. Two parts of
// a volume add in quadrature (5.1.2). Each input that dominates has the
// interval that it alone would make.
func TestBudgetByHand(t *testing.T) {
	const k = 1.959964
	for _, c := range []struct {
		name, input    string
		share, rigLeak float64
		change         func(r *rig.Rig)
		alone          float64 // relative standard uncertainty of q by this input
	}{
		{"port's volume ± 12 cm³ of 157", inputVolume, 1, 0, func(r *rig.Rig) { r.Port.Volume.Spread = 12e-6 }, 12 / k / 157},
		{"both volumes, ± 9 and ± 12", inputVolume, 1, 0, func(r *rig.Rig) { r.Port.Volume.Spread, r.Volume.Spread = 12e-6, 9e-6 }, 15 / k / 157},
		{"port's volume ± 3 cm³", inputVolume, 1, 0, func(r *rig.Rig) { r.Port.Volume.Spread = 3e-6 }, 3 / k / 157},
		// 10 K of 293.15, in 95 of 157 cm³
		{"head ± 10 K", inputTemp, 1, 0, func(r *rig.Rig) { r.Port.HeadTemperature.Spread = 10 }, 10 / k / 293.15 * 95 / 157},
		// q = V slope - rig leak: the volume's doubt is of both together
		{"the same beside a rig leak of 15", inputVolume, 0, 15, func(r *rig.Rig) { r.Port.Volume.Spread = 12e-6 }, 12 / k / 157 * 45 / 30},
		{"rig leak 4 ± 2", inputRigLeak, 0, 4, func(r *rig.Rig) { r.RigLeak.Spread = 2 * cm3min }, 2 / k / 30},
	} {
		base := relative(budgeted(t, c.share, c.rigLeak, func(*rig.Rig) {}))
		rd := budgeted(t, c.share, c.rigLeak, c.change)
		total := relative(rd)
		got := shareOf(rd, c.input)
		want := c.alone * c.alone / (total * total)
		near(t, c.name+": share of "+c.input, got, want, 0.12)
		near(t, c.name+": relative uncertainty", total, math.Hypot(base, c.alone), 0.12*math.Hypot(base, c.alone))
		sum := 0.0
		for i, l := range rd.Budget {
			sum += l.Share
			if i > 0 && l.Share > rd.Budget[i-1].Share {
				t.Errorf("%s: the budget is not in order: %+v", c.name, rd.Budget)
			}
		}
		near(t, c.name+": the budget's sum", sum, 1, 1e-4)
		if c.alone > 2*base && rd.Budget[0].Input != c.input {
			t.Errorf("%s: got %+v first", c.name, rd.Budget[0])
		}
	}
}

// A gauge's gain error (accuracy/1.96) makes the same error of the slope, and a
// bow of accuracy/3.92 · 4x(1-x) of span adds its slope, 4(1-2x).
func TestBudgetOfTheGauge(t *testing.T) {
	base := relative(budgeted(t, 1, 0, func(*rig.Rig) {}))
	rd := budgeted(t, 1, 0, func(r *rig.Rig) { r.Gauge.Accuracy = unit.Exactly(0.05) })
	x := rd.Curve[len(rd.Curve)/2].Vacuum / 100e3
	gain, bow := 0.05/1.96, 0.05/3.92*math.Abs(4*(1-2*x))
	// the bow may be held down by the curve, the gain by nothing
	if u := relative(rd); u < 0.95*gain || u > 1.1*math.Hypot(base, math.Hypot(gain, bow)) {
		t.Errorf("relative uncertainty: got %.4f, want between the gain's %.4f and that with the bow's %.4f", u, gain, bow)
	}
	if s := shareOf(rd, inputGauge); s < 0.85 {
		t.Errorf("share of the gauge: got %.2f, want nearly all: %+v", s, rd.Budget)
	}
}

// An input that is known exactly has no share.
func TestBudgetOfWhatIsKnown(t *testing.T) {
	rd := budgeted(t, 1, 0, func(*rig.Rig) {})
	for _, input := range []string{inputVolume, inputTemp, inputRigLeak} {
		if s := shareOf(rd, input); s > 1e-3 {
			t.Errorf("%s is known exactly and has a share of %v", input, s)
		}
	}
}

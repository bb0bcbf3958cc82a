package leak

import (
	"math"
	"testing"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// homeRig is a rig with a needle: 157 cm³, no rig leak, sea level.
func homeRig() rig.Rig {
	var r rig.Rig
	r.Volume, r.RigLeak = unit.About(62e-6, 1e-6), unit.About(0, 1e-9)
	r.Port = rig.Port{Volume: unit.About(95e-6, 1e-6), Held: rig.HeldOwnSpring, WetWith: rig.WetNothing}
	r.Gauge = rig.Gauge{Kind: rig.GaugeNeedle, Span: rig.Span{High: 100e3, Known: true}, Class: 1.6, Division: 1e3}
	r.Air.Pressure, r.Air.Temperature = unit.Exactly(101325), unit.Exactly(293.15)
	return r
}

func readings(points ...float64) *trace.Trace {
	t := &trace.Trace{Kind: trace.Vacuum}
	for i := 0; i+1 < len(points); i += 2 {
		t.Hand = append(t.Hand, trace.HandReading{Time: points[i], TimeSpread: 0.3, Value: points[i+1], Spread: 500})
	}
	return t
}

// A choked opening falls in a straight line, pa q/V (docs/model.md §3, closed
// form): a fall of 6 kPa in 60 s in 157 cm³ at 101,325 Pa is 558 mm³/s; a seep
// of the same fall flows 1.19 to 1.29 times less at 50 kPa.
func TestHandReadings(t *testing.T) {
	got := Read(readings(0, 75e3, 60, 69e3), homeRig(), Options{})
	if got.Refusal != nil || got.Leak == nil {
		t.Fatalf("refused: %+v", got.Refusal)
	}
	opening := 6e3 / 60 * 157e-6 / 101325
	if l := got.Leak; l.Low > opening/1.2 || l.High < opening || l.High > 1.6*opening {
		t.Errorf("6 kPa in 60 s: got %+v, an opening would be %.4g", *l, opening)
	}
	if got.Source != FromHand || got.Kind != KindUnresolved {
		t.Errorf("source %q, kind %q", got.Source, got.Kind)
	}
	// more readings of the same fall never widen it
	more := Read(readings(0, 75e3, 20, 73e3, 40, 71e3, 60, 69e3), homeRig(), Options{})
	if more.Leak.High-more.Leak.Low > 1.02*(got.Leak.High-got.Leak.Low) {
		t.Errorf("two more readings widen %+v to %+v", *got.Leak, *more.Leak)
	}
}

// A needle that was still above its mark bounds the leak from above, and that
// test done again can't bound it closer.
func TestHandReadingStillAbove(t *testing.T) {
	tr := readings(0, 75e3, 15, 74e3)
	tr.Hand[1].Censored = true
	got := Read(tr, homeRig(), Options{})
	if got.Refusal != nil || !got.UpperLimitOnly {
		t.Fatalf("got %+v, want an upper limit only", got)
	}
	most := 1e3 / 15 * 157e-6 / 101325 // the fall to the mark, as an opening
	if h := got.Leak.High; h < 0.7*most || h > 3*most {
		t.Errorf("upper limit %.4g, the fall to the mark is %.4g", h, most)
	}
	if got.TestedAgain.High < got.Leak.High {
		t.Errorf("tested again %.4g is closer than this trace %.4g", got.TestedAgain.High, got.Leak.High)
	}
}

func TestHandReadingsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		tr   *trace.Trace
		want RefusalCode
	}{
		"one":         {readings(0, 75e3), TooFewSamples},
		"two seconds": {readings(0, 75e3, 1, 74e3), HoldTooShort},
		"too deep":    {readings(0, 130e3, 15, 120e3), TooDeep},
		"no pull":     {readings(0, 100, 15, 50), NoPull},
		"rises":       {readings(0, 60e3, 15, 70e3), NoHold},
	} {
		if got := Read(c.tr, homeRig(), Options{}); got.Refusal == nil || got.Refusal.Code != c.want {
			t.Errorf("%s: got %+v, want %s", name, got.Refusal, c.want)
		}
	}
	r := homeRig()
	r.Volume, r.Port.Volume = unit.Measured{}, unit.Measured{}
	got := Read(readings(0, 75e3, 60, 69e3), r, Options{})
	if got.Leak != nil || got.FallRate == nil || math.Abs(got.FallRate.Median-100) > 1 {
		t.Errorf("without a volume: leak %v, fall %v", got.Leak, got.FallRate)
	}
}

// One figure with the pump on: the steady reading answers where a pump is known,
// and says how blunt it is; without one it is too few.
func TestSteadyFigureAlone(t *testing.T) {
	r := homeRig()
	r.Pump.FreeFlow = unit.About(10e-3/60, 1e-3/60)
	r.Pump.Blanked = unit.About(78e3, 1e3)
	got := Read(readings(0, 70e3), r, Options{})
	if got.Refusal != nil || got.Source != FromSteady || !warnsOf(got, SteadyAlone) {
		t.Fatalf("got %+v, source %q, warnings %v", got.Refusal, got.Source, got.Warnings)
	}
	// the straight line: 10 L/min (1 - 70/78) = 1,026 cm³/min at 70 kPa
	if f := got.Steady.Flow; !(f.Low < 1026*cm3min && 1026*cm3min < f.High) {
		t.Errorf("flow at 70 kPa: got %+v, want 1026 cm³/min within", *f)
	}
	r.Pump = rig.Pump{}
	if got := Read(readings(0, 70e3), r, Options{}); got.Refusal == nil || got.Refusal.Code != TooFewSamples {
		t.Errorf("without a pump: got %+v, want %s", got.Refusal, TooFewSamples)
	}
}

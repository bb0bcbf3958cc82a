package leak

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Known leaks of each way of flowing come back within their intervals; where
// the curve can tell the way, it is told.
func TestKnownLeaksAreRecovered(t *testing.T) {
	for _, c := range []struct {
		name        string
		flow, share float64
		hold        float64
		kinds       []Kind
	}{
		{"a seep of 5", 5, 0, 60, []Kind{KindUnresolved}},
		{"an opening of 20", 20, 1, 60, []Kind{KindUnresolved, KindOpening}},
		{"a seep of 20", 20, 0, 60, []Kind{KindUnresolved, KindSeep}},
		{"an opening of 100", 100, 1, 60, []Kind{KindOpening, KindUnresolved}},
		{"a seep of 100", 100, 0, 60, []Kind{KindSeep, KindUnresolved}},
		{"a mixture of 100", 100, 0.5, 60, []Kind{KindUnresolved, KindMixed}},
		{"an opening of 600", 600, 1, 15, []Kind{KindOpening, KindUnresolved}},
		{"a seep of 600", 600, 0, 15, []Kind{KindSeep, KindUnresolved}},
		{"an opening of 2500", 2500, 1, 10, []Kind{KindOpening, KindUnresolved}},
		{"a seep of 2500", 2500, 0, 10, []Kind{KindSeep, KindUnresolved}},
	} {
		v := sound()
		v.flow, v.share, v.hold, v.edge = c.flow, c.share, c.hold, 0.3
		v.rate, v.step, v.noise, v.seed = 50, 10, 20, 3
		rd := v.answered(t, v.rig())
		q := c.flow * cm3min
		if !holds(rd.Leak, q) {
			t.Errorf("%s: got %.4g (%.4g to %.4g) cm³/min", c.name, rd.Leak.Median/cm3min, rd.Leak.Low/cm3min, rd.Leak.High/cm3min)
		}
		if w := (rd.Leak.High - rd.Leak.Low) / q; w > 0.30 {
			t.Errorf("%s: the interval is %.0f %% wide", c.name, 100*w)
		}
		if !holds(rd.Share, c.share) && !(c.share == 1 && rd.Share.High > 0.98) && !(c.share == 0 && rd.Share.Low < 0.02) {
			t.Errorf("%s: got a share of %+v, true %v", c.name, *rd.Share, c.share)
		}
		found := false
		for _, k := range c.kinds {
			found = found || rd.Kind == k
		}
		if !found {
			t.Errorf("%s: got kind %q, want one of %q", c.name, rd.Kind, c.kinds)
		}
		if again := rd.TestedAgain; again.High-again.Low < rd.Leak.High-rd.Leak.Low {
			t.Errorf("%s: tested again %+v is narrower than this trace %+v", c.name, *again, *rd.Leak)
		}
		if rd.Refusal != nil || rd.Source != FromHold || rd.UpperLimitOnly {
			t.Errorf("%s: %v %v %v", c.name, rd.Refusal, rd.Source, rd.UpperLimitOnly)
		}
		checkReading(t, rd)
	}
}

// The way of flowing can be told where the fall goes well past 48 kPa: the
// rule's two named ends, on the valves' own springs alone.
func TestKindIsNamed(t *testing.T) {
	for _, c := range []struct {
		share float64
		want  Kind
	}{{1, KindOpening}, {0, KindSeep}} {
		v := sound()
		v.flow, v.share, v.edge, v.hold = 300, c.share, 0.5, 40
		v.rate, v.step, v.noise = 100, 10, 10
		r := v.rig()
		r.Gauge.Accuracy = unit.Exactly(0.001)
		rd := v.answered(t, r)
		if rd.Kind != c.want {
			t.Errorf("share %v: got %q, share %+v, want %q", c.share, rd.Kind, *rd.Share, c.want)
		}
		for _, h := range []rig.Held{rig.HeldThumb, rig.HeldLightSpring, rig.HeldNothing, rig.HeldNotSaid} {
			r.Port.Held = h
			if rd := v.answered(t, r); rd.Kind != KindUnresolved {
				t.Errorf("share %v, held %q: got %q, want unresolved", c.share, h, rd.Kind)
			}
		}
	}
}

// A blank leaks what the rig leaks: the port's leak is "less than" a little.
func TestBlankIsAnUpperLimit(t *testing.T) {
	for _, seed := range []uint64{1, 2, 3} {
		v := sound()
		v.flow, v.hold, v.seed = 0, 60, seed
		rd := v.answered(t, v.rig())
		if !rd.UpperLimitOnly || rd.Leak.Low != 0 || rd.Leak.High > 1.2*cm3min || rd.Leak.High <= 0 {
			t.Errorf("got %+v cm³/min, upper limit only %v, want less than about 1", rd.Leak.High/cm3min, rd.UpperLimitOnly)
		}
		if rd.TestedAgain.Low != 0 {
			t.Errorf("tested again: got %+v, want no lower limit", *rd.TestedAgain)
		}
		if c := rd.ChanceOver(23 * cm3min); c > 0.01 {
			t.Errorf("chance of a blank being over 23 cm³/min: got %v", c)
		}
	}
}

// The worked example of 40 CFR 1065.644 as a trace: 2.0000 L, from 25.300 to
// 50.600 kPa absolute in 70 s at 293.15 K is 428.043 mL/min of free air at 20 °C
// and 101,325 Pa. The gas is isothermal (a slow rise in a fast wall), the leak
// a rounded opening, choked throughout, so that its flow is the same at 50 kPa
// of vacuum.
func TestPressureChangeExample(t *testing.T) {
	v := sound()
	v.volume, v.flow, v.share, v.edge, v.rigLeak = 2000, 428.043, 1, 0, 0
	v.free, v.blanked, v.tau, v.pull, v.hold, v.noise, v.step = 60, 77, 0.02, 30, 72, 10, 10
	r := v.rig()
	r.Volume, r.Port.Volume = unit.Exactly(1e-3), unit.Exactly(1e-3)
	r.RigLeak, r.Port.HeadTemperature = unit.Exactly(0), unit.Exactly(293.15)
	r.Gauge.Accuracy = unit.Exactly(0.001)
	r.Air.Pressure = unit.Exactly(101325)
	rd := v.answered(t, r)
	if !holds(rd.Leak, 428.043*cm3min) || math.Abs(rd.Leak.Median/cm3min/428.043-1) > 0.01 {
		t.Errorf("got %.5g (%.5g to %.5g) cm³/min, the regulation's figure is 428.04", rd.Leak.Median/cm3min, rd.Leak.Low/cm3min, rd.Leak.High/cm3min)
	}
	// its rate of fall: 25.3 kPa in 70 s
	near(t, "rate of fall", rd.FallRate.Median, 25300.0/70, 0.01*25300/70)
	// and the nozzle of that flow: d² pi/4 = q/(0.6847 sqrt(R T)), 198.6306 m/s
	// at 20 °C (any text on compressible flow)
	near(t, "nozzle", rd.NozzleDiameter.Median, math.Sqrt(4/math.Pi*rd.Leak.Median/198.6306), 2e-3*rd.NozzleDiameter.Median)
}

// The gap is the one that passes the flow round the seat.
func TestGapOfTheSeat(t *testing.T) {
	v := sound()
	tr := v.trace(t)
	seat := &Seat{Diameter: 27e-3, Contact: 1.2e-3}
	rd := mustAnswer(t, Read(tr, v.rig(), Options{Seat: seat}))
	for _, x := range []struct{ gap, flow float64 }{{rd.Gap.Median, rd.Leak.Median}, {rd.Gap.Low, rd.Leak.Low}, {rd.Gap.High, rd.Leak.High}} {
		m, err := gas.Seep{Width: math.Pi * 27e-3, Gap: x.gap, Length: 1.2e-3}.MassFlow(v.pa, v.pa-gas.StatedVacuum, v.ta)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "flow of the gap", gas.FreeAir(m, v.pa, v.ta), x.flow, 1e-3*x.flow)
	}
	if rd := mustAnswer(t, Read(tr, v.rig(), Options{})); rd.Gap != nil {
		t.Errorf("got a gap of %+v and no seat was given", *rd.Gap)
	}
}

// One trace written in three units and both forms is one trace.
func TestUnitsDoNotMatter(t *testing.T) {
	v := sound()
	v.step = 0
	tr := v.trace(t)
	write := func(head string, f func(vacuum float64) float64) *Reading {
		var b bytes.Buffer
		fmt.Fprintln(&b, head)
		for i, x := range tr.Time {
			fmt.Fprintf(&b, "%.4f,%.9f\n", x, f(tr.Value[i]))
		}
		got, err := trace.Read(&b, trace.ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		r := v.rig()
		r.Gauge.Resolution = 0
		return mustAnswer(t, Read(got, r, Options{}))
	}
	base := write("time (s),vacuum (kPa)", func(x float64) float64 { return x / 1e3 })
	if !holds(base.Leak, 50*cm3min) {
		t.Errorf("got %+v, true 50 cm³/min", *base.Leak)
	}
	// NIST SP 811: conventional inch of mercury 3386.389 Pa (exactly
	// 3386.388640341), psi 6894.757 Pa
	same(t, "inHg", base, write("time (s),vacuum (inHg)", func(x float64) float64 { return x / 3386.388640341 }), 1e-4)
	same(t, "gauge psi", base, write("time (s),gauge (psi)", func(x float64) float64 { return -x / 6894.757293168 }), 1e-4)
	same(t, "mbar absolute", base, write("time (s),pressure abs (mbar)", func(x float64) float64 { return (v.pa - x) / 100 }), 1e-3)
}

// When a recording was begun, and where a gauge's zero lies, does not matter.
func TestShiftsDoNotMatter(t *testing.T) {
	v := sound()
	base := v.answered(t, v.rig())
	tr := v.trace(t)
	for i := range tr.Time {
		tr.Time[i] += 1024
	}
	later := mustAnswer(t, Read(tr, v.rig(), Options{}))
	same(t, "1024 s later", base, later, 1e-6)
	for i, ph := range later.Phases {
		near(t, "phase "+string(ph.Name), ph.From, base.Phases[i].From+1024, 1e-6)
	}
	for _, zero := range []float64{-1500, 700, 2000} {
		u := v
		u.zero = zero
		same(t, fmt.Sprintf("zero at %v Pa", zero), base, u.answered(t, v.rig()), 2e-3)
	}
}

// Only flow over volume enters a hold: twice the volume (and rig leak) is twice
// the flow for the same trace.
func TestTwiceTheVolume(t *testing.T) {
	v := sound()
	v.flow = 8 // its inertia and slip, which go with the flow itself, are small
	tr := v.trace(t)
	r := v.rig()
	r.Pump = rig.Pump{}
	one := mustAnswer(t, Read(tr, r, Options{}))
	for _, m := range []*unit.Measured{&r.Volume, &r.Port.Volume, &r.RigLeak} {
		m.Value *= 2
		m.Spread *= 2
	}
	two := mustAnswer(t, Read(tr, r, Options{}))
	near(t, "median", two.Leak.Median/one.Leak.Median, 2, 0.02)
	near(t, "low", two.Leak.Low/one.Leak.Low, 2, 0.03)
	near(t, "high", two.Leak.High/one.Leak.High, 2, 0.03)
	near(t, "rate of fall", two.FallRate.Median, one.FallRate.Median, 1e-9)
}

// The less is known of an input, the wider the interval: a larger ± never
// narrows it (by more than the estimator's own 4 % of grid).
func TestLargerDoubtNeverNarrows(t *testing.T) {
	v := sound()
	tr := v.trace(t)
	width := func(change func(r *rig.Rig, k float64), k float64) float64 {
		r := v.rig()
		change(&r, k)
		rd := mustAnswer(t, Read(tr, r, Options{}))
		if !holds(rd.Leak, 50*cm3min) {
			t.Errorf("got %+v, true 50 cm³/min", *rd.Leak)
		}
		return rd.Leak.High - rd.Leak.Low
	}
	for _, c := range []struct {
		name   string
		change func(r *rig.Rig, k float64)
		// at least so much wider at 16 times the ±
		grows float64
	}{
		{"volume", func(r *rig.Rig, k float64) { r.Volume.Spread *= k }, 1.3},
		{"port volume", func(r *rig.Rig, k float64) { r.Port.Volume.Spread *= k }, 2},
		{"rig leak", func(r *rig.Rig, k float64) { r.RigLeak.Spread *= k }, 1.2},
		{"gauge accuracy", func(r *rig.Rig, k float64) { r.Gauge.Accuracy.Value *= k }, 1.35},
		{"gauge resolution", func(r *rig.Rig, k float64) { r.Gauge.Resolution *= k }, 1},
		{"gauge response", func(r *rig.Rig, k float64) { r.Gauge.Response.Spread = 0.002 * k }, 0.99},
		{"air pressure", func(r *rig.Rig, k float64) { r.Air.Pressure.Spread *= k }, 1},
		{"air temperature", func(r *rig.Rig, k float64) { r.Air.Temperature.Spread = 0.1 * k }, 0.99},
		{"head temperature", func(r *rig.Rig, k float64) { r.Port.HeadTemperature = unit.About(v.ta, k) }, 1.05},
	} {
		last := 0.0
		first := 0.0
		for _, k := range []float64{1, 2, 4, 16} {
			w := width(c.change, k)
			if w < 0.96*last {
				t.Errorf("%s, %g times the ±: the interval narrowed from %.4g to %.4g cm³/min", c.name, k, last/cm3min, w/cm3min)
			}
			if first == 0 {
				first = w
			}
			last = math.Max(last, w)
		}
		if last < c.grows*first*0.999 {
			t.Errorf("%s: 16 times the ± made %.4g of %.4g cm³/min, want %.2g times", c.name, last/cm3min, first/cm3min, c.grows)
		}
	}
	// and what nobody gave is guessed wide, and said to be
	r := v.rig()
	r.Port.Volume, r.RigLeak, r.Gauge.Accuracy = unit.Measured{}, unit.Measured{}, unit.Measured{}
	rd := mustAnswer(t, Read(tr, r, Options{}))
	var names []string
	for _, g := range rd.Guessed {
		names = append(names, g.Input)
		if !(g.Widened >= 1) || !g.Guess.Known {
			t.Errorf("guess %+v", g)
		}
	}
	if got := strings.Join(names, ", "); got != "port volume, gauge accuracy, rig leak" {
		t.Errorf("got guesses %q", got)
	}
}

// Without any volume there is no absolute leak from a hold: the steady reading
// answers where a pump is known, else only the rate of fall is given.
func TestNoVolume(t *testing.T) {
	v := sound()
	v.flow = 900
	v.hold = 6
	tr := v.trace(t)
	r := v.rig()
	r.Volume, r.Port.Volume = unit.Measured{}, unit.Measured{}
	rd := mustAnswer(t, Read(tr, r, Options{}))
	if rd.Source != FromSteady || !warned(rd, SteadyAlone) || !holds(rd.Leak, 900*cm3min) {
		t.Errorf("got %v from %q, warnings %v, want 900 cm³/min from the steady reading", rd.Leak, rd.Source, rd.Warnings)
	}
	checkReading(t, rd)
	r.Pump = rig.Pump{}
	rd = Read(tr, r, Options{})
	if rd.Refusal != nil || rd.Leak != nil || rd.TestedAgain != nil || rd.FallRate == nil || !warned(rd, NoVolume) || rd.UpperLimitOnly || len(rd.Draws) > 0 {
		t.Errorf("got refusal %v, leak %v, fall %v, warnings %v, want a rate of fall alone", rd.Refusal, rd.Leak, rd.FallRate, rd.Warnings)
	}
	if !math.IsNaN(rd.ChanceOver(cm3min)) {
		t.Errorf("chance of being over a limit without a leak rate: got %v, want none", rd.ChanceOver(cm3min))
	}
	checkReading(t, rd)
	// the rate itself ranks like ports: four times the leak, four times the rate
	slow, fast := sound(), sound()
	slow.flow, fast.flow = 40, 160
	a, b := Read(slow.trace(t), r, Options{}), Read(fast.trace(t), r, Options{})
	near(t, "ratio of rates", b.FallRate.Median/a.FallRate.Median, 160.8/40.8, 0.15)
}

// The steady reading is a second estimate: it holds the truth where it can tell.
func TestSteadyReading(t *testing.T) {
	for _, flow := range []float64{300, 900, 2500} {
		v := sound()
		v.flow = flow
		r := v.rig()
		rd := v.answered(t, r)
		s := rd.Steady
		if s == nil || s.Flow == nil || s.At50 == nil {
			t.Fatalf("%v cm³/min: no steady reading: %+v", flow, s)
		}
		if !holds(s.At50, flow*cm3min) {
			t.Errorf("%v cm³/min: steady reading says %.4g (%.4g to %.4g)", flow, s.At50.Median/cm3min, s.At50.Low/cm3min, s.At50.High/cm3min)
		}
		// the pump's line at the steady vacuum is what leaks in there
		line := v.free * 1e3 * (1 - s.Vacuum.Median/(v.blanked*1e3))
		if q := s.Flow.Median / cm3min; math.Abs(q-line) > 0.1*line+20 {
			t.Errorf("%v cm³/min: %.4g at the steady vacuum, by the pump's line %.4g", flow, q, line)
		}
		if !holds(rd.Blanked, 78e3) || warned(rd, ReadingsDiffer) {
			t.Errorf("%v cm³/min: blanked %+v, warnings %v", flow, rd.Blanked, rd.Warnings)
		}
	}
}

// What the person says about the shut-off is taken.
func TestShutOffGiven(t *testing.T) {
	v := sound()
	tr := v.trace(t)
	at := v.shutOff()
	rd := mustAnswer(t, Read(tr, v.rig(), Options{ShutOff: &at}))
	same(t, "shut-off given", v.answered(t, v.rig()), rd, 0.05)
	for _, odd := range []float64{-5, 0, 33.9, 1e9} { // outside: an answer or a refusal, no panic
		checkReading(t, Read(tr, v.rig(), Options{ShutOff: &odd}))
	}
}

// Reading twice gives the same, and neither trace nor rig is changed.
func TestReadingIsAFunction(t *testing.T) {
	v := sound()
	tr, r := v.trace(t), v.rig()
	before := append([]float64(nil), tr.Value...)
	a, b := Read(tr, r, Options{}), Read(tr, r, Options{})
	if fmt.Sprintf("%+v", a.Leak) != fmt.Sprintf("%+v", b.Leak) || fmt.Sprintf("%+v", a.Draws) != fmt.Sprintf("%+v", b.Draws) {
		t.Error("the same trace gave two readings")
	}
	for i := range before {
		if before[i] != tr.Value[i] {
			t.Fatal("the trace was changed")
		}
	}
}

// A sound port under a coarse gauge falls by one to three steps in a whole hold,
// and the first of them is not the shut-off: the interval must still hold the
// truth, or the trace be refused.
func TestCoarseSteps(t *testing.T) {
	n := 40
	if testing.Short() {
		n = 8
	}
	for _, step := range []float64{500, 1000, 1700} {
		for _, noise := range []float64{0, 100} {
			read, held, high := 0, 0, 0
			for k := range n {
				v := sound()
				v.flow, v.step, v.noise, v.seed = 1+20*float64(k)/float64(n), step, noise, uint64(k)
				v.hold = 20 + 40*float64(k)/float64(n)
				rd := v.read(t)
				if rd.Refusal != nil {
					if rd.Refusal.Code != NoHold {
						t.Errorf("step %v, noise %v Pa, %.3g cm³/min: refused: %+v", step, noise, v.flow, rd.Refusal)
					}
					continue
				}
				read++
				switch {
				case holds(rd.Leak, v.flow*cm3min):
					held++
				case rd.Leak.Low > v.flow*cm3min:
					high++
				}
			}
			// 95 of 100, less what chance takes in one run of ten thousand
			if float64(held) < 0.93*float64(read)-3.7*math.Sqrt(0.93*0.07*float64(read)) || high > 2+n/20 {
				t.Errorf("step %v, noise %v Pa: %d of %d held the truth, %d read too large a leak", step, noise, held, read, high)
			}
		}
	}
}

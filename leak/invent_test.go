package leak

import (
	"math"
	"math/rand/v2"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

const cm3min = 1e-6 / 60 // m³/s

// test is an invented test of a port: the truth, from which the forward model
// makes a trace, and the rig as its owner would state it.
type test struct {
	flow        float64 // cm³/min of free air at 50 kPa
	share, edge float64
	rigLeak     float64 // cm³/min
	volume      float64 // cm³; 62 of it the rig's
	tau, mix    float64
	lag         float64 // s
	free        float64 // L/min
	blanked     float64 // kPa
	pa, ta      float64
	wall        float64 // K; 0: the room's

	vented, pull, hold, after float64 // s
	vapour, vapourTau         float64 // Pa, s

	rate        float64 // Hz
	noise, step float64 // Pa
	zero        float64 // Pa
	seed        uint64
	film        float64 // s after the shut-off that oil closes two thirds of the seat's leak for
	// added to what the gauge shows [Pa] at time t, vacuum v
	also func(t, v float64) float64
}

// sound is a good test: 157 cm³, 50 cm³/min, half opening half seep, on a pump
// of 10 L/min and 78 kPa.
func sound() test {
	return test{
		flow: 50, share: 0.5, edge: 0.5, rigLeak: 0.8, volume: 157, tau: 0.3, lag: 0.05,
		free: 10, blanked: 78, pa: 101325, ta: 293.15,
		vented: 2, pull: 10, hold: 20, after: 2, rate: 20, noise: 30, step: 50,
	}
}

func (v test) shutOff() float64 { return v.vented + v.pull }

// rig returns the rig as its owner states it: true, with a usual ±.
func (v test) rig() rig.Rig {
	var r rig.Rig
	r.Name = "small rig"
	r.Volume = unit.About(62e-6, 1e-6)
	r.Port.Volume = unit.About((v.volume-62)*1e-6, 3e-6)
	r.RigLeak = unit.About(0.8*cm3min, 0.3*cm3min)
	r.Port.Held = rig.HeldOwnSpring
	r.Port.WetWith = rig.WetNothing
	r.Pump.FreeFlow = unit.About(v.free*1e-3/60, 0.1*v.free*1e-3/60)
	r.Pump.Blanked = unit.About(v.blanked*1e3, 1e3)
	r.Pump.AfterShutOff = rig.PumpStopped
	r.Hose = rig.Hose{Bore: unit.Exactly(8e-3), Length: unit.Exactly(0.3), GaugeAt: rig.GaugeAtPort}
	r.Gauge.Kind = rig.GaugeDigital
	r.Gauge.Span = rig.Span{Low: 0, High: 100e3, Known: true}
	r.Gauge.Accuracy = unit.Exactly(0.005)
	r.Gauge.Resolution = v.step
	r.Gauge.Response = unit.Exactly(v.lag)
	r.Air.Pressure = unit.About(v.pa, 100)
	r.Air.Temperature = unit.Exactly(v.ta)
	return r
}

// leaks returns the mass flow into the port and the rig [kg/s] at p [Pa].
func (v test) leaks(t testing.TB) func(p float64) float64 {
	t.Helper()
	o, err := gas.OpeningFor(v.flow*v.share*cm3min, gas.StatedVacuum, v.pa, v.ta, v.edge)
	if err != nil {
		t.Fatal(err)
	}
	s, err := gas.SeepFor(v.flow*(1-v.share)*cm3min, gas.StatedVacuum, v.pa, v.ta, math.Pi*27e-3, 0.3e-3)
	if err != nil {
		t.Fatal(err)
	}
	l, err := gas.SeepFor(v.rigLeak*cm3min, gas.StatedVacuum, v.pa, v.ta, 5e-3, 5e-3)
	if err != nil {
		t.Fatal(err)
	}
	return v.inflow(o, s, l)
}

// inflow adds up elements as a flow that ends in a straight line over the last
// 20 Pa before the room, where that of an opening has no slope.
func (v test) inflow(all ...gas.Element) func(p float64) float64 {
	sum := func(p float64) float64 {
		q := 0.0
		for _, e := range all {
			m, err := e.MassFlow(v.pa, math.Max(0, p), v.ta)
			if err != nil {
				return math.NaN()
			}
			q += m
		}
		return q
	}
	end := sum(v.pa - 20)
	return func(p float64) float64 {
		if d := v.pa - p; d < 20 {
			return end * d / 20
		}
		return sum(p)
	}
}

// trace returns the trace of the test as its gauge shows it.
func (v test) trace(t testing.TB) *trace.Trace {
	t.Helper()
	rho := gas.Density(v.pa, v.ta)
	c := rig.Closed{
		Volume: v.volume * 1e-6, AirPressure: v.pa, AirTemp: v.ta, WallTemp: v.wall, Tau: v.tau, Mix: v.mix,
		Leak: v.leaks(t),
		Pump: func(p float64) float64 {
			return rho * v.free * 1e-3 / 60 * math.Max(0, 1-(v.pa-p)/(v.blanked*1e3))
		},
	}
	vent := v.inflow(gas.Opening{Area: 3e-6 * v.volume / 157}) // a fitting opened
	steps := []rig.Step{{For: v.vented}, {For: v.pull, Pumping: true}, {For: v.hold}, {For: v.after, Inflow: vent}}
	if v.film > 0 { // the seat's leak is there only once it has let go
		seat := c.Leak
		c.Leak = func(p float64) float64 { return seat(p) / 3 }
		rest := func(p float64) float64 { return seat(p) * 2 / 3 }
		steps = []rig.Step{
			{For: v.vented, Inflow: rest}, {For: v.pull, Pumping: true}, {For: v.film},
			{For: v.hold - v.film, Inflow: rest}, {For: v.after, Inflow: vent},
		}
	}
	run, err := c.Run(steps)
	if err != nil {
		t.Fatal(err)
	}
	tr := &trace.Trace{Kind: trace.Vacuum, Step: v.step, Header: trace.Header{Rig: "small rig"}}
	r := rand.New(rand.NewPCG(v.seed, 5))
	const fine = 2e-3
	now := v.pa
	if p, _ := run.Pressure(0); p > 0 {
		now = v.pa - p
	}
	last, shown, to := now, now, 0.0
	for i := range int((v.vented + v.pull + v.hold + v.after) * v.rate) {
		at := float64(i) / v.rate
		for to < at {
			h := math.Min(fine, at-to)
			if to += h; at-to < 1e-9 {
				to = at
			}
			p, _ := run.Pressure(to)
			if now = v.pa - p; v.lag == 0 {
				shown = now
			} else {
				s := (now - last) / h
				shown = now - v.lag*s + (shown-last+v.lag*s)*math.Exp(-h/v.lag)
			}
			last = now
		}
		x := shown
		if v.vapour > 0 && at > v.shutOff() && at < v.shutOff()+v.hold {
			x -= v.vapour * -math.Expm1(-(at-v.shutOff())/v.vapourTau)
		}
		if v.also != nil {
			x += v.also(at, x)
		}
		x += v.zero + v.noise*r.NormFloat64()
		if v.step > 0 {
			x = math.Round(x/v.step) * v.step
		}
		tr.Time = append(tr.Time, at)
		tr.Value = append(tr.Value, x)
	}
	tr.Faults.Rows, tr.Faults.Interval = tr.Len(), 1/v.rate
	return tr
}

// read reads the test with its rig.
func (v test) read(t testing.TB) *Reading {
	t.Helper()
	return Read(v.trace(t), v.rig(), Options{})
}

// answered reads and fails unless there is a leak rate from the hold.
func (v test) answered(t testing.TB, r rig.Rig) *Reading {
	t.Helper()
	return mustAnswer(t, Read(v.trace(t), r, Options{}))
}

func mustAnswer(t testing.TB, rd *Reading) *Reading {
	t.Helper()
	if rd.Refusal != nil || rd.Leak == nil {
		t.Fatalf("refused: %+v, leak %v, phases %+v", rd.Refusal, rd.Leak, rd.Phases)
	}
	return rd
}

func warned(rd *Reading, c WarningCode) bool {
	for _, w := range rd.Warnings {
		if w.Code == c {
			return true
		}
	}
	return false
}

func holds(i *Interval, x float64) bool { return i != nil && i.Low <= x && x <= i.High }

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g within %.3g", what, got, want, tol)
	}
}

// same fails unless two readings agree to the relative tolerance: the leak and
// its interval, share, steady reading, rate of fall.
func same(t testing.TB, what string, a, b *Reading, tol float64) {
	t.Helper()
	cmp := func(name string, x, y *Interval, scale float64) {
		t.Helper()
		if (x == nil) != (y == nil) {
			t.Errorf("%s, %s: got %v and %v", what, name, x, y)
			return
		}
		if x == nil {
			return
		}
		if scale == 0 {
			scale = math.Max(math.Abs(x.Median), x.High-x.Low)
		}
		near(t, what+", "+name+", median", y.Median, x.Median, tol*scale)
		near(t, what+", "+name+", low", y.Low, x.Low, tol*scale)
		near(t, what+", "+name+", high", y.High, x.High, tol*scale)
	}
	cmp("leak", a.Leak, b.Leak, 0)
	cmp("tested again", a.TestedAgain, b.TestedAgain, 0)
	cmp("share", a.Share, b.Share, math.Max(1, 0.02/tol)) // its shortest interval moves by steps of its draws
	cmp("rate of fall", a.FallRate, b.FallRate, 0)
	if a.Steady != nil && b.Steady != nil {
		cmp("steady vacuum", &a.Steady.Vacuum, &b.Steady.Vacuum, 0)
	}
	if a.Kind != b.Kind || len(a.Warnings) != len(b.Warnings) || a.UpperLimitOnly != b.UpperLimitOnly {
		t.Errorf("%s: got %s %v %v and %s %v %v", what, a.Kind, a.Warnings, a.UpperLimitOnly, b.Kind, b.Warnings, b.UpperLimitOnly)
	}
}

// Package study measures how good the estimator is: traces of known truth from
// the forward model, read by the estimator, counted; and a slow posterior
// written apart from it as a yardstick.
//
// Start with [Draw], which invents a test, and [Coverage], which runs many.
// It is run by `make study`; docs/accuracy.md holds what it measured.
package study

import (
	"fmt"
	"math"
	"math/rand/v2"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Truth is what a simulated trace was made from.
type Truth struct {
	Flow          float64 // m³/s free air at 50 kPa
	Share, Edge   float64
	Volume        float64 // m³
	Tau, Mix, Lag float64
	Pressure      float64
	Noise, Step   float64
	Rate          float64 // samples/s
	ShutOff       float64 // s
	RigLeak       float64
	Hold          float64 // s
	Vapour        float64 // Pa
	Wall, Air     float64 // K
	Gain, Bow     float64
	Zero          float64 // Pa
	TauV          float64
	Contact       float64
	Load          float64 // power of the load with which the seep's gap closes
}

// Family says what a scenario may contain.
type Family struct {
	Low, High float64 // cm³/min, log-uniform between
	// Shares: "kinds" draws openings, seeps and mixtures a third each;
	// "uniform" draws shares uniformly.
	Shares    string
	Vapour    bool // draw vapour from its prior instead of none
	Wet       bool // the rig file does not say that the port is dry
	NoInertia bool
	Rate      float64       // samples/s; 0: log-uniform 10 to 250
	Mix       bool          // draw conduction's part uniformly instead of none
	Off       Off           // what the estimator's model does not hold
	Practice  *rig.Practice // what real ports and rigs do beside; nil: nothing
	Strength  float64       // of the practice
	Told      bool          // what the port was wet with is named
	Hold      float64       // s; 0: 15 to 60
}

// cm3min is one cm³/min in m³/s.
const cm3min = 1e-6 / 60

// Draw invents a test of the family: the truth, the rig as its owner states it,
// and the trace. Ranges as in docs/accuracy.md.
func Draw(r *rand.Rand, f Family) (Truth, rig.Rig, *trace.Trace, error) {
	uni := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	logU := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	var t Truth
	t.Flow = logU(f.Low, f.High) * cm3min
	switch f.Shares {
	case "uniform":
		t.Share = r.Float64()
	default:
		switch r.IntN(3) {
		case 0:
			t.Share = 1
		case 1:
			t.Share = 0
		default:
			t.Share = uni(0.05, 0.95)
		}
	}
	t.Edge = r.Float64()
	// the rig as stated
	pStd, err := gas.StandardPressure(uni(0, 1600))
	if err != nil {
		return t, rig.Rig{}, nil, err
	}
	g := rig.Rig{Name: "study rig"}
	rel := uni(0.01, 0.04)
	vol := logU(60, 400) * 1e-6
	part := uni(0.25, 0.6)
	g.Volume = unit.About(vol*part, 0)
	g.Port.Volume = unit.About(vol*(1-part), 1.96*rel*vol)
	// the whole's doubt is put on the port's part
	g.RigLeak = unit.About(0.8*cm3min, 0.3*cm3min)
	g.Port.Held = rig.HeldOwnSpring
	g.Port.WetWith = rig.WetNothing
	if f.Wet {
		g.Port.WetWith = rig.WetNotSaid
	}
	g.Gauge.Kind = rig.GaugeDigital
	g.Gauge.Span = rig.Span{Low: 0, High: 100e3, Known: true}
	acc := logU(0.002, 0.01)
	g.Gauge.Accuracy = unit.Exactly(acc)
	t.Step = logU(10, 100)
	g.Gauge.Resolution = t.Step
	t.Noise = logU(20, 250)
	t.Lag = logU(0.02, 0.3)
	if r.IntN(2) == 0 {
		g.Gauge.Response = unit.Exactly(t.Lag)
	}
	g.Air.Pressure = unit.About(pStd, 100)
	g.Air.Temperature = unit.Exactly(uni(10, 30) + 273.15)
	// the truth around it
	t.Pressure = pStd + 100/1.96*r.NormFloat64()
	t.Air = g.Air.Temperature.Value
	t.Wall = t.Air + (1-part)*3/1.96*r.NormFloat64()
	t.Volume = vol*part + vol*(1-part)*math.Exp(rel/(1-part)*r.NormFloat64())
	for t.RigLeak = -1; t.RigLeak < 0; {
		t.RigLeak = g.RigLeak.Value + g.RigLeak.SD()*r.NormFloat64()
	}
	t.Gain = acc / 1.96 * r.NormFloat64()
	t.Bow = acc / 3.92 * r.NormFloat64()
	t.Zero = 200 * r.NormFloat64()
	t.Tau = logU(0.1, 1.2)
	if f.Mix {
		t.Mix = r.Float64()
	}
	if f.Vapour {
		t.Vapour = math.Abs(100 * r.NormFloat64())
		t.TauV = logU(1, 60)
	}
	t.Rate = logU(10, 250)
	if f.Rate > 0 {
		t.Rate = f.Rate
	}
	t.Contact = logU(0.2, 1.5) * 1e-3
	free := logU(8, 30) * 1e-3 / 60
	ratio := uni(0.7, 0.82)
	if t.Flow > 0.35*free {
		free = t.Flow / 0.35
	}
	blanked := ratio * t.Pressure
	g.Pump.FreeFlow = unit.About(free, 0.1*free)
	g.Pump.Blanked = unit.About(blanked, 0.03*blanked)
	t.Hold = uni(15, 60)
	if f.Hold > 0 {
		t.Hold = f.Hold
	}
	t.off(r, &g, f)
	tr, err := t.simulate(r, &g, f)
	return t, g, tr, err
}

// simulate computes the trace of a truth with its noise.
func (t *Truth) simulate(r *rand.Rand, g *rig.Rig, f Family) (*trace.Trace, error) {
	parts, err := t.leak(r, g, f)
	if err != nil {
		return nil, err
	}
	curve, err := g.Pump.Here(t.Pressure)
	if err != nil {
		return nil, err
	}
	rho := gas.Density(t.Pressure, t.Air)
	c := rig.Closed{
		Volume: t.Volume, AirPressure: t.Pressure, AirTemp: t.Air, WallTemp: t.Wall, Tau: t.Tau, Mix: t.Mix,
		Pump: func(p float64) float64 { return rho * curve.Flow(t.Pressure-p) },
	}
	shown := rig.Shown{Lag: t.Lag, Gain: t.Gain, Bow: t.Bow, Zero: t.Zero, Step: t.Step}
	// long enough a pull to come near the steady reading
	pull := math.Min(40, 2+8*t.Volume*t.Pressure/(curve.Flow(0)*curve.Blanked()/t.Pressure*t.Pressure)*curve.Blanked()/t.Pressure) + 2*r.Float64()
	vented := 1 + 2*r.Float64()
	t.ShutOff = vented + pull
	t.put(f, parts, &c, &shown)
	vent := rig.Inflow(t.Pressure, t.Air, gas.Opening{Area: 2.5e-6}) // a fitting opened
	run, err := c.Run([]rig.Step{{For: vented}, {For: pull, Pumping: true}, {For: t.Hold}, {For: 2, Inflow: vent}})
	if err != nil {
		return nil, fmt.Errorf("simulate %+v: %w", *t, err)
	}
	if c.Effects != nil && len(c.Effects.Films) > 0 && run.Moved(0, t.ShutOff+t.Hold) < 1 {
		t.Flow = 0 // the film held to the end: nothing flowed
	}
	return t.record(r, run, &shown, vented+pull+t.Hold+2), nil
}

// record reads a run off the gauge, with noise, until it ends.
func (t *Truth) record(r *rand.Rand, run *rig.Run, shown *rig.Shown, end float64) *trace.Trace {
	n := int(end * t.Rate)
	tr := &trace.Trace{Kind: trace.Vacuum, Step: t.Step}
	phase := r.Float64()
	const fine = 0.002
	at := 0.0
	read := func(h float64) float64 {
		at += h
		v := run.Vacuum(at)
		if t.Vapour > 0 && at > t.ShutOff && at < t.ShutOff+t.Hold {
			v = math.Max(0, v-t.Vapour*(1-math.Exp(-(at-t.ShutOff)/t.TauV))) // above the room it blows off
		}
		return shown.Next(h, v)
	}
	read(0)
	for i := range n {
		ti := (float64(i) + phase) / t.Rate
		shown.Noise = nil
		for ti-at > fine {
			read(fine)
		}
		shown.Noise = func() float64 { return t.Noise * r.NormFloat64() }
		v := read(ti - at)
		tr.Time = append(tr.Time, math.Round(ti*1e4)/1e4)
		tr.Value = append(tr.Value, v)
	}
	tr.Faults.Interval = 1 / t.Rate
	tr.Faults.Rows = n
	return tr
}

// leak returns what flows into the port: through the seat, opening and seep, and
// through the rig.
func (t *Truth) leak(r *rand.Rand, g *rig.Rig, f Family) (parts leaks, err error) {
	parts.opening, err = gas.OpeningFor(t.Flow*t.Share, gas.StatedVacuum, t.Pressure, t.Air, t.Edge)
	if err != nil {
		return parts, err
	}
	head := (20 + 20*r.Float64()) * 1e-3
	s, err := gas.SeepFor(t.Flow*(1-t.Share), gas.StatedVacuum, t.Pressure, t.Air, math.Pi*head, t.Contact)
	if err != nil {
		return parts, err
	}
	if f.NoInertia {
		s.NoInertia = true
		if m, err := s.MassFlow(t.Pressure, t.Pressure-gas.StatedVacuum, t.Air); err == nil && m > 0 {
			q := m / gas.Density(t.Pressure, t.Air)
			s.Gap *= math.Cbrt(t.Flow * (1 - t.Share) / q)
		}
	}
	parts.seep = rig.Seat{Seep: s, Load: rig.Load{Head: head, Held: g.Port.Held, Weight: rig.ValveWeight}, Exponent: t.Load}
	parts.rig, err = gas.SeepFor(t.RigLeak, gas.StatedVacuum, t.Pressure, t.Air, 5e-3, 5e-3)
	return parts, err
}

// leaks are the elements side by side through which a port fills.
type leaks struct {
	opening gas.Opening
	seep    rig.Seat
	rig     gas.Seep
}

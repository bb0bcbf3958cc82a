package session

import (
	"math"
	"math/rand/v2"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
)

const cm3min = 1e-6 / 60 // m³/s

// invented is an invented test of a port, computed by the forward model, as a
// gauge shows it: what comes in, sample by sample, and what is behind it.
type invented struct {
	kind                    trace.Kind
	rate, noise, step, lag  float64
	play, friction, drift   float64 // Pa, Pa, Pa/s
	flow, volume, pa        float64 // m³/s, m³, Pa
	on, off, vent, end      float64 // s: pump on, shut off, fitting opened, last sample
	time, value, bare, true []float64
	// bare is the vacuum shown without noise and steps; true that in the port
}

// inventTest draws a test: gauges that people have, 10 to 1,000 samples a
// second, leaks of 2 to 4,000 cm³/min.
func inventTest(t testing.TB, r *rand.Rand) invented {
	uni := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	logU := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	v := invented{kind: trace.Vacuum, rate: logU(10, 1000), noise: logU(20, 250), lag: logU(0.02, 0.3)}
	switch r.IntN(3) {
	case 0:
		v.step = logU(10, 100)
	case 1:
		v.step, v.noise = 1693.2, logU(5, 150) // half an inch of mercury (NIST SP 811)
	}
	if r.IntN(3) == 0 {
		v.kind = trace.Absolute
	}
	switch r.IntN(4) { // of which rig.PracticeTable has what is usual
	case 0:
		v.play = logU(100, 800)
	case 1:
		v.friction = logU(50, 500)
	case 2:
		v.drift = uni(-2, 2)
	}
	v.flow = logU(2, 4000) * cm3min
	v.volume = logU(60, 400) * 1e-6
	v.pa = uni(84e3, 102e3)
	v.on = uni(1.5, 4)
	v.simulate(t, r, logU(4, 30)*1e-3/60, uni(0.7, 0.82)*v.pa, uni(6, 40))
	return v
}

// simulate runs the test: pulled long enough to be steady and three seconds
// more, held for hold [s], vented for two.
func (v *invented) simulate(t testing.TB, r *rand.Rand, free, blanked, hold float64) {
	free = math.Max(free, v.flow/0.35)
	share := r.Float64()
	o, err := gas.OpeningFor(v.flow*share, gas.StatedVacuum, v.pa, 293, r.Float64())
	if err != nil {
		t.Fatal(err)
	}
	s, err := gas.SeepFor(v.flow*(1-share), gas.StatedVacuum, v.pa, 293, math.Pi*27e-3, 0.5e-3)
	if err != nil {
		t.Fatal(err)
	}
	rho := gas.Density(v.pa, 293)
	c := rig.Closed{
		Volume: v.volume, AirPressure: v.pa, AirTemp: 293, WallTemp: 293, Tau: 0.1 * math.Pow(12, r.Float64()),
		Leak: rig.Inflow(v.pa, 293, o, s),
		Pump: func(p float64) float64 { return rho * free * math.Max(0, 1-(v.pa-p)/blanked) },
	}
	tau := v.volume / free * blanked / v.pa
	pull := 6*tau + 3*v.lag + 2 + 3*r.Float64()
	v.off = v.on + pull
	v.vent = v.off + hold
	v.end = v.vent + 2.5
	fitting := rig.Inflow(v.pa, 293, gas.Opening{Area: 2.5e-6})
	run, err := c.Run([]rig.Step{{For: v.on}, {For: pull, Pumping: true}, {For: hold}, {For: 2.5, Inflow: fitting}})
	if err != nil {
		t.Fatal(err)
	}
	phase := r.Float64()
	for i := 0; ; i++ {
		at := (float64(i) + phase) / v.rate
		if at > v.end {
			break
		}
		v.time = append(v.time, at)
	}
	shown := rig.Shown{Lag: v.lag, Gain: 0.01 * r.NormFloat64() / 1.96, Zero: 200 * r.NormFloat64(), Play: v.play, Friction: v.friction, Drift: v.drift}
	if v.bare, err = shown.Watch(run, v.time, 0.002); err != nil {
		t.Fatal(err)
	}
	for i, b := range v.bare {
		v.true = append(v.true, run.Vacuum(v.time[i]))
		x := b + v.noise*r.NormFloat64()
		if v.step > 0 {
			x = math.Round(x/v.step) * v.step
		}
		if v.kind == trace.Absolute {
			x = v.pa - x
		}
		v.value = append(v.value, x)
	}
}

// bareAt is what the gauge shows at t without noise and steps.
func (v *invented) bareAt(t float64) float64 {
	i := min(len(v.time)-1, max(0, int(t*v.rate)))
	return v.bare[i]
}

// first returns the first time from on at which ok holds; +Inf: never.
func (v *invented) first(from float64, ok func(bare float64) bool) float64 {
	for i, t := range v.time {
		if t >= from && ok(v.bare[i]) {
			return t
		}
	}
	return math.Inf(1)
}

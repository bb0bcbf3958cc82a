package main

import (
	"math"
	"math/rand/v2"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
)

const (
	fine     = 0.002 // s, step of the gauge's lag
	ventArea = 3e-6  // m², of the fitting opened to vent
	rest     = 20.0  // Pa from the room over which flows go to zero
	contact  = 1.2e-3
)

// trace computes the test, sampled at 20 Hz, or at 10 Hz by the handheld
// logger.
func (p job) trace() (*trace.Trace, error) {
	chance := rand.New(rand.NewPCG(p.start, 3))
	run, err := p.run(chance)
	if err != nil {
		return nil, err
	}
	rate, step, gauge := 20.0, gaugeStep, "bench gauge, 0..100 kPa"
	note := "invented example: computed, no such head exists"
	if p.handheld {
		rate, step, gauge = 10, 0.02*inHg, "handheld, inches of mercury"
		note += "; recorded by the second logger, 10 Hz, inches of mercury"
	}
	if p.masked != "" {
		note += "; masked: " + p.masked
	}
	tr := &trace.Trace{Kind: trace.Vacuum, Header: trace.Header{
		Rig: "bench rig, small pump", Port: p.name, Held: string(rig.HeldOwnSpring), Started: p.started,
		Gauge: gauge, State: p.state, Others: []string{note},
	}}
	const ventFor = 3.5
	total := p.vented + p.pull + p.hold + ventFor
	shown, last, k := 0.0, 0.0, 0
	stopped := math.NaN()
	for i := range int(total * rate) {
		at := float64(i) / rate
		for ; float64(k)*fine <= at; k++ { // first-order lag, exact for a straight line
			abs, _ := run.Pressure(float64(k) * fine)
			v := air - abs
			slope := (v - last) / fine
			shown = v - gaugeLag*slope + (shown-last+gaugeLag*slope)*math.Exp(-fine/gaugeLag)
			last = v
		}
		x := shown / gaugeSpan
		v := gaugeZero + (1+gaugeGain)*shown + gaugeBow*4*x*(1-x) + gaugeNoise*chance.NormFloat64()
		v = step * math.Round(v/step)
		if p.frozen > 0 && at >= p.vented+p.frozen && at < p.vented+p.pull+p.hold+0.4 {
			if math.IsNaN(stopped) {
				stopped = v
			}
			v = stopped
		}
		tr.Time = append(tr.Time, math.Round(at*1e4)/1e4)
		tr.Value = append(tr.Value, v)
	}
	return tr, nil
}

// run integrates the closed volume through vented, pull, hold and vented.
func (p job) run(chance *rand.Rand) (*rig.Run, error) {
	seats, err := p.seats(p.leak)
	if err != nil {
		return nil, err
	}
	weep, err := gas.SeepFor(rigLeak*perMinute, gas.StatedVacuum, air, airTemp, 5e-3, 5e-3)
	if err != nil {
		return nil, err
	}
	stands := blanked * (1 + scatter*chance.NormFloat64())
	full := gas.FreeAirMass(freeFlow, air, airTemp)
	c := rig.Closed{
		Volume: rigVolume + p.volume, AirPressure: air, AirTemp: airTemp, Tau: p.tau, Mix: p.mix,
		Leak: intoRoom(append(seats, weep)...),
		// A diaphragm pump's curve sags a little below the straight line.
		Pump: func(abs float64) float64 {
			x := (air - abs) / stands
			return full * math.Max(0, (1-x)*(1-0.12*x))
		},
	}
	if p.wet != nil {
		c.Effects = &rig.Effects{Residue: p.wet}
	}
	if f := p.film; f != nil {
		past, err := p.seats(f.past)
		if err != nil {
			return nil, err
		}
		held, err := p.seats(p.leak - f.past)
		if err != nil {
			return nil, err
		}
		c.Leak = intoRoom(append(past, weep)...)
		c.Effects = &rig.Effects{Films: []rig.Film{{Viscosity: f.viscosity, Gap: f.gap, Length: f.length, Leak: intoRoom(held...)}}}
	}
	vent := intoRoom(gas.Opening{Area: ventArea})
	return c.Run([]rig.Step{{For: p.vented}, {For: p.pull, Pumping: true}, {For: p.hold}, {For: 6, Inflow: vent}})
}

// seats returns what leaks so much [cm³/min at 50 kPa] as the port's seats do.
func (p job) seats(leak float64) ([]gas.Element, error) {
	opening, err := gas.OpeningFor(leak*p.share*perMinute, gas.StatedVacuum, air, airTemp, p.edge)
	if err != nil {
		return nil, err
	}
	seep, err := gas.SeepFor(leak*(1-p.share)*perMinute, gas.StatedVacuum, air, airTemp, math.Pi*p.valve, contact)
	if err != nil {
		return nil, err
	}
	return []gas.Element{opening, seep}, nil
}

// intoRoom returns the mass flow [kg/s] of the elements side by side from the
// room to the absolute pressure. Over the last [rest] pascals it goes to zero
// in a straight line: an opening's root has no bound to its slope there.
func intoRoom(elements ...gas.Element) func(abs float64) float64 {
	flow := func(abs float64) float64 {
		sum := 0.0
		for _, e := range elements {
			if m, err := e.MassFlow(air, math.Max(abs, 0), airTemp); err == nil {
				sum += m
			}
		}
		return sum
	}
	end := flow(air - rest)
	return func(abs float64) float64 {
		if d := air - abs; d < rest {
			return end * d / rest
		}
		return flow(abs)
	}
}

package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// faultRig is a rig as it is, the same on all its days but for a fault.
type faultRig struct {
	stated          rig.Rig
	rigVolume       float64
	portVolume      float64
	rigLeak         float64
	flow, blanked   float64
	scatter         float64 // of the blanked reading from pull to pull, relative
	gain, lag, zero float64
	noise, step     float64
	rate            float64
	ventArea        float64
	tau             float64
	pad             float64 // m³ of free air that a sound pad gives off
	valve           float64
	known           float64
	sag             float64 // of the pump's curve below a straight line
	drift           float64 // Pa/s of the zero, a sound gauge's
	padCreep        float64 // of a pad's gas volume
}

// drawFaultRig draws a rig: pumps of 3 to 20 L/min, sensors of 0.2 to 1 % at 10
// to 50 samples a second with 10 to 80 Pa of noise.
func drawFaultRig(r *rand.Rand) faultRig {
	uni := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	logU := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	x := faultRig{
		rigVolume: logU(40, 150) * 1e-6, portVolume: logU(40, 200) * 1e-6, rigLeak: logU(0.2, 3) * cm3min,
		flow: logU(3, 20) * 1e-3 / 60, blanked: uni(62e3, 84e3), scatter: logU(0.002, 0.012),
		gain: 0.005 / 1.96 * r.NormFloat64(), lag: logU(0.02, 0.25), zero: 80 * r.NormFloat64(),
		noise: logU(10, 80), step: []float64{10, 50, 100}[r.IntN(3)], rate: logU(10, 50),
		ventArea: logU(2, 12) * 1e-6, tau: logU(0.12, 0.9), pad: logU(0.005, 0.05) * 1e-6,
		valve: uni(20e-3, 36e-3), known: logU(30, 150) * cm3min, sag: uni(0, 0.15),
		drift: 0.02 * r.NormFloat64(), padCreep: logU(0.003, 0.02),
	}
	near := func(v, rel float64) unit.Measured { return unit.About(v*(1+rel/1.96*r.NormFloat64()), rel*v) }
	g := rig.Rig{Name: "study rig", Volume: near(x.rigVolume, 0.06), RigLeak: unit.About(x.rigLeak, 0.4*cm3min)}
	g.Pump = rig.Pump{FreeFlow: near(x.flow, 0.2), Blanked: near(x.blanked, 0.02), AfterShutOff: rig.PumpStopped}
	g.Gauge = rig.Gauge{Kind: rig.GaugeDigital, Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.005), Resolution: x.step}
	g.Air.Temperature = unit.Exactly(293.15)
	g.Hose.GaugeAt = []rig.GaugePlace{rig.GaugeAtPort, rig.GaugeAtPump}[r.IntN(2)]
	x.stated = g
	return x
}

// earlierDays are the sound days that a rig is remembered by.
const earlierDays = 1

// DrawDay draws a day of a rig with a fault ("": none), and the memory of a
// sound day of the same rig. A day is three pulls on a blank, the last with the
// pump running on, one on a known leak, and three on two ports, the first
// twice; twelve minutes in all.
func DrawDay(fault check.FaultCode, r *rand.Rand) (check.Day, error) {
	x := drawFaultRig(r)
	var earlier []check.Day
	for range earlierDays {
		d, err := x.day("", r, true)
		if err != nil {
			return d, err
		}
		earlier = append(earlier, d)
	}
	d, err := x.day(fault, r, false)
	d.Before = check.Remember(earlier...)
	if err == nil && d.Before == nil {
		err = fmt.Errorf("study: nothing to remember of a sound day")
	}
	return d, err
}

// faulty is what a fault does on its day.
type faulty struct {
	zero, slide      float64 // Pa; slide over the day
	friction, lag    float64
	blanked, flow    float64 // factors
	fitting, passing float64 // m³/s
	hose             float64 // m³/s that the hose passes choked; 0: as good as any
	liquid           rig.Liquid
	liquidTau        float64
	creep, gas       float64
}

// drawFault draws how strong a fault is, from what is plain to what a careful
// person would just find.
func drawFault(f check.FaultCode, x faultRig, r *rand.Rand) faulty {
	logU := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	sign := float64(1 - 2*r.IntN(2))
	y := faulty{blanked: 1, flow: 1}
	switch f {
	case check.FaultOffset:
		y.zero = sign * logU(600, 4000)
	case check.FaultSticky:
		y.friction = logU(400, 1500)
	case check.FaultLagging:
		y.lag = logU(0.8, 4)
	case check.FaultDrift:
		y.slide = sign * logU(600, 4000)
	case check.FaultValves:
		y.blanked = 1 - logU(0.05, 0.25)
	case check.FaultPump:
		y.flow, y.blanked = 1-logU(0.3, 0.75), 1-0.02*r.Float64()
	case check.FaultHose:
		y.hose = x.flow * logU(0.1, 0.45)
	case check.FaultFitting:
		y.fitting = x.rigLeak + logU(3, 40)*cm3min
	case check.FaultShutOff:
		y.passing = x.rigLeak + logU(3, 40)*cm3min
	case check.FaultMoisture:
		y.liquid = []rig.Liquid{rig.WetWater, rig.WetIsopropanol, rig.WetAcetone}[r.IntN(3)]
		y.liquidTau = logU(12, 60)
	case check.FaultPad:
		y.creep, y.gas = logU(0.06, 0.2), logU(0.4, 2)*1e-6
	}
	return y
}

// day makes the recordings of a day; short leaves the ports out.
func (x faultRig) day(fault check.FaultCode, r *rand.Rand, short bool) (check.Day, error) {
	uni := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	logU := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	y := drawFault(fault, x, r)
	pa := 100e3 + 1000*r.NormFloat64()
	g := x.stated
	g.Air.Pressure = unit.About(pa, 150)
	pa += 75 * r.NormFloat64()
	d := check.Day{Rig: g}
	x.zero += 30 * r.NormFloat64()
	x.flow *= math.Exp(0.02 * r.NormFloat64()) // supply voltage, warmth
	x.rigLeak *= math.Exp(0.08 * r.NormFloat64())
	x.ventArea *= math.Exp(0.15 * r.NormFloat64())
	type pull struct {
		on       check.On
		name     string
		leak     float64
		volume   float64
		pump     rig.PumpState
		liquid   float64 // m³ left
		headWarm float64
	}
	all := []pull{{on: check.OnABlank, name: "blank"}, {on: check.OnABlank, name: "blank"}, {on: check.OnABlank, name: "blank, pump running on", pump: rig.PumpRunning}, {on: check.OnAKnownLeak, name: "known leak", leak: x.known}}
	if !short {
		bad := r.IntN(5) // one port of a head may leak: that is no fault of the rig
		var first pull
		for i := range 2 {
			p := pull{on: check.OnAPort, name: fmt.Sprintf("cylinder %d intake", i+1), leak: logU(2, 40) * cm3min, volume: x.portVolume * uni(0.97, 1.03), headWarm: 2 * r.NormFloat64()}
			if i == bad {
				p.leak = logU(100, 800) * cm3min
			}
			if y.liquid != "" {
				p.liquid = uni(0.05, 0.4) * 1e-6
			}
			if i == 0 {
				first = p
			}
			all = append(all, p)
		}
		again := first
		again.leak *= math.Exp(0.25 * r.NormFloat64())
		again.liquid *= uni(0.1, 0.5) // the pulls between took the rest
		all = append(all, again)
	}
	clock := 0.0
	span := 110.0 * float64(len(all)-1)
	for _, p := range all {
		zero := x.zero + y.zero + x.drift*clock
		if y.slide != 0 { // as a sensor warms: most of it early
			zero += y.slide * (1 - math.Exp(-1.5*clock/span))
		}
		tr, err := x.record(p.on, p.leak, p.volume, p.liquid, p.pump, p.headWarm, zero, pa, y, span, clock, r)
		if err != nil {
			return d, err
		}
		d.Pulls = append(d.Pulls, check.Pulled{On: p.on, Name: p.name, At: clock, Trace: tr, Volume: unit.About(x.portVolume, 0.1*x.portVolume), Pump: p.pump})
		if p.on != check.OnAPort {
			d.Pulls[len(d.Pulls)-1].Volume = unit.Measured{}
		}
		clock += uni(90, 130)
	}
	return d, nil
}

// record runs one pull through the forward model and the gauge.
func (x faultRig) record(on check.On, leak, volume, liquid float64, state rig.PumpState, headWarm, zero, pa float64, y faulty, span, clock float64, r *rand.Rand) (*trace.Trace, error) {
	uni := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	const ta = 293.15
	share := r.Float64()
	if on == check.OnAKnownLeak {
		share = 1
	}
	opening, err := gas.OpeningFor(leak*share, gas.StatedVacuum, pa, ta, r.Float64())
	if err != nil {
		return nil, err
	}
	seep, err := gas.SeepFor(leak*(1-share), gas.StatedVacuum, pa, ta, math.Pi*x.valve, 1.2e-3)
	if err != nil {
		return nil, err
	}
	weep, err := gas.SeepFor(x.rigLeak+y.fitting, gas.StatedVacuum, pa, ta, 5e-3, 5e-3)
	if err != nil {
		return nil, err
	}
	blanked := x.blanked / 100e3 * pa * y.blanked * (1 + x.scatter*r.NormFloat64())
	pump := func(p float64) float64 { // kg/s at the pump's own inlet
		v := math.Max(0, 1-(pa-p)/blanked)
		return gas.FreeAirMass(x.flow*y.flow, pa, ta) * v * (1 - x.sag*(1-v))
	}
	draws, atPump := pump, func(p float64) float64 { return p }
	if y.hose > 0 {
		// in line with the pump: find the pressure behind the hose at which both pass the same
		c, err := gas.ConductanceFor(y.hose, math.Min(0.6*pa, 60e3), pa, ta, 0.3)
		if err != nil {
			return nil, err
		}
		atPump = func(p float64) float64 {
			low, high := 0.0, p
			for range 26 {
				m := (low + high) / 2
				if w, err := c.MassFlow(p, m, ta); err == nil && w > pump(m) {
					low = m // the hose passes more than the pump takes: the pressure rises
				} else {
					high = m
				}
			}
			return (low + high) / 2
		}
		draws = func(p float64) float64 { return pump(atPump(p)) }
	}
	c := rig.Closed{Volume: x.rigVolume + volume, AirPressure: pa, AirTemp: ta, Tau: x.tau, Leak: rig.Inflow(pa, ta, opening, seep, weep), Pump: draws}
	if on == check.OnAPort {
		c.WallTemp = ta + 0.6*headWarm
	}
	// what gives way at once is part of the volume; the late half creeps
	creeps := rig.Pad(10e-6, x.padCreep+y.creep, uni(12, 18))[1:]
	e := &rig.Effects{Yields: creeps, Store: rig.Store{Gas: x.pad + y.gas, Tau: uni(10, 20)}}
	if liquid > 0 {
		e.Residue = &rig.Residue{Liquid: y.liquid, Volume: liquid, Tau: y.liquidTau, Start: 0}
	}
	if y.passing > 0 && state != rig.PumpRunning {
		s, err := gas.SeepFor(y.passing, gas.StatedVacuum, pa, ta, 5e-3, 5e-3)
		if err != nil {
			return nil, err
		}
		e.Back = rig.Inflow(pa, ta, s)
	}
	c.Effects = e
	vented := uni(2.5, 4)
	pull := math.Max(12, 14*c.Volume*blanked/(pa*x.flow*y.flow))
	if y.hose > 0 {
		pull = math.Max(pull, 14*c.Volume*blanked/(pa*y.hose))
	}
	pull = math.Min(pull+3*r.Float64(), 60)
	hold := uni(28, 34)
	run, err := c.Run([]rig.Step{{For: vented}, {For: pull, Pumping: true}, {For: hold}, {For: 6, Inflow: rig.Inflow(pa, ta, gas.Opening{Area: x.ventArea})}})
	if err != nil {
		return nil, err
	}
	lag := math.Max(x.lag, y.lag)
	shown := rig.Shown{Lag: lag, Friction: y.friction, Gain: x.gain, Zero: zero, Step: x.step,
		Noise: func() float64 { return x.noise * r.NormFloat64() }}
	if y.slide != 0 {
		shown.Drift = y.slide * 1.5 / span * math.Exp(-1.5*clock/span)
	}
	tr := &trace.Trace{Kind: trace.Vacuum, Step: x.step}
	total := vented + pull + hold + 6
	start := vented
	see := func(t float64) float64 {
		if y.hose > 0 && x.stated.Hose.GaugeAt == rig.GaugeAtPump && t > start && t <= start+pull {
			p, _ := run.Pressure(t)
			return pa - atPump(p)
		}
		return run.Vacuum(t)
	}
	fine := math.Min(0.02, lag/2)
	last := 0.0
	for i := 0; ; i++ {
		at := float64(i) / x.rate
		if at > total {
			break
		}
		noise := shown.Noise
		shown.Noise = nil
		step := shown.Step
		shown.Step = 0
		for last+fine < at {
			last += fine
			shown.Next(fine, see(last))
		}
		shown.Noise, shown.Step = noise, step
		v := shown.Next(at-last, see(at))
		last = at
		tr.Time, tr.Value = append(tr.Time, at), append(tr.Value, v)
	}
	return tr, nil
}

// Confusion counts what was called of days with each fault: rows are the truth,
// "" the sound days, columns the first fault named, "" none.
type Confusion struct {
	Count map[check.FaultCode]map[check.FaultCode]int
	Also  map[check.FaultCode]int // the fault was named, but not first
	Err   error
}

// CountFaults runs n days of each fault and sound days without one.
func CountFaults(n, sound int, seed uint64) Confusion {
	type job struct {
		fault check.FaultCode
		i     int
	}
	c := Confusion{Count: map[check.FaultCode]map[check.FaultCode]int{"": {}}, Also: map[check.FaultCode]int{}}
	jobs := make(chan job)
	var mu sync.Mutex
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Add(1)
		go func() {
			defer group.Done()
			for j := range jobs {
				row := uint64(0)
				for k, f := range check.FaultCodes {
					if f == j.fault {
						row = uint64(k + 1)
					}
				}
				d, err := DrawDay(j.fault, rand.New(rand.NewPCG(seed+1000*row, uint64(j.i))))
				var found []check.Fault
				if err == nil {
					found = check.FindFault(d)
				}
				mu.Lock()
				if err != nil {
					c.Err = fmt.Errorf("day %d of %q: %w", j.i, j.fault, err)
				}
				called := check.FaultCode("")
				for k, f := range found {
					if k == 0 {
						called = f.Code
					} else if f.Code == j.fault {
						c.Also[j.fault]++
					}
				}
				if c.Count[j.fault] == nil {
					c.Count[j.fault] = map[check.FaultCode]int{}
				}
				c.Count[j.fault][called]++
				mu.Unlock()
			}
		}()
	}
	for i := range sound {
		jobs <- job{"", i}
	}
	for _, f := range check.FaultCodes {
		for i := range n {
			jobs <- job{f, i}
		}
	}
	close(jobs)
	group.Wait()
	return c
}

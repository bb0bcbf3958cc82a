// Package practise is a make-believe rig with a make-believe head on it, for
// practising and for tests: it shows what a real one would, by the forward model
// of package rig, and speaks as real sensors do.
//
// Start with [New], which puts a head of any layout on a rig, and [Bench.Shown],
// what its gauge shows at a time. [Operator] is the person at it. Everything is
// invented and follows from the seed; time is an argument.
package practise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/unit"
)

// What the plate may be put on beside a port.
const (
	Nothing   = ""           // the hose is open
	Blank     = "blank"      // flat and clean
	KnownLeak = "known-leak" // a restrictor of known flow, on the blank
)

// Valve is a valve's seat and guide as it is.
type Valve struct {
	ID    string
	Leak  float64 // m³/s of free air at 50 kPa, through the seat
	Share float64 // 0..1 of it that flows as an opening
	Head  float64 // m, diameter
}

// Port is a port of the make-believe head.
type Port struct {
	ID     string
	Volume float64 // m³, as it is
	Valves []Valve
	Faults []Fault // of this port alone
}

// Setup is a make-believe rig and head.
type Setup struct {
	Ports     []Port
	KnownLeak float64 // m³/s of free air at 50 kPa; 0: 60 cm³/min
	Scatter   float64 // sd of the logarithm of a port's leak between tests; 0: 0.2
	Rate      float64 // samples/s; 0: 50
	Seed      uint64
	Faults    []Fault // of the rig, or of every port
	RunsOn    bool    // the pump runs on behind the shut valve
}

// KnownOf names a known leak of a flow of its own [m³/s of free air at 50 kPa].
func KnownOf(flow float64) string {
	return KnownLeak + "=" + strconv.FormatFloat(flow, 'g', -1, 64)
}

func isKnown(on string) bool { return on == KnownLeak || strings.HasPrefix(on, KnownLeak+"=") }

// knownFlow is the flow of a known leak by its name [m³/s].
func (b *Bench) knownFlow(on string) float64 {
	if _, text, ok := strings.Cut(on, "="); ok {
		if q, err := strconv.ParseFloat(text, 64); err == nil && q > 0 && q < 1 {
			return q
		}
	}
	return b.set.KnownLeak
}

// KnownUsual is the known leak where a setup gives none [m³/s of free air at 50
// kPa].
const KnownUsual = knownFlow

// The rig as it is. Its owner states what [Stated] says; the two differ within
// what is stated.
const (
	cm3min     = 1e-6 / 60 // m³/s
	air        = 100.63e3  // Pa
	airTemp    = 293.45    // K
	rigVolume  = 61.1e-6   // m³
	rigLeak    = 0.7 * cm3min
	freeFlow   = 9.7e-3 / 60
	blanked    = 77.3e3 // Pa, on an average pull
	pullToPull = 0.006  // of the blanked reading, sd
	portPart   = 0.6    // of the volume, for what depends on it
	wallTau    = 0.3    // s
	ventArea   = 2.5e-6 // m², a fitting opened
	knownFlow  = 60 * cm3min
	between    = 0.2
	usualRate  = 50.0
	horizon    = 900.0 // s that an unfinished step is computed ahead
	fine       = 0.01  // s, the gauge's step
	gone       = 30.0  // Pa, a vacuum that is none
)

// Stated is the rig as its owner states it.
func Stated() rig.Rig {
	return rig.Rig{
		Name:    "practice rig",
		Volume:  unit.About(62e-6, 2.5e-6),
		RigLeak: unit.About(0.6*cm3min, 0.3*cm3min),
		Port:    rig.Port{Held: rig.HeldOwnSpring, WetWith: rig.WetNothing},
		Pump:    rig.Pump{FreeFlow: unit.About(10e-3/60, 0.6e-3/60), Blanked: unit.About(77.4e3, 1.2e3), AfterShutOff: rig.PumpStopped},
		Gauge: rig.Gauge{
			Kind: rig.GaugeDigital, Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.005),
			Resolution: 50, Response: unit.Exactly(0.06),
		},
		Air: rig.Air{Pressure: unit.About(100.6e3, 100), Temperature: unit.Exactly(293.15)},
	}
}

// Bench is the rig as it stands at a moment. Times [s] only grow. It is not
// safe for concurrent use.
type Bench struct {
	set   Setup
	r     *rand.Rand
	shown rig.Shown
	noise float64
	now   float64
	first bool

	on      string // what the plate is on
	begun   float64
	closed  *rig.Closed
	steps   []rig.Step // those that ended, and the one that goes on
	stepAt  float64    // s from begun, when the last one began
	run     *rig.Run
	pumping bool
	vented  bool
	lastVac float64
	runsOn  bool                    // this hold: the pump runs on behind the shut valve
	hose    *hose                   // nil: it takes nothing
	back    func(p float64) float64 // kg/s through the shut-off valve with the pump stopped; nil: none
}

// New puts a head on a rig. The error says what of the setup no rig can be.
func New(set Setup) (*Bench, error) {
	if set.KnownLeak == 0 {
		set.KnownLeak = knownFlow
	}
	if set.Scatter == 0 {
		set.Scatter = between
	}
	if set.Rate == 0 {
		set.Rate = usualRate
	}
	if !(set.Rate > 0 && set.Rate <= 10e3) {
		return nil, fmt.Errorf("practice rig: %g samples a second: give 1 to 10,000", set.Rate)
	}
	for _, p := range set.Ports {
		if !(p.Volume > 0 && p.Volume < 0.1) {
			return nil, fmt.Errorf("practice rig: port %s: a volume of %g m³", p.ID, p.Volume)
		}
		for _, v := range p.Valves {
			if !(v.Leak >= 0 && v.Leak < 1 && v.Share >= 0 && v.Share <= 1 && v.Head > 0) {
				return nil, fmt.Errorf("practice rig: valve %s: leak %g m³/s, share %g, head %g m", v.ID, v.Leak, v.Share, v.Head)
			}
		}
	}
	set.Ports = slices.Clone(set.Ports)
	for i := range set.Ports {
		set.Ports[i].Valves = slices.Clone(set.Ports[i].Valves)
	}
	for i, f := range set.Faults {
		if f.Name != LeakingValve {
			continue
		}
		if err := f.valve(set.Ports, rand.New(rand.NewPCG(set.Seed, 0x1ea+uint64(i)))); err != nil {
			return nil, err
		}
	}
	b := &Bench{set: set, r: rand.New(rand.NewPCG(set.Seed, 0x5ea7)), noise: 35, vented: true, first: true}
	b.shown = rig.Shown{Lag: 0.06, Gain: 0.0012, Bow: -60.0 / 100e3, Span: 100e3, Zero: 130, Step: 50}
	var dummy rig.Closed
	for _, f := range set.Faults {
		f.gauge(&dummy, &b.shown)
	}
	return b, nil
}

// Rate returns how many samples a second the gauge gives.
func (b *Bench) Rate() float64 { return b.set.Rate }

// On returns what the plate is on: a port's identity, or one of [Nothing],
// [Blank], [KnownLeak].
func (b *Bench) On() string { return b.on }

// Pumping says whether the pump draws on the port; Vented whether it is open to
// the room.
func (b *Bench) Pumping() bool { return b.pumping }

// Vented says whether the rig is open to the room.
func (b *Bench) Vented() bool { return b.vented && b.lastVac < 200 }

// Put puts the plate on a port, the blank or the known leak, at time t; the rig
// is open to the room for that. Each time the leak is drawn anew about the
// port's own, as valves are turned and plates put down.
func (b *Bench) Put(t float64, on string) error {
	b.advance(t)
	port := Port{ID: on, Volume: 2e-6}
	switch on {
	case Nothing, Blank:
	default:
		if isKnown(on) {
			port.Valves = []Valve{{ID: on, Leak: b.knownFlow(on), Share: 1, Head: 1e-3}}
			break
		}
		i := -1
		for k := range b.set.Ports {
			if b.set.Ports[k].ID == on {
				i = k
			}
		}
		if i < 0 {
			return fmt.Errorf("practice rig: there is no port %q", on)
		}
		port = b.set.Ports[i]
	}
	c, err := b.close(port)
	if err != nil {
		return err
	}
	b.on, b.closed, b.run, b.steps = on, c, nil, nil
	b.pumping, b.vented, b.lastVac = false, true, 0
	return nil
}

// Pump switches the pump on with the valve open, at time t.
func (b *Bench) Pump(t float64) error {
	b.advance(t)
	if b.closed == nil || b.on == Nothing {
		return nil // it sucks the room's air
	}
	b.pumping, b.vented = true, false
	return b.step(t, rig.Step{Pumping: true})
}

// ShutOff shuts the pump off at time t: the hold begins.
func (b *Bench) ShutOff(t float64) error {
	b.advance(t)
	b.pumping = false
	if b.run == nil {
		return nil
	}
	if !b.runsOn && !b.set.RunsOn {
		return b.step(t, rig.Step{Inflow: b.back})
	}
	return b.step(t, rig.Step{})
}

// KeepRunning says whether the pump runs on behind the shut valve in the holds that
// follow: what leaks back through the valve then is drawn off.
func (b *Bench) KeepRunning(on bool) { b.runsOn = on }

// Vent opens the rig to the room at time t.
func (b *Bench) Vent(t float64) error {
	b.advance(t)
	b.pumping, b.vented = false, true
	if b.run == nil {
		return nil
	}
	return b.step(t, rig.Step{Inflow: rig.Inflow(air, airTemp, gas.Opening{Area: ventArea})})
}

// step ends the step that goes on and begins another.
func (b *Bench) step(t float64, s rig.Step) error {
	if len(b.steps) == 0 {
		b.begun = t
	} else {
		b.steps[len(b.steps)-1].For = math.Max(1e-6, t-b.begun-b.stepAt)
	}
	b.stepAt = t - b.begun
	s.For = horizon
	if b.vented {
		s.For = 20
	}
	b.steps = append(b.steps, s)
	run, err := b.closed.Run(b.steps)
	if err != nil {
		return fmt.Errorf("practice rig: %w", err)
	}
	b.run = run
	return nil
}

// vacuum is how far the closed volume lies below the room at t [Pa].
func (b *Bench) vacuum(t float64) float64 {
	if b.run == nil {
		return 0
	}
	return b.run.Vacuum(t - b.begun)
}

// Vacuum returns the true vacuum at the last moment that was shown [Pa].
func (b *Bench) Vacuum() float64 { return b.lastVac }

// advance takes the gauge on to t without a sample.
func (b *Bench) advance(t float64) {
	if b.first {
		b.first, b.now = false, t
		b.shown.Next(0, b.atGauge(b.vacuum(t)))
	}
	noise := b.shown.Noise
	b.shown.Noise = nil
	for b.now < t {
		h := math.Min(fine, t-b.now)
		b.now += h
		b.lastVac = b.vacuum(b.now)
		b.shown.Next(h, b.atGauge(b.lastVac))
	}
	b.shown.Noise = noise
	if b.vented && b.run != nil && b.lastVac < gone {
		b.run, b.steps = nil, nil // the next pull begins at rest
	}
}

// Shown returns what the gauge shows at t [Pa of vacuum].
func (b *Bench) Shown(t float64) float64 {
	h := math.Min(fine, math.Max(0, t-b.now))
	b.advance(t - h)
	b.shown.Noise = func() float64 { return b.noise * b.r.NormFloat64() }
	b.now = t
	b.lastVac = b.vacuum(t)
	v := b.shown.Next(h, b.atGauge(b.lastVac))
	b.shown.Noise = nil
	return v
}

// close builds the closed volume of a port as it is this time.
func (b *Bench) close(p Port) (*rig.Closed, error) {
	pull := blanked * (1 + pullToPull*b.r.NormFloat64())
	flow := freeFlow
	for _, f := range b.set.Faults {
		switch f.Name {
		case TiredPump:
			pull *= 1 - f.Strength
		}
	}
	rho := gas.Density(air, airTemp)
	c := &rig.Closed{
		Volume: rigVolume + p.Volume, AirPressure: air, AirTemp: airTemp, WallTemp: airTemp, Tau: wallTau,
		Pump: func(p float64) float64 { return rho * flow * math.Max(0, 1-(air-p)/pull) },
	}
	b.hose, b.back = nil, nil
	bore := 0.0
	for _, f := range b.set.Faults {
		switch f.Name {
		case NarrowHose:
			bore = f.Strength
		case GaugeAtPump:
			if bore == 0 {
				bore = soundBore
			}
		case ValvePasses:
			s, err := gas.SeepFor(f.Strength, gas.StatedVacuum, air, airTemp, valveSlot, valveSlot)
			if err != nil {
				return nil, fmt.Errorf("practice rig: fault %s: %w", f.Name, err)
			}
			b.back = rig.Inflow(air, airTemp, s)
		}
	}
	if bore > 0 {
		h, err := newHose(bore, c.Pump)
		if err != nil {
			return nil, err
		}
		b.hose, c.Pump = h, h.drawn
	}
	var elements []gas.Element
	leaks, err := gas.SeepFor(rigLeak, gas.StatedVacuum, air, airTemp, 5e-3, 5e-3)
	if err != nil {
		return nil, err
	}
	elements = append(elements, leaks)
	scatter := math.Exp(b.set.Scatter * b.r.NormFloat64())
	if isKnown(p.ID) {
		scatter = 1
	}
	for _, v := range p.Valves {
		o, err := gas.OpeningFor(v.Leak*scatter*v.Share, gas.StatedVacuum, air, airTemp, 0.5)
		if err != nil {
			return nil, err
		}
		s, err := gas.SeepFor(v.Leak*scatter*(1-v.Share), gas.StatedVacuum, air, airTemp, math.Pi*v.Head, 1.2e-3)
		if err != nil {
			return nil, err
		}
		elements = append(elements, o, s)
	}
	faults := append(append([]Fault(nil), b.set.Faults...), p.Faults...)
	for _, f := range faults {
		if p.ID == Blank || isKnown(p.ID) {
			break // they are faults of ports
		}
		if f.Name == PlateNotSeated && b.r.Float64() < 0.5 {
			o, err := gas.OpeningFor(f.Strength, gas.StatedVacuum, air, airTemp, 1)
			if err != nil {
				return nil, err
			}
			elements = append(elements, o)
		}
	}
	c.Leak = rig.Inflow(air, airTemp, elements...)
	for _, f := range faults {
		f.apply(c, p.ID)
	}
	return c, nil
}

// Leak returns the leak of a port's valves together, as it is [m³/s of free air
// at 50 kPa]; of the known leak its flow.
func (b *Bench) Leak(on string) float64 {
	if isKnown(on) {
		return b.knownFlow(on)
	}
	sum := 0.0
	for _, p := range b.set.Ports {
		if p.ID == on {
			for _, v := range p.Valves {
				sum += v.Leak
			}
		}
	}
	return sum
}

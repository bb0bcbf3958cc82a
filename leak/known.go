package leak

import (
	"math"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/unit"
)

// known is the rig as the estimator takes it: every input a median with a
// standard deviation, guessed wide where nobody gave it.
type known struct {
	pa, paSD       float64 // Pa
	ta             float64 // K
	headT, headTSD float64 // K, wall temperature of the port's part
	rigV, portV    lognormal
	hasVolume      bool
	rigLeak        float64 // m³/s at 50 kPa
	rigLeakSD      float64
	spanLow, span  float64 // Pa
	gainSD         float64 // of the reading
	bowSD          float64 // of span
	resolution     float64 // Pa
	zero           unit.Measured
	line           *rig.GaugeLine // corrects the readings before all else; nil: none
	lag, lagLogSD  float64        // s, and sd of its logarithm
	held           rig.Held
	preload        float64 // Pa, the vacuum that would press the valve as its spring or a thumb does
	fades          fading
	guessed        []guess
}

// guess is an input that nobody gave; input is its name in the budget, name that
// by which it is told, and part its share of the input's variance, 1 for all.
type guess struct {
	input string
	name  string
	part  float64
	value unit.Measured
	dim   unit.Dimension
}

// lognormal is a positive figure with its median and the sd of its logarithm.
type lognormal struct{ median, logSD float64 }

func newLognormal(m unit.Measured) lognormal {
	if m.Value <= 0 {
		return lognormal{}
	}
	return lognormal{m.Value, m.SD() / m.Value}
}

// Guesses for what nobody gave (±: 95 %), common practice, no source.
var (
	guessPressure    = unit.About(98e3, 5e3)
	guessTemperature = unit.About(293.15, 8)
	guessRigVolume   = unit.About(60e-6, 40e-6)
	guessPortVolume  = unit.About(100e-6, 70e-6)
	guessRigLeak     = unit.About(1e-6/60, 2e-6/60)
	guessAccuracy    = 0.02 // of span
	altitudeWeather  = 2e3  // Pa, ± on the pressure that an altitude alone gives
	headSpread       = 8.0  // K, ± on a head nobody took the temperature of
)

// Budget inputs, as named in a reading.
const (
	inputNoise    = "samples"
	inputVolume   = "volume"
	inputGauge    = "gauge accuracy"
	inputZero     = "gauge zero"
	inputRigLeak  = "rig leak"
	inputPressure = "air pressure"
	inputTemp     = "temperature"
	inputLaw      = "way of flowing"
	inputWall     = "wall heat"
	inputVapour   = "vapour"
	inputLag      = "gauge response"
	inputPump     = "pump curve"
	inputBlanked  = "blanked reading"
)

// class837 is how much an EN 837-1 class counts as a 95 % accuracy: a
// rectangular limit (GUM 4.3.7) of 1/sqrt(3), times 1.96.
const class837 = 1.13

func takeRig(r rig.Rig) known {
	var k known
	k.takeAir(r)
	k.takeVolumes(r)
	k.takeGauge(r.Gauge)
	k.held, k.preload = r.Port.Held, preload(r.Port.Held)
	leak := r.RigLeak
	if !leak.Known {
		leak = guessRigLeak
		k.guess(inputRigLeak, leak, unit.FlowDim)
	}
	k.rigLeak, k.rigLeakSD = cutAtZero(leak.Value, leak.SD())
	k.fades = newFading(r.Port.WetWith, k.headT)
	return k
}

// cutAtZero returns mean and sd of a normal figure that can't be below zero.
func cutAtZero(mean, sd float64) (m, s float64) {
	if sd <= 0 || mean > 5*sd {
		return math.Max(mean, 0), sd
	}
	x := mean / sd
	h := math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) / num.NormalCDF(x) // hazard at the cut
	return mean + sd*h, sd * math.Sqrt(math.Max(1-h*(h+x), 1e-6))
}

func (k *known) guess(input string, m unit.Measured, d unit.Dimension) {
	k.guessed = append(k.guessed, guess{input, input, 1, m, d})
}

func (k *known) takeAir(r rig.Rig) {
	p := r.Air.Pressure
	if !p.Known {
		if r.Air.Altitude.Known {
			h := r.Air.Altitude
			p = guessPressure
			if here, err := gas.StandardPressure(h.Value); err == nil {
				p = unit.About(here, math.Hypot(altitudeWeather, 11.5*h.Spread)) // 11.5 Pa a metre
			}
		} else {
			p = guessPressure
			k.guess(inputPressure, p, unit.PressureDim)
		}
	}
	k.pa, k.paSD = p.Value, p.SD()
	t := r.Air.Temperature
	if !t.Known {
		t = guessTemperature
		k.guess(inputTemp, t, unit.TemperatureDim)
	}
	k.ta = t.Value
	head := r.Port.HeadTemperature.Or(unit.About(t.Value, headSpread))
	k.headT, k.headTSD = head.Value, head.SD()
}

func (k *known) takeVolumes(r rig.Rig) {
	rv, pv := r.Volume, r.Port.Volume
	k.hasVolume = rv.Known || pv.Known
	if !k.hasVolume {
		rv, pv = guessRigVolume, guessPortVolume
	}
	rigGuessed, portGuessed := !rv.Known || !k.hasVolume, !pv.Known || !k.hasVolume || r.Port.VolumeGuessed
	rv, pv = rv.Or(guessRigVolume), pv.Or(guessPortVolume)
	k.rigV, k.portV = newLognormal(rv), newLognormal(pv)
	whole := math.Max(1e-30, rv.Spread*rv.Spread+pv.Spread*pv.Spread) // the variance of the sum, but for a factor
	if rigGuessed {
		k.guessed = append(k.guessed, guess{inputVolume, "rig volume", rv.Spread * rv.Spread / whole, rv, unit.VolumeDim})
	}
	if portGuessed {
		k.guessed = append(k.guessed, guess{inputVolume, "port volume", pv.Spread * pv.Spread / whole, pv, unit.VolumeDim})
	}
}

func (k *known) takeGauge(g rig.Gauge) {
	k.spanLow, k.span = 0, 100e3
	if g.Span.Known && g.Span.Width() > 0 {
		k.spanLow, k.span = g.Span.Low, g.Span.Width()
	}
	acc := guessAccuracy
	k.line = g.Line
	switch {
	case g.Accuracy.Known:
		acc = g.Accuracy.Value
	case g.Class > 0:
		acc = class837 * g.Class / 100
	case g.Line == nil:
		k.guess(inputGauge, unit.Exactly(acc), unit.RatioDim)
	}
	k.gainSD, k.bowSD = acc/1.96, acc/3.92
	if l := g.Line; l != nil {
		k.gainSD = l.Slope.SD() / math.Max(0.5, 1+l.Slope.Value) // of what is corrected
		if l.Bow.Known {
			k.bowSD = l.Bow.Value / 1.96 / k.span
		}
	}
	k.resolution = math.Max(g.Resolution, 0)
	if g.Division > 0 && k.resolution == 0 {
		k.resolution = g.Division / 2
	}
	k.zero = k.correctZero(g.Zero)
	const low, high = 0.02, 0.5
	k.lag, k.lagLogSD = math.Sqrt(low*high), math.Log(high/low)/math.Sqrt(12)
	if g.Response.Known {
		k.lag, k.lagLogSD = g.Response.Value, 0
		if g.Response.Value > 0 {
			k.lagLogSD = g.Response.SD() / g.Response.Value
		}
	}
}

// volume returns the median whole volume [m³].
func (k *known) volume() float64 { return k.rigV.median + k.portV.median }

// wall returns the wall's temperature over the room's, weighted by volume, and
// its sd.
func (k *known) wall() (ratio, sd float64) {
	v := k.volume()
	part := k.portV.median / v
	t := (k.rigV.median*k.ta + k.portV.median*k.headT) / v
	return t / k.ta, part * k.headTSD / k.ta
}

// slipPrior returns mean and sd of the slip weight of a seep of free-air flow q
// [m³/s] round a seat of unknown size: its gap follows from the flow, for seats
// of 20 to 40 mm and contacts of 0.2 to 1.5 mm, and is kept within 0.5 to 20 µm.
func slipPrior(q, pa, ta float64) (mean, sd float64) {
	var n, s, ss float64
	for _, d := range []float64{0.020, 0.028, 0.040} {
		for _, length := range []float64{0.22e-3, 0.36e-3, 0.6e-3, 1.0e-3, 1.4e-3} {
			h := 3e-6
			if seep, err := gas.SeepFor(math.Max(q, 1e-9), gas.StatedVacuum, pa, ta, math.Pi*d, length); err == nil {
				h = math.Min(math.Max(seep.Gap, 0.5e-6), 20e-6)
			}
			w := slipWeight(h, pa, ta)
			n++
			s += w
			ss += w * w
		}
	}
	mean = s / n
	return mean, math.Hypot(math.Sqrt(ss/n-mean*mean), 0.02)
}

// inertiaNumber returns Re·h/(12 L), the inertia of a seep of free-air flow q
// [m³/s] round a 27 mm seat of contact width length [m], and its gap [m].
// It is the guess for seats of unknown size.
func inertiaNumber(q, length, pa, ta float64) (number, gap float64) {
	if q <= 0 {
		return 0, 0
	}
	w := math.Pi * 0.027
	mu := gas.Viscosity(ta)
	mdot := q * gas.Density(pa, ta)
	p2 := pa - gas.StatedVacuum
	gap = math.Cbrt(mdot * 24 * mu * gas.R * ta * length / (w * (pa*pa - p2*p2)))
	return 2 * mdot / (w * mu) * gap / (12 * length), gap
}

package study

import (
	"fmt"
	"math"
	"math/rand/v2"

	"seatproof/gas"
	"seatproof/rig"
)

// The coordinates of the yardstick's posterior. All but the first are normal
// deviates, mapped on the figures so that the normal N(0,1) is their prior (for
// atStart: what the steady samples say); the first is the log of the whole leak
// over the volume, whose prior follows from the flat one of the flow.
const (
	atTotal = iota
	atStart
	atRig
	atShare
	atEdge
	atTau
	atMix
	atVapour
	atTauVapour
	atGain
	atBow
	atZero
	atPressure
	atWall
	atShut
	atSlip
	atInertia
	atLoad
	atLag // last: left out where the lag is stated
	coordinates
)

// z95 is the 97.5 % quantile of the normal distribution.
const z95 = 1.959963984540054

// normalCDF is the normal distribution function.
func normalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normalQuantile is its inverse.
func normalQuantile(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }

// shareQuantile maps a chance on the share: a third each on 0..0.005 (an
// opening's part too small to matter), on 0.995..1, and on 0..1 throughout.
func shareQuantile(u float64) float64 {
	const slab = 0.005
	low := (1 + slab) / 3 // chance of being under the lower slab's end
	switch {
	case u < low:
		return u / low * slab
	case u > 1-low:
		return 1 - (1-u)/low*slab
	}
	return slab + (u-low)*3
}

// belief is the prior of one rig, and turns coordinates into figures.
type belief struct {
	airTemp, pressure, pressureSD float64
	rigMean, rigSD, rigFloor      float64 // m³/s; chance under 0
	volume                        float64 // m³, median
	rigPart, portPart             float64
	rigRel, portRel               float64 // sd of the logs
	wall, wallSD                  float64 // over the room's
	gainSD, bowSD, span           float64
	lag                           float64 // 0: not stated
	wet                           bool    // nobody said that the port is dry
	loose                         bool    // one said to be dry may be wet all the same
	press                         press
	zero, start                   level
	startSD                       float64
	doubt                         float64   // s, of the shut-off
	hold                          float64   // s
	inertia                       []float64 // i0 at flows of inertiaFlow(k)
	points                        []volumePoint
}

// volumePoint is one point of the quadrature over the volume's prior.
type volumePoint struct{ volume, weight float64 }

// newBelief takes what the rig's owner states; the yardstick needs every
// figure that has no width of its own guessed here.
func newBelief(g *rig.Rig, r *recording, doubt float64, dry bool) (*belief, error) {
	for _, m := range []struct {
		name  string
		known bool
	}{
		{"volume", g.Volume.Known}, {"port volume", g.Port.Volume.Known}, {"rig leak", g.RigLeak.Known},
		{"gauge accuracy", g.Gauge.Accuracy.Known}, {"gauge span", g.Gauge.Span.Known},
		{"air pressure", g.Air.Pressure.Known}, {"air temperature", g.Air.Temperature.Known},
	} {
		if !m.known {
			return nil, fmt.Errorf("yardstick: the rig states no %s", m.name)
		}
	}
	b := &belief{
		airTemp: g.Air.Temperature.Value, pressure: g.Air.Pressure.Value, pressureSD: g.Air.Pressure.SD(),
		rigMean: g.RigLeak.Value, rigSD: g.RigLeak.SD(),
		rigPart: g.Volume.Value, portPart: g.Port.Volume.Value,
		rigRel: g.Volume.SD() / g.Volume.Value, portRel: g.Port.Volume.SD() / g.Port.Volume.Value,
		span: g.Gauge.Span.Width(), lag: g.Gauge.Response.Value,
		wet: g.Port.WetWith != rig.WetNothing, loose: !dry, zero: r.zero, start: r.start, doubt: doubt * r.interval, hold: r.end,
	}
	if !g.Gauge.Response.Known {
		b.lag = 0
	}
	b.volume = b.rigPart + b.portPart
	if b.rigSD > 0 {
		b.rigFloor = normalCDF(-b.rigMean / b.rigSD)
	}
	part := b.portPart / b.volume
	head, spread := b.airTemp, 8.0 // K, 95 %
	if h := g.Port.HeadTemperature; h.Known {
		head, spread = h.Value, h.Spread
	}
	b.wall = 1 + part*(head-b.airTemp)/b.airTemp
	b.wallSD = part * spread / z95 / b.airTemp
	b.press = press{area: math.Pi * 0.0135 * 0.0135, push: 0.6}
	switch g.Port.Held {
	case rig.HeldOwnSpring:
		b.press.push += 250
	case rig.HeldNothing:
	default: // a thumb, or as much
		b.press.push += 20
	}
	b.gainSD = g.Gauge.Accuracy.Value / z95
	b.bowSD = b.gainSD / 2
	b.startSD = math.Hypot(r.start.sd, 0.0005*(r.start.mean-r.zero.mean))
	for k := range inertiaPoints {
		const width, contact = math.Pi * 0.027, 0.2e-3
		q := inertiaFlow(k)
		s, err := gas.SeepFor(q, gas.StatedVacuum, b.pressure, b.airTemp, width, contact)
		if err != nil {
			return nil, fmt.Errorf("yardstick: inertia at %.3g m³/s: %w", q, err)
		}
		re := 2 * q * gas.Density(b.pressure, b.airTemp) / (width * gas.Viscosity(b.airTemp))
		b.inertia = append(b.inertia, re*s.Gap/(12*contact))
	}
	// the trapezoidal rule at whole deviates integrates a normal to 1e-8
	for i := -5.0; i <= 5; i++ {
		for j := -5.0; j <= 5; j++ {
			if (b.rigRel == 0 && i != 0) || (b.portRel == 0 && j != 0) {
				continue
			}
			v := b.rigPart*math.Exp(b.rigRel*i) + b.portPart*math.Exp(b.portRel*j)
			b.points = append(b.points, volumePoint{v, math.Exp(-(i*i + j*j) / 2)})
		}
	}
	sum := 0.0
	for _, p := range b.points {
		sum += p.weight
	}
	for i := range b.points {
		b.points[i].weight /= sum
	}
	return b, nil
}

const inertiaPoints = 60

// inertiaFlow is the flow [m³/s] of point k of the table of i0.
func inertiaFlow(k int) float64 { return 1e-10 * math.Exp(0.25*float64(k)) }

// inertiaAt returns Re h/(12 L) of a seat of 27 mm with a contact of 0.2 mm at
// the flow q [m³/s].
func (b *belief) inertiaAt(q float64) float64 {
	x := math.Log(math.Max(q, 1e-10)/1e-10) / 0.25
	i := min(int(x), inertiaPoints-2)
	return b.inertia[i] + (x-float64(i))*(b.inertia[i+1]-b.inertia[i])
}

// dimension is how many coordinates are in use.
func (b *belief) dimension() int {
	if b.lag > 0 {
		return coordinates - 1
	}
	return coordinates
}

// figures are the coordinates turned into the model's figures.
type figures struct {
	conduct
	gauge gauge
	late  float64 // s, shut-off after the stated one
	log   float64 // log of the prior's part that is not the normal N(0,1)
}

// figures returns those of the coordinates x; false where the seat's leak
// would be below zero.
func (b *belief) figures(x []float64, f *figures) bool {
	f.total = math.Exp(x[atTotal])
	rigFlow := b.rigMean
	if b.rigSD > 0 {
		rigFlow += b.rigSD * normalQuantile(b.rigFloor+(1-b.rigFloor)*normalCDF(x[atRig]))
	}
	f.rig = rigFlow / b.volume
	if !(f.total > f.rig) || math.IsInf(f.total, 0) {
		return false
	}
	f.share = shareQuantile(normalCDF(x[atShare]))
	f.edge = normalCDF(x[atEdge])
	f.tau = math.Sqrt(0.05*2) * math.Exp(math.Log(2/0.05)/2/z95*x[atTau])
	f.mix = math.Max(0, 2*normalCDF(x[atMix])-1) // a film alone as often as not
	f.vapour, f.tauVapour = b.vapour(x[atVapour]), b.tauVapour(x[atTauVapour])
	f.gauge = gauge{
		zero: b.zero.mean + b.zero.sd*x[atZero], gain: b.gainSD * x[atGain], bow: b.bowSD * x[atBow], span: b.span,
	}
	f.pressure = b.pressure + b.pressureSD*x[atPressure]
	f.wall = b.wall + b.wallSD*x[atWall]
	f.late = b.doubt * (2*normalCDF(x[atShut]) - 1)
	gap := b.gapOf((f.total-f.rig)*(1-f.share)*b.volume, normalCDF(x[atSlip]))
	f.slip = 12 * gas.MeanFreePath(1, b.airTemp) / gap
	f.inertia = 1.6 * normalCDF(x[atInertia]) * b.inertiaAt((f.total-f.rig)*(1-f.share)*b.volume)
	f.load, f.press = loadOf(x[atLoad]), b.press
	f.lag = b.lag
	if f.lag <= 0 {
		f.lag = 0.02 * math.Pow(25, normalCDF(x[atLag]))
	}
	var slope float64
	f.start, slope = f.gauge.vacuum(b.start.mean + b.startSD*x[atStart])
	if !(f.start > 0 && f.start < f.pressure) || math.IsInf(f.vapour, 0) {
		return false
	}
	f.log = x[atTotal] + math.Log(slope) + math.Log(b.volumeFactor(f.rig))
	return true
}

// feature appends coordinate k as a hold feels it; see [featureFunc]. Vapour is
// felt as what it takes off the vacuum early, midway and late, which is linear
// where amplitude and time constant are not.
func (b *belief) feature(dst []float64, k int, x []float64) []float64 {
	switch k {
	case atShare:
		return append(dst, shareQuantile(normalCDF(x[k])))
	case atEdge, atInertia, atShut:
		return append(dst, normalCDF(x[k]))
	case atMix:
		return append(dst, math.Max(0, 2*normalCDF(x[k])-1))
	case atLoad:
		return append(dst, loadOf(x[k]))
	case atSlip: // about one over the gap
		return append(dst, math.Pow(7.5, -normalCDF(x[k])/3))
	case atLag:
		return append(dst, math.Pow(25, normalCDF(x[k])))
	case atTauVapour:
		return dst // felt with the vapour, which comes after it
	case atVapour:
		a, t := b.vapour(x[atVapour]), b.tauVapour(x[atTauVapour])
		return append(dst, a*-math.Expm1(-0.05*b.hold/t), a*-math.Expm1(-0.3*b.hold/t), a*-math.Expm1(-b.hold/t))
	}
	return append(dst, x[k])
}

// loadOf is the power of the load of coordinate x: none as often as not, else
// uniform to a half.
func loadOf(x float64) float64 { return 0.5 * math.Max(0, 2*normalCDF(x)-1) }

// vapour is the amplitude [Pa] of coordinate x: none as often as not, else
// half-normal of 100 Pa where dry is stated, or of 1.5 kPa one time in ten where
// it may have been wet all the same; uniform to the saturation of water at 20 °C
// where dry is not stated.
func (b *belief) vapour(x float64) float64 {
	some := 2*normalCDF(x) - 1
	switch {
	case some <= 0:
		return 0
	case b.wet:
		return 2300 * some
	case b.loose:
		return looseVapour(x)
	}
	return -100 * normalQuantile((1-some)/2)
}

// gapOf is the gap [m] of a seep of free-air flow q [m³/s] round a 28 mm seat
// whose contact is log-uniform 0.2 to 1.5 mm, at the fraction u of it.
func (b *belief) gapOf(q, u float64) float64 {
	length := 0.2e-3 * math.Pow(7.5, u)
	s, err := gas.SeepFor(math.Max(q, 1e-9), gas.StatedVacuum, b.pressure, b.airTemp, math.Pi*0.028, length)
	if err != nil {
		return 3e-6
	}
	return math.Min(math.Max(s.Gap, 0.5e-6), 20e-6)
}

// looseVapour is the amplitude [Pa] of a deviate x above 0 under nine parts of a
// half-normal of 100 Pa and one of 1.5 kPa, from a table of the inverse.
func looseVapour(x float64) float64 {
	u := math.Min(x*loosePerUnit, float64(len(looseTable)-2))
	i := int(u)
	return looseTable[i] + (u-float64(i))*(looseTable[i+1]-looseTable[i])
}

const loosePerUnit = 400

// looseTable holds the amplitude at x = i/loosePerUnit: there the chance of a
// larger one, where there is any, is that of a larger deviate among those above
// 0, erfc(x/sqrt 2).
var looseTable = func() (t [8*loosePerUnit + 2]float64) {
	for i := range t {
		x := float64(i) / loosePerUnit
		past := math.Erfc(x / math.Sqrt2)
		low, high := 0.0, 2e4
		for range 60 {
			a := (low + high) / 2
			if 0.9*math.Erfc(a/(100*math.Sqrt2))+0.1*math.Erfc(a/(1500*math.Sqrt2)) > past {
				low = a
			} else {
				high = a
			}
		}
		t[i] = (low + high) / 2
	}
	return t
}()

// tauVapour is the time constant [s] of coordinate x, log-uniform from 1 s to 60
// s where dry is stated, to 300 s where not.
func (b *belief) tauVapour(x float64) float64 {
	longest := 60.0
	if b.wet {
		longest = 300
	}
	return math.Exp(math.Log(longest) * normalCDF(x))
}

// tilt is what the volume's prior is multiplied by for a rig leak of rho
// volumes a second: with flat flow q = V (total - rho) and rig leak V rho, the
// measure dq dq_rig is V² dtotal drho, and the rig leak's normal prior is moved
// from the median volume to V. What of it is common to all volumes is left out.
func (b *belief) tilt(volume, rho float64) float64 {
	v := volume / b.volume
	if b.rigSD == 0 {
		return v // the rig leak's flow is sure: only dq = V dtotal is left
	}
	at := (rho*volume - b.rigMean) / b.rigSD
	med := (rho*b.volume - b.rigMean) / b.rigSD
	return v * v * math.Exp((med*med-at*at)/2)
}

// volumeFactor integrates the tilt over the volume's prior: the volume enters
// a hold nowhere else, so it is integrated out of the sampling altogether.
func (b *belief) volumeFactor(rho float64) float64 {
	sum := 0.0
	for _, p := range b.points {
		sum += p.weight * b.tilt(p.volume, rho)
	}
	return sum
}

// drawVolume draws a volume [m³] from its prior.
func (b *belief) drawVolume(r *rand.Rand) float64 {
	return b.rigPart*math.Exp(b.rigRel*r.NormFloat64()) + b.portPart*math.Exp(b.portRel*r.NormFloat64())
}

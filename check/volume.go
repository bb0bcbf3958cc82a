package check

import (
	"fmt"
	"math"
	"time"

	"seatproof/leak"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/unit"
)

// syringeGuess is the ± of a step of a syringe whose graduation nobody vouches for
// (a guess, no source).
const syringeGuess = 0.05

// Syringe is a step of a syringe on a closed rig: drawn out, the volume grows and
// the vacuum deepens; pushed in, a Step below zero.
type Syringe struct {
	Step          unit.Measured // m³
	Before, After unit.Measured // Pa of vacuum, zero taken off, when the gas has settled
}

// SyringeVolume returns the volume before the step by Boyle's law, from one or
// more steps of one syringe in a room at pressure air [Pa]:
//
//	V = dV (pa - v2)/(v2 - v1)
//
// Readings scatter from step to step; the syringe's scale, the gauge's gain and
// the air pressure are the same in all and are not averaged away. Propagation: GUM
// 5.1 (JCGM 100:2008). A rig that leaks between the readings makes V too large
// when drawn out, too small when pushed in: do both.
func SyringeVolume(at time.Time, steps []Syringe, air unit.Measured, g rig.Gauge) (Result, error) {
	if len(steps) == 0 {
		return Result{}, fmt.Errorf("volume by a syringe: no step")
	}
	if err := finite("volume by a syringe: air pressure", air); err != nil {
		return Result{}, err
	}
	gain, bow := gaugeDoubt(g)
	var sw, sv float64
	var vol, own []float64
	var scale, room, line float64 // relative, of the last step: the same in all but for their readings
	for i, s := range steps {
		if err := finite(fmt.Sprintf("volume by a syringe: step %d", i+1), s.Step, s.Before, s.After); err != nil {
			return Result{}, err
		}
		p2, dv := air.Value-s.After.Value, s.After.Value-s.Before.Value
		u1, u2 := sdOf(s.Before, g), sdOf(s.After, g)
		v := s.Step.Value * p2 / dv
		if !(v > 0) || !(p2 > 0) || math.IsInf(v, 0) {
			return Result{}, fmt.Errorf("volume by a syringe: step %d: from %.4g to %.4g kPa of vacuum by %.3g cm³: drawn out the vacuum deepens, pushed in it falls; check the order and the air pressure",
				i+1, s.Before.Value/1e3, s.After.Value/1e3, s.Step.Value*1e6)
		}
		// dV/dv1 = dV p2/dv², dV/dv2 = -dV p1/dv²
		p1 := air.Value - s.Before.Value
		u := math.Abs(s.Step.Value) / (dv * dv) * math.Hypot(p2*u1, p1*u2)
		vol, own = append(vol, v), append(own, u)
		sw += 1 / (u * u)
		sv += v / (u * u)
		rel := s.Step.SD() / math.Abs(s.Step.Value)
		if s.Step.Spread == 0 {
			rel = syringeGuess / num.Z95
		}
		scale = math.Max(scale, rel)
		room = math.Max(room, air.SD()/p2)
		// of a gain e both vacuums go as 1+e: V goes as (pa - v2 (1+e))/(1+e); a bow
		// changes the gain between them, by 4 (1-2x) of itself, and v2 by 4 x (1-x)
		_, span := accuracyOf(g)
		x := (s.Before.Value + s.After.Value) / 2 / span
		line = math.Max(line, math.Hypot(gain*(1+s.After.Value/p2), bow*4*(math.Abs(1-2*x)+math.Abs(x*(1-x))*span/p2)))
	}
	v := sv / sw
	random := 1 / math.Sqrt(sw)
	chi2 := 0.0
	for i := range vol {
		chi2 += sq((vol[i] - v) / own[i])
	}
	if n := len(vol); n > 1 {
		random *= math.Max(1, math.Sqrt(chi2/float64(n-1)))
	}
	r := Result{Kind: KindVolume, Method: BySyringe, At: at, Dim: unit.VolumeDim, Verdict: Found}
	r.value(v, relatives{"readings": random / v, "syringe": scale, "gauge": line, "air pressure": room})
	r.Evidence = []Sentence{say(fmt.Sprintf("%d %s of the syringe: {}.", len(vol), plural(len(vol), "step")), of(r.Value, r.Dim))}
	if limit, err := num.ChiSquareQuantile(0.99, float64(max(1, len(vol)-1))); err == nil && len(vol) > 1 && chi2 > limit {
		r.Verdict = Unsure
		r.Evidence = append(r.Evidence, say("The steps differ by more than their readings allow: a leak, or gas that had not settled."))
		r.Do = "Check the rig leak first; then wait ten seconds after each step, and step both ways."
	}
	r.leading()
	return r, nil
}

// gaugeDoubt returns the sd of a gauge's gain and of its bow over its span, as
// package leak takes them: by its line, where it has one, else by its accuracy.
func gaugeDoubt(g rig.Gauge) (gain, bow float64) {
	acc, span := accuracyOf(g)
	gain, bow = acc/num.Z95, acc/2/num.Z95
	if l := g.Line; l != nil {
		gain = l.Slope.SD()
		if l.Bow.Known {
			bow = l.Bow.Value / num.Z95 / span
		}
	}
	return gain, bow
}

// TwoHolds are the slopes of two holds at the same vacuum, after five of the wall's
// time constants.
type TwoHolds struct {
	Without, With unit.Measured // Pa/s by which the vacuum falls
	Known         unit.Measured // m³/s of free air through the known leak at that vacuum
	Air           unit.Measured // Pa
	Room, Wall    unit.Measured // K; not known: Wall as Room
}

// Slope is by how much a vacuum fell [Pa] in a time [s], read off a gauge twice: what
// reading it is off counts where the fall has no ± of its own. Propagation: GUM 5.1
// (JCGM 100:2008).
func Slope(fell, took unit.Measured, g rig.Gauge) unit.Measured {
	u := fell.SD()
	if fell.Spread == 0 {
		u = math.Sqrt2 * readingSD(g)
	}
	return unit.About(fell.Value/took.Value, num.Z95*math.Hypot(u, fell.Value*took.SD()/took.Value)/took.Value)
}

// TwoHoldVolume returns the volume by two holds, without and with a known leak:
//
//	V = pa q_known/(slope with - slope without) Tw/Ta
//
// never better known than the leak. Propagation: GUM 5.1 (JCGM 100:2008).
func TwoHoldVolume(at time.Time, h TwoHolds, g rig.Gauge) (Result, error) {
	const what = "volume by two holds"
	if err := finite(what, h.Without, h.With, h.Known, h.Air); err != nil {
		return Result{}, err
	}
	more := h.With.Value - h.Without.Value
	if !(more > 0) || !(h.Known.Value > 0) || !(h.Air.Value > 0) {
		return Result{}, fmt.Errorf("%s: with the known leak the vacuum falls by %.3g Pa/s, without it by %.3g: it must fall faster with it; was it open?", what, h.With.Value, h.Without.Value)
	}
	ratio, warm := 1.0, 0.0
	if h.Room.Known && h.Wall.Known && h.Room.Value > 0 {
		ratio, warm = h.Wall.Value/h.Room.Value, math.Hypot(h.Wall.SD(), h.Room.SD())/h.Room.Value
	}
	gain, bow := gaugeDoubt(g)
	r := Result{Kind: KindVolume, Method: ByTwoHolds, At: at, Dim: unit.VolumeDim, Verdict: Found}
	r.value(h.Air.Value*h.Known.Value/more*ratio, relatives{
		"known leak": h.Known.SD() / h.Known.Value, "holds": math.Hypot(h.Without.SD(), h.With.SD()) / more,
		"gauge": math.Hypot(gain, 4*bow), "air pressure": h.Air.SD() / h.Air.Value, "temperature": warm,
	})
	r.Evidence = []Sentence{say("With the known leak it falls faster by what {} into {} makes.", of(h.Known, unit.FlowDim), of(r.Value, r.Dim))}
	r.leading()
	return r, nil
}

// VolumeByReadings returns the volume by two holds that were read by package leak
// on a rig taken to have the volume assumed [m³] and no doubt of it, no port, and
// no leak of its own: what a hold tells is the leak over the volume, so that
//
//	V = assumed q_known/(q with - q without)
//
// all at 50 kPa. The readings bring the doubts of gauge, air, wall and way of
// flowing with them.
func VolumeByReadings(at time.Time, without, with *leak.Reading, assumed float64, known leak.Interval) (Result, error) {
	const what = "volume by two holds"
	a, err := AnswerOf(what+": the hold without", without)
	if err != nil {
		return Result{}, err
	}
	b, err := AnswerOf(what+": the hold with the known leak", with)
	if err != nil {
		return Result{}, err
	}
	if with.Source == leak.FromSteady || without.Source == leak.FromSteady {
		return Result{}, fmt.Errorf("%s: a trace has no hold to go by: shut the pump off and record the fall", what)
	}
	less, more := measuredOf(a, without.UpperLimitOnly), measuredOf(b, with.UpperLimitOnly)
	q := measuredOf(known, false)
	d := more.Value - less.Value
	if !(d > 0) || !(q.Value > 0) || with.UpperLimitOnly {
		return Result{}, fmt.Errorf("%s: with the known leak the vacuum does not fall faster than without: was it open?", what)
	}
	r := Result{Kind: KindVolume, Method: ByTwoHolds, At: at, Dim: unit.VolumeDim, Verdict: Found}
	r.value(assumed*q.Value/d, relatives{"known leak": q.SD() / q.Value, "holds": math.Hypot(less.SD(), more.SD()) / d})
	r.Evidence = []Sentence{say("Two holds, with and without a leak of {}: {}.", of(q, unit.FlowDim), of(r.Value, r.Dim))}
	r.leading()
	return r, nil
}

// AsVolume returns the rig as [VolumeByReadings] has its holds read: no port, no leak
// of its own, and the volume assumed [m³], without doubt.
func AsVolume(r rig.Rig, assumed float64) rig.Rig {
	r = OnBlank(r)
	r.Volume = unit.Exactly(assumed)
	return r
}

// softHose is by what part of its volume a soft hose (silicone) closes up under
// vacuum, which water does not show; pads beside it (measured on one, no source).
const softHose = 0.14

// Water is the rig's part filled with water: never a port, whose seat and guide it
// would wet.
type Water struct {
	Volume unit.Measured // m³ that it took; or
	Mass   unit.Measured // kg
	Temp   unit.Measured // K, of the water; not known: of the room
	Soft   unit.Measured // m³ by which hose and pad close up under vacuum; not known: guessed
}

// WaterVolume returns the volume of the rig's part by the water it takes, less what
// hose and pad close up under vacuum: as stated, else anything from nothing to 14 %
// of the hose, of the whole where the hose's size is not known.
func WaterVolume(at time.Time, w Water, h rig.Hose) (Result, error) {
	v := w.Volume
	if !v.Known {
		if err := finite("volume by water", w.Mass); err != nil {
			return Result{}, fmt.Errorf("%w: say how much water it took, as volume or mass", err)
		}
		rho, err := WaterDensity(w.Temp)
		if err != nil {
			return Result{}, err
		}
		v = unit.About(w.Mass.Value/rho.Value, math.Hypot(w.Mass.Spread/rho.Value, w.Mass.Value*rho.Spread/sq(rho.Value)))
	}
	if err := finite("volume by water", v); err != nil {
		return Result{}, err
	}
	if !(v.Value > 0) {
		return Result{}, fmt.Errorf("volume by water: %.3g cm³ is no volume", v.Value*1e6)
	}
	own := v.SD()
	if v.Spread == 0 {
		own = 0.5e-6 / num.Z95 // a drop and a bubble: half a cm³
	}
	mid, softSD := 0.0, 0.0
	if w.Soft.Known {
		mid, softSD = w.Soft.Value, w.Soft.SD()
	} else {
		most := softHose * v.Value
		if h.Bore.Known && h.Length.Known {
			most = math.Min(most, softHose*math.Pi/4*sq(h.Bore.Value)*h.Length.Value)
		}
		mid, softSD = most/2, most/2/math.Sqrt(3)
	}
	r := Result{Kind: KindVolume, Method: ByWater, At: at, Dim: unit.VolumeDim, Verdict: Found}
	x := v.Value - mid
	r.value(x, relatives{"water": own / x, "soft hose and pad": softSD / x})
	r.Evidence = []Sentence{say("It took {} of water; under vacuum hose and pad close up: {}.", of(v, r.Dim), of(r.Value, r.Dim))}
	if !w.Soft.Known {
		r.Evidence = append(r.Evidence, say("How much they close up is a guess, from nothing to 14 % of the hose: a syringe's step, or two holds, would tell."))
	}
	r.leading()
	return r, nil
}

// relatives are relative standard deviations of a product's inputs.
type relatives map[string]float64

// value sets a value that is a product, with its ± and the inputs' shares.
func (r *Result) value(v float64, p relatives) {
	sum := 0.0
	for _, name := range sortedKeys(p) {
		sum += sq(p[name])
	}
	r.Value = unit.About(v, num.Z95*math.Abs(v)*math.Sqrt(sum))
	r.Shares = nil
	for _, name := range sortedKeys(p) {
		if s := sq(p[name]) / sum; sum > 0 && s > 1e-6 {
			r.Shares = append(r.Shares, Share{name, s})
		}
	}
	sortShares(r.Shares)
}

// leading says which input the doubt comes from.
func (r *Result) leading() {
	if len(r.Shares) > 0 && r.Shares[0].Share > 0.5 {
		r.Evidence = append(r.Evidence, say("Most of its doubt comes from one thing: "+r.Shares[0].Input+"."))
	}
}

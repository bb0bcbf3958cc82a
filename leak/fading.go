package leak

import (
	"math"

	"seatproof/rig"
)

// fading is what is known beforehand of the part of a fall that dies away
// (vapour, a creeping pad): half-normal of that sd [Pa], or uniform where sd is
// 0, and never more than top [Pa].
type fading struct {
	sd, top float64
	none    float64 // the chance that there is nothing of it
	logNone float64
	longest float64 // s, the longest of its time constants, log-uniform from 1 s
}

// dryVapour is the sd [Pa] of what dies away in a port said to be dry. However
// dry it is said to be, a trace may show otherwise.
const (
	dryVapour     = 100.0
	mostDryVapour = 4e3
)

// Where a trace shows more than what was said of it allows, a wet port or a soft
// pad or hose was there all the same: a chance of one in ten beforehand, and
// then anything up to what petrol gives off.
const (
	looseChance = 0.1
	looseSD     = 1.5e3 // Pa
	looseTop    = 45e3  // Pa
)

// newFading returns what is known beforehand of a port wet with a liquid, at the
// head's temperature t [K]: half-normal and small where it was said to be dry;
// up to water's vapour pressure where nobody said; up to the liquid's own, and
// very likely there, and slow in coming perhaps, where one was named.
func newFading(l rig.Liquid, t float64) fading {
	v := fading{top: rig.VapourPressure(l, t), none: 0.5, longest: 60}
	switch l {
	case rig.WetNothing:
		v.sd, v.top = dryVapour, mostDryVapour
	case rig.WetNotSaid:
		v.longest = 300
	case rig.WetOil:
	default:
		v.none, v.longest = 0.1, 300
	}
	v.logNone = math.Log(v.none)
	return v
}

// taus returns the time constants [s] that stand for log-uniform from 1 s to the
// longest: the middles of equal parts.
func (v fading) taus() (t [vapourTaus]float64) {
	for i := range t {
		t[i] = math.Pow(v.longest, (float64(i)+0.5)/vapourTaus)
	}
	return t
}

// precision returns one over the variance of the normal prior that stands for
// it in the search.
func (v fading) precision() float64 {
	if v.sd > 0 {
		return 1 / (v.sd * v.sd)
	}
	return 12 / (v.top * v.top)
}

// density returns the prior's density at 0 [1/Pa].
func (v fading) density() float64 {
	if v.sd > 0 {
		return 2 / (v.sd * math.Sqrt(2*math.Pi))
	}
	return 1 / v.top
}

// loosen lets more die away than what was said allows where a trace asks for it
// clearly: where the summits with the looser prior are higher, its odds and
// width counted. It returns the summits to go on from.
func (f *fit) loosen(tops []point) []point {
	said := f.fades
	asks := false
	for i := range tops {
		asks = asks || tops[i].vap > 0.8*said.top || said.sd > 0 && tops[i].vap > 1.5*said.sd
	}
	if !asks || said.top >= looseTop {
		return tops
	}
	height := func(tops []point) float64 {
		best := math.Inf(1)
		r := make([]float64, len(f.data))
		for i := range tops {
			f.residuals(&tops[i], r)
			best = math.Min(best, dot(r, r)+f.priorCost(&tops[i]))
		}
		return best - 2*math.Log(f.fades.density())
	}
	before := height(tops)
	f.fades.sd, f.fades.top = looseSD, looseTop
	loose := f.climbOn(tops, 12)
	if height(loose)-2*math.Log(looseChance) < before {
		return loose
	}
	f.fades = said
	return tops
}

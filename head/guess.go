package head

import (
	"math"

	"seatproof/unit"
)

// Heads of valves over the bore, by the number of valves a cylinder, of which
// intake and exhaust: common practice, no source. With 72 mm and four valves
// they are 27 and 23.8 mm.
var shares = map[[2]int][2]float64{ // {intake, exhaust valves}: {intake, exhaust}
	{1, 1}: {0.45, 0.38},
	{2, 1}: {0.35, 0.39},
	{1, 2}: {0.42, 0.32},
	{2, 2}: {0.375, 0.33},
	{3, 2}: {0.315, 0.345},
}

// Spreads of what is guessed (95 %, of the figure), no source.
const (
	headSpread = 0.15
	boreSpread = 0.25
	guessBore  = 80e-3 // m, where nothing at all is known
)

// usualShare returns what part of the bore a valve's head usually has.
func (j *Job) usualShare(v *Valve) float64 {
	var n [2]int
	for i := range j.Valves {
		if o := &j.Valves[i]; o.Cylinder == v.Cylinder {
			n[sideIndex(o.Side)]++
		}
	}
	if s, ok := shares[n]; ok {
		return s[sideIndex(v.Side)]
	}
	return 0.7 / math.Sqrt(float64(max(2, n[0]+n[1]))) // circles that fill half the bore
}

func sideIndex(s Side) int {
	if s == Exhaust {
		return 1
	}
	return 0
}

// BoreOr returns the bore, or a guess: from the valves whose heads are given,
// else 80 mm ± 25 %. guessed says which.
func (j *Job) BoreOr() (bore unit.Measured, guessed bool) {
	if known(j.Engine.Bore) {
		return j.Engine.Bore, false
	}
	sum, n := 0.0, 0.0
	for i := range j.Valves {
		if v := &j.Valves[i]; known(v.Head) {
			sum += math.Log(v.Head.Value / j.usualShare(v))
			n++
		}
	}
	if n > 0 {
		b := math.Exp(sum / n)
		return unit.About(b, headSpread*b), true
	}
	return unit.About(guessBore, boreSpread*guessBore), true
}

// HeadOr returns the diameter of a valve's head, or a guess: that of a valve of
// the same side whose head is given, else a usual part of the bore. guessed says
// which; a guess is wide.
func (j *Job) HeadOr(v *Valve) (head unit.Measured, guessed bool) {
	if known(v.Head) {
		return v.Head, false
	}
	for i := range j.Valves { // makers fit like valves to all cylinders
		if o := &j.Valves[i]; o.Side == v.Side && known(o.Head) && j.usualShare(o) == j.usualShare(v) {
			return unit.About(o.Head.Value, math.Hypot(o.Head.Spread, 0.04*o.Head.Value)), true
		}
	}
	b, _ := j.BoreOr()
	d := b.Value * j.usualShare(v)
	return unit.About(d, d*math.Hypot(headSpread, b.Spread/b.Value)), true
}

// portLength is how long a port is in bores, and volumeSpread how far the volume
// guessed from it may be off (95 %): common practice, no source.
const (
	portLength   = 1.15
	volumeSpread = 0.6
)

// VolumeOr returns the volume of a port, or a guess for one that nobody poured
// full: the circles of its valves' heads, 1.15 bores long, ± 60 %. 72 mm and two
// valves of 27 mm: 95 cm³. guessed says which; a port without valves has no guess.
func (j *Job) VolumeOr(p *Port) (volume unit.Measured, guessed bool) {
	if known(p.Volume) {
		return p.Volume, false
	}
	bore, _ := j.BoreOr()
	area := 0.0
	for _, id := range p.Valves {
		if v := j.valve(id); v != nil {
			d, _ := j.HeadOr(v)
			area += math.Pi / 4 * d.Value * d.Value
		}
	}
	if area == 0 {
		return unit.Measured{}, false
	}
	v := area * portLength * bore.Value
	return unit.About(v, volumeSpread*v), true
}

package session

import (
	"math"

	"seatproof/trace"
)

// What moves a phase. Common practice, no source; held by TestPhases.
const (
	leastMove  = 500.0 // Pa by which a gauge leaves the room, at least
	realVacuum = 5e3   // Pa below which nothing was pulled
	nearSteady = 0.016 // of the reach that is still to come in a steady reading
	steepVent  = 0.45  // s in which a fall this steep would be at the room: a vent
)

// Watch follows one gauge and says at once which phase the test is in, from
// the samples as they come: vented, pull, steady, hold, and vented again. It
// knows no future, so it may be wrong where [trace.FindPhases], which reads the
// whole trace afterwards, is not; what is filed is judged by that.
//
// The phase is "" until the gauge has stood still at what can be the room. A
// fall too slow for the gauge to show is no hold to it: see [Watch.ShutOff].
type Watch struct {
	kind  trace.Kind
	phase trace.PhaseName
	since float64 // s, when the phase began, as near as can be told
	bins  bins

	room, roomN float64 // Pa, the depth of the room as read, and bins in it
	deepest     float64 // Pa below the room in this pull
	start       float64 // s, when the pull left the room
	crossed     [128]float64
	level       float64 // Pa, highest mean over half a second of this pull
	lowest      float64 // Pa, lowest level of this hold
	below       int     // bins in a row below the room
	sinking     bool    // vented, and on its way to the room
	rested      float64 // s, when the room was last reached
	settles     float64 // s that the gauge takes from there to stand still
}

// NewWatch returns a watch of a gauge that shows vacuum or absolute pressure,
// with its smallest step [Pa], 0 where that is not known.
func NewWatch(kind trace.Kind, step float64) *Watch {
	w := &Watch{kind: kind}
	w.bins.said = step
	return w
}

// Phase returns the phase and when it began [s].
func (w *Watch) Phase() (trace.PhaseName, float64) { return w.phase, w.since }

// Vacuum returns the vacuum of the last sample [Pa below the room as it was
// read], and whether the room has been seen.
func (w *Watch) Vacuum() (float64, bool) { return w.bins.last - w.room, w.roomN > 0 }

// Level returns the vacuum [Pa] without its spikes: the median of the last
// three means of 20 ms.
func (w *Watch) Level() float64 {
	if w.bins.n == 0 {
		return 0
	}
	return w.bins.level() - w.room
}

// Room returns the room as the gauge shows it [Pa]: its zero, or, of an
// absolute gauge, the air pressure; and whether it has been seen.
func (w *Watch) Room() (float64, bool) {
	if w.kind == trace.Absolute {
		return -w.room, w.roomN > 0
	}
	return w.room, w.roomN > 0
}

// Deepest returns the deepest vacuum of this pull [Pa].
func (w *Watch) Deepest() float64 { return w.deepest }

// ShutOff says that the pump was shut off at t [s], which no gauge can show
// where next to nothing leaks. It says whether that made it a hold.
func (w *Watch) ShutOff(t float64) bool {
	if w.phase != trace.Pull && w.phase != trace.Steady {
		return false
	}
	w.enter(trace.Hold, t)
	return true
}

// Add takes a sample, vacuum or absolute as the gauge shows it [Pa], at t [s],
// which does not fall, and says whether the phase changed.
func (w *Watch) Add(t, value float64) bool {
	if w.kind == trace.Absolute {
		value = -value
	}
	if !w.bins.add(t, value) {
		return false
	}
	before, at := w.phase, w.since
	w.look()
	return w.phase != before || w.since != at
}

// look judges the bins after a new one.
func (w *Watch) look() {
	b := &w.bins
	if w.phase != trace.Pull {
		b.learn()
	}
	if b.nbends < atOnce || b.held() < 3 {
		return
	}
	u := b.level() - w.room
	switch w.phase {
	case "":
		w.rest()
	case trace.Vented:
		w.vented(u)
	case trace.Pull:
		w.pulled(u)
		switch {
		case u < w.away() && w.bins.held() > 2:
			w.enter(trace.Vented, b.at(1))
		case w.vents(u):
			w.enter(trace.Vented, b.at(1))
		case w.falls(u):
			w.enter(trace.Hold, b.at(1))
		case w.still():
			w.enter(trace.Steady, b.at(0))
		}
	case trace.Steady:
		w.pulled(u)
		switch {
		case w.nearRoom(u), w.vents(u):
			w.enter(trace.Vented, b.at(1))
		case w.falls(u):
			w.enter(trace.Hold, b.at(1))
		}
	case trace.Hold:
		w.lowest = math.Min(w.lowest, u)
		switch {
		case w.nearRoom(u), w.vents(u):
			w.enter(trace.Vented, b.at(1))
		case u > w.lowest+math.Max(math.Max(8*b.noise, 2.2*b.grain()), 0.03*w.deepest):
			w.enter(trace.Pull, b.at(1)) // the pump draws again
		}
	}
}

func (w *Watch) enter(p trace.PhaseName, at float64) {
	w.phase, w.since = p, at
	switch p {
	case trace.Pull:
		w.deepest, w.level = 0, 0
		w.start = at
		w.crossed = [128]float64{}
	case trace.Hold, trace.Vented:
		w.lowest = w.bins.level() - w.room
	}
	w.sinking = p == trace.Vented
	w.below = 0
}

// away is how far from the room [Pa] a gauge must be to have left it.
func (w *Watch) away() float64 {
	b := &w.bins
	sure := 4.5
	if b.nbends < 24 {
		sure = 6 // the noise itself is not known well yet
	}
	return math.Max(leastMove, math.Max(sure*b.noise, 1.5*b.grain()))
}

// rest looks for the room at the start: the gauge stands still where the room
// can be.
func (w *Watch) rest() {
	b := &w.bins
	n := b.window(0.3, atOnce)
	low, high := b.reach(n)
	if b.at(0)-b.at(n-1) < 0.25 || high-low > math.Max(leastMove, math.Max(8*b.noise, 2.1*b.grain())) {
		return
	}
	m := b.mean(0, n)
	if w.kind == trace.Absolute && m > -50e3 || w.kind != trace.Absolute && math.Abs(m) > 20e3 {
		return
	}
	w.room, w.roomN = m, float64(n)
	w.enter(trace.Vented, b.at(n-1))
	w.sinking, w.rested, w.settles = false, w.since, 0
}

// vented waits for a pull, and follows the room.
func (w *Watch) vented(u float64) {
	b := &w.bins
	a := w.away()
	if w.sinking {
		w.lowest = math.Min(w.lowest, u)
		switch {
		case u < a/2:
			w.sinking, w.rested, w.settles = false, b.at(0), 1.5
		case u > w.lowest+math.Max(3*a, 0.1*w.deepest):
			w.enter(trace.Pull, b.at(2)) // closed and pulled again before it was empty
			w.pulled(u)
		}
		return
	}
	switch {
	case u > a && (u > 4*a || w.rose() > 0.7*a):
		w.enter(trace.Pull, b.at(2))
		w.pulled(u)
		return
	case u < -a:
		// deeper than nothing: what was taken for the room was not
		if w.below++; w.below > 3 && b.at(0)-b.at(w.below-1) > 0.4 {
			w.phase, w.roomN, w.below = "", 0, 0
			return
		}
	default:
		w.below = 0
	}
	// not the last bins, which may be the foot of a pull, nor the end of a fall
	if b.held() > 6 && b.at(5) > w.rested+w.settles && math.Abs(b.val(5)-w.room) < w.away() {
		w.roomN = math.Min(w.roomN+1, 250)
		w.room += (b.val(5) - w.room) / w.roomN
	}
}

// rose is how far the gauge has risen [Pa] in the last quarter to half second:
// a needle that came back to rest beside its old place has not.
func (w *Watch) rose() float64 {
	b := &w.bins
	i := b.window(0.25, 3)
	k := b.window(0.55, i+2)
	if k <= i || k > b.held() {
		return math.Inf(1)
	}
	return b.level() - b.mean(i, k-i)
}

// pulled keeps what a pull has come to.
func (w *Watch) pulled(u float64) {
	b := &w.bins
	for k := max(0, int(w.deepest/1000)); k < len(w.crossed) && float64(k)*1000 <= u; k++ {
		if w.crossed[k] == 0 {
			w.crossed[k] = b.at(1)
		}
	}
	w.deepest = math.Max(w.deepest, u)
	if n := b.window(0.5, 4); b.at(n-1) >= w.since || w.phase == trace.Steady {
		w.level = math.Max(w.level, b.mean(0, n)-w.room)
	}
}

// tau is the time [s] in which this pull went 63 % of its way.
func (w *Watch) tau() float64 {
	k := int(0.632 * w.deepest / 1000)
	if k < 1 || k >= len(w.crossed) || w.crossed[k] == 0 {
		return math.Max(0.1, w.bins.at(0)-w.start)
	}
	return math.Max(0.1, w.crossed[k]-w.start)
}

// still says whether a pull has become steady: what is left of it, were it to
// end as exponentials do, is a hundredth, or less than the gauge can show.
func (w *Watch) still() bool {
	b := &w.bins
	tau := w.tau()
	if w.deepest < realVacuum || b.at(0)-w.start < math.Max(0.3, 2*tau) {
		return false
	}
	coarse := b.grain() > 0.006*w.deepest
	if coarse {
		span := math.Min(4, math.Max(0.4, 1.13*tau))
		n := b.window(span, 4)
		low, high := b.reach(n)
		return b.spans(n, span) && high-low <= math.Max(1.01*b.grain(), 8*b.noise)
	}
	// a window in which the noise makes what is left uncertain by 0.3 %, and in
	// which a needle that sticks moves on
	long := math.Cbrt(12 * b.noise * b.noise * (b.at(0) - b.at(1)) / math.Pow(0.003*w.deepest/tau, 2))
	span := math.Min(math.Max(math.Max(0.12, tau/4), long), math.Max(0.4, tau))
	n := b.window(span, 4)
	slope, sd := b.slope(n)
	wide := b.at(0) - b.at(n-1)
	left := slope * tau * math.Exp(-wide/(2*tau)) // the slope is that of the window's middle
	return b.spans(n, span) && left < nearSteady*w.deepest && left+2*sd*tau < 3*nearSteady*w.deepest
}

// nearRoom says whether the room is reached again.
func (w *Watch) nearRoom(u float64) bool {
	return u < math.Max(w.away(), 0.03*w.deepest)
}

// vents says whether the gauge falls as only an opened fitting makes it fall.
func (w *Watch) vents(u float64) bool {
	b := &w.bins
	if b.held() < 8 || w.deepest < realVacuum {
		return false
	}
	n := b.window(0.06, 2) + 1
	if n > b.held()-2 {
		return false
	}
	first, last := b.val(n-1), b.val(0)
	took := b.at(0) - b.at(n-1)
	fall := first - last
	steps := 3.2
	if w.phase == trace.Hold && b.noise < 0.25*b.grain() {
		steps = 1.9 // its noise makes it show one step to and fro, not two
	}
	if fall < math.Max(math.Max(10*b.noise, steps*b.grain()), math.Min(0.06*w.deepest, 0.15*(first-w.room))) || took <= 0 {
		return false
	}
	// it must have gone on falling, not stepped down once
	if n > 2 && b.val(n-2) < last || b.val(1) > first {
		return false
	}
	left := (last - w.room) / (fall / took)
	if w.phase != trace.Hold || b.at(0)-w.since < 1.5 {
		return left < steepVent
	}
	// in a hold its own fall is known: half a second ago and before
	i, k := b.window(0.5, n), b.window(1.5, n+4)
	if k >= b.held() || i >= k || b.at(i) <= b.at(k) {
		return left < steepVent
	}
	before := (b.val(k) - b.val(i)) / (b.at(i) - b.at(k))
	return left < 3*steepVent && fall/took > 4*before
}

// falls says whether the vacuum falls: in means over windows of 0.1 to 6 s, one
// half against the other; against its own highest level; or, of a gauge of wide
// steps, by a step that it keeps.
func (w *Watch) falls(u float64) bool {
	b := &w.bins
	if w.deepest < math.Max(2*w.away(), 2e3) {
		return false
	}
	if w.level-u > math.Max(math.Max(1.75*b.grain(), 6.5*b.noise), 0.02*w.deepest) {
		return true
	}
	step := 1.6 * b.grain()
	for span := 0.1; span < 7; span *= 2 {
		n := b.window(span, 4)
		if n >= b.held() || b.at(n-1) < w.start {
			return false
		}
		h := n / 2
		late, early := b.mean(0, h), b.mean(n-h, h)
		least := math.Max(step, math.Max(60, 0.001*w.deepest*math.Max(1, span/1.6)))
		if early-late > math.Max(least, 6.5*b.noise*math.Sqrt(2/float64(h))) && b.level() < early {
			return true
		}
	}
	if w.phase == trace.Steady {
		n := b.window(0.5, 4)
		m := b.mean(0, n) - w.room
		if w.level-m > math.Max(math.Max(0.006*w.deepest, 1.6*b.grain()), 8*b.noise/math.Sqrt(float64(n))) {
			return true
		}
	}
	return false
}

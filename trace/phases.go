package trace

import (
	"math"
	"sort"
)

// Phases is what happened in a trace, and when.
type Phases struct {
	List []Phase // in order of time; phases that were not seen are missing

	Noise   float64 // Pa, standard deviation of one point
	Room    float64 // Pa, level that stands for the room, as read (depth: see Depth)
	Deepest float64 // Pa, deepest level, as read, smoothed

	Pulled   bool    // the vacuum rose
	Vented   bool    // the room's level was seen, before the pull or after the hold
	ShutOff  float64 // s, when the fall began; only with a Hold
	Earliest float64 // s, bounds of ShutOff, about ±2 standard deviations
	Latest   float64
	Broke    float64 // s, when the fall quickened slowly near the end, where it was cut; 0: it did not
	Frozen   bool    // the value stood exactly still from before the pull was steady
}

// Find returns the phase of that name, and whether it was seen. Of two vented
// phases it returns the first.
func (p *Phases) Find(name PhaseName) (Phase, bool) {
	for _, ph := range p.List {
		if ph.Name == name {
			return ph, true
		}
	}
	return Phase{}, false
}

// PhaseOptions tells [FindPhases] what is known beside the samples.
type PhaseOptions struct {
	// FastestFall returns the steepest fall [Pa/s] a leak could make that lets
	// the pump reach a vacuum [Pa]; a steeper one is a vent. nil, or 0: not
	// known, then a fall that takes less than 0.4 s is a vent.
	FastestFall func(deepest float64) float64
	// ShutOff is when the pump was shut off [s], if the person says so.
	ShutOff *float64
}

// isRoom says whether a depth can be the room's own: within 20 kPa of nothing
// for a vacuum, 50 kPa or more for an absolute pressure.
func isRoom(k Kind, depth float64) bool {
	if k == Absolute {
		return depth <= -50e3
	}
	return math.Abs(depth) <= 20e3
}

// Depth returns the values of t as a depth, rising as the vacuum does [Pa]:
// the vacuum itself, or the absolute pressure with its sign turned. It may
// share memory with t.
func (t *Trace) Depth() []float64 {
	if t.Kind != Absolute {
		return t.Value
	}
	d := make([]float64, len(t.Value))
	for i, v := range t.Value {
		d[i] = -v
	}
	return d
}

// FindPhases finds when a trace was vented, pulled down, steady and held, from
// the samples alone:
//
//   - the room's level is the lowest, if the trace rests there;
//   - the pull begins where the depth leaves that level;
//   - the vent is where a fall turns much steeper than all before it and ends
//     at the room's level;
//   - the shut-off is where a line bends into a fall (least squares over all
//     places it could be), and steady is the stretch before it within the
//     noise of it.
//
// t is not changed. A trace of fewer than three points has no phases.
func FindPhases(t *Trace, o PhaseOptions) Phases {
	u := t.Depth()
	n := len(u)
	if n < 3 {
		return Phases{}
	}
	k := n / enoughPoints
	if k < 2 {
		f := finder{kind: t.Kind, t: t.Time, u: u, step: t.Step, s: newSums(t.Time, u), o: o}
		return f.find()
	}
	// means of k points are found as well, in a fraction of the time
	tm, um := make([]float64, 0, n/k), make([]float64, 0, n/k)
	for i := 0; i+k <= n; i += k {
		var st, su float64
		for j := i; j < i+k; j++ {
			st += t.Time[j]
			su += u[j]
		}
		tm, um = append(tm, st/float64(k)), append(um, su/float64(k))
	}
	f := finder{kind: t.Kind, t: tm, u: um, step: t.Step, s: newSums(tm, um), o: o}
	p := f.find()
	p.Noise = Noise(u)
	for i := range p.List {
		ph := &p.List[i]
		ph.First *= k
		if ph.Last++; ph.Last == len(tm) {
			ph.Last = n
		} else {
			ph.Last *= k
		}
		ph.Last--
		ph.From, ph.To = t.Time[ph.First], t.Time[ph.Last]
	}
	return p
}

// enoughPoints are enough to find the phases of any test from.
const enoughPoints = 4096

type finder struct {
	kind    Kind
	t, u    []float64
	step    float64
	s       *sums
	o       PhaseOptions
	fastest float64 // Pa/s, steepest fall a leak can make; 0: not known
	noise   float64
	dt      float64 // mean interval
	tol     float64 // how far from a level still counts as at it
	p       Phases
}

func (f *finder) find() Phases {
	n := len(f.u)
	f.noise = Noise(f.u)
	f.dt = (f.t[n-1] - f.t[0]) / float64(n-1)
	w := f.window(0.1, 3)
	room, deepest := math.Inf(1), math.Inf(-1)
	deepestAt := 0
	for i := 0; i+w <= n; i += max(1, w/2) {
		m := f.s.mean(i, i+w)
		room = math.Min(room, m)
		if m > deepest {
			deepest, deepestAt = m, i+w/2
		}
	}
	f.p.Noise, f.p.Room, f.p.Deepest = f.noise, room, deepest
	if f.o.FastestFall != nil {
		f.fastest = f.o.FastestFall(deepest - room)
	}
	reach := deepest - room
	f.tol = math.Max(math.Max(6*f.noise, 1.5*f.step), 0.012*reach)
	if reach <= math.Max(500, 5*math.Max(f.noise, f.step/3)) {
		f.p.List = []Phase{f.phase(Vented, 0, n-1)}
		f.p.Vented = true
		return f.p
	}
	start := f.leavesRoom(room, deepestAt)
	end := n - 1 // last point before the room is reached again
	for end > deepestAt && f.u[end] < room+f.tol {
		end--
	}
	// without a vented start, the lowest level is the room's only if it can be
	ventedAfter := end < n-1 && (start > 0 || isRoom(f.kind, room))
	if !ventedAfter {
		end = n - 1
	}
	vent, ventSteep := f.vent(start, end)
	f.bounds(start, vent, ventSteep, end, ventedAfter)
	return f.p
}

// window returns the number of points in that many seconds, at least atLeast
// and at most a third of the trace.
func (f *finder) window(seconds float64, atLeast int) int {
	w := atLeast
	if f.dt > 0 {
		w = max(w, int(seconds/f.dt+0.5))
	}
	return max(2, min(w, len(f.u)/3))
}

func (f *finder) phase(name PhaseName, first, last int) Phase {
	return Phase{Name: name, From: f.t[first], To: f.t[last], First: first, Last: last}
}

// leavesRoom returns the index of the first point of the pull: where the depth
// leaves the room's level for good on its way to the deepest point. 0 if the
// trace does not rest at the room's level first.
func (f *finder) leavesRoom(room float64, deepestAt int) int {
	if f.u[0] > room+2*f.tol && f.u[min(2, len(f.u)-1)] > room+2*f.tol {
		return 0
	}
	i := deepestAt
	for i > 0 && f.u[i-1] > room+f.tol {
		i--
	}
	// back down the foot of the rise, to within the noise
	level := math.Max(3*f.noise, 0.6*f.step)
	if i >= 3 {
		base := f.s.mean(0, i)
		for i > 1 && f.u[i-1] > base+level {
			i--
		}
	}
	if i > 0 && !f.rests(0, i) {
		return 0
	}
	return i
}

// rests says whether points i..j-1 stand still: their halves have the same mean
// within the noise, as far as there are points to tell.
func (f *finder) rests(i, j int) bool {
	if j-i < 2 {
		return false
	}
	m := (i + j + 1) / 2
	if m == j {
		m--
	}
	d := f.s.mean(m, j) - f.s.mean(i, m)
	return math.Abs(d) <= math.Max(4*f.noise/math.Sqrt(math.Max(1, float64(j-i)/4)), 0.75*f.step)+0.0005*math.Abs(f.p.Deepest-f.p.Room)
}

// bounds finds the shut-off between the start of the pull and the vent, and
// lists the phases.
func (f *finder) bounds(start, vent int, ventSteep bool, end int, ventedAfter bool) {
	n := len(f.u)
	f.p.Pulled = start > 0 || f.u[0] < f.p.Deepest-3*f.tol
	add := func(name PhaseName, first, last int) {
		if last >= first {
			f.p.List = append(f.p.List, f.phase(name, first, last))
		}
	}
	if start > 0 {
		add(Vented, 0, start-1)
		f.p.Vented = true
	}
	holdEnd := vent
	off, early, late, ok := f.shutOff(start, vent)
	if short := !ok || f.t[vent]-f.t[off] < 1; ventSteep && (short && f.isLeak(vent, end) || f.emptiesIn(vent) >= longestVent) {
		// a fall to the room almost straight from the steady reading: a leak
		// too large to hold, not a vent; or one that oil held back, let go
		holdEnd = end
		off, early, late, ok = f.shutOff(start, end)
		if !ok || off > vent {
			off, early, late, ok = vent, max(0, vent-1), min(n-1, vent+1), true
		}
	}
	if ok {
		off, early, late = f.earlier(start, off, early, late)
		if e := f.quickens(off, holdEnd, ventedAfter); e < holdEnd && !(ventSteep && f.lasts(e, vent)) {
			switch slow := f.emptiesIn(e) >= longestVent; {
			case !slow:
				holdEnd = e
			case f.t[holdEnd]-f.t[e] < enoughHold: // a break, and too little after it
				f.p.Broke = f.t[e]
				holdEnd = e
			}
		}
		ok = holdEnd > off
	}
	plateauEnd := vent
	if ok {
		plateauEnd = off
		f.p.ShutOff, f.p.Earliest, f.p.Latest = f.t[off], f.t[early], f.t[late]
	}
	first := f.steadyFrom(start, plateauEnd)
	add(Pull, start, first-1)
	add(Steady, first, plateauEnd)
	if ok {
		add(Hold, min(off+1, holdEnd), holdEnd)
	}
	if (ventedAfter || ventSteep) && holdEnd < n-1 {
		rest := holdEnd + 1
		for rest < n-1 && f.u[rest] > f.p.Room+f.tol {
			rest++
		}
		if ventedAfter {
			add(Vented, rest, n-1)
			f.p.Vented = f.p.Vented || n-1-rest >= 2
		}
	}
	f.p.Frozen = f.frozen(start, plateauEnd, holdEnd)
}

// earlier returns a shut-off before the one found, where the vacuum fell slowly
// for two seconds and more, but clearly, before it fell fast: a leak held back
// by oil. The strongest bend is then the film's, not the valve's.
func (f *finder) earlier(start, off, early, late int) (int, int, int) {
	a, b, c, ok := f.shutOff(start, off)
	if !ok || f.t[off]-f.t[a] < 2 {
		return off, early, late
	}
	fall := f.s.slope(a, off+1)
	se := math.Hypot(f.noise, 0.5*f.step) * math.Sqrt(12/float64(off-a+1)) / (f.t[off] - f.t[a])
	if -fall < 10*se || -fall*(f.t[off]-f.t[a]) < math.Max(4*f.noise, 4*f.step) {
		return off, early, late
	}
	return a, b, c
}

// shutOff finds the point at which a line bends into a fall, between the pull
// and the end of the hold; ok is false where no fall stands out of the noise.
func (f *finder) shutOff(start, vent int) (at, early, late int, ok bool) {
	if f.o.ShutOff != nil {
		i := sort.SearchFloat64s(f.t, *f.o.ShutOff)
		i = min(max(i, start), vent)
		return i, max(start, i-1), min(vent, i+1), i < vent
	}
	if vent-start < 6 {
		return 0, 0, 0, false
	}
	// smoothed maximum, and the window from where the pull is nearly there; the
	// noisier, the longer the mean
	w := f.window(0.4, 3)
	if reach := f.p.Deepest - f.p.Room; f.noise > 0 {
		need := f.noise / (0.001 * reach)
		w = max(w, min(f.window(2.5, 3), int(need*need)))
	}
	level, levelAt := math.Inf(-1), start
	for i := start; i+w <= vent+1; i++ {
		if m := f.s.mean(i, i+w); m > level {
			level, levelAt = m, i
		}
	}
	near := math.Max(0.004*(level-f.p.Room), math.Max(5*f.noise/math.Sqrt(float64(w)), 0.5*f.step))
	a := levelAt
	for a > start && f.s.mean(a-1, a-1+w) >= level-near {
		a--
	}
	// from inside the level, where there is one, else from just before its top
	a = max(start, min(a+w/2, levelAt-3))
	// down to where the fall is large enough to place the bend
	b := vent
	limit := level - math.Max(0.1*(level-f.p.Room), 60*f.noise)
	for i := levelAt; i+w <= vent+1; i++ {
		if f.s.mean(i, i+w) < limit {
			b = i + w/2
			break
		}
	}
	if b-a < 8 {
		a, b = max(start, min(a, b)-8), min(vent, max(a, b)+8)
	}
	if b-a < 4 {
		return 0, 0, 0, false
	}
	at, left, fall := f.bestBend(a, b, a+1, b-2)
	var2 := math.Max(f.noise*f.noise, f.step*f.step/12) + 1e-6
	// a bend in the line, or a line that falls by more than a pump's reading sags
	bends := (f.spread(a, b)-left)/var2 >= 25
	sinks := -f.s.slope(a, b) * (f.t[b-1] - f.t[a])
	falls := sinks > 0.006*(level-f.p.Room) && sinks > 8*math.Sqrt(12*var2/float64(b-a)) &&
		(f.t[b-1]-f.t[a] > 2 || sinks > 0.03*(level-f.p.Room))
	if fall < 4*math.Sqrt(var2/float64(max(1, min(at-a, b-at)))) && !falls || !bends && !falls {
		return 0, 0, 0, false
	}
	// again, nearer by, where the parabola holds better
	for _, seconds := range []float64{5, 2.5, 1.5, 1.5} {
		h := max(f.window(seconds, 12), 3*f.window(0.1, 3))
		a2, b2 := max(a, at-h), min(b, at+h)
		at2, left2, fall2 := f.bestBend(a2, b2, max(a2+1, at-h*3/4), min(b2-2, at+h*3/4))
		if fall2 < 8*math.Sqrt(var2/float64(max(1, min(at2-a2, b2-at2)))) || (f.spread(a2, b2)-left2)/var2 < 100 {
			break
		}
		a, b, at, left = a2, b2, at2, left2
	}
	// where else it may be: places that fit as well within 6 sigma²
	early, late = at, at
	stride := max(1, (b-a)/400)
	for i := at - stride; i > a; i -= stride {
		if l, _ := f.s.bend(a, b, i, f.t[i]); l > left+6*var2 {
			break
		}
		early = i
	}
	for i := at + stride; i < b-2; i += stride {
		if l, _ := f.s.bend(a, b, i, f.t[i]); l > left+6*var2 {
			break
		}
		late = i
	}
	return at, early, min(late, vent-1), true
}

// spread returns Σ(y-line)² of points a..b-1: what is left of a straight line.
func (f *finder) spread(a, b int) float64 {
	m := f.s.moments(a, b, f.t[a])
	mean := m[5] / m[0]
	yy := m[5] - mean*m[0]
	xy := m[6] - mean*m[1]
	den := m[0]*m[2] - m[1]*m[1]
	if den <= 0 {
		return 0
	}
	sl := (m[0]*xy - m[1]*yy) / den
	ic := (yy - sl*m[1]) / m[0]
	return -(sl*xy + ic*yy)
}

// bestBend returns the place of the bend in points from..to that leaves least.
func (f *finder) bestBend(a, b, from, to int) (at int, left, fall float64) {
	stride := max(1, (to-from)/250)
	left = math.Inf(1)
	at = from
	try := func(i int) {
		if l, d := f.s.bend(a, b, i, f.t[i]); l < left {
			at, left, fall = i, l, d
		}
	}
	for i := from; i <= to; i += stride {
		try(i)
	}
	if stride > 1 {
		c := at
		for i := max(from, c-stride); i <= min(to, c+stride); i++ {
			try(i)
		}
	}
	return at, left, fall
}

// steadyFrom returns the first point of the steady reading: from there to the
// point last the depth stays at its final level within the noise.
func (f *finder) steadyFrom(start, last int) int {
	w := f.window(0.3, 3)
	if last-start < w {
		return last
	}
	level := f.s.mean(max(start, last-w+1), last+1)
	near := math.Max(0.01*(level-f.p.Room), math.Max(4*f.noise/math.Sqrt(float64(w)), f.step))
	i := last - w
	for i > start && math.Abs(f.s.mean(i, i+w)-level) <= near {
		i--
	}
	return min(max(i+1, start), last)
}

// frozen says whether the value stood exactly still from a point at which the
// pull was still rising steeply until the end of the hold.
func (f *finder) frozen(start, plateauEnd, holdEnd int) bool {
	last := max(plateauEnd, holdEnd)
	for k := 0; k < f.window(1, 5) && last > start+1 && f.u[last-1] != f.u[last]; k++ {
		last-- // past the first samples of the vent
	}
	i := last
	for i > start && f.u[i-1] == f.u[last] {
		i--
	}
	if last-i < 20 || f.t[last]-f.t[i] < 3 || i-start < 3 {
		return false
	}
	rise := f.s.slope(max(start, i-max(3, f.window(0.2, 3))), i+1)
	mean := (f.u[i] - f.u[start]) / math.Max(f.t[i]-f.t[start], 1e-9)
	climb := f.u[i] - f.u[max(start, i-f.window(0.5, 5))]
	if climb < math.Max(4*f.step, 0.03*(f.p.Deepest-f.p.Room)) {
		return false // it came to rest step by step
	}
	return rise > 0.3*mean && rise*(f.t[last]-f.t[i]) > 20*math.Max(f.tol, f.step)
}

// Noise returns the standard deviation of one point of a series from its
// second differences: the median over up to 64 stretches, so that a pull, a
// vent or spikes in a few of them do not count, with the median's bias for
// short stretches taken out (Wilson and Hilferty; a second difference carries
// about half a degree of freedom). 0 for fewer than five points.
func Noise(u []float64) float64 {
	n := len(u)
	if n < 5 {
		return 0
	}
	k := min(64, max(min(5, (n-2)/3), (n-2)/16))
	r := make([]float64, 0, k)
	for b := range k {
		i, j := 1+b*(n-2)/k, 1+(b+1)*(n-2)/k
		sum := 0.0
		for q := i; q < j; q++ {
			d := u[q+1] - 2*u[q] + u[q-1]
			sum += d * d
		}
		r = append(r, sum/(6*float64(j-i)))
	}
	sort.Float64s(r)
	if n < 300 {
		// too few for stretches: the smaller three fifths of the single ones
		r = r[:0]
		for q := 1; q < n-1; q++ {
			d := u[q+1] - 2*u[q] + u[q-1]
			r = append(r, d*d)
		}
		sort.Float64s(r)
		sum, m := 0.0, max(1, len(r)*3/5)
		for _, x := range r[:m] {
			sum += x
		}
		return math.Sqrt(sum / float64(m) / (6 * 0.2143)) // mean of a chi-squared of one degree below its 60 %
	}
	free := math.Max(1, 0.51*float64(n-2)/float64(k))
	bias := 1 - 2/(9*free)
	return math.Sqrt((r[(len(r)-1)/2] + r[len(r)/2]) / 2 / (bias * bias * bias))
}

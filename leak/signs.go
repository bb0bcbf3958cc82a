package leak

import (
	"math"

	"seatproof/rig"
	"seatproof/trace"
)

// A hold that breaks, a zero that moved, a vacuum that deepens by itself: signs
// of something that is no leak's doing. Rules and what they were measured to be
// worth: docs/model.md §4.14, docs/accuracy.md.
const (
	breakAfter = 1.0  // s after the latest shut-off before a break is looked for
	breakLeft  = 2.5  // s of hold that must be left after it
	breakRatio = 1.5  // how much faster the fall must be from there on
	breakSure  = 9.0  // in standard deviations of the difference
	breakOpens = 0.35 // s that a film takes to clear, left out
)

// A shut-off that was found too early looks like a break, too: then nothing was
// lost until then: less than fellSure standard deviations, three noises or steps.
const fellSure = 5.0

// broken is where a fall quickened for good.
type broken struct {
	at    float64 // s
	point int     // there
	free  int     // the first point from which the leak flows freely
	fell  bool    // something was lost before
	lost  float64 // Pa, that
}

// breaks finds where a fall quickens for good, which a leak's never does: a film
// of oil has let go, or a needle that stuck. Of several it is the last.
func (rd *reader) breaks(ph trace.Phase) (b broken, ok bool) {
	t := rd.t.Time
	last := ph.Last
	for last > ph.First && last < len(t)-1 && t[ph.Last]-t[last] < 0.3 { // the vent begins before it is seen
		last--
	}
	for from := ph.First; ; from = b.free {
		i, found := rd.quickens(from, last)
		if !found {
			break
		}
		ok = true
		b.at, b.point, b.free = t[i], i, i
		for b.free < ph.Last && t[b.free] < b.at+breakOpens {
			b.free++
		}
	}
	if !ok {
		return b, false
	}
	slope, sd := slopeOf(t[ph.First:b.point], rd.depth[ph.First:b.point], math.Hypot(rd.noise, 0.3*rd.step))
	b.lost = math.Max(0, -slope*(b.at-t[ph.First]))
	b.fell = -slope > fellSure*sd && b.lost > 3*math.Max(rd.noise, rd.step)
	return b, true
}

// from returns the hold as it is fitted from a break on, and warns of it; where
// nothing had been lost before, that is where it was shut off.
func (rd *reader) from(b broken, ph trace.Phase) trace.Phase {
	p := &rd.phases
	if !b.fell {
		near := math.Max(0.2, 2*rd.interval())
		p.ShutOff, p.Earliest, p.Latest = b.at, b.at-near, b.at+near
		ph.First = b.point
		return ph
	}
	rd.warn(Warning{Code: HoldBreaks, Figure: b.at - p.ShutOff, Other: b.lost})
	p.ShutOff, p.Earliest, p.Latest = b.at, b.at, rd.t.Time[b.free]
	ph.First = b.free
	rd.broke = true
	return ph
}

// quickens returns the point between two at which the fall turns most clearly
// faster, if one does.
func (rd *reader) quickens(from, last int) (at int, ok bool) {
	t := rd.t.Time
	start := math.Max(rd.phases.Latest, t[from])
	if t[last]-start < breakAfter+breakLeft {
		return 0, false
	}
	s := newStretches(t, rd.depth, from, last)
	rough := math.Hypot(rd.noise, 0.5*rd.step)
	best := breakSure
	for _, seconds := range []float64{0.8, 2, 5, 12} {
		for i := from; i <= last; i += max(1, s.points(seconds)/8) {
			if t[i]-start < breakAfter || t[last]-t[i] < breakLeft {
				continue
			}
			a, n := s.slope(i, i+s.points(seconds))
			b, m := s.slope(max(from, i-s.points(seconds)), i)
			if n < 5 || m < 5 {
				continue
			}
			a, b = -a, math.Max(0, -b)
			length := t[min(last, i+s.points(seconds))] - t[i]
			sd := rough * math.Sqrt(12/float64(n)+12/float64(m)) / length
			if a < breakRatio*b || a*length < 4*rd.step || (a-breakRatio*b)/sd < best || !s.keeps(i, seconds, a, b) {
				continue
			}
			best, at, ok = (a-breakRatio*b)/sd, i, true
		}
	}
	if ok {
		to := min(last, at+s.points(2))
		for to > at && t[last]-t[to] < breakLeft {
			to--
		}
		at = s.corner(max(from, at-s.points(3)), to)
	}
	return at, ok
}

// keeps says whether a fall that quickened at point i from b to a goes on being
// faster: in the second half of the next 3 s, and over 5 s or more as against as long
// before; else it was knocked or moved about.
func (s *stretches) keeps(i int, seconds, a, b float64) bool {
	end := min(s.last, i+s.points(3))
	later, n := s.slope((i+end)/2, end)
	width := s.points(math.Max(5, seconds))
	wide, _ := s.slope(i, i+width)
	before, _ := s.slope(i-width, i)
	return n >= 3 && -later > math.Max(1.3*b, 0.2*a) && -wide > 1.4*math.Max(0, -before)
}

// stretches gives least-squares slopes of any stretch of a series, from running
// sums.
type stretches struct {
	t, u        []float64
	first, last int
	interval    float64
	sum         [][5]float64 // of t, u, tt, tu, uu, counted from the first point
}

func newStretches(t, u []float64, first, last int) *stretches {
	s := &stretches{t: t, u: u, first: first, last: last}
	s.interval = (t[last] - t[first]) / math.Max(1, float64(last-first))
	s.sum = make([][5]float64, last-first+2)
	for i := first; i <= last; i++ {
		x, y := t[i]-t[first], u[i]-u[first]
		c := &s.sum[i-first]
		s.sum[i-first+1] = [5]float64{c[0] + x, c[1] + y, c[2] + x*x, c[3] + x*y, c[4] + y*y}
	}
	return s
}

// points returns how many points make so many seconds.
func (s *stretches) points(seconds float64) int {
	if s.interval <= 0 {
		return 5
	}
	return max(5, int(seconds/s.interval+0.5))
}

// slope returns the slope of points i..j-1 and how many they are.
func (s *stretches) slope(i, j int) (slope float64, n int) {
	slope, _, n = s.line(i, j)
	return slope, n
}

// line returns the slope of the line through points i..j-1, what squares it
// leaves, and how many points they are.
func (s *stretches) line(i, j int) (slope, left float64, n int) {
	i, j = max(i, s.first), min(j, s.last+1)
	n = j - i
	if n < 2 {
		return 0, 0, max(n, 0)
	}
	a, b := s.sum[i-s.first], s.sum[j-s.first]
	m := float64(n)
	x, y := b[0]-a[0], b[1]-a[1]
	xx, xy, yy := b[2]-a[2]-x*x/m, b[3]-a[3]-x*y/m, b[4]-a[4]-y*y/m
	if xx <= 0 {
		return 0, math.Max(yy, 0), 0
	}
	return xy / xx, math.Max(0, yy-xy*xy/xx), n
}

// corner returns the point between i and j at which two lines fit best.
func (s *stretches) corner(i, j int) int {
	best, at := math.Inf(1), i
	for k := i + 3; k <= j-3; k++ {
		_, a, _ := s.line(i, k)
		_, b, _ := s.line(k, j+1)
		if a+b < best {
			best, at = a+b, k
		}
	}
	return at
}

// drifts warns where the room, the gauge or the head moved: the vented readings
// before and after differ by what counts beside the leak's own interval, or the
// vacuum deepened by itself.
func (rd *reader) drifts(ph trace.Phase) {
	if rd.out.Leak == nil {
		return
	}
	rate, sd, ok := rd.zeroMoves()
	half := (rd.out.Leak.High - rd.out.Leak.Low) / 2
	if rd.out.UpperLimitOnly {
		half = rd.out.Leak.High
	}
	asFlow := func(rate float64) float64 { return math.Abs(rate) * rd.k.volume() / rd.k.pa }
	if ok && math.Abs(rate) > 5*sd && asFlow(rate) > half/2 {
		rd.warn(Warning{Code: Drift, Figure: rate, Other: asFlow(rate)})
		return
	}
	if !rd.out.UpperLimitOnly {
		return
	}
	first := ph.First
	for first < ph.Last && rd.t.Time[first]-rd.phases.Latest < 3 { // the gas has settled
		first++
	}
	if ph.Last-first < 8 {
		return
	}
	t := rd.t.Time
	slope, sd := slopeOf(t[first:ph.Last+1], rd.depth[first:ph.Last+1], math.Hypot(rd.noise, 0.3*rd.step))
	if slope > 6*sd && slope*(t[ph.Last]-t[first]) > 1.5*rd.step {
		rd.warn(Warning{Code: Drift, Figure: slope, Other: asFlow(slope)})
	}
}

// zeroMoves returns how fast the vented reading moved between the start and the
// end of the trace [Pa/s], and its sd; false where it was not at rest at both.
func (rd *reader) zeroMoves() (rate, sd float64, ok bool) {
	list := rd.phases.List
	if len(list) < 2 || list[0].Name != trace.Vented {
		return 0, 0, false
	}
	a, b := list[0], list[len(list)-1]
	t := rd.t.Time
	if b.Name != trace.Vented { // a zero that moved far is not taken for the room's
		end := len(t) - 1
		b = trace.Phase{From: b.To, To: t[end], First: b.Last + 1, Last: end}
		if b.To-b.From < 0.8 || rd.depth[end]-rd.zero > 0.1*(rd.phases.Deepest-rd.zero) {
			return 0, 0, false
		}
	}
	for b.First < b.Last && t[b.First] < b.From+0.6*(b.To-b.From) {
		b.First++
	}
	mean := func(p trace.Phase) (v, at, n float64) {
		for i := p.First; i <= p.Last; i++ {
			v += rd.depth[i]
			at += t[i]
			n++
		}
		return v / n, at / n, n
	}
	v0, t0, n0 := mean(a)
	v1, t1, n1 := mean(b)
	if !(t1 > t0) {
		return 0, 0, false
	}
	rate = (v1 - v0) / (t1 - t0)
	moved, steady := rd.moves(b, rate)
	if _, ok := rd.moves(a, rate); !ok || !steady {
		return 0, 0, false
	}
	stuck := roundingSD(rd.noise, rd.step)
	sd = math.Sqrt(rd.noise*rd.noise*(1/n0+1/n1)+2*stuck*stuck+moved*moved) / (t1 - t0)
	return rate, sd, true
}

// moves says whether a phase moves no otherwise than at a rate [Pa/s]: the means
// of its halves differ by that within four standard deviations. It returns what
// they differ by beside it [Pa]: a gauge's lag may still be running out.
func (rd *reader) moves(p trace.Phase, rate float64) (beside float64, ok bool) {
	n := (p.Last - p.First + 1) / 2
	if n < 3 {
		return 0, false
	}
	for i := range n {
		first, last := p.First+i, p.Last-i
		beside += (rd.depth[first] - rd.depth[last] + rate*(rd.t.Time[last]-rd.t.Time[first])) / float64(n)
	}
	return beside, math.Abs(beside) <= 4*rd.noise*math.Sqrt(2/float64(n))+rd.step/4
}

// creeps says whether what dies away in a fall may be a pad or a hose: the port
// was said to be dry, or it has not died away within the hold, as vapour does.
func (rd *reader) creeps(f *fit, post *posterior, last float64) bool {
	if rd.r.Port.WetWith == rig.WetNothing {
		return true
	}
	sum, logTau := 0.0, 0.0
	for i := range post.atoms {
		if a := &post.atoms[i]; a.vap > 0 {
			sum += a.logW * a.vap
			logTau += a.logW * a.vap * math.Log(f.vapTau[a.tau])
		}
	}
	return sum > 0 && 3*math.Exp(logTau/sum) > last
}

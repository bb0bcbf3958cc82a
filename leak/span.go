package leak

import (
	"math"
	"sort"

	"seatproof/rig"
	"seatproof/trace"
)

// span is the stretch of a trace that is fitted.
type span struct {
	first, last int     // points
	early       float64 // s, how long before the shut-off it begins, for a steep fall
	back        float64 // s, by how much a coarse gauge moved the shut-off back
	cut         bool    // it ends near the room's level, not at a vent
}

// newFit cuts the hold into bins and gathers what is known of it.
func (rd *reader) newFit(ph trace.Phase) (*fit, *Refusal) {
	t, k := rd.t, &rd.k
	s := rd.fitted(ph)
	if ref := rd.tooLittle(ph, s); ref != nil {
		return nil, ref
	}
	if s.last-s.first < 5 {
		s.first = ph.First
	}
	start := rd.depth[ph.First] - rd.zero
	bins := makeBins(t, rd.depth, s.first, s.last, rd.phases.ShutOff, 0.012*start)
	noise := trace.Noise(rd.depth[s.first : s.last+1])
	if s.last-s.first < 40 {
		noise = math.Max(noise, rd.noise)
	}
	noise = math.Max(noise, rd.step/math.Sqrt(12)*0.5)
	if noise <= 0 {
		noise = 1
	}
	weigh(bins, noise, rd.step)
	f := &fit{k: k, hold: newHold(bins, k), zero: rd.zero, zeroSD: rd.zeroSD, fades: k.fades, logTau: priorLogTau, tauSD: priorLogTauSD, vapTau: k.fades.taus(), load: anyLoad}
	f.shutSD = math.Hypot((rd.phases.Latest-rd.phases.Earliest)/4, rd.interval()/math.Sqrt(12))
	if s.early > 0 {
		f.shutSD = math.Max(f.shutSD, 0.06)
	}
	f.shutSD = math.Hypot(f.shutSD, s.back/math.Sqrt(3))
	f.rig, f.rigSD = k.rigLeak/k.volume(), k.rigLeakSD/k.volume()
	if s.back == 0 && !rd.broke {
		rd.addBefore(f, noise, rd.phases.Earliest-s.early)
	}
	rd.setSeep(f)
	f.collect()
	return f, nil
}

// interval is the usual time between samples [s].
func (rd *reader) interval() float64 {
	if d := rd.t.Faults.Interval; d > 0 {
		return d
	}
	n := rd.t.Len()
	return (rd.t.Time[n-1] - rd.t.Time[0]) / float64(n-1)
}

// fitted chooses the points of a hold that are fitted.
func (rd *reader) fitted(ph trace.Phase) span {
	t := rd.t.Time
	s := span{first: ph.First, last: ph.Last}
	for s.first < ph.Last && t[s.first] < rd.phases.Latest+1e-9 {
		s.first++
	}
	from := func(at float64) int { // back from the hold to a time before it
		i := ph.First
		for i > 0 && t[i-1] >= at {
			i--
		}
		return i
	}
	if rd.broke {
		s.first = ph.First
	} else if s.back = rd.coarse(ph); s.back > 0 {
		s.first = from(rd.phases.ShutOff)
	}
	if s.early = rd.steep(ph); s.early > 0 && !rd.broke { // fast enough to tell when it began
		s.first = from(rd.phases.ShutOff - s.early)
	}
	// the last 2 kPa before the room tell little and bend much
	start := rd.depth[ph.First] - rd.zero
	floor := math.Max(math.Max(2e3, 5*rd.noise), 0.03*start) + rd.zero
	for i := s.first; i <= ph.Last; i++ {
		if rd.depth[i] < floor && rd.depth[min(i+1, ph.Last)] < floor {
			s.last, s.cut = i-1, true
			break
		}
	}
	if !s.cut && ph.Last < rd.t.Len()-1 { // the vent begins before it is seen
		for s.last > s.first+8 && t[ph.Last]-t[s.last] < 0.25 {
			s.last--
		}
		s.last = max(s.first, s.last-2)
	}
	return s
}

// tooLittle refuses a hold that is too short or has too few samples, unless it
// is short because the leak is large.
func (rd *reader) tooLittle(ph trace.Phase, s span) *Refusal {
	n := 0.0
	for i := ph.First; i <= s.last; i++ {
		n += rd.countAt(i)
	}
	dur := rd.t.Time[max(s.last, ph.First)] - rd.phases.ShutOff
	fast := false
	if dur < 3 && s.last > ph.First {
		rate := (rd.depth[ph.First] - rd.depth[s.last]) / math.Max(dur, 1e-6) / rd.k.pa
		fast = s.cut && rate > 0 || rate*0.32 > 4.2/60*0.5
	}
	switch {
	case s.back > 0 && dur < 2: // one step seen at the very end: no telling when the fall began
		return &Refusal{Code: NoHold}
	case !fast && (dur < 2 || dur < 3 && n < 20), fast && n < 8:
		return &Refusal{Code: HoldTooShort, Figure: dur, Other: n}
	case n < 8:
		return &Refusal{Code: TooFewSamples, Figure: n}
	}
	return nil
}

// coarse moves the shut-off back where the gauge's step is so coarse beside its
// noise that the fall is first seen when it reaches the next step, and returns
// by how much [s]: half the time a step takes, no further than the steady
// reading goes.
func (rd *reader) coarse(ph trace.Phase) float64 {
	if rd.step < 3*rd.noise || ph.Last-ph.First < 3 {
		return 0
	}
	t := rd.t.Time
	fall := rd.depth[ph.First] - rd.depth[ph.Last] + rd.step/2
	back := 0.5 * rd.step * (t[ph.Last] - t[ph.First]) / math.Max(fall, rd.step/2)
	from := t[ph.First]
	if s, ok := rd.phases.Find(trace.Steady); ok {
		from = t[s.First]
	}
	back = math.Min(back, 0.8*(rd.phases.ShutOff-from))
	if back <= 0 {
		return 0
	}
	rd.phases.ShutOff -= back
	return back
}

// steep returns how long before the found shut-off [s] the bins must begin, for
// a fall so fast that its own first samples tell when it began; else 0.
func (rd *reader) steep(ph trace.Phase) float64 {
	t := rd.t
	i := ph.First
	for i < ph.Last && t.Time[i]-rd.phases.ShutOff < 0.5 {
		i++
	}
	if rd.depth[ph.First]-rd.depth[i] < 15*rd.noise {
		return 0
	}
	interval := (t.Time[t.Len()-1] - t.Time[0]) / float64(t.Len()-1)
	return math.Max(0.12, 2*interval)
}

// collect lays out data and weights.
func (f *fit) collect() {
	for _, b := range f.hold.bins {
		f.data = append(f.data, b.value)
		f.weight = append(f.weight, 1/b.sd)
	}
	if b := f.hold.before; b != nil {
		f.data = append(f.data, b.value)
		f.weight = append(f.weight, 1/b.sd)
	}
}

// addBefore adds the level just before the shut-off, carried to it, where the
// hose lets it be the same: it places the start of a fast fall.
func (rd *reader) addBefore(f *fit, noise, until float64) {
	t := rd.t
	last := sort.SearchFloat64s(t.Time, until) - 1
	ph, ok := rd.phases.Find(trace.Steady)
	first := ph.First
	if pull, okp := rd.phases.Find(trace.Pull); okp && (!ok || ph.Last-ph.First < 3) {
		first = pull.First
	}
	if last-first < 2 {
		return
	}
	from := last
	for from > first && t.Time[last]-t.Time[from-1] < 1 {
		from--
	}
	nodes, slope := pullNodes(t, rd.depth, first, last, rd.zero, rd.k.pa, noise)
	f.hold.pull = nodes
	f.hold.slope = slope
	if len(nodes) > 0 {
		return // a pull that bends can't be carried on by a line
	}
	n, sum := 0.0, 0.0
	for i := from; i <= last; i++ {
		c := rd.countAt(i)
		n += c
		sum += c * rd.depth[i]
	}
	level := sum / n
	stuck := roundingSD(noise, rd.step)
	// 0.05 % of the vacuum: the valve's own handling moves it a little
	sd := math.Sqrt(noise*noise/n + stuck*stuck + 0.0005*0.0005*level*level)
	if rd.r.Hose.GaugeAt == rig.GaugeAtPump {
		return
	}
	f.hold.before = &bin{value: level, sd: sd, n: n}
}

// setSeep sets slip and inertia: from the seat where its size is given, else
// open.
func (rd *reader) setSeep(f *fit) {
	k := &rd.k
	// the leak from the whole fall, for the guess of its inertia
	p := f.begin(0.32)
	q := math.Max(p.a, 1e-5) * k.volume()
	f.slip, f.slipSD = slipPrior(q, k.pa, k.ta)
	number, _ := inertiaNumber(q, 0.2e-3, k.pa, k.ta)
	if s := rd.o.Seat; s != nil {
		var gap float64
		number, gap = inertiaNumber(q*0.027/s.Diameter, s.Contact, k.pa, k.ta)
		if gap > 0 {
			f.slip = slipWeight(math.Min(math.Max(gap, 0.5e-6), 20e-6), k.pa, k.ta)
			f.slipSD = 0.25 * f.slip
		}
	}
	f.inertia = 1.6 * number
}

package check

import (
	"math"
	"slices"

	"seatproof/rig"
	"seatproof/trace"
)

// When a hold is taken as settled after the shut-off [s], the gas being warm
// again: five usual time constants of the wall.
const settled = 3.5

// look is what one recording shows.
type look struct {
	on           On
	name         string
	at           float64
	running      bool    // the pump ran on through the hold
	noise        float64 // Pa
	zero, after  float64 // Pa, vented before the pull and after the hold; NaN: not seen
	steady       float64 // Pa over zero, at the end of the pull
	early, late  float64 // s, 15 to 45 % and 60 to 90 % of steady; NaN: too few samples
	drop         float64 // Pa lost within half a second of the shut-off
	flow, flowSD float64 // m³/s, by how fast it falls at the end of the hold
	slowing      float64 // Pa that it lost at first beyond what a leak loses: [fades]
	slowingSD    float64
	lost         float64 // Pa, settled to the end
	jump         float64 // Pa, the second largest sudden step of the hold over the rate about it
}

// lookAt takes a recording apart; false where it shows no pull and hold.
func lookAt(p Pulled, r rig.Rig) (look, bool) {
	if p.Trace == nil || p.Trace.Len() < 30 {
		return look{}, false
	}
	ph := trace.FindPhases(p.Trace, trace.PhaseOptions{FastestFall: fastest(p, r)})
	hold, ok := ph.Find(trace.Hold)
	if !ok || hold.To-hold.From < settled+6 {
		return look{}, false
	}
	u, t := p.Trace.Depth(), p.Trace.Time
	l := look{on: p.On, name: p.Name, at: p.At, noise: ph.Noise, zero: math.NaN(), after: math.NaN(), early: math.NaN(), late: math.NaN()}
	state := p.Pump
	if state == rig.PumpNotSaid {
		state = r.Pump.AfterShutOff
	}
	l.running = state == rig.PumpRunning
	pull, ok := ph.Find(trace.Pull)
	if !ok {
		return look{}, false
	}
	if v, ok := ph.Find(trace.Vented); ok && v.From < pull.From && v.Last > v.First {
		l.zero = middle(u[v.First : v.Last+1])
	}
	if v := ph.List[len(ph.List)-1]; v.Name == trace.Vented && v.From > hold.From {
		if first := at(t, v.To-1); first > v.First && first < v.Last {
			l.after = middle(u[first : v.Last+1])
		}
	}
	zero := l.zero
	if math.IsNaN(zero) {
		zero = ph.Room
	}
	off := ph.ShutOff
	a, b := at(t, off-2), at(t, off-0.1)
	if b-a < 3 {
		return look{}, false
	}
	l.steady = middle(u[a:b]) - zero
	if l.steady < 5e3 {
		return look{}, false
	}
	cross := func(from, to int, part float64) float64 {
		level := zero + part*l.steady
		for i := max(from, 1); i < to; i++ {
			if (u[i-1] < level) != (u[i] < level) {
				return t[i-1] + (t[i]-t[i-1])*(level-u[i-1])/(u[i]-u[i-1])
			}
		}
		return math.NaN()
	}
	l.early = cross(max(pull.First-2, 0), b, 0.45) - cross(max(pull.First-2, 0), b, 0.15)
	l.late = cross(max(pull.First-2, 0), b, 0.90) - cross(max(pull.First-2, 0), b, 0.60)
	// the hold, without the last second, in which a vent may begin
	first, last := at(t, off+settled), at(t, hold.To-1)
	if last-first < 20 {
		return look{}, false
	}
	l.drop = l.steady + zero - middle(u[at(t, off+0.3):at(t, off+0.7)+1])
	end := at(t, (t[first]+2*t[last])/3) // its last third
	slope, se := fall(t[end:last], u[end:last], l.noise)
	volume := wholeVolume(p, r)
	pa := airOf(r)
	l.flow, l.flowSD = slope*volume/pa, se*volume/pa
	v0, v1 := middle(u[first:first+5]), middle(u[last-5:last])
	l.lost = v0 - v1
	l.slowing, l.slowingSD = fades(t[first:last], u[first:last], pa, zero, l.noise)
	l.jump = sudden(t[first:last], u[first:last])
	return l, true
}

// fastest returns the steepest fall [Pa/s] that a leak could make which lets the
// pump reach a vacuum: what the pump still draws there, and a fifth of what it
// draws at most, since nobody knows its curve better. nil where the pump is not
// known.
func fastest(p Pulled, r rig.Rig) func(float64) float64 {
	c, err := r.Pump.Here(airOf(r))
	if err != nil {
		return nil
	}
	volume := wholeVolume(p, r)
	return func(deepest float64) float64 {
		return airOf(r) / volume * (c.Flow(deepest) + 0.2*c.Flow(0))
	}
}

// wholeVolume is the closed volume [m³] of a recording.
func wholeVolume(p Pulled, r rig.Rig) float64 {
	v := 60e-6
	if r.Volume.Known {
		v = r.Volume.Value
	}
	if p.On == OnAPort && p.Volume.Known {
		v += p.Volume.Value
	}
	return v
}

// ventTime returns how long the gauge took to fall from 40 to 10 % when the
// room was let in after a hold [s]; NaN where that was not seen.
// It needs no phases: a gauge that lags hides them.
func ventTime(p Pulled) float64 {
	if p.On == OnAPort || p.Trace == nil || p.Trace.Len() < 30 {
		return math.NaN()
	}
	u := p.Trace.Depth()
	low, high := middle(u[:3]), slices.Max(u)
	for i := range 5 {
		low = math.Min(low, u[len(u)-1-i])
	}
	if high-low < 10e3 {
		return math.NaN()
	}
	return lastFall(p.Trace.Time, u, low+0.1*(high-low)) - lastFall(p.Trace.Time, u, low+0.4*(high-low))
}

// roughJump returns [sudden] of a recording in which no hold was found, with the
// noise of its samples, between the time it got there and the vent: a needle that
// sticks hides where the hold begins. NaN where it never got anywhere.
func roughJump(p Pulled) (jump, noise float64) {
	if p.Trace == nil || p.Trace.Len() < 30 {
		return math.NaN(), math.NaN()
	}
	u, t := p.Trace.Depth(), p.Trace.Time
	low, high := middle(u[:3]), slices.Max(u)
	got := slices.IndexFunc(u, func(x float64) bool { return x > low+0.97*(high-low) })
	if high-low < 10e3 || got < 0 {
		return math.NaN(), math.NaN()
	}
	first, last := at(t, t[got]+settled), at(t, lastFall(t, u, low+0.5*(high-low))-1.5)
	if last-first < 40 {
		return math.NaN(), math.NaN()
	}
	return sudden(t[first:last], u[first:last]), trace.Noise(u[first:last])
}

// apart is a day taken apart.
type apart struct {
	looks        []look
	vents, jumps []float64
	noise        []float64
}

// takeApart looks at all recordings of a day.
func takeApart(d Day) (a apart) {
	add := func(to *[]float64, x float64) {
		if !math.IsNaN(x) {
			*to = append(*to, x)
		}
	}
	for _, p := range d.Pulls {
		if l, ok := lookAt(p, d.Rig); ok {
			a.looks = append(a.looks, l)
			add(&a.jumps, l.jump)
			add(&a.noise, l.noise)
		} else {
			j, n := roughJump(p)
			add(&a.jumps, j)
			add(&a.noise, n)
		}
		add(&a.vents, ventTime(p))
	}
	return a
}

// lastFall returns when u last fell through a level [s], NaN: never.
func lastFall(t, u []float64, level float64) float64 {
	for i := len(u) - 1; i > 0; i-- {
		if u[i-1] > level && u[i] <= level {
			return t[i-1] + (t[i]-t[i-1])*(u[i-1]-level)/(u[i-1]-u[i])
		}
	}
	return math.NaN()
}

func airOf(r rig.Rig) float64 {
	pa, _ := RoomOf(r)
	return pa
}

// at returns the first index whose time is not before x.
func at(t []float64, x float64) int {
	i, _ := slices.BinarySearch(t, x)
	return min(i, len(t)-1)
}

// middle is the mean of the middle half: it bears spikes and steps.
func middle(u []float64) float64 {
	s := slices.Clone(u)
	slices.Sort(s)
	cut := len(s) / 4
	sum := 0.0
	for _, x := range s[cut : len(s)-cut] {
		sum += x
	}
	return sum / float64(len(s)-2*cut)
}

// fadesIn is the time [s] over which vapour and pads do most of what they do.
const fadesIn = 15.0

// fades returns by how much [Pa] a hold fell at first beyond what a leak makes of
// it, with its standard deviation: A of
//
//	u = a - b B(t) + A exp(-t/15 s)
//
// by least squares, B being the fall by a seep, which slows down most of all
// leaks as the vacuum goes. So a leak of any kind gives 0 or less.
func fades(t, u []float64, pa, zero, noise float64) (amount, sd float64) {
	n := len(t)
	v0, v1 := middle(u[:5])-zero, middle(u[n-5:])-zero
	var m [3][4]float64 // normal equations
	b, last := 0.0, t[0]
	span := t[n-1] - t[0]
	for i := range t {
		x := (t[i] - t[0]) / span
		v := v0 + (v1-v0)*x
		b += (pa*pa - (pa-v)*(pa-v)) / (pa * pa) * (t[i] - last) / span
		last = t[i]
		row := [4]float64{1, -b, math.Exp(-(t[i] - t[0]) / fadesIn), u[i]}
		for j := range 3 {
			for k := range 4 {
				m[j][k] += row[j] * row[k]
			}
		}
	}
	// elimination leaves the last diagonal as what only A explains
	for j := range 2 {
		for i := j + 1; i < 3; i++ {
			f := m[i][j] / m[j][j]
			for k := j; k < 4; k++ {
				m[i][k] -= f * m[j][k]
			}
		}
	}
	return m[2][3] / m[2][2], noise / math.Sqrt(m[2][2])
}

// fall is how fast u falls by least squares, and its standard deviation.
func fall(t, u []float64, noise float64) (slope, sd float64) {
	n := float64(len(t))
	var st, su float64
	for i := range t {
		st += t[i]
		su += u[i]
	}
	var stt, stu float64
	for i := range t {
		stt += (t[i] - st/n) * (t[i] - st/n)
		stu += (t[i] - st/n) * (u[i] - su/n)
	}
	return -stu / stt, noise / math.Sqrt(stt)
}

// sudden returns the second largest step down of a hold within a fifth of a
// second over the median one: a needle that sticks makes several, a bump one.
func sudden(t, u []float64) float64 {
	// medians of three take single spikes out
	m := slices.Clone(u)
	for i := 1; i < len(u)-1; i++ {
		m[i] = math.Max(math.Min(u[i-1], u[i]), math.Min(math.Max(u[i-1], u[i]), u[i+1]))
	}
	k := max(1, int(math.Round(0.2*float64(len(t)-1)/(t[len(t)-1]-t[0]))))
	var steps []float64
	for i := k; i < len(m); i++ {
		steps = append(steps, m[i-k]-m[i])
	}
	best, second := 0.0, 0.0
	last := -10 * k
	for i, x := range steps {
		// over the rate of the two seconds about it: a fast fall bends
		x -= middle(steps[max(0, i-5*k):min(len(steps), i+5*k+1)])
		switch {
		case x > best:
			if i-last > 2*k {
				second = best
			}
			best, last = x, i
		case x > second && i-last > 2*k:
			second = x
		}
	}
	return second
}

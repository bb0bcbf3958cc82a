package leak

import (
	"math"

	"seatproof/gas"
	"seatproof/trace"
)

// shapes is a leak over the volume [1/s] as coefficients of the shapes of
// law.go, opening, edge, seep, slip, and the seep times its inertia number and
// times the power of the load that closes its gap.
type shapes [6]float64

// mixture returns the shapes of a leak of total flow a [1/s], opening's share
// s, edge e, slip weight w, inertia number i and power of the load n.
func mixture(a, s, e, w, i, n float64) shapes {
	seep := a * (1 - s)
	return shapes{a * s, a * s * e, seep, seep * w, seep * i, seep * n}
}

func (k shapes) plus(d shapes) shapes {
	for i := range k {
		k[i] += d[i]
	}
	return k
}

// holdParams is everything the predicted hold depends on.
type holdParams struct {
	leak   shapes
	v0     float64 // Pa, true vacuum at the shut-off
	logTau float64
	mix    float64 // conduction's part of the wall's heat, 0..1
	shut   float64 // s, shut-off after the nominal one
	logLag float64
	pa     float64 // Pa
	gain   float64 // of the reading
	bow    float64 // of span
	zero   float64 // Pa, reading when vented
	cold   float64 // by how much the end of the pull cooled the gas more than its pressures say, 0 as much
}

// hold predicts what the gauge shows during a hold.
type hold struct {
	bins    []bin
	before  *bin // level just before the shut-off, carried to it; nil: none
	slope   float64
	pull    []node // the end of the pull, when it was not steady; times before the shut-off
	wall    float64
	preload float64 // Pa
	span    float64
	spanLow float64
	times   []float64 // where the model is evaluated: helpers, then the bins
	helpers int
	x, vm   []float64
}

// node is a point of the pull: time [s, negative] and p/pa.
type node struct{ time, ratio float64 }

// newHold prepares the prediction for these bins.
func newHold(bins []bin, k *known) *hold {
	wall, _ := k.wall()
	h := &hold{bins: bins, wall: wall, preload: k.preload, span: k.span, spanLow: k.spanLow}
	// a few points between the shut-off and the first bin, where that is late
	first := bins[0].time
	for t := 0.02; t < first*0.7; t *= 1.6 {
		h.times = append(h.times, t)
	}
	h.helpers = len(h.times)
	for i := range bins {
		h.times = append(h.times, bins[i].time)
	}
	h.x = make([]float64, len(h.times))
	h.vm = make([]float64, len(h.times))
	return h
}

// first returns the time of the first bin.
func (h *hold) first() float64 { return h.bins[0].time }

// size returns the number of predicted values: the bins, and the level before.
func (h *hold) size() int {
	if h.before != nil {
		return len(h.bins) + 1
	}
	return len(h.bins)
}

// predict writes what the gauge shows at each bin [Pa, as read], and last the
// level before the shut-off where there is one, into out.
func (h *hold) predict(p *holdParams, out []float64) {
	m := holdModel{law: newLaw(p.pa, h.preload), wall: h.wall, tau: math.Exp(p.logTau)}
	m.law.setShapes(p.leak)
	m.weight, m.rate = wallModes(p.mix)
	shut := p.shut
	state := h.start(&m, p)
	// points before the shut-off stand on the line that leads to it
	from := 0
	for from < len(h.times) && h.times[from] <= shut {
		h.x[from] = (p.pa - p.v0 - h.slope*(h.times[from]-shut)) / p.pa
		from++
	}
	m.run(state, shut, h.times[from:], h.x[from:], nil)
	lag := math.Exp(p.logLag)
	// the gauge follows with a first-order lag: exact for a vacuum that is
	// straight between the points
	t, v := shut, p.v0
	shown := p.v0 - lag*h.slope
	for i := range from {
		h.vm[i] = p.pa*(1-h.x[i]) - lag*h.slope
	}
	for i := from; i < len(h.times); i++ {
		ti := h.times[i]
		vi := p.pa * (1 - h.x[i])
		dt := ti - t
		s := (vi - v) / dt
		shown = vi - lag*s + (shown-v+lag*s)*math.Exp(-dt/lag)
		h.vm[i] = shown
		t, v = ti, vi
	}
	n := len(h.bins)
	vm := h.vm[h.helpers:]
	ts := h.times[h.helpers:]
	for i := range n {
		y := vm[i]
		if w2 := h.bins[i].width2; w2 > 0 && i > 0 && i+1 < n {
			// mean over a bin of a curve that bends
			bend := ((vm[i+1]-vm[i])/(ts[i+1]-ts[i]) - (vm[i]-vm[i-1])/(ts[i]-ts[i-1])) / ((ts[i+1] - ts[i-1]) / 2)
			y += bend * w2 / 2
		}
		out[i] = h.read(y, p)
	}
	if h.before != nil {
		out[n] = h.read(p.v0-lag*h.slope, p)
	}
}

// read returns what the gauge shows at the true vacuum v.
func (h *hold) read(v float64, p *holdParams) float64 {
	xi := (v - h.spanLow) / h.span
	return p.zero + (1+p.gain)*v + p.bow*h.span*4*xi*(1-xi)
}

// start returns the state of the gas at the shut-off: at the wall's
// temperature after a steady reading, else colder by what the end of the pull
// took out of it.
func (h *hold) start(m *holdModel, p *holdParams) thermal {
	x0 := (p.pa - p.v0) / p.pa
	var s thermal
	if len(h.pull) >= 2 {
		s = m.endOfPull(h.pull)
		for k := range s.delta {
			s.delta[k] *= 1 + p.cold
		}
	}
	s.mass = x0 / m.temperature(&s)
	return s
}

// endOfPull follows the gas through measured pressures while the pump draws,
// starting as if the first slope had gone on for long, and returns its state at
// the last one. With w the flow to the pump and a the leak (both free air over
// volume):
//
//	x' = g a - g θ w + H,  H = -Σ c λ δ/tau,  δ' = ((g-θ) a - (g-1) θ w - λ δ/tau)/y
func (m *holdModel) endOfPull(nodes []node) thermal {
	var s thermal
	g := gas.Gamma
	rate0 := (nodes[1].ratio - nodes[0].ratio) / (nodes[1].time - nodes[0].time)
	for k := range s.delta {
		s.delta[k] = (g - 1) / g * rate0 * g * m.tau / m.rate[k]
		if nodes[0].ratio > 0.97 { // from the room: nothing has been pulled yet
			s.delta[k] = 0
		}
	}
	for i := 1; i < len(nodes); i++ {
		a, b := nodes[i-1], nodes[i]
		dt := b.time - a.time
		dx := (b.ratio - a.ratio) / dt
		steps := min(12, 1+int(dt/(0.15*m.tau*math.Max(a.ratio, 0.05))))
		for q := range steps {
			x := a.ratio + dx*dt*(float64(q)+0.5)/float64(steps)
			theta := m.temperature(&s)
			y := x / theta
			f := m.law.flow(x)
			heat := 0.0
			for k := range s.delta {
				heat -= m.weight[k] * m.rate[k] * s.delta[k] / m.tau
			}
			w := (g*f + heat - dx) / (g * theta)
			src := ((g-theta)*f - (g-1)*theta*w) * m.tau
			z := dt / float64(steps) / (m.tau * y)
			for k := range s.delta {
				d := math.Exp(-m.rate[k] * z)
				s.delta[k] = s.delta[k]*d + src*(1-d)/m.rate[k]
			}
		}
	}
	return s
}

// pullNodes returns the last seconds of the pull before point off as nodes, or
// nil when the depth stood still there (its slope within three of its own
// standard deviations, or under 0.2 % of the vacuum a second).
func pullNodes(t *trace.Trace, depth []float64, first, off int, zero, pa, noise float64) (nodes []node, slope float64) {
	from := off
	for from > first && t.Time[off]-t.Time[from-1] <= 0.5 {
		from--
	}
	if off-from < 3 {
		return nil, 0
	}
	sl, sd := slopeOf(t.Time[from:off+1], depth[from:off+1], noise)
	if math.Abs(sl) < 3*sd || math.Abs(sl) < 0.002*math.Abs(depth[off]-zero) {
		return nil, 0
	}
	// its slope at the very end
	near := off
	for near > first && (t.Time[off]-t.Time[near-1] <= 0.2 || off-near < 4) {
		near--
	}
	sl, _ = slopeOf(t.Time[near:off+1], depth[near:off+1], noise)
	sl = math.Max(sl, 0)
	const seconds, count = 3.0, 24
	start := off
	for start > first && t.Time[off]-t.Time[start-1] <= seconds {
		start--
	}
	width := (t.Time[off] - t.Time[start]) / count
	for i := start; i <= off; {
		j, sum, st := i, 0.0, 0.0
		for j <= off && t.Time[j]-t.Time[i] <= width {
			sum += depth[j]
			st += t.Time[j]
			j++
		}
		n := float64(j - i)
		nodes = append(nodes, node{st/n - t.Time[off], (pa - (sum/n - zero)) / pa})
		i = j
	}
	last := nodes[len(nodes)-1]
	if last.time < 0 {
		nodes = append(nodes, node{0, last.ratio + last.time*sl/pa})
	}
	return nodes, sl
}

// slopeOf returns the least-squares slope of y against t and its sd for values
// of that noise.
func slopeOf(t, y []float64, noise float64) (slope, sd float64) {
	n := float64(len(t))
	var st, sy float64
	for i := range t {
		st += t[i]
		sy += y[i]
	}
	st, sy = st/n, sy/n
	var stt, sty float64
	for i := range t {
		stt += (t[i] - st) * (t[i] - st)
		sty += (t[i] - st) * (y[i] - sy)
	}
	if stt <= 0 {
		return 0, math.Inf(1)
	}
	return sty / stt, noise / math.Sqrt(stt)
}

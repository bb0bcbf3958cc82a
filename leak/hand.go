package leak

import (
	"math"
	"sort"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/trace"
)

// handReaction is the ± (95 %) of a time read off a watch where none is given
// (common practice, no source).
const handReaction = 0.5 // s

// handPoint is a reading by eye as the fit takes it.
type handPoint struct {
	time, timeSD float64 // s
	v, sd        float64 // Pa, zeroed; sd of the reading, a rectangle of its ±
	censored     bool    // the needle was still above v
}

// readHand reads a hold told by a few readings of a needle and a watch: errors
// in both, and "still above this when I stopped" as an upper limit of the fall.
// The gas is taken as settled: over 15 s the wall's heat moves such a fall by
// less than a thumb on the watch.
func (rd *reader) readHand() *Refusal {
	pts, ref := rd.handPoints()
	if ref != nil {
		return ref
	}
	rd.portWarnings()
	if len(pts) == 1 {
		return rd.handSteadyAlone(pts[0])
	}
	last := pts[len(pts)-1]
	rd.out.Phases = []trace.Phase{{Name: trace.Hold, From: pts[0].time, To: last.time, Last: len(pts) - 1}}
	rd.noise = pts[0].sd
	rd.handSteady(pts[0])
	h := newHandFit(pts, &rd.k)
	mixed := h.integrate()
	out := rd.out
	out.Source = FromHand
	out.Draws = rd.handDraws(h, h.draws(drawsKept))
	flow := make([]float64, len(out.Draws))
	share := make([]float64, 0, len(mixed))
	for i, d := range out.Draws {
		flow[i] = d.Flow
	}
	for _, d := range mixed {
		share = append(share, d.Share)
	}
	sort.Float64s(flow)
	leak := equalTailed(flow)
	if densityAtZero(flow) > 0.15 {
		out.UpperLimitOnly = true
		leak = Interval{leak.Median, 0, quantile(flow, 0.95)}
	}
	out.Leak = &leak
	s := shortest(share)
	out.Share, out.Edge = &s, &Interval{0.5, 0.025, 0.975}
	out.Kind = KindUnresolved
	rd.handDescribe(h, pts)
	rd.sizes()
	rd.handBudget(h)
	rd.finish()
	return nil
}

// handPoints zeroes the readings and gives each its error.
func (rd *reader) handPoints() ([]handPoint, *Refusal) {
	hand := append([]trace.HandReading(nil), rd.t.Hand...)
	sort.SliceStable(hand, func(i, j int) bool { return hand[i].Time < hand[j].Time })
	if len(hand) < 2 && !(len(hand) == 1 && !hand[0].Censored && rd.r.Pump.Known()) {
		return nil, &Refusal{Code: TooFewSamples, Figure: float64(len(hand))}
	}
	k := &rd.k
	half := k.resolution
	if rd.r.Gauge.Division == 0 && half > 0 {
		half /= 2 // a digital step is read to half of itself
	}
	if rd.r.Gauge.Division == 0 { // an eye reads a scale no finer than that
		half = math.Max(half, 0.005*k.span)
	}
	rd.zero, rd.zeroSD = 0, half/math.Sqrt(3)
	if k.zero.Known {
		rd.zero, rd.zeroSD = k.zero.Value, k.zero.SD()
	}
	if k.line != nil && !rd.r.Gauge.Zero.Known {
		rd.zeroSD = math.Hypot(k.zeroSDAt(k.correct(hand[0].Value)), half/math.Sqrt(3))
	}
	var pts []handPoint
	deepest := math.Inf(-1)
	for _, r := range hand {
		p := handPoint{time: r.Time, timeSD: r.TimeSpread / 1.96, v: k.correct(r.Value) - rd.zero, sd: r.Spread / math.Sqrt(3), censored: r.Censored}
		if r.Spread <= 0 {
			p.sd = half / math.Sqrt(3)
		}
		if r.TimeSpread <= 0 {
			p.timeSD = handReaction / 1.96
		}
		deepest = math.Max(deepest, p.v)
		pts = append(pts, p)
	}
	pts[0].timeSD = 0 // time counts from it
	dur := pts[len(pts)-1].time - pts[0].time
	slack := 1.96*(k.gainSD*k.span+rd.zeroSD+k.paSD) + half
	switch {
	case deepest > k.pa+slack:
		return nil, &Refusal{Code: TooDeep, Figure: deepest, Other: k.pa}
	case deepest <= 500:
		return nil, &Refusal{Code: NoPull, Figure: deepest}
	case deepest < 5e3:
		return nil, &Refusal{Code: NoVacuum, Figure: deepest}
	case pts[0].censored:
		return nil, &Refusal{Code: TooFewSamples, Figure: 0}
	case pts[len(pts)-1].v > pts[0].v+3*math.Hypot(pts[0].sd, pts[len(pts)-1].sd) && !pts[len(pts)-1].censored:
		return nil, &Refusal{Code: NoHold} // it rose: the pump was still on
	case dur < 2 && len(pts) > 1:
		return nil, &Refusal{Code: HoldTooShort, Figure: dur, Other: float64(len(pts))}
	}
	return pts, nil
}

// handSteadyAlone answers from one figure: the needle with the pump on, which
// the pump's curve turns into a leak, bluntly.
func (rd *reader) handSteadyAlone(p handPoint) *Refusal {
	rd.noise = p.sd
	rd.handSteady(p)
	return rd.steadyOr(&Refusal{Code: TooFewSamples, Figure: 1})
}

// handSteady takes the first reading, at the shut-off, as the steady one.
func (rd *reader) handSteady(p handPoint) {
	if p.time > 1 {
		return
	}
	own := math.Hypot(p.sd, rd.zeroSD)
	gauge := math.Hypot(rd.k.gainSD*p.v, rd.k.bowSD*rd.k.span)
	u := 1.96 * math.Hypot(own, gauge)
	s := &SteadyReading{Vacuum: Interval{p.v, p.v - u, p.v + u}}
	rd.out.Steady = s
	c, err := rd.r.Pump.Here(rd.k.pa)
	if err != nil {
		return
	}
	x := c.Blanked()
	rd.out.Blanked = &Interval{x, x - rd.r.Pump.Blanked.Spread, x + rd.r.Pump.Blanked.Spread}
	rd.steadyFlow(s, c, p.v, own)
}

// handFit is the posterior of a leak from readings by eye: a grid in the leak
// over the volume for each way of flowing, the start of the hold integrated out.
type handFit struct {
	pts   []handPoint
	k     *known
	rig   float64
	top   float64 // 1/s, end of the grid
	ways  []handWay
	cells []handCell
}

type handWay struct {
	s, e, weight float64
	pure         bool
}

type handCell struct {
	a, w float64
	way  int
}

const handGrid = 240

func newHandFit(pts []handPoint, k *known) *handFit {
	h := &handFit{pts: pts, k: k, rig: k.rigLeak / k.volume()}
	// the largest leak worth trying: the whole fall and six of its errors
	fall, err := 0.0, 0.0
	for _, p := range pts[1:] {
		fall = math.Max(fall, pts[0].v-p.v)
		err = math.Max(err, math.Hypot(p.sd, pts[0].sd))
	}
	dur := math.Max(pts[len(pts)-1].time-pts[0].time-2*pts[len(pts)-1].timeSD, 0.5)
	h.top = 2.5*(fall+6*err)/(k.pa*dur) + 1e-5
	third := 1.0 / 3
	h.ways = append(h.ways, handWay{0, 0.5, third, true})
	for _, e := range []float64{1.0 / 6, 0.5, 5.0 / 6} {
		h.ways = append(h.ways, handWay{1, e, third / 3, true})
	}
	for _, s := range []float64{0.1, 0.3, 0.5, 0.7, 0.9} {
		h.ways = append(h.ways, handWay{s, 0.5, third / 5, false})
	}
	return h
}

// integrate fills the cells with weights that add to 1, and returns draws of the
// ways that are neither pure opening nor pure seep.
func (h *handFit) integrate() []Draw {
	slip, _ := slipPrior(h.top/3*h.k.volume(), h.k.pa, h.k.ta)
	for pass := 0; pass < 2; pass++ {
		h.cells = h.cells[:0]
		best := math.Inf(-1)
		for w := range h.ways {
			for i := range handGrid {
				a := h.top * (float64(i) + 0.5) / handGrid
				l := h.logLikelihood(a, h.ways[w], slip) + math.Log(h.ways[w].weight)
				best = math.Max(best, l)
				h.cells = append(h.cells, handCell{a, l, w})
			}
		}
		sum, mean, top := 0.0, 0.0, 0.0
		for i := range h.cells {
			c := &h.cells[i]
			c.w = math.Exp(c.w - best)
			sum += c.w
			mean += c.w * c.a
			if c.w > 1e-7 {
				top = math.Max(top, c.a)
			}
		}
		for i := range h.cells {
			h.cells[i].w /= sum
		}
		slip, _ = slipPrior(mean/sum*h.k.volume(), h.k.pa, h.k.ta)
		h.top = math.Min(h.top, 1.1*top+h.top/handGrid)
	}
	var mixed []Draw
	u := num.NewSequence(1)
	var x [1]float64
	for _, c := range h.cells {
		if w := h.ways[c.way]; !w.pure {
			for range int(math.Round(c.w * 3000)) {
				u.Next(x[:])
				mixed = append(mixed, Draw{Share: w.s + 0.2*(x[0]-0.5)})
			}
		}
	}
	if len(mixed) == 0 {
		mixed = []Draw{{Share: 0.5}}
	}
	return mixed
}

// logLikelihood integrates the start of the hold out of the readings' normal
// errors, by one least-squares step about the first reading.
func (h *handFit) logLikelihood(a float64, w handWay, slip float64) float64 {
	l := newLaw(h.k.pa, h.k.preload)
	l.setShapes(mixture(a, w.s, w.e, slip, 0, loadMean).plus(shapes{0, 0, h.rig, h.rig * slip}))
	v, slope := h.curve(&l)
	// y_i = v_i + d; d's weighted mean and its variance
	var sw, sd float64
	logW := 0.0
	for i, p := range h.pts {
		if p.censored {
			continue
		}
		s2 := p.sd*p.sd + slope[i]*slope[i]*p.timeSD*p.timeSD
		sw += 1 / s2
		sd += (p.v - v[i]) / s2
		logW -= 0.5 * math.Log(s2)
	}
	d := sd / sw
	logW -= 0.5 * math.Log(sw)
	for i, p := range h.pts {
		s2 := p.sd*p.sd + slope[i]*slope[i]*p.timeSD*p.timeSD
		if p.censored {
			x := (v[i] + d - p.v) / math.Sqrt(s2+1/sw)
			logW += math.Log(num.NormalCDF(x) + 1e-300)
			continue
		}
		r := p.v - v[i] - d
		logW -= 0.5 * r * r / s2
	}
	return logW
}

// curve returns the vacuum [Pa] and its slope [Pa/s] at each reading, isothermal
// from the first one.
func (h *handFit) curve(l *law) (v, slope []float64) {
	v, slope = make([]float64, len(h.pts)), make([]float64, len(h.pts))
	pa := h.k.pa
	r := (pa - h.pts[0].v) / pa
	t := h.pts[0].time
	for i, p := range h.pts {
		n := 12
		dt := (p.time - t) / float64(n)
		for range n {
			if dt <= 0 {
				break
			}
			k1 := l.flow(r)
			k2 := l.flow(r + dt*k1/2)
			r = math.Min(1, r+dt*k2)
		}
		t = p.time
		v[i] = pa * (1 - r)
		slope[i] = pa * l.flow(r)
	}
	return v, slope
}

// draws returns n draws of leak over volume, share and edge.
func (h *handFit) draws(n int) []Draw {
	out := make([]Draw, 0, n)
	seq := num.NewSequence(2)
	var u [2]float64
	acc, next := 0.0, 0.5/float64(n)
	for _, c := range h.cells {
		acc += c.w
		for next < acc && len(out) < n {
			seq.Next(u[:])
			w := h.ways[c.way]
			out = append(out, Draw{Flow: math.Max(0, c.a+(u[0]-0.5)*h.step()), Share: w.s, Edge: w.e})
			next += 1 / float64(n)
		}
	}
	return out
}

// step is the width of a cell [1/s].
func (h *handFit) step() float64 {
	if len(h.cells) < 2 {
		return h.top / handGrid
	}
	return h.cells[1].a - h.cells[0].a
}

// handDraws turns draws over the volume into flows: each gets its own volume,
// the gauge's local gain, the rig leak, and how far the seat closes under load,
// which the few readings can't tell.
func (rd *reader) handDraws(h *handFit, d []Draw) []Draw {
	k := &rd.k
	gain := rd.localGainSD(h.pts[0].v)
	seq := num.NewSequence(3)
	var u [3]float64
	d = rd.scaleDraws(d)
	pressed := h.pressed()
	for i := range d {
		seq.Next(u[:])
		closes := math.Exp(3 * (loadDraw(u[2]) - loadMean) * (1 - d[i].Share) * pressed)
		d[i].Flow = math.Max(0, d[i].Flow*closes/math.Max(0.2, 1+gain*normalQuantile(u[0]))-k.rigLeakSD*normalQuantile(u[1]))
	}
	return d
}

// pressed is the logarithm of the force on the valve at the middle of the
// readings over that at 50 kPa.
func (h *handFit) pressed() float64 {
	mid := math.Max(0, (h.pts[0].v+h.pts[len(h.pts)-1].v)/2)
	return math.Log((mid + h.k.preload) / (gas.StatedVacuum + h.k.preload))
}

// localGainSD is the sd of the gauge's slope about the vacuum v: its gain and
// the slope of its bow.
func (rd *reader) localGainSD(v float64) float64 {
	xi := (v - rd.k.spanLow) / rd.k.span
	return math.Hypot(rd.k.gainSD, rd.k.bowSD*4*(1-2*xi))
}

// handDescribe sets what was lost, the rate of fall and the drawn curve.
func (rd *reader) handDescribe(h *handFit, pts []handPoint) {
	out, k := rd.out, &rd.k
	last := pts[len(pts)-1]
	over := last.time - pts[0].time
	lost := pts[0].v - last.v
	for _, p := range pts[1:] { // the last one that was read, not only bounded
		if !p.censored {
			out.Lost = &Lost{Vacuum: math.Max(0, pts[0].v-p.v), Over: p.time - pts[0].time}
		}
	}
	rate := lost / over
	u := 1.96 * math.Hypot(math.Hypot(last.sd, pts[0].sd)/over, rate*last.timeSD/over)
	if last.censored {
		out.FallRate = &Interval{rate / 2, 0, rate}
	} else {
		out.FallRate = &Interval{rate, rate - u, rate + u}
	}
	if pts[0].v < gas.StatedVacuum-1 {
		out.Deepest = &AtVacuum{Vacuum: pts[0].v, Flow: rd.flowAt(pts[0].v, 0.13, 0, loadMean)}
		rd.warn(Warning{Code: Extrapolated, Figure: pts[0].v})
	}
	l := newLaw(k.pa, k.preload)
	l.setShapes(mixture(out.Leak.Median/k.volume(), 0.5, 0.5, 0.13, 0, loadMean).plus(shapes{0, 0, h.rig}))
	v, _ := h.curve(&l)
	for i, p := range pts {
		out.Curve = append(out.Curve, CurvePoint{p.time, v[i]})
	}
}

// handBudget splits the variance of a leak read by eye.
func (rd *reader) handBudget(h *handFit) {
	k := &rd.k
	var m, ss, between float64
	ways := make([]struct{ w, m float64 }, len(h.ways))
	for _, c := range h.cells {
		m += c.w * c.a
		ways[c.way].w += c.w
		ways[c.way].m += c.w * c.a
	}
	for _, c := range h.cells {
		ss += c.w * (c.a - m) * (c.a - m)
	}
	for _, w := range ways {
		if w.w > 0 {
			d := w.m/w.w - m
			between += w.w * d * d
		}
	}
	v1, v2 := k.rigV.median, k.portV.median
	sum := v1 + v2
	gain := rd.localGainSD(h.pts[0].v)
	wall, wallSD := k.wall()
	closes := 3 * loadSD / 2 * h.pressed() * m // half of it a seep
	rd.setBudget(map[string]float64{
		inputNoise:   math.Max(0, ss-between),
		inputLaw:     between + closes*closes,
		inputVolume:  m * m * (v1*v1*k.rigV.logSD*k.rigV.logSD + v2*v2*k.portV.logSD*k.portV.logSD) / (sum * sum),
		inputGauge:   m * m * gain * gain,
		inputRigLeak: k.rigLeakSD * k.rigLeakSD / (sum * sum),
		inputTemp:    m * m * wallSD * wallSD / (wall * wall),
	})
}

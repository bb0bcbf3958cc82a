package leak

import (
	"math"
	"sort"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/trace"
)

// lineDoubt is the ± (95 %) on the flow of a pump curve drawn straight through
// two numbers (a guess: docs/model.md §2).
const lineDoubt = 0.30

// readSteady reads the vacuum with pump on and valve open, and what leak it
// means by the pump's curve.
func (rd *reader) readSteady() {
	ph, ok := rd.phases.Find(trace.Steady)
	if !ok || ph.Last-ph.First < 2 {
		return
	}
	var n, sum float64
	for i := ph.First; i <= ph.Last; i++ {
		c := rd.countAt(i)
		n += c
		sum += c * rd.depth[i]
	}
	v := sum/n - rd.zero
	stuck := roundingSD(rd.noise, rd.step)
	own := math.Sqrt(rd.noise*rd.noise/n + stuck*stuck + rd.zeroSD*rd.zeroSD)
	slope, drift := rd.trend(ph)
	rising := slope > 0.002*v || rd.risesAtEnd(ph, v)
	own = math.Hypot(own, drift/2)
	gauge := math.Hypot(rd.k.gainSD*v, rd.k.bowSD*rd.k.span)
	u := 1.96 * math.Hypot(own, gauge)
	s := &SteadyReading{Vacuum: Interval{v, v - u, v + u}}
	s.rising = rising
	rd.out.Steady = s
	c, err := rd.r.Pump.Here(rd.k.pa)
	if b := rd.r.Pump.Blanked; b.Known {
		x := b.Value
		if err == nil {
			x = c.Blanked()
		}
		rd.out.Blanked = &Interval{x, x - b.Spread, x + b.Spread}
	}
	if err == nil {
		rd.steadyFlow(s, c, v, own)
	}
}

// risesAtEnd says whether the last half second of a phase still rose, by more
// than 0.3 % of the vacuum v a second: then it was shut off before it was steady.
func (rd *reader) risesAtEnd(ph trace.Phase, v float64) bool {
	t := rd.t.Time
	from := ph.Last
	for from > ph.First && t[ph.Last]-t[from-1] <= 0.5 {
		from--
	}
	if ph.Last-from < 3 {
		return false
	}
	sl, sd := slopeOf(t[from:ph.Last+1], rd.depth[from:ph.Last+1], rd.noise)
	return sl > 3*sd && sl > 0.003*v
}

// blankedScatter is the sd [Pa] of the blanked reading from pull to pull: as
// stated, else 3 % (95 %), which cheap pumps show (common practice, no source).
func (rd *reader) blankedScatter(c *rig.Curve) float64 {
	if b := rd.r.Pump.Blanked; b.Known && b.Spread > 0 {
		return b.SD()
	}
	return 0.03 / 1.96 * c.Blanked()
}

// trend returns slope [Pa/s] and whole drift [Pa] of a phase.
func (rd *reader) trend(ph trace.Phase) (slope, drift float64) {
	sl, sd := slopeOf(rd.t.Time[ph.First:ph.Last+1], rd.depth[ph.First:ph.Last+1], rd.noise)
	if math.Abs(sl) < 2*sd {
		return 0, 0
	}
	return sl, math.Abs(sl) * (ph.To - ph.From)
}

// steadyFlow sets the leak at the steady vacuum and carried to 50 kPa. The
// blanked reading was taken with the same gauge, so the gauge's gain cancels;
// its scatter from pull to pull counts for both.
func (rd *reader) steadyFlow(s *SteadyReading, c *rig.Curve, v, own float64) {
	k := &rd.k
	scatter := rd.blankedScatter(c)
	atPump := rd.vacuumAtPump(c, v)
	q := c.Flow(atPump)
	// by how much the flow moves with the vacuum: across the doubt, not at a point
	du := math.Sqrt(own*own + scatter*scatter)
	if rd.r.Pump.RatedAt.Known { // the gauge's own error does not cancel against a data sheet's figure
		du = math.Hypot(du, math.Hypot(k.gainSD*v, k.bowSD*k.span))
	}
	slope := (beyond(c, atPump-du) - beyond(c, atPump+du)) / (2 * math.Max(du, 1))
	sd := slope * du
	if c.Guessed() {
		sd = math.Hypot(sd, lineDoubt/1.96*q)
	}
	if f := rd.r.Pump.FreeFlow; f.Known && f.Value > 0 {
		sd = math.Hypot(sd, f.SD()/f.Value*q)
	}
	if rd.r.Hose.GaugeAt == rig.GaugeNotSaid || !rd.r.Hose.Bore.Known || !rd.r.Hose.Length.Known {
		sd = math.Hypot(sd, 0.05*q) // no loss assumed: widened
	}
	l := newLaw(k.pa, k.preload)
	slip, _ := slipPrior(q, k.pa, k.ta)
	r := (k.pa - v) / k.pa
	l.setShapes(shapes{0, 0, 1, slip}) // the rig's own: no valve presses on it
	seepAtV := l.flow(r)
	mean := beyond(c, atPump) - k.rigLeak*seepAtV
	sd = math.Max(math.Hypot(sd, k.rigLeakSD*seepAtV), 1e-12)
	n := 500
	at, at50 := make([]float64, n), make([]Draw, n)
	flow50 := make([]float64, n)
	seq := num.NewSequence(4)
	var u [4]float64
	cut := num.NormalCDF(mean / sd)
	for i := range n {
		seq.Next(u[:])
		p := u[0]
		if cut < 1-1e-9 {
			p = math.Max(1-cut+u[0]*cut, 1e-12)
		}
		x := math.Max(0, mean+sd*normalQuantile(p))
		if cut < 1e-9 { // far below zero: what is left is an exponential tail
			x = -sd * sd / mean * -math.Log(1-u[0]*0.999999)
		}
		l.setShapes(mixture(1, u[1], u[2], slip, 0, loadDraw(u[3])))
		f := math.Max(l.flow(r), 0.05)
		at[i] = x
		at50[i] = Draw{Flow: x / f, Share: u[1], Edge: u[2]}
		flow50[i] = x / f
	}
	sort.Float64s(at)
	sort.Float64s(flow50)
	a, b := equalTailed(at), equalTailed(flow50)
	s.Flow, s.At50 = &a, &b
	s.draws = at50
	least, most := flowRange(l, r, slip)
	s.free = Interval{2 * mean / (least + most), (mean - 1.96*sd) / most, (mean + 1.96*sd) / least}
}

// beyond returns a pump's flow at a vacuum, carried on below zero past the
// blanked reading: one that reads deeper today than it was stated says how much
// its scatter is, not that there is surely no leak.
func beyond(c *rig.Curve, v float64) float64 {
	if b := c.Blanked(); v > b {
		return -c.Slope(0.999*b) * (v - b)
	}
	return c.Flow(v)
}

// flowRange returns the range of the flow at ratio r over that at 50 kPa, over
// the ways of flowing and of closing under load.
func flowRange(l law, r, slip float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for _, k := range []shapes{
		mixture(1, 0, 0, slip, 0, 0), mixture(1, 0, 0, slip, 0, mostLoad),
		mixture(1, 1, 0, slip, 0, 0), mixture(1, 1, 1, slip, 0, 0),
	} {
		l.setShapes(k)
		f := math.Max(l.flow(r), 0.05)
		least, most = math.Min(least, f), math.Max(most, f)
	}
	return least, most
}

// vacuumAtPump returns the vacuum at the pump's inlet when the gauge shows v:
// more than at the port by the hose's loss, where the gauge sits at the port.
func (rd *reader) vacuumAtPump(c *rig.Curve, v float64) float64 {
	h := rd.r.Hose
	if h.GaugeAt != rig.GaugeAtPort || !h.Bore.Known || !h.Length.Known || h.Bore.Value <= 0 || h.Length.Value <= 0 {
		return v
	}
	pipe := gas.Pipe{Diameter: h.Bore.Value, Length: h.Length.Value}
	rho := gas.Density(rd.k.pa, rd.k.ta)
	lo, hi := v, rd.k.pa*0.999
	for range 50 {
		m := (lo + hi) / 2
		f, err := pipe.MassFlow(rd.k.pa-v, rd.k.pa-m, rd.k.ta)
		if err == nil && f/rho < c.Flow(m) {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}

// answerFromSteady makes the steady reading the answer: a leak too large to
// hold, a pump never shut off, or a rig of unknown volume.
//
// While the vacuum still rises the pump moves the port's own air as well, so that
// the leak is less than what it moves: anything between none and that.
func (rd *reader) answerFromSteady() *Refusal {
	out := rd.out
	s := out.Steady
	out.Source = FromSteady
	out.Draws = s.draws
	flow := make([]float64, len(s.draws))
	for i, d := range s.draws {
		flow[i] = d.Flow
	}
	sort.Float64s(flow)
	leak := equalTailed(flow)
	out.UpperLimitOnly = s.rising || densityAtZero(flow) > 0.15
	if out.UpperLimitOnly {
		leak.Low, leak.High = 0, quantile(flow, 0.95)
	}
	out.Leak = &leak
	if s.rising {
		rd.warn(Warning{Code: StillRising})
		seq := num.NewSequence(1)
		var u [1]float64
		for i := range out.Draws {
			seq.Next(u[:])
			out.Draws[i].Flow *= u[0]
		}
		leak.Median = leak.High / 2
	}
	if out.Share == nil {
		out.Kind = KindUnresolved
	}
	_, held := rd.phases.Find(trace.Hold)
	rd.warn(Warning{Code: SteadyAlone, Figure: (leak.High - leak.Low) / 2, Count: boolCount(held && !rd.k.hasVolume)})
	rd.sizes()
	rd.steadyBudget()
	rd.finish()
	return nil
}

// steadyBudget splits the variance of a leak read from the steady vacuum.
func (rd *reader) steadyBudget() {
	c, err := rd.r.Pump.Here(rd.k.pa)
	if err != nil {
		return
	}
	v := rd.out.Steady.Vacuum.Median
	q := c.Flow(rd.vacuumAtPump(c, v))
	slope := c.Slope(v)
	scatter := rd.blankedScatter(c)
	line := 0.0
	if c.Guessed() {
		line = lineDoubt / 1.96 * q
	}
	own := math.Hypot(rd.noise, math.Hypot(rd.zeroSD, roundingSD(rd.noise, rd.step)))
	rd.setBudget(map[string]float64{
		inputBlanked: slope * slope * scatter * scatter,
		inputPump:    line * line,
		inputZero:    slope * slope * own * own,
		inputRigLeak: rd.k.rigLeakSD * rd.k.rigLeakSD,
		inputLaw:     0.05 * 0.05 * q * q,
	})
}

// compareSteady questions a trace whose hold and steady reading do not agree
// within their intervals.
func (rd *reader) compareSteady() {
	out := rd.out
	if out.Source == FromSteady || out.Steady == nil || out.Steady.rising || out.Steady.At50 == nil || !rd.k.hasVolume {
		return
	}
	// not cut at zero: a small leak's steady reading says little, not "some"
	h, s := out.Leak, out.Steady.free
	if h.Low > s.High || s.Low > h.High {
		rd.warn(Warning{Code: ReadingsDiffer, Figure: h.Median, Other: out.Steady.At50.Median})
	}
}

// withoutVolume takes back the absolute figures of a hold whose volume nobody
// knows: the steady reading speaks if it can, else only the rate of fall.
func (rd *reader) withoutVolume() {
	out := rd.out
	out.Leak, out.TestedAgain, out.NozzleDiameter, out.Gap, out.Deepest = nil, nil, nil, nil, nil
	out.Draws, out.Budget, out.UpperLimitOnly, out.Guessed = nil, nil, false, nil
	if out.Steady != nil && out.Steady.Flow != nil {
		rd.answerFromSteady()
		return
	}
	rd.warn(Warning{Code: NoVolume})
}

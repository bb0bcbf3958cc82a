package leak

import (
	"math"
	"sort"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/trace"
)

// answerFromHold turns the posterior of a hold into a reading. It returns false
// where no leak at all goes with the samples.
func (rd *reader) answerFromHold(f *fit, ph trace.Phase) bool {
	out := rd.out
	post := f.settle()
	if len(post.atoms) == 0 {
		return false
	}
	p := post.centre()
	free := float64(len(f.data) - 5)
	if free >= 3 {
		if chi := post.parts[post.main()].l.left / free; chi > misfitFrom(free) {
			rd.warn(Warning{Code: LawMisfit, Figure: chi})
			post.scale = chi
			post.integrate()
			p = post.centre()
		}
	}
	out.Source = FromHold
	out.Draws = rd.scaleDraws(post.draws(drawsKept, false))
	rd.summarise(post)
	rd.vapour(f, post)
	rd.describe(f, post, p, ph)
	rd.budget(f, post, p)
	rd.drifts(ph)
	rd.finish()
	return true
}

// misfitFrom is the reduced chi squared from which no law fits: 1.5, or with few
// degrees of freedom what chance alone exceeds once in a thousand (Wilson and
// Hilferty's approximation of the chi-squared distribution).
func misfitFrom(free float64) float64 {
	x := 2 / (9 * free)
	return math.Max(1.5, math.Pow(1-x+3.09*math.Sqrt(x), 3))
}

// scaleDraws turns draws over the volume into flows: each gets its own volume
// and wall temperature.
//
// A flat prior of the flow makes the volume's prior tilt with the volume:
// one of two lognormal parts, chosen by its size, has its logarithm's mean
// moved up by its variance.
func (rd *reader) scaleDraws(d []Draw) []Draw {
	k := &rd.k
	v0 := k.volume()
	wall, wallSD := k.wall()
	m1 := k.rigV.median * math.Exp(k.rigV.logSD*k.rigV.logSD/2)
	m2 := k.portV.median * math.Exp(k.portV.logSD*k.portV.logSD/2)
	seq := num.NewSequence(5)
	var u [5]float64
	for i := range d {
		seq.Next(u[:])
		l1, l2 := k.rigV.logSD*normalQuantile(u[0]), k.portV.logSD*normalQuantile(u[1])
		if u[2]*(m1+m2) < m1 {
			l1 += k.rigV.logSD * k.rigV.logSD
		} else {
			l2 += k.portV.logSD * k.portV.logSD
		}
		v := k.rigV.median*math.Exp(l1) + k.portV.median*math.Exp(l2)
		w := wall / (wall + wallSD*normalQuantile(u[3]))
		d[i].Flow = math.Max(0, d[i].Flow*v*w+k.rigLeak*(v/v0-1))
	}
	return d
}

// summarise sets leak, share and edge from the draws.
func (rd *reader) summarise(post *posterior) {
	out := rd.out
	n := len(out.Draws)
	flow := make([]float64, n)
	share := make([]float64, n)
	edge := make([]float64, n)
	for i, d := range out.Draws {
		flow[i] = d.Flow
	}
	// the share is told from a uniform prior: what the curve alone says
	for i, d := range post.draws(n, true) {
		share[i], edge[i] = d.Share, d.Edge
	}
	sort.Float64s(flow)
	leak := equalTailed(flow)
	if densityAtZero(flow) > 0.15 {
		out.UpperLimitOnly = true
		leak = Interval{leak.Median, 0, quantile(flow, 0.95)}
	}
	out.Leak = &leak
	s, e := shortest(share), shortest(edge)
	out.Share, out.Edge = &s, &e
	rd.shares = share
}

// densityAtZero returns the density of sorted positive x at 0 over its peak,
// from a kernel a tenth of its spread wide with its reflection at 0.
func densityAtZero(x []float64) float64 {
	n := len(x)
	if n == 0 {
		return 0
	}
	m := quantile(x, 0.5)
	width := (quantile(x, 0.84) - quantile(x, 0.16)) / 2
	if width <= 0 || x[0] > 3*width {
		return 0
	}
	h := 0.3 * width
	at := func(y float64) float64 {
		lo := sort.SearchFloat64s(x, y-h)
		hi := sort.SearchFloat64s(x, y+h)
		d := float64(hi-lo) / (2 * h)
		if y < h { // half the kernel lies below 0
			d *= 2 * h / (h + y)
		}
		return d
	}
	peak := 0.0
	for i := range 13 {
		peak = math.Max(peak, at(math.Max(0, m+width*(float64(i)/4-2))))
	}
	if peak == 0 {
		return 0
	}
	return at(0) / peak
}

// fadesBy is by how much in chi² something that dies away must better the fit to
// be warned of. 9 was a false alarm in 1 to 2 % of sound traces.
const fadesBy = 12.0

// vapour warns of a fall that stops: vapour betters the fit by more than fadesBy in
// chi², or its 5 % quantile is over a tenth of the loss.
func (rd *reader) vapour(f *fit, post *posterior) {
	b := f.hold.bins
	loss := b[0].value - b[len(b)-1].value
	last := b[len(b)-1].time
	took := func(a *atom) float64 { return a.vap * (1 - math.Exp(-last/f.vapTau[a.tau])) }
	little := 0.0 // the chance that it took no more than a tenth of the loss
	for i := range post.atoms {
		if a := &post.atoms[i]; a.vap == 0 || took(a) <= 0.1*loss {
			little += a.logW
		}
	}
	much := little < 0.05 && loss > 0
	if !much && 2*(post.bestWith-post.bestWithout) <= fadesBy {
		return
	}
	order := make([]int, len(post.atoms))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return took(&post.atoms[order[i]]) < took(&post.atoms[order[j]]) })
	acc, q5 := 0.0, 0.0
	for _, i := range order {
		if acc += post.atoms[i].logW; acc >= 0.05 {
			q5 = took(&post.atoms[i])
			break
		}
	}
	rd.warn(Warning{Code: FallStops, Figure: q5})
	if rd.creeps(f, post, last) {
		rd.warn(Warning{Code: Slowing, Figure: q5})
	}
}

// describe sets kind, deepest flow, rate of fall, loss and the fitted curve.
func (rd *reader) describe(f *fit, post *posterior, p point, ph trace.Phase) {
	out := rd.out
	b := f.hold.bins
	deepest := p.v0
	if deepest < gas.StatedVacuum-1 {
		out.Deepest = &AtVacuum{Vacuum: deepest, Flow: rd.flowAt(deepest, f.slip, f.inertia/2, p.load)}
		rd.warn(Warning{Code: Extrapolated, Figure: deepest})
	}
	tau := math.Exp(p.logT)
	settledFrom := 5 * tau
	if p.a > 4.2/60/tau { // q > 4.2 V/tau in cm³/min, cm³, s
		rd.warn(Warning{Code: FastHold, Figure: tau})
	}
	// the curve as fitted, and the fall once the gas has settled
	pred := make([]float64, f.hold.size())
	q := f.params(&p)
	f.hold.predict(&q, pred)
	out.Curve = make([]CurvePoint, len(b))
	for i := range b {
		v := pred[i] - rd.zero
		if p.vap != 0 {
			v -= p.vap * (1 - math.Exp(-b[i].time/p.tauV))
		}
		out.Curve[i] = CurvePoint{b[i].time + rd.phases.ShutOff, v}
	}
	rd.fallRate(b, settledFrom)
	end := b[len(b)-1].time
	over := 15.0
	if end < over {
		over = end
	}
	v0 := p.v0
	at := interpolateCurve(out.Curve, rd.phases.ShutOff+over)
	out.Lost = &Lost{Vacuum: math.Max(0, v0-at), Over: over}
	out.Kind = rd.kind(b, settledFrom)
	rd.sizes()
}

// flowAt returns the leak at another vacuum [Pa] than 50 kPa, by each draw's way
// of flowing.
func (rd *reader) flowAt(vacuum, slip, inertia, load float64) Interval {
	l := newLaw(rd.k.pa, rd.k.preload)
	flow := make([]float64, len(rd.out.Draws))
	for i, d := range rd.out.Draws {
		l.setShapes(mixture(1, d.Share, d.Edge, slip, inertia, load))
		flow[i] = d.Flow * l.flow((rd.k.pa-vacuum)/rd.k.pa)
	}
	sort.Float64s(flow)
	return equalTailed(flow)
}

// fallRate sets the rate of fall from a line through the settled bins of the
// first fifth of the loss.
func (rd *reader) fallRate(b []bin, from float64) {
	i := 0
	for i < len(b)-4 && b[i].time < from {
		i++
	}
	j := min(i+3, len(b)-1)
	total := b[i].value - b[len(b)-1].value
	for j < len(b)-1 && b[i].value-b[j].value < 0.2*total {
		j++
	}
	var sw, st, sv float64
	for _, x := range b[i : j+1] {
		w := 1 / (x.sd * x.sd)
		sw += w
		st += w * x.time
		sv += w * x.value
	}
	st, sv = st/sw, sv/sw
	var stt, stv float64
	for _, x := range b[i : j+1] {
		w := 1 / (x.sd * x.sd)
		stt += w * (x.time - st) * (x.time - st)
		stv += w * (x.time - st) * (x.value - sv)
	}
	if stt <= 0 {
		return
	}
	rate := -stv / stt
	u := 1.96 * math.Hypot(1/math.Sqrt(stt), rate*rd.k.gainSD)
	rd.out.FallRate = &Interval{rate, rate - u, rate + u}
}

// kind names the way of flowing by the rule of docs/model.md §4: only with the
// valves' own springs fitted, a hold of more than 5 tau, no vapour, no misfit, no
// liquid named.
func (rd *reader) kind(b []bin, from float64) Kind {
	if rd.r.Port.Held != rig.HeldOwnSpring || b[len(b)-1].time < from || rd.warned(FallStops) || rd.warned(LawMisfit) || rd.warned(WetPort) {
		return KindUnresolved
	}
	var seep, opening float64
	for _, s := range rd.shares {
		if s < 0.2 {
			seep++
		}
		if s > 0.8 {
			opening++
		}
	}
	n := float64(len(rd.shares))
	switch {
	case opening/n >= 0.95:
		return KindOpening
	case seep/n >= 0.95:
		return KindSeep
	case (n-opening-seep)/n >= 0.95:
		return KindMixed
	}
	return KindUnresolved
}

func (rd *reader) warned(c WarningCode) bool {
	for _, w := range rd.out.Warnings {
		if w.Code == c {
			return true
		}
	}
	return false
}

// sizes sets the nozzle-equivalent diameter, and the gap when the seat is given.
func (rd *reader) sizes() {
	out, k := rd.out, &rd.k
	// free-air flow of a nozzle of 1 m² at 50 kPa
	r50 := (k.pa - gas.StatedVacuum) / k.pa
	per := gas.Psi(r50) * math.Sqrt(gas.R*k.ta)
	d := func(q float64) float64 { return math.Sqrt(4 / math.Pi * q / per) }
	l := out.Leak
	out.NozzleDiameter = &Interval{d(l.Median), d(l.Low), d(l.High)}
	if s := rd.o.Seat; s != nil {
		gap := func(q float64) float64 { return gapFor(q, s, k.pa, k.ta) }
		out.Gap = &Interval{gap(l.Median), gap(l.Low), gap(l.High)}
	}
}

// widestGap [m] is past any gap that still flows as a seep.
const widestGap = 1e-3

// gapFor returns the cube-mean gap [m] that passes the free-air flow q round a
// seat as a seep at 50 kPa vacuum.
func gapFor(q float64, s *Seat, pa, ta float64) float64 {
	seep, err := gas.SeepFor(q, gas.StatedVacuum, pa, ta, math.Pi*s.Diameter, s.Contact)
	if err != nil || seep.Gap > widestGap {
		return widestGap
	}
	return seep.Gap
}

func interpolateCurve(c []CurvePoint, t float64) float64 {
	i := sort.Search(len(c), func(i int) bool { return c[i].Time >= t })
	if i == 0 {
		return c[0].Vacuum
	}
	if i == len(c) {
		return c[len(c)-1].Vacuum
	}
	a, b := c[i-1], c[i]
	return a.Vacuum + (b.Vacuum-a.Vacuum)*(t-a.Time)/(b.Time-a.Time)
}

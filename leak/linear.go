package leak

import (
	"math"
)

// Columns of the linearised hold. The first are kept, the rest marginalised:
// they are as good as Gaussian.
const (
	colOpening = iota
	colEdge
	colSeep // with slip, inertia and load as at the point
	colMix
	colVapour                          // one for each of the fit's vapTau
	kept      = colVapour + vapourTaus // number of kept columns
)

// The marginalised columns.
const (
	colV0 = kept + iota
	colTau
	colShut
	colLag
	colPressure
	colGain
	colBow
	colZero
	colRig
	colSlip    // per slip weight, of the seep at the point
	colInertia // per inertia number
	colLoad    // per power of the valve's load
	colCold    // of the gas at the shut-off, where the pull was not steady
	columns
)

const (
	vapourTaus = 5
	others     = columns - kept
)

// coldSD is the doubt of the cooling that the pressures of an unfinished pull
// tell: they are noisy and lag.
const coldSD = 0.3

// linear is a hold linearised about a point: in the kept columns, with the
// others integrated out, the likelihood is
//
//	exp(-½ (zᵀ N z - 2 hᵀ z + c)),  z counted from zero leak and no vapour
type linear struct {
	at    point
	n     [kept][kept]float64
	h     [kept]float64
	c     float64
	base  [kept]float64 // the kept coordinates of the point
	full  [columns][columns]float64
	rhs   [columns]float64
	prior [columns]float64 // prior precision of the others
	chi2  float64          // sum of squares at the point, priors included
	left  float64          // the residuals' part of it
	det   float64          // half the log determinant of the others' precision
}

// linearise takes the derivatives of the hold at a point.
func (f *fit) linearise(p point) *linear {
	n := len(f.data)
	buf := make([]float64, n*(columns+2))
	r := buf[:n]
	try := buf[n : 2*n]
	col := func(k int) []float64 { return buf[(k+2)*n : (k+3)*n] }
	f.residuals(&p, r)
	base := f.params(&p)
	tryAt := func(q *holdParams, step float64, k int) {
		f.hold.predict(q, try)
		d := col(k)
		for i := range n {
			d[i] = (try[i]*f.weight[i] - d[i]) / step
		}
	}
	start := func(k int) { // unweighted-with-vapour prediction, weighted
		d := col(k)
		for i := range n {
			d[i] = f.data[i]*f.weight[i] - r[i]
			if i < len(f.hold.bins) && p.vap != 0 {
				d[i] += p.vap * (1 - math.Exp(-f.hold.bins[i].time/p.tauV)) * f.weight[i]
			}
		}
	}
	do := func(k int, step float64, change func(q *holdParams, step float64)) {
		q := base
		change(&q, step)
		start(k)
		tryAt(&q, step, k)
	}
	step := 2e-3 * math.Max(p.a+f.rig, 1e-7)
	do(colOpening, step, func(q *holdParams, s float64) { q.leak[0] += s })
	do(colEdge, step, func(q *holdParams, s float64) { q.leak[1] += s })
	do(colSeep, step, func(q *holdParams, s float64) {
		q.leak = q.leak.plus(shapes{0, 0, s, s * p.slipW, s * p.inert, s * p.load})
	})
	seep := p.a * (1 - p.s)
	do(colSlip, 0.02, func(q *holdParams, s float64) { q.leak[3] += s * seep })
	do(colInertia, 0.02, func(q *holdParams, s float64) { q.leak[4] += s * seep })
	do(colLoad, 0.02, func(q *holdParams, s float64) { q.leak[5] += s * seep })
	mixStep := 0.05
	if p.mix > 0.9 {
		mixStep = -mixStep
	}
	do(colMix, mixStep, func(q *holdParams, s float64) { q.mix += s })
	for j := range vapourTaus {
		d := col(colVapour + j)
		for i := range n {
			if i < len(f.hold.bins) {
				d[i] = -(1 - math.Exp(-f.hold.bins[i].time/f.vapTau[j])) * f.weight[i]
			}
		}
	}
	do(colV0, 50, func(q *holdParams, s float64) { q.v0 += s })
	do(colTau, 0.05, func(q *holdParams, s float64) { q.logTau += s })
	do(colShut, -math.Max(0.02*f.shutSD, 2e-4), func(q *holdParams, s float64) { q.shut += s })
	do(colLag, 0.05, func(q *holdParams, s float64) { q.logLag += s })
	if len(f.hold.pull) > 0 {
		do(colCold, 0.05, func(q *holdParams, s float64) { q.cold += s })
	}
	do(colPressure, 100, func(q *holdParams, s float64) { q.pa += s })
	for i := range n {
		var v float64
		if i < len(f.hold.bins) {
			v = f.data[i] - r[i]/f.weight[i] - base.zero
		} else {
			v = f.data[i] - base.zero
		}
		xi := (v - f.k.spanLow) / f.k.span
		col(colGain)[i] = v * f.weight[i]
		col(colBow)[i] = f.k.span * 4 * xi * (1 - xi) * f.weight[i]
		col(colZero)[i] = f.weight[i]
		col(colRig)[i] = col(colSeep)[i]
	}
	l := &linear{at: p, chi2: dot(r, r)}
	l.left = l.chi2
	l.base[colOpening], l.base[colEdge], l.base[colSeep] = p.a*p.s, p.a*p.s*p.e, p.a*(1-p.s)
	l.base[colMix] = p.mix
	for i := range columns {
		for j := 0; j <= i; j++ {
			l.full[i][j] = dot(col(i), col(j))
			l.full[j][i] = l.full[i][j]
		}
		l.rhs[i] = dot(col(i), r)
	}
	if p.vap != 0 { // the vapour at the point belongs to no column: give it back
		var back [columns]float64
		d := make([]float64, n)
		for i := range f.hold.bins {
			d[i] = -(1 - math.Exp(-f.hold.bins[i].time/p.tauV)) * f.weight[i] * p.vap
		}
		for i := range columns {
			back[i] = dot(col(i), d)
		}
		for i := range columns {
			l.rhs[i] += back[i]
		}
		l.chi2 += 2*dot(r, d) + dot(d, d)
	}
	f.priors(l)
	l.marginalise()
	return l
}

// priors sets the precision of the others and how far the point is from their
// prior means.
func (f *fit) priors(l *linear) {
	p := &l.at
	set := func(k int, sd, offset float64) { // offset: prior mean minus point
		if sd <= 0 {
			sd = 1e-12
		}
		w := 1 / (sd * sd)
		l.prior[k] = w
		l.full[k][k] += w
		l.rhs[k] += w * offset
		l.chi2 += w * offset * offset
	}
	set(colV0, 1e6, 0)
	set(colTau, f.tauSD, f.logTau-p.logT)
	set(colShut, f.shutSD, -p.shut)
	lagSD := f.k.lagLogSD
	if lagSD == 0 {
		lagSD = 1e-6
	}
	set(colLag, lagSD, math.Log(math.Max(f.k.lag, 1e-4))-p.logL)
	set(colPressure, math.Max(f.k.paSD, 1), f.k.pa-p.pa)
	set(colGain, f.k.gainSD, -p.gain)
	set(colBow, f.k.bowSD, -p.bow)
	set(colZero, math.Max(f.zeroSD, 1e-3), -p.zero)
	set(colRig, math.Max(f.rigSD, 1e-12), -p.rig)
	set(colCold, coldSD, -p.cold)
	set(colSlip, f.slipSD, f.slip-p.slipW)
	set(colLoad, f.load.sd, f.load.mean-p.load)
	set(colInertia, math.Max(f.inertia/math.Sqrt(12), 1e-5), f.inertia/2-p.inert)
}

// marginalise integrates the others out and moves the origin of the kept
// coordinates from the point to zero.
func (l *linear) marginalise() {
	chol, ok := choleskyOthers(&l.full)
	if !ok {
		return
	}
	for i := range others {
		l.det += math.Log(chol[i][i])
	}
	// S = A - B D⁻¹ Bᵀ by solving L y = B rows
	var y [kept + 1][others]float64
	for i := 0; i <= kept; i++ {
		for k := range others {
			v := 0.0
			if i < kept {
				v = l.full[i][kept+k]
			} else {
				v = l.rhs[kept+k]
			}
			for m := 0; m < k; m++ {
				v -= chol[k][m] * y[i][m]
			}
			y[i][k] = v / chol[k][k]
		}
	}
	var g [kept]float64
	for i := range kept {
		for j := range kept {
			l.n[i][j] = l.full[i][j] - dot(y[i][:], y[j][:])
		}
		g[i] = l.rhs[i] - dot(y[i][:], y[kept][:])
	}
	// c counts from the point; shift to the origin: z = base + dz
	l.c = l.chi2 - dot(y[kept][:], y[kept][:])
	for i := range kept {
		l.h[i] = g[i]
		for j := range kept {
			l.h[i] += l.n[i][j] * l.base[j]
		}
	}
	for i := range kept {
		l.c += 2*g[i]*l.base[i] + l.base[i]*dot(l.n[i][:], l.base[:])
	}
}

// choleskyOthers returns the lower Cholesky factor of the marginalised block.
func choleskyOthers(m *[columns][columns]float64) (c [others][others]float64, ok bool) {
	for i := range others {
		for j := 0; j <= i; j++ {
			s := m[kept+i][kept+j]
			for k := 0; k < j; k++ {
				s -= c[i][k] * c[j][k]
			}
			if i == j {
				if !(s > 0) {
					return c, false
				}
				c[i][i] = math.Sqrt(s)
			} else {
				c[i][j] = s / c[j][j]
			}
		}
	}
	return c, true
}

// othersAt returns the most probable values of the others, from the point, for
// kept coordinates z.
func (l *linear) othersAt(z *[kept]float64) (x [others]float64) {
	chol, ok := choleskyOthers(&l.full)
	if !ok {
		return x
	}
	var b [others]float64
	for k := range others {
		b[k] = l.rhs[kept+k]
		for i := range kept {
			b[k] -= l.full[kept+k][i] * (z[i] - l.base[i])
		}
	}
	for k := range others {
		for m := 0; m < k; m++ {
			b[k] -= chol[k][m] * b[m]
		}
		b[k] /= chol[k][k]
	}
	for k := others - 1; k >= 0; k-- {
		for m := k + 1; m < others; m++ {
			b[k] -= chol[m][k] * b[m]
		}
		b[k] /= chol[k][k]
	}
	return b
}

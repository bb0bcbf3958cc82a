package leak

import (
	"math"
)

// Mean and sd of the logarithm of the wall time constant [s] before a trace has
// spoken: median 0.32 s, 95 % 0.05 to 2 s.
var (
	priorLogTau   = math.Log(0.32)
	priorLogTauSD = math.Log(2/0.05) / (2 * 1.96)
)

// fit is one hold with everything that is known about it.
type fit struct {
	k       *known
	hold    *hold
	data    []float64 // values as read, bins first
	weight  []float64 // 1/sd
	zero    float64   // Pa, reading when vented
	zeroSD  float64
	shutSD  float64 // s
	rig     float64 // rig leak over the median volume, 1/s
	rigSD   float64
	slip    float64 // slip weight of a seep
	slipSD  float64
	fades   fading
	inertia float64 // upper end of the seep's inertia number, uniform from 0
	// what is held or walked through while the rest is fitted
	vapTau        [vapourTaus]float64 // s, time constants of vapour tried
	load          loadPart            // prior of the power of the load
	film          bool                // the wall's heat goes through a film alone: mix 0
	logTau, tauSD float64             // prior of the logarithm of tau
	scratch       []float64
}

// point is a place in the space of what the hold depends on.
type point struct {
	a, s  float64 // leak over volume [1/s], share of the opening
	v0    float64
	logT  float64
	shut  float64
	e     float64
	mix   float64
	logL  float64
	pa    float64
	vap   float64 // Pa, at tauV
	tauV  float64
	slipW float64
	inert float64
	load  float64 // power of the valve's load with which a seep's gap closes

	gain, bow, zero, rig, cold float64 // from their prior means
}

func (f *fit) params(p *point) holdParams {
	k := mixture(p.a, p.s, p.e, p.slipW, p.inert, p.load)
	rig := f.rig + p.rig
	k = k.plus(shapes{0, 0, rig, rig * f.slip})
	return holdParams{
		leak: k, v0: p.v0, logTau: p.logT, mix: p.mix, shut: p.shut, logLag: p.logL, pa: p.pa,
		gain: p.gain, bow: p.bow, zero: f.zero + p.zero, cold: p.cold,
	}
}

// residuals writes (data - prediction)·weight into out.
func (f *fit) residuals(p *point, out []float64) {
	q := f.params(p)
	f.hold.predict(&q, out)
	n := len(f.hold.bins)
	for i := range out {
		r := f.data[i] - out[i]
		if i < n && p.vap != 0 {
			r += p.vap * (1 - math.Exp(-f.hold.bins[i].time/p.tauV))
		}
		out[i] = r * f.weight[i]
	}
}

const fitted = 7 // a, s, v0, logT, shut, logL, inert

// prior returns the pseudo-observations that keep the search where the priors
// are: what is left of each, over its sd (r), and one over that sd (w).
func (f *fit) prior(p *point) (r [fitted]float64, w [fitted]float64) {
	w = [fitted]float64{
		0, 1 / 0.6, 0, 1 / f.tauSD, 1 / math.Max(f.shutSD, 1e-6),
		1 / math.Max(f.k.lagLogSD, 1e-4), 1 / math.Max(f.inertia/math.Sqrt(12), 1e-5),
	}
	r = [fitted]float64{
		0, (0.5 - p.s) * w[1], 0, (f.logTau - p.logT) * w[3], -p.shut * w[4],
		(math.Log(math.Max(f.k.lag, 1e-4)) - p.logL) * w[5], (f.inertia/2 - p.inert) * w[6],
	}
	return r, w
}

func (p *point) move(d [fitted]float64, scale [fitted]float64, f *fit) point {
	q := *p
	// a trust region: the model bends
	d[0] = math.Min(0.7, math.Max(-0.5, d[0]))
	d[3] = math.Min(0.6, math.Max(-0.6, d[3]))
	q.a = math.Max(p.a+d[0]*scale[0], p.a*0.05)
	if p.a <= 0 || q.a < 1e-9 {
		q.a = math.Max(p.a+d[0]*scale[0], 1e-9)
	}
	q.a = math.Min(q.a, largestLeak)
	q.s = math.Min(1, math.Max(0, p.s+d[1]*scale[1]))
	q.v0 = p.v0 + d[2]*scale[2]
	q.logT = math.Min(math.Log(6), math.Max(math.Log(0.01), p.logT+d[3]*scale[3]))
	q.shut = p.shut + d[4]*scale[4]
	q.shut = math.Min(math.Max(q.shut, f.hold.first()-0.5), f.hold.first()+0.5)
	q.logL = math.Min(math.Log(2), math.Max(math.Log(1e-3), p.logL+math.Min(0.7, math.Max(-0.7, d[5]*scale[5]))))
	q.inert = math.Min(math.Max(f.inertia, 1e-9), math.Max(0, p.inert+d[6]*scale[6]))
	return q
}

// climb searches for the best leak, share, start, tau, shut-off, lag and inertia
// from a start, by damped least squares (Levenberg-Marquardt), and returns the sum of
// squares reached.
func (f *fit) climb(p point, rounds int) (point, float64) {
	n := len(f.data)
	if len(f.scratch) < n*(fitted+2) {
		f.scratch = make([]float64, n*(fitted+2))
	}
	r, try := f.scratch[:n], f.scratch[n:2*n]
	jac := f.scratch[2*n : (fitted+2)*n]
	cost := func(p *point, out []float64) float64 {
		f.residuals(p, out)
		s := dot(out, out)
		pr, _ := f.prior(p)
		return s + dot(pr[:], pr[:])
	}
	best := cost(&p, r)
	damp := 1e-3
	for range rounds {
		scale := [fitted]float64{math.Max(p.a, 1e-7), 1, 1e3, 1, math.Max(f.shutSD, 1e-4), 1, math.Max(f.inertia, 1e-9)}
		for k := range fitted {
			var d [fitted]float64
			d[k] = [fitted]float64{1e-3, 1e-2, 0.02, 0.02, 0.1, 0.05, 0.05}[k]
			if k == 1 && p.s > 0.5 || k == 6 && p.inert > f.inertia/2 {
				d[k] = -d[k]
			}
			q := p.move(d, scale, f)
			f.residuals(&q, try)
			for i := range n {
				jac[k*n+i] = (r[i] - try[i]) / d[k] // derivative of the prediction, weighted
			}
		}
		pr, pw := f.prior(&p)
		var m [fitted][fitted + 1]float64
		for k := range fitted {
			for l := 0; l <= k; l++ {
				m[k][l] = dot(jac[k*n:(k+1)*n], jac[l*n:(l+1)*n])
				m[l][k] = m[k][l]
			}
			m[k][fitted] = dot(jac[k*n:(k+1)*n], r) + pr[k]*pw[k]*scale[k]
			m[k][k] += pw[k] * pw[k] * scale[k] * scale[k]
		}
		done := false
		for range 6 {
			d, ok := solveDamped(m, damp)
			if !ok {
				damp *= 10
				continue
			}
			q := p.move(d, scale, f)
			c := cost(&q, try)
			if c < best {
				done = best-c < 1e-3+1e-6*best
				p, best = q, c
				copy(r, try)
				damp = math.Max(damp*0.1, 1e-9)
				break
			}
			damp *= 8
			done = damp > 1e6
		}
		if done {
			break
		}
	}
	return p, best
}

// solveDamped solves the normal equations with the diagonal raised by damp.
func solveDamped(m [fitted][fitted + 1]float64, damp float64) (x [fitted]float64, ok bool) {
	for i := range fitted {
		m[i][i] = m[i][i]*(1+damp) + 1e-12
	}
	for c := range fitted {
		p := c
		for r := c + 1; r < fitted; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		if m[p][c] == 0 {
			return x, false
		}
		m[c], m[p] = m[p], m[c]
		for r := c + 1; r < fitted; r++ {
			q := m[r][c] / m[c][c]
			for k := c; k <= fitted; k++ {
				m[r][k] -= q * m[c][k]
			}
		}
	}
	for c := fitted - 1; c >= 0; c-- {
		s := m[c][fitted]
		for k := c + 1; k < fitted; k++ {
			s -= m[c][k] * x[k]
		}
		x[c] = s / m[c][c]
		if math.IsNaN(x[c]) || math.IsInf(x[c], 0) {
			return x, false
		}
	}
	return x, true
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// begin returns a start for the search from the bins themselves: the slope
// between the first and the last that lies within the first 40 % of the fall.
func (f *fit) begin(tau float64) point {
	b := f.hold.bins
	v := func(i int) float64 { return b[i].value - f.zero }
	v0 := v(0)
	if f.hold.before != nil {
		v0 = f.hold.before.value - f.zero
	}
	last := len(b) - 1
	j := last
	for j > min(3, last) && v0-v(j) > 0.4*(v0-v(last)) && v(j) < 0.8*v0 {
		j--
	}
	l := newLaw(f.k.pa, f.k.preload)
	l.setShapes(mixture(1, 0.5, 0.5, f.slip, 0, f.load.mean))
	vm := (v0 + v(j)) / 2
	rate := (v0 - v(j)) / math.Max(b[j].time, 1e-3)
	a := rate / (f.k.pa * l.flow((f.k.pa-vm)/f.k.pa))
	if f.hold.before == nil {
		v0 += rate * b[0].time
	}
	return point{
		a: math.Min(math.Max(a-f.rig, 1e-6), largestLeak), s: 0.5, v0: v0, logT: math.Log(tau), e: 0.5, mix: 0.5,
		logL: math.Log(math.Max(f.k.lag, 1e-4)), pa: f.k.pa, tauV: 8, slipW: f.slip, inert: f.inertia / 2, load: f.load.mean,
	}
}

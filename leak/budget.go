package leak

import (
	"math"
	"sort"
)

// budget splits the variance of the leak among the inputs. In the Gaussian
// approximation about the posterior's centre the covariance C of everything is
// C (JᵀWJ + ΣP) C: each input's part is its own prior precision seen through C,
// (C_ai)² P_i, and the samples' part is the rest; they add up exactly. The
// volume and the wall's temperature multiply the leak. GUM (JCGM 100:2008) 5.1.
func (rd *reader) budget(f *fit, post *posterior, p point) {
	k := &rd.k
	tau := 0
	w := make([]float64, vapourTaus)
	for _, t := range post.atoms {
		w[t.tau] += t.logW
	}
	l := post.parts[post.main()].l
	for j := range w {
		if w[j] > w[tau] {
			tau = j
		}
	}
	a := math.Max(p.a, 1e-9)
	g := f.gaussian(l, &p, tau)
	c, ok := inverseColumn(gaussSize, iA, func(i, j int) float64 {
		x := g.m[i][j] / post.scale
		if i == j && i < own { // priors are not widened with the misfit
			x += g.prior[i] * (1 - 1/post.scale)
		}
		return x
	})
	if !ok {
		return
	}
	prior := g.prior
	for i := own; i < gaussSize; i++ {
		prior[i] /= post.scale
	}
	v := map[string]float64{}
	names := [...]string{iS: inputLaw, iE: inputLaw, iMix: inputWall, iVap: inputVapour}
	left := c[iA]
	for i := iS; i < own; i++ {
		x := c[i] * c[i] * prior[i]
		v[names[i]] += x
		left -= x
	}
	rest := [...]string{colV0 - kept: inputNoise, colTau - kept: inputWall, colShut - kept: inputNoise,
		colLag - kept: inputLag, colPressure - kept: inputPressure, colGain - kept: inputGauge,
		colBow - kept: inputGauge, colZero - kept: inputZero, colRig - kept: inputRigLeak,
		colSlip - kept: inputLaw, colInertia - kept: inputLaw, colLoad - kept: inputLaw, colCold - kept: inputWall}
	for i := range others {
		x := c[own+i] * c[own+i] * prior[own+i]
		v[rest[i]] += x
		left -= x
	}
	v[inputNoise] += math.Max(0, left)
	// bounds make the real posterior narrower, or wider, than its Gaussian
	if whole := sumOf(v); whole > 0 {
		scale := post.variance() / whole
		for name := range v {
			v[name] *= scale
		}
	}
	v1, v2 := k.rigV.median, k.portV.median
	sum := v1 + v2
	v[inputVolume] = a * a * (v1*v1*k.rigV.logSD*k.rigV.logSD + v2*v2*k.portV.logSD*k.portV.logSD) / (sum * sum)
	wall, wallSD := k.wall()
	v[inputTemp] = a * a * wallSD * wallSD / (wall * wall)
	rd.setBudget(v)
}

// setBudget lists variances as shares, largest first, and says by how much each
// guess widened the answer.
func (rd *reader) setBudget(v map[string]float64) {
	total := sumOf(v)
	if !(total > 0) {
		return
	}
	b := make([]BudgetLine, 0, len(v))
	for name, x := range v {
		if x/total > 1e-6 {
			b = append(b, BudgetLine{name, x / total})
		}
	}
	sort.Slice(b, func(i, j int) bool {
		if b[i].Share != b[j].Share {
			return b[i].Share > b[j].Share
		}
		return b[i].Input < b[j].Input
	})
	rd.out.Budget = b
	rd.out.Guessed = nil
	for _, g := range rd.k.guessed {
		share := math.Min(g.part*v[g.input]/total, 0.9999)
		rd.out.Guessed = append(rd.out.Guessed, Guess{Input: g.name, Guess: g.value, Dim: g.dim, Widened: 1 / math.Sqrt(1-share)})
	}
}

func sumOf(v map[string]float64) float64 {
	names := make([]string, 0, len(v))
	for n := range v {
		names = append(names, n)
	}
	sort.Strings(names) // the same order each time, so the same sum
	s := 0.0
	for _, n := range names {
		s += v[n]
	}
	return s
}

// inverseColumn returns column k of the inverse of a symmetric positive matrix
// given as a function of its indices; it scales the rows first.
func inverseColumn(n, k int, at func(i, j int) float64) ([]float64, bool) {
	scale := make([]float64, n)
	for i := range scale {
		d := at(i, i)
		if !(d > 0) {
			return nil, false
		}
		scale[i] = 1 / math.Sqrt(d)
	}
	c := make([]float64, n*n)
	for i := range n {
		for j := 0; j <= i; j++ {
			s := at(i, j) * scale[i] * scale[j]
			for q := range j {
				s -= c[i*n+q] * c[j*n+q]
			}
			if i == j {
				if s < 1e-14 {
					return nil, false
				}
				c[i*n+i] = math.Sqrt(s)
			} else {
				c[i*n+j] = s / c[j*n+j]
			}
		}
	}
	x := make([]float64, n)
	x[k] = scale[k]
	for i := range n {
		for j := range i {
			x[i] -= c[i*n+j] * x[j]
		}
		x[i] /= c[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			x[i] -= c[j*n+i] * x[j]
		}
		x[i] /= c[i*n+i]
	}
	for i := range x {
		x[i] *= scale[i]
	}
	return x, true
}

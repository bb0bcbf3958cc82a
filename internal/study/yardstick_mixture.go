package study

import (
	"math"
	"math/rand/v2"
)

// moments returns mean and covariance of points.
func moments(points [][]float64) (mean []float64, cov [][]float64) {
	d := len(points[0])
	n := float64(len(points))
	mean = make([]float64, d)
	for _, p := range points {
		for k, v := range p {
			mean[k] += v / n
		}
	}
	cov = square(d)
	for _, p := range points {
		for i := range d {
			for j := range i + 1 {
				cov[i][j] += (p[i] - mean[i]) * (p[j] - mean[j]) / n
			}
		}
	}
	for i := range d {
		for j := range i {
			cov[j][i] = cov[i][j]
		}
	}
	return mean, cov
}

func square(d int) [][]float64 {
	m := make([][]float64, d)
	for i := range m {
		m[i] = make([]float64, d)
	}
	return m
}

// factor is a covariance as the triangular L of L Lᵀ (Cholesky), packed by
// rows.
type factor struct {
	d      int
	l      []float64
	logDet float64 // sum of the logs of the diagonal
	work   []float64
}

// newFactor factors a covariance; one that is not positive definite gets more
// on its diagonal, relatively, until it is.
func newFactor(cov [][]float64) *factor {
	d := len(cov)
	f := &factor{d: d, l: make([]float64, d*(d+1)/2), work: make([]float64, d)}
	for ridge := 1e-9; ; ridge *= 10 {
		f.logDet = 0
		ok := true
		for i := 0; i < d && ok; i++ {
			ri := f.l[i*(i+1)/2:]
			for j := 0; j <= i; j++ {
				rj := f.l[j*(j+1)/2:]
				s := cov[i][j]
				if i == j {
					s += ridge*cov[i][i] + 1e-18
				}
				for k := range j {
					s -= ri[k] * rj[k]
				}
				if i == j {
					if !(s > 0) && ridge < 1e6 {
						ok = false
						break
					}
					ri[j] = math.Sqrt(math.Max(s, 1e-18))
					f.logDet += math.Log(ri[j])
				} else {
					ri[j] = s / rj[j]
				}
			}
		}
		if ok {
			return f
		}
	}
}

// draw sets x to mean plus scale times a normal draw of the covariance.
func (f *factor) draw(r *rand.Rand, mean []float64, scale float64, x []float64) {
	for k := range f.work {
		f.work[k] = r.NormFloat64()
	}
	for i := range f.d {
		s := 0.0
		row := f.l[i*(i+1)/2 : i*(i+1)/2+i+1]
		for k, v := range row {
			s += v * f.work[k]
		}
		x[i] = mean[i] + scale*s
	}
}

// distance returns the squared Mahalanobis distance of x from mean.
func (f *factor) distance(x, mean []float64) float64 {
	sum := 0.0
	for i := range f.d {
		row := f.l[i*(i+1)/2 : i*(i+1)/2+i+1]
		s := x[i] - mean[i]
		for k := range i {
			s -= row[k] * f.work[k]
		}
		s /= row[i]
		f.work[i] = s
		sum += s * s
	}
	return sum
}

// mixture is a sum of normals with wide tails, drawn from as a guess of the
// target.
type mixture struct {
	weight []float64
	mean   [][]float64
	cov    []*factor
	widths []float64 // each normal is drawn at one of these widths
	parts  []float64 // with these chances
}

// fitMixture fits a mixture of normals by expectation and maximisation.
func fitMixture(r *rand.Rand, points [][]float64, components, rounds int) *mixture {
	d := len(points[0])
	mean, cov := moments(points)
	m := &mixture{widths: []float64{1, 1.3, 2}, parts: []float64{0.6, 0.3, 0.1}}
	whole := newFactor(cov)
	for range components {
		m.weight = append(m.weight, 1/float64(components))
		m.mean = append(m.mean, append([]float64(nil), points[r.IntN(len(points))]...))
		m.cov = append(m.cov, newFactor(cov))
	}
	if components == 1 {
		m.mean[0] = mean
		m.cov[0] = whole
		return m
	}
	resp := make([][]float64, len(points))
	for i := range resp {
		resp[i] = make([]float64, components)
	}
	for range rounds {
		for i, p := range points {
			best := math.Inf(-1)
			for c := range components {
				resp[i][c] = math.Log(m.weight[c]) - m.cov[c].logDet - m.cov[c].distance(p, m.mean[c])/2
				best = math.Max(best, resp[i][c])
			}
			sum := 0.0
			for c := range components {
				resp[i][c] = math.Exp(resp[i][c] - best)
				sum += resp[i][c]
			}
			for c := range components {
				resp[i][c] /= sum
			}
		}
		for c := range components {
			sum := 0.0
			mu := make([]float64, d)
			for i, p := range points {
				w := resp[i][c]
				sum += w
				for k, v := range p {
					mu[k] += w * v
				}
			}
			if sum < 3*float64(d) { // starved: shared out among the others
				m.weight[c] = 1e-9
				continue
			}
			for k := range mu {
				mu[k] /= sum
			}
			cv := square(d)
			for i, p := range points {
				w := resp[i][c]
				if w < 1e-6 {
					continue
				}
				for a := range d {
					da := w * (p[a] - mu[a])
					row := cv[a]
					for b := range a + 1 {
						row[b] += da * (p[b] - mu[b])
					}
				}
			}
			// a little of the whole covariance keeps a component from shrinking
			const shrink = 4
			for a := range d {
				for b := range a + 1 {
					cv[a][b] = cv[a][b]/sum*(1-shrink/(sum+shrink)) + cov[a][b]*shrink/(sum+shrink)*0.2
					cv[b][a] = cv[a][b]
				}
			}
			m.weight[c] = sum / float64(len(points))
			m.mean[c] = mu
			m.cov[c] = newFactor(cv)
		}
		total := 0.0
		for _, w := range m.weight {
			total += w
		}
		for c := range m.weight {
			m.weight[c] /= total
		}
	}
	return m
}

// draw draws a point.
func (m *mixture) draw(r *rand.Rand, x []float64) {
	c := pick(r, m.weight)
	m.cov[c].draw(r, m.mean[c], m.widths[pick(r, m.parts)], x)
}

func pick(r *rand.Rand, chances []float64) int {
	u := r.Float64()
	for i, p := range chances {
		if u -= p; u < 0 {
			return i
		}
	}
	return len(chances) - 1
}

// log returns the log density at x, up to a constant.
func (m *mixture) log(x []float64) float64 {
	sum := 0.0
	best := math.Inf(-1)
	for c := range m.weight {
		if m.weight[c] < 1e-8 {
			continue
		}
		q := m.cov[c].distance(x, m.mean[c])
		for k, w := range m.widths {
			l := math.Log(m.weight[c]*m.parts[k]) - m.cov[c].logDet - float64(len(x))*math.Log(w) - q/(2*w*w)
			if l > best {
				sum = sum*math.Exp(best-l) + 1
				best = l
			} else {
				sum += math.Exp(l - best)
			}
		}
	}
	return best + math.Log(sum)
}

package study

import "math"

// warp straightens a curved posterior. Along it the figures that the samples
// fix tightly (total, start, ...) follow the loose ones (edge, slip, ...) on
// bent paths, which a step of fixed shape cannot follow. So each tight
// coordinate is taken as a quadratic of the features before it in the order,
// fitted to points of the posterior, and a rest:
//
//	rest_k = x_k - g_k(features of the coordinates before k)
//
// A shear: volumes stay, no density changes. Moves are made in the rests. Cf.
// Parno and Marzouk, SIAM/ASA J. Uncertainty Quantification 6 (2018) 645.
type warp struct {
	order   []int // coordinates, loosest first
	first   int   // position of the first that follows
	feature featureFunc
	before  []int     // by position: features of the positions before it
	mean    []float64 // of the features
	sd      []float64
	coef    [][]float64 // by position; nil: does not follow
	u       []float64   // features of the point at hand, standardised
}

// featureFunc appends to dst the features of coordinate k of the point x, of
// which the coordinates up to k in the warp's order are set: the coordinate as
// the target feels it. It always appends as many for the same k.
type featureFunc func(dst []float64, k int, x []float64) []float64

// warpOrder is the order of the yardstick's coordinates, and how many at its
// end follow those before.
var warpOrder = []int{
	atLag, atEdge, atLoad, atSlip, atMix, atWall, atPressure, atRig, atGain, atBow, atZero,
	atTauVapour, atVapour, atInertia, atShut, atShare, atTau, atStart, atTotal,
}

const warpFollowers = 8

// newWarp returns the warp that leaves points as they are.
func newWarp(d int, feature featureFunc) *warp {
	w := &warp{feature: feature, coef: make([][]float64, d), first: d - warpFollowers}
	x := make([]float64, d)
	n := 0
	for _, k := range warpOrder {
		if k < d {
			w.order = append(w.order, k)
			w.before = append(w.before, n)
			n += len(feature(nil, k, x))
		}
	}
	w.mean, w.sd, w.u = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range w.sd {
		w.sd[i] = 1
	}
	return w
}

// terms is how many terms a quadratic of n features has.
func terms(n int) int { return 1 + n + n*(n+1)/2 }

// fill puts the terms of the first n features in row: 1, then for each feature
// itself and its products with those up to it; so the terms of fewer features
// are the beginning of those of more.
func fill(u []float64, row []float64) {
	row[0] = 1
	k := 1
	for i, a := range u {
		row[k] = a
		k++
		for _, b := range u[:i+1] {
			row[k] = a * b
			k++
		}
	}
}

// see takes the features of position pos of the point x.
func (w *warp) see(pos int, x []float64) {
	i := w.before[pos]
	for j := range w.feature(w.u[:i], w.order[pos], x)[i:] {
		u := (w.u[i+j] - w.mean[i+j]) / w.sd[i+j]
		w.u[i+j] = math.Min(math.Max(u, -5), 5)
	}
}

// learn fits the warp to points, each a full set of coordinates; points that
// descend from one another are a multiple of the population apart. How much
// bend is believed is chosen, for each follower, by how well one half of the
// population foretells the other: a young population is a few families, and a
// free fit to these would take the families' likeness for a law.
func (w *warp) learn(points [][]float64, population int) {
	d := len(w.order)
	n := float64(len(points))
	most := w.before[d-1]
	for i := range w.mean {
		w.mean[i], w.sd[i] = 0, 1
	}
	mean, sd := make([]float64, most), make([]float64, most)
	f := make([]float64, 0, len(w.u))
	for _, p := range points {
		f = f[:0]
		for _, k := range w.order[:d-1] {
			f = w.feature(f, k, p)
		}
		for i, v := range f {
			mean[i] += v / n
			sd[i] += v * v / n
		}
	}
	for i := range mean {
		w.mean[i] = mean[i]
		w.sd[i] = math.Max(math.Sqrt(math.Max(sd[i]-mean[i]*mean[i], 0)), 1e-9)
	}
	centre, _ := moments(points)
	var halves [2]normalEquations
	for h := range halves {
		halves[h] = newNormalEquations(w)
	}
	row := make([]float64, terms(most))
	for i, p := range points {
		for pos := range d - 1 {
			w.see(pos, p)
		}
		fill(w.u[:most], row)
		h := 0
		if i%population >= population/2 {
			h = 1
		}
		halves[h].add(row, p, centre)
	}
	whole := newNormalEquations(w)
	whole.sum(&halves[0], &halves[1])
	for pos := w.first; pos < d; pos++ {
		least, ridge := math.Inf(1), 0.0
		for _, r := range []float64{1e-4, 1e-2, 1, 30, 1000} {
			e := halves[1].missed(pos, halves[0].solve(pos, r)) + halves[0].missed(pos, halves[1].solve(pos, r))
			if e < least {
				least, ridge = e, r
			}
		}
		w.coef[pos] = whole.solve(pos, ridge)
	}
}

// normalEquations are those of the least squares of all followers: the terms
// of fewer features are the beginning of those of more, so one matrix serves.
type normalEquations struct {
	w      *warp
	gram   [][]float64
	right  [][]float64 // by position
	square []float64   // sum of y²
}

func newNormalEquations(w *warp) normalEquations {
	d := len(w.order)
	m := terms(w.before[d-1])
	q := normalEquations{w: w, gram: square(m), right: make([][]float64, d), square: make([]float64, d)}
	for pos := w.first; pos < d; pos++ {
		q.right[pos] = make([]float64, m)
	}
	return q
}

func (q *normalEquations) add(row, p, centre []float64) {
	for i, a := range row {
		g := q.gram[i]
		for j, b := range row[:i+1] {
			g[j] += a * b
		}
	}
	for pos, r := range q.right {
		if r == nil {
			continue
		}
		y := p[q.w.order[pos]] - centre[q.w.order[pos]]
		q.square[pos] += y * y
		for i, a := range row[:terms(q.w.before[pos])] {
			r[i] += a * y
		}
	}
}

func (q *normalEquations) sum(a, b *normalEquations) {
	for i := range q.gram {
		for j := range i + 1 {
			q.gram[i][j] = a.gram[i][j] + b.gram[i][j]
		}
	}
	for pos := range q.right {
		for i := range q.right[pos] {
			q.right[pos][i] = a.right[pos][i] + b.right[pos][i]
		}
		q.square[pos] = a.square[pos] + b.square[pos]
	}
}

// solve returns the coefficients, products held down by ridge and the features
// themselves by a hundredth of it.
func (q *normalEquations) solve(pos int, ridge float64) []float64 {
	n := q.w.before[pos]
	k := terms(n)
	sub := make([][]float64, k)
	for i := range sub {
		sub[i] = append([]float64(nil), q.gram[i][:i+1]...)
		sub[i][i] += ridge
	}
	sub[0][0] += 1e-3 - ridge
	for i, at := 0, 1; i < n; i++ {
		sub[at][at] -= 0.99 * ridge
		at += i + 2
	}
	return newFactor(sub).solve(q.right[pos][:k])
}

// missed returns the sum of squares that the coefficients leave.
func (q *normalEquations) missed(pos int, c []float64) float64 {
	s := q.square[pos]
	for i, a := range c {
		g := 0.0
		for j, b := range c[:i] {
			g += q.gram[i][j] * b
		}
		s += a * (2*g + q.gram[i][i]*a - 2*q.right[pos][i])
	}
	return s
}

// follow returns g of a position; the features before it are in w.u.
func (w *warp) follow(pos int) float64 {
	c := w.coef[pos]
	if c == nil {
		return 0
	}
	sum := c[0]
	k := 1
	for i, a := range w.u[:w.before[pos]] {
		s := c[k]
		k++
		for j, b := range w.u[:i+1] {
			s += c[k+j] * b
		}
		k += i + 1
		sum += a * s
	}
	return sum
}

// rests puts those of the coordinates x in rest, both in the coordinates'
// own order.
func (w *warp) rests(x, rest []float64) {
	for pos, k := range w.order {
		rest[k] = x[k] - w.follow(pos)
		w.see(pos, x)
	}
}

// points is the inverse of rests.
func (w *warp) points(rest, x []float64) {
	for pos, k := range w.order {
		x[k] = rest[k] + w.follow(pos)
		w.see(pos, x)
	}
}

// solve returns the solution of L Lᵀ x = b.
func (f *factor) solve(b []float64) []float64 {
	x := append([]float64(nil), b...)
	for i := range f.d {
		row := f.l[i*(i+1)/2:]
		for k := range i {
			x[i] -= row[k] * x[k]
		}
		x[i] /= row[i]
	}
	for i := f.d - 1; i >= 0; i-- {
		for k := i + 1; k < f.d; k++ {
			x[i] -= f.l[k*(k+1)/2+i] * x[k]
		}
		x[i] /= f.l[i*(i+1)/2+i]
	}
	return x
}

package engine

import "math"

// walker takes steps with the method of tableau.go. Everything it needs is
// inside it: a walk allocates nothing.
type walker struct {
	cell cell

	x, s, m float64 // the current point
	k       [16]rates
	total   rates // sums so far

	h, s1, m1 float64 // the last try: its length and end
	fine      bool    // hold the error of the work too
}

// try takes one step of length h from the current point and returns its error
// over the tolerance; NaN where something was not finite. k[0] holds the rates at
// the current point.
func (w *walker) try(h, tol float64) float64 {
	k, x, s, m := &w.k, w.x, w.s, w.m
	var s1, m1 float64
	w.cell.rates(x+c2*h, s+h*(a2x1*k[0].entropy), m+h*(a2x1*k[0].mass), &k[1])
	w.cell.rates(x+c3*h, s+h*(a3x1*k[0].entropy+a3x2*k[1].entropy), m+h*(a3x1*k[0].mass+a3x2*k[1].mass), &k[2])
	w.cell.rates(x+c4*h, s+h*(a4x1*k[0].entropy+a4x3*k[2].entropy), m+h*(a4x1*k[0].mass+a4x3*k[2].mass), &k[3])
	w.cell.rates(x+c5*h, s+h*(a5x1*k[0].entropy+a5x3*k[2].entropy+a5x4*k[3].entropy), m+h*(a5x1*k[0].mass+a5x3*k[2].mass+a5x4*k[3].mass), &k[4])
	w.cell.rates(x+c6*h, s+h*(a6x1*k[0].entropy+a6x4*k[3].entropy+a6x5*k[4].entropy), m+h*(a6x1*k[0].mass+a6x4*k[3].mass+a6x5*k[4].mass), &k[5])
	w.cell.rates(x+c7*h, s+h*(a7x1*k[0].entropy+a7x4*k[3].entropy+a7x5*k[4].entropy+a7x6*k[5].entropy), m+h*(a7x1*k[0].mass+a7x4*k[3].mass+a7x5*k[4].mass+a7x6*k[5].mass), &k[6])
	w.cell.rates(x+c8*h, s+h*(a8x1*k[0].entropy+a8x4*k[3].entropy+a8x5*k[4].entropy+a8x6*k[5].entropy+a8x7*k[6].entropy), m+h*(a8x1*k[0].mass+a8x4*k[3].mass+a8x5*k[4].mass+a8x6*k[5].mass+a8x7*k[6].mass), &k[7])
	w.cell.rates(x+c9*h, s+h*(a9x1*k[0].entropy+a9x4*k[3].entropy+a9x5*k[4].entropy+a9x6*k[5].entropy+a9x7*k[6].entropy+a9x8*k[7].entropy), m+h*(a9x1*k[0].mass+a9x4*k[3].mass+a9x5*k[4].mass+a9x6*k[5].mass+a9x7*k[6].mass+a9x8*k[7].mass), &k[8])
	w.cell.rates(x+c10*h, s+h*(a10x1*k[0].entropy+a10x4*k[3].entropy+a10x5*k[4].entropy+a10x6*k[5].entropy+a10x7*k[6].entropy+a10x8*k[7].entropy+a10x9*k[8].entropy), m+h*(a10x1*k[0].mass+a10x4*k[3].mass+a10x5*k[4].mass+a10x6*k[5].mass+a10x7*k[6].mass+a10x8*k[7].mass+a10x9*k[8].mass), &k[9])
	w.cell.rates(x+c11*h, s+h*(a11x1*k[0].entropy+a11x4*k[3].entropy+a11x5*k[4].entropy+a11x6*k[5].entropy+a11x7*k[6].entropy+a11x8*k[7].entropy+a11x9*k[8].entropy+a11x10*k[9].entropy), m+h*(a11x1*k[0].mass+a11x4*k[3].mass+a11x5*k[4].mass+a11x6*k[5].mass+a11x7*k[6].mass+a11x8*k[7].mass+a11x9*k[8].mass+a11x10*k[9].mass), &k[10])
	w.cell.rates(x+h, s+h*(a12x1*k[0].entropy+a12x4*k[3].entropy+a12x5*k[4].entropy+a12x6*k[5].entropy+a12x7*k[6].entropy+a12x8*k[7].entropy+a12x9*k[8].entropy+a12x10*k[9].entropy+a12x11*k[10].entropy), m+h*(a12x1*k[0].mass+a12x4*k[3].mass+a12x5*k[4].mass+a12x6*k[5].mass+a12x7*k[6].mass+a12x8*k[7].mass+a12x9*k[8].mass+a12x10*k[9].mass+a12x11*k[10].mass), &k[11])
	s1 = s + h*(b1*k[0].entropy+b6*k[5].entropy+b7*k[6].entropy+b8*k[7].entropy+b9*k[8].entropy+b10*k[9].entropy+b11*k[10].entropy+b12*k[11].entropy)
	m1 = m + h*(b1*k[0].mass+b6*k[5].mass+b7*k[6].mass+b8*k[7].mass+b9*k[8].mass+b10*k[9].mass+b11*k[10].mass+b12*k[11].mass)
	w.cell.rates(x+h, s1, m1, &k[12])
	w.h, w.s1, w.m1 = h, s1, m1
	// The method's own mix of its two estimates (Hairer, Nørsett, Wanner, II.10).
	se5 := e5x1*k[0].entropy + e5x6*k[5].entropy + e5x7*k[6].entropy + e5x8*k[7].entropy + e5x9*k[8].entropy + e5x10*k[9].entropy + e5x11*k[10].entropy + e5x12*k[11].entropy
	se3 := e3x1*k[0].entropy + e3x6*k[5].entropy + e3x7*k[6].entropy + e3x8*k[7].entropy + e3x9*k[8].entropy + e3x10*k[9].entropy + e3x11*k[10].entropy + e3x12*k[11].entropy
	me5 := e5x1*k[0].mass + e5x6*k[5].mass + e5x7*k[6].mass + e5x8*k[7].mass + e5x9*k[8].mass + e5x10*k[9].mass + e5x11*k[10].mass + e5x12*k[11].mass
	me3 := e3x1*k[0].mass + e3x6*k[5].mass + e3x7*k[6].mass + e3x8*k[7].mass + e3x9*k[8].mass + e3x10*k[9].mass + e3x11*k[10].mass + e3x12*k[11].mass
	we5 := e5x1*k[0].work + e5x6*k[5].work + e5x7*k[6].work + e5x8*k[7].work + e5x9*k[8].work + e5x10*k[9].work + e5x11*k[10].work + e5x12*k[11].work
	we3 := e3x1*k[0].work + e3x6*k[5].work + e3x7*k[6].work + e3x8*k[7].work + e3x9*k[8].work + e3x10*k[9].work + e3x11*k[10].work + e3x12*k[11].work
	five, three := se5*se5+me5*me5, se3*se3+me3*me3
	n := 2.0
	if w.fine {
		five, three, n = five+we5*we5, three+we3*we3, 3
	}
	if five == 0 && three == 0 {
		return 0
	}
	return math.Abs(h) / tol * five / math.Sqrt((five+0.01*three)*n)
}

// accept makes the end of the last try the current point, and adds up the sums by
// the weights of the method: mass lost then equals mass leaked to rounding.
func (w *walker) accept() {
	k, t, h := &w.k, &w.total, w.h
	t.wall += h * (b1*k[0].wall + b6*k[5].wall + b7*k[6].wall + b8*k[7].wall + b9*k[8].wall + b10*k[9].wall + b11*k[10].wall + b12*k[11].wall)
	t.enthalpy += h * (b1*k[0].enthalpy + b6*k[5].enthalpy + b7*k[6].enthalpy + b8*k[7].enthalpy + b9*k[8].enthalpy + b10*k[9].enthalpy + b11*k[10].enthalpy + b12*k[11].enthalpy)
	t.leak += h * (b1*k[0].leak + b6*k[5].leak + b7*k[6].leak + b8*k[7].leak + b9*k[8].leak + b10*k[9].leak + b11*k[10].leak + b12*k[11].leak)
	t.rings += h * (b1*k[0].rings + b6*k[5].rings + b7*k[6].rings + b8*k[7].rings + b9*k[8].rings + b10*k[9].rings + b11*k[10].rings + b12*k[11].rings)
	t.work += h * (b1*k[0].work + b6*k[5].work + b7*k[6].work + b8*k[7].work + b9*k[8].work + b10*k[9].work + b11*k[10].work + b12*k[11].work)
	w.x, w.s, w.m = w.x+h, w.s1, w.m1
	k[0] = k[12]
}

// dense is the interpolant of the last try, of order 7.
type dense struct {
	x, h, s, m float64
	fs, fm     [7]float64
}

// dense makes the interpolant; it needs three more calls of the rates.
func (w *walker) dense() (d dense) {
	k, x, s, m, h := &w.k, w.x, w.s, w.m, w.h
	w.cell.rates(x+c14*h, s+h*(a14x1*k[0].entropy+a14x7*k[6].entropy+a14x8*k[7].entropy+a14x9*k[8].entropy+a14x10*k[9].entropy+a14x11*k[10].entropy+a14x12*k[11].entropy+a14x13*k[12].entropy), m+h*(a14x1*k[0].mass+a14x7*k[6].mass+a14x8*k[7].mass+a14x9*k[8].mass+a14x10*k[9].mass+a14x11*k[10].mass+a14x12*k[11].mass+a14x13*k[12].mass), &k[13])
	w.cell.rates(x+c15*h, s+h*(a15x1*k[0].entropy+a15x6*k[5].entropy+a15x7*k[6].entropy+a15x8*k[7].entropy+a15x11*k[10].entropy+a15x12*k[11].entropy+a15x13*k[12].entropy+a15x14*k[13].entropy), m+h*(a15x1*k[0].mass+a15x6*k[5].mass+a15x7*k[6].mass+a15x8*k[7].mass+a15x11*k[10].mass+a15x12*k[11].mass+a15x13*k[12].mass+a15x14*k[13].mass), &k[14])
	w.cell.rates(x+c16*h, s+h*(a16x1*k[0].entropy+a16x6*k[5].entropy+a16x7*k[6].entropy+a16x8*k[7].entropy+a16x9*k[8].entropy+a16x13*k[12].entropy+a16x14*k[13].entropy+a16x15*k[14].entropy), m+h*(a16x1*k[0].mass+a16x6*k[5].mass+a16x7*k[6].mass+a16x8*k[7].mass+a16x9*k[8].mass+a16x13*k[12].mass+a16x14*k[13].mass+a16x15*k[14].mass), &k[15])
	d.x, d.h, d.s, d.m = x, h, s, m
	ds, dm := w.s1-s, w.m1-m
	d.fs[0], d.fm[0] = ds, dm
	d.fs[1], d.fm[1] = h*k[0].entropy-ds, h*k[0].mass-dm
	d.fs[2], d.fm[2] = 2*ds-h*(k[12].entropy+k[0].entropy), 2*dm-h*(k[12].mass+k[0].mass)
	for i := range denseWeights {
		for j := range k {
			d.fs[3+i] += h * denseWeights[i][j] * k[j].entropy
			d.fm[3+i] += h * denseWeights[i][j] * k[j].mass
		}
	}
	return d
}

// at returns s and m at the part u, 0 to 1, of the step.
func (d *dense) at(u float64) (s, m float64) {
	for i := 6; i >= 0; i-- {
		f := u
		if i%2 == 1 {
			f = 1 - u
		}
		s, m = (s+d.fs[i])*f, (m+d.fm[i])*f
	}
	return d.s + s, d.m + m
}

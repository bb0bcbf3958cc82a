package num

import "math"

// watch looks for changes of sign of an event function, step by step.
type watch struct {
	g    func(t float64, y []float64) float64
	sign float64   // sign of g where it was last not zero; 0 if it never was
	th   float64   // part of the step already searched
	y    []float64 // scratch
}

// samples is how many places within a step the event function is looked at, so
// that two crossings within a step are seen if they are not close together.
const samples = 4

func newWatch(g func(t float64, y []float64) float64, t float64, y []float64) *watch {
	w := &watch{g: g, y: make([]float64, len(y))}
	if g != nil {
		w.sign = sign(g(t, y))
	}
	return w
}

func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0 // also NaN: says nothing about a crossing
}

// find looks for the first event in a new step that begins at t; the step just
// tried has length h and polynomial coef.
func (w *watch) find(m method, t, h float64, coef []float64) (he float64, y []float64, found bool) {
	w.th = 0
	return w.next(m, t, h, coef)
}

// next goes on behind the last event. On return the method's last try may be
// of another length than h if an event was found.
func (w *watch) next(m method, t, h float64, coef []float64) (he float64, y []float64, found bool) {
	dense := func(th float64) float64 {
		if th >= 1 {
			return w.g(t+h, m.end())
		}
		interpolate(coef, th, w.y)
		return w.g(t+th*h, w.y)
	}
	from := w.th
	for k := 1; k <= samples; k++ {
		th := float64(k) / samples
		if th <= from {
			continue
		}
		sg := sign(dense(th))
		if sg == 0 || sg == w.sign {
			from = th
			continue
		}
		if w.sign == 0 { // started on a zero: this is the side it left to
			w.sign, from = sg, th
			continue
		}
		root := w.locate(m, t, h, from, th, dense)
		w.sign, w.th = sg, th
		m.try(root)
		return root, append([]float64(nil), m.end()...), true
	}
	w.th = 1
	return 0, nil, false
}

// locate finds the event between the parts lo and hi of a step. The polynomial
// gives a first answer; real steps of the trial length then mend its error,
// which is larger than that of the steps themselves.
func (w *watch) locate(m method, t, h, lo, hi float64, dense func(float64) float64) float64 {
	th, err := FindRoot(dense, lo, hi, 0)
	if err != nil {
		th = hi
	}
	exact := func(x float64) float64 {
		if x <= 0 {
			x = 0x1p-40 * h
		}
		m.try(x)
		return w.g(t+x, m.end())
	}
	tol := 0x1p-51 * math.Max(math.Abs(t), h)
	for d := 1e-6 * h; ; d *= 100 {
		a, b := math.Max(lo*h, th*h-d), math.Min(hi*h, th*h+d)
		if x, err := FindRoot(exact, a, b, tol); err == nil {
			return x
		}
		if a <= lo*h && b >= hi*h {
			return th * h
		}
	}
}

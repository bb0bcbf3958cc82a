package num

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// Monotone is a smooth curve through points that rises where they rise and
// falls where they fall, with no bumps between: for pump curves. The zero
// Monotone is 0 everywhere.
type Monotone struct {
	curve    interp.FritschButland
	lo, hi   float64
	yLo, yHi float64
	set      bool
}

// NewMonotone returns the curve through the points (x[i], y[i]): at least two,
// x rising, all finite; else the error is a *[CurveError]. The slices are not
// kept. Source: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300.
func NewMonotone(x, y []float64) (*Monotone, error) {
	if len(x) != len(y) || len(x) < 2 {
		return nil, &CurveError{Point: -1, Detail: fmt.Sprintf("%d places and %d values: at least two of each are needed", len(x), len(y))}
	}
	for i := range x {
		switch {
		case !allFinite([]float64{x[i], y[i]}):
			return nil, &CurveError{Point: i, Detail: fmt.Sprintf("(%g, %g) is not finite", x[i], y[i])}
		case i > 0 && !(x[i] > x[i-1]):
			return nil, &CurveError{Point: i, Detail: fmt.Sprintf("%g does not lie beyond %g", x[i], x[i-1])}
		}
	}
	n := len(x) - 1
	m := &Monotone{lo: x[0], hi: x[n], yLo: y[0], yHi: y[n], set: true}
	if err := m.curve.Fit(append([]float64(nil), x...), append([]float64(nil), y...)); err != nil {
		return nil, &CurveError{Point: -1, Detail: err.Error()}
	}
	return m, nil
}

// CurveError reports points through which no curve can be laid.
type CurveError struct {
	Point  int // index of the point; -1: all
	Detail string
}

func (e *CurveError) Error() string {
	if e.Point < 0 {
		return "curve: " + e.Detail
	}
	return fmt.Sprintf("curve: point %d: %s", e.Point+1, e.Detail)
}

// Span returns the places of the first and last point.
func (m *Monotone) Span() (lo, hi float64) { return m.lo, m.hi }

// At returns the curve's value at x, beyond the ends that of the end.
func (m *Monotone) At(x float64) float64 {
	switch {
	case !m.set:
		return 0
	case x >= m.hi:
		return m.yHi
	case !(x > m.lo):
		return m.yLo
	}
	return m.curve.Predict(x)
}

// Slope returns the curve's derivative at x; 0 beyond the ends.
func (m *Monotone) Slope(x float64) float64 {
	if !m.set || !(x >= m.lo && x <= m.hi) {
		return 0
	}
	return m.curve.PredictDerivative(x)
}

// Invert returns the place x in the span at which the curve is y. It needs a
// curve that only rises or only falls and y between its ends, else the error
// is a *[BracketError].
func (m *Monotone) Invert(y float64) (float64, error) {
	if math.IsNaN(y) {
		return 0, &ValueError{Op: "invert curve", What: "not a number", Value: y}
	}
	return FindRoot(func(x float64) float64 { return m.At(x) - y }, m.lo, m.hi, 0)
}

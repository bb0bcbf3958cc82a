package num

import (
	"fmt"
	"math"
)

// BracketError reports that a function has the same sign at both ends of the
// interval it was to have a root in.
type BracketError struct {
	Low, High   float64 // the interval
	FLow, FHigh float64 // the function there
}

func (e *BracketError) Error() string {
	return fmt.Sprintf("find root: no change of sign between %g (%g) and %g (%g): widen the interval", e.Low, e.FLow, e.High, e.FHigh)
}

// ValueError reports an argument or a function value that is not finite or out
// of range.
type ValueError struct {
	Op    string  // "find root", "integrate", ...
	What  string  // what was wrong
	At    float64 // argument of the function, where there is one
	Value float64
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("%s: %s (%g at %g)", e.Op, e.What, e.Value, e.At)
}

// FindRoot returns x in [lo, hi] with f(x) = 0 by Brent's method: f must be
// continuous and of different sign at lo and hi (a zero at an end is a root).
// x is within tol of the root, or of the rounding of x if tol is smaller (0 is
// allowed). The error is a *[BracketError] where the signs agree, a
// *[ValueError] where f is NaN or an end is not finite.
//
// Source: R. P. Brent, Algorithms for Minimization without Derivatives, 1973,
// chapter 4.
func FindRoot(f func(float64) float64, lo, hi, tol float64) (float64, error) {
	const op = "find root"
	if math.IsNaN(lo-hi) || math.IsInf(lo-hi, 0) {
		return 0, &ValueError{Op: op, What: "interval not finite", At: lo, Value: hi}
	}
	if !(tol >= 0) {
		return 0, &ValueError{Op: op, What: "tolerance below 0 or not a number", At: lo, Value: tol}
	}
	a, b := lo, hi
	fa, fb := f(a), f(b)
	switch {
	case math.IsNaN(fa):
		return 0, &ValueError{Op: op, What: "function not a number", At: a, Value: fa}
	case math.IsNaN(fb):
		return 0, &ValueError{Op: op, What: "function not a number", At: b, Value: fb}
	case fa == 0:
		return a, nil
	case fb == 0:
		return b, nil
	case (fa > 0) == (fb > 0):
		return 0, &BracketError{Low: lo, High: hi, FLow: fa, FHigh: fb}
	}
	c, fc := a, fa
	d := b - a
	e := d
	for range 2500 { // never reached: bisection alone ends within the range of exponents
		if (fb > 0) == (fc > 0) {
			c, fc = a, fa
			d = b - a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		t := 2*0x1p-53*math.Abs(b) + 0.5*tol
		m := 0.5 * (c - b)
		if math.Abs(m) <= t || fb == 0 {
			return b, nil
		}
		if math.Abs(e) < t || math.Abs(fa) <= math.Abs(fb) || math.IsInf(fa, 0) {
			d, e = m, m
		} else {
			s := fb / fa
			p, q := 2*m*s, 1-s // secant
			if a != c {        // inverse quadratic
				u, v := fa/fc, fb/fc
				p = s * (2*m*u*(u-v) - (b-a)*(v-1))
				q = (u - 1) * (v - 1) * (s - 1)
			}
			if p > 0 {
				q = -q
			} else {
				p = -p
			}
			if 2*p < math.Min(3*m*q-math.Abs(t*q), math.Abs(e*q)) {
				e, d = d, p/q
			} else {
				d, e = m, m
			}
		}
		a, fa = b, fb
		if math.Abs(d) > t {
			b += d
		} else {
			b += math.Copysign(t, m)
		}
		fb = f(b)
		if math.IsNaN(fb) {
			return 0, &ValueError{Op: op, What: "function not a number", At: b, Value: fb}
		}
	}
	return b, nil
}

package num

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// Integrate returns the integral of f from lo to hi by the n-point rule of
// Gauss and Legendre: exact for polynomials up to degree 2n-1, and for a fixed
// n a smooth function of lo and hi. n below 1 is taken as 1. The error is a
// *[ValueError] where a bound or the result is not finite.
func Integrate(f func(float64) float64, lo, hi float64, n int) (float64, error) {
	const op = "integrate"
	if math.IsNaN(hi-lo) || math.IsInf(hi-lo, 0) {
		return 0, &ValueError{Op: op, What: "bounds not finite", At: lo, Value: hi}
	}
	x, w := GaussLegendre(max(n, 1), lo, hi)
	sum := 0.0
	for i := range x {
		sum += w[i] * f(x[i])
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return 0, &ValueError{Op: op, What: "integral not finite", At: lo, Value: sum}
	}
	return sum, nil
}

// GaussLegendre returns the n >= 1 places and weights of the rule of Gauss and
// Legendre between lo and hi, for integrals that are done many times over.
func GaussLegendre(n int, lo, hi float64) (x, w []float64) {
	x, w = make([]float64, n), make([]float64, n)
	back := hi < lo
	if back {
		lo, hi = hi, lo
	}
	if lo == hi {
		for i := range x {
			x[i] = lo
		}
		return x, w
	}
	quad.Legendre{}.FixedLocations(x, w, lo, hi)
	if back {
		for i := range w {
			w[i] = -w[i]
		}
	}
	return x, w
}

// Integral is the outcome of [IntegrateTo].
type Integral struct {
	Value float64
	Error float64 // estimate of what Value is off by, rather too large than too small
	Calls int
}

// IntegrateTo returns the integral of f from lo to hi to within abs or rel
// times its value, whichever is larger, by halving the worst piece again and
// again (Gauss-Kronrod, 7 and 15 points). 0 for both means 1e-10 relative.
//
// The error is a *[ValueError] where a bound or a value of f is not finite, or
// where 2,000 pieces did not suffice; in the last case the Integral is the best
// there is.
//
// Source: Piessens et al., QUADPACK, 1983, subroutine QAG with the 15-point rule.
func IntegrateTo(f func(float64) float64, lo, hi, rel, abs float64) (Integral, error) {
	const op = "integrate"
	switch {
	case math.IsNaN(hi-lo) || math.IsInf(hi-lo, 0):
		return Integral{}, &ValueError{Op: op, What: "bounds not finite", At: lo, Value: hi}
	case !(rel >= 0) || !(abs >= 0):
		return Integral{}, &ValueError{Op: op, What: "tolerance below 0 or not a number", At: rel, Value: abs}
	case rel == 0 && abs == 0:
		rel = 1e-10
	}
	pieces := []piece{kronrod(f, lo, hi)}
	for {
		var sum, e float64
		worst := 0
		for i, p := range pieces {
			sum += p.value
			e += p.err
			if p.err > pieces[worst].err {
				worst = i
			}
		}
		out := Integral{Value: sum, Error: e, Calls: 15 * (2*len(pieces) - 1)}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return Integral{Calls: out.Calls}, &ValueError{Op: op, What: "function not finite", At: lo, Value: sum}
		}
		if e <= math.Max(abs, rel*math.Abs(sum)) {
			return out, nil
		}
		p := pieces[worst]
		mid := (p.lo + p.hi) / 2
		if len(pieces) >= 2000 || mid == p.lo || mid == p.hi {
			return out, &ValueError{Op: op, What: "tolerance not reached; the function is too rough near there", At: p.lo, Value: e}
		}
		pieces[worst] = kronrod(f, p.lo, mid)
		pieces = append(pieces, kronrod(f, mid, p.hi))
	}
}

type piece struct{ lo, hi, value, err float64 }

// Places and weights of the rules, on [-1, 1] (QUADPACK, QK15).
var (
	kronrodX = [8]float64{0.991455371120812639206854697526329, 0.949107912342758524526189684047851, 0.864864423359769072789712788640926, 0.741531185599394439863864773280788, 0.586087235467691130294144691658732, 0.405845151377397166906606412076961, 0.207784955007898467600689403773245, 0}
	kronrodW = [8]float64{0.022935322010529224963732008058970, 0.063092092629978553290700663189204, 0.104790010322250183839876322541518, 0.140653259715525918745189590510238, 0.169004726639267902826583426598550, 0.190350578064785409913256402421014, 0.204432940075298892414161999234649, 0.209482141084727828012999174891714}
	gaussW   = [4]float64{0.129484966168869693270611432679082, 0.279705391489276667901467771423780, 0.381830050505118944950369775488975, 0.417959183673469387755102040816327}
)

func kronrod(f func(float64) float64, lo, hi float64) piece {
	c, h := (lo+hi)/2, (hi-lo)/2
	var v [15]float64
	v[7] = f(c)
	k, g := kronrodW[7]*v[7], gaussW[3]*v[7]
	size := kronrodW[7] * math.Abs(v[7])
	for i := range 7 {
		a, b := f(c-h*kronrodX[i]), f(c+h*kronrodX[i])
		v[i], v[14-i] = a, b
		k += kronrodW[i] * (a + b)
		size += kronrodW[i] * (math.Abs(a) + math.Abs(b))
		if i%2 == 1 {
			g += gaussW[i/2] * (a + b)
		}
	}
	spread := kronrodW[7] * math.Abs(v[7]-k/2)
	for i := range 7 {
		spread += kronrodW[i] * (math.Abs(v[i]-k/2) + math.Abs(v[14-i]-k/2))
	}
	e := math.Abs((k - g) * h)
	spread *= math.Abs(h)
	if spread > 0 && e > 0 {
		e = spread * math.Min(1, math.Pow(200*e/spread, 1.5))
	}
	if floor := 50 * 0x1p-52 * size * math.Abs(h); size*math.Abs(h) > 1e-290 {
		e = math.Max(e, floor)
	}
	return piece{lo, hi, k * h, e}
}

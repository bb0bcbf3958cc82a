package engine

import "math"

// exp and log do the work of math.Exp and math.Log for the solver's inner loop,
// where half the time went: a third of it here, without the cases that do not
// occur there. Held to 4e-16 by TestPower.

const (
	log2e = math.Log2E
	ln2Hi = 6.93147180369123816490e-01 // ln 2 in two parts, the first short
	ln2Lo = 1.90821492927058770002e-10
	round = 0x1.8p52 // adding it rounds to a whole number
)

// exp returns e^x for |x| < 600; NaN for NaN.
func exp(x float64) float64 {
	if !(x > -600 && x < 600) {
		return math.Exp(x)
	}
	k := x*log2e + round
	n := int64(math.Float64bits(k)<<12) >> 12 // the whole number, from the low bits
	k -= round
	r := x - k*ln2Hi - k*ln2Lo
	// Taylor to r^13 in pairs; |r| <= 0.3466 leaves 5e-18.
	r2 := r * r
	r4 := r2 * r2
	p0 := 1 + r
	p1 := 1.0/2 + r*(1.0/6)
	p2 := 1.0/24 + r*(1.0/120)
	p3 := 1.0/720 + r*(1.0/5040)
	p4 := 1.0/40320 + r*(1.0/362880)
	p5 := 1.0/3628800 + r*(1.0/39916800)
	p6 := 1.0/479001600 + r*(1.0/6227020800)
	p := p0 + r2*p1 + r4*(p2+r2*p3+r4*(p4+r2*p5+r4*p6))
	return p * math.Float64frombits(uint64(n+1023)<<52)
}

// log returns ln x for x above 1e-300; NaN at 0 and below.
func log(x float64) float64 {
	if !(x > 1e-300 && x < 1e300) {
		if x <= 0 {
			return math.NaN()
		}
		return math.Log(x)
	}
	bits := math.Float64bits(x)
	// x = 2^n f with f from sqrt(1/2) to sqrt(2)
	n := int64(bits-0x3fe6a09e667f3bcd) >> 52
	f := math.Float64frombits(bits - uint64(n)<<52)
	// ln f = 2 atanh((f-1)/(f+1)); z² <= 0.0295
	z := (f - 1) / (f + 1)
	w := z * z
	w2 := w * w
	w4 := w2 * w2
	a := 1.0/3 + w*(1.0/5) + w2*(1.0/7+w*(1.0/9)) + w4*(1.0/11+w*(1.0/13)+w2*(1.0/15+w*(1.0/17))+w4*(1.0/19+w*(1.0/21)))
	k := float64(n)
	return k*ln2Hi + (2*z + (2*z*w*a + k*ln2Lo))
}

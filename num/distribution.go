package num

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Z95 is the normal quantile of a two-sided 95 % interval, NormalQuantile(0.975).
const Z95 = 1.959963984540054

// NormalCDF returns the chance that a standard normal figure is below x.
func NormalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// NormalDensity returns the density of the standard normal distribution at x.
func NormalDensity(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// NormalQuantile returns the x below which a standard normal figure lies with
// chance p: -Inf at 0, +Inf at 1. Outside [0, 1] the error is a *[ValueError].
func NormalQuantile(p float64) (float64, error) {
	if !(p >= 0 && p <= 1) {
		return 0, &ValueError{Op: "normal quantile", What: "chance not between 0 and 1", Value: p}
	}
	return -math.Sqrt2 * math.Erfcinv(2*p), nil
}

// StudentQuantile returns the x below which Student's t with nu degrees of
// freedom lies with chance p. It needs 0 < p < 1 and nu > 0, else the error is
// a *[ValueError].
func StudentQuantile(p, nu float64) (float64, error) {
	const op = "t quantile"
	if !(p > 0 && p < 1) {
		return 0, &ValueError{Op: op, What: "chance not between 0 and 1", Value: p}
	}
	if !(nu > 0) {
		return 0, &ValueError{Op: op, What: "degrees of freedom not above 0", Value: nu}
	}
	if nu > 1e8 { // beyond it the normal is exact to rounding
		return NormalQuantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p), nil
}

// ChiSquareQuantile returns the x below which chi-square with k degrees of
// freedom lies with chance p. It needs 0 <= p < 1 and k > 0, else the error is
// a *[ValueError].
func ChiSquareQuantile(p, k float64) (float64, error) {
	const op = "chi-square quantile"
	if !(p >= 0 && p < 1) {
		return 0, &ValueError{Op: op, What: "chance not between 0 and 1", Value: p}
	}
	if !(k > 0) || math.IsInf(k, 1) {
		return 0, &ValueError{Op: op, What: "degrees of freedom not above 0 and finite", Value: k}
	}
	return distuv.ChiSquared{K: k}.Quantile(p), nil
}

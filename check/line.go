package check

import (
	"fmt"
	"math"

	"seatproof/num"
)

// Fit is a straight line y = Intercept + Slope (x - X0) through points, by least
// squares, with the standard deviations of both and their correlation:
//
//	Slope = Σ (x-x̄)(y-ȳ)/D,  D = Σ (x-x̄)²,  S² = Σ r²/(n-2)
//	u²(Slope) = S²/D,  u²(Intercept) = S² (1/n + (x̄-X0)²/D)
//
// Source: JCGM 100:2008 (GUM), H.3.
type Fit struct {
	X0                                float64
	Intercept, Slope                  float64
	InterceptSD, SlopeSD, Correlation float64
	S                                 float64 // sd of the residuals, n-2 degrees of freedom; 0 for two points
	N                                 int
}

// FitLine lays a line through the points (x, y), with its intercept at x0. With
// sd > 0 a point's standard deviation is never taken below it: two points have no
// residual, and few may agree by luck. It needs two points of different x, all
// finite.
func FitLine(x, y []float64, x0, sd float64) (Fit, error) {
	n := len(x)
	if n != len(y) {
		panic("check: FitLine takes as many x as y")
	}
	f := Fit{X0: x0, N: n}
	if n < 2 {
		return f, fmt.Errorf("line: %d points: it takes two", n)
	}
	var mx, my float64
	for i := range x {
		mx += x[i] / float64(n)
		my += y[i] / float64(n)
	}
	if math.IsNaN(mx+my) || math.IsInf(mx+my, 0) {
		return f, fmt.Errorf("line: a figure is not a number")
	}
	var d, xy float64
	for i := range x {
		d += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	if !(d > 0) {
		return f, fmt.Errorf("line: all its points lie at %g: it takes two that differ", mx)
	}
	f.Slope = xy / d
	f.Intercept = my + f.Slope*(x0-mx)
	if n > 2 {
		rss := 0.0
		for i := range x {
			r := y[i] - my - f.Slope*(x[i]-mx)
			rss += r * r
		}
		f.S = math.Sqrt(rss / float64(n-2))
	}
	s := math.Max(f.S, sd)
	f.SlopeSD = s / math.Sqrt(d)
	f.InterceptSD = s * math.Sqrt(1/float64(n)+(mx-x0)*(mx-x0)/d)
	if f.InterceptSD > 0 {
		f.Correlation = -(mx - x0) * s * s / d / (f.InterceptSD * f.SlopeSD)
	}
	return f, nil
}

// At returns the line at x with its standard deviation.
func (f Fit) At(x float64) (y, sd float64) {
	d := x - f.X0
	v := f.InterceptSD*f.InterceptSD + d*d*f.SlopeSD*f.SlopeSD + 2*d*f.Correlation*f.InterceptSD*f.SlopeSD
	return f.Intercept + f.Slope*d, math.Sqrt(math.Max(0, v))
}

// factor returns what a standard deviation found from so many degrees of freedom
// is multiplied by for 95 %: Student's t (GUM G.3); 1.96 for none, where the
// standard deviation was known beforehand.
func factor(freedom int) float64 {
	if freedom < 1 {
		return num.Z95
	}
	t, err := num.StudentQuantile(0.975, float64(freedom))
	if err != nil {
		return num.Z95
	}
	return t
}

// meanOf returns mean and standard deviation (n-1) of x, which has two or more.
func meanOf(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	if len(x) > 1 {
		sd = math.Sqrt(sd / float64(len(x)-1))
	}
	return mean, sd
}

// beyond returns the verdict of a figure of value x and standard deviation u that
// must lie within ±limit: passed and failed at 95 % (JCGM 106:2012, 7).
func beyond(x, u, limit float64) Verdict {
	in := 0.0
	if u <= 0 {
		if math.Abs(x) <= limit {
			in = 1
		}
	} else {
		in = num.NormalCDF((limit-x)/u) - num.NormalCDF((-limit-x)/u)
	}
	switch {
	case in >= 0.95:
		return Passed
	case in <= 0.05:
		return Failed
	default:
		return Unsure
	}
}

// worst is the verdict of several that must all pass.
func worst(a, b Verdict) Verdict {
	switch {
	case a == Failed || b == Failed:
		return Failed
	case a == Unsure || b == Unsure:
		return Unsure
	case a == Found:
		return b
	case b == Found:
		return a
	default:
		return a
	}
}

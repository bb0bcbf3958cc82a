package num

import (
	"fmt"
	"math"
)

// Problem is a nonlinear least-squares problem: find p that makes the sum of
// the squares of N residuals least.
type Problem struct {
	// Residuals fills r, of length N, for the parameters p; it keeps neither
	// and does not change p. A residual that is not finite says that p is out
	// of the model's domain; the fit then tries closer to where it was.
	Residuals func(p, r []float64)
	N         int
	// Jacobian, if set, fills jac (row-major, N by len(p)) with the derivatives
	// of the residuals; else they are found by central differences.
	Jacobian func(p, jac []float64)
	// Scale is the usual size of each parameter; it sets the step of the
	// differences where a parameter is near 0. nil takes the start's size, and
	// 1 for a start at 0.
	Scale []float64
	// Low and High bound the parameters; nil means unbounded, and so do
	// infinite entries. A parameter that wants to leave stays at the bound.
	Low, High []float64
	// MaxIterations is the number of accepted or refused steps after which the
	// fit stops unconverged; 0 means 2,000.
	MaxIterations int
}

// Fit is the outcome of [LeastSquares].
type Fit struct {
	P          []float64
	RSS        float64 // sum of the squares of the residuals
	Converged  bool    // may be believed; if not, Why says why not
	Why        Verdict
	Iterations int
	Calls      int // of Residuals, those for differences included

	// Covariance of P, row-major: s² (J'J)^-1 with s² = RSS/(N - free
	// parameters). Rows of parameters at a bound, or not determined, are 0. If
	// the residuals are already divided by their standard deviations, divide by
	// Variance.
	Covariance []float64
	Variance   float64 // s²; 0 when no residual is left over
	Free       int     // parameters not at a bound
	AtBound    []bool
}

// SD returns the standard deviation of parameter i.
func (f *Fit) SD(i int) float64 { return math.Sqrt(f.Covariance[i*len(f.P)+i]) }

// Verdict is how a fit ended.
type Verdict string

// The ways a fit ends; only Minimum counts as converged.
const (
	Minimum       Verdict = "minimum"                  // the residuals are at right angles to every free direction
	Stalled       Verdict = "stalled"                  // no step helps, and it is no minimum
	Undetermined  Verdict = "parameter not determined" // the residuals no longer depend on a parameter, or two do the same
	OutOfPatience Verdict = "too many iterations"
)

// FitError reports a problem that can't be begun.
type FitError struct{ Detail string }

func (e *FitError) Error() string { return "least squares: " + e.Detail }

// LeastSquares fits by the method of Levenberg and Marquardt from start, which
// is not changed. Columns of the Jacobian are scaled to equal length, the damped
// equations are solved by an orthogonal factorization (not by normal
// equations), and the damping follows the gain of each step.
//
// A fit that ends anywhere but in a minimum comes back with Converged false and
// is no error: look at Why. That includes running off to where the residuals no
// longer depend on a parameter, which looks like a minimum to many programs. A
// minimum may still not be the lowest one: see [MultiStart]. The error, a
// *[FitError], is for problems that can't be begun: fewer residuals than
// parameters, figures that are not finite.
//
// Source: J. J. Moré in Numerical Analysis, Lecture Notes in Mathematics 630
// (1978) 105; stopping rule after D. M. Bates and D. G. Watts, Technometrics 23
// (1981) 179.
func LeastSquares(problem Problem, start []float64) (*Fit, error) {
	l, err := newLevenberg(problem, start)
	if err != nil {
		return nil, err
	}
	l.run()
	return l.finish(), nil
}

// MultiStart fits from each start and returns the converged fit with the
// smallest sum of squares (the first among equals), or, if none converged, the
// unconverged one with the smallest, and all fits in the order of the starts
// (nil for a start that can't be begun). The error is the first start's own
// where none could be begun.
func MultiStart(problem Problem, starts [][]float64) (*Fit, []*Fit, error) {
	var best *Fit
	var first error
	all := make([]*Fit, len(starts))
	for i, s := range starts {
		f, err := LeastSquares(problem, s)
		if err != nil {
			if first == nil {
				first = fmt.Errorf("start %d: %w", i+1, err)
			}
			continue
		}
		all[i] = f
		better := best == nil || f.Converged && !best.Converged || f.Converged == best.Converged && f.RSS < best.RSS*(1-1e-9)
		if better {
			best = f
		}
	}
	if best == nil {
		if first == nil {
			first = &FitError{"no starts"}
		}
		return nil, all, first
	}
	return best, all, nil
}

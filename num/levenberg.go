package num

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// firstDamping is lambda at the start. Of 1e-1, 1e-2, 1e-3, 1e-4, 1e-6 and
// 1e-8 it needs the fewest calls over the 54 starts of NIST's reference sets;
// the far starts of BoxBOD and MGH10 are lost with any of them, MGH17's with
// 1e-3 and 1e-6, MGH09's with 1e-8.
const firstDamping = 1e-4

// Tests of convergence.
const (
	offsetTight = 1e-10 // tangent part of the residuals over the rest: stop here
	offsetLoose = 1e-4  // the most that may be left where rounding ends the fit
	stepTight   = 1e-12 // Gauss-Newton step relative to the parameters
	lostColumn  = 1e-10 // column of the Jacobian over the largest it has been
	lostFor     = 50    // iterations on end with a lost column after which the fit is given up
	singular    = 1e-13 // reciprocal condition of the column-scaled Jacobian
)

// levenberg is a fit under way.
type levenberg struct {
	Problem
	p, r, trial, rTrial []float64
	rss                 float64
	jac                 []float64 // row-major
	norm, largest       []float64 // of columns
	bound               []bool    // held at a bound in this iteration
	free                []int     // the others
	lambda, raise       float64
	fit                 *Fit
	up1, down1          []float64
	up2, down2, pd      []float64
}

func newLevenberg(problem Problem, start []float64) (*levenberg, error) {
	n, m := problem.N, len(start)
	fail := func(format string, args ...any) (*levenberg, error) {
		return nil, &FitError{fmt.Sprintf(format, args...)}
	}
	if m == 0 || n < m {
		return fail("%d residuals for %d parameters", n, m)
	}
	if !allFinite(start) {
		return fail("start %v is not finite", start)
	}
	for _, v := range []struct {
		what string
		v    []float64
	}{{"scales", problem.Scale}, {"low bounds", problem.Low}, {"high bounds", problem.High}} {
		if v.v != nil && len(v.v) != m {
			return fail("%d %s for %d parameters", len(v.v), v.what, m)
		}
	}
	l := &levenberg{Problem: problem, lambda: firstDamping, raise: 2, fit: &Fit{Why: OutOfPatience}}
	l.p = append([]float64(nil), start...)
	for i := range l.p {
		if l.low(i) > l.high(i) || math.IsNaN(l.low(i)) || math.IsNaN(l.high(i)) {
			return fail("bounds %g and %g of parameter %d", l.low(i), l.high(i), i)
		}
		l.p[i] = l.clip(i, l.p[i])
		if l.Scale != nil && !(l.Scale[i] > 0 && !math.IsInf(l.Scale[i], 0)) {
			return fail("scale %g of parameter %d is not above 0", l.Scale[i], i)
		}
	}
	if l.Scale == nil {
		l.Scale = make([]float64, m)
		for i, v := range l.p {
			if l.Scale[i] = math.Abs(v); v == 0 {
				l.Scale[i] = 1
			}
		}
	}
	if l.MaxIterations <= 0 {
		l.MaxIterations = 2000
	}
	buf := func(k int) []float64 { return make([]float64, k) }
	l.r, l.rTrial, l.trial = buf(n), buf(n), buf(m)
	l.up1, l.up2, l.down1, l.down2, l.pd = buf(n), buf(n), buf(n), buf(n), buf(m)
	l.jac, l.norm, l.largest, l.bound = buf(n*m), buf(m), buf(m), make([]bool, m)
	l.rss = l.eval(l.p, l.r)
	if math.IsInf(l.rss, 1) {
		return fail("residuals at the start %v are not finite", start)
	}
	return l, nil
}

func (l *levenberg) low(i int) float64 {
	if l.Low == nil {
		return math.Inf(-1)
	}
	return l.Low[i]
}

func (l *levenberg) high(i int) float64 {
	if l.High == nil {
		return math.Inf(1)
	}
	return l.High[i]
}

func (l *levenberg) clip(i int, v float64) float64 {
	return math.Min(math.Max(v, l.low(i)), l.high(i))
}

// eval returns the sum of squares, +Inf where a residual is not finite.
func (l *levenberg) eval(p, r []float64) float64 {
	l.fit.Calls++
	l.Residuals(p, r)
	sum := 0.0
	for _, v := range r {
		sum += v * v
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// derivatives fills the Jacobian at p; false if it is not finite.
func (l *levenberg) derivatives() bool {
	m := len(l.p)
	if l.Jacobian != nil {
		l.Jacobian(l.p, l.jac)
	} else {
		for j := range l.p {
			if !l.column(j) {
				return false
			}
		}
	}
	if !allFinite(l.jac) {
		return false
	}
	for j := range m {
		sum := 0.0
		for i := range l.N {
			sum = math.Hypot(sum, l.jac[i*m+j])
		}
		l.norm[j] = sum
		l.largest[j] = math.Max(l.largest[j], sum)
	}
	return true
}

// column finds a column by differences of fourth order, central where the
// bounds and the model's domain allow, else of first order to one side.
func (l *levenberg) column(j int) bool {
	m := len(l.p)
	copy(l.pd, l.p)
	h := 7e-4 * math.Max(math.Abs(l.p[j]), 1e-4*l.Scale[j]) // eps^(1/5)
	at := func(k float64, r []float64) bool {
		l.pd[j] = l.p[j] + k*h
		return l.pd[j] >= l.low(j) && l.pd[j] <= l.high(j) && !math.IsInf(l.eval(l.pd, r), 1)
	}
	if at(1, l.up1) && at(-1, l.down1) && at(2, l.up2) && at(-2, l.down2) {
		for i := range l.N {
			l.jac[i*m+j] = (8*(l.up1[i]-l.down1[i]) - (l.up2[i] - l.down2[i])) / (12 * h)
		}
		return true
	}
	room := math.Max(l.high(j)-l.p[j], l.p[j]-l.low(j))
	if room == 0 { // held by equal bounds
		for i := range l.N {
			l.jac[i*m+j] = 0
		}
		return true
	}
	h = math.Min(room, 1.5e-8*math.Max(math.Abs(l.p[j]), 1e-4*l.Scale[j]))
	for _, side := range []float64{1, -1} {
		if at(side, l.up1) {
			d := l.pd[j] - l.p[j]
			for i := range l.N {
				l.jac[i*m+j] = (l.up1[i] - l.r[i]) / d
			}
			return true
		}
	}
	return false
}

// run iterates until a verdict is found.
func (l *levenberg) run() {
	m := len(l.p)
	fresh, lost := false, 0
	for l.fit.Iterations = 0; l.fit.Iterations < l.MaxIterations; l.fit.Iterations++ {
		if !fresh {
			if !l.derivatives() {
				l.fit.Why = Stalled
				return
			}
			fresh = true
			l.holdBounds()
			if v, done := l.verdict(offsetTight, true); done {
				l.fit.Why = v
				return
			}
			if lost++; !l.lost() {
				lost = 0
			}
			if lost >= lostFor {
				l.fit.Why = Undetermined
				return
			}
		}
		step := l.step(l.lambda)
		moved := false
		for i := range m {
			l.trial[i] = l.clip(i, l.p[i]+step[i])
			moved = moved || l.trial[i] != l.p[i]
		}
		if !moved || l.lambda > 1e30 {
			if v, done := l.verdict(offsetLoose, false); done {
				l.fit.Why = v
			} else {
				l.fit.Why = Stalled
			}
			return
		}
		rss := l.eval(l.trial, l.rTrial)
		// predicted sum of squares for the step as clipped
		predicted := 0.0
		for i := range l.N {
			v := l.r[i]
			for j := range m {
				v += l.jac[i*m+j] * (l.trial[j] - l.p[j])
			}
			predicted += v * v
		}
		gain := (l.rss - rss) / (l.rss - predicted)
		if rss < l.rss && !(gain < 1e-4) {
			l.p, l.trial = l.trial, l.p
			l.r, l.rTrial = l.rTrial, l.r
			l.rss = rss
			// Nielsen's update: gentle near gain 1/2, a third at best
			l.lambda *= math.Max(1.0/3, 1-math.Pow(2*math.Min(gain, 1)-1, 3))
			if gain > 0.9 {
				l.lambda /= 3
			}
			l.lambda = math.Max(l.lambda, 1e-20)
			l.raise = 2
			fresh = false
			continue
		}
		l.lambda = math.Max(l.lambda, 1e-12) * l.raise
		l.raise *= 2
	}
}

// holdBounds finds the parameters that sit at a bound and are pressed to it.
func (l *levenberg) holdBounds() {
	m := len(l.p)
	l.free = l.free[:0]
	for j := range l.p {
		slope := 0.0
		for i := range l.N {
			slope += l.jac[i*m+j] * l.r[i]
		}
		l.bound[j] = l.p[j] <= l.low(j) && slope >= 0 || l.p[j] >= l.high(j) && slope <= 0
		if !l.bound[j] {
			l.free = append(l.free, j)
		}
	}
}

// step solves the damped equations for the free parameters: least
// |J d + r|² + lambda |D d|², D the lengths of the columns.
func (l *levenberg) step(lambda float64) []float64 {
	m := len(l.p)
	d := make([]float64, m)
	k := len(l.free)
	if k == 0 {
		return d
	}
	a := mat.NewDense(l.N+k, k, nil)
	b := mat.NewVecDense(l.N+k, nil)
	for c, j := range l.free {
		s := l.norm[j]
		if s == 0 {
			s = 1
		}
		for i := range l.N {
			a.Set(i, c, l.jac[i*m+j]/s)
		}
		a.Set(l.N+c, c, math.Sqrt(lambda)*l.largest[j]/s)
	}
	for i := range l.N {
		b.SetVec(i, -l.r[i])
	}
	var qr mat.QR
	qr.Factorize(a)
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, b); err != nil {
		if _, conditioned := err.(mat.Condition); !conditioned {
			return d
		}
	}
	for c, j := range l.free {
		s := l.norm[j]
		if s == 0 {
			s = 1
		}
		if v := x.AtVec(c) / s; !math.IsNaN(v) && !math.IsInf(v, 0) {
			d[j] = v
		}
	}
	return d
}

// verdict says whether the current point is an end: a minimum, by the tangent
// part of the residuals (under offset times the rest) or the full Gauss-Newton
// step, or a place where a parameter is not determined.
func (l *levenberg) verdict(offset float64, strict bool) (Verdict, bool) {
	tangent, step, ok := l.tangent()
	if !ok {
		// Far from the end a singular Jacobian is no verdict: damping gets past it.
		if strict {
			return "", false
		}
		return Undetermined, true
	}
	rest := math.Sqrt(math.Max(0, l.rss-tangent*tangent))
	k, left := float64(len(l.free)), float64(l.N-len(l.free))
	small := len(l.free) == 0 || tangent == 0
	if left > 0 && rest > 0 {
		small = small || tangent/math.Sqrt(k) <= offset*rest/math.Sqrt(left)
	}
	if !small {
		small = true
		for c, j := range l.free {
			small = small && math.Abs(step[c]) <= stepTight*math.Max(math.Abs(l.p[j]), 1e-4*l.Scale[j])
		}
	}
	if !small {
		return "", false
	}
	if l.lost() {
		return Undetermined, true
	}
	return Minimum, true
}

// lost says whether the residuals have all but stopped depending on a free
// parameter on which they did depend.
func (l *levenberg) lost() bool {
	for _, j := range l.free {
		if l.norm[j] <= lostColumn*l.largest[j] {
			return true
		}
	}
	return false
}

// tangent returns the length of the residuals' part that the free columns
// span, and the Gauss-Newton step; false if the columns are dependent.
func (l *levenberg) tangent() (float64, []float64, bool) {
	m, k := len(l.p), len(l.free)
	if k == 0 {
		return 0, nil, true
	}
	a := mat.NewDense(l.N, k, nil)
	b := mat.NewVecDense(l.N, nil)
	for c, j := range l.free {
		if l.norm[j] == 0 {
			return 0, nil, false
		}
		for i := range l.N {
			a.Set(i, c, l.jac[i*m+j]/l.norm[j])
		}
	}
	for i := range l.N {
		b.SetVec(i, -l.r[i])
	}
	var qr mat.QR
	qr.Factorize(a)
	if !(qr.Cond() < 1/singular) {
		return 0, nil, false
	}
	var x, ax mat.VecDense
	if err := qr.SolveVecTo(&x, false, b); err != nil {
		if _, conditioned := err.(mat.Condition); !conditioned {
			return 0, nil, false
		}
	}
	ax.MulVec(a, &x)
	step := make([]float64, k)
	for c, j := range l.free {
		step[c] = x.AtVec(c) / l.norm[j]
	}
	return mat.Norm(&ax, 2), step, true
}

// finish fills the fit.
func (l *levenberg) finish() *Fit {
	f, m, k := l.fit, len(l.p), len(l.free)
	f.P, f.RSS = l.p, l.rss
	f.Converged = f.Why == Minimum
	f.Free, f.AtBound = k, l.bound
	f.Covariance = make([]float64, m*m)
	if l.N > k {
		f.Variance = l.rss / float64(l.N-k)
	}
	if f.Why == OutOfPatience && !l.derivatives() {
		return f
	}
	// (J'J)^-1 = R^-1 R^-T of the column-scaled Jacobian
	a := mat.NewDense(l.N, max(k, 1), nil)
	for c, j := range l.free {
		if l.norm[j] == 0 {
			return f
		}
		for i := range l.N {
			a.Set(i, c, l.jac[i*m+j]/l.norm[j])
		}
	}
	if k == 0 {
		return f
	}
	var qr mat.QR
	qr.Factorize(a)
	var r mat.Dense
	qr.RTo(&r)
	u := mat.NewTriDense(k, mat.Upper, nil)
	for i := range k {
		for j := i; j < k; j++ {
			u.SetTri(i, j, r.At(i, j))
		}
	}
	var inv mat.TriDense
	if err := inv.InverseTri(u); err != nil {
		if _, conditioned := err.(mat.Condition); !conditioned {
			return f
		}
	}
	var c mat.Dense
	c.Mul(&inv, inv.T())
	for i, p := range l.free {
		for j, q := range l.free {
			if v := c.At(i, j) * f.Variance / (l.norm[p] * l.norm[q]); !math.IsNaN(v) && !math.IsInf(v, 0) {
				f.Covariance[p*m+q] = v
			}
		}
	}
	return f
}

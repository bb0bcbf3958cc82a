package num

import (
	"fmt"
	"math"
)

// Options say how precisely [Solve] and [SolveStiff] are to work. The zero
// Options are usable: 1e-8 relative and absolute, no event.
type Options struct {
	// Rel is the relative tolerance of one step; 0 means 1e-8.
	Rel float64
	// Abs is the absolute tolerance of one step, times Scale; 0 means Rel.
	Abs float64
	// Scale is the usual size of each component (1e5 for a pressure in Pa,
	// 300 for a temperature in K); nil means 1 for all. Its length is that of y.
	Scale []float64
	// FirstStep is tried first; 0 lets the solver choose.
	FirstStep float64
	// MaxStep is the longest step; 0 means the whole span. Set it when the
	// right-hand side has short features that a long step could stride over.
	MaxStep float64
	// MaxSteps is the number of steps, good or bad, after which the solver
	// gives up; 0 means 200,000.
	MaxSteps int
	// StiffAfter is the number of good steps after which Solve refuses a
	// problem that holds it at the edge of stability; 0 means 10,000.
	// SolveStiff does not look at it.
	StiffAfter int
	// Event, if set, is watched for changes of sign; each is located and kept
	// in Solution.Events. A zero at the start itself is no event.
	Event func(t float64, y []float64) float64
	// Stop ends the solution at the first event.
	Stop bool
}

// Event is a place where the event function changed sign.
type Event struct {
	T float64
	Y []float64
}

// Solution is a solved initial value problem: the steps taken and, through
// [Solution.At], the values between them.
type Solution struct {
	Events   []Event // in order of time
	Stopped  bool    // ended at an event, before t1
	Steps    int     // accepted steps
	Rejected int     // steps tried and found too coarse
	Calls    int     // calls of the right-hand side

	n     int
	times []float64 // len Steps+1
	coef  []float64 // 5n for each step: the interpolating polynomial
	last  []float64 // y at the end
}

// Span returns the times between which the solution is known.
func (s *Solution) Span() (from, to float64) { return s.times[0], s.times[len(s.times)-1] }

// Times returns the ends of the steps, the start first. The slice belongs to
// the solution and is not to be changed.
func (s *Solution) Times() []float64 { return s.times }

// End returns the last time and a copy of the values there.
func (s *Solution) End() (float64, []float64) {
	return s.times[len(s.times)-1], append([]float64(nil), s.last...)
}

// At puts the values at t into dst, and returns it. dst needs the length of y;
// nil or a short one is replaced by a new slice. Outside the span the nearest
// end is given. Between steps the values are those of a polynomial of fourth
// order ([Solve]) or third ([SolveStiff]); their error is of the size of the
// tolerance.
func (s *Solution) At(t float64, dst []float64) []float64 {
	if cap(dst) < s.n {
		dst = make([]float64, s.n)
	}
	dst = dst[:s.n]
	k := len(s.times) - 1
	if k == 0 || t >= s.times[k] {
		copy(dst, s.last)
		return dst
	}
	if !(t > s.times[0]) {
		copy(dst, s.coef[:s.n])
		return dst
	}
	lo, hi := 0, k // times[lo] <= t < times[hi]
	for hi-lo > 1 {
		mid := (lo + hi) / 2
		if s.times[mid] <= t {
			lo = mid
		} else {
			hi = mid
		}
	}
	th := (t - s.times[lo]) / (s.times[lo+1] - s.times[lo])
	interpolate(s.coef[5*s.n*lo:5*s.n*(lo+1)], th, dst)
	return dst
}

// interpolate evaluates one step's polynomial at th in [0, 1].
func interpolate(coef []float64, th float64, dst []float64) {
	n := len(dst)
	r1, r2, r3, r4, r5 := coef[:n], coef[n:2*n], coef[2*n:3*n], coef[3*n:4*n], coef[4*n:5*n]
	for i := range dst {
		dst[i] = r1[i] + th*(r2[i]+(1-th)*(r3[i]+th*(r4[i]+(1-th)*r5[i])))
	}
}

// StepReason says why a solver gave up.
type StepReason string

// The reasons.
const (
	BadInput     StepReason = "bad input"
	NotFinite    StepReason = "right-hand side not finite"
	StepTooSmall StepReason = "step too small"
	TooManySteps StepReason = "too many steps"
	Stiff        StepReason = "stiff"
)

// StepError reports that a solver could not reach the end. The solution up to
// T is returned beside it, except for BadInput.
type StepError struct {
	Reason StepReason
	T      float64 // where it stopped
	Step   float64 // the step it had come to
	Detail string  // for BadInput
}

func (e *StepError) Error() string {
	switch e.Reason {
	case BadInput:
		return "solve: " + e.Detail
	case Stiff:
		return fmt.Sprintf("solve: stiff at t = %g (step held at %g): use the stiff solver", e.T, e.Step)
	case TooManySteps:
		return fmt.Sprintf("solve: too many steps at t = %g (step %g): loosen the tolerance or raise MaxSteps", e.T, e.Step)
	}
	return fmt.Sprintf("solve: %s at t = %g (step %g): the right-hand side is not smooth or not finite there", e.Reason, e.T, e.Step)
}

// method is one way of taking a step from the current point.
type method interface {
	// start sets the current point; false if the right-hand side is not finite.
	start(t float64, y []float64) bool
	// try computes a step of length h from the current point and returns the
	// scaled error; NaN if something was not finite.
	try(h float64) float64
	// end is y after the last try; it is overwritten by the next one.
	end() []float64
	// dense fills the polynomial of the last try.
	dense(h float64, coef []float64)
	// advance makes the end of the last try, of length h, the current point.
	advance(h float64) bool
	// stiff says whether the last try was at the edge of stability.
	stiff(h float64) bool
	// control is the exponent of the step control and its memory.
	control() (exponent, memory float64)
	// slope is the right-hand side at the current point.
	slope() []float64
}

// tolerance scales errors.
type tolerance struct {
	rel float64
	abs []float64
}

func (w tolerance) norm(e, a, b []float64) float64 {
	sum := 0.0
	for i := range e {
		d := e[i] / (w.abs[i] + w.rel*math.Max(math.Abs(a[i]), math.Abs(b[i])))
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(e)))
}

func (o Options) tolerance(n int) (tolerance, error) {
	w := tolerance{rel: o.Rel, abs: make([]float64, n)}
	if w.rel == 0 {
		w.rel = 1e-8
	}
	abs := o.Abs
	if abs == 0 {
		abs = w.rel
	}
	bad := func(s string) error { return &StepError{Reason: BadInput, Detail: s} }
	if !(w.rel >= 1e-15 && w.rel < 1) {
		return w, bad(fmt.Sprintf("relative tolerance %g is not between 1e-15 and 1", w.rel))
	}
	if !(abs > 0) || math.IsInf(abs, 0) {
		return w, bad(fmt.Sprintf("absolute tolerance %g is not above 0", abs))
	}
	if o.Scale != nil && len(o.Scale) != n {
		return w, bad(fmt.Sprintf("%d scales for %d components", len(o.Scale), n))
	}
	for i := range w.abs {
		w.abs[i] = abs
		if o.Scale != nil {
			if s := o.Scale[i]; !(s > 0) || math.IsInf(s, 0) {
				return w, bad(fmt.Sprintf("scale %g of component %d is not above 0", s, i))
			}
			w.abs[i] *= o.Scale[i]
		}
	}
	return w, nil
}

// counted is a right-hand side that counts its calls.
type counted struct {
	f     func(t float64, y, dydt []float64)
	calls int
}

func (c *counted) eval(t float64, y, dydt []float64) bool {
	c.calls++
	c.f(t, y, dydt)
	return allFinite(dydt)
}

func allFinite(v []float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// drive takes steps from t0 to t1. It holds what both solvers share: step
// control, events, and the record of the solution.
func drive(m method, f *counted, w tolerance, t0, t1 float64, y0 []float64, o Options) (*Solution, error) {
	n := len(y0)
	switch {
	case n == 0:
		return nil, &StepError{Reason: BadInput, Detail: "no components"}
	case !allFinite(y0) || !allFinite([]float64{t0, t1}):
		return nil, &StepError{Reason: BadInput, Detail: "start or times not finite"}
	case t1 < t0:
		return nil, &StepError{Reason: BadInput, Detail: fmt.Sprintf("end %g before start %g", t1, t0)}
	case !(o.MaxStep >= 0) || !(o.FirstStep >= 0):
		return nil, &StepError{Reason: BadInput, Detail: "negative step"}
	}
	s := &Solution{n: n, times: []float64{t0}, last: append([]float64(nil), y0...)}
	defer func() { s.Calls = f.calls }()
	if t1 == t0 {
		return s, nil
	}
	if !m.start(t0, y0) {
		return s, &StepError{Reason: NotFinite, T: t0}
	}
	maxStep, maxSteps, stiffAfter := o.MaxStep, o.MaxSteps, o.StiffAfter
	if maxStep == 0 {
		maxStep = t1 - t0
	}
	if maxSteps <= 0 {
		maxSteps = 200_000
	}
	if stiffAfter <= 0 {
		stiffAfter = 10_000
	}
	exponent, memory := m.control()
	h := o.FirstStep
	if h == 0 {
		h = firstStep(f, w, t0, y0, m.slope(), math.Min(maxStep, t1-t0), exponent)
	}
	w1 := newWatch(o.Event, t0, y0)
	t, errOld := t0, 1e-4
	rejected, wasNaN, stiffs := false, false, 0
	coef := make([]float64, 5*n)
	for tries := 0; t < t1; tries++ {
		if tries >= maxSteps {
			return s, &StepError{Reason: TooManySteps, T: t, Step: h}
		}
		h = math.Min(h, maxStep)
		if 0.1*h <= math.Abs(t)*0x1p-52 || h < 0x1p-1000 {
			reason := StepTooSmall
			if wasNaN {
				reason = NotFinite
			}
			return s, &StepError{Reason: reason, T: t, Step: h}
		}
		tEnd := t + h
		if t+1.01*h >= t1 {
			h, tEnd = t1-t, t1
		}
		e := m.try(h)
		if math.IsNaN(e) || math.IsInf(e, 0) {
			h, rejected, wasNaN = h*0.1, true, true
			s.Rejected++
			continue
		}
		wasNaN = false
		grow := math.Pow(e, exponent-0.75*memory)
		if e > 1 {
			h /= math.Min(5, grow/0.9)
			rejected = true
			s.Rejected++
			continue
		}
		if m.stiff(h) {
			if stiffs++; stiffs >= 15 && s.Steps >= stiffAfter {
				return s, &StepError{Reason: Stiff, T: t, Step: h}
			}
		} else {
			stiffs = 0
		}
		m.dense(h, coef)
		if o.Event != nil {
			if he, ye, found := w1.find(m, t, h, coef); found {
				s.Events = append(s.Events, Event{T: t + he, Y: ye})
				if o.Stop {
					if e := m.try(he); !math.IsNaN(e) {
						m.dense(he, coef)
						s.record(t+he, m.end(), coef)
					}
					s.Stopped = true
					return s, nil
				}
				for found { // further events within the same step
					m.try(h)
					if he, ye, found = w1.next(m, t, h, coef); found {
						s.Events = append(s.Events, Event{T: t + he, Y: ye})
					}
				}
			}
		}
		s.record(tEnd, m.end(), coef)
		fac := grow / math.Pow(errOld, memory) / 0.9
		fac = math.Max(0.1, math.Min(5, fac))
		if rejected {
			fac = math.Max(1, fac)
		}
		errOld = math.Max(e, 1e-4)
		rejected = false
		if !m.advance(h) && tEnd < t1 {
			return s, &StepError{Reason: NotFinite, T: tEnd, Step: h}
		}
		t = tEnd
		h /= fac
	}
	return s, nil
}

func (s *Solution) record(t float64, y, coef []float64) {
	s.times = append(s.times, t)
	s.coef = append(s.coef, coef...)
	copy(s.last, y)
	s.Steps++
}

// firstStep guesses a first step from the size of the first two derivatives
// (Hairer, Nørsett, Wanner, Solving Ordinary Differential Equations I, II.4).
func firstStep(f *counted, w tolerance, t float64, y, dy []float64, longest, exponent float64) float64 {
	zero := make([]float64, len(y))
	d0, d1 := w.norm(y, y, zero), w.norm(dy, y, zero)
	h := 0.01 * d0 / d1
	if d0 < 1e-5 || d1 < 1e-5 {
		h = 1e-6 * longest
	}
	h = math.Min(h, longest)
	y1, dy1 := make([]float64, len(y)), make([]float64, len(y))
	for i := range y {
		y1[i] = y[i] + h*dy[i]
	}
	if !f.eval(t+h, y1, dy1) {
		return h * 1e-3
	}
	for i := range dy1 {
		dy1[i] -= dy[i]
	}
	d2 := w.norm(dy1, y, zero) / h
	h1 := math.Max(1e-6*longest, h*1e-3)
	if d := math.Max(d1, d2); d > 1e-15 {
		h1 = math.Pow(0.01/d, exponent)
	}
	return math.Min(math.Min(100*h, h1), longest)
}

package num

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// GUM (JCGM 100:2008) H.3: calibration of a thermometer, correction against
// temperature as a straight line about 20 °C. Printed: -0.1712 u 0.0029, 0.00218
// u 0.00067, r -0.930, s 0.0035, and at 30 °C -0.1494 u 0.0041.
func TestLeastSquaresLine(t *testing.T) {
	temp := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	corr := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	problem := Problem{N: len(temp), Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = corr[i] - p[0] - p[1]*(temp[i]-20)
		}
	}}
	withJacobian := problem
	withJacobian.Jacobian = func(_, jac []float64) {
		for i := range temp {
			jac[2*i], jac[2*i+1] = -1, 20-temp[i]
		}
	}
	for name, p := range map[string]Problem{"differences": problem, "own Jacobian": withJacobian} {
		f, err := LeastSquares(p, []float64{0, 0})
		if err != nil || !f.Converged {
			t.Fatalf("%s: %+v, %v", name, f, err)
		}
		c := f.Covariance
		at30 := math.Sqrt(c[0] + 100*c[3] + 2*10*c[1])
		for _, v := range []struct {
			what                        string
			got, printed, half, exactly float64
		}{
			{"intercept", f.P[0], -0.1712, 5e-5, -0.17120379},
			{"its u", f.SD(0), 0.0029, 5e-5, 0.00287760},
			{"slope", f.P[1], 0.00218, 5e-6, 0.00218270},
			{"its u", f.SD(1), 0.00067, 5e-6, 0.00066794},
			{"correlation", c[1] / (f.SD(0) * f.SD(1)), -0.930, 5e-4, -0.930430},
			{"s", math.Sqrt(f.Variance), 0.0035, 5e-5, 0.00349756},
			{"at 30", f.P[0] + 10*f.P[1], -0.1494, 5e-5, -0.14937681},
			{"its u", at30, 0.0041, 5e-5, 0.00413860},
		} {
			near(t, name+" "+v.what, v.got, v.printed, v.half)
			near(t, name+" "+v.what+" recomputed", v.got, v.exactly, 6e-9+5e-7*math.Abs(v.exactly))
		}
	}
}

// A parameter that wants out of its bounds stays there; the others then have
// the least squares of the smaller problem.
func TestLeastSquaresBounds(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4}
	y := []float64{1, 2.9, 5.2, 7.1, 8.8}
	problem := Problem{N: 5, Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = y[i] - p[0] - p[1]*x[i]
		}
	}}
	for _, c := range []struct {
		name        string
		low, high   []float64
		start, want []float64
		bound       []bool
	}{
		// slope held at 1.5: the intercept is mean(y) - 1.5 mean(x) = 5 - 3
		{"slope high", nil, []float64{math.Inf(1), 1.5}, []float64{0, 0}, []float64{2, 1.5}, []bool{false, true}},
		{"slope high, start outside", nil, []float64{math.Inf(1), 1.5}, []float64{0, 9}, []float64{2, 1.5}, []bool{false, true}},
		// intercept held at 2: slope = sum x(y-2)/sum x² = 39.9... = (0.9+6.4+15.3+27.2)/30
		{"intercept low", []float64{2, math.Inf(-1)}, nil, []float64{2, 0}, []float64{2, 49.8 / 30}, []bool{true, false}},
		{"both held", []float64{2, 3}, []float64{2, 3}, []float64{0, 0}, []float64{2, 3}, []bool{true, true}},
		{"bounds that do not matter", []float64{-9, -9}, []float64{9, 9}, []float64{-9, 9}, []float64{1.04, 1.98}, []bool{false, false}},
	} {
		p := problem
		p.Low, p.High = c.low, c.high
		f, err := LeastSquares(p, c.start)
		if err != nil || !f.Converged {
			t.Errorf("%s: %+v, %v", c.name, f, err)
			continue
		}
		for i := range c.want {
			near(t, fmt.Sprintf("%s p%d", c.name, i), f.P[i], c.want[i], 1e-8)
			if f.AtBound[i] != c.bound[i] {
				t.Errorf("%s: parameter %d at bound %v, want %v", c.name, i, f.AtBound[i], c.bound[i])
			}
			if f.AtBound[i] && f.SD(i) != 0 {
				t.Errorf("%s: parameter %d at its bound has sd %g", c.name, i, f.SD(i))
			}
		}
	}
}

// Tiny parameters, as leak areas are, keep their digits: steps are relative.
func TestLeastSquaresTiny(t *testing.T) {
	f, err := LeastSquares(Problem{N: 3, Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = math.Exp(-p[0]*1e9*float64(i+1)) - math.Exp(-0.7*float64(i+1))
		}
	}}, []float64{1e-10})
	if err != nil || !f.Converged {
		t.Fatalf("%+v, %v", f, err)
	}
	near(t, "parameter", f.P[0], 0.7e-9, 1e-18)
}

// What can't be known is said: a parameter that nothing depends on, two that do
// the same, a model that is nowhere finite beside the start.
func TestLeastSquaresRefuses(t *testing.T) {
	for _, c := range []struct {
		name      string
		residuals func(p, r []float64)
		start     []float64
		want      Verdict
	}{
		{"no dependence", func(p, r []float64) {
			for i := range r {
				r[i] = p[0] - float64(i)
			}
		}, []float64{1, 1}, Undetermined},
		{"two that do the same", func(p, r []float64) {
			for i := range r {
				r[i] = (p[0]+p[1])*float64(i) - float64(i*i)
			}
		}, []float64{1, 1}, Undetermined},
		{"runs off", func(p, r []float64) { // best at infinity
			for i := range r {
				r[i] = math.Exp(-p[0]*float64(i+1)) + 0*p[1] + (p[1]-2)*float64(i)
			}
		}, []float64{1, 1}, Undetermined},
		{"an island", func(p, r []float64) {
			for i := range r {
				r[i] = 1
				if p[0] != 1 || p[1] != 1 {
					r[i] = math.NaN()
				}
			}
		}, []float64{1, 1}, Stalled},
	} {
		f, err := LeastSquares(Problem{N: 6, Residuals: c.residuals}, c.start)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if f.Converged || f.Why != c.want {
			t.Errorf("%s: got %s at %v after %d, want %s", c.name, f.Why, f.P, f.Iterations, c.want)
		}
	}

	ok := func(_, r []float64) {
		for i := range r {
			r[i] = 0
		}
	}
	bad := func(_, r []float64) { r[0] = math.NaN() }
	for _, c := range []struct {
		name  string
		p     Problem
		start []float64
	}{
		{"no parameters", Problem{N: 3, Residuals: ok}, nil},
		{"too few residuals", Problem{N: 1, Residuals: ok}, []float64{1, 2}},
		{"start", Problem{N: 3, Residuals: ok}, []float64{math.NaN()}},
		{"residuals", Problem{N: 3, Residuals: bad}, []float64{1}},
		{"scales", Problem{N: 3, Residuals: ok, Scale: []float64{1, 1}}, []float64{1}},
		{"scale", Problem{N: 3, Residuals: ok, Scale: []float64{0}}, []float64{1}},
		{"bounds", Problem{N: 3, Residuals: ok, Low: []float64{2}, High: []float64{1}}, []float64{1}},
		{"low", Problem{N: 3, Residuals: ok, Low: []float64{1, 2}}, []float64{1}},
	} {
		_, err := LeastSquares(c.p, c.start)
		var e *FitError
		if !errors.As(err, &e) {
			t.Errorf("%s: got error %v, want a *FitError", c.name, err)
		}
		if _, _, err = MultiStart(c.p, [][]float64{c.start, c.start}); !errors.As(err, &e) {
			t.Errorf("%s, several starts: got error %v, want a *FitError", c.name, err)
		}
	}
	var e *FitError
	if _, _, err := MultiStart(Problem{N: 3, Residuals: ok}, nil); !errors.As(err, &e) {
		t.Errorf("no starts: got error %v, want a *FitError", err)
	}
	f, err := LeastSquares(Problem{N: 1, Residuals: func(p, r []float64) { r[0] = math.Exp(p[0]) - 5 }, MaxIterations: 1}, []float64{-3})
	if err != nil || f.Converged || f.Why != OutOfPatience {
		t.Errorf("one iteration: %+v, %v", f, err)
	}
	// as many residuals as parameters: a root, with no variance left over
	f, err = LeastSquares(Problem{N: 1, Residuals: func(p, r []float64) { r[0] = math.Exp(p[0]) - 5 }}, []float64{-3})
	if err != nil || !f.Converged || f.Variance != 0 {
		t.Errorf("root: %+v, %v", f, err)
	}
	near(t, "root", f.P[0], math.Log(5), 1e-12)
}

func BenchmarkLeastSquares(b *testing.B) {
	x := []float64{1, 2, 3, 5, 7, 10}
	y := []float64{109, 149, 149, 191, 213, 224}
	p := Problem{N: 6, Residuals: func(p, r []float64) {
		for i := range r {
			r[i] = y[i] - p[0]*(1-math.Exp(-p[1]*x[i]))
		}
	}}
	for b.Loop() {
		LeastSquares(p, []float64{100, 0.75})
	}
}

package num

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

type solver func(f func(t float64, y, dydt []float64), t0, t1 float64, y0 []float64, o Options) (*Solution, error)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.16g, want %.16g (off by %.2g, allowed %.2g)", what, got, want, got-want, tol)
	}
}

// DETEST problems A1 to A4: Hull, Enright, Fellen, Sedgwick, SIAM J. Numer.
// Anal. 9 (1972) 603; the set from memory, the ends from their closed forms.
var detest = []struct {
	name string
	f    func(t float64, y, dydt []float64)
	want func(t float64) float64
	at20 float64
}{
	{"A1", func(_ float64, y, d []float64) { d[0] = -y[0] }, func(t float64) float64 { return math.Exp(-t) }, 2.061153622438558e-9},
	{"A2", func(_ float64, y, d []float64) { d[0] = -y[0] * y[0] * y[0] / 2 }, func(t float64) float64 { return 1 / math.Sqrt(1+t) }, 0.2182178902359924},
	{"A3", func(t float64, y, d []float64) { d[0] = y[0] * math.Cos(t) }, func(t float64) float64 { return math.Exp(math.Sin(t)) }, 2.4916502718504145},
	{"A4", func(_ float64, y, d []float64) { d[0] = y[0] / 4 * (1 - y[0]/20) }, func(t float64) float64 { return 20 / (1 + 19*math.Exp(-t/4)) }, 17.73016648131484},
}

func TestDetest(t *testing.T) {
	for _, method := range []struct {
		name  string
		solve solver
		loose float64 // end and between steps, in units of the tolerance
	}{{"explicit", Solve, 50}, {"stiff", SolveStiff, 200}} {
		for _, c := range detest {
			for _, tol := range []float64{1e-5, 1e-7, 1e-9, 1e-11} {
				name := fmt.Sprintf("%s %s %g", method.name, c.name, tol)
				s, err := method.solve(c.f, 0, 20, []float64{1}, Options{Rel: tol, Abs: tol})
				if err != nil {
					t.Errorf("%s: %v", name, err)
					continue
				}
				near(t, name+" closed form", c.want(20), c.at20, 1e-15*math.Max(1, c.at20))
				near(t, name+" end", s.At(20, nil)[0], c.at20, method.loose*tol*math.Max(1, c.at20))
				worst := 0.0
				for x := 0.0; x <= 20; x += 0.01 {
					want := c.want(x)
					worst = math.Max(worst, math.Abs(s.At(x, nil)[0]-want)/math.Max(1, want))
				}
				if !(worst <= method.loose*tol) {
					t.Errorf("%s: off by %.2g between steps, allowed %.2g", name, worst, method.loose*tol)
				}
			}
		}
	}
}

// Halving the step must divide the error by 2 to the order of the method: a
// wrong coefficient anywhere would lower it.
func TestOrders(t *testing.T) {
	f := func(t float64, y, d []float64) { d[0] = y[1]; d[1] = -y[0] + 0.3*y[1]*(1-y[0]*y[0]) + math.Sin(t) }
	y0 := []float64{1, 0.5}
	exact, err := Solve(f, 0, 3, y0, Options{Rel: 1e-14, Abs: 1e-14})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name       string
		make       func(*counted, tolerance) method
		ends, mids float64 // order at the ends of steps, and between
	}{
		{"dopri", func(c *counted, w tolerance) method { return newDopri(c, w, 2) }, 5, 4},
		{"rodas", func(c *counted, w tolerance) method { return newRodas(c, w, 2) }, 4, 3},
	} {
		errAt := func(steps int) (end, mid float64) {
			w, _ := Options{}.tolerance(2)
			m := c.make(&counted{f: f}, w)
			m.start(0, y0)
			h := 3 / float64(steps)
			coef, y := make([]float64, 10), make([]float64, 2)
			for i := range steps {
				m.try(h)
				m.dense(h, coef)
				interpolate(coef, 0.4, y)
				want := exact.At((float64(i)+0.4)*h, nil)
				mid = math.Max(mid, math.Hypot(y[0]-want[0], y[1]-want[1]))
				copy(y, m.end())
				m.advance(h)
			}
			_, want := exact.End()
			return math.Hypot(y[0]-want[0], y[1]-want[1]), mid
		}
		e1, m1 := errAt(40)
		e2, m2 := errAt(80)
		if got := math.Log2(e1 / e2); math.Abs(got-c.ends) > 0.4 {
			t.Errorf("%s: order %.2f at the ends of steps (errors %.2g, %.2g), want %g", c.name, got, e1, e2, c.ends)
		}
		if got := math.Log2(m1 / m2); got < c.mids-0.4 {
			t.Errorf("%s: order %.2f between steps (errors %.2g, %.2g), want %g", c.name, got, m1, m2, c.mids)
		}
	}
}

// Robertson's reaction. End at 1e11: test set for IVP solvers, University of
// Bari; end at 40: recomputed, and SUNDIALS prints the first four digits.
func TestRobertson(t *testing.T) {
	f := func(_ float64, y, d []float64) {
		d[0] = -0.04*y[0] + 1e4*y[1]*y[2]
		d[2] = 3e7 * y[1] * y[1]
		d[1] = -d[0] - d[2]
	}
	o := Options{Rel: 1e-9, Abs: 1e-9, Scale: []float64{1e-8, 1e-13, 1}}
	for _, c := range []struct {
		end float64
		y   [3]float64
		rel float64
	}{
		{40, [3]float64{0.715827069, 9.18553476e-6, 0.284163746}, 1e-8},
		{1e11, [3]float64{0.2083340149701255e-7, 0.8333360770334713e-13, 0.9999999791665050}, 1e-6},
	} {
		s, err := SolveStiff(f, 0, c.end, []float64{1, 0, 0}, o)
		if err != nil {
			t.Errorf("to %g: %v", c.end, err)
			continue
		}
		_, y := s.End()
		for i := range y {
			near(t, fmt.Sprintf("y%d(%g) in %d steps", i+1, c.end, s.Steps), y[i], c.y[i], c.rel*c.y[i])
		}
	}
}

// Van der Pol, eps = 1e-6, from (2, 0): test set for IVP solvers, University
// of Bari, problem VDPOL.
func TestVanDerPol(t *testing.T) {
	f := func(_ float64, y, d []float64) {
		d[0] = y[1]
		d[1] = ((1-y[0]*y[0])*y[1] - y[0]) / 1e-6
	}
	s, err := SolveStiff(f, 0, 2, []float64{2, 0}, Options{Rel: 1e-10, Abs: 1e-10})
	if err != nil {
		t.Fatal(err)
	}
	_, y := s.End()
	near(t, "y1(2)", y[0], 1.706167732170, 2e-8)
	near(t, "y2(2)", y[1], -0.892809701025, 2e-8)

	_, err = Solve(f, 0, 2, []float64{2, 0}, Options{Rel: 1e-6, Abs: 1e-6, StiffAfter: 1000})
	var e *StepError
	if !errors.As(err, &e) || e.Reason != Stiff {
		t.Errorf("explicit: got error %v, want stiff", err)
	}
}

// Isothermal filling of a 0.5 L vessel through a 0.5 mm hole: closed forms T1
// (choked: straight line) and T2 (below choking: sqrt(1 - r^(2/7)) falls as a
// straight line), derived from the nozzle law alone.
func TestFillingThroughOpening(t *testing.T) {
	const (
		pa, ta, R = 101325.0, 293.15, 8314.32 / 28.9644 // R of the US Standard Atmosphere 1976, as the figures below
		area      = math.Pi * 0.5e-3 * 0.5e-3 / 4
		volume    = 0.5e-3
	)
	rCrit := math.Pow(2/2.4, 3.5)
	k := area * math.Sqrt(R*ta) / volume
	f := func(_ float64, y, d []float64) {
		r := math.Max(y[0]/pa, rCrit)
		if r >= 1 {
			d[0] = 0
			return
		}
		d[0] = k * pa * math.Sqrt(7*(math.Pow(r, 2/1.4)-math.Pow(r, 2.4/1.4)))
	}
	near(t, "k", k, 0.11391631675, 1e-10)
	for _, m := range []struct {
		name  string
		solve solver
	}{{"explicit", Solve}, {"stiff", SolveStiff}} {
		o := Options{Rel: 1e-13, Abs: 1e-13, Scale: []float64{pa}, Event: func(_ float64, y []float64) float64 { return y[0] - rCrit*pa }}
		s, err := m.solve(f, 0, 9.4, []float64{20000}, o)
		if err != nil {
			t.Fatalf("%s: %v", m.name, err)
		}
		for _, c := range []struct{ t, p float64 }{
			{2, 35807.122621}, {4, 51614.245242}, {6, 67229.63921}, {8, 81371.31814},
		} {
			near(t, fmt.Sprintf("%s p(%g)", m.name, c.t), s.At(c.t, nil)[0], c.p, 2e-5)
		}
		if len(s.Events) != 1 {
			t.Fatalf("%s: %d events, want 1", m.name, len(s.Events))
		}
		near(t, m.name+" r* reached", s.Events[0].T, 4.24215753, 5e-9)

		// T2: from r* to 0.9, started on the event's zero of the other one
		o.Event = func(_ float64, y []float64) float64 { return y[0] - 0.9*pa }
		o.Stop = true
		s, err = m.solve(f, 0, 20, []float64{rCrit * pa}, o)
		if err != nil {
			t.Fatalf("%s: %v", m.name, err)
		}
		end, y := s.End()
		near(t, m.name+" r* to 0.9", end, 5.4822078372, 5e-11)
		near(t, m.name+" p there", y[0], 0.9*pa, 1e-7)
		if !s.Stopped || len(s.Events) != 1 || s.Events[0].T != end {
			t.Errorf("%s: stopped %v with events %v, want a stop at the one event", m.name, s.Stopped, s.Events)
		}
	}
}

// T3: viscous slot, p = pa tanh(K pa t + artanh(p0/pa)); T5: pump-down to an
// end pressure, exponential.
func TestSlotAndPumpDown(t *testing.T) {
	const pa, kpa = 101325.0, 1.2416782634e-3
	slot := func(_ float64, y, d []float64) { d[0] = kpa / pa * (pa*pa - y[0]*y[0]) }
	pump := func(_ float64, y, d []float64) { d[0] = -(y[0] - 21325) * (12e-3 / 60) / 0.5e-3 }
	for _, m := range []struct {
		name  string
		solve solver
		o     Options
	}{{"explicit", Solve, Options{Rel: 1e-10, Abs: 1e-10, Scale: []float64{1e5}}}, {"stiff", SolveStiff, Options{Rel: 1e-11, Abs: 1e-11, Scale: []float64{1e5}}}} {
		s, err := m.solve(slot, 0, 120, []float64{20000}, m.o)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct{ t, p float64 }{{10, 21206.09487}, {30, 23599.21025}, {60, 27136.53375}, {120, 33994.35999}} {
			near(t, fmt.Sprintf("%s slot p(%g)", m.name, c.t), s.At(c.t, nil)[0], c.p, 1e-4)
		}
		o := m.o
		o.Event = func(_ float64, y []float64) float64 { return y[0] - 41325 } // 60 kPa of vacuum
		s, err = m.solve(pump, 0, 5, []float64{pa}, o)
		if err != nil {
			t.Fatal(err)
		}
		near(t, m.name+" pump p(5 s)", s.At(5, nil)[0], 32151.822659, 1e-4)
		near(t, m.name+" pump to 60 kPa", s.Events[0].T, 3.4657359028, 5e-9)
	}
}

// A gas that takes the wall's temperature in 0.05 s while the pressure creeps
// for a minute: both solvers agree with the closed form of the linear pair.
func TestMildlyStiff(t *testing.T) {
	f := func(_ float64, y, d []float64) { d[0] = -(y[0] - y[1]) / 0.005; d[1] = -y[1] / 60 }
	want := func(t float64) float64 { // y0(0) = 0, y1(0) = 1
		a, b := 1/0.005, 1/60.0
		return a / (a - b) * (math.Exp(-b*t) - math.Exp(-a*t))
	}
	var calls [2]int
	for i, solve := range []solver{Solve, SolveStiff} {
		s, err := solve(f, 0, 60, []float64{0, 1}, Options{Rel: 1e-7, Abs: 1e-7})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []float64{0.003, 0.02, 1, 60} {
			near(t, fmt.Sprintf("solver %d at %g", i, x), s.At(x, nil)[0], want(x), 5e-6)
		}
		calls[i] = s.Calls
	}
	if !(calls[1]*20 < calls[0]) {
		t.Errorf("calls: stiff solver %d, explicit %d: expected a twentieth", calls[1], calls[0])
	}
}

func TestEvents(t *testing.T) {
	circle := func(_ float64, y, d []float64) { d[0], d[1] = y[1], -y[0] }
	for i, solve := range []solver{Solve, SolveStiff} {
		// sin t: zero at the start is none; then k pi, k = 1..6
		s, err := solve(circle, 0, 20, []float64{0, 1}, Options{Rel: 1e-12, Abs: 1e-12, Event: func(_ float64, y []float64) float64 { return y[0] }})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Events) != 6 {
			t.Fatalf("solver %d: %d events, want 6", i, len(s.Events))
		}
		for k, e := range s.Events {
			near(t, fmt.Sprintf("solver %d event %d", i, k+1), e.T, float64(k+1)*math.Pi, 2e-10)
		}
		// an event of time alone, twice within one long step, exact to rounding
		flat := func(_ float64, _, d []float64) { d[0] = 1 }
		s, err = solve(flat, 0, 10, []float64{0}, Options{Event: func(t float64, _ []float64) float64 { return (t - 3.3) * (t - 7.7) }, FirstStep: 10})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Events) != 2 {
			t.Fatalf("solver %d: events %v, want 3.3 and 7.7", i, s.Events)
		}
		near(t, "first", s.Events[0].T, 3.3, 1e-12)
		near(t, "second", s.Events[1].T, 7.7, 1e-12)
		near(t, "value at second", s.Events[1].Y[0], 7.7, 1e-12)
		// touching zero is no event
		s, err = solve(flat, 0, 10, []float64{0}, Options{Event: func(t float64, _ []float64) float64 { return (t - 5) * (t - 5) }})
		if err != nil || len(s.Events) != 0 {
			t.Errorf("solver %d: touching zero: events %v, error %v; want none", i, s.Events, err)
		}
	}
}

func TestSolveRefuses(t *testing.T) {
	ok := func(_ float64, _, d []float64) { d[0] = 1 }
	for i, solve := range []solver{Solve, SolveStiff} {
		for _, c := range []struct {
			name   string
			f      func(t float64, y, dydt []float64)
			t1     float64
			y0     []float64
			o      Options
			reason StepReason
		}{
			{"blows up", func(_ float64, y, d []float64) { d[0] = y[0] * y[0] }, 2, []float64{1}, Options{}, ""},
			{"NaN at once", func(_ float64, _, d []float64) { d[0] = math.NaN() }, 1, []float64{1}, Options{}, NotFinite},
			{"NaN later", func(_ float64, y, d []float64) { d[0] = -math.Sqrt(1-y[0]) - 1 + math.Log(y[0]) }, 3, []float64{1}, Options{}, NotFinite},
			{"start not finite", ok, 1, []float64{math.Inf(1)}, Options{}, BadInput},
			{"backwards", ok, -1, []float64{1}, Options{}, BadInput},
			{"no components", ok, 1, nil, Options{}, BadInput},
			{"scales", ok, 1, []float64{1}, Options{Scale: []float64{1, 2}}, BadInput},
			{"scale 0", ok, 1, []float64{1}, Options{Scale: []float64{0}}, BadInput},
			{"tolerance", ok, 1, []float64{1}, Options{Rel: -1}, BadInput},
			{"absolute tolerance", ok, 1, []float64{1}, Options{Abs: math.NaN()}, BadInput},
			{"step", ok, 1, []float64{1}, Options{MaxStep: -1}, BadInput},
			{"too many steps", func(t float64, _, d []float64) { d[0] = math.Sin(1e4 * t) }, 100, []float64{0}, Options{MaxSteps: 100}, TooManySteps},
		} {
			_, err := solve(c.f, 0, c.t1, c.y0, c.o)
			var e *StepError
			if err != nil && err.Error() == "" {
				t.Errorf("solver %d, %s: error without words", i, c.name)
			}
			if !errors.As(err, &e) || (c.reason != "" && e.Reason != c.reason) {
				t.Errorf("solver %d, %s: got error %v, want %q", i, c.name, err, c.reason)
			}
		}
		s, err := solve(ok, 2, 2, []float64{7}, Options{})
		if err != nil || s.At(3, nil)[0] != 7 {
			t.Errorf("solver %d: empty span: %v, want the start", i, err)
		}
		s, err = solve(ok, 0, 1, []float64{0}, Options{MaxStep: 0.1})
		if err != nil || s.Steps < 10 || s.At(-1, nil)[0] != 0 || s.At(math.NaN(), nil)[0] != 0 {
			t.Errorf("solver %d: MaxStep 0.1: %v", i, err)
		}
	}
}

// A right-hand side that ends at a wall (a square root of what is left): the
// solution is followed up to it, the event before it is found.
func TestSolveAtEdgeOfDomain(t *testing.T) {
	f := func(_ float64, y, d []float64) { d[0] = math.Sqrt(1 - y[0]) } // y = 1 - (1 - t/2)²
	for i, solve := range []solver{Solve, SolveStiff} {
		s, err := solve(f, 0, 3, []float64{0}, Options{Rel: 1e-10, Abs: 1e-10, Event: func(_ float64, y []float64) float64 { return y[0] - 0.9999 }, Stop: true})
		if err != nil {
			t.Errorf("solver %d: %v", i, err)
			continue
		}
		end, _ := s.End()
		near(t, fmt.Sprintf("solver %d reaches 0.9999", i), end, 2*(1-math.Sqrt(1e-4)), 2e-7)
	}
	// started on the wall itself, leaving it: one side of the difference is undefined
	g := func(_ float64, y, d []float64) { d[0] = math.Sqrt(1-y[0]) - 1 }
	for i, solve := range []solver{Solve, SolveStiff} {
		s, err := solve(g, 0, 0.5, []float64{1}, Options{Rel: 1e-8, Abs: 1e-8})
		if err != nil {
			t.Errorf("solver %d from the wall: %v", i, err)
			continue
		}
		// u = sqrt(1-y): 2 u u' = 1 - u, so t = -2 (u + log(1-u))
		u := math.Sqrt(1 - s.At(0.5, nil)[0])
		near(t, fmt.Sprintf("solver %d leaves the wall", i), -2*(u+math.Log(1-u)), 0.5, 1e-5)
	}
}

func BenchmarkSolve(b *testing.B) {
	f := func(_ float64, y, d []float64) { d[0] = -(y[0] - y[1]) / 0.3; d[1] = -y[1] / 60 }
	for _, c := range []struct {
		name  string
		solve solver
	}{{"explicit", Solve}, {"stiff", SolveStiff}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				c.solve(f, 0, 60, []float64{0, 1}, Options{Rel: 1e-6, Abs: 1e-6})
			}
		})
	}
}

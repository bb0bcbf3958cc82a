package num

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// Integrals with closed forms.
func TestIntegrate(t *testing.T) {
	for n := 1; n <= 12; n++ { // exact up to degree 2n-1, and not beyond
		for degree := range 2*n + 1 {
			f := func(x float64) float64 { return math.Pow(x, float64(degree)) }
			got, err := Integrate(f, 0, 2, n)
			if err != nil {
				t.Fatal(err)
			}
			want := math.Pow(2, float64(degree+1)) / float64(degree+1)
			if off := math.Abs(got/want - 1); (off < 1e-13) != (degree < 2*n) {
				t.Errorf("%d points, x^%d: relative error %.2g", n, degree, off)
			}
		}
	}
	back, err := Integrate(math.Exp, 1, 0, 20)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "backwards", back, 1-math.E, 1e-15)
	empty, err := Integrate(math.Exp, 1, 1, 5)
	if err != nil || empty != 0 {
		t.Errorf("empty: %g, %v", empty, err)
	}
	one, err := Integrate(math.Exp, 0, 1e-3, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "no points taken as one", one, 1e-3*math.Exp(5e-4), 1e-18)
}

func TestIntegrateTo(t *testing.T) {
	for _, c := range []struct {
		name   string
		f      func(float64) float64
		lo, hi float64
		want   float64
	}{
		{"exp", math.Exp, 0, 1, math.E - 1},
		{"backwards", math.Exp, 1, 0, 1 - math.E},
		{"square root", math.Sqrt, 0, 1, 2. / 3},
		{"inverse square root", func(x float64) float64 { return 1 / math.Sqrt(x) }, 0, 1, 2},
		{"log", math.Log, 0, 1, -1},
		{"quarter circle", func(x float64) float64 { return math.Sqrt(1 - x*x) }, 0, 1, math.Pi / 4},
		{"narrow bump", func(x float64) float64 { return 1 / (1e-6 + (x-0.3)*(x-0.3)) }, 0, 1, 1e3 * (math.Atan(700) + math.Atan(300))},
		{"kink", func(x float64) float64 { return math.Abs(x - 1/math.Pi) }, 0, 1, (1/(math.Pi*math.Pi) + (1-1/math.Pi)*(1-1/math.Pi)) / 2},
		{"fast wave", func(x float64) float64 { return math.Sin(100 * x) }, 0, 1, (1 - math.Cos(100)) / 100},
		{"normal", NormalDensity, -30, 30, 1},
		{"empty", math.Exp, 2, 2, 0},
	} {
		for _, rel := range []float64{1e-4, 1e-8, 1e-12} {
			got, err := IntegrateTo(c.f, c.lo, c.hi, rel, 1e-14)
			if err != nil {
				t.Errorf("%s to %g: %v", c.name, rel, err)
				continue
			}
			off := math.Abs(got.Value - c.want)
			if off > rel*math.Abs(c.want)+1e-14 || off > got.Error+1e-14 {
				t.Errorf("%s to %g: got %.16g, want %.16g: off by %.2g, said %.2g", c.name, rel, got.Value, c.want, off, got.Error)
			}
		}
	}
	got, err := IntegrateTo(math.Exp, 0, 1, 0, 0)
	if err != nil || got.Calls != 15 || math.Abs(got.Value-(math.E-1)) > 1e-10 {
		t.Errorf("default: %+v, %v", got, err)
	}
	for name, err := range map[string]error{
		"bounds":                 second(IntegrateTo(math.Exp, 0, math.Inf(1), 0, 0)),
		"fixed, bounds":          second(Integrate(math.Exp, math.NaN(), 1, 5)),
		"not a number":           second(IntegrateTo(math.Sqrt, -1, 1, 0, 0)),
		"fixed, not a number":    second(Integrate(math.Sqrt, -1, 1, 5)),
		"no such integral (1/x)": second(IntegrateTo(func(x float64) float64 { return 1 / x }, 0, 1, 0, 0)),
		"tolerance":              second(IntegrateTo(math.Exp, 0, 1, -1, 0)),
	} {
		var v *ValueError
		if !errors.As(err, &v) {
			t.Errorf("%s: got error %v, want a *ValueError", name, err)
		}
	}
}

// The psi of a nozzle as a hold's time: the integral behind the isothermal fall
// below choking has the closed form sqrt(7)(sqrt(1-r1^(2/7)) - sqrt(1-r2^(2/7))),
// in units of V/(A sqrt(R T)); its end is singular and the vessel fills in finite time.
func TestIntegrateFillingTime(t *testing.T) {
	psi := func(r float64) float64 { return math.Sqrt(7 * (math.Pow(r, 2/1.4) - math.Pow(r, 2.4/1.4))) }
	u := func(r float64) float64 { return math.Sqrt(1 - math.Pow(r, 2.0/7)) }
	for _, c := range []struct{ r2, rel float64 }{{0.9, 1e-11}, {0.999, 1e-11}, {0.999999, 1e-9}, {1, 1e-5}} {
		got, err := IntegrateTo(func(r float64) float64 { return 1 / psi(r) }, 0.6, c.r2, c.rel, 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("to %g", c.r2), got.Value, math.Sqrt(7)*(u(0.6)-u(c.r2)), 2*c.rel)
	}
}

package num

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// Roots with closed forms, and two from R. P. Brent's book, chapter 4 (the ninth
// power is his hard case).
func TestFindRoot(t *testing.T) {
	for _, c := range []struct {
		name   string
		f      func(float64) float64
		lo, hi float64
		want   float64
		tol    float64
	}{
		{"line", func(x float64) float64 { return 2*x - 3 }, -10, 10, 1.5, 0},
		{"square root of 2", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2, 0},
		{"falling, ends exchanged", func(x float64) float64 { return 2 - x*x }, 2, 0, math.Sqrt2, 0},
		{"Dottie", func(x float64) float64 { return math.Cos(x) - x }, 0, 1, 0.7390851332151607, 0},
		{"Kepler, 0.8 rad, e = 0.2", func(x float64) float64 { return x - 0.2*math.Sin(x) - 0.8 }, 0, 1, 0.9643338876952227, 0},
		{"ninth power", func(x float64) float64 { return math.Pow(x, 9) }, -1, 4, 0, 1e-12},
		{"flat then steep", func(x float64) float64 { return math.Exp(x) - 1e-9 }, -700, 10, math.Log(1e-9), 0},
		{"a jump", func(x float64) float64 { return math.Copysign(1, x-0.3) }, 0, 1, 0.3, 0},
		{"tiny", func(x float64) float64 { return x - 3e-9 }, 0, 1, 3e-9, 0},
		{"at an end", func(x float64) float64 { return x - 1 }, 1, 2, 1, 0},
		{"at the other", func(x float64) float64 { return x - 2 }, 1, 2, 2, 0},
		{"infinite at an end", func(x float64) float64 { return math.Log(x) }, 0, 4, 1, 0},
	} {
		calls := 0
		got, err := FindRoot(func(x float64) float64 { calls++; return c.f(x) }, c.lo, c.hi, c.tol)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		near(t, fmt.Sprintf("%s in %d calls", c.name, calls), got, c.want, c.tol+4e-16*math.Abs(c.want))
		if calls > 150 {
			t.Errorf("%s: %d calls", c.name, calls)
		}
	}
}

// A cubic with known roots, at random: the bracket's one root is found.
func TestFindRootRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		root := rng.NormFloat64() * math.Exp(10*rng.NormFloat64())
		k := math.Exp(5 * rng.NormFloat64())
		f := func(x float64) float64 { return k * (x - root) * (1 + (x-root)*(x-root)) }
		lo, hi := root-math.Exp(5*rng.NormFloat64()), root+math.Exp(5*rng.NormFloat64())
		if lo == root || hi == root {
			continue
		}
		got, err := FindRoot(f, lo, hi, 0)
		if err != nil || math.Abs(got-root) > 4e-16*math.Abs(root) {
			t.Fatalf("root %g in [%g, %g]: got %g, %v", root, lo, hi, got, err)
		}
	}
}

func TestFindRootRefuses(t *testing.T) {
	_, err := FindRoot(func(x float64) float64 { return 1 + x*x }, -1, 2, 0)
	var b *BracketError
	if !errors.As(err, &b) || b.FLow != 2 || b.FHigh != 5 {
		t.Errorf("no root: got error %v, want a *BracketError with 2 and 5", err)
	}
	id := func(x float64) float64 { return x }
	for name, err := range map[string]error{
		"NaN at an end":   second(FindRoot(math.Sqrt, -1, 1, 0)),
		"NaN at other":    second(FindRoot(func(x float64) float64 { return math.Sqrt(-x) }, -1, 1, 0)),
		"NaN inside":      second(FindRoot(func(x float64) float64 { return math.Sqrt(math.Abs(x)-0.5)*x - 0.01 }, -1, 1, 0)),
		"infinite bounds": second(FindRoot(id, math.Inf(-1), 1, 0)),
		"tolerance":       second(FindRoot(id, -1, 2, -1)),
	} {
		var v *ValueError
		if !errors.As(err, &v) {
			t.Errorf("%s: got error %v, want a *ValueError", name, err)
		}
	}
}

func second[A any](_ A, err error) error { return err }

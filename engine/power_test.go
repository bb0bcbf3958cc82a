package engine

import (
	"math"
	"math/rand/v2"
	"testing"
)

// exp and log against the standard library's.
func TestPower(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 300_000 {
		x := (rnd.Float64() - 0.5) * 40
		close(t, "exp", exp(x), math.Exp(x), 4.5e-16)
		y := math.Exp(x)
		near(t, "log", log(y), math.Log(y), 4.5e-16*math.Max(1, math.Abs(math.Log(y))))
		y = 1 + (rnd.Float64()-0.5)*1e-3 // near 1 the digits are relative
		close(t, "log near 1", log(y), math.Log(y), 4.5e-16)
		if t.Failed() {
			t.Fatalf("at %g, %g", x, y)
		}
	}
	for _, x := range []float64{0, 1, -1, 700, -700, 1e4, -1e4, math.Inf(1), math.Inf(-1)} {
		if exp(x) != math.Exp(x) {
			close(t, "exp", exp(x), math.Exp(x), 4.5e-16)
		}
	}
	for _, x := range []float64{0, -1, math.NaN()} {
		if !math.IsNaN(log(x)) {
			t.Errorf("log(%g) = %g, want NaN", x, log(x))
		}
	}
	if !math.IsNaN(exp(math.NaN())) || log(1) != 0 || exp(0) != 1 {
		t.Error("exp(NaN), log(1) or exp(0)")
	}
}

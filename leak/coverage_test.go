package leak_test

import (
	"math"
	"testing"

	"seatproof/internal/study"
)

// binomialAtMost returns P(X <= k) of n trials of chance p.
func binomialAtMost(k, n int, p float64) float64 {
	sum := 0.0
	for i := 0; i <= k; i++ {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(i + 1))
		c, _ := math.Lgamma(float64(n - i + 1))
		sum += math.Exp(a - b - c + float64(i)*math.Log(p) + float64(n-i)*math.Log(1-p))
	}
	return sum
}

// Simulated tests with known truth, phases found and not told: the 95 %
// interval of this trace must hold the truth as often as it says. docs/
// accuracy.md asks for 93 to 97 % over thousands; so few as here may stray from
// that by chance, by as much as happens once in ten thousand.
func TestCoverage(t *testing.T) {
	const cm3min = 1e-6 / 60
	n := 120
	if testing.Short() {
		n = 10
	}
	held, wrong, named, all := 0, 0, 0, 0
	for i, b := range []struct{ low, high float64 }{{2, 20}, {20, 200}, {200, 2000}, {2000, 4000}} {
		in, read, refused := 0, 0, 0
		for k, o := range study.Run(study.Family{Low: b.low, High: b.high}, n, uint64(1000+i)) {
			if o.Err != nil {
				t.Fatal(o.Err)
			}
			rd := o.Reading
			if rd.Refusal != nil {
				refused++
				t.Logf("%g to %g cm³/min, number %d: refused: %s", b.low, b.high, k, rd.Refusal.Code)
				continue
			}
			read++
			if rd.Leak.Low <= o.Truth.Flow && o.Truth.Flow <= rd.Leak.High {
				in++
			}
			if rd.Kind != "unresolved" {
				named++
				lo, hi := 0.0, 0.2
				switch rd.Kind {
				case "opening":
					lo, hi = 0.8, 1
				case "mixed":
					lo, hi = 0.2, 0.8
				}
				if o.Truth.Share < lo || o.Truth.Share > hi {
					wrong++
				}
			}
			if c := rd.ChanceOver(23 * cm3min); !(c >= 0 && c <= 1) {
				t.Errorf("%g to %g cm³/min, number %d: chance of being over %v", b.low, b.high, k, c)
			}
		}
		t.Logf("%g to %g cm³/min: %d of %d held the truth, %d refused", b.low, b.high, in, read, refused)
		if p := binomialAtMost(in, read, 0.93); p < 1e-4 {
			t.Errorf("%g to %g cm³/min: %d of %d intervals held the truth: too few (by chance %.1g)", b.low, b.high, in, read, p)
		}
		if p := 1 - binomialAtMost(refused-1, n, 0.03); refused > 0 && p < 1e-4 {
			t.Errorf("%g to %g cm³/min: %d of %d refused", b.low, b.high, refused, n)
		}
		held += in
		all += read
	}
	if p := 1 - binomialAtMost(held-1, all, 0.97); p < 1e-4 {
		t.Errorf("%d of %d intervals held the truth: too many, they are too wide", held, all)
	}
	if p := binomialAtMost(held, all, 0.93); p < 1e-4 {
		t.Errorf("%d of %d intervals held the truth: too few", held, all)
	}
	t.Logf("%d of %d kinds named were wrong", wrong, named)
	if p := 1 - binomialAtMost(wrong-1, named, 0.05); wrong > 0 && p < 1e-4 {
		t.Errorf("%d of %d kinds named were wrong", wrong, named)
	}
}

// binomialAtMost agrees with a table: of 10 throws of a coin at most 2 heads in
// 56 of 1024 cases.
func TestBinomial(t *testing.T) {
	if got, want := binomialAtMost(2, 10, 0.5), 56.0/1024; math.Abs(got-want) > 1e-12 {
		t.Errorf("got %v, want %v", got, want)
	}
}

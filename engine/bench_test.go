package engine

import (
	"math"
	"testing"

	"seatproof/unit"
)

// The two cycles that are timed: 90 cm³ with 100 cm³/min, half an opening of
// middling edge, half a seep.
func BenchmarkMotored(b *testing.B) { bench(b, cranked(250)) }
func BenchmarkFired(b *testing.B)   { bench(b, idling()) }

func bench(b *testing.B, r Run) {
	c, l := made(90), []Leak{tested(100, 0.5, 0.5)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Cycle(r, l...); err != nil {
			b.Fatal(err)
		}
	}
}

func known() Given {
	return Given{Bore: unit.About(0.0486, 1e-4), Stroke: unit.About(0.0486, 1e-4), Ratio: unit.About(9.5, 0.3)}
}

// BenchmarkCurve is the whole curve: 200 leaks, as opening and as seep, with bands.
func BenchmarkCurve(b *testing.B) {
	var flows []float64
	for i := range 200 {
		flows = append(flows, perMin*math.Pow(10, 3*float64(i)/199))
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := known().Curve(flows, room, warm); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCostLimit is what a job card asks for each kind of cylinder.
func BenchmarkCostLimit(b *testing.B) {
	for b.Loop() {
		if _, err := known().CostLimit(0.02, room, warm); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLoss is a leak of one draw, with the engine's 96.
func BenchmarkLoss(b *testing.B) {
	for b.Loop() {
		if _, err := known().Loss([]Leak{tested(100, 0.5, 0.5)}); err != nil {
			b.Fatal(err)
		}
	}
}

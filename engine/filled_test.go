package engine

import (
	"slices"
	"testing"

	"seatproof/unit"
)

// A cylinder with its guesses filled in has the same limit and loss as without.
func TestFilled(t *testing.T) {
	g := Given{Bore: unit.About(72e-3, 0.2e-3), Stroke: unit.Exactly(73.7e-3), Ratio: unit.About(9.5, 0.3)}
	full, guessed := g.Filled()
	if want := []string{"connecting rod", "intake closing", "cranking speed", "idle speed", "top speed"}; !slices.Equal(guessed, want) {
		t.Errorf("guessed %q, want %q", guessed, want)
	}
	a, err := g.CostLimit(0.02, 101325, 293.15)
	b, err2 := full.CostLimit(0.02, 101325, 293.15)
	if err != nil || err2 != nil || a != b {
		t.Errorf("limits %+v and %+v (%v, %v)", a, b, err, err2)
	}
	leak := []Leak{{Flow: 1e-6, Share: 0.5, Room: 101325, Temp: 293.15}}
	x, err := g.Loss(leak)
	y, err2 := full.Loss(leak)
	if err != nil || err2 != nil || x != y {
		t.Errorf("losses %+v and %+v (%v, %v)", x, y, err, err2)
	}
	if _, guessed := full.Filled(); len(guessed) != 0 {
		t.Errorf("filled twice: guessed %q", guessed)
	}
	square, guessed := Given{Bore: unit.About(72e-3, 0)}.Filled()
	if s := square.Stroke; s.Value != 72e-3 || s.Spread != 0.2*72e-3 || guessed[0] != "stroke" || guessed[1] != "compression ratio" {
		t.Errorf("of the bore alone: stroke %v, guessed %q", s, guessed)
	}
}

package app

import (
	"math"
	"slices"
	"testing"

	"seatproof/check"
	"seatproof/head"
)

// TestCheckKinds: the kinds that records may have are those that are checked.
func TestCheckKinds(t *testing.T) {
	var kinds []string
	for _, k := range check.Kinds {
		kinds = append(kinds, string(k))
	}
	if !slices.Equal(kinds, head.CheckKinds) {
		t.Errorf("head.CheckKinds are\n%q\ncheck.Kinds\n%q", head.CheckKinds, kinds)
	}
}

// TestGrams: weights of water.
func TestGrams(t *testing.T) {
	for text, want := range map[string][2]float64{"62 g": {0.062, 0}, "62 ± 0.5 g": {0.062, 0.0005}, "0,06 kg": {0.06, 0}, "62g": {0.062, 0}} {
		m, ok := grams(text)
		if !ok || math.Abs(m.Value-want[0]) > 1e-12 || math.Abs(m.Spread-want[1]) > 1e-12 {
			t.Errorf("%q: %+v %v", text, m, ok)
		}
	}
	for _, text := range []string{"62 mL", "62", "g", "6 x g", "62 cm g"} {
		if m, ok := grams(text); ok {
			t.Errorf("%q: %+v", text, m)
		}
	}
}

// TestPartNamed: parts by their names, no other.
func TestPartNamed(t *testing.T) {
	if p, ok := partNamed([]string{"Shut-off", "valve"}); !ok || p != check.PartValve {
		t.Errorf("%q %v", p, ok)
	}
	if _, ok := partNamed([]string{"cable"}); ok {
		t.Error("a cable is no part of it")
	}
}

package head

import (
	"math"
	"testing"

	"seatproof/unit"
)

// 72 mm of bore and two valves of 27 mm: two circles of 5.73 cm², 1.15 bores long,
// are 95 cm³ (common practice, no source). What was poured full is not guessed, and a port of
// no valves has no guess.
func TestVolumeOr(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	v, guessed := b.Job.VolumeOr(p)
	if !guessed || math.Abs(v.Value-95e-6) > 0.5e-6 || math.Abs(v.Spread/v.Value-0.6) > 1e-9 {
		t.Errorf("got %v, guessed %v, want 95 cm³ ± 60 %%", v, guessed)
	}
	p.Volume = unit.About(110e-6, 5e-6)
	if v, guessed = b.Job.VolumeOr(p); guessed || v != p.Volume {
		t.Errorf("got %v, guessed %v for a volume that was given", v, guessed)
	}
	if v, guessed = b.Job.VolumeOr(&Port{Valves: []string{"v99"}}); guessed || v.Known {
		t.Errorf("a port of no valves: %v, guessed %v", v, guessed)
	}
}

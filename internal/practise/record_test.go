package practise

import (
	"math"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// A recorded test of a known leak reads as what it is, on the rig as its owner
// states it.
func TestRecord(t *testing.T) {
	b, err := New(Setup{Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	const flow = 90 * cm3min
	tr, end, err := b.Record(0, KnownOf(flow), 6, 20)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(end-32) > 1e-9 || tr.Len() != 1600 {
		t.Errorf("ended at %g s with %d samples, want 32 s and 1600", end, tr.Len())
	}
	g := Stated()
	g.Port.Volume, g.Port.Held = unit.Exactly(2e-6), rig.HeldOwnSpring
	r := leak.Read(tr, g, leak.Options{})
	if r.Leak == nil || r.Leak.Low > flow || r.Leak.High < flow {
		t.Errorf("a known leak of 90 cm³/min reads %+v, refusal %+v", r.Leak, r.Refusal)
	}
	if got := b.Leak(KnownOf(flow)); got != flow {
		t.Errorf("the known leak is %g m³/s, want %g", got, flow)
	}
}

package leak

import (
	"testing"

	"seatproof/rig"
)

// A head that cools under a port that holds deepens the vacuum by itself: told
// where the shut-off is, the reading says that something drifts.
func TestDeepeningVacuumDrifts(t *testing.T) {
	v := sound()
	v.flow, v.rigLeak, v.hold, v.after = 0.05, 0.05, 40, 0.2
	v.also = func(at, _ float64) float64 { return 25 * max(0, at-v.shutOff()) }
	off := v.shutOff()
	rd := mustAnswer(t, Read(v.trace(t), v.rig(), Options{ShutOff: &off}))
	if !warnsOf(rd, Drift) {
		t.Errorf("got %v, want a warning of drift", rd.Warnings)
	}
	if !rd.UpperLimitOnly {
		t.Errorf("got %+v, want an upper limit only", *rd.Leak)
	}
}

// Only the vacuum on the valve: neither kind nor share. A thumb or a light
// spring: the share with its doubt, no kind. Its own spring: both.
func TestHeldSaysWhatIsTold(t *testing.T) {
	v := sound()
	v.flow, v.share, v.hold = 300, 1, 20
	for _, c := range []struct {
		held        rig.Held
		share, kind bool
	}{
		{rig.HeldNothing, false, false},
		{rig.HeldThumb, true, false},
		{rig.HeldLightSpring, true, false},
		{rig.HeldOwnSpring, true, true},
	} {
		r := v.rig()
		r.Port.Held = c.held
		rd := v.answered(t, r)
		if got := rd.Share != nil; got != c.share {
			t.Errorf("held by %s: share %v, want one: %v", c.held, rd.Share, c.share)
		}
		if got := rd.Kind != KindUnresolved; got != c.kind {
			t.Errorf("held by %s: kind %s, want one: %v", c.held, rd.Kind, c.kind)
		}
	}
}

// A valve held by less may close more with the vacuum: the figure carried from
// a deep hold to 50 kPa is the wider for it.
func TestLooserHeldIsWider(t *testing.T) {
	v := sound()
	v.flow, v.share, v.hold = 12, 0, 20
	last := 0.0
	for _, h := range []rig.Held{rig.HeldOwnSpring, rig.HeldThumb, rig.HeldNothing} {
		r := v.rig()
		r.Port.Held = h
		rd := v.answered(t, r)
		w := rd.Leak.High - rd.Leak.Low
		if w < 1.1*last {
			t.Errorf("held by %s: interval %.3g cm³/min wide, want it wider than %.3g by a tenth", h, w/cm3min, last/cm3min)
		}
		if !holds(rd.Leak, 12*cm3min) {
			t.Errorf("held by %s: got %+v, true 12 cm³/min", h, *rd.Leak)
		}
		last = w
	}
}

// A port said to be dry that gives off far more than was said: the reading
// believes the trace, and warns.
func TestMoreVapourThanSaid(t *testing.T) {
	in, warned := 0, 0
	const n = 12
	for seed := range uint64(n) {
		v := sound()
		v.seed = seed + 1
		v.flow, v.vapour, v.vapourTau, v.hold = 12, 2000, 8, 40
		rd := v.read(t)
		if holds(rd.Leak, 12*cm3min) {
			in++
		}
		if warnsOf(rd, FallStops) && warnsOf(rd, Slowing) {
			warned++
		}
	}
	if in < n-2 || warned != n {
		t.Errorf("%d of %d intervals held the leak and %d warned, want %d at least and all", in, n, warned, n-2)
	}
}

func warnsOf(rd *Reading, c WarningCode) bool {
	for _, w := range rd.Warnings {
		if w.Code == c {
			return true
		}
	}
	return false
}

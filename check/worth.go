package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// Gain is what a check would do to the interval of a reading.
type Gain struct {
	Kind   Kind    `json:"kind"`
	Old    bool    `json:"old"`    // one was made and is past its days
	Narrow float64 `json:"narrow"` // width of the interval after it over that now, 0..1
	Words  string  `json:"words"`  // for the verdict line: "the rig's volume is guessed, which makes the interval 1.8 times as wide: check the volume"
}

// worthless is how much narrower a check must make an interval to be named.
const worthless = 0.95

// could says what a check can do to an input of a reading's budget.
type could struct {
	kind  Kind
	input string // as package leak names it
	what  string // the rig's thing, as the words call it
	step  string
	// left is the part of the input's variance that would be left after a sound
	// check (common practice, no source), 1 where it can't be bettered.
	left func(r rig.Rig, of float64) float64
}

// leftOf returns what is left of a variance whose ± goes from now to then.
func leftOf(now, then float64) float64 {
	if !(now > then) {
		return 1
	}
	return sq(then / now)
}

// What a sound check leaves (±, 95 %): common practice, no source.
var coulds = []could{
	{KindVolume, "volume", "the rig's volume", "check the volume", func(r rig.Rig, _ float64) float64 {
		rv, pv := r.Volume, r.Port.Volume
		if !rv.Known {
			rv = unit.About(60e-6, 40e-6)
		}
		if !pv.Known {
			pv = unit.About(100e-6, 70e-6)
		}
		whole := sq(rv.Spread) + sq(pv.Spread)
		if whole == 0 {
			return 1
		}
		return (sq(math.Min(rv.Spread, 0.06*rv.Value)) + sq(pv.Spread)) / whole
	}},
	{KindGauge, "gauge accuracy", "the gauge's accuracy", "check the gauge against a better one", func(r rig.Rig, _ float64) float64 {
		acc, _ := accuracyOf(r.Gauge)
		if l := r.Gauge.Line; l != nil {
			acc = l.Slope.Spread
		}
		return leftOf(acc, 0.01)
	}},
	{KindZero, "gauge zero", "the gauge's zero", "check the gauge's zero", func(rig.Rig, float64) float64 { return 0.3 }},
	{KindRigLeak, "rig leak", "the rig's own leak", "hold a blank", func(r rig.Rig, _ float64) float64 {
		m := r.RigLeak
		if !m.Known {
			m = unit.About(1e-6/60, 2e-6/60)
		}
		return leftOf(m.Spread, 0.3e-6/60)
	}},
	{KindBlanked, "blanked reading", "the blanked reading", "take the blanked reading, five pulls", func(r rig.Rig, _ float64) float64 {
		b := r.Pump.Blanked
		if !b.Known || b.Spread == 0 {
			return leftOf(blankedGuess, 0.015)
		}
		return leftOf(b.Spread/b.Value, 0.015)
	}},
	{KindPump, "pump curve", "the pump's curve", "check the pump's curve on known leaks", func(r rig.Rig, _ float64) float64 {
		if len(r.Pump.Curve) >= 2 {
			if f := r.Pump.FreeFlow; f.Known && f.Value > 0 {
				return leftOf(f.Spread/f.Value, 0.12)
			}
			return 1
		}
		return leftOf(0.3, 0.12)
	}},
	{KindHead, "temperature", "the head's temperature", "take the head's temperature", func(r rig.Rig, _ float64) float64 {
		t := r.Port.HeadTemperature
		if !t.Known {
			t.Spread = 8
		}
		return leftOf(t.Spread, 1)
	}},
	{KindDry, "vapour", "vapour in the port", "vent and pull five times", func(rig.Rig, float64) float64 { return 0.2 }},
}

// Worth returns which checks would narrow the interval of a reading taken on a rig
// with its checks applied, the most telling first; none that would not narrow it by
// a twentieth, and none that is made and not yet old. It goes by the reading's
// budget: of an input's share s of the variance a check leaves the part f, so that
// the interval shrinks to sqrt(1 - s (1-f)).
func Worth(reading *leak.Reading, r rig.Rig, results []Result, now time.Time) []Gain {
	if reading == nil || reading.Refusal != nil || reading.Leak == nil {
		return nil
	}
	all := Current(results, now)
	var out []Gain
	for _, c := range coulds {
		st := standingOf(all, c.kind)
		if st.Result != nil && !st.Old {
			continue
		}
		share := 0.0
		for _, b := range reading.Budget {
			if b.Input == c.input {
				share = b.Share
			}
		}
		g := Gain{Kind: c.kind, Old: st.Old, Narrow: math.Sqrt(math.Max(0, 1-share*(1-c.left(r, share))))}
		if g.Narrow > worthless {
			continue
		}
		state := "was never checked"
		if st.Old {
			state = "was last checked " + daysAgo(st.Result.At, now)
		}
		g.Words = fmt.Sprintf("%s %s, which makes the interval %s times as wide: %s", c.what, state, unit.Significant(1/math.Max(g.Narrow, 0.01), 2), c.step)
		out = append(out, g)
	}
	slices.SortStableFunc(out, func(a, b Gain) int { return cmp.Compare(a.Narrow, b.Narrow) })
	return out
}

// daysAgo says how many days lie between two moments, by the calendar.
func daysAgo(at, now time.Time) string {
	y, m, d := at.Date()
	was := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	y, m, d = now.In(at.Location()).Date()
	switch n := int(math.Round(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(was).Hours() / 24)); n {
	case 0:
		return "today"
	case 1:
		return "yesterday"
	default:
		return fmt.Sprintf("%d days ago", n)
	}
}

package session

import "math"

// When a hold has told enough. Looking at a trace again and again and stopping
// when the answer looks good makes it too sure of itself, so a verdict has to
// stand at a stricter level to end a hold early: one level for all looks, such
// that figures that are pure chance pass it in 5 % of holds at most, however
// often they are looked at (2.5 % where strict). That is the manner of Pocock
// 1977 (from memory; his constants for equal steps are those of the test). The
// looks here lie apart by a factor in time, and noise lets a hold's slope be
// known with the cube of it, so the looks agree less than his and the level is
// stricter: computed, and held, by TestEarlyLevel.
const (
	earlyChance       = 0.0078
	earlyChanceStrict = 0.0037
)

// Looks at a hold, s after the shut-off. After the last one only the end of the
// planned hold is left.
var lookTimes = []float64{3, 4, 5.5, 7.5, 10, 14, 20, 28}

const (
	worthWhile = 0.05 // of the interval's width that the next look must take off to be worth its time
	betweenLow = 0.12 // the smallest scatter between tests that is likely (docs/model.md §4.12)
	ownDoubt   = 0.5  // of that: a trace this sure adds nothing that a repeat would show
)

// Reason is why a hold has told enough.
type Reason string

// The reasons.
const (
	Decided    Reason = "decided"     // the verdict stands: this port, tested again, is on one side of the limit
	RepeatOnly Reason = "repeat-only" // this trace is, but ports scatter: only a repeat can tell more
	NoSharper  Reason = "no-sharper"  // more time would not make the interval narrower
	TimeIsUp   Reason = "time-is-up"  // the planned hold is over
)

// Enough says whether a hold has told enough after these looks at it, of which
// the last is the newest, and why. The limit is that of the estimates; without
// one only [NoSharper] can end a hold before planned [s] are over.
func Enough(looks []Estimate, strict bool, planned float64) (Reason, bool) {
	if len(looks) == 0 {
		return "", false
	}
	e := looks[len(looks)-1]
	if e.Held >= planned {
		return TimeIsUp, true
	}
	if e.Leak == nil {
		return "", false // too short as yet, or no leak to be seen
	}
	level := earlyChance
	if strict {
		level = earlyChanceStrict
	}
	if e.Limit > 0 {
		if oneSide(e.OverAgain, level, e.UpperOnly) {
			return Decided, true
		}
		if oneSide(e.Over, level, e.UpperOnly) && e.ownLogSD() < ownDoubt*betweenLow {
			return RepeatOnly, true
		}
	}
	if sharpest(looks) {
		return NoSharper, true
	}
	return "", false
}

// oneSide says whether a chance of being over is sure enough either way; a
// leak of which only an upper bound is known can't be too large.
func oneSide(over, level float64, upper bool) bool {
	return over <= level || !upper && over >= 1-level
}

// ownLogSD is the trace's own doubt of its leak, as a standard deviation of the
// logarithm; of the limit where the leak is far below it.
func (e *Estimate) ownLogSD() float64 { return e.Spread / 1.96 }

// sharpest says whether the interval has stopped narrowing: the last two steps
// took off less than a look must, each.
func sharpest(looks []Estimate) bool {
	n := len(looks)
	if n < 3 || looks[n-2].Leak == nil || looks[n-3].Leak == nil {
		return false
	}
	gain := func(a, b Estimate) float64 { return 1 - b.Spread/math.Max(a.Spread, 1e-12) }
	return looks[n-1].Spread < 0.25 && gain(looks[n-3], looks[n-2]) < worthWhile && gain(looks[n-2], looks[n-1]) < worthWhile
}

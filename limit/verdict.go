// Package limit holds the limits a leak is judged by and the three verdicts.
//
// Start with [Judge], which turns the chance of a port being over its limit
// into a [Verdict], and [Workmanship], the limit of a well-cut seat whatever
// the engine. Leak rates are free air in m³/s at a vacuum of 50 kPa; verdicts
// are always made on the interval of "this port, tested again".
package limit

// Verdict is one of the three answers about a port.
type Verdict string

// The verdicts. The zero value means that none was asked for or none could be
// given.
const (
	Holds       Verdict = "holds"
	Leaks       Verdict = "leaks"
	CantTellYet Verdict = "cant-tell-yet"
)

// The largest chance of a wrong verdict that [Judge] accepts, either way.
// 5 % is the guard band of 1.645 u of ISO 14253-1:2017 (its default
// conformance probability of 95 %); 2.5 % is the strict one.
const (
	wrongAtMost       = 0.05
	wrongAtMostStrict = 0.025
)

// Judge returns the verdict that the chance of the leak being over its limit
// [0..1] allows:
//
//	holds          P(leak <= limit) >= 95 %   (strict: 97.5 %)
//	leaks          P(leak >  limit) >= 95 %   (strict: 97.5 %)
//	can't tell yet otherwise
//
// A chance that is not a number, or outside 0 to 1, tells nothing:
// [CantTellYet]. Source: JCGM 106:2012, sections 7.3 and 8.3 (conformance
// probability and guarded acceptance and rejection).
func Judge(chanceOver float64, strict bool) Verdict {
	wrong := wrongAtMost
	if strict {
		wrong = wrongAtMostStrict
	}
	switch {
	case !(chanceOver >= 0 && chanceOver <= 1):
		return CantTellYet
	case chanceOver <= wrong:
		return Holds
	case 1-chanceOver <= wrong:
		return Leaks
	default:
		return CantTellYet
	}
}

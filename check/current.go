package check

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// hangs says which parts a kind of check hangs on: with a new one the check says
// nothing any more.
var hangs = map[Kind][]Part{
	KindZero:    {PartGauge},
	KindGauge:   {PartGauge},
	KindBlanked: {PartPump, PartGauge},
	KindRigLeak: {PartHose, PartPlate, PartValve, PartGauge},
	KindKnown:   {PartHose, PartPlate, PartValve, PartGauge},
	KindVolume:  {PartHose, PartPlate, PartValve, PartGauge},
	KindPump:    {PartPump},
	KindShutOff: {PartValve},
	KindHose:    {PartHose},
}

// Standing is where a kind of check stands.
type Standing struct {
	Kind   Kind
	Result *Result   // the newest, nil where none was made since the part was changed
	Old    bool      // past its days
	Until  time.Time // end of its trust; zero: no day ends it
}

// Current returns where each kind but [KindPart] stands at now, in the order of
// [Kinds]. Results later than now are left out; of two at the same moment the
// latter in the list speaks. Of volumes a narrower earlier one speaks, where the
// later one agrees with it. Results are not changed.
func Current(results []Result, now time.Time) []Standing {
	sorted := slices.Clone(results)
	slices.SortStableFunc(sorted, func(a, b Result) int { return a.At.Compare(b.At) })
	newest := map[Kind]Result{}
	for _, r := range sorted {
		if r.At.After(now) {
			continue
		}
		if r.Kind == KindPart {
			for k, parts := range hangs {
				if slices.Contains(parts, r.Part) {
					delete(newest, k)
				}
			}
			continue
		}
		if was, ok := newest[r.Kind]; ok && r.Kind == KindVolume && was.outdoes(r, now) {
			continue
		}
		newest[r.Kind] = r
	}
	var out []Standing
	for _, k := range Kinds {
		if k == KindPart {
			continue
		}
		s := Standing{Kind: k}
		if r, ok := newest[k]; ok {
			s.Result, s.Old = &r, r.Old(now)
			s.Until, _ = r.Until()
		}
		out = append(out, s)
	}
	return out
}

// outdoes says whether an earlier volume goes on speaking beside a later one: it is
// trusted, narrower, and they agree. A quick syringe must not undo a careful filling.
func (r Result) outdoes(later Result, now time.Time) bool {
	a, b := r.Value, later.Value
	return a.Known && b.Known && !r.Old(now) && a.Spread < b.Spread && math.Abs(a.Value-b.Value) <= math.Hypot(a.Spread, b.Spread)
}

// Missing returns the kinds that were never checked, or not since a part was changed,
// and those that are past their days: what widens the readings.
func Missing(results []Result, now time.Time) []Standing {
	return slices.DeleteFunc(Current(results, now), func(s Standing) bool { return s.Result != nil && !s.Old })
}

// standingOf returns where one kind stands.
func standingOf(all []Standing, k Kind) Standing {
	i := slices.IndexFunc(all, func(s Standing) bool { return cmp.Compare(s.Kind, k) == 0 })
	if i < 0 {
		return Standing{Kind: k}
	}
	return all[i]
}

package session

import (
	"math"

	"seatproof/head"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
)

// Estimate is what the estimator makes of a trace, as far as a session needs it.
type Estimate struct {
	Held      float64            `json:"held"`           // s of hold it was made from
	Leak      *leak.Interval     `json:"leak,omitempty"` // m³/s, this trace
	UpperOnly bool               `json:"upper_only,omitempty"`
	Again     *leak.Interval     `json:"again,omitempty"`  // m³/s, this port, tested again
	Limit     float64            `json:"limit,omitempty"`  // m³/s; 0: none
	Over      float64            `json:"over"`             // chance that this trace's leak is over the limit
	OverAgain float64            `json:"over_again"`       // chance that this port, tested again, is
	OverAll   float64            `json:"over_all"`         // and that it is over the limit of all its valves together
	Spread    float64            `json:"spread,omitempty"` // half the interval's width over the larger of limit and median
	Source    leak.Source        `json:"source,omitempty"`
	Refusal   leak.RefusalCode   `json:"refusal,omitempty"`
	Warned    []leak.WarningCode `json:"warned,omitempty"`
}

// Read makes the estimate that a look asks for, with the ordinary estimator
// ([leak.Read]). Options other than the shut-off may be given. It takes some
// 10 ms. When a person said that the pump was shut off, that counts only where
// the samples do not show it: they know better to the tenth of a second.
func Read(l Look, o leak.Options) Estimate {
	e, _ := ReadWhole(l, o)
	return e
}

// ReadWhole is [Read], and returns the reading that the estimate was taken from
// as well.
func ReadWhole(l Look, o leak.Options) (Estimate, *leak.Reading) {
	r := ReadTold(l.Trace, l.Rig, o, l.ShutAt)
	one, all := l.limitsFor(r)
	e := EstimateOf(r, one, l.Held)
	if e.OverAll = e.OverAgain; all > one && e.Leak != nil {
		e.OverAll = 0
		if c := r.ChanceOver(all); !math.IsNaN(c) {
			e.OverAll = c
		}
	}
	return e, r
}

// limitsFor returns the limits that a reading is held against: where the trace tells
// how the leak flows those of such a leak, as the job's card does, else those of a
// seep.
func (l *Look) limitsFor(r *leak.Reading) (one, all float64) {
	if share := head.ShareOf(r); share != nil && len(l.Limits) > 0 {
		if one, all, _ := l.Limits.At(*share); one > 0 {
			return one, all
		}
	}
	return l.Limit, l.All
}

// ReadTold reads a trace; shutAt [s in its time] is when a person said that the
// pump was shut off, nil when nobody did. It counts only where the samples do
// not show a hold.
func ReadTold(t *trace.Trace, g rig.Rig, o leak.Options, shutAt *float64) *leak.Reading {
	r := leak.Read(t, g, o)
	held := func(r *leak.Reading) bool { return r.Refusal == nil && r.Leak != nil && r.Source == leak.FromHold }
	if shutAt == nil || held(r) {
		return r
	}
	o.ShutOff = shutAt
	if told := leak.Read(t, g, o); held(told) {
		return told
	}
	return r
}

// EstimateOf takes from a reading what a session needs, by a limit [m³/s; 0:
// none], after a hold of so long [s].
func EstimateOf(r *leak.Reading, limit, held float64) Estimate {
	e := Estimate{Held: held, Limit: limit, Source: r.Source}
	for _, w := range r.Warnings {
		e.Warned = append(e.Warned, w.Code)
	}
	if r.Refusal != nil || r.Leak == nil {
		e.Refusal = leak.NoHold
		if r.Refusal != nil {
			e.Refusal = r.Refusal.Code
		}
		return e
	}
	l := *r.Leak
	if e.UpperOnly = r.UpperLimitOnly; e.UpperOnly {
		l.Low = 0
	}
	e.Leak, e.Again = &l, r.TestedAgain
	scale := l.Median
	if limit > 0 {
		scale = math.Max(limit, l.Median)
		over := 0
		for _, d := range r.Draws {
			if d.Flow > limit {
				over++
			}
		}
		e.Over = float64(over) / math.Max(1, float64(len(r.Draws)))
		if c := r.ChanceOver(limit); !math.IsNaN(c) {
			e.OverAgain = c
		}
	}
	if scale > 0 {
		e.Spread = (l.High - l.Low) / 2 / scale
	}
	return e
}

package session

import (
	"slices"
	"sort"

	"seatproof/internal/source"
	"seatproof/trace"
)

// Recent returns the samples of a source after a time [s], oldest first: when
// each was taken, and the vacuum below the room [Pa], which is what the gauge
// shows where the room has not been seen yet. An absolute gauge has none until
// then. The slices are the caller's.
func (s State) Recent(source int, after float64) (at, vacuum []float64) {
	if s.plan == nil || source < 0 || source >= len(s.gauges) {
		return nil, nil
	}
	g := s.gauges[source]
	sign, room := 1.0, 0.0
	if g.plan.Reads == trace.Absolute {
		sign = -1
	}
	if g.watch.roomN > 0 {
		room = g.watch.room
	} else if sign < 0 {
		return nil, nil
	}
	a := sort.Search(len(g.time), func(k int) bool { return g.time[k] > after })
	for k := a; k < len(g.time); k++ {
		at, vacuum = append(at, g.time[k]), append(vacuum, sign*g.value[k]-room)
	}
	return at, vacuum
}

// Look returns the question about the whole trace of a test that was filed, as
// the session stands now: after a MoveTest, or when the answer was lost. tr is
// the judged source's trace that it was filed with, shutAt as it was then.
func (s State) Look(number int, tr *trace.Trace, shutAt *float64) (Look, bool) {
	i := slices.IndexFunc(s.filed, func(f Filed) bool { return f.Test == number })
	if i < 0 || tr == nil {
		return Look{}, false
	}
	f := s.filed[i]
	return Look{
		Test: f.Test, Port: f.Port, Final: true, Held: f.Held, Limit: s.limitOf(f.Port), All: s.allOf(f.Port), Limits: s.limitsOf(f.Port), From: f.From,
		Rig: s.rigFor(f.Port), Trace: tr, ShutAt: shutAt,
	}, true
}

// TroubleWords says what a code that a source told means, in a few words.
func TroubleWords(code string) string { return source.Code(code).Words() }

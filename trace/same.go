package trace

import (
	"math"
	"strings"
)

// Same says whether two traces are the same recording under two names: as many
// points, and every time and value the same but for rounding (1e-9). Readings by
// eye are so few and so round that two tests may well agree: they are the same
// only where the files also say the same time of their start.
func Same(a, b *Trace) bool {
	if a.Kind != b.Kind || len(a.Hand) != len(b.Hand) || a.Len() != b.Len() {
		return false
	}
	if len(a.Hand) > 0 {
		if a.Header.Started == "" || a.Header.Started != b.Header.Started {
			return false
		}
		for i, h := range a.Hand {
			if h != b.Hand[i] {
				return false
			}
		}
		return true
	}
	for i, t := range a.Time {
		if !close9(t, b.Time[i]) || !close9(a.Value[i], b.Value[i]) {
			return false
		}
	}
	return a.Len() > 0
}

func close9(x, y float64) bool { return math.Abs(x-y) <= 1e-9*math.Max(math.Abs(x), math.Abs(y)) }

// Fields returns what a header says, by the words of the comment lines, in a
// fixed order; what it does not say is empty.
func (h Header) Fields() [][2]string {
	return [][2]string{{"rig", h.Rig}, {"port", h.Port}, {"held", h.Held}, {"gauge", h.Gauge}, {"state", h.State}, {"seat", h.Seat}}
}

// Contradicts returns the first field in which two headers say different things
// of what tests must have in common (rig, port, held, gauge, state, seat), and
// what each says. Case and blanks don't count, nor does what only one says.
func (h Header) Contradicts(other Header) (field, here, there string, ok bool) {
	theirs := other.Fields()
	for i, f := range h.Fields() {
		x, y := f[1], theirs[i][1]
		if x != "" && y != "" && !strings.EqualFold(strings.Join(strings.Fields(x), " "), strings.Join(strings.Fields(y), " ")) {
			return f[0], x, y, true
		}
	}
	return "", "", "", false
}

package head

import "seatproof/leak"

// A warning may put the figure itself in doubt. What it asks is seen to first,
// whatever the verdict: oil may hide a leak, and vapour shows one that is none.
// Rule: docs/model.md §9.

// doubt is what a warning that puts the figure in doubt means for a port.
type doubt struct {
	code leak.WarningCode
	step Step
	off  string // why the test does not count for the sign-off
}

// doubts are these warnings in the order in which they are seen to.
var doubts = []doubt{
	{leak.WetPort, Step{"dry the port, then vent and pull until five pulls give the same", "Until then vapour is in its figure, which may be far too large. Never pump a port that is wet with fuel or solvent."}, "the port was wet"},
	{leak.HoldBreaks, Step{"wipe seat, stem and guide dry and test again", "Something held the leak back and then let go: oil most often. If the gauge has a needle, tap it first."}, "its hold breaks"},
	{leak.Oiled, Step{"wipe seat, stem and guide dry and test again", "A film of oil may close a leak for longer than a hold lasts, so this test does not count."}, "oiled"},
	{leak.FallStops, Step{"dry the port, then vent and pull five times", "Until then don't trust its figure. A leak stays the same from pull to pull; vapour gets less."}, "its fall stops"},
	{leak.Slowing, Step{"hold a blank for as long, after the same pull", "What falls there is the rig's: take a firmer pad, a shorter or stiffer hose, or pull longer before the shut-off."}, "its fall slows down"},
	{leak.Drift, Step{"wait until the head is at the room's temperature and the gauge has warmed up, then blank the rig and test again", "Keep the door shut: the room's air pressure counts too."}, "the gauge drifts"},
}

// Doubts returns the warnings that put a figure in doubt, in the order in which
// they are seen to; the caller owns the slice.
func Doubts() []leak.WarningCode {
	out := make([]leak.WarningCode, 0, len(doubts))
	for _, d := range doubts {
		out = append(out, d.code)
	}
	return out
}

// Doubt returns the warning of a reading that puts its figure in doubt and the
// step that it asks; "" where there is none, and for no reading.
func Doubt(r *leak.Reading) (leak.WarningCode, Step) {
	if d := doubtOf(r); d != nil {
		return d.code, d.step
	}
	return "", Step{}
}

func doubtOf(r *leak.Reading) *doubt {
	if r == nil || r.Refusal != nil {
		return nil
	}
	for i := range doubts {
		for _, w := range r.Warnings {
			if w.Code == doubts[i].code {
				return &doubts[i]
			}
		}
	}
	return nil
}

// seenTo returns the tests of a group that are read, and those whose doubt a
// later test without one has settled: they stay on file and speak no more. A
// doubt later than all others stands, for a film of oil shows when it lets go.
func (g *group) seenTo() (read, settled []*Tested) {
	last := -1
	for i, t := range g.tests {
		if t.answers() && doubtOf(t.Reading) == nil {
			last = i
		}
	}
	for i, t := range g.tests {
		if i < last && t.answers() && doubtOf(t.Reading) != nil {
			settled = append(settled, t)
		} else {
			read = append(read, t)
		}
	}
	return read, settled
}

// doubt returns what puts the answer of a port in doubt, nil for nothing: the
// reading that speaks, or a masked one that its valves are cleared by.
func (w *portWork) doubt() *doubt {
	if w.speaks != nil {
		if d := doubtOf(w.speaks.reading); d != nil {
			return d
		}
	}
	for _, g := range w.masked {
		if d := doubtOf(g.reading); d != nil {
			return d
		}
	}
	return nil
}

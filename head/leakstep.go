package head

import (
	"seatproof/limit"
	"seatproof/rig"
)

// leakStep is the next step about a port that leaks: what costs nothing first,
// metal last. The order is: dry and clean; the plate put down again; the valve
// turned and dropped; the guide closed off at its top; of several valves, one
// masked; then the seat. A step is done when a test since the last work says so.
func (j *Job) leakStep(w *portWork) Step {
	e := w.era()
	did := func(done func(t *Tested) bool) bool {
		for i, t := range e.tests {
			if t.answers() && done(e.tests[i]) {
				return true
			}
		}
		return false
	}
	several := len(w.port.Valves) > 1
	switch {
	case !did(func(t *Tested) bool {
		return t.Conditions.Wet == rig.WetNothing && e.state != StateNotSaid && e.state != StateAsFound
	}):
		return dryAndClean(w)
	case !did(func(t *Tested) bool { return t.Conditions.Placed && t != e.tests[0] }):
		return Step{"put the plate down again, turned and greased, then test", "A port's face is never as flat and clean as a blank: only that rules the plate out."}
	case !did(func(t *Tested) bool { return t.Conditions.Turned && t != e.tests[0] }):
		return Step{"turn " + plural(len(w.port.Valves), "the valve and drop it", "the valves and drop them") + ", then test", "A valve that seats otherwise when it is turned is bent, or had a speck under it."}
	case !did(func(t *Tested) bool { return t.Conditions.Guide == GuideClosed }):
		return Step{"close the " + plural(len(w.port.Valves), "guide", "guides") + " off at the top, then test", "What comes past a stem leaks into the same port and is no fault of the seat."}
	case w.guideLeaks():
		return Step{"see to " + plural(len(w.port.Valves), "the guide and its seal", "the guides and their seals") + ", then test", "With the guide closed off the port holds: the seat is not to blame."}
	case several && w.oneOf && w.toMask() != "":
		return Step{"mask the " + j.valveOf(w.port, w.toMask()) + ", then test again", "At least one of its valves leaks: a mask tells which."}
	}
	return j.metalStep(w)
}

// guideLeaks says whether the port holds with its guide closed off.
func (w *portWork) guideLeaks() bool {
	for i := range w.groups {
		g := &w.groups[i]
		if g.like.guide == GuideClosed && g.like.masked == "" && !g.like.wetted() && g.verdict == limit.Holds {
			return true
		}
	}
	return false
}

// wideBand is how wide a contact [m] is called wide: lapping widens it further.
// Common practice, no source.
const wideBand = 2e-3

// metalStep is the last step: work on the seat, by what the valves bear.
func (j *Job) metalStep(w *portWork) Step {
	var leaking []*Valve
	for _, id := range w.port.Valves {
		if v := j.valve(id); v != nil && w.valves[id] == Leaks {
			leaking = append(leaking, v)
		}
	}
	const then = ", log it, then test"
	reason := "Dry, clean, plate, turn and guide were each tried since the last work. The engine maker's manual comes first."
	bare := true
	for _, v := range leaking {
		switch v.Coating {
		case CoatingHard, CoatingNitrided, CoatingTitanium, CoatingHollow:
			return Step{"true the seat, or replace the valve" + then, "Don't lap: " + j.ValveName(v.ID) + " is " + string(v.Coating) + ". " + reason}
		case CoatingNone:
		default:
			bare = false
		}
		if v.Contact.Known && v.Contact.Value > wideBand {
			return Step{"narrow the band with top and throat cuts" + then, "A contact of " + mm(v.Contact.Value) + " is wide, and lapping widens it. " + reason}
		}
	}
	if bare {
		return Step{"lap the seat lightly, or cut it" + then, reason}
	}
	return Step{"true the seat" + then, "It is not said what the valve is made of: a coated, nitrided, titanium or hollow one is never lapped. " + reason}
}

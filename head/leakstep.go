package head

import (
	"slices"

	"seatproof/limit"
)

// leakStep is the next step about a port that leaks: what costs nothing first,
// metal last. The order is: dry and clean; the plate put down again; the valve
// turned and dropped; the guide closed off at its top; of several valves, masks;
// then the seat. A step is done when a test since the last work says so. No cause
// is read from the curve.
func (j *Job) leakStep(w *portWork) Step {
	n := len(w.port.Valves)
	var missing ground
	for _, g := range grounds {
		if len(w.shows(g)) == 0 {
			missing = g
			break
		}
	}
	switch missing.code {
	case groundClean:
		return dryAndClean(w)
	case groundPlate:
		return Step{"put the plate down again, turned and greased, then test", "A port's face is never as flat and clean as a blank: only that rules the plate out."}
	case groundTurned:
		return Step{"turn " + plural(n, "the valve and drop it", "the valves and drop them") + ", then test", "A leak that goes, or changes much, was a speck or lies in how the valve sits; one that stays is looked for further."}
	case groundGuide:
		return Step{"close the " + plural(n, "guide", "guides") + " off at the top, then test", "What comes past a stem leaks into the same port and is no fault of the seat." + w.guideSentence()}
	}
	if w.guideLeaks() {
		return Step{"see to " + plural(n, "the guide and its seal", "the guides and their seals") + ", then test", "With the guide closed off the port holds: the seat is not to blame."}
	}
	if w.oneOf && n > 1 {
		if step, ok := j.maskStep(w, "At least one of its valves leaks: masks tell which."); ok {
			return step
		}
	}
	if n > 1 && w.leaking() == nil && (w.apart == nil || w.apart.Rest == nil) {
		w.mask = slices.Clone(w.port.Valves)
		return Step{
			"mask " + j.maskNames(w.port, w.mask) + ", then test again",
			"No test was made with every seat masked, so what leaks may come by " + otherOpenings + ": that is told before metal is touched.",
		}
	}
	if w.leaking() == nil {
		if a := w.apart; a.restLeaks() && (a.Rest == nil || limit.Judge(a.Rest.Over, a.strict) != limit.Leaks) {
			return Step{"see to the guides and their seals, then test", "By the tests with them closed off and open they pass " + flowFig(a.Guides.Leak.Median) + " cm³/min, and no valve is over its limit by what was told."}
		}
		return Step{"look for what is left: " + otherOpenings, "With the seats masked it still leaks: no cut of a seat mends that."}
	}
	return j.metalStep(w)
}

// guideSentence forecasts the guides' leak, unless a test with every seat masked
// measured more than them already.
func (w *portWork) guideSentence() string {
	if a := w.apart; a != nil && a.Rest != nil {
		return ""
	}
	return w.card.Guide.sentence(len(w.port.Valves))
}

// otherOpenings are what may leak where every seat is sealed off.
const otherOpenings = "guide, insert, crack, plate or another opening"

// leaking returns the valves of a port that leak, or of which one does.
func (w *portWork) leaking() (ids []string) {
	for _, id := range w.port.Valves {
		if w.valves[id] == Leaks {
			ids = append(ids, id)
		}
	}
	return ids
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
	for _, id := range w.leaking() {
		if v := j.valve(id); v != nil {
			leaking = append(leaking, v)
		}
	}
	const then = ", log it, then test"
	reason := "Dry, clean, plate, turn and guide were each tried since the last work. The engine maker's manual comes first."
	seat := "the seat"
	if n := len(leaking); n > 0 && n < len(w.port.Valves) {
		ids := make([]string, n)
		for i, v := range leaking {
			ids[i] = v.ID
		}
		seat = plural(n, "the seat of ", "the seats of ") + j.maskNames(w.port, ids)
	}
	bare := len(leaking) > 0
	for _, v := range leaking {
		switch v.Coating {
		case CoatingHard, CoatingNitrided, CoatingTitanium, CoatingHollow:
			return Step{"true " + seat + ", or replace the valve" + then, "Don't lap: " + j.ValveName(v.ID) + " is " + string(v.Coating) + ". " + reason}
		case CoatingNone:
		default:
			bare = false
		}
		if v.Contact.Known && v.Contact.Value > wideBand {
			return Step{"narrow the band with top and throat cuts" + then, "A contact of " + mm(v.Contact.Value) + " is wide, and lapping widens it. " + reason}
		}
	}
	if bare {
		for _, v := range leaking {
			if !v.Contact.Known {
				reason = "How wide its contact is was not said: a wide one is narrowed with top and throat cuts, for lapping widens it. " + reason
				break
			}
		}
		return Step{"lap " + seat + " lightly, or cut it" + then, reason}
	}
	return Step{"true " + seat + then, "It is not said what the valve is made of: a coated, nitrided, titanium or hollow one is never lapped. " + reason}
}

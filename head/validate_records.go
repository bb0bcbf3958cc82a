package head

import (
	"slices"
	"strings"

	"seatproof/rig"
)

// Validate returns all that is wrong in a test.
func (t *Test) Validate() Faults {
	var f Faults
	if t.PortID != "" && t.JobID == "" {
		f.add("job", "the test names port %s of no head: name the head, or put it into the tray", t.PortID)
	}
	f.time(t.At, "when the test was made")
	f.text("by", "initials", t.By, 12)
	f.text("note", "note", t.Note, 10000)
	if !slices.Contains([]Source{FromFile, FromSession, FromCount, FromMarks, FromTable, FromSteady}, t.Source) {
		f.add("source", "%q is no source of a test: take file, count, marks, table or steady", t.Source)
	}
	f.under("conditions", t.Conditions.Validate())
	return f
}

// Validate returns all that is wrong in what is said of how a test was made.
func (c *Conditions) Validate() Faults {
	var f Faults
	oneOf(&f, "held", "no way to hold a valve", c.Held, rig.HeldNotSaid, rig.HeldNothing, rig.HeldThumb, rig.HeldLightSpring, rig.HeldOwnSpring)
	oneOf(&f, "wet_with", "no liquid that is known here", c.Wet, rig.WetNotSaid, rig.WetNothing, rig.WetOil, rig.WetWater, rig.WetIsopropanol, rig.WetPetrol, rig.WetAcetone, rig.WetWhiteSpirit)
	oneOf(&f, "guide", "no answer about a guide", c.Guide, GuideNotSaid, GuideOpen, GuideClosed)
	oneOf(&f, "plugged", "no answer", c.Plugged, NotSaid, Yes, No)
	oneOf(&f, "state", "no state of a port", c.State, StateNotSaid, StateAsFound, StateCleaned, StateCut, StateLapped, StateAssembled)
	for i, id := range c.Masked {
		if id == "" || slices.Contains(c.Masked[:i], id) {
			f.add(index("masked", i), "valve %q: name each masked valve once", id)
		}
	}
	return f
}

// Validate returns all that is wrong in an entry of work.
func (w *Work) Validate() Faults {
	var f Faults
	if w.JobID == "" {
		f.add("job", "the work is on no head: name the head")
	}
	f.time(w.At, "when the work was done")
	f.text("by", "initials", w.By, 12)
	f.text("note", "note", w.Note, 10000)
	oneOf(&f, "kind", "no kind of work that is known here", w.Kind, WorkCleaned, WorkLapped, WorkCut, WorkValveNew, WorkGuideNew, WorkSeatNew, WorkAssembled, WorkOther)
	for i, id := range w.Valves {
		if id == "" || slices.Contains(w.Valves[:i], id) {
			f.add(index("valves", i), "valve %q: name each valve once, or none for all of the head", id)
		}
	}
	return f
}

// UnknownValves returns a fault for each valve named in a field, of work or of
// masks, that the head does not have.
func (j *Job) UnknownValves(field string, valves []string) Faults {
	var f Faults
	for i, id := range valves {
		if j.valve(id) == nil {
			f.add(index(field, i), "the head has no valve %s: name one of its own", id)
		}
	}
	return f
}

// Validate returns all that is wrong in a rig as it is kept.
func (r *Rig) Validate() Faults {
	var f Faults
	if strings.TrimSpace(r.Name) == "" {
		f.add("name", "the rig has no name: call it by what stands on the bench")
	}
	f.text("name", "name", r.Name, 80)
	f.text("file", "rig file", r.File, 100000)
	return f
}

// Validate returns all that is wrong in a check of a rig.
func (c *Check) Validate() Faults {
	var f Faults
	if c.RigID == "" {
		f.add("rig", "the check is of no rig: name the rig")
	}
	f.time(c.At, "when the rig was checked")
	f.text("by", "initials", c.By, 12)
	f.text("words", "note", c.Words, 10000)
	oneOf(&f, "kind", "no kind of check", c.Kind, CheckKinds...)
	return f
}

func (f *Faults) time(at int64, what string) {
	if at <= 0 {
		f.add("at", "no date and time: say %s", what)
	}
}

// oneOf checks a word that must be one of a few.
func oneOf[T ~string](f *Faults, field, what string, got T, want ...T) {
	if slices.Contains(want, got) {
		return
	}
	var words []string
	for _, w := range want {
		if w != "" {
			words = append(words, string(w))
		}
	}
	f.add(field, "%q is %s: take one of %s", got, what, strings.Join(words, ", "))
}

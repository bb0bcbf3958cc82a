package head

import (
	"math"
	"slices"
)

// Validate returns all that is wrong or odd in a port by itself. What it has to
// do with cylinders and valves is checked by [Job.Validate].
func (p *Port) Validate() Faults {
	var f Faults
	f.text("id", "identity", p.ID, 40)
	if p.ID == "" {
		f.add("id", "the port has no identity: give it one of its own")
	}
	if len(p.Cylinders) == 0 {
		f.add("cylinders", "the port belongs to no cylinder: name the one it leads to, both of a siamesed port")
	}
	for i, n := range p.Cylinders {
		if slices.Contains(p.Cylinders[:i], n) {
			f.add(index("cylinders", i), "cylinder %d is named twice: name each once", n)
		}
	}
	f.side(p.Side)
	f.text("part", "part", p.Part, 30)
	if len(p.Valves) == 0 {
		f.add("valves", "the port feeds no valve: name those it leads to")
	}
	for i, v := range p.Valves {
		if slices.Contains(p.Valves[:i], v) {
			f.add(index("valves", i), "valve %s is named twice: name each once", v)
		}
	}
	for i, s := range p.Plugs {
		f.text(index("plugs", i), "opening", s, 60)
		if s == "" {
			f.add(index("plugs", i), "the opening has no name: write what must be plugged, such as injector hole")
		}
	}
	f.figure("volume", p.Volume, usualVolume)
	return f
}

// Validate returns all that is wrong or odd in a valve by itself.
func (v *Valve) Validate() Faults {
	var f Faults
	f.text("id", "identity", v.ID, 40)
	if v.ID == "" {
		f.add("id", "the valve has no identity: give it one of its own")
	}
	f.side(v.Side)
	f.text("place", "place", v.Place, 30)
	f.figure("head_diameter", v.Head, usualHead)
	f.figure("stem_diameter", v.Stem, usualStem)
	f.figure("contact_width", v.Contact, usualContact)
	f.figure("seat_angle", v.SeatAngle, usualAngle)
	f.figure("face_angle", v.FaceAngle, usualFace)
	f.figure("guide_length", v.Guide, usualGuide)
	f.figure("guide_clearance", v.Clearance, usualPlay)
	f.text("seal", "seal", v.Seal, 100)
	if !slices.Contains([]Coating{CoatingNotSaid, CoatingNone, CoatingHard, CoatingNitrided, CoatingTitanium, CoatingHollow}, v.Coating) {
		f.add("coating", "%q is no coating that is known here: take none, coated, nitrided, titanium or hollow", v.Coating)
	}
	v.clashes(&f)
	return f
}

func (v *Valve) clashes(f *Faults) {
	h := v.Head
	if known(v.Stem) && known(h) {
		switch s := v.Stem; {
		case s.Value >= h.Value:
			f.add("stem_diameter", "a stem of %s is as thick as its head, %s: check both", mm(s.Value), mm(h.Value))
		case s.Value > 0.45*h.Value && !f.has("stem_diameter"):
			f.ask("stem_diameter", "", "a stem of %s is thick for a head of %s, a fifth of it is common: check both", mm(s.Value), mm(h.Value))
		}
	}
	if known(v.Contact) && known(h) && v.Contact.Value > 0.2*h.Value && !f.has("contact_width") {
		f.ask("contact_width", usualContact.maybe(v.Contact.Value), "a contact %s wide on a valve head of %s: give the width of the bright band, not the seat's", mm(v.Contact.Value), mm(h.Value))
	}
	if s, a := v.SeatAngle, v.FaceAngle; known(s) && known(a) && math.Abs(s.Value-a.Value) > 3*degree {
		f.ask("face_angle", "", "face %s° and seat %s° do not meet, they differ by 0 to 1° as a rule: give both from the same plane", fig(a.Value/degree), fig(s.Value/degree))
	}
	if c, s := v.Clearance, v.Stem; known(c) && known(s) && c.Value > 0.1*s.Value {
		f.add("guide_clearance", "a clearance of %s is far too much on a stem of %s: give bore less stem", mm(c.Value), mm(s.Value))
	}
}

func (f *Faults) side(s Side) {
	if s != Intake && s != Exhaust {
		f.add("side", "%q is no side: take intake or exhaust", s)
	}
}

// portFaults checks the ports, and what they say of cylinders and valves.
func (j *Job) portFaults(f *Faults) {
	cyl := j.Engine.cylinders()
	fedBy := map[string]string{}
	for i := range j.Ports {
		p := &j.Ports[i]
		at := index("ports", i)
		f.under(at, p.Validate())
		for k := range j.Ports[:i] {
			if o := &j.Ports[k]; o.ID == p.ID && p.ID != "" {
				f.add(at+".id", "port %s is there twice: each has an identity of its own", p.ID)
			} else if o.Side == p.Side && o.Part == p.Part && slices.Equal(o.Cylinders, p.Cylinders) {
				f.add(at+".part", "two ports are called %s: say which is left and which right", j.PortName(p.ID))
			}
		}
		for k, n := range p.Cylinders {
			if !slices.Contains(cyl, n) {
				f.add(at+"."+index("cylinders", k), "the head has no cylinder %d: it has %s", n, list(cyl))
			}
		}
		for k, id := range p.Valves {
			v := j.valve(id)
			field := at + "." + index("valves", k)
			switch {
			case v == nil:
				f.add(field, "there is no valve %s: name one of the head's", id)
			case v.Side != p.Side:
				f.add(field, "%s is on the port %s: put it on a port of its own side", j.ValveName(id), j.PortName(p.ID))
			case !slices.Contains(p.Cylinders, v.Cylinder):
				f.add(field, "%s is not of the cylinder of %s: name another valve, or the cylinder too", j.ValveName(id), j.PortName(p.ID))
			case fedBy[id] != "" && fedBy[id] != p.ID:
				f.add(field, "%s is fed by %s too: a valve has one port", j.ValveName(id), j.PortName(fedBy[id]))
			}
			fedBy[id] = p.ID
		}
	}
}

// valveFaults checks the valves, and that each has a port.
func (j *Job) valveFaults(f *Faults) {
	cyl := j.Engine.cylinders()
	for i := range j.Valves {
		v := &j.Valves[i]
		at := index("valves", i)
		f.under(at, v.Validate())
		if !slices.Contains(cyl, v.Cylinder) {
			f.add(at+".cylinder", "the head has no cylinder %d: it has %s", v.Cylinder, list(cyl))
		}
		for k := range j.Valves[:i] {
			if o := &j.Valves[k]; o.ID == v.ID && v.ID != "" {
				f.add(at+".id", "valve %s is there twice: each has an identity of its own", v.ID)
			} else if o.Cylinder == v.Cylinder && o.Side == v.Side && o.Place == v.Place {
				f.add(at+".place", "two valves are called %s: say which is left and which right", j.ValveName(v.ID))
			}
		}
		if len(j.Ports) > 0 && j.portOf(v.ID) == nil && v.ID != "" {
			f.add(at+".id", "%s has no port: put it on one, or take it out", j.ValveName(v.ID))
		}
	}
}

// fitFaults questions valves that do not fit their bore, alone or side by side.
// Where every valve whose head is given is too large, it is the bore that is
// asked about.
func (j *Job) fitFaults(f *Faults) {
	b := j.Engine.Bore
	if !known(b) {
		return
	}
	given, over, largest := 0, 0, 0
	for i := range j.Valves {
		if h := j.Valves[i].Head; known(h) {
			if given == 0 || h.Value > j.Valves[largest].Head.Value {
				largest = i
			}
			given++
			if h.Value >= b.Value {
				over++
			}
		}
	}
	if over > 0 && over == given {
		v := &j.Valves[largest]
		guess := v.Head.Value / j.usualShare(v)
		u := usualBore
		u.low, u.high = 0.75*guess, 1.25*guess
		maybe := u.maybe(b.Value)
		if maybe == "" {
			maybe = "about " + fig(math.Round(guess*1e3)) + " mm"
		}
		replace(f, "engine.bore", Fault{"engine.bore", "a " + mm(v.Head.Value) + " valve does not fit a " + mm(b.Value) + " bore: check both", maybe, false})
		return
	}
	for i := range j.Valves {
		if h := j.Valves[i].Head; known(h) && h.Value >= b.Value {
			field := index("valves", i) + ".head_diameter"
			replace(f, field, Fault{field, "a " + mm(h.Value) + " valve does not fit a " + mm(b.Value) + " bore: check both", j.headMaybe(&j.Valves[i]), false})
		}
	}
	for _, n := range j.Engine.cylinders() {
		j.besideFaults(f, n)
	}
}

// besideFaults questions two valves of a cylinder that do not fit side by side,
// and more that do not fit together. Valves that stand at an angle to each other
// may overlap a little in plan: 5 % is let pass. Circles of a circle cover 69 %
// of it at most with four and five (Graham 1968, from memory).
func (j *Job) besideFaults(f *Faults, cylinder int) {
	b := j.Engine.Bore.Value
	var in []int
	area := 0.0
	for i := range j.Valves {
		if v := &j.Valves[i]; v.Cylinder == cylinder && known(v.Head) && v.Head.Value < b {
			in = append(in, i)
			area += v.Head.Value * v.Head.Value
		}
	}
	for k, i := range in {
		for _, o := range in[:k] {
			v, w := &j.Valves[i], &j.Valves[o]
			if v.Head.Value+w.Head.Value > 1.05*b {
				f.ask(index("valves", i)+".head_diameter", j.headMaybe(v), "valves of %s and %s do not fit side by side in a %s bore: check all three", mm(w.Head.Value), mm(v.Head.Value), mm(b))
				return
			}
		}
	}
	if len(in) > 2 && area > 0.76*b*b {
		i := in[len(in)-1]
		f.ask(index("valves", i)+".head_diameter", j.headMaybe(&j.Valves[i]), "the %d valves of cylinder %d do not fit together in a %s bore: check their heads and the bore", len(in), cylinder, mm(b))
	}
}

// headMaybe says what a valve's head may have been: a slip that would fit, else
// the size that is common for the bore.
func (j *Job) headMaybe(v *Valve) string {
	u := usualHead
	guess := j.Engine.Bore.Value * j.usualShare(v)
	u.low, u.high = max(u.low, 0.75*guess), 1.25*guess
	if m := u.maybe(v.Head.Value); m != "" {
		return m
	}
	return "about " + fig(math.Round(guess*1e3)) + " mm"
}

// replace puts a fault in the place of those at its field.
func replace(f *Faults, field string, with Fault) {
	at := slices.IndexFunc(*f, func(x Fault) bool { return x.Field == field })
	if at < 0 {
		*f = append(*f, with)
		return
	}
	rest := slices.DeleteFunc(slices.Clone((*f)[at:]), func(x Fault) bool { return x.Field == field })
	*f = append(append((*f)[:at:at], with), rest...)
}

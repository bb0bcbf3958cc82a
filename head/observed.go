package head

import (
	"maps"
	"slices"
	"strings"
)

// Observed is what another test of the same leak showed: a leak-down test, a liquid
// in the port, a cranking gauge, a needle. It is kept as it was typed, so that it can
// be read anew, and outlives rework as a test does: see [Job.ObservedLapsed].
type Observed struct {
	ID       string            `json:"id"`
	JobID    string            `json:"job"`
	Kind     ObservedKind      `json:"kind"`
	Cylinder int               `json:"cylinder,omitempty"` // as its maker counts; 0: of a port
	PortID   string            `json:"port,omitempty"`     // "": of a cylinder
	At       int64             `json:"at"`                 // ms since 1970 UTC, when it was seen
	By       string            `json:"by"`                 // initials
	Fields   map[string]string `json:"fields"`             // what was typed, as it was, with its units
	Note     string            `json:"note,omitempty"`
}

// ObservedKind is which other test it was.
type ObservedKind string

// The kinds. Leak-down and cranking are of a cylinder, liquid and needle of a port.
const (
	ObservedLeakDown ObservedKind = "leak-down"
	ObservedLiquid   ObservedKind = "liquid"
	ObservedCranking ObservedKind = "cranking"
	ObservedNeedle   ObservedKind = "needle"
)

// OfCylinder says whether the test is of a cylinder; else it is of a port.
func (k ObservedKind) OfCylinder() bool { return k == ObservedLeakDown || k == ObservedCranking }

// ObservedFields are the fields of each kind, by their keys.
var ObservedFields = map[ObservedKind][]string{
	ObservedLeakDown: {"second", "supply", "restrictor", "orifice", "known_leak", "known_second"},
	ObservedLiquid:   {"liquid", "height", "seen", "after"},
	ObservedCranking: {"reading"},
	ObservedNeedle:   {"below", "free_flow", "blanked"},
}

// Validate returns all that is wrong in an observed figure; what its fields say is
// for whoever reads them.
func (o *Observed) Validate() Faults {
	var f Faults
	if o.JobID == "" {
		f.add("job", "what was seen is on no head: name the head")
	}
	f.time(o.At, "when it was seen")
	f.text("by", "initials", o.By, 12)
	f.text("note", "note", o.Note, 10000)
	kinds := slices.Sorted(maps.Keys(ObservedFields))
	oneOf(&f, "kind", "no other test that is known here", o.Kind, kinds...)
	switch {
	case f.has("kind"):
	case o.Kind.OfCylinder() && (o.Cylinder <= 0 || o.PortID != ""):
		f.add("cylinder", "a %s test is of a cylinder: say of which, and of no port", o.Kind)
	case !o.Kind.OfCylinder() && (o.PortID == "" || o.Cylinder != 0):
		f.add("port", "a test by %s is of a port: say of which, and of no cylinder", o.Kind)
	}
	for _, key := range slices.Sorted(maps.Keys(o.Fields)) {
		if !f.has("kind") && !slices.Contains(ObservedFields[o.Kind], key) {
			f.add("fields", "%q is no field of a %s test: it has %s", key, o.Kind, strings.Join(ObservedFields[o.Kind], ", "))
		}
		f.text("fields."+key, key, o.Fields[key], 200)
	}
	return f
}

// CylinderPorts returns the ports that feed a cylinder, in their order.
func (j *Job) CylinderPorts(cylinder int) []*Port {
	var out []*Port
	for i := range j.Ports {
		if slices.Contains(j.Ports[i].Cylinders, cylinder) {
			out = append(out, &j.Ports[i])
		}
	}
	return out
}

// ObservedOn returns the ports that an observed figure speaks of: none where port or
// cylinder are gone.
func (j *Job) ObservedOn(o *Observed) []*Port {
	if o.Kind.OfCylinder() {
		return j.CylinderPorts(o.Cylinder)
	}
	for i := range j.Ports {
		if j.Ports[i].ID == o.PortID {
			return []*Port{&j.Ports[i]}
		}
	}
	return nil
}

// ObservedLapsed returns when the valves that an observed figure speaks of were
// first worked on since, or grouped otherwise [ms since 1970 UTC]; 0: they were not,
// and it still speaks of the head as it is.
func (j *Job) ObservedLapsed(o *Observed, work []Work) int64 {
	first := int64(0)
	since := func(at int64) {
		if at > o.At && (first == 0 || at < first) {
			first = at
		}
	}
	for _, p := range j.ObservedOn(o) {
		since(p.Since)
		for i := range work {
			w := &work[i]
			if len(w.Valves) == 0 || slices.ContainsFunc(w.Valves, func(v string) bool { return j.serves(p, v, o) }) {
				since(w.At)
			}
		}
	}
	return first
}

// serves says whether a port feeds a valve, of the cylinder where one is named.
func (j *Job) serves(p *Port, valve string, o *Observed) bool {
	if !slices.Contains(p.Valves, valve) {
		return false
	}
	v := j.valve(valve)
	return o.Cylinder == 0 || v == nil || v.Cylinder == o.Cylinder
}

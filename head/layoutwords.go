package head

import (
	"fmt"
	"strconv"
	"strings"
)

// LayoutWords says a head's layout in words, to be checked against the metal
// before it is booked in: "4 cylinders in line: 1, 2, 3 and 4. 16 valves, 8 ports.
// Intake: a port for each cylinder, of 2 valves. …".
func (j *Job) LayoutWords() string {
	cyl := j.Engine.cylinders()
	s := fmt.Sprintf("%d %s", len(cyl), plural(len(cyl), "cylinder", "cylinders"))
	switch j.Engine.Form {
	case FormInline:
		s += plural(len(cyl), "", " in line")
	case FormVee:
		s += " of one bank of a vee"
	case FormFlat:
		s += " of one bank of a flat engine"
	}
	s += fmt.Sprintf(": %s. %d %s, %d %s.", list(cyl), len(j.Valves), plural(len(j.Valves), "valve", "valves"), len(j.Ports), plural(len(j.Ports), "port", "ports"))
	for _, side := range []Side{Intake, Exhaust} {
		s += " " + capital(string(side)) + ": " + j.sideWords(side) + "."
	}
	if j.Engine.SameSide {
		s += " Intake and exhaust ports open on one side."
	}
	return s
}

// sideWords says how the ports of a side go.
func (j *Job) sideWords(side Side) string {
	var ports []*Port
	for i := range j.Ports {
		if j.Ports[i].Side == side {
			ports = append(ports, &j.Ports[i])
		}
	}
	if len(ports) == 0 {
		return "no port"
	}
	alike := true
	perCylinder := map[int]int{}
	for _, p := range ports {
		alike = alike && len(p.Cylinders) == 1 && len(p.Valves) == len(ports[0].Valves)
		perCylinder[first(p.Cylinders)]++
	}
	n := len(ports[0].Valves)
	for _, c := range j.Engine.cylinders() {
		alike = alike && perCylinder[c] == perCylinder[first(ports[0].Cylinders)]
	}
	switch k := perCylinder[first(ports[0].Cylinders)]; {
	case alike && k == 1 && n == 1:
		return "a port for each cylinder, of 1 valve"
	case alike && k == 1:
		return fmt.Sprintf("a port for each cylinder, of %d valves", n)
	case alike && n == 1:
		return fmt.Sprintf("%d ports for each cylinder, one a valve", k)
	}
	var words []string
	for _, p := range ports {
		of := "cylinder " + list(p.Cylinders) + " has one"
		if len(p.Cylinders) > 1 {
			of = "cylinders " + list(p.Cylinders) + " share one"
		}
		if p.Part != "" {
			of += ", " + j.lying(p.Part)
		}
		words = append(words, of+" of "+strconv.Itoa(len(p.Valves))+" "+plural(len(p.Valves), "valve", "valves"))
	}
	return strings.Join(words, "; ")
}

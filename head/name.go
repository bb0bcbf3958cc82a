package head

import (
	"slices"
	"strconv"
	"strings"
)

// PortName names a port in words as it lies before the person: "cylinder 3
// intake", "cylinders 2 and 3 exhaust", "cylinder 1 intake, left port". Every
// port of a sound job has a name of its own.
func (j *Job) PortName(id string) string {
	p := j.port(id)
	if p == nil {
		return "no port"
	}
	name := "cylinder " + list(p.Cylinders) + " " + string(p.Side)
	if len(p.Cylinders) > 1 {
		name = "cylinders " + list(p.Cylinders) + " " + string(p.Side)
	}
	if p.Part != "" {
		name += ", " + j.lying(p.Part) + " port"
	}
	return name
}

// shortName names a port in a narrow place: "3 intake", "2 and 3 exhaust, left".
func (j *Job) shortName(p *Port) string {
	name := list(p.Cylinders) + " " + string(p.Side)
	if p.Part != "" {
		name += ", " + j.lying(p.Part)
	}
	return name
}

// ValveName names a valve in words as it lies: "cylinder 3 intake valve,
// left".
func (j *Job) ValveName(id string) string {
	v := j.valve(id)
	if v == nil {
		return "no valve"
	}
	name := "cylinder " + strconv.Itoa(v.Cylinder) + " " + string(v.Side) + " valve"
	if v.Place != "" {
		name += ", " + j.lying(v.Place)
	}
	return name
}

// valveOf names a valve among those of its port: "left valve", "cylinder 2's
// valve", "valve".
func (j *Job) valveOf(p *Port, id string) string {
	v := j.valve(id)
	if v == nil {
		return "valve"
	}
	name := "valve"
	if v.Place != "" {
		name = j.lying(v.Place) + " valve"
	}
	if len(p.Cylinders) > 1 {
		name += " of cylinder " + strconv.Itoa(v.Cylinder)
	}
	return name
}

// lying turns left and right, said with the maker's first end at the left, to
// how the head lies.
func (j *Job) lying(place string) string {
	if !j.Lie.Said || j.Lie.FirstLeft {
		return place
	}
	switch place {
	case "left":
		return "right"
	case "right":
		return "left"
	}
	return place
}

// list writes numbers in words: "1", "1 and 2", "1, 2 and 3".
func list(n []int) string {
	words := make([]string, len(n))
	for i := range n {
		words[i] = strconv.Itoa(n[i])
	}
	return and(words)
}

// and joins words: "a", "a and b", "a, b and c".
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// capital makes the first letter of a sentence large.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (j *Job) port(id string) *Port {
	for i := range j.Ports {
		if j.Ports[i].ID == id {
			return &j.Ports[i]
		}
	}
	return nil
}

func (j *Job) valve(id string) *Valve {
	for i := range j.Valves {
		if j.Valves[i].ID == id {
			return &j.Valves[i]
		}
	}
	return nil
}

// portOf returns the port that feeds a valve, nil where none does.
func (j *Job) portOf(valve string) *Port {
	for i := range j.Ports {
		if slices.Contains(j.Ports[i].Valves, valve) {
			return &j.Ports[i]
		}
	}
	return nil
}

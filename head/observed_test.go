package head

import (
	"slices"
	"strings"
	"testing"
)

func TestObservedValidate(t *testing.T) {
	good := Observed{JobID: "j", Kind: ObservedLeakDown, Cylinder: 2, At: 5, By: "M.K.", Fields: map[string]string{"second": "72 psi", "supply": "80 psi", "restrictor": "0.040"}}
	if f := good.Validate(); len(f) > 0 {
		t.Errorf("a good one: %v", f)
	}
	liquid := Observed{JobID: "j", Kind: ObservedLiquid, PortID: "p1", At: 5, Fields: map[string]string{"liquid": "kerosene", "seen": "dry", "after": "60 s"}}
	if f := liquid.Validate(); len(f) > 0 {
		t.Errorf("a good one: %v", f)
	}
	for field, change := range map[string]func(*Observed){
		"job":           func(o *Observed) { o.JobID = "" },
		"at":            func(o *Observed) { o.At = 0 },
		"by":            func(o *Observed) { o.By = strings.Repeat("x", 13) },
		"note":          func(o *Observed) { o.Note = strings.Repeat("x", 10001) },
		"kind":          func(o *Observed) { o.Kind = "by ear" },
		"cylinder":      func(o *Observed) { o.Cylinder = 0 },
		"port":          func(o *Observed) { o.Kind, o.Fields = ObservedNeedle, nil },
		"fields":        func(o *Observed) { o.Fields = map[string]string{"seen": "dry"} },
		"fields.second": func(o *Observed) { o.Fields = map[string]string{"second": strings.Repeat("1", 201)} },
	} {
		o := good
		change(&o)
		if f := o.Validate(); len(f) != 1 || !f.has(field) || f[0].What == "" {
			t.Errorf("%s: %v", field, f)
		}
	}
}

// A figure lapses with work on the valves it speaks of, after it was seen: of the
// cylinder alone where two share a port.
func TestObservedLapsed(t *testing.T) {
	j := Job{
		Ports: []Port{
			{ID: "p1", Cylinders: []int{1, 2}, Valves: []string{"v1", "v2"}},
			{ID: "p2", Cylinders: []int{1}, Valves: []string{"v3"}},
			{ID: "p3", Cylinders: []int{2}, Valves: []string{"v4"}, Since: 40},
		},
		Valves: []Valve{{ID: "v1", Cylinder: 1}, {ID: "v2", Cylinder: 2}, {ID: "v3", Cylinder: 1}, {ID: "v4", Cylinder: 2}},
	}
	one := Observed{Kind: ObservedLeakDown, Cylinder: 1, At: 10}
	for _, c := range []struct {
		name string
		o    Observed
		work []Work
		want int64
	}{
		{"nothing done", one, nil, 0},
		{"before", one, []Work{{At: 9}}, 0},
		{"the whole head", one, []Work{{At: 12}}, 12},
		{"its own valve, the first of two", one, []Work{{At: 30, Valves: []string{"v3"}}, {At: 20, Valves: []string{"v1"}}}, 20},
		{"the neighbour's valve on the shared port", one, []Work{{At: 20, Valves: []string{"v2"}}}, 0},
		{"a liquid in the shared port speaks of both", Observed{Kind: ObservedLiquid, PortID: "p1", At: 10}, []Work{{At: 20, Valves: []string{"v2"}}}, 20},
		{"grouped otherwise", Observed{Kind: ObservedCranking, Cylinder: 2, At: 10}, nil, 40},
		{"a port that is gone", Observed{Kind: ObservedNeedle, PortID: "p9", At: 10}, []Work{{At: 20}}, 0},
	} {
		if got := j.ObservedLapsed(&c.o, c.work); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
	if got := j.CylinderPorts(1); len(got) != 2 || !slices.Contains([]string{"p1"}, got[0].ID) {
		t.Errorf("ports of cylinder 1: %v", got)
	}
}

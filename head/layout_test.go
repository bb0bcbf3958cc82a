package head

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"seatproof/unit"
)

// One line a port: cylinders, side, part, valves.
func portLines(j *Job) []string {
	var out []string
	for _, p := range j.Ports {
		line := fmt.Sprint(p.Cylinders, " ", p.Side)
		if p.Part != "" {
			line += " " + p.Part
		}
		out = append(out, fmt.Sprintf("%s: %d", line, len(p.Valves)))
	}
	return out
}

func TestLayouts(t *testing.T) {
	for _, c := range []struct {
		name   string
		scheme Scheme
		valves int
		ports  []string
	}{
		{"inline twin, four valves", Scheme{Form: FormInline, Cylinders: 2, Valves: 4}, 8,
			[]string{"[1] intake: 2", "[1] exhaust: 2", "[2] intake: 2", "[2] exhaust: 2"}},
		{"single, one port a valve", Scheme{Cylinders: 1, Valves: 4, Intake: PortValve, Exhaust: PortValve}, 4,
			[]string{"[1] intake left: 1", "[1] intake right: 1", "[1] exhaust left: 1", "[1] exhaust right: 1"}},
		{"three valves", Scheme{Cylinders: 1, Valves: 3}, 3, []string{"[1] intake: 2", "[1] exhaust: 1"}},
		{"five valves, own exhaust ports", Scheme{Cylinders: 1, Valves: 5, Exhaust: PortValve}, 5,
			[]string{"[1] intake: 3", "[1] exhaust left: 1", "[1] exhaust right: 1"}},
		{"siamesed, on one side", Scheme{Cylinders: 4, Valves: 2, Intake: PortPairs, Exhaust: PortCentre, SameSide: true}, 8,
			[]string{"[1 2] intake: 2", "[1] exhaust: 1", "[2 3] exhaust: 2", "[3 4] intake: 2", "[4] exhaust: 1"}},
		{"an odd one is alone", Scheme{Cylinders: 3, Valves: 2, Intake: PortPairs, Exhaust: PortCentre}, 6,
			[]string{"[1 2] intake: 2", "[1] exhaust: 1", "[2] exhaust: 1", "[3] intake: 1", "[3] exhaust: 1"}},
		{"second bank of a vee", Scheme{Form: FormVee, Cylinders: 3, Valves: 2, Bank: 2}, 6,
			[]string{"[4] intake: 1", "[4] exhaust: 1", "[5] intake: 1", "[5] exhaust: 1", "[6] intake: 1", "[6] exhaust: 1"}},
		{"first bank, counted in turn", Scheme{Form: FormVee, Cylinders: 2, Valves: 2, Bank: 1, Count: CountTurns}, 4,
			[]string{"[1] intake: 1", "[1] exhaust: 1", "[3] intake: 1", "[3] exhaust: 1"}},
		{"second of a flat twin", Scheme{Form: FormFlat, Cylinders: 1, Valves: 2, Bank: 2, Count: CountTurns}, 2,
			[]string{"[2] intake: 1", "[2] exhaust: 1"}},
		{"numbers as the maker counts", Scheme{Form: FormVee, Cylinders: 2, Valves: 2, Numbers: []int{7, 3}}, 4,
			[]string{"[7] intake: 1", "[7] exhaust: 1", "[3] intake: 1", "[3] exhaust: 1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.scheme.Plugs = []string{"injector hole"}
			j, f := Layout(c.scheme)
			if len(f) > 0 {
				t.Fatal(f)
			}
			if got := portLines(&j); !slices.Equal(got, c.ports) {
				t.Errorf("ports\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.ports, "\n"))
			}
			if len(j.Valves) != c.valves {
				t.Errorf("%d valves, want %d", len(j.Valves), c.valves)
			}
			if f := j.Validate(); len(f) > 0 {
				t.Error(f)
			}
			for _, p := range j.Ports {
				if want := p.Side == Intake; want != (len(p.Plugs) == 1) {
					t.Errorf("%v plugs %v", p.Cylinders, p.Plugs)
				}
			}
		})
	}
}

func TestLayoutFaults(t *testing.T) {
	for _, c := range []struct {
		scheme Scheme
		field  string
		hard   bool
	}{
		{Scheme{Cylinders: 0, Valves: 4}, "cylinders", true},
		{Scheme{Cylinders: 17, Valves: 4}, "cylinders", true},
		{Scheme{Cylinders: 4, Valves: 6}, "valves", true},
		{Scheme{Cylinders: 4, Valves: 4, Form: "star"}, "form", true},
		{Scheme{Cylinders: 4, Valves: 4, Intake: "all"}, "intake", true},
		{Scheme{Cylinders: 4, Valves: 4, Bank: 3}, "bank", true},
		{Scheme{Cylinders: 4, Valves: 4, Numbers: []int{1, 2}}, "numbers", true},
		{Scheme{Cylinders: 4, Valves: 4, Plugs: []string{""}}, "plugs[0]", true},
		{Scheme{Cylinders: 4, Valves: 4, Bore: inMM(20), IntakeHead: inMM(35)}, "bore", false},
		{Scheme{Cylinders: 4, Valves: 4, Bore: inMM(86), IntakeHead: inMM(50)}, "intake_head", false},
		{Scheme{Cylinders: 4, Valves: 4, Bore: inMM(86), IntakeHead: inMM(34), ExhaustHead: inMM(50)}, "exhaust_head", false},
	} {
		j, f := Layout(c.scheme)
		if !f.has(c.field) {
			t.Errorf("%+v: %v", c.scheme, f)
		}
		if empty := len(j.Valves) == 0; empty != c.hard {
			t.Errorf("%+v: %d valves in spite of %v", c.scheme, len(j.Valves), f)
		}
	}
}

// Diameters that nobody gave are guessed, wide, and marked; a figure given for a
// side, or a like valve, or the bore, is gone by in that order. 72 mm and four
// valves give 27 and 23.8 mm (common practice, no source).
func TestGuessedHeads(t *testing.T) {
	j, _ := Layout(Scheme{Cylinders: 3, Valves: 4, Bore: inMM(72)})
	in, ex := &j.Valves[0], &j.Valves[2]
	d, guessed := j.HeadOr(in)
	if !guessed || math.Abs(d.Value-27e-3) > 1e-6 || math.Abs(d.Spread/d.Value-0.15) > 1e-9 {
		t.Errorf("intake %+v, guessed %v", d, guessed)
	}
	if d, _ := j.HeadOr(ex); math.Abs(d.Value-23.76e-3) > 1e-6 {
		t.Errorf("exhaust %+v", d)
	}
	j.Valves[4].Head = inMM(28) // of cylinder 2
	if d, guessed := j.HeadOr(in); !guessed || d.Value != 28e-3 || d.Spread > 2e-3 {
		t.Errorf("as the next cylinder's: %+v, %v", d, guessed)
	}
	if d, guessed := j.HeadOr(&j.Valves[4]); guessed || d.Value != 28e-3 {
		t.Errorf("given: %+v, %v", d, guessed)
	}
	// nothing known: wider still
	j, _ = Layout(Scheme{Cylinders: 3, Valves: 4})
	if d, guessed := j.HeadOr(&j.Valves[0]); !guessed || d.Spread < 0.25*d.Value {
		t.Errorf("%+v", d)
	}
	// the bore from the valves
	j.Valves[0].Head = inMM(27)
	if b, guessed := j.BoreOr(); !guessed || math.Abs(b.Value-72e-3) > 1e-6 {
		t.Errorf("bore %+v", b)
	}
}

// Every layout in one step is a sound head: each valve on one port of its own
// side and cylinder, names that no two share.
func TestAnyLayoutIsSound(t *testing.T) {
	for _, s := range anySchemes(400) {
		j, f := Layout(s)
		if len(f) > 0 {
			t.Fatalf("%+v: %v", s, f)
		}
		if f := j.Validate(); len(f) > 0 {
			t.Fatalf("%+v: %v", s, f)
		}
		ports, valves := map[string]bool{}, map[string]bool{}
		for _, p := range j.Ports {
			ports[j.PortName(p.ID)] = true
		}
		for _, v := range j.Valves {
			valves[j.ValveName(v.ID)] = true
		}
		if len(ports) != len(j.Ports) || len(valves) != len(j.Valves) {
			t.Fatalf("%+v: two of one name", s)
		}
	}
}

// anySchemes draws schemes that a form would take, the same every time.
func anySchemes(n int) []Scheme {
	rng := rand.New(rand.NewPCG(4, 7))
	gather := []Gather{PortEach, PortValve, PortPairs, PortCentre}
	out := make([]Scheme, n)
	for i := range out {
		out[i] = Scheme{
			Form:      []Form{FormNotSaid, FormInline, FormVee, FormFlat}[rng.IntN(4)],
			Cylinders: 1 + rng.IntN(16),
			Valves:    2 + rng.IntN(4),
			Bank:      rng.IntN(3),
			Count:     []Count{CountBanks, CountTurns}[rng.IntN(2)],
			Intake:    gather[rng.IntN(4)],
			Exhaust:   gather[rng.IntN(4)],
			SameSide:  rng.IntN(2) == 0,
		}
		if rng.IntN(2) == 0 {
			out[i].Bore = inMM(45 + 105*rng.Float64())
		}
	}
	return out
}

// Same as that head: everything but what was measured of it, and nothing shared.
func TestSameAs(t *testing.T) {
	j := soundJob(t)
	j.Number, j.Owner, j.Notes, j.Opened, j.RigID, j.Title = "QSH-0412", "somebody", "cracked", 9, "r1", "Small-car head"
	j.Valves[0].Contact, j.Valves[0].Clearance, j.Valves[0].Coating = inMM(1.4), inMM(0.04), CoatingNitrided
	j.Ports[0].Plugs = []string{"injector hole"}
	j.Ports[0].Volume = unit.About(95e-6, 6e-6)
	j.Lie = Lie{Said: true, ChambersUp: true, Landmark: "timing chain"}
	s := SameAs(*j)
	if s.ID+s.Number+s.Owner+s.Notes != "" || s.Opened != 0 {
		t.Errorf("%+v", s)
	}
	if s.Valves[0].Contact.Known || s.Valves[0].Clearance.Known {
		t.Error("what was measured of the one head came along")
	}
	if s.Title != j.Title || s.RigID != "r1" || s.Valves[0].Coating != CoatingNitrided || s.Valves[0].Head != j.Valves[0].Head ||
		s.Ports[0].Volume != j.Ports[0].Volume || s.Lie != j.Lie || s.Engine.Bore != j.Engine.Bore {
		t.Errorf("%+v", s)
	}
	s.Ports[0].Plugs[0], s.Ports[0].Valves[0] = "x", "x"
	if j.Ports[0].Plugs[0] != "injector hole" || j.Ports[0].Valves[0] != "v1" {
		t.Error("the two heads share memory")
	}
	s = SameAs(*j)
	if f := s.Validate(); len(f) > 0 {
		t.Error(f)
	}
}

func TestNames(t *testing.T) {
	j, _ := Layout(Scheme{Cylinders: 4, Valves: 4, Intake: PortValve, Exhaust: PortCentre})
	for _, c := range []struct{ got, want string }{
		{j.PortName("p1"), "cylinder 1 intake, left port"},
		{j.PortName("p6"), "cylinders 2 and 3 exhaust"},
		{j.PortName("p99"), "no port"},
		{j.ValveName("v1"), "cylinder 1 intake valve, left"},
		{j.valveOf(j.port("p6"), j.port("p6").Valves[3]), "right valve of cylinder 3"},
		{list([]int{1, 2, 3}), "1, 2 and 3"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	// the same metal with its first end at the right is called the other way
	j.Lie = Lie{Said: true}
	if got := j.PortName("p1"); got != "cylinder 1 intake, right port" {
		t.Errorf("turned: %q", got)
	}
}

package gas

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// elements are one or more of each law.
func elements() map[string]Element {
	return map[string]Element{
		"rounded opening":     Opening{Area: 1e-7},
		"half-sharp opening":  Opening{Area: 1e-7, Edge: 0.5},
		"sharp, stated ratio": Opening{Area: 1e-7, Edge: 1, Reference: 0.5},
		"thin seep":           Seep{Width: 0.085, Gap: 1e-6, Length: 1.2e-3},
		"wide seep":           Seep{Width: 0.085, Gap: 60e-6, Length: 0.2e-3},
		"plain seep":          Seep{Width: 0.085, Gap: 10e-6, Length: 1.2e-3, NoSlip: true, NoInertia: true},
		"annulus":             Annulus{Stem: 5.5e-3, Clearance: 40e-6, Length: 35e-3, Eccentricity: 0.5},
		"conductance":         Conductance{C: 1e-9, B: 0.3},
		"capillary":           Pipe{Diameter: 0.1e-3, Length: 10e-3},
		"hose":                Pipe{Diameter: 4e-3, Length: 1.2, Loss: 2},
		"stub":                Pipe{Diameter: 1e-3, Length: 2e-3},
	}
}

// What holds for every law: nothing flows without a difference, more flows from
// more pressure and less against more, never a NaN, and no more than through a
// hole into nothing.
func TestElementProperties(t *testing.T) {
	for name, e := range elements() {
		rng := rand.New(rand.NewPCG(1, 2))
		for range 20000 {
			p1 := math.Exp(rng.Float64()*12 + 4) // 55 Pa to 9 MPa
			p2 := p1 * rng.Float64()
			if rng.IntN(10) == 0 {
				p2 = p1 * (1 - math.Exp(-30*rng.Float64()))
			}
			t1 := 230 + 2000*rng.Float64()*rng.Float64()
			at := func(p1, p2 float64) float64 {
				m, err := e.MassFlow(p1, p2, t1)
				if err != nil {
					t.Fatalf("%s from %g to %g Pa at %g K: %v", name, p1, p2, t1, err)
				}
				return m
			}
			m := at(p1, p2)
			if !(m >= 0) || math.IsInf(m, 0) {
				t.Fatalf("%s from %g to %g Pa at %g K: flow %g", name, p1, p2, t1, m)
			}
			if got := at(p1, p1); got != 0 {
				t.Fatalf("%s, no difference at %g Pa: flow %g, want 0", name, p1, got)
			}
			const rounding = 1 - 1e-9
			if less := at(p1, p2+(p1-p2)*rng.Float64()); less*rounding > m {
				t.Fatalf("%s from %g at %g K: flow grows with the pressure against it, %g above %g at %g Pa", name, p1, t1, less, m, p2)
			}
			// a sharp edge with the reference at 50 kPa is re-measured for each p1
			if o, ok := e.(Opening); !ok || o.Edge == 0 || o.Reference != 0 {
				if more := at(p1*(1+rng.Float64()), p2); more < m*rounding {
					t.Fatalf("%s to %g at %g K: flow falls with the pressure behind it, %g below %g at %g Pa", name, p2, t1, more, m, p1)
				}
			}
		}
	}
}

// A closed gap, hole or bore passes nothing.
func TestElementClosed(t *testing.T) {
	for _, e := range []Element{
		Opening{}, Opening{Edge: 1}, Seep{Width: 0.1, Length: 1e-3}, Annulus{Stem: 5e-3, Length: 0.03}, Conductance{}, Pipe{Length: 1},
	} {
		if m := flow(t, e, 1e5, 2e4, 300); m != 0 {
			t.Errorf("%+v: flow %g, want 0", e, m)
		}
	}
}

func TestElementRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, e := range elements() {
		for _, a := range [][3]float64{
			{1e5, 1.1e5, 300}, {1e5, -1, 300}, {-1, -2, 300}, {1e5, 5e4, 0}, {1e5, 5e4, -300},
			{nan, 5e4, 300}, {1e5, nan, 300}, {1e5, 5e4, nan}, {inf, 5e4, 300}, {inf, inf, 300}, {1e5, 5e4, inf},
		} {
			m, err := e.MassFlow(a[0], a[1], a[2])
			wantRange(t, fmt.Sprint(name, a), err)
			if m != 0 {
				t.Errorf("%s %v: flow %g beside an error", name, a, m)
			}
		}
	}
	for _, e := range []Element{
		Opening{Area: -1}, Opening{Area: nan}, Opening{Area: inf}, Opening{Area: 1, Edge: 1.1}, Opening{Area: 1, Edge: nan}, Opening{Area: 1, Reference: -1},
		Seep{Width: 0, Gap: 1e-6, Length: 1}, Seep{Width: 1, Gap: -1e-6, Length: 1}, Seep{Width: 1, Gap: 1e-6}, Seep{Width: 1, Gap: nan, Length: 1},
		Annulus{Stem: 0, Clearance: 1e-5, Length: 1}, Annulus{Stem: 1e-3, Clearance: 1e-5, Length: 1, Eccentricity: 2}, Annulus{Stem: 1e-3, Clearance: nan, Length: 1}, Annulus{Stem: 1e-3, Clearance: 1e-5},
		Conductance{C: -1}, Conductance{C: 1, B: 1}, Conductance{C: 1, B: nan},
		Pipe{Diameter: -1, Length: 1}, Pipe{Diameter: 1}, Pipe{Diameter: 1, Length: 1, Loss: -1}, Pipe{Diameter: nan, Length: 1},
		Seep{Width: 1e-300, Gap: 1e200, Length: 1e-300}, // beyond arithmetic
	} {
		_, err := e.MassFlow(1e5, 5e4, 300)
		wantRange(t, fmt.Sprintf("%+v", e), err)
	}
	type inverse func(q, v, pa, ta float64) error
	for name, f := range map[string]inverse{
		"opening":     func(q, v, pa, ta float64) error { _, err := OpeningFor(q, v, pa, ta, 0); return err },
		"seep":        func(q, v, pa, ta float64) error { _, err := SeepFor(q, v, pa, ta, 0.1, 1e-3); return err },
		"annulus":     func(q, v, pa, ta float64) error { _, err := AnnulusFor(q, v, pa, ta, 5e-3, 0.03, 0); return err },
		"conductance": func(q, v, pa, ta float64) error { _, err := ConductanceFor(q, v, pa, ta, 0.3); return err },
		"pipe":        func(q, v, pa, ta float64) error { _, err := PipeFor(q, v, pa, ta, 0.1); return err },
	} {
		if err := f(1e-6, 5e4, 1e5, 300); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, a := range [][4]float64{
			{-1, 5e4, 1e5, 300}, {1e-6, 2e5, 1e5, 300}, {1e-6, -1, 1e5, 300}, {1e-6, 5e4, 0, 300}, {1e-6, 5e4, 1e5, 0},
			{nan, 5e4, 1e5, 300}, {1e-6, nan, 1e5, 300}, {1e-6, 5e4, nan, 300}, {1e-6, 5e4, 1e5, nan}, {1e-6, 0, 1e5, 300},
		} {
			wantRange(t, fmt.Sprint(name, a), f(a[0], a[1], a[2], a[3]))
		}
	}
	for _, a := range [][3]float64{{2e5, 1e5, 300}, {-1, 1e5, 300}, {5e4, nan, 300}, {5e4, 1e5, 0}, {5e4, 1e5, 1e6}} {
		_, err := FreeAirAt(Opening{Area: 1e-7}, a[0], a[1], a[2])
		wantRange(t, fmt.Sprint("free air", a), err)
	}
	_, err := OpeningFor(1e-6, 5e4, 1e5, 300, 2)
	wantRange(t, "edge", err)
	_, err = SeepFor(1e-6, 5e4, 1e5, 300, 0, 1)
	wantRange(t, "width", err)
	_, err = AnnulusFor(1e-6, 5e4, 1e5, 300, 1e-3, 0, 0)
	wantRange(t, "length", err)
	_, err = AnnulusFor(1e-6, 5e4, 1e5, 300, 1e-3, 1, -1)
	wantRange(t, "eccentricity", err)
	_, err = ConductanceFor(1e-6, 5e4, 1e5, 300, 1)
	wantRange(t, "critical ratio", err)
	_, err = PipeFor(1e-6, 5e4, 1e5, 300, 0)
	wantRange(t, "pipe length", err)
}

func BenchmarkOpening(b *testing.B) {
	var e Element = Opening{Area: 1e-7, Edge: 0.5}
	for b.Loop() {
		e.MassFlow(1e5, 8e4, 300)
	}
}

func BenchmarkSeep(b *testing.B) {
	var e Element = Seep{Width: 0.085, Gap: 3e-6, Length: 1.2e-3}
	for b.Loop() {
		e.MassFlow(1e5, 8e4, 300)
	}
}

func BenchmarkHose(b *testing.B) {
	var e Element = Pipe{Diameter: 4e-3, Length: 1.2, Loss: 2}
	for b.Loop() {
		e.MassFlow(1e5, 9.5e4, 300)
	}
}

func BenchmarkHoseDownstream(b *testing.B) {
	p := Pipe{Diameter: 4e-3, Length: 1.2, Loss: 2}
	for b.Loop() {
		p.Downstream(1.5e-4, 1e5, 300)
	}
}

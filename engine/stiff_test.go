package engine

import (
	"fmt"
	"math"
	"testing"

	"seatproof/unit"
)

// stiffly solves by the stiff method alone.
func stiffly(c Cylinder, r Run, leaks ...Leak) (Cycle, error) {
	w := walkers.Get().(*walker)
	defer walkers.Put(w)
	w.cell.set(&c, &r)
	if err := w.cell.connect(&c, &r, leaks); err != nil {
		return Cycle{}, err
	}
	return w.stiffWalk(Tolerance, true)
}

// The stiff method against SciPy's cycles, which the other one solves: an outside
// answer for it too.
func TestStiffAgainstSciPy(t *testing.T) {
	for _, k := range scipyCases(t) {
		c, r, leaks := k.made()
		y, err := stiffly(c, r, leaks...)
		if err != nil {
			t.Errorf("%s: %v", k.Name, err)
			continue
		}
		unit := k.Intake * c.Swept()
		close(t, k.Name+": peak", y.Peak, k.Result.Peak, 2e-5)
		close(t, k.Name+": trapped mass", y.Trapped, k.Result.Trapped, 2e-5)
		close(t, k.Name+": mass at exhaust opening", y.End, k.Result.End, 2e-5)
		near(t, k.Name+": work", y.Work/unit, k.Result.Work/unit, 1e-4)
		near(t, k.Name+": mass balance", y.MassError, 0, 1e-10)
		near(t, k.Name+": energy balance", y.EnergyError, 0, 1e-4)
	}
}

// Half the step, an eighth of the error.
func TestStiffOrder(t *testing.T) {
	c, r := made(90), cranked(250)
	end := func(n int) (s, work float64) {
		var w walker
		w.cell.set(&c, &r)
		if err := w.cell.connect(&c, &r, []Leak{tested(2000, 0, 0)}); err != nil {
			t.Fatal(err)
		}
		w.cell.calm = true
		w.x, w.s, w.m = -1, 1, 0.5
		for range n {
			w.cell.rates(w.x, w.s, w.m, &w.k[0])
			d, _ := w.stiffTry(0.5/float64(n), 1)
			w.x, w.s, w.m, work = w.x+0.5/float64(n), w.s+d[0], w.m+d[1], work+d[6]
		}
		return w.s, work
	}
	s, work := end(512)
	s1, w1 := end(8)
	s2, w2 := end(16)
	for _, x := range []struct{ coarse, fine float64 }{{s1 - s, s2 - s}, {w1 - work, w2 - work}} {
		if order := math.Log2(math.Abs(x.coarse / x.fine)); order < 2.7 || order > 3.4 {
			t.Errorf("order %.2f, want 3 (errors %.2g and %.2g)", order, x.coarse, x.fine)
		}
	}
}

// Leaks that leave hardly any compression: solved for every cylinder of the design,
// in each run, and nothing is left but the port's pressure and what inertia holds.
func TestOpenValve(t *testing.T) {
	for _, k := range []struct{ bore, swept, flow float64 }{{48, 50, 40e3}, {48, 50, 56.6e3}, {83, 50, 100e3}, {83, 450, 500e3}} {
		b := math.Cbrt(4 * k.swept * 1e-6 / math.Pi)
		g := Given{Bore: unit.About(b, 0), Stroke: unit.About(b, 0), Ratio: unit.About(9.5, 2.5)}
		for _, share := range []float64{0, 0.5, 1} {
			draws := make([]Leak, 48)
			for i := range draws {
				draws[i] = tested(k.flow, share, float64(i)/48)
			}
			what := fmt.Sprintf("%g cm³/min, share %g, in %g cm³", k.flow, share, k.swept)
			y, err := g.Loss(draws)
			if err != nil {
				t.Errorf("%s: %v", what, err)
				continue
			}
			if p := y.Cranking.With; !(p.Low >= room*(1-1e-6) && p.High < 1.5*y.Cranking.Without.High && y.Cranking.Share.Median > 0.5) {
				t.Errorf("%s: a peak of %v where %v is whole", what, p, y.Cranking.Without)
			}
		}
	}
	// The peak falls as the leak grows, through the change from one method to the other.
	c := made(50)
	before := math.Inf(1)
	for q := 1e3; q < 6e5; q *= 1.5 {
		y := solved(t, c, cranked(250), tested(q, 1, 0.5))
		if !(y.Peak < before*(1+1e-5)) || y.Peak < room {
			t.Errorf("%g cm³/min: peak %g Pa, after %g", q, y.Peak, before)
		}
		before = y.Peak
		near(t, "mass", y.MassError, 0, 1e-9)
		near(t, "energy", y.EnergyError, 0, 1e-4)
	}
	if before > 1.01*room {
		t.Errorf("an open valve leaves %g Pa", before)
	}
}

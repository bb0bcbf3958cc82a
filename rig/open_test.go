package rig_test

import (
	"math"
	"os"
	"testing"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/trace"
)

// An evacuated vessel of 16.18 L fills from the room through a hole of 2.71 mm
// (AC 2007-2695; see trace/testdata/open/README.md). Its discharge coefficient
// is known to come out at 0.98 where the gas is taken as isothermal and 0.70
// where it is taken as adiabatic: with the wall's heat fitted beside it, it
// must lie between.
func TestEvacuatedVesselFills(t *testing.T) {
	f, err := os.Open("../trace/testdata/open/hyddown_air_3_7kpa_271mm.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tr, err := trace.Read(f, trace.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if tr.Kind != trace.Absolute || tr.Len() != 14 {
		t.Fatalf("got %d points of %s, want 14 of absolute pressure", tr.Len(), tr.Kind)
	}
	const volume, hole, temp = 16.18e-3, math.Pi / 4 * 2.71e-3 * 2.71e-3, 293.15
	pa := tr.Value[len(tr.Value)-1]
	// cd, tau [s] and the pressure at the first point [Pa]
	predict := func(cd, tau, p0 float64, out []float64) {
		o := gas.Opening{Area: cd * hole}
		c := rig.Closed{Volume: volume, AirPressure: pa, AirTemp: temp, Tau: tau, Leak: func(p float64) float64 {
			m, err := o.MassFlow(pa, math.Max(0, math.Min(p, pa-20)), temp)
			if err != nil {
				return math.NaN()
			}
			return m * math.Max(0, math.Min(1, (pa-p)/20))
		}}
		// evacuated slowly, as it was: at rest at the first point
		const slow = 1000.0
		s := volume / slow * math.Log(pa/p0)
		c.Pump = func(p float64) float64 { return gas.Density(p, temp)*s + c.Leak(p) }
		run, err := c.Run([]rig.Step{{For: slow, Pumping: true}, {For: 80}})
		for i, at := range tr.Time {
			if out[i] = math.NaN(); err == nil {
				out[i], _ = run.Pressure(slow + at)
			}
		}
	}
	fit, err := num.LeastSquares(num.Problem{
		N: tr.Len(),
		Residuals: func(p, r []float64) {
			predict(p[0], math.Exp(p[1]), p[2]*1e3, r)
			for i := range r {
				r[i] = (r[i] - tr.Value[i]) / 1e3
			}
		},
		Low: []float64{0.3, math.Log(0.01), 0.5}, High: []float64{1.5, math.Log(1000), 10},
	}, []float64{0.8, math.Log(20), 2.5})
	if err != nil {
		t.Fatal(err)
	}
	cd, tau, worst := fit.P[0], math.Exp(fit.P[1]), 0.0
	out := make([]float64, tr.Len())
	predict(cd, tau, fit.P[2]*1e3, out)
	for i, p := range out {
		worst = math.Max(worst, math.Abs(p-tr.Value[i]))
	}
	t.Logf("discharge coefficient %.3f, wall time constant %.2f s, worst point off by %.0f Pa", cd, tau, worst)
	if !fit.Converged || cd < 0.70 || cd > 0.98 {
		t.Errorf("got a discharge coefficient of %.3f (%s), want 0.70 to 0.98", cd, fit.Why)
	}
	// the plot was read to 1 to 2 % of full scale
	if worst > 0.04*pa {
		t.Errorf("a point is off by %.0f Pa: %.0f", worst, out)
	}
}

package study

import (
	"math"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
)

// The yardstick's own integrator against the forward model, which steps
// otherwise (implicit, in time): 0.5 Pa on the vacuum. The lag is left at
// next to nothing here.
func TestYardstickCurveAgreesWithForwardModel(t *testing.T) {
	const pa, ta, vol = 98e3, 293.15, 150e-6
	cases := []struct {
		name                            string
		flow, share, edge, tau, mix, v0 float64 // flow in cm³/min
		wall, hold                      float64
		load                            float64
		held                            rig.Held
	}{
		{"slow opening", 5, 1, 0, 0.3, 0, 75e3, 1, 60, 0, ""},
		{"slow seep, warm wall", 12, 0, 0, 1.2, 0, 70e3, 1.01, 40, 0, ""},
		{"middling mixture", 300, 0.5, 0.7, 0.5, 0.4, 72e3, 1, 30, 0, ""},
		{"middling sharp opening, cold wall", 600, 1, 1, 0.2, 1, 74e3, 0.99, 20, 0, ""},
		{"fast opening", 3800, 1, 0, 1.2, 0.5, 60e3, 1, 3.5, 0, ""},
		{"fast seep", 3800, 0, 0, 1.0, 1, 60e3, 1.005, 4, 0, ""},
		{"fast seep, quick wall", 2000, 0.1, 0.3, 0.06, 0.8, 60e3, 1, 8, 0, ""},
		{"slow seep under its spring", 12, 0, 0, 0.5, 0, 75e3, 1, 60, 0.5, rig.HeldOwnSpring},
		{"fast seep under its spring", 3000, 0, 0, 0.5, 0, 70e3, 1, 6, 0.5, rig.HeldOwnSpring},
		{"middling mixture under a thumb", 300, 0.3, 0.5, 0.5, 0.5, 72e3, 1, 30, 0.3, rig.HeldThumb},
		{"middling seep of a free valve", 300, 0, 0, 0.5, 0, 72e3, 1, 30, 0.2, rig.HeldNothing},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			const width, contact = math.Pi * 0.027, 0.3e-3
			o, err := gas.OpeningFor(c.flow*cm3min*c.share, gas.StatedVacuum, pa, ta, c.edge)
			if err != nil {
				t.Fatal(err)
			}
			s, err := gas.SeepFor(c.flow*cm3min*(1-c.share), gas.StatedVacuum, pa, ta, width, contact)
			if err != nil {
				t.Fatal(err)
			}
			seat := rig.Seat{Seep: s, Load: rig.Load{Head: 0.027, Held: c.held, Weight: rig.ValveWeight}, Exponent: c.load}
			rho := gas.Density(pa, ta)
			// a straight pump curve, blanked at v0, pulled long enough to be steady
			free := 2e-4 + 8*c.flow*cm3min
			closed := rig.Closed{
				Volume: vol, AirPressure: pa, AirTemp: ta, WallTemp: c.wall * ta, Tau: c.tau, Mix: c.mix,
				Leak: rig.Inflow(pa, ta, o, seat),
				Pump: func(p float64) float64 { return rho * free * math.Max(0, 1-(pa-p)/c.v0) },
			}
			const pull = 60.0
			run, err := closed.Run([]rig.Step{{For: pull, Pumping: true}, {For: c.hold}})
			if err != nil {
				t.Fatal(err)
			}
			p0, _ := run.Pressure(pull)
			k := conduct{
				total: c.flow * cm3min / vol, share: c.share, edge: c.edge, start: pa - p0,
				tau: c.tau, mix: c.mix, lag: 1e-7, pressure: pa, wall: c.wall,
				load: c.load, press: press{area: math.Pi / 4 * 0.027 * 0.027, push: c.held.Push() + 0.6},
			}
			if s.Gap > 0 {
				k.slip = 12 * gas.MeanFreePath(1, ta) / s.Gap
				k.inertia = s.Gap / (6 * contact * width * gas.Viscosity(ta)) * c.flow * cm3min * (1 - c.share) * rho
			}
			var w curve
			w.run(&k, c.hold, 100)
			worst, when, i := 0.0, 0.0, 0
			for n := range 4000 {
				u := c.hold * math.Pow(float64(n)/4000, 3)
				for i+1 < len(w.at) && w.at[i+1] <= u {
					i++
				}
				p, _ := run.Pressure(pull + u)
				if pa-p < 1500 {
					break
				}
				if d := math.Abs(w.shownAt(i, u-w.at[i]) - (pa - p)); d > worst {
					worst, when = d, u
				}
			}
			t.Logf("start %.0f Pa, %d steps, worst difference %.3f Pa at %.3f s", pa-p0, len(w.at), worst, when)
			if worst > 0.5 {
				t.Errorf("worst difference got %.3f Pa at %.3f s, want at most 0.5 (case %+v)", worst, when, c)
			}
		})
	}
}

// A first-order lag behind a straight fall of b Pa/s from rest at v0 shows
// v0 - b (t - lag (1 - exp(-t/lag))): closed form.
func TestYardstickLagOfAStraightFall(t *testing.T) {
	const v0, b, lag = 70e3, 900.0, 0.3
	var w curve
	w.lag = lag
	c := conduct{lag: lag}
	shown := v0
	for i := range 40 {
		t0 := float64(i) * 0.05
		shown = w.add(&c, t0, 0.05, v0-b*t0, -b, v0-b*(t0+0.05), -b, shown)
	}
	for i, at := range w.at {
		u := at + 0.03
		want := v0 - b*(u-lag*(1-math.Exp(-u/lag)))
		if got := w.shownAt(i, 0.03); math.Abs(got-want) > 0.01 {
			t.Errorf("at %.2f s got %.4f Pa, want %.4f", u, got, want)
		}
	}
}

func BenchmarkYardstickCurve(b *testing.B) {
	k := conduct{total: 0.02, rig: 0.0001, share: 0.5, edge: 0.5, start: 75e3, tau: 0.3, mix: 0.5, lag: 0.1, vapour: 50, tauVapour: 5, pressure: 1e5, wall: 1, slip: 12e3, inertia: 0.02}
	var w curve
	for b.Loop() {
		w.run(&k, 40, 1000)
	}
	b.ReportMetric(float64(len(w.at)), "steps")
}

package gas

import (
	"fmt"
	"math"
	"testing"
)

// Munson, Young, Okiishi, Fundamentals of Fluid Mechanics, example 11.5: a
// converging duct draws room air; N1.
func TestOpeningMunson(t *testing.T) {
	o := Opening{Area: 1e-4}
	near(t, "receiver 80 kPa", flow(t, o, 101e3, 80e3, 288), 0.0201, 0.00015)
	near(t, "receiver 80 kPa, recomputed", flow(t, o, 101e3, 80e3, 288), 0.019974, 3e-6) // book's R 287
	near(t, "receiver 40 kPa", flow(t, o, 101e3, 40e3, 288), 0.024, 0.0005)
	near(t, "receiver 40 kPa, recomputed", flow(t, o, 101e3, 40e3, 288), 0.024055, 3e-6)
}

// Cengel and Boles, Thermodynamics, example on a converging nozzle (12-4 or
// 17-5 by edition; answers from memory): stagnation state from 1 MPa, 600 °C,
// 150 m/s with cp 1005 and k 1.4; N2.
func TestOpeningCengel(t *testing.T) {
	const cp, v = 1005.0, 150.0
	t1 := 873.0
	t0 := t1 + v*v/(2*cp)
	p0 := 1e6 * math.Pow(t0/t1, 3.5)
	near(t, "stagnation temperature", t0, 884.19, 0.005)
	near(t, "stagnation pressure", p0, 1.04560e6, 20)
	o := Opening{Area: 50e-4}
	near(t, "back pressure 0.7 MPa", flow(t, o, p0, 0.7e6, t0), 6.77, 0.03)
	near(t, "back pressure 0.4 MPa", flow(t, o, p0, 0.4e6, t0), 7.10, 0.01)
}

// Critical-flow venturi of 40 CFR 1065.642(c) (answer 33.690 mol/s from
// memory): its Cf takes the place of psi*, its gas that of air; N3.
func TestOpeningCriticalVenturi(t *testing.T) {
	const molar, cfrR = 28.7805e-3, 8.314472
	o := Opening{Area: 0.985 * 0.00456 * 0.7219 / PsiMax}
	mdot := flow(t, o, 98836, 20000, 378.15) * math.Sqrt(R/(cfrR/molar))
	near(t, "molar flow", mdot/molar, 33.690, 0.0005)
}

// Subsonic venturi of 40 CFR 1066.630(b); N4. Its Cf is psi at its own pressure
// ratio, so the law must find a ratio at which it gives the printed flow.
func TestOpeningSubsonicVenturi(t *testing.T) {
	const molar, cfrR = 28.7789e-3, 8.314472
	const pin, temp = 98496.0, 296.85
	lo, hi := CriticalRatio, 1.0
	for range 100 {
		if mid := (lo + hi) / 2; Psi(mid) > 0.472 {
			lo = mid
		} else {
			hi = mid
		}
	}
	o := Opening{Area: 0.890 * 0.01824}
	mdot := flow(t, o, pin, lo*pin, temp) * math.Sqrt(R/(cfrR/molar))
	volume := VolumeAt(MolesThroughput(mdot/molar, temp)*cfrR/GasConstant, temp, 101325, 293.15)
	near(t, "flow at 20 °C, 101325 Pa", volume, 2.155, 0.005)
	near(t, "recomputed", volume, 2.15407, 1e-5)
}

// Critical-flow venturi by calibration, 40 CFR 1066.630(c), V = Kv p/sqrt(T); N5.
// An opening that passes what Kv says at one state must pass it at the printed one.
func TestOpeningScalesAsVenturi(t *testing.T) {
	kv := func(p, temp float64) float64 { return 0.074954 * p / 1000 / math.Sqrt(temp) }
	standard := func(o Opening, p, temp float64) float64 { return FreeAir(flow(t, o, p, 0, temp), 101325, 293.15) }
	o := Opening{Area: 1}
	o.Area = kv(80e3, 300) / standard(o, 80e3, 300)
	near(t, "flow at 99.654 kPa, 353.15 K", standard(o, 99654, 353.15), 0.39748, 6e-6)
}

// Ideal round holes from the room into vacuum: closed form, N8; and the same
// area back from the flow.
func TestOpeningHoles(t *testing.T) {
	for _, c := range []struct{ mm, litres, throughput float64 }{
		{0.1, 0.0936025, 0.158071}, {0.2, 0.374410, 0.632285}, {0.3, 0.842423, 1.422641},
		{0.5, 2.340063, 3.951781}, {1.0, 9.360250, 15.807123},
	} {
		d := c.mm * 1e-3
		o := Opening{Area: math.Pi / 4 * d * d}
		q := freeAir(t, o, roomPressure, roomPressure, roomTemperature)
		close(t, fmt.Sprintf("%g mm, L/min", c.mm), q*60e3, c.litres, 6e-6)
		close(t, fmt.Sprintf("%g mm, Pa m³/s", c.mm), Throughput(flow(t, o, roomPressure, 0, roomTemperature), roomTemperature), c.throughput, 4e-6)
		back, err := OpeningFor(q, roomPressure, roomPressure, roomTemperature, 0)
		if err != nil {
			t.Fatal(err)
		}
		close(t, "diameter back", back.Diameter(), d, 1e-14)
	}
}

func TestOpeningChoked(t *testing.T) {
	o := Opening{Area: 1e-7}
	choked := flow(t, o, 1e5, CriticalRatio*1e5, 300)
	for _, r := range []float64{0, 0.1, 0.3, 0.528} {
		if got := flow(t, o, 1e5, r*1e5, 300); got != choked {
			t.Errorf("rounded, r = %g: got %g, want %g as at the critical ratio", r, got, choked)
		}
	}
	// A sharp edge goes on: 12.7 % from the critical ratio to 0.2 (Perry's Cd).
	o.Edge = 1
	near(t, "sharp, growth below the critical ratio", flow(t, o, 1e5, 0.2e5, 300)/flow(t, o, 1e5, CriticalRatio*1e5, 300), 1.127, 6e-4)
}

// Area is the effective area at 50 kPa of vacuum whatever the edge.
func TestOpeningEdge(t *testing.T) {
	for _, pa := range []float64{78e3, 90e3, 101325} {
		rounded := freeAir(t, Opening{Area: 1e-8}, StatedVacuum, pa, roomTemperature)
		for _, edge := range []float64{0.3, 1} {
			close(t, fmt.Sprintf("edge %g in %g Pa", edge, pa), freeAir(t, Opening{Area: 1e-8, Edge: edge}, StatedVacuum, pa, roomTemperature), rounded, 1e-14)
		}
	}
	// In a room of less than 50 kPa the reference is Cd at r = 0, and the law still answers.
	close(t, "30 kPa into nothing", flow(t, Opening{Area: 1e-8, Edge: 1}, 30e3, 0, 300), flow(t, Opening{Area: 1e-8}, 30e3, 0, 300), 1e-14)
}

func TestOpeningForAnyVacuum(t *testing.T) {
	for _, edge := range []float64{0, 0.5, 1} {
		for _, vacuum := range []float64{1, 1e3, 2e4, 5e4, 8e4} {
			q := 100 / perMinute
			o, err := OpeningFor(q, vacuum, 95e3, 288, edge)
			if err != nil {
				t.Fatal(err)
			}
			close(t, fmt.Sprintf("flow at %g Pa, edge %g", vacuum, edge), freeAir(t, o, vacuum, 95e3, 288), q, 1e-13)
		}
	}
}

// ISO 6358: C of 1 mm² at Cd 1 is 0.199195 L/(s bar) (closed form with R
// 287.05), the pneumatic rule S [mm²] = 5 C [L/(s bar)] (from memory).
func TestConductanceArea(t *testing.T) {
	c := Opening{Area: 1e-6}.Conductance()
	close(t, "C of 1 mm²", c.C, 1.99195e-9, 1e-5)
	close(t, "area back", c.Area(), 1e-6, 1e-14)
	near(t, "rule S = 5 C", Conductance{C: 1e-8}.Area()*1e6, 5.0202, 1e-4)
	close(t, "choked", flow(t, c, 2e5, 1e5, 300), flow(t, Opening{Area: 1e-6}, 2e5, 1e5, 300), 1e-14)
}

// The ellipse of ISO 6358 with b = r* differs from the nozzle by at most
// 0.00152 of the choked flow: recomputed, and it must be that much somewhere.
func TestConductanceAgainstNozzle(t *testing.T) {
	o := Opening{Area: 1e-6}
	c := o.Conductance()
	choked := flow(t, o, 1e5, 0, 300)
	worst := 0.0
	for r := 0.5; r <= 1; r += 1e-4 {
		worst = math.Max(worst, math.Abs(flow(t, o, 1e5, r*1e5, 300)-flow(t, c, 1e5, r*1e5, 300))/choked)
	}
	near(t, "largest difference", worst, 0.00152, 5e-6)
}

func TestConductanceFor(t *testing.T) {
	for _, b := range []float64{0, 0.3, 0.5, 0.9} {
		for _, vacuum := range []float64{1, 2e4, 8e4} {
			c, err := ConductanceFor(1e-5, vacuum, 95e3, 288, b)
			if err != nil {
				t.Fatal(err)
			}
			close(t, fmt.Sprintf("flow at %g Pa, b %g", vacuum, b), freeAir(t, c, vacuum, 95e3, 288), 1e-5, 1e-13)
		}
	}
}

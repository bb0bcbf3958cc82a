package gas

import (
	"math"
	"testing"
)

// 40 CFR 1065.644, worked example "vacuum-decay leak rate": 2.0000 L, 25.300 to
// 50.600 kPa in 70 s at 293.15 K, printed 0.00030 mol/s (from memory). The
// regulation's R is 8.314472, today's is 1.1e-6 smaller.
func TestPressureChange(t *testing.T) {
	const cfr = GasConstant / 8.314472
	n, err := PressureChange(2e-3, 25300, 293.15, 50600, 293.15, 70)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "as printed", n, 0.00030, 5e-6)
	close(t, "with the regulation's R", n*cfr, 2.965705e-4, 2e-7)
	q := MolesThroughput(n, 293.15)
	close(t, "Pa m³/s", q, 0.722857, 1e-6)
	close(t, "free air, mL/min", VolumeAt(q, 293.15, 101325, 293.15)*perMinute, 428.043, 2e-6)

	n, err = PressureChange(2e-3, 25300, 293.15, 50600, 294.15, 70) // 1 K warmer: derived
	if err != nil {
		t.Fatal(err)
	}
	close(t, "second 1 K warmer", n*cfr, 2.945540e-4, 2e-7)

	// No leak, 0.5 L at 21325 Pa warming 0.1 K/min: an apparent 6.06203e-5 Pa m³/s
	// (derived) if the temperature is not looked at.
	warm := 21325 * (293.15 + 0.1) / 293.15
	n, err = PressureChange(0.5e-3, 21325, 293.15, warm, 293.15, 60)
	if err != nil {
		t.Fatal(err)
	}
	close(t, "apparent leak", MolesThroughput(n, 293.15), 6.06203e-5, 1e-6)
	n, err = PressureChange(0.5e-3, 21325, 293.15, warm, 293.25, 60)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "looked at", n, 0, 1e-18)

	for _, c := range [][6]float64{
		{0, 1, 300, 2, 300, 1}, {1, -1, 300, 2, 300, 1}, {1, 1, 0, 2, 300, 1}, {1, 1, 300, math.NaN(), 300, 1},
		{1, 1, 300, 2, math.Inf(1), 1}, {1, 1, 300, 2, 300, 0}, {1e300, 1, 300, 1e300, 300, 1},
	} {
		_, err := PressureChange(c[0], c[1], c[2], c[3], c[4], c[5])
		wantRange(t, "bad figures", err)
	}
}

// Leak units, recomputed from Q = p V; the two that a primary source prints are
// NIST's "1 µmol/s = 1.3448" sccm and 1 sccm = 0.0168875 mbar L/s at 0 °C.
func TestLeakUnits(t *testing.T) {
	sccm := func(throughput, temp float64) float64 {
		return VolumeAt(throughput, temp, Atmosphere, NormalTemperature) * perMinute
	}
	close(t, "1 Pa m³/s at 0 °C in sccm", sccm(1, 273.15), 592.153960, 1e-9)
	close(t, "1 Pa m³/s at 20 °C in sccm", sccm(1, 293.15), 551.754577, 1e-9)
	close(t, "1 Pa m³/s at 20 °C in free air", VolumeAt(1, 293.15, 101325, 293.15)*perMinute, 592.153960, 1e-9)
	close(t, "1 Pa m³/s at 20 °C at 100 kPa", VolumeAt(1, 293.15, ANRPressure, ANRTemperature)*perMinute, 600, 1e-14)
	close(t, "1 µmol/s in sccm", sccm(MolesThroughput(1e-6, 273.15), 273.15), 1.344838, 4e-7)
	near(t, "1 µmol/s in sccm, as NIST prints", sccm(MolesThroughput(1e-6, 273.15), 273.15), 1.3448, 5e-5)
	close(t, "1 sccm in mol/s", Moles(1/sccm(1, 273.15), 273.15), 7.43583890e-7, 1e-8)
	close(t, "1 sccm in mbar L/s", 10/sccm(1, 273.15), 0.0168875, 3e-6)
	close(t, "1 Pa m³/s at 0 °C in mol/s", Moles(1, 273.15), 4.40316145e-4, 2e-9)
	close(t, "1 Pa m³/s at 20 °C in mol/s", Moles(1, 293.15), 4.10275815e-4, 2e-9)
	// mass and moles of air agree to the difference of old and new gas constant
	mdot := 1e-6
	close(t, "mass and moles", Moles(Throughput(mdot, 293.15), 293.15), mdot/MolarMass, 2e-5)
	// ANR air is humid and so a little lighter than dry air at 20 °C, 100 kPa
	close(t, "ANR against dry", ANR(1)*Density(ANRPressure, ANRTemperature), 1.18836/1.185, 1e-6)
	close(t, "free air there and back", FreeAirMass(FreeAir(mdot, 95e3, 290), 95e3, 290), mdot, 1e-15)
}

// A positive-displacement pump's flow as worked in 40 CFR 1066.630(a): 0.7079
// m³/s at 20 °C, 101325 Pa, and 29.428 mol/s in 1065.642(a); N6 and N7. The
// printed intermediate 0.063 m³ is a misprint for 0.0638.
func TestVolumeAtDisplacementPump(t *testing.T) {
	const pin, pout, speed, temp = 98575.0, 99950.0, 12.58, 323.5
	perTurn := 0.8405/speed*math.Sqrt((pout-pin)/pout) + 0.056
	near(t, "volume a turn", perTurn, 0.0638364, 6e-8)
	q := speed * perTurn * pin
	near(t, "standard flow", VolumeAt(q, temp, 101325, 293.15), 0.7079, 1e-4)
	near(t, "molar flow", Moles(q, temp), 29.428, 0.005)
}

package gas

import (
	"fmt"
	"math"
	"testing"
)

// Constants of a perfect gas with g = 1.4: closed forms; 0.5283 and 0.6847 are
// printed in every gas dynamics text, 0.0404 in the textbooks' choked formula.
func TestConstants(t *testing.T) {
	near(t, "critical ratio", CriticalRatio, 0.528281787717, 1e-12)
	near(t, "psi*", PsiMax, 0.684731456377, 1e-12)
	near(t, "choked flow per area, sqrt(T)/p", PsiMax/math.Sqrt(R), 0.0404147, 5e-8)
	near(t, "choked free air per area, 20 °C", PsiMax*math.Sqrt(R*roomTemperature), 198.6306, 5e-5)
	near(t, "cv", Cv, 717.632, 5e-4)
	near(t, "cp", Cp, 1004.685, 5e-4)
	if Cp-Cv != R && math.Abs(Cp-Cv-R) > 1e-12*R {
		t.Errorf("cp - cv = %.17g, want R = %.17g", Cp-Cv, R)
	}
}

// psi/psi*, recomputed from the isentropic relations.
func TestPsi(t *testing.T) {
	for _, c := range []struct{ r, want float64 }{
		{0.6, 0.988585}, {0.7, 0.932215}, {0.8, 0.818804}, {0.9, 0.617148}, {0.95, 0.449287},
		{1, 0}, {1.2, 0}, {0.5, 1}, {0, 1},
	} {
		near(t, fmt.Sprintf("psi(%g)/psi*", c.r), Psi(c.r)/PsiMax, c.want, 6e-7)
	}
	// the same through temperature and Mach number: an independent route
	for _, r := range []float64{0.55, 0.7, 0.9, 0.99} {
		temp := math.Pow(r, (Gamma-1)/Gamma)
		mach := math.Sqrt(2 / (Gamma - 1) * (1/temp - 1))
		close(t, fmt.Sprintf("psi(%g)", r), Psi(r), mach*r*math.Sqrt(Gamma/temp), 1e-12)
	}
}

// Discharge coefficient of a sharp edge: Perry 1949, polynomial as published
// for a pneumatic orifice (signs from memory).
func TestSharpEdgeCd(t *testing.T) {
	for _, c := range []struct{ r, want float64 }{
		{0, 0.84140}, {0.2, 0.83064}, {0.4, 0.78689}, {0.5, 0.74910}, {0.5283, 0.73736}, {0.6, 0.70715},
		{0.7, 0.66757}, {0.8, 0.63581}, {0.9, 0.61424}, {0.95, 0.60667}, {1, 0.60010},
	} {
		near(t, fmt.Sprintf("Cd(%g)", c.r), SharpEdgeCd(c.r), c.want, 6e-6)
	}
	for r := 0.0; r < 1; r += 0.001 {
		if !(SharpEdgeCd(r) > SharpEdgeCd(r+0.001)) {
			t.Fatalf("Cd does not fall at r = %g", r)
		}
	}
}

// Viscosity: formula of the US Standard Atmosphere 1976 at four temperatures,
// and the four-digit tables in print (15 °C from memory).
func TestViscosity(t *testing.T) {
	for _, c := range []struct{ celsius, formula, table, tableTol float64 }{
		{0, 1.716079e-5, 1.716e-5, 5e-9},
		{15, 1.789380e-5, 1.7894e-5, 5e-10},
		{20, 1.813406e-5, 1.813e-5, 5e-9},
		{40, 1.907574e-5, 1.907e-5, 6e-9}, // the table's source has 1.9075 cut, not rounded
	} {
		got := Viscosity(c.celsius + 273.15)
		near(t, fmt.Sprintf("mu(%g °C)", c.celsius), got, c.formula, 6e-12)
		near(t, fmt.Sprintf("mu(%g °C) against the table", c.celsius), got, c.table, c.tableTol)
	}
}

// Mean free path: kinetic theory, recomputed; the US Standard Atmosphere 1976
// prints 6.6332e-8 m at sea level by another definition, 4 % more.
func TestMeanFreePath(t *testing.T) {
	near(t, "15 °C", MeanFreePath(101325, 288.15), 6.36556e-8, 6e-14)
	near(t, "20 °C", MeanFreePath(101325, 293.15), 6.50675e-8, 6e-14)
	near(t, "60662.5 Pa", MeanFreePath(60662.5, 293.15), 1.086828e-7, 1e-13)
	near(t, "against the US Standard Atmosphere", 6.6332e-8/MeanFreePath(101325, 288.15), 1.042, 1e-3)
}

// Density of dry air at 20 °C, recomputed with the R of 1976, 7e-7 higher;
// 1.205 in handbooks.
func TestDensity(t *testing.T) {
	near(t, "101325 Pa", Density(101325, 293.15), 1.204105, 2e-6)
	near(t, "100 kPa", Density(100e3, 293.15), 1.188360, 2e-6)
}

// Standard atmosphere: ISO 2533:1975 / US Standard Atmosphere 1976. Tables
// print 95 461, 89 874.6, 79 495, 70 108 (from memory) and 22 632.1 Pa.
func TestStandardAtmosphere(t *testing.T) {
	for _, c := range []struct{ h, p, geometricP, temp, tol float64 }{
		{0, 101325.00, 101325.00, 288.150, 1e-9},
		{500, 95460.84, 95461.29, 284.900, 0.02},
		{1000, 89874.57, 89876.29, 281.650, 0.02},
		{1500, 84556.00, 84559.68, 278.400, 0.03},
		{2000, 79495.22, 79501.42, 275.150, 0.03},
		{3000, 70108.54, 70121.16, 268.650, 0.04},
		{11000, 22632.06, 22699.96, 216.650, 0.04},
	} {
		p, err := StandardPressure(c.h)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("p(%g m)", c.h), p, c.p, c.tol)
		temp, err := StandardTemperature(c.h)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("T(%g m)", c.h), temp, c.temp, 1e-9)
		h, err := AltitudeAt(p)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("altitude of %g Pa", p), h, c.h, 1e-7)
		h, err = Geopotential(c.h)
		if err != nil {
			t.Fatal(err)
		}
		p, err = StandardPressure(h)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("p(%g m by tape)", c.h), p, c.geometricP, c.tol)
		z, err := Geometric(h)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "tape there and back", z, c.h, 1e-8)
	}
	// 5000 ft: 12.228 psi in an engineering table, 12.230 in another
	p, err := StandardPressure(5000 * 0.3048)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "5000 ft", p/6894.757293168, 12.228, 0.003)
	for _, h := range []float64{-2001, 11001, math.NaN(), math.Inf(1)} {
		_, err := StandardPressure(h)
		wantRange(t, "pressure", err)
		_, err = StandardTemperature(h)
		wantRange(t, "temperature", err)
		_, err = Geometric(h)
		wantRange(t, "geometric", err)
	}
	for _, p := range []float64{0, -1, 1e4, 2e5, math.NaN(), math.Inf(1)} {
		_, err := AltitudeAt(p)
		wantRange(t, "altitude", err)
	}
	_, err = Geopotential(1e6)
	wantRange(t, "geopotential", err)
}

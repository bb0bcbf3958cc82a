// Package gas holds air and the ways it flows through small leaks.
//
// Start with [Opening] and [Seep], the two laws a leak may follow; each is a
// flow [Element] with its inverse. Everything is SI and absolute: pressures in
// Pa, temperatures in K, mass flow in kg/s, free-air flow in m³/s of air as it
// stands in the room. Laws and sources: docs/model.md, sections 0 and 1.
package gas

import "math"

// Dry air as a perfect gas. R is that of ISO 2533; Cv and Cp follow from it
// exactly, so that energy balances close.
const (
	R     = 287.05287 // J/(kg K), specific gas constant (ISO 2533:1975)
	Gamma = 1.4       // cp/cv
	Cv    = R / (Gamma - 1)
	Cp    = Gamma * Cv
)

// StatedVacuum is the vacuum [Pa] at which leak rates are stated.
const StatedVacuum = 50e3

// Critical pressure ratio and the largest value of [Psi], both for Gamma = 1.4.
var (
	CriticalRatio = math.Pow(2/(Gamma+1), Gamma/(Gamma-1))                            // 0.528281787717
	PsiMax        = math.Sqrt(Gamma) * math.Pow(2/(Gamma+1), (Gamma+1)/(2*(Gamma-1))) // 0.684731456377
)

// Psi returns the flow function of an isentropic nozzle [1] at the pressure
// ratio r = p2/p1, held at its maximum below the critical ratio:
//
//	psi(r) = sqrt(2g/(g-1) (r^(2/g) - r^((g+1)/g))),  r = max(p2/p1, 0.5283)
//
// r is taken as 1 above 1. Source: any gas dynamics text; docs/model.md §1.
func Psi(r float64) float64 {
	if r >= 1 {
		return 0
	}
	if r <= CriticalRatio {
		return PsiMax
	}
	a := math.Pow(r, 2/Gamma)
	return math.Sqrt(2 * Gamma / (Gamma - 1) * (a - a*math.Pow(r, (Gamma-1)/Gamma)))
}

// SharpEdgeCd returns the discharge coefficient [1] of a sharp-edged round
// hole at the pressure ratio r in [0, 1]: 0.60 at r = 1, rising to 0.84 at 0.
// Polynomial after Perry 1949 (coefficients published, signs from memory).
func SharpEdgeCd(r float64) float64 {
	return 0.8414 + r*(-0.1002+r*(0.8415+r*(-3.9+r*(4.6001-1.6827*r))))
}

// Viscosity returns the dynamic viscosity of air [Pa s] at t [K]:
// 1.458e-6 t^1.5/(t+110.4), US Standard Atmosphere 1976.
func Viscosity(t float64) float64 { return 1.458e-6 * t * math.Sqrt(t) / (t + 110.4) }

// MeanFreePath returns the mean free path [m] of air at p [Pa], t [K] by
// kinetic theory, (mu/p) sqrt(pi R t/2); the sigma of the US Standard
// Atmosphere gives 4 % more.
func MeanFreePath(p, t float64) float64 {
	return Viscosity(t) / p * math.Sqrt(math.Pi*R*t/2)
}

// Density returns the density [kg/m³] of air at p [Pa], t [K].
func Density(p, t float64) float64 { return p / (R * t) }

package rig

import "math"

// Residue is a liquid left in the port. It evaporates towards its vapour
// pressure while any of it is left,
//
//	dpv/dt = (psat - pv)/Tau
//
// in the closed volume at the wall's temperature; its vapour adds to the air's
// pressure, and leaves with the air. In the last hundredth of the liquid its
// surface shrinks, so that it runs dry smoothly. Source: kinetics of first
// order, derived; Tau depends on the wetted surface and is a guess.
type Residue struct {
	Liquid Liquid
	Volume float64 // m³ of liquid at the start
	Tau    float64 // s
	Start  float64 // 0..1, part of saturation in the port before the test
}

// gasConstant is the molar gas constant [J/(mol K)] (SI, exact to these digits).
const gasConstant = 8.314462618

// fluid is what is known of a liquid: ln(psat/Pa) = a - b/(t - c), t in K;
// molar mass of its vapour [kg/mol] and density of the liquid [kg/m³].
type fluid struct{ a, b, c, molarMass, density float64 }

// antoine turns constants for log10 of mmHg against °C into those of a fluid.
func antoine(a, b, c, molarMass, density float64) fluid {
	return fluid{a*math.Ln10 + math.Log(133.322387415), b * math.Ln10, 273.15 - c, molarMass, density}
}

// fluids are the liquids whose vapour is known.
//
//   - Water: 8.07131, 1730.63, 233.426, 1 to 100 °C, handbooks, from memory.
//   - Isopropanol: 8.11778, 1580.92, 219.61, handbooks.
//   - Acetone: ln(kPa) = 14.3145 - 2756.22/(t + 228.060), -26 to 77 °C (Smith,
//     Van Ness and Abbott, Introduction to Chemical Engineering Thermodynamics,
//     table B.2).
//   - Petrol, its light ends: 45 kPa at 20 °C, rising 3.5 % per kelvin there;
//     vapour of 66 g/mol and 611 kg/m³ when condensed. From memory.
//   - White spirit: n-decane as its stand-in, ln(kPa) = 13.9748 - 3442.76/(t +
//     193.858) (same table B.2, 65 to 203 °C, carried down to 20 °C, where it
//     gives 0.12 kPa). A liquid of a higher flash point gives less.
//   - Oil: next to nothing, 10 Pa (of what it took up) at any temperature. A
//     guess.
//
// Densities and molar masses of the others: handbooks, from memory.
var fluids = map[Liquid]fluid{
	WetWater:       antoine(8.07131, 1730.63, 233.426, 0.018015, 998),
	WetIsopropanol: antoine(8.11778, 1580.92, 219.61, 0.06010, 785),
	WetAcetone:     {14.3145 + math.Log(1e3), 2756.22, 273.15 - 228.060, 0.05808, 790},
	WetPetrol:      {math.Log(45e3) + 0.035*293.15, 0.035 * 293.15 * 293.15, 0, 0.066, 611},
	WetWhiteSpirit: {13.9748 + math.Log(1e3), 3442.76, 273.15 - 193.858, 0.14228, 730},
	WetOil:         {math.Log(10), 0, 0, 0.4, 880},
}

// VapourPressure returns the vapour pressure [Pa] of a liquid at t [K], meant
// for 0 to 60 °C: of nothing it is 0, and of a liquid that is not named that of
// water. Sources: as listed at the constants; docs/model.md §3.
func VapourPressure(l Liquid, t float64) float64 {
	if l == WetNothing {
		return 0
	}
	f, ok := fluids[l]
	if !ok {
		f = fluids[WetWater]
	}
	if f.b == 0 {
		return math.Exp(f.a)
	}
	// far below its range a constant would lead into the pole
	return math.Exp(f.a - f.b/math.Max(t-f.c, 10))
}

// AllVapour returns the pressure [Pa] that a volume of liquid [m³] makes as
// vapour in a closed volume [m³] at t [K] once all of it has evaporated, were
// there no vapour pressure to stop it: n R T/V. 0 for a liquid without vapour.
func AllVapour(l Liquid, liquid, volume, t float64) float64 {
	f, ok := fluids[l]
	if !ok {
		return 0
	}
	return liquid * f.density / f.molarMass * gasConstant * t / volume
}

package crosscheck

import "math"

// Range is from the lowest to the highest a property may be: of a grade that is not
// known, on a bench at 15 to 25 °C. Any value between is as likely.
type Range struct{ Low, High float64 }

func (r Range) at(u float64) float64 { return r.Low + (r.High-r.Low)*u }

// Middle is the middle of the range.
func (r Range) Middle() float64 { return (r.Low + r.High) / 2 }

// Liquid is a liquid that a port is filled with.
type Liquid struct {
	Code, Name string
	Viscosity  Range // Pa s
	Density    Range // kg/m³
	Tension    Range // N/m, surface tension
	Angle      Range // rad, of contact with metal: a guess
	Source     string
	Fuel       bool // vapour that burns at room temperature: see the caution
	Volatile   bool // dries as fast as a slow leak comes
}

const degree = math.Pi / 180

// wets is the contact angle of liquids that spread on metal: 0 to 10°, a guess.
var wets = Range{0, 10 * degree}

// Liquids are those with handbook properties, the ones to be preferred first.
// Water hardly wets metal that has seen oil: its angle is a guess, 20 to 90°.
var Liquids = []Liquid{
	{
		Code: "white-spirit", Name: "white spirit",
		Viscosity: Range{0.9e-3, 1.3e-3}, Density: Range{770, 790}, Tension: Range{24e-3, 26e-3}, Angle: wets,
		Source: "ranges of its grades, from memory",
	},
	{
		Code: "kerosene", Name: "kerosene",
		Viscosity: Range{1.5e-3, 2.2e-3}, Density: Range{780, 820}, Tension: Range{26e-3, 29e-3}, Angle: wets,
		Source: "White, Fluid Mechanics, table A.3: 1.92 mPa s, 804 kg/m³, 28 mN/m at 20 °C (from memory); grades vary",
	},
	{
		Code: "isopropanol", Name: "isopropanol",
		Viscosity: Range{2.05e-3, 2.75e-3}, Density: Range{781, 789}, Tension: Range{21.2e-3, 22.2e-3}, Angle: wets,
		Source: "data page of isopropyl alcohol, Wikipedia: 2.37 mPa s at 20 °C, 21.7 mN/m; density from memory", Fuel: true, Volatile: true,
	},
	{
		Code: "water", Name: "water",
		Viscosity: Range{0.89e-3, 1.138e-3}, Density: Range{997, 999.1}, Tension: Range{72e-3, 73.5e-3}, Angle: Range{20 * degree, 90 * degree},
		Source: "IAPWS 2008: 1.0016 mPa s at 20 °C, 1.138 at 15, 0.890 at 25; 72.75 mN/m (from memory)",
	},
	{
		Code: "petrol", Name: "petrol",
		Viscosity: Range{0.29e-3, 0.6e-3}, Density: Range{680, 775}, Tension: Range{20e-3, 23e-3}, Angle: wets,
		Source: "Munson, table 1.6: 0.31 mPa s, 680 kg/m³, 22 mN/m at 15.6 °C; pump petrol 0.4 to 0.6 mPa s, 720 to 775 kg/m³ (from memory)", Fuel: true, Volatile: true,
	},
}

// LiquidOf returns the liquid of a code. The error is an *[InputError].
func LiquidOf(code string) (Liquid, error) {
	for _, l := range Liquids {
		if l.Code == code {
			return l, nil
		}
	}
	return Liquid{}, wrong("liquid", "%q is no liquid that is known here: take white spirit, kerosene, isopropanol, water or petrol", code)
}

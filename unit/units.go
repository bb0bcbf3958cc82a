package unit

import (
	"math"
	"strings"
)

// UnitInfo is one unit: how its figures become SI figures.
//
//	SI = (x + Shift) · Factor
//
// Shift is 0 but for °C and °F.
type UnitInfo struct {
	Name   string    // canonical spelling: "cm³/min"
	Dim    Dimension // what it measures
	Factor float64   // SI units in one of this
	Shift  float64   // added to a figure first, in this unit: 273.15 for °C

	// Factor = num/den. Both are exact where the unit's definition allows, so
	// that 62 cm³ becomes the float64 nearest to 62e-6.
	num, den float64
}

// ToSI returns the figure x of this unit in SI units.
func (u UnitInfo) ToSI(x float64) float64 { return (x + u.Shift) * u.num / u.den }

// FromSI returns the SI figure x in this unit.
func (u UnitInfo) FromSI(x float64) float64 { return x*u.den/u.num - u.Shift }

// ToSIDifference returns the difference x of two figures of this unit in SI
// units: 3 °C is 3 K, 9 °F is 5 K.
func (u UnitInfo) ToSIDifference(x float64) float64 { return x * u.num / u.den }

// FromSIDifference returns the difference x of two SI figures in this unit.
func (u UnitInfo) FromSIDifference(x float64) float64 { return x * u.den / u.num }

// definition is a row of the table of units.
type definition struct {
	name     string // canonical spelling
	dim      Dimension
	num, den float64
	shift    float64
	prefixed bool   // takes SI prefixes
	aliases  string // other spellings, separated by blanks
}

// Constants of NIST SP 811 (2008), all exact by definition.
const (
	inch     = 0.0254        // m, B.8
	foot     = 0.3048        // m, B.8
	gravity  = 9.80665       // m/s², standard acceleration of free fall, B.8
	pound    = 0.45359237    // kg, avoirdupois pound, B.8
	mercury  = 13.5951       // relative to conventional water, conventional mercury column, B.8 footnotes
	waterMM  = gravity       // Pa, conventional millimetre of water: 1 kg/m² under gravity
	inchInMM = inch * 1000.0 // mm
)

// definitions is the table of units: aliases are spelled as [key] leaves them
// ("cm3" for "cm³", no blanks). Where a gauge's "inHg" could be one of three,
// it is the conventional one (3386.389 Pa), which weather services and gauges
// use; inHg at 60 °F would be 0.28 % less (NIST SP 811 B.8).
var definitions = []definition{
	{name: "Pa", dim: PressureDim, num: 1, den: 1, prefixed: true},
	{name: "bar", dim: PressureDim, num: 1e5, den: 1, prefixed: true},
	{name: "psi", dim: PressureDim, num: pound * gravity, den: inch * inch, aliases: "lbf/in2 lb/in2"},
	{name: "inHg", dim: PressureDim, num: inchInMM * mercury * gravity, den: 1, aliases: `in.Hg in.Hg. "Hg inchHg inchesHg`},
	{name: "mmHg", dim: PressureDim, num: mercury * gravity, den: 1, aliases: "mm.Hg"},
	{name: "cmHg", dim: PressureDim, num: 10 * mercury * gravity, den: 1},
	{name: "Torr", dim: PressureDim, num: 101325, den: 760, prefixed: true},
	{name: "inH2O", dim: PressureDim, num: inchInMM * waterMM, den: 1, aliases: `in.H2O "H2O inWC inAq`},
	{name: "mmH2O", dim: PressureDim, num: waterMM, den: 1, aliases: "mmWC mmWS"},
	{name: "cmH2O", dim: PressureDim, num: 10 * waterMM, den: 1, aliases: "cmWC cmWS"},
	{name: "atm", dim: PressureDim, num: 101325, den: 1},

	{name: "cfm", dim: FlowDim, num: foot * foot * foot, den: 60, aliases: "ft3/min"},
	{name: "L/min", dim: FlowDim, num: 1, den: 60e3, aliases: "l/min lpm LPM"},

	{name: "m", dim: LengthDim, num: 1, den: 1, prefixed: true},
	{name: "in", dim: LengthDim, num: inch, den: 1, aliases: `" inch inches in.`},
	{name: "ft", dim: LengthDim, num: foot, den: 1, aliases: "feet foot"},
	{name: "thou", dim: LengthDim, num: inch, den: 1000},

	{name: "m³", dim: VolumeDim, num: 1, den: 1, aliases: "m3"},
	{name: "dm³", dim: VolumeDim, num: 1, den: 1e3, aliases: "dm3"},
	{name: "cm³", dim: VolumeDim, num: 1, den: 1e6, aliases: "cm3 cc mL ml"},
	{name: "mm³", dim: VolumeDim, num: 1, den: 1e9, aliases: "mm3"},
	{name: "L", dim: VolumeDim, num: 1, den: 1e3, prefixed: true, aliases: "l litre litres liter liters"},
	{name: "in³", dim: VolumeDim, num: inch * inch * inch, den: 1, aliases: "in3 cuin cu.in. cu.in"},
	{name: "ft³", dim: VolumeDim, num: foot * foot * foot, den: 1, aliases: "ft3 cuft cu.ft. cu.ft"},

	{name: "K", dim: TemperatureDim, num: 1, den: 1, prefixed: true},
	{name: "°C", dim: TemperatureDim, num: 1, den: 1, shift: 273.15, aliases: "C degC"},
	{name: "°F", dim: TemperatureDim, num: 5, den: 9, shift: 459.67, aliases: "F degF"},

	{name: "s", dim: TimeDim, num: 1, den: 1, prefixed: true, aliases: "sec"},
	{name: "min", dim: TimeDim, num: 60, den: 1, aliases: "minute minutes"},
	{name: "h", dim: TimeDim, num: 3600, den: 1, aliases: "hr hour hours"},

	{name: "rad", dim: AngleDim, num: 1, den: 1, prefixed: true},
	{name: "°", dim: AngleDim, num: math.Pi, den: 180, aliases: "deg degree degrees"},

	{name: "r/min", dim: SpeedDim, num: math.Pi, den: 30, aliases: "rpm rev/min 1/min min-1 /min U/min"},
	{name: "rev/s", dim: SpeedDim, num: 2 * math.Pi, den: 1, aliases: "r/s rps 1/s s-1"},
	{name: "Hz", dim: SpeedDim, num: 2 * math.Pi, den: 1, prefixed: true},
	{name: "rad/s", dim: SpeedDim, num: 1, den: 1},

	{name: "%", dim: RatioDim, num: 1, den: 100, aliases: "percent pct"},
	{name: "1", dim: RatioDim, num: 1, den: 1},
}

// siPrefix multiplies a unit by num/den. The first spelling is canonical.
type siPrefix struct {
	spellings []string
	num, den  float64
}

// prefixes are the SI prefixes from nano to giga, smallest first.
var prefixes = []siPrefix{
	{[]string{"n"}, 1, 1e9},
	{[]string{"µ", "u"}, 1, 1e6},
	{[]string{"m"}, 1, 1e3},
	{[]string{"c"}, 1, 100},
	{[]string{"d"}, 1, 10},
	{[]string{"da"}, 10, 1},
	{[]string{"h"}, 100, 1},
	{[]string{"k"}, 1e3, 1},
	{[]string{"M"}, 1e6, 1},
	{[]string{"G"}, 1e9, 1},
}

// otherPrefixes are the SI prefixes that are not taken here.
const otherPrefixes = "qryzafpTPEZYRQ"

func prefixList() string {
	var s []string
	for _, p := range prefixes {
		s = append(s, p.spellings[0])
	}
	return strings.Join(s, ", ")
}

// everyday lists the units that a spelling without regard to case is looked
// for first, so that MBAR is mbar and not the megabar. mPa stands here beside
// MPa to keep MPA refused. M and k alone stay refused: they are prefixes.
var everyday = strings.Fields(`Pa hPa kPa mPa MPa bar mbar psi inHg mmHg cmHg Torr mTorr inH2O mmH2O cmH2O atm
	cfm L/min lpm l/min mm cm µm um in inch ft feet thou
	m3 dm3 cm3 cc mL ml mm3 L l in3 ft3 °C C degC °F F degF s sec ms msec µs us min h hr rad deg
	r/min rpm rev/min 1/min U/min rev/s Hz kHz rad/s % percent 1`)

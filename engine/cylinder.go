package engine

import (
	"math"

	"seatproof/gas"
)

// Cylinder is one cylinder, figures as they are, SI.
type Cylinder struct {
	Bore, Stroke float64 // m
	Rod          float64 // m, between the eyes' centres
	Ratio        float64 // compression ratio, of the full stroke
	IntakeCloses float64 // rad after bottom dead centre
	ExhaustOpens float64 // rad before bottom dead centre
	Rings        float64 // m², effective area of the ring blow-by, a rounded opening to a crankcase at the room's pressure
	Wall         float64 // K, of piston, head and liner alike
	Heat         HeatLaw // how the gas gives heat to the wall
	SeatWidth    float64 // m, round the seat (pi times its diameter); 0: guessed from the bore
	Contact      float64 // m, width of the contact, along the flow; 0: 1.2 mm
}

// Leak is a leak of one valve, as the vacuum test states it.
type Leak struct {
	Flow  float64 // m³/s of free air at a vacuum of 50 kPa
	Share float64 // of it that flows as an opening, 0..1; the rest seeps
	Edge  float64 // of the opening, 0 rounded .. 1 sharp
	Room  float64 // Pa, air pressure at the test
	Temp  float64 // K, of the air at the test

	// Intake says that the port stands at Run.Intake while the engine runs (an
	// intake valve's), not at the room's pressure (an exhaust valve's, and any
	// valve's while cranking).
	Intake bool
}

// Run is how the engine turns.
type Run struct {
	Speed  float64 // rad/s of the crankshaft
	Intake float64 // Pa in the cylinder at intake closing; cranking: Room
	Room   float64 // Pa, the room's air pressure
	Temp   float64 // K, of the charge at intake closing and of air that flows in
	Burn   *Burn   // nil: motored; &DefaultBurn: the usual burn

	Within float64 // the solver's tolerance; 0: Tolerance
}

// HeatLaw is the correlation for the heat that the gas gives the wall.
type HeatLaw int

// The laws.
const (
	Hohenberg HeatLaw = iota // the default: no constants to be fitted to the engine
	Woschni
)

// Burn is the heat release of a fired cycle, by Wiebe's function: the part
//
//	x = 1 - exp(-a y^(m+1)),  y = (angle - Start)/(End - Start)
//
// of the charge is burnt; what is not burnt at End (0.7 % at a = 5) stays so.
type Burn struct {
	Start, End float64 // rad after top dead centre (Start usually negative)
	A, M       float64
	Energy     float64 // J per kg of the charge that is there at Start
}

// DefaultBurn is the usual burn: from 20° before to 40° after top, a = 5, m = 2,
// 2.7 MJ/kg of mixture. Guesses; a and m from memory the usual ones of textbooks.
var DefaultBurn = Burn{Start: -20 * math.Pi / 180, End: 40 * math.Pi / 180, A: 5, M: 2, Energy: 2.7e6}

// Burnt returns the part of the charge that is burnt at the crank angle [rad].
func (b Burn) Burnt(angle float64) float64 {
	y := (angle - b.Start) / (b.End - b.Start)
	y = math.Min(math.Max(y, 0), 1)
	return -math.Expm1(-b.A * math.Pow(y, b.M+1))
}

// What is guessed where a figure is 0.
const (
	guessedSeat    = 0.36   // seat diameter over bore: between intake and exhaust of a two-valve head
	guessedContact = 1.2e-3 // m: that of a well-cut seat, as the workmanship limit takes it; of a seat at hand Given guesses, wide
)

func (c Cylinder) seatWidth() float64 {
	if c.SeatWidth != 0 {
		return c.SeatWidth
	}
	return math.Pi * guessedSeat * c.Bore
}

func (c Cylinder) contact() float64 {
	if c.Contact != 0 {
		return c.Contact
	}
	return guessedContact
}

// Swept returns the swept volume [m³]: pi/4 bore² stroke.
func (c Cylinder) Swept() float64 { return math.Pi / 4 * c.Bore * c.Bore * c.Stroke }

// Clearance returns the volume at top dead centre [m³]: swept/(ratio - 1).
func (c Cylinder) Clearance() float64 { return c.Swept() / (c.Ratio - 1) }

// RatioFor returns the compression ratio of a cylinder of the swept volume whose
// chamber (head, gasket, deck and piston together, at top dead centre) is
// chamber, both in m³. The error is a *[Fault].
func RatioFor(swept, chamber float64) (float64, error) {
	switch {
	case !(swept > 0) || math.IsInf(swept, 0):
		return 0, fault("swept volume", swept, "cm³", 1e6, "be above 0", "check bore and stroke")
	case !(chamber > 0):
		return 0, fault("clearance volume", chamber, "cm³", 1e6, "be above 0", "add up chamber, gasket, deck and piston bowl, and take off a piston's dome")
	case chamber >= swept:
		return 0, fault("chamber volume", chamber, "cm³", 1e6, "be below the swept volume, "+figure(swept*1e6)+" cm³", "give the chamber of one cylinder, in cm³, or check bore and stroke")
	}
	return (swept + chamber) / chamber, nil
}

// Volume returns the volume above the piston [m³] at the crank angle [rad, 0 at
// top dead centre], by the slider-crank without offset:
//
//	V = Vc + pi/4 bore² (l + a - a cos - sqrt(l² - a² sin²)),  a = stroke/2, l = rod
//
// Held by TestSliderCrank.
func (c Cylinder) Volume(angle float64) float64 {
	a := c.Stroke / 2
	sin, cos := math.Sincos(angle)
	x := c.Rod + a - a*cos - math.Sqrt(c.Rod*c.Rod-a*a*sin*sin)
	return c.Clearance() + math.Pi/4*c.Bore*c.Bore*x
}

// HeatTransfer returns the coefficient [W/(m² K)] at which the gas, at p [Pa] and
// t [K] in the volume v [m³], gives heat to the wall, with a mean piston speed
// [m/s] and no burn:
//
//	Hohenberg: 130 v^-0.06 p^0.8 t^-0.4 (speed + 1.4)^0.8,          p in bar
//	Woschni:   3.26 bore^-0.2 p^0.8 t^-0.55 (2.28 speed)^0.8,       p in kPa
//
// Sources: Hohenberg 1979 and Woschni 1967 in the forms of Heywood, Internal
// Combustion Engine Fundamentals, ch. 12 (from memory; the constants as published
// in a public collection of such laws). Woschni's exponent is printed as 0.53 and
// as 0.55: 14 % apart at 700 K. Held by TestHeatTransfer.
func (c Cylinder) HeatTransfer(v, p, t, speed float64) float64 {
	if c.Heat == Woschni {
		return woschni * math.Pow(c.Bore, -0.2) * math.Pow(p*1e-3, 0.8) * math.Pow(t, -0.55) * math.Pow(woschniSpeed*speed, 0.8)
	}
	return hohenberg * math.Pow(v, -0.06) * math.Pow(p*1e-5, 0.8) * math.Pow(t, -0.4) * math.Pow(speed+hohenbergSpeed, 0.8)
}

// Constants of the heat laws, sources at [Cylinder.HeatTransfer].
const (
	hohenberg      = 130
	hohenbergSpeed = 1.4 // m/s
	woschni        = 3.26
	woschniSpeed   = 2.28
	woschniBurn    = 3.24e-3 // m/(s K), of a spark-ignition engine or a direct-injection one
	motoredPower   = 1.3     // polytropic exponent of the motored pressure in Woschni's burn term, from memory
)

// opening and seep are the elements of a leak in a cylinder.
func (c Cylinder) elements(l Leak) (gas.Opening, gas.Seep, error) {
	var o gas.Opening
	var s gas.Seep
	var err error
	if q := l.Flow * l.Share; q > 0 {
		if o, err = gas.OpeningFor(q, gas.StatedVacuum, l.Room, l.Temp, l.Edge); err != nil {
			return o, s, err
		}
		o.Reference = (l.Room - gas.StatedVacuum) / l.Room
	}
	if q := l.Flow * (1 - l.Share); q > 0 {
		if s, err = gas.SeepFor(q, gas.StatedVacuum, l.Room, l.Temp, c.seatWidth(), c.contact()); err != nil {
			return o, s, err
		}
	}
	return o, s, nil
}

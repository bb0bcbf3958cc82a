// Package rig describes a vacuum rig (pump, hose, gauge, volumes, the air it
// stands in) and says what its gauge would show: the forward model.
//
// Start with [Rig], which is what a rig file holds, and [Closed], whose
// Run computes a whole test. SI inside; a figure nobody gave is a
// unit.Measured that is not Known, and the reader of the rig guesses, wide.
package rig

import (
	"math"

	"seatproof/num"
	"seatproof/unit"
)

// Rig is everything known about a rig and, in Port, about the port it is on.
type Rig struct {
	Name    string
	Volume  unit.Measured // m³, the rig's own part: hose, fitting, plate
	RigLeak unit.Measured // m³/s of free air at 50 kPa vacuum, with a blank on it
	Port    Port
	Pump    Pump
	Hose    Hose
	Gauge   Gauge
	Air     Air
}

// Port is what the rig is put on.
type Port struct {
	Volume          unit.Measured // m³
	VolumeGuessed   bool          // Volume is a guess by the port's size: the reading says so
	Held            Held
	WetWith         Liquid
	HeadTemperature unit.Measured // K
}

// Held says what pressed the valves onto their seats beside the vacuum.
type Held string

// The ways a valve may be held. The zero value means not known.
const (
	HeldNotSaid     Held = ""
	HeldNothing     Held = "nothing"
	HeldThumb       Held = "thumb"
	HeldLightSpring Held = "light-spring"
	HeldOwnSpring   Held = "own-spring"
)

// Liquid is what the seat was wet with.
type Liquid string

// Liquids a port may hold. The zero value means not known.
const (
	WetNotSaid     Liquid = ""
	WetNothing     Liquid = "nothing" // dry
	WetOil         Liquid = "oil"
	WetWater       Liquid = "water"
	WetIsopropanol Liquid = "isopropanol"
	WetPetrol      Liquid = "petrol"
	WetAcetone     Liquid = "acetone"
	WetWhiteSpirit Liquid = "white-spirit" // and other liquids of a high flash point
)

// Pump is the pump's curve, by points or by two numbers.
type Pump struct {
	FreeFlow     unit.Measured // m³/s of free air at no vacuum
	Curve        []PumpPoint   // measured points, vacuum rising; overrides the two numbers
	Blanked      unit.Measured // Pa of vacuum on the blanked rig; Spread is its scatter from pull to pull
	RatedAt      unit.Measured // Pa, air pressure Blanked is rated at; not known: read here, today
	AfterShutOff PumpState
}

// PumpPoint is one point of a pump curve.
type PumpPoint struct {
	Vacuum unit.Vacuum // Pa
	Flow   float64     // m³/s of free air
}

// PumpState is what the pump did after the shut-off valve closed.
type PumpState string

// The pump's states. The zero value means not known.
const (
	PumpNotSaid PumpState = ""
	PumpStopped PumpState = "stopped"
	PumpRunning PumpState = "running"
)

// Known says whether the pump's curve is known well enough to turn a steady
// reading into a flow.
func (p Pump) Known() bool {
	return len(p.Curve) >= 2 || (p.FreeFlow.Known && p.Blanked.Known)
}

// Hose lies between pump and port.
type Hose struct {
	Bore, Length unit.Measured // m
	GaugeAt      GaugePlace
}

// GaugePlace is the end of the hose at which the gauge sits.
type GaugePlace string

// The ends of the hose. The zero value means not known.
const (
	GaugeNotSaid GaugePlace = ""
	GaugeAtPort  GaugePlace = "port"
	GaugeAtPump  GaugePlace = "pump"
)

// GaugeKind tells a needle from a sensor.
type GaugeKind string

// The kinds of gauge. The zero value means not known.
const (
	GaugeKindNotSaid GaugeKind = ""
	GaugeDigital     GaugeKind = "digital"
	GaugeNeedle      GaugeKind = "needle"
)

// Gauge is the vacuum gauge.
type Gauge struct {
	Kind       GaugeKind
	Unit       string // of its scale, as package unit names it: "inHg"; "": not said. Not used in any figure
	Span       Span
	Accuracy   unit.Measured // fraction of span, 95 %, in Value
	Class      float64       // EN 837-1 accuracy class [% of span]; 0: none given
	Resolution float64       // Pa, step of a digital gauge; 0: not given
	Division   float64       // Pa, scale division of a needle gauge; 0: not given
	Zero       unit.Measured // Pa, reading when vented; used when the trace is not vented
	Response   unit.Measured // s, first-order lag
	Line       *GaugeLine    // from a check against something better; nil: none made
}

// GaugeLine is what a check of the gauge found: the line that corrects it. What
// it reads as v is
//
//	v + Offset + Slope v
//
// within the line's own doubt, sqrt(u1² + 2 r v u1 u2 + v² u2²), u1 and u2 the
// standard deviations of Offset and Slope and r their correlation, and Bow, by
// which the gauge may leave the line between its ends. It takes the place of
// Accuracy and Class. Source: JCGM 100:2008 (GUM), H.3, there with b = y1 + y2 t.
type GaugeLine struct {
	Offset      unit.Measured `json:"offset"`      // Pa
	Slope       unit.Measured `json:"slope"`       // 1
	Correlation float64       `json:"correlation"` // -1..1
	Bow         unit.Measured `json:"bow"`         // Pa, 95 % in Value; not known: half the gauge's accuracy, as without a line
}

// Correct returns what the gauge stands at when it reads v [Pa], with its 95 %.
func (l *GaugeLine) Correct(v float64) unit.Measured {
	u1, u2 := l.Offset.SD(), l.Slope.SD()
	u := math.Sqrt(math.Max(0, u1*u1+2*l.Correlation*v*u1*u2+v*v*u2*u2))
	return unit.About(v+l.Offset.Value+l.Slope.Value*v, u*num.Z95)
}

// Span is the range of a gauge's scale [Pa of vacuum].
type Span struct {
	Low, High float64
	Known     bool
}

// Width returns the width of the span [Pa].
func (s Span) Width() float64 { return s.High - s.Low }

// Air is the room the rig stands in.
type Air struct {
	Pressure    unit.Measured // Pa, absolute, as it is here
	Altitude    unit.Measured // m, used when Pressure is not known
	Temperature unit.Measured // K
}

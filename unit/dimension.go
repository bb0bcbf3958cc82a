package unit

import "strconv"

// Dimension is what a quantity measures.
type Dimension uint8

// The dimensions that fields, files and flags ask for.
const (
	PressureDim    Dimension = iota + 1 // Pa
	FlowDim                             // m³/s
	LengthDim                           // m
	VolumeDim                           // m³
	TemperatureDim                      // K
	TimeDim                             // s
	AngleDim                            // rad
	SpeedDim                            // rad/s, of a crankshaft
	RatioDim                            // 1, written as % or plain
)

// dimensions holds the name of each dimension, its SI unit, and an everyday
// unit to show in a message, as it can be typed on any keyboard.
var dimensions = map[Dimension]struct{ name, si, everyday string }{
	PressureDim:    {"pressure", "Pa", "kPa"},
	FlowDim:        {"flow", "m³/s", "L/min"},
	LengthDim:      {"length", "m", "mm"},
	VolumeDim:      {"volume", "m³", "cm3"},
	TemperatureDim: {"temperature", "K", "°C"},
	TimeDim:        {"time", "s", "s"},
	AngleDim:       {"angle", "rad", "deg"},
	SpeedDim:       {"speed", "rad/s", "r/min"},
	RatioDim:       {"ratio", "1", "%"},
}

// String returns the name of the dimension in lower case: "pressure".
func (d Dimension) String() string {
	if x, ok := dimensions[d]; ok {
		return x.name
	}
	return "dimension " + strconv.Itoa(int(d))
}

// SIUnit returns the canonical spelling of the dimension's SI unit: "m³/s".
// It is empty for a Dimension that is none of the constants.
func (d Dimension) SIUnit() string { return dimensions[d].si }

// withArticle returns "a pressure", "an angle".
func (d Dimension) withArticle() string {
	if d == AngleDim {
		return "an " + d.String()
	}
	return "a " + d.String()
}

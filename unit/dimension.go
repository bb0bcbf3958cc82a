package unit

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

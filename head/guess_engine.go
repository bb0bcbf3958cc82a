package head

import (
	"math"

	"seatproof/unit"
)

// What is guessed of an engine, with its ± (95 %): guesses, no source.
const (
	rodStrokes   = 1.75 // strokes
	rodSpread    = 0.15 // of it
	closesAt     = 50 * degree
	closesSpread = 20 * degree
	crankedAt    = 250 * perMinute // cars; motorcycles turn faster
	crankSpread  = 100 * perMinute
)

// RodOr returns the length of the connecting rod [m], or 1.75 strokes ± 15 %; not
// known where the stroke is not. guessed says which.
func (e *Engine) RodOr() (rod unit.Measured, guessed bool) {
	if known(e.Rod) {
		return e.Rod, false
	}
	if !known(e.Stroke) {
		return unit.Measured{}, false
	}
	l := rodStrokes * e.Stroke.Value
	return unit.About(l, math.Hypot(rodSpread*l, rodStrokes*e.Stroke.Spread)), true
}

// IntakeClosesOr returns when the intake closes [rad after bottom dead centre], or
// 50° ± 20°.
func (e *Engine) IntakeClosesOr() (at unit.Measured, guessed bool) {
	if known(e.IntakeCloses) {
		return e.IntakeCloses, false
	}
	return unit.About(closesAt, closesSpread), true
}

// CrankingOr returns the cranking speed [rad/s], or 250 r/min ± 100 r/min.
func (e *Engine) CrankingOr() (speed unit.Measured, guessed bool) {
	if known(e.Cranking) {
		return e.Cranking, false
	}
	return unit.About(crankedAt, crankSpread), true
}

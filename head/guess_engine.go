package head

import (
	"math"

	"seatproof/engine"
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

// What is guessed of a cylinder's size, with its ± (95 %): guesses, no source.
const (
	strokeSpread  = 0.2 // of the bore
	guessedRatio  = 9.5
	ratioSpread   = 2.5
	aboveChamber  = 1.25 // what is above the piston, over the chamber in the head: gasket and crown
	chamberSpread = 0.25 // of it
)

// StrokeOr returns the stroke [m], or about the bore, ± 20 % of it. guessed says
// which.
func (j *Job) StrokeOr() (stroke unit.Measured, guessed bool) {
	if known(j.Engine.Stroke) {
		return j.Engine.Stroke, false
	}
	b, _ := j.BoreOr()
	return unit.About(b.Value, math.Hypot(b.Spread, strokeSpread*b.Value)), true
}

// RatioOr returns the compression ratio, or what follows from bore, stroke and the
// chamber in the head with a quarter more for gasket and crown, ± 25 %; where no
// chamber is given, 9.5 ± 2.5. guessed says which.
func (j *Job) RatioOr() (ratio unit.Measured, guessed bool) {
	e := &j.Engine
	switch {
	case e.CompressionRatio.Known && e.CompressionRatio.Value > 1:
		return e.CompressionRatio, false
	case !known(e.Chamber):
		return unit.About(guessedRatio, ratioSpread), true
	}
	b, _ := j.BoreOr()
	s, _ := j.StrokeOr()
	r := math.Pi / 4 * b.Value * b.Value * s.Value / (aboveChamber * e.Chamber.Value)
	of := func(m unit.Measured) float64 { return m.Spread / m.Value }
	return unit.About(1+r, r*math.Sqrt(chamberSpread*chamberSpread+4*of(b)*of(b)+of(s)*of(s)+of(e.Chamber)*of(e.Chamber))), true
}

// Given is what is known and guessed of the engine, as package engine takes it,
// with the names of what was guessed of its size. Rod, closing and speeds that
// nobody gave are guessed there, as here.
func (j *Job) Given() (g engine.Given, guessed []string) {
	e := &j.Engine
	take := func(name string, to *unit.Measured, m unit.Measured, guess bool) {
		*to = m
		if guess {
			guessed = append(guessed, name)
		}
	}
	m, guess := j.BoreOr()
	take("bore", &g.Bore, m, guess)
	m, guess = j.StrokeOr()
	take("stroke", &g.Stroke, m, guess)
	m, guess = j.RatioOr()
	take("compression ratio", &g.Ratio, m, guess)
	g.Rod, g.IntakeCloses, g.Cranking, g.Idle, g.TopSpeed = e.Rod, e.IntakeCloses, e.Cranking, e.Idle, e.TopSpeed
	return g, guessed
}

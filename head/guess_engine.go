package head

import (
	"math"

	"seatproof/engine"
	"seatproof/unit"
)

// What is guessed of what lies above the piston, with its ± (95 %): guesses, no
// source.
const (
	aboveChamber  = 1.25 // what is above the piston, over the chamber in the head: gasket and crown
	chamberSpread = 0.25 // of it
)

// RatioOr returns the compression ratio, or what follows from bore, stroke and the
// chamber in the head with a quarter more for gasket and crown, ± 25 %; not known
// where no chamber is given either. guessed says which.
func (j *Job) RatioOr() (ratio unit.Measured, guessed bool) {
	e := &j.Engine
	switch {
	case e.CompressionRatio.Known && e.CompressionRatio.Value > 1:
		return e.CompressionRatio, false
	case !known(e.Chamber):
		return unit.Measured{}, false
	}
	b, _ := j.BoreOr()
	g, _ := engine.Given{Bore: b, Stroke: e.Stroke}.Filled()
	s := g.Stroke
	r := math.Pi / 4 * b.Value * b.Value * s.Value / (aboveChamber * e.Chamber.Value)
	of := func(m unit.Measured) float64 { return m.Spread / m.Value }
	return unit.About(1+r, r*math.Sqrt(chamberSpread*chamberSpread+4*of(b)*of(b)+of(s)*of(s)+of(e.Chamber)*of(e.Chamber))), true
}

// Given is what is known and guessed of the engine, as package engine takes it,
// with the names of what was guessed: "bore", and those of [engine.Given.Filled].
func (j *Job) Given() (g engine.Given, guessed []string) {
	e := &j.Engine
	bore, guess := j.BoreOr()
	if guess {
		guessed = append(guessed, "bore")
	}
	ratio, guess := j.RatioOr()
	if guess {
		guessed = append(guessed, "compression ratio")
	}
	g, more := engine.Given{Bore: bore, Stroke: e.Stroke, Ratio: ratio, Rod: e.Rod, IntakeCloses: e.IntakeCloses, Cranking: e.Cranking, Idle: e.Idle, TopSpeed: e.TopSpeed}.Filled()
	return g, append(guessed, more...)
}

package engine

import (
	"math"

	"seatproof/unit"
)

// What is guessed of a cylinder's size, with its ± (95 %): guesses, no source.
const (
	strokeSpread             = 0.2 // of the bore, about which the stroke is
	guessedRatio, ratioWidth = 9.5, 2.5
)

// Filled returns the cylinder with guesses in the place of what nobody gave, bore
// aside, and the names of those: stroke, compression ratio, connecting rod, intake
// closing, cranking speed, idle speed, top speed. A rod and a top speed are guessed
// by the stroke. What is reckoned with them is what is reckoned without:
// TestFilled. Seat and contact stay as they are: their guess follows the bore, or
// is not one that a ± can say.
func (g Given) Filled() (Given, []string) {
	var guessed []string
	take := func(name string, m *unit.Measured, value, spread float64) {
		if !m.Known || !(m.Value > 0) {
			*m = unit.About(value, spread)
			guessed = append(guessed, name)
		}
	}
	take("stroke", &g.Stroke, g.Bore.Value, math.Hypot(g.Bore.Spread, strokeSpread*g.Bore.Value))
	take("compression ratio", &g.Ratio, guessedRatio, ratioWidth)
	take("connecting rod", &g.Rod, rodStrokes*g.Stroke.Value, rodSpread*rodStrokes*g.Stroke.Value)
	take("intake closing", &g.IntakeCloses, closesAt, closesSpread)
	take("cranking speed", &g.Cranking, crankedAt, crankedSpread)
	take("idle speed", &g.Idle, idleAt, idleSpread)
	fast := topPiston * math.Pi / g.Stroke.Value
	take("top speed", &g.TopSpeed, fast, topSpread*fast)
	return g, guessed
}

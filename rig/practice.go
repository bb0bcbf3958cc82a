package rig

import (
	"math"
	"slices"

	"seatproof/gas"
)

// Practice is one thing that real ports and rigs do beside leaking, in three
// strengths.
type Practice struct {
	Name   string
	What   string // what the strength is a figure of
	Unit   string // in words
	Weak   float64
	Usual  float64
	Strong float64
	Source string

	set func(x float64, c *Closed, g *Shown)
}

// Strengths returns the three strengths, weak, usual, strong.
func (p Practice) Strengths() [3]float64 { return [3]float64{p.Weak, p.Usual, p.Strong} }

// Apply puts the practice on a closed volume and its gauge, x strong. What has
// been put on before stays; effects shared with another volume are not changed.
// What it needs beside its strength is as the constants of this file say.
func (p Practice) Apply(x float64, c *Closed, g *Shown) {
	e := Effects{}
	if c.Effects != nil {
		e = *c.Effects
		e.Films, e.Yields = slices.Clone(e.Films), slices.Clone(e.Yields)
	}
	c.Effects = &e
	p.set(x, c, g)
}

// What the practices of [PracticeTable] take for granted. Guesses from common
// practice, no source.
const (
	practiceHead     = 27e-3    // m, valve head that the vacuum presses, nothing else holding it
	practicePool     = 0.5e-6   // m³ of liquid, a small pool
	practiceOil      = 0.1      // Pa s
	practiceSeat     = 1.2e-3   // m, contact width under an oil film
	practicePad      = 10e-6    // m³ of gas in a foam pad
	practicePadTau   = 15.0     // s, creep, and gas given off
	practiceHose     = 15e-6    // m³, 8 mm by 0.3 m
	practiceLate     = 0.5      // part of what a hose gives that comes late
	practiceHoseTau  = 6.0      // s
	practicePortPart = 0.6      // of the closed volume, at the head's temperature
	practiceHeadFade = 900.0    // s, a head cools on the bench
	practiceDoorAt   = 20.0     // s after the start of the run
	practiceSlot     = 5e-3     // m, width and length of what leaks back
	practiceVacuum   = 75e3     // Pa at which an oil film's time is stated
	cm3              = 1e-6     // m³
	cm3min           = cm3 / 60 // m³/s
)

// Words for where a figure comes from.
const (
	fromMemory = "from memory"
	guessed    = "common practice, no source"
)

// wet is the practice of a liquid left in the port. Its strengths follow from
// diffusion off a surface A through some 5 mm of gas, k = D/(5 mm) = 5 mm/s and
// 1/Tau = k A/V: 1.5, 5 and 20 cm² in 150 cm³, about.
func wet(name, what string, l Liquid) Practice {
	return Practice{name, what + " left in the port: how fast it evaporates", "1/s", 1.0 / 200, 1.0 / 60, 1.0 / 15, "diffusion, derived roughly; its surface a guess",
		func(x float64, c *Closed, _ *Shown) {
			c.Effects.Residue = &Residue{Liquid: l, Volume: practicePool, Tau: 1 / x}
		}}
}

// PracticeTable returns what real ports and rigs do beside leaking: every
// effect of the forward model and of the gauge, in three strengths. The same
// table with its laws stands in docs/model.md §3.
func PracticeTable() []Practice {
	return []Practice{
		{"seat-moves", "exponent n of gap against load, held by the vacuum alone", "1", 0.1, 0.2, 0.4, "a guess; 0.14 to 0.27 bends a seep's curve into an opening's (derived)",
			func(x float64, c *Closed, _ *Shown) {
				if leak, pa := c.Leak, c.AirPressure; leak != nil {
					l := Load{Head: practiceHead, Weight: ValveWeight}
					c.Leak = func(p float64) float64 { return leak(p) * math.Pow(l.GapFactor(math.Max(0, pa-p), x), 3) }
				}
			}},
		wet("water-left", "water", WetWater),
		wet("isopropanol-left", "isopropanol", WetIsopropanol),
		wet("acetone-left", "acetone", WetAcetone),
		wet("petrol-left", "petrol", WetPetrol),
		wet("white-spirit-left", "white spirit", WetWhiteSpirit),
		{"oil-film", "time that an oil film closes the leak at 75 kPa", "s", 12, 20, 44, "derived: 0.1 Pa s in a seat of 1.2 mm, 1 µm, and in a guide of 35 mm, 22 and 15 µm; viscosity " + fromMemory,
			func(x float64, c *Closed, _ *Shown) {
				if c.Leak != nil {
					gap := practiceSeat * math.Sqrt(6*practiceOil/(x*practiceVacuum))
					c.Effects.Films = append(c.Effects.Films, Film{practiceOil, gap, practiceSeat, c.Leak})
					c.Leak = nil
				}
			}},
		{"pad-creeps", "part of a pad's gas volume lost at 100 kPa", "1", 0.02, 0.06, 0.2, guessed,
			func(x float64, c *Closed, _ *Shown) {
				c.Effects.Yields = append(c.Effects.Yields, Pad(practicePad, x, practicePadTau)...)
			}},
		{"pad-gas", "gas that a pad gives off", "m³ of free air", 0.05 * cm3, 0.2 * cm3, 1 * cm3, guessed,
			func(x float64, c *Closed, _ *Shown) { c.Effects.Store = Store{x, practicePadTau} }},
		{"hose-relaxes", "part of a hose's volume lost at 100 kPa", "1", 0.005, 0.03, 0.14, "soft silicone 14 %; the others " + guessed,
			func(x float64, c *Closed, _ *Shown) {
				v := practiceHose * x
				c.Effects.Yields = append(c.Effects.Yields, Yield{v * (1 - practiceLate), AtOnce}, Yield{v * practiceLate, practiceHoseTau})
			}},
		{"warm-head", "head above the room", "K", 2, 8, 25, guessed + " (25 K: out of the wash)",
			func(x float64, c *Closed, _ *Shown) {
				c.WallTemp = c.AirTemp + practicePortPart*x
				c.Effects.Wall.Fade = practiceHeadFade
			}},
		{"leaks-back", "leak back through the shut-off valve at 50 kPa", "m³/s of free air", 0.3 * cm3min, 2 * cm3min, 10 * cm3min, guessed,
			func(x float64, c *Closed, _ *Shown) {
				// the sizes are in range, so the only error is an x that is none
				s, err := gas.SeepFor(x, math.Min(gas.StatedVacuum, 0.9*c.AirPressure), c.AirPressure, c.AirTemp, practiceSlot, practiceSlot)
				if err != nil {
					c.Effects.Back = func(float64) float64 { return math.NaN() }
					return
				}
				c.Effects.Back = Inflow(c.AirPressure, c.AirTemp, s)
			}},
		{"room-drifts", "drift of the air pressure", "Pa/s", 0.01, 0.03, 0.1, "0.4 to 4 hPa an hour; " + fromMemory,
			func(x float64, c *Closed, _ *Shown) { c.Effects.Room.Drift = x }},
		{"door", "step of the air pressure in the hold, a door", "Pa", 3, 10, 40, guessed,
			func(x float64, c *Closed, _ *Shown) { c.Effects.Room.Step, c.Effects.Room.At = x, practiceDoorAt }},
		{"gauge-lag", "lag of the gauge, first order", "s", 0.05, 0.2, 0.5, guessed,
			func(x float64, _ *Closed, g *Shown) { g.Lag = x }},
		{"gauge-gain", "gain of the gauge", "of the reading", 0.002, 0.01, 0.025, "EN 837-1 classes 1 and 2.5; a sensor's: " + guessed,
			func(x float64, _ *Closed, g *Shown) { g.Gain = x }},
		{"gauge-bow", "bow of the gauge", "of 100 kPa of span", 0.001, 0.005, 0.0125, "half the gain's; " + guessed,
			func(x float64, _ *Closed, g *Shown) { g.Bow = x }},
		{"zero-off", "zero of the gauge", "Pa", 100, 300, 1000, guessed,
			func(x float64, _ *Closed, g *Shown) { g.Zero = x }},
		{"zero-drifts", "drift of the zero", "Pa/s", 0.2, 1, 5, guessed + " (a sensor that warms up)",
			func(x float64, _ *Closed, g *Shown) { g.Drift = x }},
		{"needle-play", "loop between rising and falling", "Pa", 200, 600, 1600, "within the class by EN 837-1, " + fromMemory + " (classes 1 and 1.6 of 100 kPa)",
			func(x float64, _ *Closed, g *Shown) { g.Play = x }},
		{"needle-sticks", "friction of the needle", "Pa", 100, 400, 1000, guessed,
			func(x float64, _ *Closed, g *Shown) { g.Friction = x }},
		{"gauge-step", "step of the gauge", "Pa", 10, 100, 1000, guessed + " (1 kPa: a needle read by eye)",
			func(x float64, _ *Closed, g *Shown) { g.Step = x }},
	}
}

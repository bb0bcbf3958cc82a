package study

import (
	"math"
	"math/rand/v2"
	"slices"

	"seatproof/leak"
	"seatproof/rig"
)

// Off is something that the estimator's model does not hold, or that its owner
// stated wrongly.
type Off string

// What may be off.
const (
	OffNothing    Off = ""
	OffConduction Off = "conduction"   // the wall's heat by conduction alone
	OffVapour     Off = "vapour"       // up to 2 kPa in a port said to be dry
	OffWarmHead   Off = "warm head"    // 10 K above the room, unstated
	OffBow        Off = "gauge bow"    // twice as large as stated
	OffLoad       Off = "seat moves"   // a seep that closes with the load, n 0 to 0.5
	OffWideGap    Off = "one wide gap" // a seep of 0.2 mm contact, inertia and all
)

// OffAll lists what may be off.
func OffAll() []Off {
	return []Off{OffConduction, OffVapour, OffWarmHead, OffBow, OffLoad, OffWideGap}
}

// off changes a drawn test by what the family says is off.
func (t *Truth) off(r *rand.Rand, g *rig.Rig, f Family) {
	switch f.Off {
	case OffConduction:
		t.Mix = 1
	case OffVapour:
		t.Vapour = 2e3 * r.Float64()
		t.TauV = math.Pow(60, r.Float64())
	case OffWarmHead:
		t.Wall = t.Air + 10*g.Port.Volume.Value/(g.Port.Volume.Value+g.Volume.Value)
	case OffBow:
		t.Bow *= 2
	case OffLoad:
		t.Load = 0.5 * r.Float64()
		g.Port.Held = []rig.Held{rig.HeldOwnSpring, rig.HeldLightSpring, rig.HeldThumb, rig.HeldNothing}[r.IntN(4)]
	case OffWideGap:
		t.Share, t.Contact = 0, 0.2e-3
	}
	if f.Practice == nil {
		return
	}
	switch f.Practice.Name {
	case "seat-moves": // as the practice has it: the vacuum alone
		g.Port.Held = rig.HeldNothing
		t.Load = f.Strength
	case "leaks-back": // the blank was held in the state of the test, and shows it
		g.RigLeak.Value += f.Strength
		g.RigLeak.Spread = math.Hypot(g.RigLeak.Spread, 0.15*f.Strength)
	default:
		if l, ok := wetWith[f.Practice.Name]; ok { // named, or not said or said to be dry, half each
			g.Port.WetWith = []rig.Liquid{rig.WetNotSaid, rig.WetNothing}[r.IntN(2)]
			if f.Told {
				g.Port.WetWith = l
			}
		}
	}
}

// wetWith names the liquid of a practice.
var wetWith = map[string]rig.Liquid{
	"water-left": rig.WetWater, "isopropanol-left": rig.WetIsopropanol, "acetone-left": rig.WetAcetone,
	"petrol-left": rig.WetPetrol, "white-spirit-left": rig.WetWhiteSpirit,
}

// Wets says whether a practice leaves a liquid in the port, which its owner can
// name.
func Wets(name string) bool { return wetWith[name] != "" }

// put lays the leaks into the closed volume, with the family's practice on the
// seat's own.
func (t *Truth) put(f Family, parts leaks, c *rig.Closed, shown *rig.Shown) {
	c.Leak = rig.Inflow(t.Pressure, t.Air, parts.opening, parts.seep)
	if f.Practice != nil && f.Practice.Name != "seat-moves" {
		f.Practice.Apply(f.Strength, c, shown)
		if f.Practice.Name == "door" {
			c.Effects.Room.At = t.ShutOff + t.Hold/2
		}
	}
	seat, own := c.Leak, rig.Inflow(t.Pressure, t.Air, parts.rig)
	c.Leak = func(p float64) float64 {
		q := own(p)
		if seat != nil {
			q += seat(p)
		}
		return q
	}
}

// RightWarnings returns the warnings that tell of a practice or of what is off,
// by its name; none where the trace can't show it.
func RightWarnings(name string) []leak.WarningCode {
	fades := []leak.WarningCode{leak.FallStops, leak.Slowing, leak.WetPort}
	switch name {
	case "oil-film":
		return []leak.WarningCode{leak.HoldBreaks, leak.ReadingsDiffer}
	case "pad-creeps", "pad-gas", "hose-relaxes", string(OffVapour):
		return fades
	case "warm-head", "room-drifts", "door", "zero-drifts", string(OffWarmHead):
		return []leak.WarningCode{leak.Drift}
	case "needle-play", "needle-sticks":
		return []leak.WarningCode{leak.HoldBreaks, leak.LawMisfit}
	case string(OffConduction), string(OffWideGap), string(OffBow), string(OffLoad):
		return []leak.WarningCode{leak.LawMisfit}
	}
	if Wets(name) {
		return append(fades, leak.LawMisfit) // its words name a wet port, too
	}
	return nil
}

// Signs counts what readings of a practice say: how often they hold the truth,
// how often they give one of its right warnings, and how often either.
type Signs struct {
	Tally
	Warned, Either int
	Codes          map[leak.WarningCode]int // of every warning
}

// CountSigns tallies outcomes with the right warnings of a practice.
func CountSigns(out []Outcome, right []leak.WarningCode) Signs {
	s := Signs{Tally: Count(out), Codes: map[leak.WarningCode]int{}}
	for _, o := range out {
		if o.Err != nil || o.Reading.Refusal != nil || o.Reading.Leak == nil {
			continue
		}
		warned := false
		for _, w := range o.Reading.Warnings {
			s.Codes[w.Code]++
			warned = warned || slices.Contains(right, w.Code)
		}
		if warned {
			s.Warned++
		}
		if q := o.Truth.Flow; warned || q <= o.Reading.Leak.High && (q >= o.Reading.Leak.Low || o.Reading.UpperLimitOnly) {
			s.Either++
		}
	}
	return s
}

package leak

import (
	"math"

	"seatproof/rig"
)

// mostLoad is the largest power n with which a seep's gap closes with the force
// on its valve, h = h50 (F/F50)^-n. A guess (docs/model.md §1).
const mostLoad = 0.5

// Half of all seats are taken not to move (n = 0), half to have any n up to
// mostLoad: of that, mean and standard deviation.
const (
	loadMean = 0.125
	loadSD   = 0.161
)

// loadPart is a part of the prior of that power, taken as normal.
type loadPart struct{ mean, sd, weight float64 }

// anyLoad is the whole of it in one.
var anyLoad = loadPart{loadMean, loadSD, 1}

// loadParts returns the prior of the power in parts that are gone through one by
// one. Under its own spring a seat hardly moves and one will do.
func loadParts(h rig.Held) []loadPart {
	if h == rig.HeldOwnSpring {
		return []loadPart{anyLoad}
	}
	parts := []loadPart{{0, 0.01, 0.5}}
	const n = 4
	for i := range n {
		width := mostLoad / n
		parts = append(parts, loadPart{width * (float64(i) + 0.5), width / math.Sqrt(12), 0.5 / n})
	}
	return parts
}

// guessHead [m²] is the area of a valve's head that the vacuum pulls at, of 27 mm.
const guessHead = math.Pi / 4 * 0.027 * 0.027

// preload returns what presses a valve beside the vacuum, as the vacuum [Pa]
// that would press a head of 27 mm as hard: its spring, a thumb, its weight. Where
// nobody said, a thumb's.
func preload(h rig.Held) float64 {
	if h == rig.HeldNotSaid {
		h = rig.HeldThumb
	}
	return (h.Push() + rig.ValveWeight) / guessHead
}

// loadDraw returns the power of the load at a fraction u of its prior, within
// its bounds.
func loadDraw(u float64) float64 {
	return math.Min(mostLoad, math.Max(0, loadMean+loadSD*normalQuantile(u)))
}

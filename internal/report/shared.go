package report

import (
	"seatproof/crosscheck"
	"seatproof/head"
	"seatproof/leak"
)

// PartOf is how much of a port's leak comes out in one of its cylinders: all of it,
// where it feeds one. Of a port between cylinders the valve that leaks decides: what
// tests with valves masked told of those of this cylinder; else a part of which
// nothing is known. What is left with all seats masked comes out in none.
func PartOf(j *head.Job, p *head.Port, card *head.PortCard, cylinder int) crosscheck.Part {
	if len(p.Cylinders) < 2 {
		return crosscheck.Part{}
	}
	part := crosscheck.Part{Shared: true}
	if card == nil || card.Apart == nil {
		return part
	}
	n := 0
	for i := range card.Apart.Valves {
		v := &card.Apart.Valves[i]
		if cylinderOf(j, v.ID) != cylinder {
			continue
		}
		if !v.Known {
			return part
		}
		n++
		part.Of.Median += v.Share.Median
		part.Of.Low += v.Share.Low
		part.Of.High += v.Share.High
	}
	part.Told = n > 0
	part.Of.Low, part.Of.Median, part.Of.High = min(1, part.Of.Low), min(1, part.Of.Median), min(1, part.Of.High)
	return part
}

func cylinderOf(j *head.Job, valve string) int {
	for i := range j.Valves {
		if j.Valves[i].ID == valve {
			return j.Valves[i].Cylinder
		}
	}
	return 0
}

// parted is a leak's draws with a part of each: the chances go evenly through 0..1,
// apart from the order of the draws.
func parted(draws []leak.Draw, part crosscheck.Part) []leak.Draw {
	if !part.Shared {
		return draws
	}
	out := make([]leak.Draw, len(draws))
	n := len(draws)
	for i, d := range draws {
		d.Flow *= part.At((float64(i*strideOf(n)%n) + 0.5) / float64(n))
		out[i] = d
	}
	return out
}

// strideOf is a step that goes through all of n, near the golden section of it.
func strideOf(n int) int {
	for s := int(0.618 * float64(n)); s > 1; s-- {
		if common(s, n) == 1 {
			return s
		}
	}
	return 1
}

func common(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

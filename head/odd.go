package head

import (
	"cmp"
	"math"
	"slices"
)

// Sister is one of several like ports of a head, tested alike.
type Sister struct {
	ID   string
	Leak float64 // m³/s, median; 0: none known
	Fall float64 // Pa/s, median; 0: none known
}

// Oddity is a port that leaks more than its sisters let one expect.
type Oddity struct {
	Port      string  `json:"port"`
	Score     float64 `json:"score"`     // modified z-score
	Threshold float64 `json:"threshold"` // above which a port is named
	Usual     float64 `json:"usual"`     // m³/s, the sisters' median
	Sisters   int     `json:"sisters"`   // itself counted
}

// fewestSisters is the least number of like ports among which one is named.
const fewestSisters = 5

// oddFrom holds the thresholds of the modified z-score for 2 % false alarms a
// head, by the number of ports, from simulation: TestOddFalseAlarms measures 1.8
// to 2.0 % at these numbers, 2.9 % at 7, 2.1 % at 10 and 1.3 % at 24. The book's
// 3.5 flags 12 % of sound heads of five on the upper side, 21 % on either.
var oddFrom = []struct{ ports, score float64 }{{5, 9.5}, {6, 6.3}, {8, 5.4}, {12, 4.7}, {16, 4.4}}

// OddThreshold returns the modified z-score above which one of n like ports is
// named, straight between the ports of the table; beyond 16 that of 16.
func OddThreshold(n int) float64 {
	x := float64(n)
	for i := 1; i < len(oddFrom); i++ {
		a, b := oddFrom[i-1], oddFrom[i]
		if x <= b.ports {
			return a.score + (b.score-a.score)*(max(x, a.ports)-a.ports)/(b.ports-a.ports)
		}
	}
	return oddFrom[len(oddFrom)-1].score
}

// leastSpread is the least spread that sisters are taken to have, an sd of the
// logarithm: figures that agree by chance, or by the steps of a needle, make no
// port odd. A guess, no source.
const leastSpread = 0.05

// OddOneOut returns the ports that leak more than their sisters let one expect,
// worst first; none with fewer than five sisters. Of x = ln q
//
//	M = 0.6745 (x - median)/MAD
//
// the modified z-score, upper side only, against [OddThreshold]. An error that
// all ports share as a factor (the rig's volume, the air, the gauge's gain) moves
// every x alike and drops out. Sisters without a leak rate are left out.
// Source: B. Iglewicz and D. C. Hoaglin, How to detect and handle outliers, 1993
// (the formula as the NIST handbook 1.3.5.17 quotes it).
func OddOneOut(sisters []Sister) []Oddity {
	var x []float64
	var with []Sister
	for _, s := range sisters {
		if s.Leak > 0 && !math.IsInf(s.Leak, 0) {
			x, with = append(x, math.Log(s.Leak)), append(with, s)
		}
	}
	if len(x) < fewestSisters {
		return nil
	}
	mid, mad := medianOf(x), 0.0
	off := make([]float64, len(x))
	for i := range x {
		off[i] = math.Abs(x[i] - mid)
	}
	mad = max(medianOf(off), normalQuarter*leastSpread)
	var out []Oddity
	for i, s := range with {
		if m := normalQuarter * (x[i] - mid) / mad; m > OddThreshold(len(x)) {
			out = append(out, Oddity{s.ID, m, OddThreshold(len(x)), math.Exp(mid), len(x)})
		}
	}
	slices.SortStableFunc(out, func(a, b Oddity) int { return cmp.Compare(b.Score, a.Score) })
	return out
}

// normalQuarter is the upper quartile of the normal distribution, which the
// book rounds to 0.6745.
const normalQuarter = 0.6744897501960817

func medianOf(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// Ranks returns the place of each of several like ports, 1 for the worst, by
// leak where all have one, else by rate of fall: like ports have like volumes, so
// that needs no volume. Ports without a figure have place 0.
func Ranks(sisters []Sister) []int {
	byLeak := true
	for _, s := range sisters {
		if !(s.Leak > 0) && s.Fall > 0 {
			byLeak = false
		}
	}
	key := func(s Sister) float64 {
		if byLeak {
			return s.Leak
		}
		return s.Fall
	}
	out := make([]int, len(sisters))
	for i, s := range sisters {
		if !(key(s) > 0) {
			continue
		}
		out[i] = 1
		for _, o := range sisters {
			if key(o) > key(s) {
				out[i]++
			}
		}
	}
	return out
}

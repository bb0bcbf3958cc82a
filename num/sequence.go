package num

import "math"

// Sequence is an additive low-discrepancy sequence: multiples of powers of the
// generalised golden ratio, modulo 1. The same question has the same answer.
type Sequence struct {
	step, at []float64
}

// NewSequence returns one of d dimensions, d of 1 or more.
func NewSequence(d int) *Sequence {
	g := 1.5
	for range 60 { // g^(d+1) = g + 1
		g = math.Pow(1+g, 1/float64(d+1))
	}
	s := &Sequence{step: make([]float64, d), at: make([]float64, d)}
	x := 1.0
	for i := range d {
		x /= g
		s.step[i], s.at[i] = x, 0.5
	}
	return s
}

// Next puts the next point into u, which has d places: each from 0 to below 1.
func (s *Sequence) Next(u []float64) {
	for i := range s.at {
		s.at[i] += s.step[i]
		if s.at[i] >= 1 {
			s.at[i]--
		}
		u[i] = s.at[i]
	}
}

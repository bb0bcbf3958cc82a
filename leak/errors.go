package leak

import "math"

// Errors are the errors of a reading parted into those of its own and those that
// all tests made on the rig share. Where the leak is told from zero its own are a
// part of it; a small leak is a normal figure that is not cut at zero.
type Errors struct {
	Median float64 // m³/s
	Mean   float64 // m³/s, of the normal that is not cut at zero; may be below it
	Own    float64 // m³/s, sd: samples, gauge zero, vapour
	Added  float64 // m³/s, sd, shared: adds to the flow whatever it is
	Factor float64 // sd of the logarithm, shared: multiplies it
}

// ErrorsOf returns the errors of readings of one port, in their order, and which
// have none because they carry no leak rate. Where both holds and steady readings
// are among them, the errors of the steady ones are all their own.
func ErrorsOf(readings []*Reading) (errors []Errors, known []bool) {
	errors, known = make([]Errors, len(readings)), make([]bool, len(readings))
	var with []*Reading
	var at []int
	for i, r := range readings {
		if r != nil && ownOf(r) != nil {
			with, at = append(with, r), append(at, i)
		}
	}
	for k, o := range ownsOf(with) {
		errors[at[k]], known[at[k]] = Errors{o.median, o.mean, o.sd, o.shift, o.factor}, true
	}
	return errors, known
}

// Nodes returns the scatter as chances of sd sigma_b of the logarithm: evenly
// spaced in its logarithm, rising, the weights adding to 1. The caller owns both.
func (s *Scatter) Nodes() (sigma, weight []float64) {
	for i, w := range s.weights() {
		sigma, weight = append(sigma, math.Exp(nodeLog(i))), append(weight, w)
	}
	return sigma, weight
}

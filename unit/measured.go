package unit

// Measured is a figure in SI units with what is known about it: the value and
// the half-width of its 95 % interval (the `±` of every screen and file).
//
// The zero Measured is a figure nobody has given: Known is false and Value
// means nothing. A known figure with no stated doubt has Spread 0.
type Measured struct {
	Value  float64 // SI
	Spread float64 // 95 % half-width, SI, >= 0
	Known  bool
}

// Exactly returns a known figure without doubt.
func Exactly(v float64) Measured { return Measured{Value: v, Known: true} }

// About returns a known figure with its 95 % half-width.
func About(v, spread float64) Measured { return Measured{Value: v, Spread: spread, Known: true} }

// Or returns m if it is known, else the guess.
func (m Measured) Or(guess Measured) Measured {
	if m.Known {
		return m
	}
	return guess
}

// SD returns the standard deviation that the 95 % half-width stands for
// (Spread/1.96, a normal distribution).
func (m Measured) SD() float64 { return m.Spread / 1.959963984540054 }

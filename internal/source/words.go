package source

// words says what each code means to a person. They stand here and not in
// package report, which knows no sources.
var words = map[Code]string{
	Connected:  "connected",
	Lost:       "the sensor is gone",
	Garbage:    "what comes makes no sense",
	HalfLine:   "half a line was left out",
	OutOfRange: "a figure that can be no vacuum was left out",
	Stalled:    "the sensor is there but says nothing",
	Flooded:    "the sensor says more than is of use",
	ClockBack:  "the sensor started again",
	ClockJump:  "the sensor's clock leapt",
	ClockStep:  "the clock of this machine was set",
	Missing:    "samples that it sent never came",
}

// Words says what the code means, in a few words.
func (c Code) Words() string { return words[c] }

// Explainer is a Source that can say how it reads what comes, once it knows.
type Explainer interface {
	// Explain returns how in words, and as options of an address. Both are
	// empty before the first sample.
	Explain() (words string, options map[string]string)
}

// Explain asks a source, or the one it wraps, how it reads what comes.
func Explain(s Source) (words string, options map[string]string) {
	for {
		if e, ok := s.(Explainer); ok {
			return e.Explain()
		}
		w, ok := s.(interface{ Unwrap() Source })
		if !ok {
			return "", nil
		}
		s = w.Unwrap()
	}
}

package head

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"seatproof/unit"
)

// Fault is something wrong, or something that smells of a slip, at one field.
type Fault struct {
	Field string `json:"field"` // by its name in JSON: "valves[3].head_diameter"
	What  string `json:"what"`  // what clashes, with the figures, and what to do
	Maybe string `json:"maybe"` // what it may have been; "" where nothing is near
	Ask   bool   `json:"ask"`   // odd, but it may be so: a person may insist
}

// String gives field, fault and what it may have been, in one line.
func (f Fault) String() string {
	s := f.Field + ": " + f.What
	if f.Maybe != "" {
		s += ": " + f.Maybe + "?"
	}
	return s
}

// Faults are the faults of a form, in the order of its fields.
type Faults []Fault

// Error gives all of them, one a line.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i := range f {
		lines[i] = f[i].String()
	}
	return strings.Join(lines, "\n")
}

// Err returns the faults as an error, nil where there is none that a person may
// not insist on.
func (f Faults) Err() error {
	var hard Faults
	for _, x := range f {
		if !x.Ask {
			hard = append(hard, x)
		}
	}
	if len(hard) == 0 {
		return nil
	}
	return hard
}

func (f *Faults) add(field, format string, args ...any) {
	*f = append(*f, Fault{Field: field, What: fmt.Sprintf(format, args...)})
}

func (f *Faults) ask(field, maybe, format string, args ...any) {
	*f = append(*f, Fault{Field: field, What: fmt.Sprintf(format, args...), Maybe: maybe, Ask: true})
}

// under puts the faults of a part under its field.
func (f *Faults) under(field string, part Faults) {
	for _, x := range part {
		x.Field = field + "." + x.Field
		*f = append(*f, x)
	}
}

// has says whether there is a fault at a field.
func (f Faults) has(field string) bool {
	for _, x := range f {
		if x.Field == field {
			return true
		}
	}
	return false
}

// usual is what a figure usually is: beyond it a person is asked, beyond ten
// times that the figure is taken for a slip. Common practice, no source.
type usual struct {
	name      string
	unit      string  // that the fault speaks in
	size      float64 // of that unit, SI
	low, high float64 // SI
	slips     []slip
}

// slip is a common way to write a figure wrongly: what it was times by is what
// makes it right.
type slip struct {
	times float64
	said  string // unit the figure may have been in; "": a decimal point
}

var (
	lengthSlips = []slip{{25.4, "in"}, {10, ""}, {0.1, ""}}
	angleSlips  = []slip{{math.Pi / 180, ""}, {180 / math.Pi, ""}} // degrees taken for radians
	plainSlips  = []slip{{10, ""}, {0.1, ""}}
	volumeSlips = []slip{{16.387064, "in³"}, {10, ""}, {0.1, ""}, {1e-3, ""}, {1e3, ""}}
)

// figure checks a figure that may be skipped: it must be a number above zero
// with a ± that is one, and is questioned where it is far from usual.
func (f *Faults) figure(field string, m unit.Measured, u usual) {
	if !m.Known {
		return
	}
	shown := u.shown
	switch v := m.Value; {
	case math.IsNaN(v) || math.IsInf(v, 0):
		f.add(field, "the %s is not a number: give it in %s, or leave it out", u.name, u.unit)
	case math.IsNaN(m.Spread) || math.IsInf(m.Spread, 0) || m.Spread < 0:
		f.add(field, "the ± of the %s is not a number above zero: give half the width of the interval that you are 95 %% sure of, or leave it out", u.name)
	case v <= 0:
		f.add(field, "%s of %s can't be: give it in %s, or leave it out", a(u.name), shown(v), u.unit)
	case v < u.low || v > u.high:
		f.ask(field, u.maybe(v), "%s of %s is unusual, %s to %s is common: check the figure and its unit", a(u.name), shown(v), fig(u.low/u.size), shown(u.high))
	case m.Spread > v:
		f.ask(field, "", "± %s is more than the %s itself, %s: check both", shown(m.Spread), u.name, shown(v))
	}
}

// shown writes a figure in the unit that the fault speaks in.
func (u usual) shown(si float64) string {
	if strings.HasPrefix(u.unit, "°") {
		return fig(si/u.size) + u.unit
	}
	return fig(si/u.size) + " " + u.unit
}

// maybe says what an unusual figure may have been.
func (u usual) maybe(v float64) string {
	var out []string
	for _, s := range u.slips {
		x := v * s.times
		if x < u.low || x > u.high {
			continue
		}
		words := u.shown(x)
		if s.said != "" {
			words = fig(v/u.size) + " " + s.said + ", which is " + words
		}
		out = append(out, words)
	}
	return strings.Join(out, ", or ")
}

// fig writes a figure of a form as a person would: three figures, and no more
// than that for large ones.
func fig(x float64) string {
	s := strconv.FormatFloat(x, 'g', 3, 64)
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return s
}

// mm writes a length.
func mm(si float64) string { return fig(si*1e3) + " mm" }

// a puts the article before a word.
func a(word string) string {
	if strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return "a " + word
}

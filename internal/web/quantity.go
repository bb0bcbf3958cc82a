package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"

	"seatproof/unit"
)

// asked is a figure as a person typed it, with the unit that the field showed.
// It may come as a text alone.
type asked struct {
	Text string `json:"text"`
	Unit string `json:"unit"`
}

// UnmarshalJSON takes a text or an object.
func (a *asked) UnmarshalJSON(b []byte) error {
	if bytes.HasPrefix(b, []byte(`"`)) {
		return json.Unmarshal(b, &a.Text)
	}
	type plain asked
	return json.Unmarshal(b, (*plain)(a))
}

// shown is a figure as a sheet shows it.
type shown struct {
	Text    string  `json:"text"`
	Value   float64 `json:"value"`
	Spread  float64 `json:"spread"`
	Unit    string  `json:"unit"`
	Guessed bool    `json:"guessed,omitempty"`
}

// show returns a figure in a unit, with all its digits, since it comes back to be
// edited; nil where it is not known.
func show(m unit.Measured, dim unit.Dimension, name string) *shown {
	if !m.Known {
		return nil
	}
	return &shown{Text: unit.Plain(m, dim, name), Value: m.Value, Spread: m.Spread, Unit: name}
}

// read understands a figure; fieldUnit is what a bare one is in. An empty text
// is a figure nobody gave. What is wrong stands at the field.
func (a asked) read(dim unit.Dimension, fieldUnit, field string, f *faults) unit.Measured {
	text := strings.TrimSpace(a.Text)
	if text == "" {
		return unit.Measured{}
	}
	if a.Unit != "" {
		fieldUnit = a.Unit
	}
	q, err := unit.ParseIn(text, dim, fieldUnit)
	if err != nil {
		what, maybe := figureFault(err)
		f.add(field, what, maybe)
		return unit.Measured{}
	}
	return q.Measured
}

// positive is read for figures above zero.
func (a asked) positive(dim unit.Dimension, fieldUnit, field string, f *faults) unit.Measured {
	m := a.read(dim, fieldUnit, field, f)
	if m.Known && !(m.Value > 0) {
		f.add(field, "This must be above zero.", "")
		return unit.Measured{}
	}
	return m
}

// figureFault puts an error of package unit into a sentence, and what it may
// have been into another.
func figureFault(err error) (what, maybe string) {
	var unknown *unit.UnknownUnitError
	var wrong *unit.WrongUnitError
	switch {
	case errors.As(err, &unknown):
		what = "The unit " + unknown.Unit + " is not known."
		if unknown.Nearest != "" {
			maybe = "Is it " + unknown.Nearest + "?"
		}
		return what, maybe
	case errors.As(err, &wrong):
		return wrong.Unit + " measures a " + wrong.Is.String() + ", and a " + wrong.Needs.String() + " belongs here.", ""
	}
	var figure *unit.FigureError
	if errors.As(err, &figure) {
		return upper(figure.Reason) + ".", ""
	}
	return upper(err.Error()) + ".", ""
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

package unit

import (
	"math"
	"strings"
	"unicode/utf8"
)

// Quantity is a figure as a person gave it: in SI units, with the unit it was
// given in.
type Quantity struct {
	Measured
	Dim  Dimension
	Unit string // canonical spelling: "cm³" for "95 cc"
}

// Parse reads a figure with its unit and, if it has one, its 95 % half-width:
//
//	95 cm3    95 ± 6 cm³    95 +- 6 cm3    95 cm3 ± 6 ml    95 cm3 ± 30 %
//
// One unit after the ± goes for both figures; a % there is of the figure,
// unless the quantity is itself a ratio. The ± of a temperature is a
// difference. Rules for figures and units are in the package comment.
//
// Errors: [MissingUnitError], [WrongUnitError], [UnknownUnitError],
// [UnknownPrefixError], [FigureError], each as a pointer.
func Parse(text string, dim Dimension) (Quantity, error) { return parse(text, dim, "") }

// ParseIn is [Parse] for a field that shows a unit: a bare figure takes
// defaultUnit, a figure with a unit of its own keeps that. Bare figures of
// "95 ± 6 cm³" still take the cm³.
func ParseIn(text string, dim Dimension, defaultUnit string) (Quantity, error) {
	if _, err := lookup(defaultUnit, defaultUnit, dim); err != nil {
		return Quantity{}, err
	}
	return parse(text, dim, defaultUnit)
}

// part is one figure with its unit as written, which may be empty.
type part struct {
	x    float64
	unit string
}

func parse(text string, dim Dimension, defaultUnit string) (Quantity, error) {
	s, err := checked(text, dim)
	if err != nil {
		return Quantity{}, err
	}
	left, right, hasSpread, err := cutSpread(text, s)
	if err != nil {
		return Quantity{}, err
	}
	value, err := parsePart(text, left)
	if err != nil {
		return Quantity{}, err
	}
	var spread part
	if hasSpread {
		if spread, err = parsePart(text, right); err != nil {
			return Quantity{}, err
		}
		if math.Signbit(spread.x) && spread.x != 0 {
			return Quantity{}, &FigureError{Text: text, Reason: "the figure after ± is negative: write it without its sign"}
		}
		spread.x = math.Abs(spread.x)
	}
	relative := false
	if hasSpread && spread.unit != "" && dim != RatioDim {
		u, fits := find(key(spread.unit))
		relative = len(fits) == 1 && u.Name == "%"
	}
	if value.unit == "" && spread.unit != "" && !relative {
		if dim == RatioDim && defaultUnit == "1" {
			return Quantity{}, &FigureError{Text: text, Reason: "a plain figure with a ± in % could mean two things: give both as plain figures or both in %"}
		}
		value.unit = spread.unit
	}
	if value.unit == "" {
		value.unit = defaultUnit
	}
	if value.unit == "" {
		return Quantity{}, &MissingUnitError{Text: text, Dim: dim}
	}
	u, err := lookup(text, value.unit, dim)
	if err != nil {
		return Quantity{}, err
	}
	q := Quantity{Measured: Exactly(u.ToSI(value.x)), Dim: dim, Unit: u.Name}
	if hasSpread {
		own := spread.x
		switch {
		case relative && u.Shift != 0:
			return Quantity{}, &FigureError{Text: text, Reason: "a percentage of a temperature depends on where its scale starts: give the ± in " + u.Name}
		case relative && value.x == 0 && spread.x != 0:
			return Quantity{}, &FigureError{Text: text, Reason: "a percentage of zero is zero: give the ± in " + u.Name}
		case relative:
			own = math.Abs(value.x) * spread.x / 100
		case spread.unit != "":
			su, err := lookup(text, spread.unit, dim)
			if err != nil {
				return Quantity{}, err
			}
			if su.Name != u.Name {
				own = u.FromSIDifference(su.ToSIDifference(spread.x))
			}
		}
		if own > largestFigure {
			return Quantity{}, &FigureError{Text: text, Reason: "the ± is too large to be meant"}
		}
		q.Spread = u.ToSIDifference(own)
	}
	if !finite(q.Value) || !finite(q.Spread) {
		return Quantity{}, &FigureError{Text: text, Reason: "the figure is too large to be meant"}
	}
	if dim == TemperatureDim && q.Value < 0 {
		return Quantity{}, &FigureError{Text: text, Reason: "it is below absolute zero: check the sign and the unit"}
	}
	return q, nil
}

// checked cleans a text and refuses what no figure looks like.
func checked(text string, dim Dimension) (string, error) {
	if dim.SIUnit() == "" {
		return "", &FigureError{Text: text, Reason: "it is asked for as " + dim.String() + ", which is none"}
	}
	if len(text) > longestText {
		return "", &FigureError{Text: text[:40] + "...", Reason: "the text is too long for a figure"}
	}
	if !utf8.ValidString(text) {
		return "", &FigureError{Text: text, Reason: "the text is not UTF-8: type the unit again"}
	}
	s := clean(text)
	if s == "" {
		return "", &FigureError{Text: text, Reason: errNoFigure.Error()}
	}
	return s, nil
}

// cutSpread parts a cleaned text at its ±, +- or +/-.
func cutSpread(text, s string) (left, right string, found bool, err error) {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "+/-", "±"), "+-", "±")
	left, right, found = strings.Cut(s, "±")
	if strings.Contains(right, "±") {
		return "", "", false, &FigureError{Text: text, Reason: "there is more than one ±: give one figure and one half-width"}
	}
	return strings.Trim(left, " "), strings.Trim(right, " "), found, nil
}

// parsePart reads a figure and takes the rest as its unit.
func parsePart(text, s string) (part, error) {
	x, unit, err := scanFigure(s)
	if err != nil {
		return part{}, &FigureError{Text: text, Reason: err.Error()}
	}
	if unit != "" && (isDigit(unit[0]) && !strings.HasPrefix(unit, "1/") || unit[0] == '-' || unit[0] == '+') {
		return part{}, &FigureError{Text: text, Reason: "there are two figures with nothing to part them: a half-width goes after ±, a range is written with .."}
	}
	return part{x, unit}, nil
}

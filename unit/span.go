package unit

import (
	"strings"
)

// Range is two figures of one kind, Low below High, in SI units.
type Range struct {
	Low, High float64
	Dim       Dimension
	Unit      string // canonical unit that String prints it in
}

// String prints the range so that [ParseRange] reads it back: "0..100 kPa".
func (r Range) String() string {
	low := Quantity{Exactly(r.Low), r.Dim, r.Unit}.String()
	high := Quantity{Exactly(r.High), r.Dim, r.Unit}.String()
	if r.Unit == "1" {
		return low + ".." + high
	}
	return strings.TrimRight(strings.TrimSuffix(low, r.Unit), " ") + ".." + high
}

// ParseRange reads a range: "0..100 kPa", "-101..0 kPa", "0 kPa..100 kPa",
// "0 to 100 kPa", "0 – 100 kPa" (a dash, not a hyphen). One unit goes for
// both. Ends that are equal or the wrong way round are a [FigureError];
// errors else as [Parse].
func ParseRange(text string, dim Dimension) (Range, error) {
	s, err := checked(text, dim)
	if err != nil {
		return Range{}, err
	}
	left, right, ok := cutRange(s)
	if !ok {
		return Range{}, &FigureError{Text: text, Reason: "a range needs two figures with .. between, such as \"0..100 " + dimensions[dim].everyday + "\""}
	}
	low, high, err := parseTwo(text, left, right, dim)
	if err != nil {
		return Range{}, err
	}
	if low.Spread != 0 || high.Spread != 0 {
		return Range{}, &FigureError{Text: text, Reason: "the ends of a range take no ±: leave it out"}
	}
	if low.Value >= high.Value {
		return Range{}, &FigureError{Text: text, Reason: "the low end of the range must come first and be below the high end"}
	}
	return Range{low.Value, high.Value, dim, high.Unit}, nil
}

// cutRange parts a range at its first sign of one; a dash in front is a minus.
func cutRange(s string) (left, right string, ok bool) {
	for _, sep := range []string{"...", "..", "…", " to "} {
		if left, right, ok = strings.Cut(s, sep); ok {
			return left, right, true
		}
	}
	body := strings.TrimPrefix(s, "–")
	if left, right, ok = strings.Cut(body, "–"); ok {
		return s[:len(s)-len(body)] + left, right, true
	}
	return "", "", false
}

// parseTwo reads two quantities of which one unit may serve both.
func parseTwo(text, left, right string, dim Dimension) (a, b Quantity, err error) {
	left, right = strings.Trim(left, " "), strings.Trim(right, " ")
	a, errA := Parse(left, dim)
	b, errB := Parse(right, dim)
	_, bareA := errA.(*MissingUnitError)
	_, bareB := errB.(*MissingUnitError)
	switch {
	case bareA && errB == nil:
		a, errA = ParseIn(left, dim, b.Unit)
	case bareB && errA == nil:
		b, errB = ParseIn(right, dim, a.Unit)
	}
	if bareA && errB != nil { // the other's fault says more
		errA, errB = errB, errA
	}
	for _, err := range []error{errA, errB} {
		if err != nil {
			return a, b, withText(err, text)
		}
	}
	return a, b, nil
}

// withText puts the whole text in place of the part that an error names.
func withText(err error, text string) error {
	switch e := err.(type) {
	case *MissingUnitError:
		e.Text = text
	case *WrongUnitError:
		e.Text = text
	case *UnknownUnitError:
		e.Text = text
	case *UnknownPrefixError:
		e.Text = text
	case *FigureError:
		e.Text = text
	}
	return err
}

// ParseSeat reads the size of a seat, diameter and contact width [m]:
// "27 mm x 0.3 mm", with ×, * or x between; "27 x 0.3 mm" will do. Both must
// be above zero and the contact narrower than half the diameter, else the
// error is a [FigureError]; errors else as [Parse].
func ParseSeat(text string) (diameter, contact Measured, err error) {
	s, err := checked(text, LengthDim)
	if err != nil {
		return Measured{}, Measured{}, err
	}
	i := strings.IndexAny(s, "xX×*")
	if i < 0 {
		return Measured{}, Measured{}, &FigureError{Text: text, Reason: "a seat needs its diameter and its contact width, such as \"27 mm x 0.3 mm\""}
	}
	left, right := s[:i], strings.TrimPrefix(s[i:], "×")
	if len(right) == len(s)-i {
		right = right[1:]
	}
	d, c, err := parseTwo(text, left, right, LengthDim)
	if err != nil {
		return Measured{}, Measured{}, err
	}
	switch {
	case d.Value <= 0 || c.Value <= 0:
		err = &FigureError{Text: text, Reason: "diameter and contact width of a seat are above zero: check both"}
	case c.Value >= d.Value/2:
		err = &FigureError{Text: text, Reason: "the contact is as wide as the seat itself: the diameter comes first, then the contact width; check both units"}
	}
	if err != nil {
		return Measured{}, Measured{}, err
	}
	return d.Measured, c.Measured, nil
}

package unit

import (
	"math"
	"strconv"
	"strings"
)

// notKnown is printed for a figure that nobody has given, or that is not
// finite.
const notKnown = "not known"

// Significant prints x with so many significant digits, rounded to even on a
// tie of the decimals that float64 really holds: 9.6, 28, 140, 0.062. It uses
// no exponent from 1e-6 to below 1e15. digits below 1 means as many as the
// figure has.
func Significant(x float64, digits int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return notKnown
	}
	if x == 0 {
		return "0"
	}
	precision := digits - 1
	if digits < 1 {
		precision = -1
	}
	e := strconv.FormatFloat(x, 'e', precision, 64)
	mantissa, exponent, _ := strings.Cut(e, "e")
	exp, _ := strconv.Atoi(exponent)
	if exp < -6 || exp >= 15 {
		return mantissa + "e" + strconv.Itoa(exp)
	}
	sign := ""
	if mantissa[0] == '-' {
		sign, mantissa = "-", mantissa[1:]
	}
	all := strings.Replace(mantissa, ".", "", 1)
	switch {
	case exp < 0:
		return sign + "0." + strings.Repeat("0", -exp-1) + all
	case exp+1 >= len(all):
		return sign + all + strings.Repeat("0", exp+1-len(all))
	default:
		return sign + all[:exp+1] + "." + all[exp+1:]
	}
}

// Format prints a figure in a unit of its dimension: "9.6 cm³/min",
// "95 ± 6 cm³".
//
// Without spread the figure gets the given number of significant digits. With
// spread, the spread gets them and the figure is rounded to the same place
// (GUM, JCGM 100:2008, 7.2.6); zeros that both end with are dropped. digits
// below 1 means all digits there are. A figure that is not Known, or not
// finite, prints as "not known". A unit that is unknown or measures something
// else is replaced by the SI unit.
func Format(m Measured, dim Dimension, unit string, digits int) string {
	if !m.Known || !finite(m.Value) || !finite(m.Spread) {
		return notKnown
	}
	u, err := lookup(unit, unit, dim)
	if err != nil {
		u, err = lookup(dim.SIUnit(), dim.SIUnit(), dim)
		if err != nil {
			return Significant(m.Value, digits)
		}
	}
	x, spread := u.FromSI(m.Value), u.FromSIDifference(m.Spread)
	if !finite(x) || !finite(spread) {
		return notKnown
	}
	if digits < 1 {
		x, spread = shortest(m.Value, u.ToSI, x), shortest(m.Spread, u.ToSIDifference, spread)
	}
	if spread <= 0 {
		return withUnit(Significant(x, digits), u.Name)
	}
	if digits < 1 {
		return withUnit(Significant(x, 0)+" ± "+Significant(spread, 0), u.Name)
	}
	a, b := alike(x, spread, digits)
	return withUnit(a+" ± "+b, u.Name)
}

// String prints the quantity in its own unit with all digits it has, so that
// [ParseIn] with that unit gives it back to the last bit if it came from
// [Parse], [ParseIn].
func (q Quantity) String() string { return Format(q.Measured, q.Dim, q.Unit, 0) }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// withUnit puts a unit behind a figure: with a blank, but none before the
// degree of an angle (NIST SP 811, 7.2), and nothing for a plain ratio.
func withUnit(figure, unit string) string {
	switch unit {
	case "1":
		return figure
	case "°":
		return figure + unit
	default:
		return figure + " " + unit
	}
}

// shortest returns, of the figures that toSI takes to si exactly, the one with
// the fewest digits that is found next to x; x itself if there is none.
func shortest(si float64, toSI func(float64) float64, x float64) float64 {
	for digits := 1; digits <= 16; digits++ {
		y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
		if toSI(y) == si {
			return y
		}
	}
	up, down := x, x
	for range 8 {
		if toSI(up) == si {
			return up
		}
		if toSI(down) == si {
			return down
		}
		up, down = math.Nextafter(up, math.Inf(1)), math.Nextafter(down, math.Inf(-1))
	}
	return x
}

// alike prints x and its spread to the same decimal place, that of the
// spread's last significant digit.
func alike(x, spread float64, digits int) (string, string) {
	_, exponent, _ := strings.Cut(strconv.FormatFloat(spread, 'e', digits-1, 64), "e")
	exp, _ := strconv.Atoi(exponent)
	place := digits - 1 - exp // decimals
	if place > 12 || place < -14 || math.Abs(x) >= largestFigure {
		return Significant(x, digits), Significant(spread, digits)
	}
	a, b := atPlace(x, place), atPlace(spread, place)
	for strings.Contains(a, ".") && strings.HasSuffix(a, "0") && strings.HasSuffix(b, "0") {
		a, b = strings.TrimSuffix(a[:len(a)-1], "."), strings.TrimSuffix(b[:len(b)-1], ".")
	}
	return a, b
}

// atPlace prints x rounded to so many decimals; negative ones round tens,
// hundreds.
func atPlace(x float64, place int) string {
	s := ""
	if place >= 0 {
		s = strconv.FormatFloat(x, 'f', place, 64)
	} else {
		step := math.Pow(10, float64(-place))
		s = strconv.FormatFloat(math.RoundToEven(x/step)*step, 'f', 0, 64)
	}
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

package unit

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Bounds on what is read, far beyond any use.
const (
	longestText   = 200  // bytes
	largestFigure = 1e15 // in whatever unit
)

var cleaner = strings.NewReplacer(
	"\t", " ", "\u00a0", " ", "\u2007", " ", "\u2009", " ", "\u200a", " ", "\u202f", " ", "\u2002", " ", "\u2003", " ",
	"\u2212", "-", // minus
	"\u03bc", "\u00b5", // Greek mu to micro sign
	"\u00ba", "°", "\u02da", "°", "\u2103", "°C", "\u2109", "°F",
	"\u2044", "/", "\u2215", "/",
)

// clean brings blanks, minus signs and look-alikes to one spelling and cuts
// blanks off both ends.
func clean(text string) string { return strings.Trim(cleaner.Replace(text), " ") }

var vulgar = map[rune]float64{
	'½': 1. / 2, '¼': 1. / 4, '¾': 3. / 4, '⅓': 1. / 3, '⅔': 2. / 3,
	'⅛': 1. / 8, '⅜': 3. / 8, '⅝': 5. / 8, '⅞': 7. / 8,
	'⅕': 1. / 5, '⅖': 2. / 5, '⅗': 3. / 5, '⅘': 4. / 5, '⅙': 1. / 6, '⅚': 5. / 6,
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// digitsAt returns the digits that s begins with.
func digitsAt(s string) string {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return s[:n]
}

// scanFigure reads the figure that a cleaned text begins with, by the rules of
// the package comment, and returns the rest without leading blanks. The error
// holds the reason alone.
func scanFigure(s string) (x float64, rest string, err error) {
	negative := false
	if r, n := utf8.DecodeRuneInString(s); r == '+' || r == '-' || r == '–' {
		negative = r != '+'
		s = strings.TrimLeft(s[n:], " ")
	}
	x, s, err = scanUnsigned(s)
	if err != nil {
		return 0, "", err
	}
	if x > largestFigure {
		return 0, "", errors.New("the figure is too large to be meant")
	}
	if negative && x != 0 { // no -0
		x = -x
	}
	return x, strings.TrimLeft(s, " "), nil
}

func scanUnsigned(s string) (x float64, rest string, err error) {
	first, n := utf8.DecodeRuneInString(s)
	if v, ok := vulgar[first]; ok {
		return v, s[n:], nil
	}
	if len(s) == 0 || !isDigit(s[0]) && !(len(s) > 1 && (s[0] == '.' || s[0] == ',') && isDigit(s[1])) {
		return 0, "", errNoFigure
	}
	groups, seps, rest := scanGroups(s)
	if len(seps) == 0 { // whole so far: a fraction may follow
		whole, _ := strconv.ParseFloat(groups[0], 64)
		v, after, found, err := scanFraction(groups[0], whole, rest)
		if found || err != nil {
			return v, after, err
		}
	}
	text, err := joinGroups(groups, seps)
	if err != nil {
		return 0, "", err
	}
	if len(seps) == 0 || seps[len(seps)-1] == ' ' { // "5." is 5
		rest = strings.TrimPrefix(rest, ".")
	}
	if len(rest) > 1 && (rest[0] == 'e' || rest[0] == 'E') {
		sign := ""
		tail := rest[1:]
		if tail[0] == '+' || tail[0] == '-' {
			sign, tail = tail[:1], tail[1:]
		}
		if d := digitsAt(tail); d != "" {
			text += "e" + sign + d
			rest = tail[len(d):]
		}
	}
	x, err = strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(x, 0) {
		return 0, "", errors.New("the figure is too large to be meant")
	}
	return x, rest, nil
}

var errNoFigure = errors.New("there is no figure: write a number, then its unit")

// scanGroups reads runs of digits and what parts them. A blank parts thousands
// only: exactly three digits must follow, and no point or comma have gone
// before.
func scanGroups(s string) (groups []string, seps []byte, rest string) {
	d := digitsAt(s)
	groups = append(groups, d)
	s = s[len(d):]
	decimal := false
	for len(s) > 1 {
		d := digitsAt(s[1:])
		switch {
		case (s[0] == '.' || s[0] == ',') && d != "":
			decimal = true
		case s[0] == ' ' && !decimal && len(d) == 3 && !strings.HasPrefix(s[4:], "/") && len(groups[0]) <= 3:
		default:
			return groups, seps, s
		}
		groups, seps = append(groups, d), append(seps, s[0])
		s = s[1+len(d):]
	}
	return groups, seps, s
}

// joinGroups makes one decimal number of the groups, or says why it can't.
func joinGroups(groups []string, seps []byte) (string, error) {
	if len(seps) == 0 {
		return groups[0], nil
	}
	last := seps[len(seps)-1]
	count := 0
	for _, s := range seps {
		if s == last {
			count++
		}
	}
	isDecimal := last != ' ' && count == 1
	if last == ',' && len(seps) == 1 && len(groups[1]) == 3 && groups[0] != "" && len(groups[0]) <= 3 && groups[0][0] != '0' {
		return "", errors.New("\"" + groups[0] + "," + groups[1] + "\" could mean " + groups[0] + "." + groups[1] + " or " +
			groups[0] + groups[1] + ": write it one of these ways")
	}
	whole := groups
	fraction := ""
	if isDecimal {
		whole, fraction = groups[:len(groups)-1], groups[len(groups)-1]
		seps = seps[:len(seps)-1]
	}
	malformed := errors.New("the points and commas don't part the figure into thousands: write it without them, with a point for the decimals")
	for i, s := range seps {
		if s != seps[0] || len(whole[i+1]) != 3 {
			return "", malformed
		}
	}
	if len(seps) > 0 && (len(whole[0]) < 1 || len(whole[0]) > 3 || whole[0][0] == '0') {
		return "", malformed
	}
	return strings.Join(whole, "") + "." + fraction + "0", nil
}

// scanFraction reads what may follow a whole number: a fraction sign (21½,
// 21 ½), a fraction with a slash after a blank (21 1/2), or a slash that makes
// the number itself a numerator (1/2).
func scanFraction(digits string, whole float64, rest string) (x float64, after string, found bool, err error) {
	trimmed := strings.TrimLeft(rest, " ")
	if r, n := utf8.DecodeRuneInString(trimmed); vulgar[r] != 0 {
		return whole + vulgar[r], trimmed[n:], true, nil
	}
	over, under := "", ""
	switch {
	case strings.HasPrefix(rest, "/"):
		over, under = digits, digitsAt(rest[1:])
		after, whole = rest[1+len(under):], 0
	case trimmed != rest:
		over = digitsAt(trimmed)
		if over == "" || !strings.HasPrefix(trimmed[len(over):], "/") {
			return 0, "", false, nil
		}
		under = digitsAt(trimmed[len(over)+1:])
		after = trimmed[len(over)+1+len(under):]
	}
	if over == "" || under == "" { // "800 1/min"
		return 0, "", false, nil
	}
	n, _ := strconv.ParseFloat(over, 64)
	d, _ := strconv.ParseFloat(under, 64)
	if d == 0 {
		return 0, "", false, errors.New("the fraction divides by zero")
	}
	if len(over) > 6 || len(under) > 6 || whole > 0 && n >= d {
		return 0, "", false, errors.New("\"" + over + "/" + under + "\" is not a fraction below one: write the figure with decimals")
	}
	return whole + n/d, after, true, nil
}

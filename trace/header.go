package trace

import (
	"slices"
	"strings"
	"unicode"

	"seatproof/unit"
)

// form says which pressure a column holds.
type form uint8

const (
	formUnclear  form = iota
	formVacuum        // below the room, positive
	formGauge         // against the room, negative below it
	formAbsolute      // against nothing
)

// column is what a name in a header (or a key of a JSON object, or an entry of
// --columns) says. A name is taken apart like this, in any case:
//
//	time (s)   Time [s]   t_ms   elapsed time (min)      a time
//	vacuum (kPa)   vacuum_inHg   Vac [mbar]              a vacuum, positive
//	gauge (kPa)   p_bar_gauge   p (psig)                 negative below the room
//	Pressure abs [mbar]   p_bar_abs   pressure (bara)    an absolute pressure
//	pressure (kPa)   ch1 [mbar]                          a pressure of unclear form
//
// Where words contradict, the narrower wins: "absolute vacuum" is absolute, a
// "vacuum gauge" shows vacuum.
type column struct {
	name     string // as written
	unit     unit.UnitInfo
	hasUnit  bool
	badUnit  string // stands where a unit belongs but is none
	voltage  bool   // badUnit is electrical, or counts of a converter
	form     form
	time     bool // the name says so
	pressure bool // the name says so
	skip     bool // "-" in --columns
	stamps   bool // the cells are clock stamps (--columns, or seen)
}

func (c *column) isPressure() bool { return c.hasUnit && c.unit.Dim == unit.PressureDim }
func (c *column) isTime() bool     { return c.hasUnit && c.unit.Dim == unit.TimeDim }

var (
	timeWords = []string{"time", "t", "elapsed", "timestamp", "datetime", "stamp", "clock", "date", "seconds", "milliseconds", "millis"}
	// pressureWords make a column without a unit, or with a wrong one, a
	// pressure column that has a fault, rather than one of no interest.
	pressureWords = []string{"pressure", "press", "p", "vacuum", "vac", "gauge", "gage", "depression", "underpressure",
		"druck", "vakuum", "unterdruck", "pression", "vide", "presión", "presion", "vacío", "vacio", "pressione", "vuoto", "depressione"}
	formWords = map[string]form{
		"abs": formAbsolute, "absolute": formAbsolute,
		"vacuum": formVacuum, "vac": formVacuum, "depression": formVacuum, "underpressure": formVacuum,
		"vakuum": formVacuum, "unterdruck": formVacuum, "vide": formVacuum, "vacío": formVacuum, "vacio": formVacuum, "vuoto": formVacuum, "depressione": formVacuum,
		"absolut": formAbsolute, "absolu": formAbsolute, "relativ": formGauge,
		"gauge": formGauge, "gage": formGauge, "rel": formGauge, "relative": formGauge,
	}
	voltageWords = []string{"v", "mv", "uv", "µv", "kv", "volt", "volts", "millivolt", "millivolts", "ma", "a",
		"amp", "amps", "count", "counts", "raw", "adc", "lsb", "bit", "bits", "ohm", "ohms", "%"}
	longUnits = map[string]string{
		"second": "s", "seconds": "s", "secs": "s", "millisecond": "ms", "milliseconds": "ms", "msecs": "ms",
		"millis": "ms", "microseconds": "µs", "usec": "µs", "mins": "min", "hrs": "h",
		"millibar": "mbar", "millibars": "mbar", "bars": "bar", "torrs": "Torr",
	}
	stampWords = []string{"utc", "local", "localtime", "iso", "8601", "rfc", "3339", "rfc3339", "iso8601", "clock", "stamp", "timestamp", "date", "datetime"}
)

// parseColumn takes a name apart.
func parseColumn(name string) column {
	name = strings.TrimSpace(strings.Trim(strings.TrimSpace(name), `"'`))
	c := column{name: name}
	outside, brackets := cutBrackets(name)
	words := wordsOf(outside)
	forms := map[form]bool{}
	for _, w := range words {
		c.time = c.time || slices.Contains(timeWords, strings.ToLower(w))
		c.pressure = c.pressure || slices.Contains(pressureWords, strings.ToLower(w))
		forms[formWords[strings.ToLower(w)]] = true
	}
	for _, b := range brackets {
		c.bracket(b, forms)
	}
	if !c.hasUnit {
		c.trailing(words, forms)
	}
	if c.hasUnit {
		c.badUnit, c.voltage = "", false
	}
	for _, f := range []form{formAbsolute, formVacuum, formGauge} {
		if forms[f] {
			c.form = f
			break
		}
	}
	return c
}

// bracket reads what stands in brackets: a unit, a form, or both.
func (c *column) bracket(text string, forms map[form]bool) {
	if u, f, ok := lookUnit(text); ok {
		c.unit, c.hasUnit = u, true
		forms[f] = true
		return
	}
	var rest []string
	stamped := false
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,;:()[]\t", r) }) {
		l := strings.ToLower(w)
		switch {
		case formWords[l] != formUnclear:
			forms[formWords[l]] = true
		case l == "a":
			forms[formAbsolute] = true
		case l == "g":
			forms[formGauge] = true
		case slices.Contains(stampWords, l) || strings.HasPrefix(l, "hh") || strings.HasPrefix(l, "yyyy") || l == "mm" || strings.HasPrefix(l, "ss"):
			stamped = true
		default:
			rest = append(rest, w)
		}
	}
	if len(rest) == 0 {
		return
	}
	if u, f, ok := lookUnit(strings.Join(rest, "")); ok {
		c.unit, c.hasUnit = u, true
		forms[f] = true
		return
	}
	if !stamped && c.badUnit == "" {
		c.badUnit = strings.TrimSpace(text)
		c.voltage = slices.Contains(voltageWords, strings.ToLower(rest[0]))
	}
}

// trailing looks for a unit among the words outside brackets, from the end:
// vacuum_inHg, p_bar_abs, t_ms.
func (c *column) trailing(words []string, forms map[form]bool) {
	fits := func(d unit.Dimension) bool {
		if c.pressure {
			return d == unit.PressureDim
		}
		return !slices.ContainsFunc(words, func(w string) bool { return strings.EqualFold(w, "time") }) || d == unit.TimeDim
	}
	for i := len(words) - 1; i >= 0; i-- {
		if l := strings.ToLower(words[i]); slices.Contains(timeWords, l) && len(words) > 1 || slices.Contains(pressureWords, l) {
			continue
		}
		if i > 0 {
			if u, f, ok := lookUnit(words[i-1] + words[i]); ok && u.Dim == unit.PressureDim {
				c.unit, c.hasUnit = u, true
				forms[f] = true
				return
			}
		}
		if u, f, ok := lookUnit(words[i]); ok && fits(u.Dim) {
			c.unit, c.hasUnit = u, true
			forms[f] = true
			return
		}
		if l := strings.ToLower(words[i]); c.pressure && i > 0 && slices.Contains(voltageWords, l) && l != "a" && c.badUnit == "" {
			c.badUnit, c.voltage = words[i], true
		}
	}
}

// lookUnit finds a unit, also one that carries its form: psia, barg, bar(a).
func lookUnit(s string) (unit.UnitInfo, form, bool) {
	s = strings.TrimSpace(s)
	if long, ok := longUnits[strings.ToLower(s)]; ok {
		s = long
	}
	if s == "" || strings.IndexFunc(s, unicode.IsLetter) < 0 && s != `"` && s != "%" {
		return unit.UnitInfo{}, formUnclear, false
	}
	if u, ok := unit.UnitOf(s); ok {
		return u, formUnclear, true
	}
	s = strings.TrimRight(strings.Replace(s, "(", "", 1), ")")
	if n := len(s) - 1; n >= 2 {
		if u, ok := unit.UnitOf(s[:n]); ok && u.Dim == unit.PressureDim {
			switch s[n] | 0x20 {
			case 'a':
				return u, formAbsolute, true
			case 'g':
				return u, formGauge, true
			case 'v':
				return u, formVacuum, true
			}
		}
	}
	return unit.UnitInfo{}, formUnclear, false
}

// cutBrackets parts a name into what stands outside and inside brackets.
func cutBrackets(s string) (outside string, inside []string) {
	var out, in strings.Builder
	depth := 0
	for _, r := range s {
		switch r {
		case '(', '[', '{':
			depth++
			if depth == 1 {
				out.WriteByte(' ')
				continue
			}
		case ')', ']', '}':
			if depth == 1 {
				inside = append(inside, in.String())
				in.Reset()
			}
			depth = max(0, depth-1)
			if depth == 0 {
				continue
			}
		}
		if depth > 0 {
			in.WriteRune(r)
		} else {
			out.WriteRune(r)
		}
	}
	if in.Len() > 0 {
		inside = append(inside, in.String())
	}
	return out.String(), inside
}

// wordsOf parts a name at underscores, blanks and other marks.
func wordsOf(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '%' && r != '°' && r != '"'
	})
}

// parseColumnsOption reads "s, kPa vacuum": one entry a column.
func parseColumnsOption(s string) ([]column, error) {
	var cols []column
	for i, entry := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ';' }) {
		entry = strings.TrimSpace(entry)
		l := strings.ToLower(entry)
		switch {
		case entry == "-" || entry == "":
			cols = append(cols, column{name: "-", skip: true})
			continue
		case slices.Contains(stampWords, l) || strings.HasPrefix(l, "hh:mm") || strings.HasPrefix(l, "mm:ss"):
			cols = append(cols, column{name: entry, time: true, stamps: true})
			continue
		}
		c := parseColumn(entry)
		if !c.isPressure() && !c.isTime() {
			return nil, &FileError{
				Field: "--columns",
				What:  "entry " + quoteShort(entry) + " (number " + itoa(i+1) + ") is neither a time unit nor a pressure unit",
				Hint:  columnsHint,
			}
		}
		cols = append(cols, c)
	}
	return cols, nil
}

const columnsHint = `say what the columns are, as in --columns "s, kPa vacuum" ("ms, mbar abs", "s, inHg gauge", "-" for a column to skip)`

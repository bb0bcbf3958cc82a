package trace

import "seatproof/unit"

// Heading is what a name says of the figures below or behind it, for readers
// of live lines, which name things as files do.
type Heading struct {
	Name     string // as written, trimmed
	Unit     unit.UnitInfo
	HasUnit  bool
	BadUnit  string // stands where a unit belongs, but is none
	Raw      bool   // BadUnit is what a sensor puts out: volts, counts
	Form     Form
	Time     bool // the name says that it is a time
	Pressure bool // the name says that it is a pressure
}

// Form says which pressure a heading names.
type Form uint8

// What a heading may say.
const (
	SaysNothing Form = iota
	SaysVacuum
	SaysGauge
	SaysAbsolute
)

// ParseHeading takes a name apart as [Read] does: "vacuum (kPa)", "p_bar_abs",
// "t_ms", "Pressure abs [mbar]".
func ParseHeading(name string) Heading {
	c := parseColumn(name)
	return Heading{Name: c.name, Unit: c.unit, HasUnit: c.hasUnit, BadUnit: c.badUnit, Raw: c.voltage, Form: Form(c.form), Time: c.time, Pressure: c.pressure}
}

// ParseNumber reads a figure that starts at b[i], with dec as its decimal mark
// ('.' or ','). It returns the figure and the index after it, -1 where there
// is none, or one of more than 18 digits or beyond 10^22.
func ParseNumber(b []byte, i int, dec byte) (x float64, next int) {
	x, _, next = number(b, i, dec)
	return x, next
}

// ParseStamp reads a clock that starts at b[i], as [Read] takes them
// (2026-05-04T12:00:00.25Z, 12:00:00.250, 02:59.8), and returns seconds since
// the day or, of a dated one, since 1970, after how many seconds it begins anew
// (0: never), and the index after it; next is -1 where there is none.
func ParseStamp(b []byte, i int) (seconds, period float64, next int) {
	s, next := readStamp(b, i)
	if next < 0 {
		return 0, 0, -1
	}
	return float64(s.day)*86400 + s.seconds, s.form.period(), next
}

// EachJSONField calls f with each key of the JSON object in line and its value:
// a string without its quotes, anything else as written. It returns false
// where line is no object.
func EachJSONField(line []byte, f func(key, value []byte)) bool { return eachField(line, f) }

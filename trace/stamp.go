package trace

import "bytes"

// stampForm says how a time is stamped.
type stampForm uint8

const (
	noStamp     stampForm = iota
	datedStamp            // RFC 3339, or with a blank between date and time
	clockStamp            // hh:mm:ss, also behind a date whose order of day and month is not certain
	minuteStamp           // mm:ss.fff
)

// period returns after how many seconds stamps of this form begin anew, 0 if
// they do not.
func (f stampForm) period() float64 {
	switch f {
	case clockStamp:
		return 86400
	case minuteStamp:
		return 3600
	}
	return 0
}

// stamp is a moment: seconds into a day, and which day.
type stamp struct {
	form    stampForm
	day     int64   // days since 1970-01-01; only with datedStamp
	seconds float64 // since the day began, zone taken off
}

// readStamp reads a stamp that starts at b[i] and returns the index after it,
// or -1 if there is none:
//
//	2026-05-04T12:00:00.123Z  2026-05-04 12:00:00,123 +02:00  (RFC 3339, ISO 8601)
//	12:00:00.123  04.05.2026 12:00:00  5/4/2026 12:00:00 PM  12:00:00:123
//	02:59.8  (mm:ss.fff)
//
// Dates other than year-month-day are not used: the order of day and month is
// not certain, and the clock alone tells the time elapsed.
func readStamp(b []byte, i int) (s stamp, next int) {
	n1, j := digitsAt(b, i, 4)
	if j < 0 || j >= len(b) {
		return s, -1
	}
	sep := b[j]
	if sep == ':' {
		return readClock(b, i, stamp{form: clockStamp})
	}
	if sep != '-' && sep != '/' && sep != '.' {
		return s, -1
	}
	yearFirst := j-i == 4
	n2, k := digitsAt(b, j+1, 2)
	if k < 0 || k >= len(b) || b[k] != sep {
		return s, -1
	}
	n3, l := digitsAt(b, k+1, 4)
	if l < 0 || l >= len(b) {
		return s, -1
	}
	if yearFirst {
		if n2 < 1 || n2 > 12 || n3 < 1 || n3 > 31 || l-k-1 > 2 {
			return s, -1
		}
		s = stamp{form: datedStamp, day: daysSince1970(n1, n2, n3)}
	} else {
		if n1 < 1 || n1 > 31 || n2 < 1 || n2 > 31 || j-i > 2 {
			return s, -1
		}
		s = stamp{form: clockStamp}
	}
	switch b[l] {
	case 'T', 't', '_', ' ', '\t':
	default:
		return s, -1
	}
	l++
	for l < len(b) && (b[l] == ' ' || b[l] == '\t') {
		l++
	}
	return readClock(b, l, s)
}

// readClock reads the clock of a stamp, its fraction, AM or PM, and zone.
func readClock(b []byte, i int, s stamp) (stamp, int) {
	h, j := digitsAt(b, i, 4)
	if j < 0 || j >= len(b) || b[j] != ':' {
		return s, -1
	}
	m, k := digitsAt(b, j+1, 2)
	if k != j+3 || m > 59 {
		return s, -1
	}
	if k >= len(b) || b[k] != ':' {
		// two parts: only with a fraction is it certain that they are mm:ss
		frac, l := fraction(b, k)
		if l == k || h > 59 || s.form == datedStamp {
			return s, -1
		}
		return stamp{form: minuteStamp, seconds: float64(h*60+m) + frac}, l
	}
	sec, l := digitsAt(b, k+1, 2)
	if l != k+3 || sec > 60 || s.form == datedStamp && h > 24 {
		return s, -1
	}
	frac, l := fraction(b, l)
	s.seconds = float64(h*3600+m*60+sec) + frac
	l = s.halfDay(b, l, h)
	if s.form == datedStamp {
		l = s.zone(b, l)
	}
	return s, l
}

// fraction reads .fff, ,fff or :fff at b[i].
func fraction(b []byte, i int) (float64, int) {
	if i >= len(b) || b[i] != '.' && b[i] != ',' && b[i] != ':' {
		return 0, i
	}
	var m uint64
	j := i + 1
	for j < len(b) && j-i <= 15 && b[j]-'0' <= 9 {
		m = m*10 + uint64(b[j]-'0')
		j++
	}
	if j == i+1 || b[i] == ':' && j != i+4 {
		return 0, i
	}
	return float64(m) / pow10[j-i-1], j
}

// halfDay reads AM or PM.
func (s *stamp) halfDay(b []byte, i, h int) int {
	j := i
	for j < len(b) && b[j] == ' ' {
		j++
	}
	if j+1 >= len(b) || b[j+1]|0x20 != 'm' || h > 12 || h < 1 {
		return i
	}
	switch {
	case b[j]|0x20 == 'a' && h == 12:
		s.seconds -= 12 * 3600
	case b[j]|0x20 == 'a':
	case b[j]|0x20 == 'p' && h < 12:
		s.seconds += 12 * 3600
	case b[j]|0x20 == 'p':
	default:
		return i
	}
	return j + 2
}

// zone reads Z, UTC, +hh:mm, +hhmm or +hh and takes the offset off.
func (s *stamp) zone(b []byte, i int) int {
	j := i
	for j < len(b) && b[j] == ' ' {
		j++
	}
	if j >= len(b) {
		return i
	}
	switch {
	case b[j] == 'Z' || b[j] == 'z':
		return j + 1
	case bytes.HasPrefix(b[j:], []byte("UTC")), bytes.HasPrefix(b[j:], []byte("GMT")):
		return j + 3
	case b[j] != '+' && b[j] != '-' || j > i:
		// after a blank a sign belongs to the next figure
		return i
	}
	h, k := digitsAt(b, j+1, 2)
	if k != j+3 {
		return i
	}
	m := 0
	l := k
	if l < len(b) && b[l] == ':' {
		l++
	}
	if mm, e := digitsAt(b, l, 2); e == l+2 {
		m, k = mm, e
	}
	off := float64(h*3600 + m*60)
	if b[j] == '-' {
		off = -off
	}
	s.seconds -= off
	return k
}

// digitsAt reads one to most digits at b[i]; next is -1 if there are none.
func digitsAt(b []byte, i, most int) (n, next int) {
	j := i
	for j < len(b) && j-i < most && b[j]-'0' <= 9 {
		n = n*10 + int(b[j]-'0')
		j++
	}
	if j == i {
		return 0, -1
	}
	return n, j
}

// daysSince1970 returns the day number of a date of the Gregorian calendar:
// years are counted from March, in eras of 400 years of 146,097 days.
func daysSince1970(year, month, day int) int64 {
	if month <= 2 {
		year--
		month += 12
	}
	y := int64(year)
	return 365*y + y/4 - y/100 + y/400 + int64((153*(month-3)+2)/5+day-1) - 719468
}

// wholeStamp reads a cell that holds nothing but a stamp.
func wholeStamp(cell []byte) (stamp, bool) {
	s, next := readStamp(cell, 0)
	return s, next >= 0 && len(trim(cell[next:])) == 0
}

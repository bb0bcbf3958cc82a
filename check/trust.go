package check

import "time"

// Days is how long a check is trusted: on the day it was made and so many
// calendar days in all; 1 is that day alone. The usual ones are common practice,
// no source, and a person may set others.
type Days int

// Spans of trust.
const (
	TheDay       Days = 1
	AMonth       Days = 31
	HalfAYear    Days = 183
	UntilPartNew Days = -1 // until a part it hangs on is changed
)

// Usual is how long a kind of check is trusted unless a person says otherwise.
func Usual(k Kind) Days {
	switch k {
	case KindGauge:
		return AMonth
	case KindPump, KindShutOff:
		return HalfAYear
	case KindVolume, KindHose, KindPart:
		return UntilPartNew
	default:
		return TheDay
	}
}

// Trust is how long r is trusted.
func (r Result) Trust() Days {
	if r.Days != 0 {
		return r.Days
	}
	return Usual(r.Kind)
}

// Until is the first moment at which r is not trusted any more, and false where no
// day ends its trust. Days are those of r.At's own place.
func (r Result) Until() (time.Time, bool) {
	d := r.Trust()
	if d < 0 {
		return time.Time{}, false
	}
	y, m, day := r.At.Date()
	return time.Date(y, m, day+int(d), 0, 0, 0, 0, r.At.Location()), true
}

// Old says whether r is past its days at now. That a part was changed since is
// seen by [Current], which knows the other checks.
func (r Result) Old(now time.Time) bool {
	end, ends := r.Until()
	return ends && !now.Before(end)
}

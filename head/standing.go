package head

import "seatproof/limit"

// Standing is how a port or a valve stands: a verdict, or why there is none.
type Standing string

// The standings.
const (
	NotTested   Standing = "not-tested"
	Lapsed      Standing = "lapsed" // worked on since it was tested
	Refused     Standing = "refused"
	CantTellYet Standing = "cant-tell-yet"
	Leaks       Standing = "leaks"
	Holds       Standing = "holds"
)

// Standings are all of them, in the order in which they are counted up.
var Standings = []Standing{Holds, Leaks, CantTellYet, Lapsed, Refused, NotTested}

// Words returns the standing in the words of every screen and sheet.
func (s Standing) Words() string {
	switch s {
	case NotTested:
		return "not tested"
	case CantTellYet:
		return "can't tell yet"
	}
	return string(s)
}

// MarshalText writes the standing's code, "not-tested" for none.
func (s Standing) MarshalText() ([]byte, error) {
	if s == "" {
		s = NotTested
	}
	return []byte(s), nil
}

// standingOf is the standing that a verdict means.
func standingOf(v limit.Verdict) Standing {
	switch v {
	case limit.Holds:
		return Holds
	case limit.Leaks:
		return Leaks
	}
	return CantTellYet
}

package source

import (
	"fmt"
	"math"
	"strings"

	"seatproof/trace"
	"seatproof/unit"
)

// Reads says what a sensor's figures mean.
type Reads string

// What figures may mean.
const (
	ReadsVacuum   Reads = "vacuum"   // below the room, positive
	ReadsGauge    Reads = "gauge"    // against the room, negative below it
	ReadsAbsolute Reads = "absolute" // against nothing
)

// Scale turns a sensor's figures into Pa: by their unit, or by a table of what
// the sensor puts out where that is no pressure yet (volts, counts).
//
// An absolute sensor stays absolute: taking the room's pressure off is the
// work of whoever knows it.
type Scale struct {
	Reads Reads
	Unit  unit.UnitInfo // of the figures, where there is no Table
	Table *Table
}

// Kind returns what Pascal's figures are.
func (s Scale) Kind() trace.Kind {
	if s.Reads == ReadsAbsolute {
		return trace.Absolute
	}
	return trace.Vacuum
}

// Speaks returns the unit that the sensor speaks: kPa, or V for one with a
// table.
func (s Scale) Speaks() string {
	if s.Table != nil {
		return s.Table.Raw
	}
	return s.Unit.Name
}

// Pascal turns the figure x into Pa, vacuum or absolute as Kind says. The error
// is an *[OutOfRangeError].
func (s Scale) Pascal(x float64) (float64, error) { return s.PascalIn(x, s.Unit) }

// PascalIn is Pascal for a figure that came with a unit of its own.
func (s Scale) PascalIn(x float64, u unit.UnitInfo) (float64, error) {
	p := u.ToSI(x)
	if s.Table != nil {
		var err error
		if p, err = s.Table.Pascal(x); err != nil {
			return 0, err
		}
	}
	if s.Reads == ReadsGauge {
		p = 0 - p // no -0
	}
	if err := credible(s.Kind(), p); err != nil {
		return 0, err
	}
	return p, nil
}

// Difference turns a difference of two figures (a step, an accuracy) into Pa.
// For a table it is the mean over the table.
func (s Scale) Difference(x float64) float64 {
	if s.Table != nil {
		return math.Abs(x * s.Table.slope())
	}
	return math.Abs(s.Unit.ToSIDifference(x))
}

// OutOfRangeError says that a figure can be no vacuum.
type OutOfRangeError struct{ What string }

func (e *OutOfRangeError) Error() string { return e.What }

// Bounds on what is believed, wide of the highest air pressure ever measured at
// sea level (about 108.5 kPa, from memory) and of what a sensor's zero is off.
const (
	deepest  = 112e3  // Pa vacuum
	highest  = -350e3 // Pa vacuum: a compressor's line put on by mistake is told, not refused
	emptiest = -5e3   // Pa absolute
	fullest  = 460e3  // Pa absolute
)

// credible refuses a figure [Pa] that no vacuum can be.
func credible(kind trace.Kind, p float64) error {
	low, high := highest, deepest
	if kind == trace.Absolute {
		low, high = emptiest, fullest
	}
	switch {
	case math.IsNaN(p) || math.IsInf(p, 0):
		return &OutOfRangeError{"the figure is not finite"}
	case p < low || p > high:
		return &OutOfRangeError{fmt.Sprintf("%.4g kPa %s is beyond what can be: are the unit and its meaning right?", p/1e3, kind)}
	}
	return nil
}

// ScaleOptions are the options of every kind of source whose figures need a
// unit.
func ScaleOptions() []Option {
	return []Option{
		{Key: "unit", Words: "unit of the figures", Hint: "as in unit=kPa, unit=mbar, unit=inHg"},
		{Key: "reads", Words: "what the figures mean", Hint: "vacuum (positive below the room), gauge (negative below the room) or absolute", Choice: []string{string(ReadsVacuum), string(ReadsGauge), string(ReadsAbsolute)}},
		{Key: "table", Words: "what the sensor puts out at which pressure", Hint: "as in table=0.5 V = 0 kPa; 4.5 V = -100 kPa"},
		{Key: "resolution", Words: "its smallest step", Hint: "as in resolution=0.1 kPa"},
		{Key: "accuracy", Words: "its accuracy, 95 %", Hint: "as in accuracy=1 kPa, from its data sheet"},
		{Key: "name", Words: "what you call it", Hint: "as in name=bench gauge"},
	}
}

// ScaleOf reads the options of [ScaleOptions]. What a learned pattern or the
// device itself says of unit and meaning goes in as found and holds where the
// address says nothing. The error is a *Fault; a unit or a meaning that nobody
// knows is one, and asks.
func ScaleOf(a Address, found Scale) (Scale, error) {
	s := found
	where := a.Bare()
	if text, ok := a.Options["unit"]; ok {
		u, reads, err := unitOf(text)
		if err != nil {
			return s, &Fault{Source: where, Key: "unit", What: "no unit of pressure", Err: err, Hint: "use kPa, mbar, inHg, mmHg, psi or another"}
		}
		s.Unit = u
		if reads != "" {
			s.Reads = reads
		}
	}
	if text, ok := a.Options["reads"]; ok {
		switch r := Reads(strings.ToLower(strings.TrimSpace(text))); r {
		case ReadsVacuum, ReadsGauge, ReadsAbsolute:
			s.Reads = r
		case "abs":
			s.Reads = ReadsAbsolute
		default:
			return s, &Fault{Source: where, Key: "reads", What: fmt.Sprintf("%q is none of vacuum, gauge, absolute", text), Hint: "say vacuum if the figure grows as the pump pulls, gauge if it goes negative, absolute if it falls from about 100 kPa"}
		}
	}
	if text, ok := a.Options["table"]; ok {
		t, reads, err := ParseTable(text)
		if err != nil {
			return s, &Fault{Source: where, Key: "table", What: err.Error(), Hint: "as in table=0.5 V = 0 kPa; 4.5 V = -100 kPa"}
		}
		s.Table = t
		if _, said := a.Options["reads"]; !said && reads != "" {
			s.Reads = reads
		}
	}
	if s.Table == nil && s.Unit.Name == "" {
		return s, &Fault{Source: where, Key: "unit", What: "nothing says in which unit the figures are", Hint: "say it, as in unit=kPa"}
	}
	if s.Reads == "" {
		return s, &Fault{Source: where, Key: "reads", What: "nothing says what the figures mean", Hint: "say reads=vacuum if the figure grows as the pump pulls, reads=gauge if it goes negative, reads=absolute if it falls from about 100 kPa"}
	}
	return s, nil
}

// unitOf finds a unit of pressure, also one that says what it means: psia,
// barg, "kPa abs".
func unitOf(text string) (unit.UnitInfo, Reads, error) {
	h := trace.ParseHeading("pressure (" + strings.TrimSpace(text) + ")")
	if h.HasUnit && h.Unit.Dim == unit.PressureDim {
		return h.Unit, readsOf(h), nil
	}
	_, err := unit.Parse("1 "+text, unit.PressureDim)
	if err == nil {
		err = fmt.Errorf("%q is no unit of pressure", text)
	}
	return unit.UnitInfo{}, "", err
}

// readsOf returns what a heading says its figures mean; "": nothing.
func readsOf(h trace.Heading) Reads {
	switch h.Form {
	case trace.SaysVacuum:
		return ReadsVacuum
	case trace.SaysGauge:
		return ReadsGauge
	case trace.SaysAbsolute:
		return ReadsAbsolute
	}
	return ""
}

// Describe fills what the options say of the sensor into about. The error is a
// *Fault.
func (s Scale) Describe(a Address, about *About) error {
	about.Kind, about.Reads, about.Unit = a.Kind, s.Kind(), s.Speaks()
	about.Name = a.Options["name"]
	if about.Name == "" {
		about.Name = a.Bare()
	}
	for key, into := range map[string]*float64{"resolution": &about.Resolution, "accuracy": &about.Accuracy} {
		text, ok := a.Options[key]
		if !ok {
			continue
		}
		def := s.Unit.Name
		if def == "" {
			def = "kPa"
		}
		q, err := unit.ParseIn(text, unit.PressureDim, def)
		if err == nil && !(q.Value >= 0) {
			err = fmt.Errorf("it is negative")
		}
		if err != nil {
			return &Fault{Source: a.Bare(), Key: key, What: "no pressure", Err: err, Hint: "as in " + key + "=0.1 kPa"}
		}
		*into = q.Value
	}
	return nil
}

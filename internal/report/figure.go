// Package report turns readings into what a person or a program reads: a few
// lines of text, a table of ports worst first, JSON, a drawing, and a page
// that stands alone.
//
// Start with [Outcome], which holds what came of one trace and what it is
// judged by; [WriteText], [WriteTable], [WriteJSON], [WritePlot] and
// [WritePage] write it. Wording lives in one catalogue, wording.go. SI comes
// in; units are chosen here.
package report

import (
	"math"
	"strconv"
	"strings"

	"seatproof/leak"
	"seatproof/unit"
)

// Factors from SI to the units that screens show.
const (
	cm3min = 1e6 * 60 // m³/s to cm³/min
	kPa    = 1e-3     // Pa to kPa
)

// VacuumUnit is a unit that vacuums are shown in.
type VacuumUnit struct {
	Name string
	Size float64 // Pa
}

// KPa is the unit used where nobody chose one.
var KPa = VacuumUnit{"kPa", 1000}

// VacuumUnits names the units a person may choose.
var VacuumUnits = []string{"kPa", "mbar", "inHg", "mmHg", "psi"}

// UnitNamed returns the vacuum unit of that name, one of [VacuumUnits], and
// whether there is one.
func UnitNamed(name string) (VacuumUnit, bool) {
	for _, u := range VacuumUnits {
		if strings.EqualFold(u, name) {
			size, err := unit.ToSI(1, u)
			return VacuumUnit{u, size}, err == nil
		}
	}
	return VacuumUnit{}, false
}

// Figure writes x rounded to so many significant digits: 9.6, 28, 140, 0.020.
// What is not a number is an en dash.
func Figure(x float64, digits int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return unit.Significant(x, digits)
}

// Style says how figures are shown.
type Style struct {
	Unit  VacuumUnit // of vacuums
	Asked bool       // a person named Unit for what is shown, so that it is taken for all pressures
	Full  bool       // more than two significant digits, and every line
}

func (s Style) unit() VacuumUnit {
	if s.Unit.Size == 0 {
		return KPa
	}
	return s.Unit
}

// VacuumUnit is the unit of vacuums; kPa where nobody chose one.
func (s Style) VacuumUnit() VacuumUnit { return s.unit() }

func (s Style) digits() int {
	if s.Full {
		return 4
	}
	return 2
}

// flow writes a leak rate in cm³/min, without the unit.
func (s Style) flow(q float64) string { return Figure(q*cm3min, s.digits()) }

// vacuum writes a vacuum with its unit. Vacuums keep three digits: two would
// hide the blanked reading's distance from the steady one.
func (s Style) vacuum(v float64) string {
	u := s.unit()
	return Figure(v/u.Size, max(3, s.digits())) + " " + u.Name
}

// Vacuum writes a vacuum [Pa] with its unit, as screens show it.
func (s Style) Vacuum(v float64) string { return s.vacuum(v) }

// lost writes a loss of vacuum with its unit, in two digits.
func (s Style) lost(v float64) string {
	u := s.unit()
	return Figure(v/u.Size, s.digits()) + " " + u.Name
}

// between writes an interval in words, "8.1 to 11", with scale turning SI into
// what is shown.
func (s Style) between(i leak.Interval, scale float64) string {
	return Figure(i.Low*scale, s.digits()) + " to " + Figure(i.High*scale, s.digits())
}

// shares writes an interval of a share in per cent.
func (s Style) shares(i leak.Interval) string {
	decimals := 0
	if s.Full {
		decimals = 1
	}
	return strconv.FormatFloat(100*i.Low, 'f', decimals, 64) + " to " + strconv.FormatFloat(100*i.High, 'f', decimals, 64) + " %"
}

// seconds writes a time: three digits from 100 s and for odd parts of a second,
// none to spare for whole ones.
func seconds(t float64) string {
	if t == math.Trunc(t) && t < 100 {
		return strconv.FormatFloat(t, 'f', 0, 64) + " s"
	}
	if t < 10 {
		return Figure(t, 2) + " s"
	}
	return Figure(t, 3) + " s"
}

// Chance writes a probability in per cent: 78 %, 0.2 %, and in words where the
// figure would claim more than a posterior can: under 0.1 %, above 99.9 %.
func Chance(p float64) string {
	switch {
	case math.IsNaN(p):
		return "–"
	case p < 0.001:
		return "under 0.1 %"
	case p > 0.999:
		return "above 99.9 %"
	case p < 0.0995 || p > 0.995:
		return strconv.FormatFloat(p*100, 'f', 1, 64) + " %"
	default:
		return strconv.FormatFloat(p*100, 'f', 0, 64) + " %"
	}
}

// quantity writes a figure with its ± in the unit that screens show it in.
func (s Style) quantity(m unit.Measured, dim unit.Dimension) string {
	name := map[unit.Dimension]string{
		unit.PressureDim: s.unit().Name, unit.FlowDim: "cm³/min", unit.LengthDim: "mm",
		unit.VolumeDim: "cm³", unit.TemperatureDim: "°C", unit.TimeDim: "s",
		unit.RatioDim: "%",
	}[dim]
	return unit.Format(m, dim, name, s.digits())
}

// beingOver writes the chance of being over the limit.
func beingOver(p float64) string {
	words := Chance(p)
	if words[0] < '0' || words[0] > '9' {
		return "chance of being over: " + words
	}
	return "chance of being over " + words
}

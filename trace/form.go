package trace

import (
	"fmt"
	"math"
)

// settleForm returns which pressure the values [Pa] are. Where the column says
// it, that holds, but for a vacuum that is negative throughout, which is asked
// about. Where it does not, the values decide if only one thing can be meant:
//
//   - absolute: starts at 85 to 106 kPa (what a room has, up to some 1,400 m),
//     falls by 5 kPa or more but not below 3 kPa, and somewhere falls ten times
//     as fast as at its start: the room, then a pull. A deep vacuum that is
//     held falls fastest at its start, or is vented and then ends below 3 kPa.
//   - gauge: reaches 1 kPa below zero and not below 106 kPa under it, and
//     nowhere above by more than a tenth of that plus 1 kPa.
//   - vacuum: starts within 5 kPa of zero, rises by 5 kPa or more to at most
//     106 kPa, and is nowhere below zero by more than a tenth of that plus 1 kPa.
//
// Everything else is an error that asks.
func (l *layout) settleForm(pa []float64) (form, error) {
	c := &l.columns[l.vcol]
	if c.form == formGauge || c.form == formAbsolute {
		return c.form, nil
	}
	low, high := span(pa)
	if c.form == formVacuum && onlyNegative(pa) {
		return 0, &FileError{
			Line: l.headerLine, Column: l.vcol + 1, Field: c.name,
			What: fmt.Sprintf("a vacuum counts from the room downwards, but this column reaches %.3g kPa and never shows one", low/1e3),
			Hint: `name the column "gauge" if negative means below the room, or say --columns "s, ` + c.unit.Name + ` gauge"`,
		}
	}
	if c.form != formUnclear {
		return c.form, nil
	}
	start := startLevel(pa)
	switch {
	case start >= 85e3 && start <= 106e3 && high <= 110e3 && low >= 3e3 && start-low >= 5e3 && restsThenFalls(pa):
		return formAbsolute, nil
	case low <= -1e3 && low >= -106e3 && high <= 0.1*-low+1e3:
		return formGauge, nil
	case math.Abs(start) <= 5e3 && high-start >= 5e3 && high <= 106e3 && low >= -0.1*high-1e3:
		return formVacuum, nil
	}
	return 0, &FileError{
		Line: l.headerLine, Column: l.vcol + 1, Field: c.name,
		What: fmt.Sprintf("this could be an absolute pressure, a gauge pressure or a vacuum (it starts at %.3g kPa and goes from %.3g to %.3g)", start/1e3, low/1e3, high/1e3),
		Hint: `name the column "pressure abs", "gauge" (negative below the room) or "vacuum", or say --columns "s, ` + c.unit.Name + ` vacuum"`,
	}
}

// onlyNegative says whether values [Pa] go well below zero and nowhere above,
// and change by so much that it is no matter of a wrong zero.
func onlyNegative(pa []float64) bool {
	low, high := span(pa)
	return low < -5e3 && high < 1e3 && high-low >= 5e3
}

func span(x []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	return low, high
}

// startLevel returns the median of the first few values.
func startLevel(x []float64) float64 {
	var first [9]float64
	return median(first[:copy(first[:], x[:min(len(x), 1+len(x)/50)])])
}

// restsThenFalls says whether the values fall at least ten times as fast
// somewhere as they do at their start, over stretches of a fiftieth of the
// trace (two points at least), and by 1 kPa or more there.
func restsThenFalls(x []float64) bool {
	w := max(2, len(x)/50)
	if len(x) <= w {
		return false
	}
	steepest := 0.0
	for i := 0; i+w < len(x); i++ {
		steepest = math.Max(steepest, x[i]-x[i+w])
	}
	return steepest >= 1e3 && math.Abs(x[0]-x[w]) <= 0.1*steepest
}

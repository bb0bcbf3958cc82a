package report

import (
	"strings"

	"seatproof/crosscheck"
	"seatproof/unit"
)

func otherFigureOf(i crosscheck.Interval, text func(float64) string, name string) OtherFigure {
	return OtherFigure{Figure: strings.TrimSpace(text(i.Median) + " " + name), Range: text(i.Low) + " to " + text(i.High)}
}

// GaugeFigure is a pressure above the room in a unit: three digits, as gauges of
// these tests are read.
func GaugeFigure(i crosscheck.Interval, name string) OtherFigure {
	one, _ := unit.ToSI(1, name)
	return otherFigureOf(i, func(x float64) string { return Figure(x/one, 3) }, name)
}

// leastShare is the smallest share that these tests are worth a figure for.
const leastShare = 0.001

// PercentFigure is a share in per cent, each of its figures by one rule: two digits,
// and "under 0.1" for what is smaller.
func PercentFigure(i crosscheck.Interval) OtherFigure {
	f := OtherFigure{Figure: otherPercent(i.Median) + " %"}
	switch {
	case i.High < leastShare:
	case i.Median < leastShare:
		f.Range = "up to " + otherPercent(i.High)
	default:
		f.Range = otherPercent(i.Low) + " to " + otherPercent(i.High)
	}
	return f
}

// NeedleFigure is how far a needle stands below the blanked reading.
func NeedleFigure(i crosscheck.Interval, style Style) OtherFigure {
	u := style.unit()
	return otherFigureOf(i, func(x float64) string { return Figure(x/u.Size, 2) }, u.Name)
}

// timeWords is a time as a person waits for it; "never" where nothing comes within a
// month.
func timeWords(s float64) string {
	for _, u := range []struct {
		below, per float64
		name       string
	}{{1, 1, ""}, {100, 1, "s"}, {100 * 60, 60, "min"}, {48 * 3600, 3600, "h"}, {30 * 86400, 86400, "days"}} {
		if s < u.below {
			if u.name == "" {
				return "at once"
			}
			return Figure(s/u.per, 2) + " " + u.name
		}
	}
	return "never"
}

// TimesFigure is when something shows.
func TimesFigure(t crosscheck.Times) OtherFigure {
	low, high := timeWords(t.Low), timeWords(t.High)
	if low == high {
		return OtherFigure{Figure: timeWords(t.Median), Range: ""}
	}
	return OtherFigure{Figure: timeWords(t.Median), Range: low + " to " + high}
}

// CostWords is what a leak takes of the cranking peak.
func CostWords(i crosscheck.Interval) string {
	f := PercentFigure(i)
	if f.Range == "" {
		return f.Figure + " lost"
	}
	return f.Figure + " lost (" + f.Range + ")"
}

func otherPercent(x float64) string {
	if x < leastShare {
		return "under 0.1"
	}
	return Figure(100*x, 2)
}

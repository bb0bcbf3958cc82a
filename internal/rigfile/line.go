package rigfile

import (
	"fmt"
	"math"
	"strconv"

	"seatproof/rig"
	"seatproof/unit"

	"github.com/pelletier/go-toml/v2/unstable"
)

// The line of a gauge (rig.GaugeLine) is four keys, of which any may be missing:
//
//	[gauge]
//	line_offset = "0.12 ± 0.05 kPa"   # to be added, whatever it reads
//	line_slope = "-0.8 ± 0.4 %"       # of the reading, to be added
//	line_correlation = "-0.83"        # of the two
//	line_bow = "0.3 kPa"              # by which it may leave the line, 95 %

// lineFigure is a figure of a gauge's line.
func lineFigure(key string, dim unit.Dimension, in string, check func(unit.Quantity) error, at func(*rig.GaugeLine) *unit.Measured) field {
	return field{key,
		take(dim, check, func(r *rig.Rig) *unit.Measured { return at(lineOf(r)) }),
		func(r rig.Rig) string {
			if r.Gauge.Line == nil {
				return ""
			}
			m := *at(r.Gauge.Line)
			if dim == unit.RatioDim && m.Known { // a ratio has no unit but this
				return quote(percent(m))
			}
			return quoteKnown(figure(m, dim, in))
		},
	}
}

// percent writes a share in %, in no more digits than a person wrote: what
// conversion leaves in the sixteenth is dropped.
func percent(m unit.Measured) string {
	text := func(x float64) string {
		r, err := strconv.ParseFloat(strconv.FormatFloat(100*x, 'g', 15, 64), 64)
		if err != nil {
			r = 100 * x
		}
		return strconv.FormatFloat(r, 'f', -1, 64)
	}
	if m.Spread == 0 {
		return text(m.Value) + " %"
	}
	return text(m.Value) + " ± " + text(m.Spread) + " %"
}

// lineOf returns the rig's gauge line, which it makes where there is none.
func lineOf(r *rig.Rig) *rig.GaugeLine {
	if r.Gauge.Line == nil {
		r.Gauge.Line = new(rig.GaugeLine)
	}
	return r.Gauge.Line
}

func setCorrelation(r *rig.Rig, v value) error {
	if v.kind != unstable.String && v.kind != unstable.Integer && v.kind != unstable.Float {
		return fmt.Errorf("it must be a figure such as \"-0.83\", but is %s", kindName(v.kind))
	}
	q, err := unit.ParseIn(v.text, unit.RatioDim, "1")
	if err != nil {
		return err
	}
	if q.Unit != "1" || q.Spread != 0 || math.Abs(q.Value) > 1 {
		return fmt.Errorf("%q is no correlation: it is a figure from -1 to 1, without ±", v.text)
	}
	lineOf(r).Correlation = q.Value
	return nil
}

func getCorrelation(r rig.Rig) string {
	if r.Gauge.Line == nil || r.Gauge.Line.Correlation == 0 {
		return ""
	}
	return quote(unit.Significant(r.Gauge.Line.Correlation, 0))
}

package rigfile

import (
	"fmt"
	"math"
	"strings"

	"seatproof/rig"
	"seatproof/unit"

	"github.com/pelletier/go-toml/v2/unstable"
)

// field is one key of the rig file.
type field struct {
	key string // dotted
	// set puts a value into the rig or says what is wrong with it.
	set func(*rig.Rig, value) error
	// get returns the value as TOML, empty if it is not known.
	get func(rig.Rig) string
}

// fields are all keys of a rig file, in the order in which they are written.
// The bounds are those beyond which a figure smells of a slip.
var fields = []field{
	{"name", setName, func(r rig.Rig) string { return quoteKnown(r.Name) }},
	measured("volume", unit.VolumeDim, "cm³", above(0, 0.1, "100 L"), func(r *rig.Rig) *unit.Measured { return &r.Volume }),
	measured("rig_leak", unit.FlowDim, "cm³/min", from(0, 10e-3/60, "10 L/min"), func(r *rig.Rig) *unit.Measured { return &r.RigLeak }),

	measured("port.volume", unit.VolumeDim, "cm³", above(0, 0.1, "100 L"), func(r *rig.Rig) *unit.Measured { return &r.Port.Volume }),
	choice("port.held", func(r *rig.Rig) *rig.Held { return &r.Port.Held },
		rig.HeldNothing, rig.HeldThumb, rig.HeldLightSpring, rig.HeldOwnSpring),
	choice("port.wet_with", func(r *rig.Rig) *rig.Liquid { return &r.Port.WetWith },
		rig.WetNothing, rig.WetOil, rig.WetWater, rig.WetIsopropanol, rig.WetAcetone, rig.WetPetrol, rig.WetWhiteSpirit),
	measured("port.head_temperature", unit.TemperatureDim, "°C", temperature(-30, 120), func(r *rig.Rig) *unit.Measured { return &r.Port.HeadTemperature }),

	measured("pump.free_flow", unit.FlowDim, "L/min", above(0, 2./60, "2000 L/min"), func(r *rig.Rig) *unit.Measured { return &r.Pump.FreeFlow }),
	{"pump.curve", setCurve, getCurve},
	measured("pump.blanked", unit.PressureDim, "kPa", vacuum, func(r *rig.Rig) *unit.Measured { return &r.Pump.Blanked }),
	measured("pump.rated_at", unit.PressureDim, "kPa", airPressure, func(r *rig.Rig) *unit.Measured { return &r.Pump.RatedAt }),
	choice("pump.after_shut_off", func(r *rig.Rig) *rig.PumpState { return &r.Pump.AfterShutOff },
		rig.PumpStopped, rig.PumpRunning),

	measured("hose.bore", unit.LengthDim, "mm", above(0, 0.1, "100 mm"), func(r *rig.Rig) *unit.Measured { return &r.Hose.Bore }),
	measured("hose.length", unit.LengthDim, "m", above(0, 100, "100 m"), func(r *rig.Rig) *unit.Measured { return &r.Hose.Length }),
	choice("hose.gauge_at", func(r *rig.Rig) *rig.GaugePlace { return &r.Hose.GaugeAt },
		rig.GaugeAtPort, rig.GaugeAtPump),

	choice("gauge.kind", func(r *rig.Rig) *rig.GaugeKind { return &r.Gauge.Kind },
		rig.GaugeDigital, rig.GaugeNeedle),
	{"gauge.unit", setUnit, func(r rig.Rig) string { return quoteKnown(r.Gauge.Unit) }},
	{"gauge.span", setSpan, getSpan},
	{"gauge.accuracy", setAccuracy, getAccuracy},
	{"gauge.class", setClass, getClass},
	plain("gauge.resolution", above(0, 20e3, "20 kPa"), func(r *rig.Rig) *float64 { return &r.Gauge.Resolution }),
	plain("gauge.division", above(0, 20e3, "20 kPa"), func(r *rig.Rig) *float64 { return &r.Gauge.Division }),
	measured("gauge.zero", unit.PressureDim, "kPa", from(-110e3, 110e3, "110 kPa"), func(r *rig.Rig) *unit.Measured { return &r.Gauge.Zero }),
	measured("gauge.response", unit.TimeDim, "s", from(0, 60, "60 s"), func(r *rig.Rig) *unit.Measured { return &r.Gauge.Response }),
	lineFigure("gauge.line_offset", unit.PressureDim, "kPa", from(-20e3, 20e3, "20 kPa"), func(l *rig.GaugeLine) *unit.Measured { return &l.Offset }),
	lineFigure("gauge.line_slope", unit.RatioDim, "%", from(-0.3, 0.3, "30 %"), func(l *rig.GaugeLine) *unit.Measured { return &l.Slope }),
	{"gauge.line_correlation", setCorrelation, getCorrelation},
	lineFigure("gauge.line_bow", unit.PressureDim, "kPa", from(0, 20e3, "20 kPa"), func(l *rig.GaugeLine) *unit.Measured { return &l.Bow }),

	measured("air.pressure", unit.PressureDim, "kPa", airPressure, func(r *rig.Rig) *unit.Measured { return &r.Air.Pressure }),
	measured("air.altitude", unit.LengthDim, "m", altitude, func(r *rig.Rig) *unit.Measured { return &r.Air.Altitude }),
	measured("air.temperature", unit.TemperatureDim, "°C", temperature(-30, 60), func(r *rig.Rig) *unit.Measured { return &r.Air.Temperature }),
}

// measured is a figure that may have its ±.
func measured(key string, dim unit.Dimension, in string, check func(unit.Quantity) error, at func(*rig.Rig) *unit.Measured) field {
	return field{key, take(dim, check, at), func(r rig.Rig) string { return quoteKnown(figure(*at(&r), dim, in)) }}
}

// take reads a figure into its place, which is looked for only once it is sound.
func take(dim unit.Dimension, check func(unit.Quantity) error, at func(*rig.Rig) *unit.Measured) func(*rig.Rig, value) error {
	return func(r *rig.Rig, v value) error {
		q, err := v.quantity(dim)
		if err != nil {
			return err
		}
		if err := check(q); err != nil {
			return err
		}
		*at(r) = q.Measured
		return nil
	}
}

// plain is a pressure without ±, 0 where not given.
func plain(key string, check func(unit.Quantity) error, at func(*rig.Rig) *float64) field {
	return field{key,
		func(r *rig.Rig, v value) error {
			q, err := v.exact(unit.PressureDim)
			if err != nil {
				return err
			}
			if err := check(q); err != nil {
				return err
			}
			*at(r) = q.Value
			return nil
		},
		func(r rig.Rig) string {
			if *at(&r) == 0 {
				return ""
			}
			return quote(figure(unit.Exactly(*at(&r)), unit.PressureDim, "kPa"))
		},
	}
}

// choice is a word out of a list.
func choice[T ~string](key string, at func(*rig.Rig) *T, words ...T) field {
	return field{key,
		func(r *rig.Rig, v value) error {
			text, err := v.string()
			if err != nil {
				return fmt.Errorf("%w: it is one of %s", err, quoteAll(words))
			}
			for _, w := range words {
				if text == string(w) {
					*at(r) = w
					return nil
				}
			}
			var known []string
			for _, w := range words {
				known = append(known, string(w))
			}
			hint := ""
			if near := unit.Nearest(text, known); near != "" {
				hint = fmt.Sprintf(": did you mean %q?", near)
			}
			return fmt.Errorf("%q is not one of %s%s", text, quoteAll(words), hint)
		},
		func(r rig.Rig) string { return quoteKnown(string(*at(&r))) },
	}
}

// quoteAll lists words: "a", "b" or "c".
func quoteAll[T ~string](words []T) string {
	var b strings.Builder
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			b.WriteString(" or ")
		default:
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "%q", string(w))
	}
	return b.String()
}

// string returns the text of a value that must be one.
func (v value) string() (string, error) {
	if v.kind != unstable.String {
		return "", fmt.Errorf("it must be a text in quotes, but is %s", kindName(v.kind))
	}
	return v.text, nil
}

// quantity reads a figure with its unit. A TOML number is a bare figure.
func (v value) quantity(dim unit.Dimension) (unit.Quantity, error) {
	switch v.kind {
	case unstable.String, unstable.Integer, unstable.Float:
		return unit.Parse(v.text, dim)
	default:
		return unit.Quantity{}, fmt.Errorf("it must be a figure with its unit in quotes, but is %s", kindName(v.kind))
	}
}

// exact reads a figure that takes no ±.
func (v value) exact(dim unit.Dimension) (unit.Quantity, error) {
	q, err := v.quantity(dim)
	if err == nil && q.Spread != 0 {
		err = fmt.Errorf("%q has a ±, which is not used here: leave it out", v.text)
	}
	return q, err
}

func kindName(k unstable.Kind) string {
	switch k {
	case unstable.Bool:
		return "true or false"
	case unstable.Integer, unstable.Float:
		return "a bare number"
	case unstable.Array:
		return "a list"
	case unstable.InlineTable:
		return "a table"
	default:
		return "a date or time"
	}
}

func setName(r *rig.Rig, v value) error {
	text, err := v.string()
	if err != nil {
		return err
	}
	if len(text) > 200 || strings.ContainsFunc(text, func(c rune) bool { return c < ' ' || c == 0x7f }) {
		return fmt.Errorf("a name is one line of at most 200 letters")
	}
	r.Name = text
	return nil
}

// setUnit takes the unit a gauge's scale is marked in.
func setUnit(r *rig.Rig, v value) error {
	text, err := v.string()
	if err != nil {
		return err
	}
	u, ok := unit.UnitOf(text)
	if !ok || u.Dim != unit.PressureDim {
		return fmt.Errorf("%q is no unit of pressure: write it as on the gauge, such as \"inHg\", \"kPa\" or \"mbar\"", text)
	}
	r.Gauge.Unit = u.Name
	return nil
}

func setCurve(r *rig.Rig, v value) error {
	const example = `curve = [["0 kPa", "10 L/min"], ["78 kPa", "0 L/min"]]`
	if v.kind != unstable.Array || len(v.items) < 2 {
		return fmt.Errorf("it must be a list of two or more pairs of vacuum and flow, such as %s", example)
	}
	var curve []rig.PumpPoint
	for i, item := range v.items {
		if item.kind != unstable.Array || len(item.items) != 2 {
			return fmt.Errorf("point %d is not a pair of vacuum and flow: write it as in %s", i+1, example)
		}
		vac, err := item.items[0].exact(unit.PressureDim)
		if err == nil && vac.Value != 0 {
			err = vacuum(vac)
		}
		if err != nil {
			return &pointError{item.items[0].at, i + 1, err}
		}
		flow, err := item.items[1].exact(unit.FlowDim)
		if err == nil {
			err = from(0, 2./60, "2000 L/min")(flow)
		}
		if err != nil {
			return &pointError{item.items[1].at, i + 1, err}
		}
		if i > 0 && vac.Value <= float64(curve[i-1].Vacuum) {
			return &pointError{item.items[0].at, i + 1, fmt.Errorf("the vacuum %s is not deeper than that of the point before: sort the points by rising vacuum", vac)}
		}
		if i > 0 && flow.Value > curve[i-1].Flow {
			return &pointError{item.items[1].at, i + 1, fmt.Errorf("the flow %s is more than at the point before, but a pump moves less as the vacuum deepens: check both points", flow)}
		}
		curve = append(curve, rig.PumpPoint{Vacuum: unit.Vacuum(vac.Value), Flow: flow.Value})
	}
	if curve[0].Flow == 0 {
		return fmt.Errorf("all its flows are zero: the first point is the flow with no vacuum")
	}
	r.Pump.Curve = curve
	return nil
}

// pointError is a fault inside a list, at its own place.
type pointError struct {
	at    place
	point int
	err   error
}

func (e *pointError) Error() string { return fmt.Sprintf("point %d: %v", e.point, e.err) }
func (e *pointError) Unwrap() error { return e.err }

// setSpan takes the scale of a gauge. A scale marked below the room as
// negative figures (-101..0 kPa; EN 837-1 has -1..0 bar, and -1..3 bar for
// compound gauges) is turned round to vacuum: 0..101 kPa, -3..1 bar.
func setSpan(r *rig.Rig, v value) error {
	text, err := v.string()
	if err != nil {
		return fmt.Errorf("%w: write it as \"0..100 kPa\"", err)
	}
	span, err := unit.ParseRange(text, unit.PressureDim)
	if err != nil {
		return err
	}
	low, high := span.Low, span.High
	if negativeBelowRoom(low, high) {
		low, high = 0-high, -low
	}
	if high-low > 1.5e6 {
		return fmt.Errorf("%q is %s wide: can a vacuum gauge have that? Check figures and unit", text,
			unit.Format(unit.Exactly(high-low), unit.PressureDim, "kPa", 3))
	}
	if high-low < 1e3 {
		return fmt.Errorf("%q is only %s wide: can a gauge with that show a pull? Check figures and unit", text,
			unit.Format(unit.Exactly(high-low), unit.PressureDim, "kPa", 3))
	}
	r.Gauge.Span = rig.Span{Low: low, High: high, Known: true}
	return nil
}

// negativeBelowRoom says whether a scale counts pressure below the room as
// negative figures: it ends at the room, or reaches further below zero than
// above, or goes higher than any vacuum.
func negativeBelowRoom(low, high float64) bool {
	return low < 0 && (high <= 0 || -low > high || high > deepestVacuum)
}

func getSpan(r rig.Rig) string {
	s := r.Gauge.Span
	if !s.Known {
		return ""
	}
	low, high := s.Low, s.High
	if negativeBelowRoom(low, high) {
		low, high = 0-high, -low
	}
	in := "kPa"
	for _, x := range []float64{low, high} {
		if strings.HasSuffix(figure(unit.Exactly(x), unit.PressureDim, in), " Pa") {
			in = "Pa"
		}
	}
	return quote(unit.Range{Low: low, High: high, Dim: unit.PressureDim, Unit: in}.String())
}

// setAccuracy takes a share of the span at once; a pressure waits for the span
// (see finishAccuracy).
func setAccuracy(r *rig.Rig, v value) error {
	q, err := accuracyOf(v)
	if err != nil {
		return err
	}
	if q.Dim == unit.RatioDim {
		r.Gauge.Accuracy = q.Measured
		return checkAccuracy(q.Value)
	}
	if q.Value <= 0 {
		return fmt.Errorf("%s is not above zero: check sign and figure", q)
	}
	return nil
}

func accuracyOf(v value) (unit.Quantity, error) {
	q, err := v.exact(unit.RatioDim)
	if wrong, ok := err.(*unit.WrongUnitError); ok && wrong.Is == unit.PressureDim {
		return v.exact(unit.PressureDim)
	}
	if err != nil {
		err = fmt.Errorf("%w (it is in %% of the span, or a pressure)", err)
	}
	return q, err
}

func checkAccuracy(share float64) error {
	if share <= 0 || share > 0.2 {
		return fmt.Errorf("%s of the span: can a gauge be like that? It is above zero and at most 20 %%; check figure and unit",
			unit.Format(unit.Exactly(share), unit.RatioDim, "%", 3))
	}
	return nil
}

// finishAccuracy turns an accuracy given as a pressure into a share of the
// span, once the span is known.
func finishAccuracy(r *rig.Rig, v value) error {
	q, err := accuracyOf(v)
	if err != nil || q.Dim != unit.PressureDim {
		return nil // said or done already
	}
	if !r.Gauge.Span.Known {
		return fmt.Errorf("%s is a pressure, which needs the gauge's span to be a share of it: give span, such as \"0..100 kPa\", or the accuracy in %% of span", q)
	}
	share := q.Value / r.Gauge.Span.Width()
	if err := checkAccuracy(share); err != nil {
		return err
	}
	r.Gauge.Accuracy = unit.Exactly(share)
	return nil
}

func getAccuracy(r rig.Rig) string {
	if !r.Gauge.Accuracy.Known {
		return ""
	}
	return quote(unit.Quantity{Measured: unit.Exactly(r.Gauge.Accuracy.Value), Dim: unit.RatioDim, Unit: "%"}.String())
}

// classes are the accuracy classes of EN 837-1:1996, clause 6.
var classes = []float64{0.1, 0.25, 0.6, 1, 1.6, 2.5, 4}

// setClass takes an accuracy class, a figure that has no unit, with or without
// quotes.
func setClass(r *rig.Rig, v value) error {
	if v.kind != unstable.String && v.kind != unstable.Integer && v.kind != unstable.Float {
		return fmt.Errorf("it must be a class such as \"1.6\", but is %s", kindName(v.kind))
	}
	q, err := unit.ParseIn(v.text, unit.RatioDim, "1")
	if err != nil {
		return err
	}
	if q.Unit == "1" && q.Spread == 0 {
		for _, c := range classes {
			if q.Value == c {
				r.Gauge.Class = c
				return nil
			}
		}
	}
	return fmt.Errorf("%q is not an accuracy class of EN 837-1 (0.1, 0.25, 0.6, 1, 1.6, 2.5, 4): for another gauge give accuracy in %% of span", v.text)
}

func getClass(r rig.Rig) string {
	if r.Gauge.Class == 0 {
		return ""
	}
	return quote(unit.Significant(r.Gauge.Class, 0))
}

func getCurve(r rig.Rig) string {
	if len(r.Pump.Curve) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("[")
	for i, p := range r.Pump.Curve {
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "[%s, %s]", quote(figure(unit.Exactly(float64(p.Vacuum)), unit.PressureDim, "kPa")),
			quote(figure(unit.Exactly(p.Flow), unit.FlowDim, "L/min")))
	}
	b.WriteString("]")
	return b.String()
}

// figure prints a figure with all its digits in a unit, or in the SI unit if
// it would not read back to the last bit from that. Empty if not known.
func figure(m unit.Measured, dim unit.Dimension, in string) string {
	if !m.Known || math.IsNaN(m.Value) || math.IsNaN(m.Spread) {
		return ""
	}
	text := unit.Format(m, dim, in, 0)
	if q, err := unit.Parse(text, dim); err == nil && q.Measured == m {
		return text
	}
	return unit.Format(m, dim, dim.SIUnit(), 0)
}

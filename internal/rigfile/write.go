package rigfile

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"reflect"
	"strings"

	"seatproof/rig"
)

// Write writes a rig as a rig file that [Read] reads back to the same rig: all
// figures to the last bit, but the gauge's accuracy and its line's slope, which a file
// gives in %, to the last rounding (1e-14 of itself at most). A rig that no file can hold (a
// negative volume, an accuracy and a class at once, a figure that is not
// finite, a span that the rule for negative scales would turn round) is an error, and nothing is written.
func Write(w io.Writer, r rig.Rig) error {
	text := encode(r)
	back, err := Read(bytes.NewReader(text), "to be written")
	if err != nil {
		return fmt.Errorf("write rig file: %w", err)
	}
	if !same(back, r) {
		return fmt.Errorf("write rig file: a rig file can't hold this rig: it would read back as\n%s", encode(back))
	}
	if _, err := w.Write(text); err != nil {
		return fmt.Errorf("write rig file: %w", err)
	}
	return nil
}

func encode(r rig.Rig) []byte {
	var b bytes.Buffer
	in := ""
	for _, f := range fields {
		text := f.get(r)
		if text == "" {
			continue
		}
		table, word, ok := strings.Cut(f.key, ".")
		if !ok {
			table, word = "", f.key
		}
		if table != in {
			if b.Len() > 0 {
				b.WriteString("\n")
			}
			b.WriteString("[" + table + "]\n")
			in = table
		}
		b.WriteString(word + " = " + text + "\n")
	}
	return b.Bytes()
}

// same compares two rigs as [Write] promises.
func same(a, b rig.Rig) bool {
	near := func(x *float64, y, tol float64) {
		if math.Abs(*x-y) <= tol*math.Abs(y) {
			*x = y
		}
	}
	near(&a.Gauge.Accuracy.Value, b.Gauge.Accuracy.Value, 3e-16)
	if l, m := a.Gauge.Line, b.Gauge.Line; l != nil && m != nil {
		c := *l
		near(&c.Slope.Value, m.Slope.Value, 1e-14)
		near(&c.Slope.Spread, m.Slope.Spread, 1e-14)
		a.Gauge.Line = &c
	}
	if len(a.Pump.Curve) == 0 && len(b.Pump.Curve) == 0 {
		a.Pump.Curve, b.Pump.Curve = nil, nil
	}
	return reflect.DeepEqual(a, b)
}

// quoteKnown quotes a text, leaving none out.
func quoteKnown(s string) string {
	if s == "" {
		return ""
	}
	return quote(s)
}

// quote makes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range s {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c < ' ' || c == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, c)
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}

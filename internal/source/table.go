package source

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// beyond is how far past either end of a table a figure is still believed, as
// a share of the table's length: a sensor at rest scatters about its zero.
const beyond = 0.05

// Table says at which pressure a sensor puts out how much: two points of its
// data sheet, or more of a calibration. Between the points it is a straight
// line; beyond them it goes on for a twentieth of its length and no further.
type Table struct {
	Raw string // unit of what the sensor puts out: V, mV, mA, counts; "" none said
	x   []float64
	p   []float64 // Pa, in the order of x, all rising or all falling
}

// ParseTable reads "0.5 V = 0 kPa; 4.5 V = -100 kPa". What the pressures mean is
// found from the words abs, vacuum or gauge behind a unit, or else from a
// negative figure, which is gauge; "" where neither says it.
func ParseTable(text string) (*Table, Reads, error) {
	t := &Table{}
	var reads Reads
	negative := false
	type point struct{ x, p float64 }
	var points []point
	for i, part := range strings.Split(text, ";") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		left, right, ok := strings.Cut(part, "=")
		if !ok {
			return nil, "", fmt.Errorf("entry %d, %q, has no equals sign", i+1, part)
		}
		x, raw, err := rawFigure(left)
		if err != nil {
			return nil, "", fmt.Errorf("entry %d: %w", i+1, err)
		}
		if len(points) > 0 && !strings.EqualFold(raw, t.Raw) {
			return nil, "", fmt.Errorf("entry %d is in %q, the ones before in %q: write all in one", i+1, raw, t.Raw)
		}
		t.Raw = raw
		p, says, err := pressureFigure(right)
		if err != nil {
			return nil, "", fmt.Errorf("entry %d: %w", i+1, err)
		}
		if says != "" && reads != "" && says != reads {
			return nil, "", fmt.Errorf("entry %d is %s, one before is %s", i+1, says, reads)
		}
		if says != "" {
			reads = says
		}
		negative = negative || p < 0
		points = append(points, point{x, p})
	}
	if len(points) < 2 {
		return nil, "", errors.New("it has fewer than two points")
	}
	if negative && (reads == ReadsVacuum || reads == ReadsAbsolute) && slices.ContainsFunc(points, func(a point) bool { return a.p < -5e3 }) {
		return nil, "", fmt.Errorf("a pressure is negative, which no %s is", reads)
	}
	if negative && reads == "" {
		reads = ReadsGauge
	}
	slices.SortFunc(points, func(a, b point) int {
		switch {
		case a.x < b.x:
			return -1
		case a.x > b.x:
			return 1
		}
		return 0
	})
	rises := points[len(points)-1].p > points[0].p
	for i, q := range points {
		if i > 0 {
			before := points[i-1]
			if q.x == before.x {
				return nil, "", fmt.Errorf("%s %s is given twice", plain(q.x), t.Raw)
			}
			if q.p == before.p || (q.p > before.p) != rises {
				return nil, "", fmt.Errorf("between %s and %s %s the pressure turns or stands still: it must only rise or only fall", plain(before.x), plain(q.x), t.Raw)
			}
		}
		t.x, t.p = append(t.x, q.x), append(t.p, q.p)
	}
	return t, reads, nil
}

// Pascal returns the pressure [Pa, as the table has it] at the sensor's figure
// x. The error is an *[OutOfRangeError].
func (t *Table) Pascal(x float64) (float64, error) {
	n := len(t.x)
	more := beyond * (t.x[n-1] - t.x[0])
	if !(x >= t.x[0]-more && x <= t.x[n-1]+more) {
		return 0, &OutOfRangeError{fmt.Sprintf("%s %s is beyond the table, which goes from %s to %s: is the sensor wired and supplied?", plain(x), t.Raw, plain(t.x[0]), plain(t.x[n-1]))}
	}
	i, _ := slices.BinarySearch(t.x, x)
	i = min(max(i, 1), n-1)
	return t.p[i-1] + (x-t.x[i-1])*(t.p[i]-t.p[i-1])/(t.x[i]-t.x[i-1]), nil
}

// slope returns the mean change of pressure a unit of the sensor's figure.
func (t *Table) slope() float64 {
	n := len(t.x) - 1
	return (t.p[n] - t.p[0]) / (t.x[n] - t.x[0])
}

func plain(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

// rawFigure reads "0.5 V", "812", "4 mA": what the unit is called does not
// matter, only that it is the same throughout.
func rawFigure(text string) (float64, string, error) {
	text = strings.TrimSpace(text)
	end := 0
	for end < len(text) && strings.IndexByte("+-0123456789.,eE", text[end]) >= 0 {
		end++
	}
	for end > 0 && (text[end-1] == 'e' || text[end-1] == 'E') {
		end--
	}
	x, err := strconv.ParseFloat(strings.ReplaceAll(text[:end], ",", "."), 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, "", fmt.Errorf("%q is no figure of a sensor, as in 0.5 V", text)
	}
	return x, strings.TrimSpace(text[end:]), nil
}

// pressureFigure reads "-100 kPa", "20 kPa abs", "14.7 psia".
func pressureFigure(text string) (float64, Reads, error) {
	x, name, err := rawFigure(text)
	if err != nil {
		return 0, "", fmt.Errorf("%q is no pressure, as in -100 kPa", strings.TrimSpace(text))
	}
	if name == "" {
		return 0, "", fmt.Errorf("%q has no unit of pressure", strings.TrimSpace(text))
	}
	u, reads, err := unitOf(name)
	if err != nil {
		return 0, "", err
	}
	return u.ToSI(x), reads, nil
}

package report

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func numbers(t *testing.T, svg, pattern string) (out []float64) {
	t.Helper()
	for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(svg, -1) {
		x, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, x)
	}
	return out
}

// The chart of the NIST/SEMATECH e-Handbook, 6.3.2.2: ten flow rates, mean 50.81,
// mean moving range 1.8778, limits 55.8041 and 45.8159. The figures stand in for
// kilopascals here; a pull beyond the upper limit is marked and named.
func TestIndividualsChart(t *testing.T) {
	c := Individuals{Mean: 50.81e3, Upper: 55.8041e3, Lower: 45.8159e3, Out: []int{10}}
	for _, v := range []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1, 58} {
		c.Values = append(c.Values, v*1e3)
	}
	for _, width := range []float64{340, 540} {
		svg := IndividualsChart(c, Style{Unit: KPa}, width)
		if n := strings.Count(svg, `class="mark"`); n != 10 {
			t.Errorf("%g px: %d marks within the limits, want 10", width, n)
		}
		if n := strings.Count(svg, `class="bar"`); n != 1 || !strings.Contains(svg, ">outside<") {
			t.Errorf("%g px: %d marks outside the limits, want 1 with its word", width, n)
		}
		limits := numbers(t, svg, `class="limit" d="M[\d.]+ ([\d.]+)L`)
		marks := numbers(t, svg, `class="mark" cx="[\d.]+" cy="([\d.]+)"`)
		if len(limits) != 2 || !(limits[0] < limits[1]) {
			t.Fatalf("%g px: limits at %v, upper first", width, limits)
		}
		for i, y := range marks {
			if y < limits[0] || y > limits[1] {
				t.Errorf("%g px: mark %d at %g px lies outside %v", width, i, y, limits)
			}
		}
		// the scale is linear: 49.6 and 47.6 are two kPa apart, the limits 9.9882
		if got, want := (marks[1]-marks[0])/(limits[1]-limits[0]), 2/9.9882; math.Abs(got-want) > 0.005 {
			t.Errorf("%g px: two kPa are %g of the limits, want %g", width, got, want)
		}
	}
	if svg := IndividualsChart(Individuals{}, Style{}, 340); svg != "" {
		t.Errorf("a chart of nothing: %s", svg)
	}
	one := IndividualsChart(Individuals{Values: []float64{70e3}, Mean: 70e3, Lower: 70e3, Upper: 70e3}, Style{}, 340)
	if strings.Contains(one, "limit") && strings.Contains(one, "NaN") || !strings.Contains(one, `class="mark"`) {
		t.Errorf("a chart of one pull: %s", one)
	}
}

// Bars are drawn to a logarithmic scale: an interval of 10 to 20 is as long as one
// of 100 to 200, and one that shrank is shorter.
func TestShrinkChart(t *testing.T) {
	svg := ShrinkChart([]Shrink{
		{Name: "cylinder 1 intake", Before: [2]float64{10, 40}, Now: [2]float64{10, 20}, Limit: 23, Words: "10 to 40, now 10 to 20"},
		{Name: "cylinder 2 <b>", Before: [2]float64{50, 400}, Now: [2]float64{100, 200}, Limit: 23},
		{Name: "tight", Now: [2]float64{0, 5}, UpTo: [2]bool{false, true}},
	}, 540)
	bars := numbers(t, svg, `class="bar" x="[\d.]+" y="[\d.]+" width="([\d.]+)"`)
	if len(bars) != 3 || math.Abs(bars[0]-bars[1]) > 0.1 {
		t.Fatalf("bars of %v px: 10 to 20 and 100 to 200 are as long as each other", bars)
	}
	if n := strings.Count(svg, `class="axis two"`); n != 2 {
		t.Errorf("%d intervals of before, want 2", n)
	}
	if strings.Contains(svg, "<b>") || strings.Contains(svg, "NaN") {
		t.Errorf("a name is not escaped, or a figure is none: %s", svg)
	}
	if ShrinkChart(nil, 340) != "" {
		t.Error("a drawing of nothing")
	}
}

// Points stand where they are, and the zero line is drawn where it is asked for.
func TestCurveChart(t *testing.T) {
	c := Curve{Name: "error", XName: "x", YName: "y", Zero: true, Points: []Cross{{X: 0, Y: 0.1}, {X: 10, Y: 0.3}}, Line: []Cross{{X: 0, Y: 0.1, SpreadY: 0.05}, {X: 10, Y: 0.3, SpreadY: 0.05}}}
	svg := CurveChart(c, 340)
	if strings.Count(svg, `class="mark"`) != 2 || strings.Count(svg, `class="fit"`) != 1 || strings.Count(svg, `class="band"`) != 1 || strings.Contains(svg, "NaN") {
		t.Errorf("two points, a line and its band: %s", svg)
	}
	if CurveChart(Curve{}, 340) != "" {
		t.Error("a drawing of nothing")
	}
}

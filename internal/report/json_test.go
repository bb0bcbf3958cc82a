package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"seatproof/leak"
)

// What is not a number is null, wherever it comes from, and the JSON stays
// JSON.
func TestJSONNeverNaN(t *testing.T) {
	o := invented("p", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)
	nan, inf := math.NaN(), math.Inf(1)
	bad := leak.Interval{Median: nan, Low: math.Inf(-1), High: inf}
	r := o.Reading
	r.Leak, r.TestedAgain, r.Share, r.Edge, r.NozzleDiameter, r.Gap, r.FallRate, r.Blanked = &bad, &bad, &bad, &bad, &bad, &bad, &bad, &bad
	r.Steady.Vacuum, r.Steady.Flow = bad, &bad
	r.Budget[0].Share = nan
	o.Over = &nan
	var b bytes.Buffer
	if err := WriteJSON(&b, []*Outcome{o}, "1"); err != nil {
		t.Fatal(err)
	}
	var v map[string]any
	if err := json.Unmarshal(b.Bytes(), &v); err != nil {
		t.Fatalf("not JSON: %v\n%s", err, b.String())
	}
	if s := b.String(); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
		t.Errorf("figures that are none: %s", s)
	}
	if v["blanked_kpa"] != nil || v["over_limit_probability"] != nil {
		t.Errorf("blanked_kpa %v, over_limit_probability %v: want null", v["blanked_kpa"], v["over_limit_probability"])
	}
}

// Figures are in the unit their name says.
func TestJSONUnits(t *testing.T) {
	o := invented("p", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)
	o.Reading.Gap = &leak.Interval{Median: 2.1e-6, Low: 2e-6, High: 2.2e-6}
	var b bytes.Buffer
	if err := WriteJSON(&b, []*Outcome{o}, "1"); err != nil {
		t.Fatal(err)
	}
	var v struct {
		Leak struct {
			Flow struct{ Median float64 } `json:"flow_cm3_min"`
		}
		Gap    struct{ High float64 } `json:"gap_um"`
		Steady struct {
			Vacuum float64 `json:"vacuum_kpa"`
		}
		Blanked float64               `json:"blanked_kpa"`
		Fall    struct{ Low float64 } `json:"fall_kpa_s"`
		Nozzle  struct{ Low float64 } `json:"nozzle_diameter_mm"`
	}
	if err := json.Unmarshal(b.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"flow", v.Leak.Flow.Median, 9.6}, {"gap", v.Gap.High, 2.2}, {"steady", v.Steady.Vacuum, 76},
		{"blanked", v.Blanked, 78}, {"fall", v.Fall.Low, 0.096}, {"nozzle", v.Nozzle.Low, 30e-3 * math.Sqrt(9.6)},
	} {
		if math.Abs(c.got/c.want-1) > 1e-5 {
			t.Errorf("%s = %v, want %v", c.name, c.got, c.want)
		}
	}
}

// One outcome is an object; none or several are an array.
func TestJSONForms(t *testing.T) {
	for n, want := range map[int]string{0: "[]", 1: "{", 2: "["} {
		var b bytes.Buffer
		if err := WriteJSON(&b, inventedHead()[:n], "1"); err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(b.String(), want) {
			t.Errorf("%d outcomes begin with %.10q, want %q", n, b.String(), want)
		}
	}
}

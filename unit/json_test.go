package unit

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func TestMeasuredJSON(t *testing.T) {
	for _, c := range []struct {
		m    Measured
		text string
	}{
		{Measured{}, `null`},
		{Measured{Value: 7}, `null`}, // not known: the value means nothing
		{Exactly(0.072), `{"value":0.072,"spread":0}`},
		{About(95e-6, 6e-6), `{"value":0.000095,"spread":0.000006}`},
		{Exactly(0), `{"value":0,"spread":0}`},
		{Exactly(-2.5), `{"value":-2.5,"spread":0}`},
	} {
		b, err := json.Marshal(c.m)
		if err != nil || string(b) != c.text {
			t.Errorf("%+v: wrote %s, %v, want %s", c.m, b, err, c.text)
		}
		got := About(1, 1) // must be overwritten, by null too
		if err := json.Unmarshal([]byte(c.text), &got); err != nil {
			t.Errorf("%s: %v", c.text, err)
		}
		want := c.m
		if !want.Known {
			want = Measured{}
		}
		if got != want {
			t.Errorf("%s: read %+v, want %+v", c.text, got, want)
		}
	}
}

// Every finite figure comes back bit by bit.
func TestMeasuredJSONIsExact(t *testing.T) {
	for _, v := range []float64{math.Pi, 1.0 / 3, 5e-324, math.MaxFloat64, 3.8333333333333334e-7} {
		m := About(v, math.Abs(v)/7)
		b, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		var got Measured
		if err := json.Unmarshal(b, &got); err != nil || got != m {
			t.Errorf("%v came back as %v, %v", m, got, err)
		}
	}
}

func TestMeasuredJSONErrors(t *testing.T) {
	for _, m := range []Measured{Exactly(math.NaN()), Exactly(math.Inf(1)), About(1, math.Inf(1))} {
		if _, err := json.Marshal(m); err == nil {
			t.Errorf("%+v was written", m)
		}
	}
	for text, part := range map[string]string{
		`{"spread":1}`:            "no value",
		`{"value":1,"spread":-1}`: "negative",
		`{"value":1,"unit":"mm"}`: "unit",
		`72`:                      "read figure",
		`"72 mm"`:                 "read figure",
	} {
		var m Measured
		if err := json.Unmarshal([]byte(text), &m); err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("%s: error %v, want one with %q", text, err, part)
		}
	}
}

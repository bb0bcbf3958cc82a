package trace

import "testing"

func TestParseHeading(t *testing.T) {
	for _, c := range []struct {
		name, unit string
		form       Form
		time       bool
	}{
		{"vacuum (kPa)", "kPa", SaysVacuum, false},
		{"p_bar_gauge", "bar", SaysGauge, false},
		{"Pressure abs [mbar]", "mbar", SaysAbsolute, false},
		{"t_ms", "ms", SaysNothing, true},
		{"ch1", "", SaysNothing, false},
	} {
		h := ParseHeading(c.name)
		if h.Unit.Name != c.unit || h.Form != c.form || h.Time != c.time || h.HasUnit != (c.unit != "") {
			t.Errorf("%q: got %+v", c.name, h)
		}
	}
}

func TestParseStamp(t *testing.T) {
	s, period, next := ParseStamp([]byte("12:00:03.250;78"), 0)
	if s != 12*3600+3.25 || period != 86400 || next != 12 {
		t.Error("got", s, period, next)
	}
	// 2026-05-04 is day 20577 since 1970-01-01 (date -d 2026-05-04 +%s, divided by 86,400)
	s, period, _ = ParseStamp([]byte("2026-05-04T00:00:01Z"), 0)
	if s != 20577*86400+1 || period != 0 {
		t.Error("got", s, period)
	}
}

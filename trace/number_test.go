package trace

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Figures come out as the standard library's strconv.ParseFloat, which rounds
// correctly, has them, bit by bit.
func TestNumberAgainstStrconv(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	texts := []string{"0", "-0", "+1", ".5", "5.", "1e5", "1E-5", "-1.25e+3", "9007199254740993", "0.1", "123456789012345678901234567890", "1e-300", "4.9e-324", "1e22", "1e23", "00012.50"}
	for range 20_000 {
		x := (r.Float64() - 0.5) * math.Pow(10, float64(r.IntN(24)-8))
		texts = append(texts, strconv.FormatFloat(x, "feg"[r.IntN(3)], r.IntN(18), 64))
	}
	quick := 0
	for _, s := range texts {
		want, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got, _, next := number([]byte(s), 0, '.'); next == len(s) {
			quick++
			if got != want {
				t.Errorf("%s: got %v, want %v the quick way", s, got, want)
			}
		}
		for _, cell := range []string{s, " " + strings.Replace(s, ".", ",", 1) + "\t"} {
			got, _, mark, kind := figure([]byte(cell))
			if kind != isFigure || got != want {
				t.Errorf("%q: got %v (%v), want %v", cell, got, kind, want)
			}
			if has := strings.ContainsAny(cell, ".,"); has != (mark != 0) {
				t.Errorf("%q: got mark %q", cell, mark)
			}
		}
	}
	if quick < len(texts)/2 {
		t.Errorf("only %d of %d figures went the quick way", quick, len(texts))
	}
}

func TestNumberDecimals(t *testing.T) {
	for s, want := range map[string]int{"78": 0, "78.35": 2, "-0.050": 3, "7.835e1": 2, "7.8e4": -3, "1e-3": 3} {
		if _, got, next := number([]byte(s), 0, '.'); got != want || next != len(s) {
			t.Errorf("%s: got %d decimals up to %d, want %d", s, got, next, want)
		}
	}
}

func TestFigureKinds(t *testing.T) {
	for s, want := range map[string]figureKind{
		"": isMissing, "  ": isMissing, "-": isMissing, "---": isMissing, "null": isMissing, "N/A": isMissing,
		"NaN": isNotFinite, "-inf": isNotFinite, "+Infinity": isNotFinite, "1.#IND": isNotFinite,
		"1,234.5": isTwoMarks, "1.234,5": isTwoMarks,
		"over": isText, "1.2.3": isText, "1e": isText, "0x1p-2": isText, "1_000": isText, "1e999": isText, "7-8": isText, "12 000": isText,
		"\u22125.5": isFigure,
	} {
		if _, _, _, got := figure([]byte(s)); got != want {
			t.Errorf("%q: got kind %d, want %d", s, got, want)
		}
	}
}

// Stamps come out as the standard library's package time has them.
func TestStampsAgainstTime(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	layouts := []string{
		time.RFC3339Nano, "2006-01-02 15:04:05.000", "2006-01-02T15:04:05.000000Z07:00", "2006/01/02 15:04:05", "2006-01-02 15:04:05,000Z0700", "2006-01-02 15:04:05 UTC",
	}
	for range 2000 {
		at := time.Date(1900+r.IntN(300), time.Month(1+r.IntN(12)), 1+r.IntN(31), r.IntN(24), r.IntN(60), r.IntN(60), r.IntN(1e9), time.UTC)
		for _, layout := range layouts {
			in := at
			if strings.Contains(layout, "07") {
				in = at.In(time.FixedZone("", (r.IntN(27)-12)*3600+r.IntN(4)*900))
			}
			text := in.Format(layout)
			want, err := time.Parse(layout, text)
			if err != nil {
				t.Fatal(err)
			}
			s, ok := wholeStamp([]byte(text))
			got := float64(s.day)*86400 + s.seconds
			if exact := float64(want.UnixNano()) / 1e9; !ok || s.form != datedStamp || math.Abs(got-exact) > 2e-6 {
				t.Fatalf("%q: got %v, %v, want %v", text, got, ok, exact)
			}
		}
	}
}

func TestStamps(t *testing.T) {
	for _, c := range []struct {
		text    string
		form    stampForm
		seconds float64
	}{
		{"12:00:01", clockStamp, 43201},
		{"1:02:03.5", clockStamp, 3723.5},
		{"12:00:01:250", clockStamp, 43201.25},
		{"12:00:01,250", clockStamp, 43201.25},
		{"04.05.2026 12:00:01", clockStamp, 43201},
		{"5/4/26 12:00:01 AM", clockStamp, 1},
		{"5/4/2026 1:00:01 pm", clockStamp, 46801},
		{"12:00:01 PM", clockStamp, 43201},
		{"26:00:00", clockStamp, 93600},
		{"59:59.9", minuteStamp, 3599.9},
		{"12:00", noStamp, 0},
		{"12:60:00", noStamp, 0},
		{"12:00:61", noStamp, 0},
		{"2026-13-01T00:00:00Z", noStamp, 0},
		{"2026-05-04", noStamp, 0},
		{"2026-05-04Tnoon", noStamp, 0},
		{"12.5", noStamp, 0},
		{"", noStamp, 0},
		{"12:00:01 x", noStamp, 0},
	} {
		s, ok := wholeStamp([]byte(c.text))
		if ok != (c.form != noStamp) || ok && (s.form != c.form || math.Abs(s.seconds-c.seconds) > 1e-9) {
			t.Errorf("%q: got %+v, %v, want form %d, %v s", c.text, s, ok, c.form, c.seconds)
		}
	}
}

func TestParseColumn(t *testing.T) {
	for _, c := range []struct {
		name string
		unit string // "" for none
		form form
		time bool
	}{
		{"time (s)", "s", formUnclear, true},
		{"t_ms", "ms", formUnclear, true},
		{"Time [s]", "s", formUnclear, true},
		{"ELAPSED TIME (MIN)", "min", formUnclear, true},
		{"seconds", "s", formUnclear, true},
		{"timestamp_ms", "ms", formUnclear, true},
		{"Time (hh:mm:ss.fff)", "", formUnclear, true},
		{"vacuum (kPa)", "kPa", formVacuum, false},
		{"vacuum_inHg", "inHg", formVacuum, false},
		{"VACUUM_INHG", "inHg", formVacuum, false},
		{"vacuum_in_hg", "inHg", formVacuum, false},
		{"vacuum min (kPa)", "kPa", formVacuum, false},
		{"Vacuum [in. Hg]", "inHg", formVacuum, false},
		{"gauge (kPa)", "kPa", formGauge, false},
		{"vacuum gauge (kPa)", "kPa", formVacuum, false},
		{"Pressure abs [mbar]", "mbar", formAbsolute, false},
		{"absolute vacuum [mbar]", "mbar", formAbsolute, false},
		{"pressure [mbar abs]", "mbar", formAbsolute, false},
		{"pressure (abs) [mbar]", "mbar", formAbsolute, false},
		{"p_bar_abs", "bar", formAbsolute, false},
		{"p_bar_gauge", "bar", formGauge, false},
		{"p (psig)", "psi", formGauge, false},
		{"p [psia]", "psi", formAbsolute, false},
		{"p (mbar(a))", "mbar", formAbsolute, false},
		{"p bar(g)", "bar", formGauge, false},
		{"pressure_hPa", "hPa", formUnclear, false},
		{"kPa vacuum", "kPa", formVacuum, false},
		{"ch1 (MPa)", "MPa", formUnclear, false},
		{"temp_C", "°C", formUnclear, false},
		{"vacuum", "", formVacuum, false},
		{"pressure (furlong)", "", formUnclear, false},
	} {
		got := parseColumn(c.name)
		if got.unit.Name != c.unit || got.form != c.form || got.time != c.time {
			t.Errorf("%q: got unit %q, form %d, time %v; want %q, %d, %v", c.name, got.unit.Name, got.form, got.time, c.unit, c.form, c.time)
		}
	}
}

// The quick way gives what the careful one gives, or leaves the row to it.
func TestQuickAgreesWithCareful(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	pieces := []string{"1", "2.5", "-3", "0,5", "", " ", "\"1\"", "x", "1e3", "12:00:01.5", "2026-05-04 12:00:00", "NaN", "7 8", "\t", "+", ".", "9."}
	for _, delim := range []byte{',', ';', '\t', blanks} {
		for _, stamps := range []bool{false, true} {
			agreed := 0
			for range 20_000 {
				var line []byte
				for k := range 1 + r.IntN(4) {
					if k > 0 {
						line = append(line, delim)
					}
					line = append(line, pieces[r.IntN(len(pieces))]...)
				}
				l := layout{delim: delim, dec: '.', decCertain: true, cells: 3, tcol: r.IntN(2), ccol: -1, stamps: stamps, columns: make([]column, 3)}
				l.vcol = l.tcol + 1
				if delim == blanks && stamps {
					l.tcol, l.vcol = 0, 1
				}
				careful := l
				tq, vq, ok := l.quick(line)
				if !ok {
					continue
				}
				agreed++
				cells := split(nil, trimLine(line), delim)
				f := careful.checkCount(cells)
				var tc, vc float64
				if f.why == "" {
					tc, vc, _, f = careful.row(cells)
				}
				if f.why != "" || tc != tq || vc != vq {
					t.Fatalf("%q at %d, %d: got %v, %v; carefully %v, %v, %s", line, l.tcol, l.vcol, tq, vq, tc, vc, f.why)
				}
			}
			if agreed < 50 {
				t.Errorf("delimiter %q, stamps %v: only %d rows went the quick way", delim, stamps, agreed)
			}
		}
	}
}

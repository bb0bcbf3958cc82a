package source

import (
	"errors"
	"math"
	"strings"
	"testing"

	"seatproof/trace"

	"pgregory.net/rapid"
)

func scaleOf(t *testing.T, options string) (Scale, error) {
	t.Helper()
	a, err := ParseAddress("test:x#" + options)
	if err != nil {
		t.Fatal(err)
	}
	return ScaleOf(a, Scale{})
}

// Factors of units: NIST SP 811 (2008), B.8: 1 inHg (conventional) is
// 3386.389 Pa, 1 mmHg 133.3224 Pa.
func TestScale(t *testing.T) {
	for _, c := range []struct {
		options string
		x, want float64
		kind    trace.Kind
		fault   string
	}{
		{options: "unit=kPa,reads=vacuum", x: 78.3, want: 78300, kind: trace.Vacuum},
		{options: "unit=kPa,reads=gauge", x: -78.3, want: 78300, kind: trace.Vacuum},
		{options: "unit=mbar,reads=absolute", x: 1013.25, want: 101325, kind: trace.Absolute},
		{options: "unit=inHg,reads=vacuum", x: 1, want: 3386.389, kind: trace.Vacuum},
		{options: "unit=mmHg,reads=vacuum", x: 1, want: 133.3224, kind: trace.Vacuum},
		{options: "unit=psia", x: 14.695949, want: 101325, kind: trace.Absolute},
		{options: "unit=barg", x: -0.5, want: 50000, kind: trace.Vacuum},
		{options: "table=0.5 V = 0 kPa; 4.5 V = -100 kPa", x: 2.5, want: 50000, kind: trace.Vacuum},
		{options: "table=0.5 V = 0 kPa; 4.5 V = -100 kPa", x: 4.6, want: 102500, kind: trace.Vacuum},
		{options: "table=0.5 V = 0 kPa; 4.5 V = -100 kPa", x: 0.4, want: -2500, kind: trace.Vacuum},
		{options: "table=102 = 20 kPa abs; 921 = 105 kPa abs", x: 921, want: 105000, kind: trace.Absolute},
		{options: "table=4 mA = 0 kPa; 20 mA = 100 kPa,reads=vacuum", x: 12, want: 50000, kind: trace.Vacuum},
		{options: "table=0 = 0 inHg vacuum; 500 = 10 inHg vacuum; 1000 = 30 inHg vacuum", x: 750, want: 20 * 3386.389, kind: trace.Vacuum},
		{options: "unit=kPa", fault: "nothing says what the figures mean"},
		{options: "reads=gauge", fault: "nothing says in which unit"},
		{options: "unit=furlong,reads=gauge", fault: "unit"},
		{options: "unit=mm,reads=gauge", fault: "unit of length"},
		{options: "unit=kPa,reads=deep", fault: "none of vacuum, gauge, absolute"},
		{options: "table=0.5 V = 0 kPa", fault: "fewer than two"},
		{options: "table=0.5 V 0 kPa; 4.5 V = -100 kPa", fault: "no equals sign"},
		{options: "table=0.5 V = 0 kPa; 4500 mV = -100 kPa", fault: "write all in one"},
		{options: "table=1 V = 0 kPa; 2 V = -50 kPa; 3 V = -40 kPa", fault: "only rise or only fall"},
		{options: "table=1 V = 0 kPa; 1 V = -50 kPa", fault: "given twice"},
		{options: "table=1 V = 0 kPa; 2 V = 50 kPa", fault: "nothing says what the figures mean"},
		{options: "table=1 V = 0; 2 V = 50 kPa", fault: "no unit of pressure"},
		{options: "table=1 V = 0 kPa abs; 2 V = -50 kPa gauge", fault: "one before is"},
		{options: "table=1 V = 0 kPa abs; 2 V = -50 kPa", fault: "negative"},
	} {
		t.Run(c.options, func(t *testing.T) {
			s, err := scaleOf(t, c.options)
			if c.fault != "" {
				var f *Fault
				if !errors.As(err, &f) || !strings.Contains(err.Error(), c.fault) {
					t.Fatalf("got %v, want a fault with %q", err, c.fault)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			got, err := s.Pascal(c.x)
			if err != nil || math.Abs(got-c.want) > 1e-6*math.Abs(c.want)+1e-6*1e3 || s.Kind() != c.kind {
				t.Errorf("%g gave %.8g Pa %s, %v; want %.8g %s", c.x, got, s.Kind(), err, c.want, c.kind)
			}
		})
	}
}

func TestScaleOutOfRange(t *testing.T) {
	for _, c := range []struct {
		options string
		x       float64
		what    string
	}{
		{"table=0.5 V = 0 kPa; 4.5 V = -100 kPa", 4.8, "beyond the table"},
		{"table=0.5 V = 0 kPa; 4.5 V = -100 kPa", 0.0, "beyond the table"}, // a wire off reads nothing
		{"table=0.5 V = 0 kPa; 4.5 V = -100 kPa", math.NaN(), "beyond the table"},
		{"unit=kPa,reads=vacuum", 587, "beyond what can be"}, // mmHg taken as kPa
		{"unit=kPa,reads=absolute", -20, "beyond what can be"},
		{"unit=kPa,reads=absolute", math.Inf(1), "not finite"},
	} {
		s, err := scaleOf(t, c.options)
		if err != nil {
			t.Fatal(err)
		}
		_, err = s.Pascal(c.x)
		var out *OutOfRangeError
		if !errors.As(err, &out) || !strings.Contains(err.Error(), c.what) {
			t.Errorf("%s: %g gave %v, want %q", c.options, c.x, err, c.what)
		}
	}
}

// A table goes through its points, and between two of them lies between their
// pressures.
func TestTableBetweenPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "n")
		var text []string
		var x, p []float64
		for i := range n {
			x = append(x, float64(i)+rapid.Float64Range(0.01, 0.99).Draw(t, "x"))
			p = append(p, -10*float64(i)-rapid.Float64Range(0.1, 9.9).Draw(t, "p"))
			text = append(text, plain(x[i])+" V = "+plain(p[i])+" kPa")
		}
		table, reads, err := ParseTable(strings.Join(text, "; "))
		if err != nil || reads != ReadsGauge {
			t.Fatal(reads, err)
		}
		for i := range n {
			if got, err := table.Pascal(table.x[i]); err != nil || math.Abs(got-table.p[i]) > 1e-6 {
				t.Fatalf("at point %d: %g, %v", i, got, err)
			}
			if i > 0 {
				got, err := table.Pascal((table.x[i] + table.x[i-1]) / 2)
				if err != nil || got < table.p[i] || got > table.p[i-1] {
					t.Fatalf("between %d and %d: %g, %v", i-1, i, got, err)
				}
			}
		}
	})
}

func FuzzParseTable(f *testing.F) {
	for _, s := range []string{"0.5 V = 0 kPa; 4.5 V = -100 kPa", "102 = 20 kPa abs; 921 = 105 kPa abs", "4 mA = 0 psi;20 mA=-14.7 psi", "1=2;3=4", "=;="} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		table, _, err := ParseTable(text)
		if err != nil {
			return
		}
		for i := range table.x {
			if p, err := table.Pascal(table.x[i]); err != nil || math.IsNaN(p) {
				t.Errorf("%q: at its own point %g: %g, %v", text, table.x[i], p, err)
			}
		}
	})
}

func TestDescribe(t *testing.T) {
	a, err := ParseAddress("tcp://h:1#unit=kPa,reads=gauge,resolution=0.1 kPa,accuracy=2 mbar,name=bench gauge")
	if err != nil {
		t.Fatal(err)
	}
	s, err := ScaleOf(a, Scale{})
	if err != nil {
		t.Fatal(err)
	}
	var about About
	if err := s.Describe(a, &about); err != nil {
		t.Fatal(err)
	}
	want := About{Kind: "tcp", Name: "bench gauge", Reads: trace.Vacuum, Unit: "kPa", Resolution: 100, Accuracy: 200}
	if about != want {
		t.Errorf("got %+v, want %+v", about, want)
	}
}

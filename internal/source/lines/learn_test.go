package lines

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"seatproof/internal/source"
)

// pull is a vacuum [kPa] that a pump pulls, as a device might write it:
// invented.
func pull(i int) float64 { return 78 * (1 - math.Exp(-float64(i)/12)) }

// rows makes n lines, 0.1 s apart.
func rows(n int, line func(i int) string) []Line {
	start := time.Now()
	var out []Line
	for i := range n {
		out = append(out, Line{At: start.Add(time.Duration(i) * 100 * time.Millisecond), Text: line(i)})
	}
	return out
}

func comma(s string) string { return strings.ReplaceAll(s, ".", ",") }

// formats are lines of invented devices, and how they are to be read: what the
// last of 40 lines says. All of them are tested by learning, and by reading
// with what was learned.
var formats = []struct {
	name  string
	head  []string
	line  func(i int) string
	value float64  // of the last line, as written
	unit  string   // "": must be asked
	reads string   // "": must be asked
	clock float64  // s of the last line; NaN: none
	ask   []string // "value" where more than one is offered
}{
	{name: "plain number", line: func(i int) string { return fmt.Sprintf("%.1f", pull(i)) }, value: 75.0, ask: []string{"unit", "reads"}},
	{name: "number and unit", line: func(i int) string { return fmt.Sprintf("%.1f kPa", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "number, unit to it", line: func(i int) string { return fmt.Sprintf("%.2finHg", -pull(i)/3.386) }, value: -22.14, unit: "inHg", reads: "gauge", ask: nil},
	{name: "name=value unit", line: func(i int) string { return fmt.Sprintf("vac=%.1f kPa", pull(i)) }, value: 75.0, unit: "kPa", reads: "vacuum"},
	{name: "name: value unit; others", line: func(i int) string {
		return fmt.Sprintf("T: %.1f C; P: %.1f mbar; V: %.2f V", 21.5, 1013-10*pull(i), 4.98)
	}, value: 263.2, unit: "mbar", ask: []string{"reads"}},
	{name: "name value unit by blanks", line: func(i int) string { return fmt.Sprintf("VAC %.1f kPa TEMP 21.%d C", pull(i), i%3) }, value: 75.0, unit: "kPa", reads: "vacuum"},
	{name: "two values, no names", line: func(i int) string { return fmt.Sprintf("%.1f %.1f", pull(i), 21.5+0.1*float64(i%3)) }, value: 75.0, ask: []string{"value", "unit", "reads"}},
	{name: "csv with header", head: []string{"time_ms,vacuum_kpa,temp_c"}, line: func(i int) string { return fmt.Sprintf("%d,%.2f,21.5", 1000+100*i, pull(i)) }, value: 74.98, unit: "kPa", reads: "vacuum", clock: 4.9},
	{name: "csv with header in a comment", head: []string{"# t (s); p abs (mbar)"}, line: func(i int) string { return fmt.Sprintf("%.1f; %.1f", 0.1*float64(i), 1013-10*pull(i)) }, value: 263.2, unit: "mbar", reads: "absolute", clock: 3.9},
	{name: "csv with a line of units", head: []string{"Time,Gauge,Temp", "ms,kPa,C"}, line: func(i int) string { return fmt.Sprintf("%d,%.2f,21.5", 100*i, -pull(i)) }, value: -74.98, unit: "kPa", reads: "gauge", clock: 3.9},
	{name: "time,value", line: func(i int) string { return fmt.Sprintf("%d,%.2f", 5000+100*i, pull(i)) }, value: 74.98, clock: 8.9, ask: []string{"unit", "reads"}},
	{name: "seconds and value by tab", line: func(i int) string { return fmt.Sprintf("%.3f\t%.2f kPa", 3+0.1*float64(i), -pull(i)) }, value: -74.98, unit: "kPa", reads: "gauge", clock: 6.9},
	{name: "micros and value", line: func(i int) string { return fmt.Sprintf("%d %.2f", 100000*i, pull(i)) }, value: 74.98, clock: 3.9, ask: []string{"unit", "reads"}},
	{name: "counter and value", line: func(i int) string { return fmt.Sprintf("%d,%.2f", i, pull(i)) }, value: 74.98, ask: []string{"unit", "reads"}},
	{name: "decimal comma", line: func(i int) string { return comma(fmt.Sprintf("%.2f kPa", -pull(i))) }, value: -74.98, unit: "kPa", reads: "gauge"},
	{name: "decimal comma, semicolons", head: []string{"Zeit (s);Druck (kPa);T (°C)"}, line: func(i int) string { return comma(fmt.Sprintf("%.1f;%.2f;21.5", 0.1*float64(i), -pull(i))) }, value: -74.98, unit: "kPa", reads: "gauge", clock: 3.9},
	{name: "decimal comma alone", line: func(i int) string { return comma(fmt.Sprintf("%.2f", pull(i))) }, value: 74.98, ask: []string{"unit", "reads"}},
	{name: "json", line: func(i int) string {
		return fmt.Sprintf(`{"t_ms":%d,"vacuum_kpa":%.2f,"temp":21.5}`, 100*i, pull(i))
	}, value: 74.98, unit: "kPa", reads: "vacuum", clock: 3.9},
	{name: "json, deep", line: func(i int) string {
		return fmt.Sprintf(`{"id":"x7","data":{"pressure":{"value":%.2f,"unit":"hPa"},"temperature":{"value":21.5,"unit":"°C"}}}`, 1013-10*pull(i))
	}, value: 263.24, unit: "hPa", ask: []string{"reads"}},
	{name: "json, list of named", line: func(i int) string {
		return fmt.Sprintf(`{"readings":[{"name":"temp","value":21.5},{"name":"vacuum","value":"%.2f kPa"}]}`, pull(i))
	}, value: 74.98, unit: "kPa", reads: "vacuum"},
	{name: "json behind text", line: func(i int) string { return fmt.Sprintf(`data: {"vac_inHg": %.2f}`, pull(i)/3.386) }, value: 22.14, unit: "inHg", reads: "vacuum"},
	{name: "json array", line: func(i int) string { return fmt.Sprintf(`[%d, %.2f]`, 100*i, pull(i)) }, value: 74.98, clock: 3.9, ask: []string{"unit", "reads"}},
	{name: "stamps", line: func(i int) string {
		return fmt.Sprintf("2026-05-04T12:00:%02d.%d00Z p=%.1f kPa", i/10, i%10, -pull(i))
	}, value: -75.0, unit: "kPa", reads: "gauge", clock: 20577*86400 + 43203.9},
	{name: "clock of the day", line: func(i int) string { return fmt.Sprintf("12:00:%02d.%d00;%.1f kPa", i/10, i%10, -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge", clock: 43203.9},
	{name: "log line", line: func(i int) string {
		return fmt.Sprintf("[%8d] INFO sensor0: pressure = %.2f kPa (raw 0x%04X)", 1000+100*i, -pull(i), 20000+i)
	}, value: -74.98, unit: "kPa", reads: "gauge", clock: 4.9},
	{name: "sentence with checksum", line: func(i int) string {
		body := fmt.Sprintf("SPVAC,%d,%.2f,K", 100*i, pull(i))
		var sum byte
		for _, c := range []byte(body) {
			sum ^= c
		}
		return fmt.Sprintf("$%s*%02X", body, sum)
	}, value: 74.98, clock: 3.9, ask: []string{"unit", "reads"}},
	{name: "two kinds of lines", line: func(i int) string {
		if i%2 == 0 {
			return fmt.Sprintf("T=21.%d C", i%3)
		}
		return fmt.Sprintf("P=%.2f mbarg", -10*pull(i))
	}, value: -749.76, unit: "mbar", reads: "gauge"},
	{name: "two kinds of sentences", line: func(i int) string {
		if i%2 == 0 {
			return fmt.Sprintf("$TMP,%d,21.%d", i, i%3)
		}
		return fmt.Sprintf("$VAC,%d,%.2f", i, pull(i))
	}, value: 74.98, reads: "vacuum", ask: []string{"unit"}},
	{name: "name glued", line: func(i int) string { return fmt.Sprintf("P%+07.2fT+21.5", -pull(i)) }, value: -74.98, ask: []string{"unit", "reads"}},
	{name: "volts", line: func(i int) string { return fmt.Sprintf("A0: %.3f V", 0.5+pull(i)/25) }, value: 3.499, ask: []string{"table"}},
	{name: "sign apart", line: func(i int) string { return fmt.Sprintf("- %5.1f kPa", pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "framed by STX and ETX", line: func(i int) string { return fmt.Sprintf("\x02%.1f kPa\x03", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "channels by number", line: func(i int) string { return fmt.Sprintf("1: %.1f kPa 2: 21.5 C", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "name, value and unit in cells", line: func(i int) string { return fmt.Sprintf("PRESS,%.1f,KPA,TEMP,21.5,C", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "unit in the name", line: func(i int) string { return fmt.Sprintf("P(kPa)=%.1f T(C)=21.5", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "several words", line: func(i int) string {
		return fmt.Sprintf("Port vacuum: %.1f kPa, Supply voltage: 12.1 V, State: OK", pull(i))
	}, value: 75.0, unit: "kPa", reads: "vacuum"},
	{name: "two gauges", line: func(i int) string { return fmt.Sprintf("vac1=%.1f kPa vac2=%.1f kPa", pull(i), pull(i)+0.3) }, value: 75.0, unit: "kPa", reads: "vacuum", ask: []string{"value"}},
	{name: "room beside", line: func(i int) string {
		return fmt.Sprintf("p_port=%.1f hPa, p_room=1013.2 hPa", 1013-10*pull(i))
	}, value: 263.2, unit: "hPa", ask: []string{"reads"}},
	{name: "absolute at rest", line: func(i int) string { return fmt.Sprintf("%.2f kPa", 100.9+0.01*float64(i%3)) }, value: 100.9, unit: "kPa", reads: "absolute"},
	{name: "psia", line: func(i int) string { return fmt.Sprintf("%.2f psia", 14.6-pull(i)/6.895) }, value: 3.73, unit: "psi", reads: "absolute"},
	{name: "degree sign of an old encoding", line: func(i int) string { return fmt.Sprintf("%.1f kPa 21.5 \xb0C", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "empty cells", line: func(i int) string { return fmt.Sprintf("%d,,%.2f kPa,,OK", 100*i, -pull(i)) }, value: -74.98, unit: "kPa", reads: "gauge", clock: 3.9},
	{name: "quoted cells", head: []string{`"ms","vacuum (kPa)"`}, line: func(i int) string { return fmt.Sprintf(`"%d","%.2f"`, 100*i, pull(i)) }, value: 74.98, unit: "kPa", reads: "vacuum", clock: 3.9},
	{name: "inches of mercury by the mark", line: func(i int) string { return fmt.Sprintf(`%.1f"Hg vac`, pull(i)/3.386) }, value: 22.1, unit: "inHg", reads: "vacuum"},
	{name: "unit before the number", line: func(i int) string { return fmt.Sprintf("kPa: %.1f degC: 21.5", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "plot line", line: func(i int) string { return fmt.Sprintf(">vac_kPa:%.1f", pull(i)) }, value: 75.0, unit: "kPa", reads: "vacuum"},
	{name: "letters with units", line: func(i int) string {
		return fmt.Sprintf("t=%.1fs p=%.1fkPa T=21.5C H=45%%", 0.1*float64(i), -pull(i))
	}, value: -75.0, unit: "kPa", reads: "gauge", clock: 3.9},
	{name: "words with units", line: func(i int) string { return fmt.Sprintf("Time: %d ms Pressure: %.1f kPa", 100*i, -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge", clock: 3.9},
	{name: "date and clock in cells, decimal comma", line: func(i int) string {
		return comma(fmt.Sprintf("04/05/2026;12:00:%02d.%d;%.1f;kPa;", i/10, i%10, -pull(i)))
	}, value: -75.0, unit: "kPa", reads: "gauge", clock: 43203.9},
	{name: "seconds since 1970", line: func(i int) string { return fmt.Sprintf("%.3f,%.1f,kPa", 1777896000+0.1*float64(i), -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge", clock: 1777896003.9},
	{name: "fixed width", line: func(i int) string { return fmt.Sprintf("01 %+09.3f kPa 0", -pull(i)) }, value: -74.976, unit: "kPa", reads: "gauge"},
	{name: "counts and volts beside", line: func(i int) string {
		return fmt.Sprintf("adc=%d volt=%.3f vac=%.1f inHg", 100+10*i, 0.5+pull(i)/25, pull(i)/3.386)
	}, value: 22.1, unit: "inHg", reads: "vacuum"},
	{name: "decimal comma, name and unit", line: func(i int) string { return comma(fmt.Sprintf("Druck: %.1f mbar", -10*pull(i))) }, value: -749.8, unit: "mbar", reads: "gauge"},
	{name: "thousands", line: func(i int) string { return fmt.Sprintf("1,01%d.%d mbar abs", i%4, i%10) }, value: 1013.9, unit: "mbar", reads: "absolute"},
	{name: "thousands or decimals", line: func(i int) string { return fmt.Sprintf("101,%03d Pa", 320+i) }, value: 101359, unit: "Pa", reads: "absolute", ask: []string{"value"}},
	{name: "between marks", line: func(i int) string { return fmt.Sprintf("<p>%.1f kPa</p><t>22.5 C</t>", -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "labels in braces", line: func(i int) string { return fmt.Sprintf(`vacuum_kpa{port="1"} %.2f`, pull(i)) }, value: 74.98, unit: "kPa", reads: "vacuum"},
	{name: "tags before fields", line: func(i int) string {
		return fmt.Sprintf("bench,sensor=a1 vac=%.2f,temp=21.5 %d", pull(i), 1777896000000000000+int64(i)*100000000)
	}, value: 74.98, reads: "vacuum", ask: []string{"unit"}},
	{name: "counter, names and numbers in one", line: func(i int) string { return fmt.Sprintf("#%04d P-%05.1f kPa T+021.5 C", i, pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "raw", line: func(i int) string { return fmt.Sprintf("raw=%d", 100+10*i) }, value: 490, ask: []string{"table"}},
	{name: "whole seconds of faster samples", line: func(i int) string { return fmt.Sprintf("12:00:%02d %.1f kPa", i/10, -pull(i)) }, value: -75.0, unit: "kPa", reads: "gauge"},
	{name: "exponents", line: func(i int) string { return fmt.Sprintf("%+.4E Pa", -1000*pull(i)) }, value: -74976, unit: "Pa", reads: "gauge"},
}

func TestLearnFormats(t *testing.T) {
	for _, c := range formats {
		t.Run(c.name, func(t *testing.T) {
			if c.clock == 0 {
				c.clock = math.NaN()
			}
			lines := rows(40, c.line)
			for _, h := range slices.Backward(c.head) {
				lines = slices.Insert(lines, 0, Line{At: lines[0].At, Text: h})
			}
			got, err := Learn(lines)
			if err != nil {
				t.Fatal(err)
			}
			last := lines[len(lines)-1].Text
			// of several that are offered the one that is meant must be among them
			i := 0
			if slices.Contains(c.ask, "value") {
				i = slices.IndexFunc(got, func(k Candidate) bool { return math.Abs(k.Now-c.value) < 1e-6*math.Abs(c.value)+0.006 })
				if i < 0 {
					t.Fatalf("%q: not offered: %s", last, all(got))
				}
			}
			k := got[i]
			t.Logf("%q: %s [%s]", last, k.Words, optionsText(k.Options()))
			if k.Unit.Name != c.unit || string(k.Reads) != c.reads || !slices.Equal(k.Ask, c.ask) {
				t.Errorf("%q: unit %q, reads %q, asks %v; want %q, %q, %v; %s", last, k.Unit.Name, k.Reads, k.Ask, c.unit, c.reads, c.ask, all(got))
			}
			// what was learned, written as options and read back, reads the line
			a, err := source.ParseAddress(source.Address{Kind: "x", Options: k.Options()}.String())
			if err != nil {
				t.Fatal(err)
			}
			p, known, err := PatternOf(a)
			if err != nil || !known || p != k.Pattern {
				t.Fatalf("%+v came back as %+v, %v, %v", k.Pattern, p, known, err)
			}
			r, err := p.Parse([]byte(last))
			if err != nil || math.Abs(r.Value-c.value) > 1e-6*math.Abs(c.value)+0.006 {
				t.Errorf("%q: read as %g, %v; want %g (%s)", last, r.Value, err, c.value, p)
			}
			if math.IsNaN(c.clock) != math.IsNaN(r.Clock) || math.Abs(r.Clock-c.clock) > 1e-6 {
				t.Errorf("%q: clock %g, want %g (%s)", last, r.Clock, c.clock, p)
			}
		})
	}
}

func all(c []Candidate) string {
	var s []string
	for _, k := range c {
		s = append(s, fmt.Sprintf("%s (%.1f, asks %v)", k.Words, k.score, k.Ask))
	}
	return strings.Join(s, "\n\t")
}

func TestLearnRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		line func(i int) string
		what string
	}{
		"binary":        {func(i int) string { return string([]byte{0x81, byte(i) | 0x80, 0xff, 0, 3, 0x9c}) }, "no text"},
		"hexadecimal":   {func(i int) string { return fmt.Sprintf("%02XF3 A1%02XB", i, i) }, "could be a vacuum"},
		"words":         {func(i int) string { return "waiting for sensor" }, "could be a vacuum"},
		"temperature":   {func(i int) string { return fmt.Sprintf("T=21.%d C", i%10) }, "could be a vacuum"},
		"nothing":       {func(i int) string { return "  " }, "nothing came"},
		"addresses":     {func(i int) string { return fmt.Sprintf("192.168.4.%d", i) }, "could be a vacuum"},
		"version lines": {func(i int) string { return "fw v1.2.3-rc4 build 2026-05-04" }, "could be a vacuum"},
	} {
		got, err := Learn(rows(20, c.line))
		if err == nil || !strings.Contains(err.Error(), c.what) {
			t.Errorf("%s: got %v, %s; want %q", name, err, all(got), c.what)
		}
	}
}

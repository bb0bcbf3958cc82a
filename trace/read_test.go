package trace

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// room is the air pressure [Pa] of the invented trace.
const room = 100.90e3

// formatCases are the files of testdata/formats, all with the same invented
// trace. Tolerances [Pa] are half the last digit written, plus what the
// conversion factors of NIST SP 811 (table B.8) are rounded to.
var formatCases = []struct {
	file string
	o    ReadOptions
	kind Kind
	tol  float64
}{
	{file: "comma.csv"},
	{file: "semicolon.csv"},
	{file: "semicolon_decimal_comma.csv"},
	{file: "tab.tsv"},
	{file: "tab_decimal_comma.tsv"},
	{file: "blanks.txt"},
	{file: "blanks_abs.txt", kind: Absolute},
	{file: "blanks_decimal_comma.txt"},
	{file: "comments_inside.csv"},
	{file: "inhg.csv", tol: 0.2},
	{file: "psi_gauge.csv", tol: 0.05},
	{file: "gauge.csv"},
	{file: "mbar_abs.csv", kind: Absolute, tol: 1e-6},
	{file: "bar_abs.csv", kind: Absolute, tol: 5},
	{file: "bar_gauge.csv", tol: 5},
	{file: "bara.csv", kind: Absolute, tol: 5},
	{file: "unclear_abs.csv", kind: Absolute},
	{file: "unclear_gauge.csv"},
	{file: "unclear_vacuum.csv"},
	{file: "several.csv", o: ReadOptions{Column: "port VACUUM (kpa)"}},
	{file: "several.csv", o: ReadOptions{Column: "Port vacuum"}},
	{file: "several.csv", o: ReadOptions{Column: "4"}},
	{file: "several.csv", o: ReadOptions{Column: "3"}, kind: Absolute},
	{file: "several.csv", o: ReadOptions{Columns: "-, s, -, kPa vacuum, -"}},
	{file: "no_header.csv", o: ReadOptions{Columns: "s, kPa vacuum"}},
	{file: "no_header_ms_mbar.csv", o: ReadOptions{Columns: "ms, -, mbar abs"}, kind: Absolute},
	{file: "clock_midnight.csv"},
	{file: "clock_midnight.csv", o: ReadOptions{Columns: "stamp, vacuum kPa"}},
	{file: "rfc3339.csv"},
	{file: "date_blank_time.csv"},
	{file: "date_blank_time_blanks.txt"},
	{file: "date_and_time_columns.csv"},
	{file: "half_day.csv"},
	{file: "minutes.csv"},
	{file: "quoted.csv"},
	{file: "lines.jsonl"},
	{file: "stamps.jsonl"},
	{file: "units_row.csv"},
	{file: "header_in_comment.csv"},
	{file: "preamble.csv"},
	{file: "exponents.csv", tol: 0.6},
	{file: "crlf.csv"},
	{file: "cr.csv"},
	{file: "bom.csv"},
	{file: "latin1.csv"},
	{file: "utf16le_bom.csv"},
	{file: "utf16be_bom.csv"},
	{file: "utf16le.csv"},
	{file: "utf16be.csv"},
	{file: "minus.csv"},
}

func TestReadFormats(t *testing.T) {
	read := map[string]bool{"hand.csv": true}
	for _, c := range formatCases {
		read[c.file] = true
		t.Run(c.file+" "+c.o.Columns+c.o.Column, func(t *testing.T) {
			tr := mustRead(t, filepath.Join("testdata", "formats", c.file), c.o)
			kind := c.kind
			if kind == "" {
				kind = Vacuum
			}
			if tr.Kind != kind || tr.Len() != len(invented) || tr.Count != nil {
				t.Fatalf("got %s, %d points, counts %v; want %s, %d, none", tr.Kind, tr.Len(), tr.Count != nil, kind, len(invented))
			}
			for i, kpa := range invented {
				want := kpa * 1e3
				if kind == Absolute {
					want = room - want
				}
				if got := tr.Value[i]; math.Abs(got-want) > c.tol+1e-6 {
					t.Fatalf("point %d: got %v Pa, want %v ± %v", i, got, want, c.tol)
				}
				if got, want := tr.Time[i], float64(i)/10; math.Abs(got-want) > 1e-9 {
					t.Fatalf("point %d: got time %v s, want %v", i, got, want)
				}
			}
			f := tr.Faults
			if f.Rows != len(invented) || f.Dropped+f.Spikes+f.Gaps+f.Repeated+f.ClockBackLine != 0 {
				t.Errorf("got faults %+v, want %d rows and none", f, len(invented))
			}
			if math.Abs(f.Interval-0.1) > 1e-9 || f.Jitter > 1e-6 {
				t.Errorf("got interval %v, jitter %v, want 0.1, 0", f.Interval, f.Jitter)
			}
		})
	}
	files, err := filepath.Glob("testdata/formats/*")
	if err != nil || len(files) == 0 {
		t.Fatalf("no files found: %v", err)
	}
	for _, f := range files {
		if !read[filepath.Base(f)] {
			t.Errorf("%s is in no case", f)
		}
	}
}

func TestReadHeaderComments(t *testing.T) {
	got := mustRead(t, "testdata/formats/comma.csv", ReadOptions{}).Header
	want := Header{Rig: "small rig", Port: "2 intake", Held: "own-spring", Started: "2026-05-04T12:00:00Z"}
	if got.Rig != want.Rig || got.Port != want.Port || got.Held != want.Held || got.Started != want.Started {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if len(got.Others) != 1 || got.Others[0] != "invented trace for tests" {
		t.Errorf("got other comments %q", got.Others)
	}
}

func TestReadOpenRecordings(t *testing.T) {
	// Figures of testdata/open, by eye from the files themselves; room for the
	// gauge pressures is not needed: above the room is a negative vacuum.
	for _, c := range []struct {
		file        string
		kind        Kind
		points      int
		first, last float64 // Pa
		to          float64 // s
		step        float64 // Pa
	}{
		{"hyddown_air_3_7kpa_271mm.csv", Absolute, 14, 1908.2, 100540, 76.7958, 0},
		{"zillen_hold_aluminium.csv", Vacuum, 1508, -731500, -728400, 151.303, 100},
		{"zillen_hold_formlabs.csv", Vacuum, 1421, -779300, -775400, 142.508, 100},
		{"zillen_hold_prusa.csv", Vacuum, 1435, -764600, -754800, 143.696, 100},
	} {
		tr := mustRead(t, "testdata/open/"+c.file, ReadOptions{})
		n := tr.Len()
		if tr.Kind != c.kind || n != c.points {
			t.Errorf("%s: got %s, %d points, want %s, %d", c.file, tr.Kind, n, c.kind, c.points)
			continue
		}
		if math.Abs(tr.Value[0]-c.first) > 1e-6 || math.Abs(tr.Value[n-1]-c.last) > 1e-6 || math.Abs(tr.Time[n-1]-c.to) > 1e-9 {
			t.Errorf("%s: got %v to %v Pa in %v s, want %v to %v in %v", c.file, tr.Value[0], tr.Value[n-1], tr.Time[n-1], c.first, c.last, c.to)
		}
		if c.step > 0 && math.Abs(tr.Step-c.step) > 1e-6 {
			t.Errorf("%s: got step %v Pa, want %v", c.file, tr.Step, c.step)
		}
		if tr.Faults.Dropped != 0 {
			t.Errorf("%s: dropped %d rows", c.file, tr.Faults.Dropped)
		}
	}
}

func TestReadErrors(t *testing.T) {
	good := "0,0\n0.1,1\n0.2,2\n"
	for _, c := range []struct {
		name, text string
		o          ReadOptions
		line       int
		say        []string
	}{
		{"empty", "", ReadOptions{}, 0, []string{"empty"}},
		{"only comments", "# nothing\n", ReadOptions{}, 0, []string{"no rows"}},
		{"binary", "\x7fELF\x00\x01\x02\x00\x00more\n", ReadOptions{}, 1, []string{"binary"}},
		{"binary below text", "time (s),vacuum (kPa)\n0,\x001\x00x\n", ReadOptions{}, 2, []string{"binary"}},
		{"control bytes", strings.Repeat("\x01\x02\x03\x04abc", 20), ReadOptions{}, 1, []string{"binary"}},
		{"undecodable", strings.Repeat("\xfe\xfa\xa0\xc3", 40), ReadOptions{}, 1, []string{"binary"}},
		{"header only", "time (s),vacuum (kPa)\n", ReadOptions{}, 0, []string{"no rows"}},
		{"no usable row", "time (s),vacuum (kPa)\n0,nan\n1,-\n", ReadOptions{}, 2, []string{"none of the 2 rows", "nan", "vacuum (kPa)"}},
		{"no header", good, ReadOptions{}, 1, []string{"no header", "--columns"}},
		{"unknown unit", "time (s),vacuum (kPz)\n" + good, ReadOptions{}, 1, []string{"unknown unit", "kPz", "column 2"}},
		{"MPA is two units", "time (s),vacuum (MPA)\n" + good, ReadOptions{}, 1, []string{"unknown unit", "MPA"}},
		{"unknown time unit", "time (sc),vacuum (kPa)\n" + good, ReadOptions{}, 1, []string{"unknown unit", "sc", "column 1"}},
		{"no unit", "time (s),vacuum\n" + good, ReadOptions{}, 1, []string{"no unit", "--columns", "vacuum"}},
		{"no time unit", "time,vacuum (kPa)\n" + good, ReadOptions{}, 1, []string{"no unit", "--columns", "time"}},
		{"volts", "time (s),pressure (mV)\n" + good, ReadOptions{}, 1, []string{"mV", "not a pressure"}},
		{"volts by underscore", "t_s,vacuum_volts\n" + good, ReadOptions{}, 1, []string{"volts", "not a pressure"}},
		{"per cent", "time (s),vacuum (%)\n" + good, ReadOptions{}, 1, []string{"%", "no unit of pressure"}},
		{"no pressure", "time (s),temperature (°C)\n" + good, ReadOptions{}, 1, []string{"no pressure column", "temperature"}},
		{"no time", "sample,vacuum (kPa)\n" + good, ReadOptions{}, 1, []string{"no time column", "sample"}},
		{"one column", "vacuum (kPa)\n1\n2\n3\n", ReadOptions{}, 1, []string{"no time column"}},
		{"two pressures", "time (s),p1 (kPa abs),p2 (bar abs)\n0,1,1\n1,2,2\n", ReadOptions{}, 1, []string{"2 pressure columns", "p1 (kPa abs)", "p2 (bar abs)", "--column"}},
		{"wrong column", "time (s),vacuum (kPa)\n" + good, ReadOptions{Column: "p3"}, 0, []string{"no column", "p3", "vacuum (kPa)"}},
		{"column is time", "time (s),vacuum (kPa)\n" + good, ReadOptions{Column: "1"}, 0, []string{"time column"}},
		{"column is no pressure", "time (s),vacuum (kPa),temp (°C)\n0,0,1\n1,1,1\n", ReadOptions{Column: "3"}, 1, []string{"°C", "no unit of pressure"}},
		{"bad columns", good, ReadOptions{Columns: "s, furlong"}, 0, []string{"--columns", "furlong"}},
		{"too many columns", good, ReadOptions{Columns: "s, -, kPa vacuum"}, 0, []string{"3 columns", "2"}},
		{"too few columns", "0,1,2\n1,2,3\n", ReadOptions{Columns: "s, kPa vacuum"}, 1, []string{"more cells"}},
		{"decimal comma twice", "time (s),vacuum (kPa)\n0,10,78,35\n0,20,78,30\n", ReadOptions{}, 2, []string{"more cells", "decimal mark"}},
		{"unclear", "time (s),pressure (kPa)\n0,50\n1,40\n2,45\n", ReadOptions{}, 1, []string{"could be", "abs", "vacuum"}},
		{"unclear, deep and falling", "time (s),pressure (kPa)\n0,90\n1,80\n2,70\n3,60\n4,52\n", ReadOptions{}, 1, []string{"could be"}},
		{"unclear by option", "0,50\n1,40\n2,45\n", ReadOptions{Columns: "s, kPa"}, 0, []string{"could be"}},
		{"negative vacuum", "time (s),vacuum (kPa)\n0,0\n1,-40\n2,-78\n", ReadOptions{}, 1, []string{"gauge"}},
		{"JSON array", "[{\"t_s\":1}]\n", ReadOptions{}, 1, []string{"array", "JSON lines"}},
		{"JSON without pressure", "{\"t_s\":1,\"x\":2}\n", ReadOptions{}, 0, []string{"no pressure column"}},
		{"JSON broken", "{\n", ReadOptions{}, 1, []string{"not a JSON object"}},
		{"no line ends", strings.Repeat("a", 3<<20), ReadOptions{}, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, err := Read(strings.NewReader(c.text), c.o)
			var fe *FileError
			if !errors.As(err, &fe) {
				t.Fatalf("got %+v, %v, want a *FileError", tr, err)
			}
			if c.line != fe.Line && c.say != nil {
				t.Errorf("got line %d, want %d: %v", fe.Line, c.line, err)
			}
			for _, s := range c.say {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("got %q, which does not say %q", err, s)
				}
			}
			if fe.What == "" || fe.Hint == "" {
				t.Errorf("what or hint missing: %+v", fe)
			}
		})
	}
}

func TestReadOneRowIsNoError(t *testing.T) {
	for _, text := range []string{"time (s),vacuum (kPa)\n0.5,78.3\n", "time (s),vacuum (kPa)\n0.5,78.3"} {
		tr := mustReadText(t, text, ReadOptions{})
		if tr.Len() != 1 || tr.Time[0] != 0 || math.Abs(tr.Value[0]-78300) > 1e-6 {
			t.Errorf("%q: got %+v, want one point of 78.3 kPa", text, tr)
		}
	}
}

type failing struct{ after int }

func (f *failing) Read(p []byte) (int, error) {
	if f.after <= 0 {
		return 0, errors.New("the disk is gone")
	}
	n := copy(p, "0,1\n")
	f.after -= n
	return n, nil
}

func TestReadWrapsReaderErrors(t *testing.T) {
	for _, after := range []int{0, 100, 300_000} {
		_, err := Read(&failing{after: after}, ReadOptions{Columns: "s, kPa vacuum"})
		if err == nil || !strings.Contains(err.Error(), "the disk is gone") {
			t.Errorf("after %d bytes: got %v", after, err)
		}
	}
}

func TestReadReportsProgress(t *testing.T) {
	text := "time (s),vacuum (kPa)\n" + strings.Repeat("0,1\n", 800_000)
	var seen []int64
	mustReadText(t, text, ReadOptions{Progress: func(n int64) { seen = append(seen, n) }})
	if len(seen) < 3 || seen[len(seen)-1] != int64(len(text)) {
		t.Errorf("got %v, want a few rising to %d", seen, len(text))
	}
}

func TestReadHandReadings(t *testing.T) {
	const inHg = 3386.389 // Pa, NIST SP 811 table B.8
	tr := mustRead(t, "testdata/formats/hand.csv", ReadOptions{})
	if len(tr.Hand) != 5 || tr.Len() != 0 || tr.Header.Rig != "small rig" {
		t.Fatalf("got %+v", tr)
	}
	for i, want := range []HandReading{
		{Time: 0, Value: 21.5}, {Time: 5, Value: 21}, {Time: 10, Value: 20.5}, {Time: 30, Value: 19}, {Time: 60, Value: 18.5, Censored: true},
	} {
		got := tr.Hand[i]
		if got.Time != want.Time || math.Abs(got.Value-want.Value*inHg) > 0.2 || got.Censored != want.Censored ||
			math.Abs(got.Spread-0.25*inHg) > 0.01 || got.TimeSpread != 0.3 {
			t.Errorf("reading %d: got %+v, want %+v inHg", i, got, want)
		}
	}
	text := "# hand readings\nclock,pressure abs (kPa)\n23:59:58,30\n00:00:00,31\n00:00:05,x\n00:00:10,35\n"
	if _, err := Read(strings.NewReader(text), ReadOptions{}); err == nil || !strings.Contains(err.Error(), "air pressure") {
		t.Errorf("absolute without the room: got %v", err)
	}
	_, err := Read(strings.NewReader("# hand readings\n# division 0.5\ntime (s),vacuum (inHg)\n0,21\n5,20\n"), ReadOptions{})
	if err == nil || !strings.Contains(err.Error(), "# division") {
		t.Errorf("division without a unit: got %v", err)
	}
	tr = mustReadText(t, text, ReadOptions{AirPressure: 101e3})
	if len(tr.Hand) != 3 || tr.Faults.Dropped != 1 || tr.Faults.Rows != 4 {
		t.Fatalf("got %+v", tr)
	}
	if h := tr.Hand[2]; h.Time != 12 || math.Abs(h.Value-66e3) > 1e-6 || h.Spread != 0 {
		t.Errorf("got %+v, want 66 kPa at 12 s", h)
	}
}

func mustRead(t testing.TB, path string, o ReadOptions) *Trace {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := Read(bytes.NewReader(b), o)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return tr
}

func mustReadText(t testing.TB, text string, o ReadOptions) *Trace {
	t.Helper()
	tr, err := Read(strings.NewReader(text), o)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

package rigfile

import (
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"seatproof/rig"
	"seatproof/unit"
)

func readFile(t *testing.T, name string) rig.Rig {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := Read(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestReadSmallRig(t *testing.T) {
	got := readFile(t, "small-rig.toml")
	want := rig.Rig{
		Name:    "small rig",
		Volume:  unit.About(62e-6, 3e-6),
		RigLeak: unit.About(0.8e-6/60, 0.3e-6/60),
		Port: rig.Port{
			Volume:          unit.About(95e-6, 30e-6),
			Held:            rig.HeldOwnSpring,
			WetWith:         rig.WetNothing,
			HeadTemperature: unit.About(292.15, 3),
		},
		Pump: rig.Pump{
			FreeFlow:     unit.Exactly(10e-3 / 60),
			Blanked:      unit.About(78e3, 2e3),
			AfterShutOff: rig.PumpStopped,
		},
		Hose: rig.Hose{Bore: unit.Exactly(4e-3), Length: unit.Exactly(1.2), GaugeAt: rig.GaugeAtPort},
		Gauge: rig.Gauge{
			Kind:       rig.GaugeDigital,
			Span:       rig.Span{Low: 0, High: 100e3, Known: true},
			Accuracy:   unit.Exactly(0.005),
			Resolution: 50,
			Zero:       unit.About(0, 200),
			Response:   unit.Exactly(0.05),
		},
		Air: rig.Air{Pressure: unit.About(100.9e3, 100), Temperature: unit.Exactly(292.15)},
	}
	compare(t, got, want)
}

func TestReadNeedleRig(t *testing.T) {
	const inHg = 3386.388640341 // Pa, conventional (NIST SP 811 B.8)
	got := readFile(t, "needle-rig.toml")
	want := rig.Rig{
		Name: `needle "rig", 21½`,
		Port: rig.Port{Held: rig.HeldThumb, WetWith: rig.WetIsopropanol},
		Pump: rig.Pump{
			Curve:        []rig.PumpPoint{{Vacuum: 0, Flow: 10e-3 / 60}, {Vacuum: 40e3, Flow: 4.6e-3 / 60}, {Vacuum: 78e3, Flow: 0}},
			Blanked:      unit.About(23*inHg, 0.5*inHg),
			RatedAt:      unit.Exactly(101.3e3),
			AfterShutOff: rig.PumpRunning,
		},
		Hose: rig.Hose{GaugeAt: rig.GaugeAtPump},
		Gauge: rig.Gauge{Kind: rig.GaugeNeedle, Unit: "inHg", Span: rig.Span{Low: 0, High: 30 * inHg, Known: true}, Class: 1.6, Division: 0.5 * inHg,
			Line: &rig.GaugeLine{Offset: unit.About(0.1*inHg, 0.2*inHg), Slope: unit.About(-0.015, 0.005), Correlation: -0.6, Bow: unit.Exactly(0.3 * inHg)}},
		Air: rig.Air{Altitude: unit.Exactly(640), Temperature: unit.Exactly((66 + 459.67) * 5 / 9)},
	}
	compare(t, got, want)
}

// compare compares two rigs figure by figure, to four roundings of float64.
func compare(t *testing.T, got, want rig.Rig) {
	t.Helper()
	walk(t, "rig", reflect.ValueOf(got), reflect.ValueOf(want))
}

func walk(t *testing.T, path string, got, want reflect.Value) {
	t.Helper()
	switch got.Kind() {
	case reflect.Struct:
		for i := range got.NumField() {
			walk(t, path+"."+got.Type().Field(i).Name, got.Field(i), want.Field(i))
		}
	case reflect.Pointer:
		if got.IsNil() || want.IsNil() {
			if got.IsNil() != want.IsNil() {
				t.Errorf("%s = %v, want %v", path, got, want)
			}
			return
		}
		walk(t, path, got.Elem(), want.Elem())
	case reflect.Slice:
		if got.Len() != want.Len() {
			t.Errorf("%s has %d items, want %d", path, got.Len(), want.Len())
			return
		}
		for i := range got.Len() {
			walk(t, fmt.Sprint(path, i), got.Index(i), want.Index(i))
		}
	case reflect.Float64:
		if math.Abs(got.Float()-want.Float()) > 1e-15*math.Abs(want.Float()) {
			t.Errorf("%s = %v, want %v", path, got.Float(), want.Float())
		}
	default:
		if !got.Equal(want) {
			t.Errorf("%s = %v, want %v", path, got, want)
		}
	}
}

// TestEveryKeyIsRead: the two files of testdata hold every key of the table,
// so that each is asserted above.
func TestEveryKeyIsRead(t *testing.T) {
	seen := make(map[string]bool)
	for _, name := range []string{"small-rig.toml", "needle-rig.toml"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		doc, fault := parseDocument(data)
		if fault != nil {
			t.Fatal(fault)
		}
		for _, e := range doc.entries {
			seen[e.key] = true
		}
	}
	for _, f := range fields {
		if !seen[f.key] {
			t.Errorf("no test file has the key %s", f.key)
		}
	}
}

func TestReadVariants(t *testing.T) {
	tests := []struct {
		name, text string
		got        func(rig.Rig) any
		want       any
	}{
		{"empty", "", func(r rig.Rig) any { return reflect.DeepEqual(r, rig.Rig{}) }, true},
		{"comments only", "# nothing\n[hose]\n", func(r rig.Rig) any { return reflect.DeepEqual(r, rig.Rig{}) }, true},
		{"byte order mark and CRLF", "\ufeffname = \"a\"\r\n[pump]\r\nblanked = \"78 kPa\"\r\n", func(r rig.Rig) any { return r.Pump.Blanked }, unit.Exactly(78e3)},
		{"accuracy as a pressure", "[gauge]\naccuracy = \"0.5 kPa\"\nspan = \"0..50 kPa\"", func(r rig.Rig) any { return r.Gauge.Accuracy }, unit.Exactly(0.01)},
		{"class as a number", "[gauge]\nclass = 2.5", func(r rig.Rig) any { return r.Gauge.Class }, 2.5},
		{"class with a comma", "[gauge]\nclass = \"1,6\"", func(r rig.Rig) any { return r.Gauge.Class }, 1.6},
		{"relative spread", "volume = \"95 cm3 ± 30 %\"", func(r rig.Rig) any { return r.Volume.Spread > 28.4e-6 && r.Volume.Spread < 28.6e-6 }, true},
		{"vacuum scale of negative figures", "[gauge]\nspan = \"-1..0 bar\"", func(r rig.Rig) any { return r.Gauge.Span }, rig.Span{Low: 0, High: 1e5, Known: true}},
		{"compound gauge", "[gauge]\nspan = \"-1..3 bar\"", func(r rig.Rig) any { return r.Gauge.Span }, rig.Span{Low: -3e5, High: 1e5, Known: true}},
		{"sensor a little above the room", "[gauge]\nspan = \"-10..100 kPa\"", func(r rig.Rig) any { return r.Gauge.Span }, rig.Span{Low: -1e4, High: 1e5, Known: true}},
		{"absolute sensor", "[gauge]\nspan = \"20..250 kPa\"", func(r rig.Rig) any { return r.Gauge.Span }, rig.Span{Low: 2e4, High: 2.5e5, Known: true}},
		{"blanked as deep as the air's ± allows", "[pump]\nblanked = \"95 kPa\"\n[air]\npressure = \"94 ± 1 kPa\"", func(r rig.Rig) any { return r.Pump.Blanked }, unit.Exactly(95e3)},
		{"blanked of a data sheet, at altitude", "[pump]\nblanked = \"85 kPa\"\nrated_at = \"101.3 kPa\"\n[air]\npressure = \"80 kPa\"", func(r rig.Rig) any { return r.Pump.RatedAt }, unit.Exactly(101.3e3)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r, err := Read(strings.NewReader(tt.text), "x.toml")
			if err != nil {
				t.Fatal(err)
			}
			if got := tt.got(r); got != tt.want {
				t.Errorf("got %v, want %v, of\n%s", got, tt.want, tt.text)
			}
		})
	}
}

func TestFaults(t *testing.T) {
	tests := []struct {
		name, text   string
		line, column int
		says         string
	}{
		{"unknown key", "name = \"a\"\nvolum = \"62 cm3\"", 2, 1, `unknown key "volum": did you mean volume?`},
		{"unknown key in a table", "[pump]\n  freeflow = \"10 L/min\"", 2, 3, `unknown key "pump.freeflow": did you mean pump.free_flow?`},
		{"key of another table", "[pump]\nbore = \"4 mm\"", 2, 1, "did you mean hose.bore?"},
		{"key of a table at the top", "blanked = \"78 kPa\"", 1, 1, "did you mean pump.blanked?"},
		{"key like none", "[hose]\ncolour = \"red\"", 2, 1, "the keys here are hose.bore, hose.length, hose.gauge_at"},
		{"dotted key", "pump.blankd = \"78 kPa\"", 1, 1, "did you mean pump.blanked?"},
		{"quoted dot is no table", "\"pump.blanked\" = \"78 kPa\"", 1, 1, "unknown key"},
		{"inline table", "pump = { blankd = \"78 kPa\" }", 1, 10, "did you mean pump.blanked?"},
		{"unknown table, told once", "[pmup]\nblanked = \"78 kPa\"", 1, 2, "unknown table [pmup]: did you mean [pump]?"},
		{"table like none", "[xyzzy]", 1, 2, "the tables are [port], [pump], [hose], [gauge], [air]"},
		{"table twice over", "[[port]]\nheld = \"thumb\"", 1, 3, "there is one [port] only"},
		{"table as a key", "pump = \"mine\"", 1, 1, "it is a table: write [pump]"},

		{"bare figure", "volume = \"62\"", 1, 10, `needs a unit, such as "62 cm3"`},
		{"bare number", "volume = 62", 1, 10, `needs a unit, such as "62 cm3"`},
		{"bare float", "[pump]\nfree_flow = 10.5", 2, 13, `needs a unit, such as "10.5 L/min"`},
		{"wrong unit", "volume = \"62 kPa\"", 1, 10, "kPa is a unit of pressure, but a volume is needed"},
		{"unknown unit", "volume = \"62 cn3\"", 1, 10, "did you mean cm³?"},
		{"unknown prefix", "[pump]\nblanked = \"78 qkPa\"", 2, 11, `unknown prefix "qk"`},
		{"negative spread", "volume = \"62 ± -3 cm3\"", 1, 10, "negative"},
		{"ambiguous thousands", "volume = \"1,234 cm3\"", 1, 10, "could mean 1.234 or 1234"},
		{"not a figure", "volume = true", 1, 10, "but is true or false"},
		{"not a figure but a list", "volume = [\"62 cm3\"]", 1, 1, "but is a list"},
		{"not a figure but a date", "volume = 2024-05-01", 1, 10, "but is a date or time"},
		{"name no text", "name = 5", 1, 8, "must be a text in quotes"},
		{"name of two lines", "name = \"a\\nb\"", 1, 8, "one line"},

		{"held", "[port]\nheld = \"own spring\"", 2, 8, `is not one of "nothing", "thumb", "light-spring" or "own-spring": did you mean "own-spring"?`},
		{"held in capitals", "[port]\nheld = \"Thumb\"", 2, 8, `did you mean "thumb"?`},
		{"wet with", "[port]\nwet_with = \"watr\"", 2, 12, `did you mean "water"?`},
		{"after shut-off", "[pump]\nafter_shut_off = true", 2, 18, `it is one of "stopped" or "running"`},
		{"gauge at", "[hose]\ngauge_at = \"pmp\"", 2, 12, `did you mean "pump"?`},
		{"kind", "[gauge]\nkind = \"neddle\"", 2, 8, `did you mean "needle"?`},

		{"negative volume", "volume = \"-62 cm3\"", 1, 10, "not above zero"},
		{"no volume", "volume = \"0 cm3\"", 1, 10, "not above zero"},
		{"volume of litres", "volume = \"620 L\"", 1, 10, "more than 100 L: can that be?"},
		{"negative rig leak", "rig_leak = \"-1 cm3/min\"", 1, 12, "below zero"},
		{"rig leak of a pump", "rig_leak = \"30 L/min\"", 1, 12, "more than 10 L/min"},
		{"boiling head", "[port]\nhead_temperature = \"190 °C\"", 2, 20, "not between -30 and 120 °C"},
		{"hot room", "[air]\ntemperature = \"66 °C\"", 2, 15, "not between -30 and 60 °C"},
		{"cold room", "[air]\ntemperature = \"-31 °C\"", 2, 15, "not between -30 and 60 °C"},
		{"thin air", "[air]\npressure = \"10.1 kPa\"", 2, 12, "not an air pressure anyone works in"},
		{"thick air", "[air]\npressure = \"1013 kPa\"", 2, 12, "not an air pressure anyone works in"},
		{"too high up", "[air]\naltitude = \"6400 m\"", 2, 12, "not where heads are worked on"},
		{"rated at", "[pump]\nrated_at = \"1.013 kPa\"", 2, 12, "not an air pressure"},
		{"negative vacuum", "[pump]\nblanked = \"-78 kPa\"", 2, 11, "write it without the sign"},
		{"blanked is nothing", "[pump]\nblanked = \"0 kPa\"", 2, 11, "no vacuum at all"},
		{"tenfold blanked", "[pump]\nblanked = \"780 kPa\"", 2, 11, "deeper than any air pressure"},
		{"blanked deeper than the air", "[air]\npressure = \"84 ± 1 kPa\"\n[pump]\nblanked = \"86 ± 2 kPa\"", 4, 11, "86 kPa is deeper than the air pressure 84 ± 1 kPa"},
		{"blanked deeper than where it is rated", "[pump]\nblanked = \"86 kPa\"\nrated_at = \"80 kPa\"", 2, 11, "deeper than rated_at, 80 kPa"},
		{"no free flow", "[pump]\nfree_flow = \"0 L/min\"", 2, 13, "not above zero"},
		{"free flow of a room", "[pump]\nfree_flow = \"10 m3/min\"", 2, 13, "more than 2000 L/min"},
		{"bore in metres", "[hose]\nbore = \"4 m\"", 2, 8, "more than 100 mm"},
		{"length in kilometres", "[hose]\nlength = \"1.2 km\"", 2, 10, "more than 100 m"},

		{"curve is text", "[pump]\ncurve = \"10 L/min\"", 2, 9, "list of two or more pairs"},
		{"curve of one point", "[pump]\ncurve = [[\"0 kPa\", \"10 L/min\"]]", 2, 1, "list of two or more pairs"},
		{"curve with half a pair", "[pump]\ncurve = [[\"0 kPa\", \"10 L/min\"], [\"40 kPa\"]]", 2, 1, "point 2 is not a pair"},
		{"curve unsorted", "[pump]\ncurve = [[\"40 kPa\", \"5 L/min\"],\n [\"0 kPa\", \"10 L/min\"]]", 3, 3, "point 2: the vacuum 0 kPa is not deeper"},
		{"curve rising", "[pump]\ncurve = [[\"0 kPa\", \"5 L/min\"],\n [\"40 kPa\", \"10 L/min\"]]", 3, 13, "point 2: the flow 10 L/min is more"},
		{"curve with negative flow", "[pump]\ncurve = [[\"0 kPa\", \"5 L/min\"],\n [\"40 kPa\", \"-1 L/min\"]]", 3, 13, "below zero"},
		{"curve with negative vacuum", "[pump]\ncurve = [[\"0 kPa\", \"5 L/min\"],\n [\"-40 kPa\", \"1 L/min\"]]", 3, 3, "negative"},
		{"curve with wrong unit", "[pump]\ncurve = [[\"0 kPa\", \"5 L/min\"],\n [\"40 kPa\", \"1 L\"]]", 3, 13, "L is a unit of volume"},
		{"curve with bare numbers", "[pump]\ncurve = [[0, 5],\n [40, 1]]", 2, 11, `"0 kPa"`},
		{"curve with ±", "[pump]\ncurve = [[\"0 ± 1 kPa\", \"5 L/min\"],\n [\"40 kPa\", \"1 L/min\"]]", 2, 11, "has a ±"},
		{"curve of zeros", "[pump]\ncurve = [[\"0 kPa\", \"0 L/min\"],\n [\"40 kPa\", \"0 L/min\"]]", 2, 1, "all its flows are zero"},
		{"curve deeper than the air", "[pump]\ncurve = [[\"0 kPa\", \"5 L/min\"],\n [\"90 kPa\", \"0 L/min\"]]\n[air]\npressure = \"80 kPa\"", 2, 1, "90 kPa is deeper than the air pressure 80 kPa"},

		{"span of one figure", "[gauge]\nspan = \"100 kPa\"", 2, 8, "two figures with .. between"},
		{"span the wrong way round", "[gauge]\nspan = \"100..0 kPa\"", 2, 8, "low end"},
		{"span without unit", "[gauge]\nspan = \"0..100\"", 2, 8, `"0..100 kPa"`},
		{"span is a number", "[gauge]\nspan = 100", 2, 8, "0..100 kPa"},
		{"span of a hydraulic gauge", "[gauge]\nspan = \"0..100 bar\"", 2, 8, "wide: can a vacuum gauge have that?"},
		{"span of nothing", "[gauge]\nspan = \"0..100 Pa\"", 2, 8, "is only 0.100 kPa wide"},
		{"accuracy without unit", "[gauge]\naccuracy = \"0.5\"", 2, 12, "in % of the span, or a pressure"},
		{"accuracy is a number", "[gauge]\naccuracy = 0.005", 2, 12, "needs a unit"},
		{"accuracy as a pressure without span", "[gauge]\naccuracy = \"0.5 kPa\"", 2, 12, "needs the gauge's span"},
		{"accuracy of a third", "[gauge]\naccuracy = \"33 %\"", 2, 12, "at most 20 %"},
		{"accuracy of a third as a pressure", "[gauge]\naccuracy = \"33 kPa\"\nspan = \"0..100 kPa\"", 2, 12, "at most 20 %"},
		{"accuracy of nothing", "[gauge]\naccuracy = \"0 %\"", 2, 12, "above zero"},
		{"accuracy below nothing", "[gauge]\naccuracy = \"-1 kPa\"\nspan = \"0..100 kPa\"", 2, 12, "above zero"},
		{"accuracy with ±", "[gauge]\naccuracy = \"0.5 ± 0.1 %\"", 2, 12, "has a ±"},
		{"accuracy in a wrong unit", "[gauge]\naccuracy = \"0.5 mm\"", 2, 12, "unit of length"},
		{"class of none", "[gauge]\nclass = \"3\"", 2, 9, "not an accuracy class of EN 837-1"},
		{"class in per cent", "[gauge]\nclass = \"1.6 %\"", 2, 9, "not an accuracy class of EN 837-1"},
		{"class beside accuracy", "[gauge]\nclass = \"1.6\"\naccuracy = \"1 %\"", 2, 9, "keep the one that is on the gauge"},
		{"resolution below zero", "[gauge]\nresolution = \"-1 kPa\"", 2, 14, "not above zero"},
		{"resolution with ±", "[gauge]\nresolution = \"1 ± 1 kPa\"", 2, 14, "has a ±"},
		{"division of a scale", "[gauge]\ndivision = \"10 inHg\"", 2, 12, "more than 20 kPa"},
		{"division of a third of the scale", "[gauge]\ndivision = \"10 kPa\"\nspan = \"0..30 kPa\"", 2, 12, "a quarter of the span"},
		{"zero beyond the air", "[gauge]\nzero = \"200 kPa\"", 2, 8, "more than 110 kPa"},
		{"zero below the air", "[gauge]\nzero = \"-200 kPa\"", 2, 8, "below -110 kPa"},
		{"response of a minute and more", "[gauge]\nresponse = \"2 min\"", 2, 12, "more than 60 s"},
		{"response in a wrong unit", "[gauge]\nresponse = \"0.05 Hz\"", 2, 12, "unit of speed"},

		{"not TOML", "volume = 62 cm3", 1, 13, "it is not TOML"},
		{"no quotes", "volume = 62 ± 3 cm3", 1, 13, "it is not TOML"},
		{"key twice", "volume = \"62 cm3\"\nvolume = \"63 cm3\"", 2, 1, "it is not TOML"},
		{"not UTF-8", "name = \"a\"\nvolume = \"62 \xb1 3 cm3\"", 0, 0, "line 2 has a letter that is not UTF-8"},
		{"UTF-16", "\xff\xfen\x00", 0, 0, "UTF-16"},
		{"binary", "\x7fELF\x00\x01", 0, 0, "not a text file"},
		{"huge", strings.Repeat("# 345678\n", 120000), 0, 0, "larger than 1 MiB"},
		{"columns are characters", "port = { held = \"thumb\", wet_with = \"µµ\", wetwith = \"oil\" }", 1, 43, "did you mean port.wet_with?"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r, err := Read(strings.NewReader(tt.text), "mine.toml")
			var faults Faults
			if !errors.As(err, &faults) {
				t.Fatalf("no faults but %v, of\n%s", err, tt.text)
			}
			if !reflect.DeepEqual(r, rig.Rig{}) {
				t.Errorf("a faulty file gave a rig: %+v", r)
			}
			var hit *Fault
			for _, f := range faults {
				if strings.Contains(f.Problem, tt.says) {
					hit = f
				}
			}
			if hit == nil {
				t.Fatalf("no fault says %q:\n%v", tt.says, err)
			}
			if hit.Line != tt.line || hit.Column != tt.column || hit.File != "mine.toml" {
				t.Errorf("at %s:%d:%d, want line %d, column %d: %v", hit.File, hit.Line, hit.Column, tt.line, tt.column, hit)
			}
			if tt.name == "unknown table, told once" && len(faults) != 1 {
				t.Errorf("%d faults, want 1:\n%v", len(faults), err)
			}
		})
	}
}

// TestAllFaultsTogether: every fault is told, in the order of the lines, and
// errors of package unit are found inside.
func TestAllFaultsTogether(t *testing.T) {
	const text = "volume = 62\ncolour = \"red\"\n[pump]\nblanked = \"78 mm\"\nfree_flow = \"10 qkL/min\"\n[air]\npressure = \"1013 kPa\"\n"
	_, err := Read(strings.NewReader(text), "mine.toml")
	var faults Faults
	if !errors.As(err, &faults) || len(faults) != 5 {
		t.Fatalf("got %v, want 5 faults", err)
	}
	for i, line := range []int{1, 2, 4, 5, 7} {
		if faults[i].Line != line {
			t.Errorf("fault %d is of line %d, want %d", i, faults[i].Line, line)
		}
	}
	if !errors.As(err, new(*unit.MissingUnitError)) || !errors.As(err, new(*unit.WrongUnitError)) || !errors.As(err, new(*unit.UnknownUnitError)) {
		t.Errorf("the unit's errors are not found in %v", err)
	}
	const first = `rig file mine.toml, line 1, column 10: volume: parse "62": a volume needs a unit, such as "62 cm3"`
	if got := strings.Split(err.Error(), "\n"); len(got) != 5 || got[0] != first {
		t.Errorf("first line is %q, want %q", got[0], first)
	}
}

func TestReaderFails(t *testing.T) {
	broken := errors.New("the disk is gone")
	_, err := Read(iotest.ErrReader(broken), "mine.toml")
	if !errors.Is(err, broken) || !strings.Contains(err.Error(), "mine.toml") {
		t.Errorf("got %v, want it to name the file and wrap %v", err, broken)
	}
}

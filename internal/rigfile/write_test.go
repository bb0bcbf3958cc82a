package rigfile

import (
	"bytes"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

var update = flag.Bool("update", false, "write golden files anew")

func TestWriteGolden(t *testing.T) {
	for _, name := range []string{"small-rig", "needle-rig"} {
		var b bytes.Buffer
		if err := Write(&b, readFile(t, name+".toml")); err != nil {
			t.Fatal(err)
		}
		golden := "testdata/" + name + ".golden"
		if *update {
			if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), want) {
			t.Errorf("%s is written as\n%s\nwant\n%s", name, b.Bytes(), want)
		}
	}
}

// TestWriteReadsBack: random rigs, some figures missing, all computed and so
// of no round number, come back the same.
func TestWriteReadsBack(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	some := func(low, high float64) unit.Measured {
		switch v := low + (high-low)*r.Float64(); r.IntN(3) {
		case 0:
			return unit.Measured{}
		case 1:
			return unit.Exactly(v)
		default:
			return unit.About(v, 0.1*v*r.Float64())
		}
	}
	for range 500 {
		want := rig.Rig{
			Name:    []string{"", "small", "a \"b\" \\ ½ µ", "#'"}[r.IntN(4)],
			Volume:  some(1e-5, 1e-3),
			RigLeak: some(0, 1e-6),
			Port: rig.Port{
				Volume: some(1e-5, 1e-3), HeadTemperature: some(260, 360),
				Held:    []rig.Held{"", rig.HeldNothing, rig.HeldThumb, rig.HeldLightSpring, rig.HeldOwnSpring}[r.IntN(5)],
				WetWith: []rig.Liquid{"", rig.WetNothing, rig.WetOil, rig.WetWater, rig.WetIsopropanol, rig.WetPetrol}[r.IntN(6)],
			},
			Pump: rig.Pump{
				FreeFlow: some(1e-5, 1e-3), Blanked: some(50e3, 80e3), RatedAt: some(85e3, 105e3),
				AfterShutOff: []rig.PumpState{"", rig.PumpStopped, rig.PumpRunning}[r.IntN(3)],
			},
			Hose: rig.Hose{Bore: some(1e-3, 1e-2), Length: some(0.1, 3), GaugeAt: []rig.GaugePlace{"", rig.GaugeAtPort, rig.GaugeAtPump}[r.IntN(3)]},
			Gauge: rig.Gauge{
				Kind: []rig.GaugeKind{"", rig.GaugeDigital, rig.GaugeNeedle}[r.IntN(3)],
				Zero: some(-500, 500), Response: some(0, 1),
			},
			Air: rig.Air{Pressure: some(85e3, 105e3), Altitude: some(0, 2000), Temperature: some(260, 310)},
		}
		want.Gauge.Zero.Spread = math.Abs(want.Gauge.Zero.Spread)
		if r.IntN(2) == 0 {
			want.Pump.Curve = []rig.PumpPoint{{Vacuum: 0, Flow: 1e-3 * (1 + r.Float64())}, {Vacuum: unit.Vacuum(1e4 * (1 + r.Float64())), Flow: 1e-3 * r.Float64()}, {Vacuum: 78e3}}
		}
		switch r.IntN(5) {
		case 0:
			want.Gauge.Span = rig.Span{Low: 0, High: 1e5 * (0.5 + r.Float64()), Known: true}
		case 1:
			want.Gauge.Span = rig.Span{Low: -1.1e5 - 2e5*r.Float64(), High: 1e5, Known: true}
		case 2:
			want.Gauge.Span = rig.Span{Low: 2e4 * r.Float64(), High: 25e4, Known: true}
		}
		switch r.IntN(3) {
		case 0:
			want.Gauge.Accuracy = unit.Exactly(0.1 * (0.01 + r.Float64()))
		case 1:
			want.Gauge.Class = classes[r.IntN(len(classes))]
		}
		if r.IntN(2) == 0 {
			want.Gauge.Resolution, want.Gauge.Division = 100*(0.1+r.Float64()), 1000*(0.1+r.Float64())
		}
		var b bytes.Buffer
		if err := Write(&b, want); err != nil {
			t.Fatalf("%v\nof %+v", err, want)
		}
		got, err := Read(&b, "written")
		if err != nil {
			t.Fatalf("reading back: %v", err)
		}
		if !same(got, want) {
			t.Fatalf("got\n%+v\nwant\n%+v", got, want)
		}
	}
}

// TestSame: what the property tests compare with does see a difference.
func TestSame(t *testing.T) {
	a, b := rig.Rig{}, rig.Rig{}
	if !same(a, b) {
		t.Error("two empty rigs differ")
	}
	b.Volume = unit.About(62e-6, 3e-6)
	a.Volume = unit.About(62e-6, math.Nextafter(3e-6, 1))
	if same(a, b) {
		t.Error("a spread that differs in its last bit is not seen")
	}
	a, b = rig.Rig{}, rig.Rig{}
	a.Gauge.Accuracy, b.Gauge.Accuracy = unit.Exactly(0.005), unit.Exactly(0.005000001)
	if same(a, b) {
		t.Error("an accuracy that differs is not seen")
	}
}

func TestWriteRefuses(t *testing.T) {
	tests := []struct {
		name string
		rig  rig.Rig
		says string
	}{
		{"negative volume", rig.Rig{Volume: unit.Exactly(-1e-6)}, "not above zero"},
		{"NaN", rig.Rig{Volume: unit.Exactly(math.NaN())}, "can't hold this rig"},
		{"infinite", rig.Rig{Volume: unit.Exactly(math.Inf(1))}, "no figure"},
		{"unknown but with a value", rig.Rig{Volume: unit.Measured{Value: 1}}, "can't hold this rig"},
		{"accuracy and class", rig.Rig{Gauge: rig.Gauge{Class: 1.6, Accuracy: unit.Exactly(0.01)}}, "keep the one"},
		{"accuracy with doubt", rig.Rig{Gauge: rig.Gauge{Accuracy: unit.About(0.01, 0.001)}}, "can't hold this rig"},
		{"unheard-of liquid", rig.Rig{Port: rig.Port{WetWith: "tea"}}, "is not one of"},
		{"curve of one point", rig.Rig{Pump: rig.Pump{Curve: []rig.PumpPoint{{Flow: 1e-4}}}}, "two or more"},
		{"span that reads the other way round", rig.Rig{Gauge: rig.Gauge{Span: rig.Span{Low: -105e3, High: 100e3, Known: true}}}, "can't hold this rig"},
		{"name of two lines", rig.Rig{Name: "a\nb"}, "one line"},
		{"name not UTF-8", rig.Rig{Name: "a\xff"}, "can't hold this rig"},
	}
	for _, tt := range tests {
		var b bytes.Buffer
		err := Write(&b, tt.rig)
		if err == nil || !strings.Contains(err.Error(), tt.says) || b.Len() > 0 {
			t.Errorf("%s: error %v with %d bytes written, want none and one that says %q", tt.name, err, b.Len(), tt.says)
		}
	}
	full := errors.New("disk full")
	if err := Write(failing{full}, rig.Rig{Name: "a"}); !errors.Is(err, full) {
		t.Errorf("a writer that fails gives %v", err)
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// FuzzRead: no input makes it panic; whatever it takes as a rig can be written
// and reads back the same; whatever it refuses has a fault with a message, and
// a position inside the file.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"small-rig.toml", "needle-rig.toml", "small-rig.golden", "needle-rig.golden"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, s := range []string{
		"", "volume = 62", "[gauge]\nspan = \"-1..3 bar\"\naccuracy = \"0.01 bar\"", "pump = { curve = [[\"0 kPa\"]] }", "[[port]]\n[[port]]",
		"\"\".\"\" = 1", "\xff\xfe", "a.b.c.d = {e = {f = 1979-05-27T07:32:00Z}}", "[air]\npressure = \"29,92 inHg\"", "volume = [[[[]]]]",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Read(bytes.NewReader(data), "fuzzed")
		var faults Faults
		switch {
		case err == nil:
			var b bytes.Buffer
			if err := Write(&b, r); err != nil {
				t.Errorf("read but can't be written: %v", err)
			}
			// Edited into itself it stays as it is, but for the old way to say the unit.
			if text, err := Edit(string(data), r); err != nil || text != string(data) && !unitComment.Match(data) {
				t.Errorf("edited into itself it is %q, error %v", text, err)
			}
			to := r
			to.Name, to.Volume, to.Gauge.Unit, to.Pump.Blanked, to.Hose.Bore = "edited", unit.Measured{}, "mbar", unit.Exactly(40e3), unit.Exactly(5e-3)
			to.Pump.RatedAt, to.Air.Pressure = unit.Measured{}, unit.Measured{}
			text, err := Edit(string(data), to)
			if err != nil {
				t.Fatalf("can't be edited: %v", err)
			}
			if back, err := Read(strings.NewReader(text), "edited"); err != nil || !same(back, to) {
				t.Errorf("edited it reads as %+v, error %v, want %+v; text %q", back, err, to, text)
			}
		case !errors.As(err, &faults) || len(faults) == 0:
			t.Errorf("error without faults: %v", err)
		default:
			lines := bytes.Count(data, []byte("\n")) + 1
			for _, f := range faults {
				if f.Problem == "" || f.Line < 0 || f.Line > lines || f.Line > 0 && f.Column < 1 {
					t.Errorf("fault %#v in a file of %d lines", f, lines)
				}
			}
		}
	})
}

package rigfile

import (
	"bytes"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

// A file with a person's own comments above, between and behind its keys: what
// changes is changed where it stands, and all else stays to the byte.
func TestEdit(t *testing.T) {
	const file = `# my rig, the one in the red box
name = "bench rig"     # as on its label
volume = "62 ± 2.5 cm3"           # hose and plate: filled with water

# the pump came without papers
[pump]
# read three times
blanked = "23 inHg"    # at 640 m
free_flow = '10 L/min' # from its label: "10 l/min"
# look at the valves in spring

[gauge]
span = "-30..0 inHg" # it has "1.6" on its dial # twice
# the end
`
	type set = func(*rig.Rig)
	for _, c := range []struct {
		name, file string
		set        set
		old, new   []string // in pairs: what stands in the place of what
	}{
		{"nothing", file, func(*rig.Rig) {}, nil, nil},
		{"a figure", file, func(r *rig.Rig) { r.Volume = unit.About(70e-6, 3e-6) }, []string{`"62 ± 2.5 cm3"           #`}, []string{`"70 ± 3 cm³"             #`}},
		{"a figure longer than its room", file, func(r *rig.Rig) { r.Pump.FreeFlow = mustParse("12.345 ± 0.125 L/min", unit.FlowDim) }, []string{`'10 L/min' #`}, []string{`"12.345 ± 0.125 L/min" #`}},
		{"a key goes, its comment stays", file, func(r *rig.Rig) { r.Pump.Blanked = unit.Measured{} }, []string{`blanked = "23 inHg"    # at 640 m`}, []string{`# at 640 m`}},
		{"the last key of a table goes", file, func(r *rig.Rig) { r.Gauge.Span = rig.Span{} }, []string{`span = "-30..0 inHg" # it has`}, []string{`# it has`}},
		{"a key comes to a table", file, func(r *rig.Rig) { r.Gauge.Unit = "inHg" }, []string{"# twice\n"}, []string{"# twice\nunit = \"inHg\"\n"}},
		{"two keys come, in their order", file, func(r *rig.Rig) { r.Gauge.Kind, r.Gauge.Class = rig.GaugeNeedle, 1.6 }, []string{"# twice\n"}, []string{"# twice\nkind = \"needle\"\nclass = \"1.6\"\n"}},
		{"a key comes at the top", file, func(r *rig.Rig) { r.RigLeak = unit.Exactly(1e-6 / 60) }, []string{"filled with water\n"}, []string{"filled with water\nrig_leak = \"1 cm³/min\"\n"}},
		{"a table comes", file, func(r *rig.Rig) { r.Air.Altitude = unit.Exactly(640) }, []string{"# the end\n"}, []string{"# the end\n\n[air]\naltitude = \"640 m\"\n"}},
		{"a reading in the gauge's unit", strings.Replace(file, "[gauge]\n", "[gauge]\nunit = \"inHg\"\n", 1),
			func(r *rig.Rig) { r.Pump.Blanked = mustParse("21.5 inHg", unit.PressureDim) }, []string{`"23 inHg"    #`}, []string{`"21.5 inHg"  #`}},
		{"the unit that stood in a comment", "# gauge unit: inHg\n# mine\nname = \"a\"\n", func(r *rig.Rig) { r.Name = "b" },
			[]string{"# gauge unit: inHg\n", "\"a\"\n"}, []string{"", "\"b\"\n\n[gauge]\nunit = \"inHg\"\n"}},
		{"no table at all", "name = \"a\" # last line, without an end", func(r *rig.Rig) { r.Volume = unit.Exactly(5e-5) }, []string{"an end"}, []string{"an end\nvolume = \"50 cm³\"\n"}},
		{"no key at the top", "# about\n\n[hose] # long\nbore = \"4 mm\"\n", func(r *rig.Rig) { r.Name = "a" }, []string{"# about\n"}, []string{"# about\nname = \"a\"\n"}},
		{"nothing in it", "", func(r *rig.Rig) { r.Name = "a" }, []string{""}, []string{"name = \"a\"\n"}},
		{"comments alone", "# about\n", func(r *rig.Rig) { r.Air.Altitude = unit.Exactly(5) }, []string{"# about\n"}, []string{"# about\n\n[air]\naltitude = \"5 m\"\n"}},
		{"lines as another system ends them", "name = \"a\"\r\n# x\r\n[hose]\r\n", func(r *rig.Rig) { r.Hose.Bore = unit.Exactly(4e-3) }, []string{"[hose]\r\n"}, []string{"[hose]\r\nbore = \"4 mm\"\r\n"}},
		{"a mark before it", "\ufeffname = \"a\"\n", func(r *rig.Rig) { r.Name = "b" }, []string{`"a"`}, []string{`"b"`}},
		{"dotted keys", "pump.blanked = \"70 kPa\" # x\n# y\n", func(r *rig.Rig) { r.Pump.FreeFlow = unit.Exactly(1e-3 / 60) }, []string{"# x\n"}, []string{"# x\npump.free_flow = \"1 L/min\"\n"}},
		{"an inline table", "port = { volume = \"95 cm3\", held = \"thumb\" } # x\n", func(r *rig.Rig) { r.Port.WetWith = rig.WetOil }, []string{`"thumb"`}, []string{`"thumb", wet_with = "oil"`}},
		{"an inline table loses its last", "port = { volume = \"95 cm3\", held = \"thumb\" } # x\n", func(r *rig.Rig) { r.Port.Held = "" }, []string{`, held = "thumb"`}, []string{""}},
		{"an inline table loses its first", "port = { volume = \"95 cm3\", held = \"thumb\" } # x\n", func(r *rig.Rig) { r.Port.Volume = unit.Measured{} }, []string{`volume = "95 cm3", `}, []string{""}},
		{"a curve over many lines", "[pump]\ncurve = [ # measured\n [\"0 kPa\", \"10 L/min\"], # ] here\n ['78 kPa', '0 L/min'],\n] # end\nblanked = \"78 kPa\"\n",
			func(r *rig.Rig) { r.Pump.Curve = nil }, []string{"curve = [ # measured\n [\"0 kPa\", \"10 L/min\"], # ] here\n ['78 kPa', '0 L/min'],\n] # end\n"}, []string{"# end\n"}},
		{"an accuracy that is a pressure, on another span", "[gauge]\nspan = \"0..100 kPa\" # x\naccuracy = \"1 kPa\" # y\n",
			func(r *rig.Rig) { r.Gauge.Span.High = 200e3 }, []string{`"0..100 kPa"`, `"1 kPa"`}, []string{`"0..200 kPa"`, `"1 %"  `}},
	} {
		r, err := Read(strings.NewReader(c.file), c.name)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		c.set(&r)
		want := c.file
		for i := range c.old {
			if !strings.Contains(want, c.old[i]) {
				t.Fatalf("%s: the file has no %q", c.name, c.old[i])
			}
			want = strings.Replace(want, c.old[i], c.new[i], 1)
		}
		got, err := Edit(c.file, r)
		if err != nil || got != want {
			t.Errorf("%s: error %v, got\n%s\nwant\n%s", c.name, err, got, want)
			continue
		}
		if back, err := Read(strings.NewReader(got), c.name); err != nil || !same(back, r) {
			t.Errorf("%s: it reads back as %+v, error %v, want %+v", c.name, back, err, r)
		}
	}
}

func mustParse(text string, dim unit.Dimension) unit.Measured {
	q, err := unit.Parse(text, dim)
	if err != nil {
		panic(err)
	}
	return q.Measured
}

// Whichever figures change, come or go: the file reads as the rig, and every
// comment is still there, in its order.
func TestEditKeepsComments(t *testing.T) {
	var files []string
	for _, name := range []string{"testdata/small-rig.toml", "testdata/needle-rig.toml", "../../examples/inline-three/rig.toml"} {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, string(b))
	}
	rigs := make([]rig.Rig, len(files))
	for i, f := range files {
		var err error
		if rigs[i], err = Read(strings.NewReader(f), "file"); err != nil {
			t.Fatal(err)
		}
	}
	dice := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		from := dice.IntN(len(files))
		r := rigs[from]
		for range 1 + dice.IntN(6) {
			f := fields[dice.IntN(len(fields))]
			other := rigs[dice.IntN(len(rigs))]
			if dice.IntN(3) == 0 {
				other = rig.Rig{}
			}
			mix(&r, other, f.key)
		}
		var b bytes.Buffer
		if Write(&b, r) != nil {
			continue // no file can hold this mixture
		}
		got, err := Edit(files[from], r)
		if err != nil {
			t.Fatalf("%v\nof %+v in\n%s", err, r, files[from])
		}
		if back, err := Read(strings.NewReader(got), "edited"); err != nil || !same(back, r) {
			t.Fatalf("it reads back as %+v, error %v, want %+v", back, err, r)
		}
		left := got
		for _, line := range strings.Split(files[from], "\n") {
			i := strings.Index(line, "#")
			if i < 0 {
				continue
			}
			// A value of several lines takes the comments inside it along.
			if strings.Contains(line, "as measured") {
				continue
			}
			k := strings.Index(left, line[i:])
			if k < 0 {
				t.Fatalf("%q is gone, or stands elsewhere, in\n%s", line[i:], got)
			}
			left = left[k+len(line[i:]):]
		}
	}
}

// mix takes one field over.
func mix(r *rig.Rig, from rig.Rig, key string) {
	switch key {
	case "name":
		r.Name = from.Name
	case "volume":
		r.Volume = from.Volume
	case "port.volume":
		r.Port.Volume = from.Port.Volume
	case "port.held":
		r.Port.Held = from.Port.Held
	case "pump.curve":
		r.Pump.Curve = from.Pump.Curve
	case "pump.blanked":
		r.Pump.Blanked = from.Pump.Blanked
	case "hose.bore":
		r.Hose.Bore = from.Hose.Bore
	case "hose.gauge_at":
		r.Hose.GaugeAt = from.Hose.GaugeAt
	case "gauge.unit":
		r.Gauge.Unit = from.Gauge.Unit
	case "gauge.span":
		r.Gauge.Span = from.Gauge.Span
	case "gauge.division":
		r.Gauge.Division = from.Gauge.Division
	case "air.altitude":
		r.Air.Altitude = from.Air.Altitude
	case "air.temperature":
		r.Air.Temperature = from.Air.Temperature
	}
}

func TestEditRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		file string
		rig  rig.Rig
		says string
	}{
		"no TOML":                 {"name = ", rig.Rig{Name: "a"}, "not TOML"},
		"a negative volume":       {"name = \"a\"\n", rig.Rig{Volume: unit.Exactly(-1e-6)}, "not above zero"},
		"a unit that is none":     {"", rig.Rig{Gauge: rig.Gauge{Unit: "mm"}}, "no unit of pressure"},
		"accuracy beside a class": {"[gauge]\nclass = \"1.6\"\n", rig.Rig{Gauge: rig.Gauge{Class: 1.6, Accuracy: unit.Exactly(0.01)}}, "keep the one"},
	} {
		if got, err := Edit(c.file, c.rig); err == nil || !strings.Contains(err.Error(), c.says) || got != "" {
			t.Errorf("%s: %q, error %v, want one that says %q", name, got, err, c.says)
		}
	}
}

// The unit of a gauge is read from its key, and from the comment of older files,
// the key going before it.
func TestGaugeUnit(t *testing.T) {
	for file, want := range map[string]string{
		"":                           "",
		"[gauge]\nunit = \"inHg\"\n": "inHg",
		"# gauge unit: mbar\n":       "mbar",
		"# gauge unit: furlong\n":    "",
		"# gauge unit: mbar\r\n":     "mbar",
		"# gauge unit: mbar\n[gauge]\nunit = \"psi\"\n": "psi",
		"name = \"# gauge unit: mbar\"\n":               "",
	} {
		r, err := Read(strings.NewReader(file), "f")
		if err != nil || r.Gauge.Unit != want {
			t.Errorf("%q: unit %q, error %v, want %q", file, r.Gauge.Unit, err, want)
		}
	}
}

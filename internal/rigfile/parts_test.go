package rigfile

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"
)

const goodParts = `name = "few"
fittings = "20 ± 8 cm3"
[air]
altitude = "240 m"
[[pump]]
name = "small"
free_flow = ["10 L/min", "0.35 cfm"]
blanked = "78 ± 2 kPa / 23 inHg"
power = "1/60 hp"
price = "28 EUR"
have = true
[[pump]]
curve = [["0 kPa", "10 L/min"], ["78 kPa", "0 L/min"]]
rated_at = "here"
[[gauge]]
division = "1 inHg"
class = 2.5
span = "0..30 inHg"
[[hose]]
bore = "6 mm"
length = "0.6 m"
[[port]]
valves = ["27 mm", "1 in"]
`

func TestReadParts(t *testing.T) {
	p, err := ReadParts(strings.NewReader(goodParts), "few.toml")
	if err != nil {
		t.Fatal(err)
	}
	a := p.Pumps[0]
	if len(p.Pumps) != 2 || a.Name != "small" || p.Pumps[1].Name != "pump 2" || !p.Pumps[1].ReadHere || len(p.Pumps[1].Pump.Curve) != 2 {
		t.Errorf("pumps %+v", p.Pumps)
	}
	if len(a.Flows) != 2 || len(a.Vacuums) != 2 || a.Vacuums[1].Text != "23 inHg" || a.Pump.Blanked.Spread != 2000 || !a.Have || a.Price != 28 || a.Money != "EUR" {
		t.Errorf("first pump %+v", a)
	}
	if math.Abs(a.Power-745.6999/60) > 1e-6 { // mechanical horsepower, NIST SP 811 B.8
		t.Errorf("power %g W", a.Power)
	}
	if h := p.Ports[0].Heads; len(h) != 2 || h[1] != 0.0254 {
		t.Errorf("valves %v", h)
	}
	if p.Gauges[0].Gauge.Class != 2.5 || math.Abs(p.Gauges[0].Gauge.Span.High-30*3386.389) > 0.1 || p.Air.Altitude.Value != 240 {
		t.Errorf("gauge %+v, air %+v", p.Gauges[0], p.Air)
	}
}

// Every fault is told at once, with line and column.
func TestPartsFaults(t *testing.T) {
	for _, c := range []struct{ name, from, to, want string }{
		{"unknown key", `power = "1/60 hp"`, `pwer = "12 W"`, `line 9, column 1: unknown key "pump.pwer": did you mean power?`},
		{"unknown table", "[[hose]]", "[[tube]]", "line 19, column 3: unknown table [tube]"},
		{"single bracket", "[[hose]]", "[hose]", "line 19, column 2: there may be several: write it in double brackets, [[hose]]"},
		{"wrong unit", `"10 L/min"`, `"10 kPa"`, "line 7, column 14: pump.free_flow: figure 1"},
		{"no unit", `bore = "6 mm"`, `bore = "6"`, "line 20, column 8: hose.bore"},
		{"power in litres", `"1/60 hp"`, `"12 L"`, `line 9, column 9: pump.power: "12 L" is no power`},
		{"no class", "class = 2.5", "class = 3", "line 17, column 9: gauge.class"},
		{"too many", "have = true", `have = "perhaps"`, "line 11, column 8: pump.have: it is true or false"},
		{"not TOML", "[air]", "[air", "line 3"},
		{"lacks a length", `length = "0.6 m"`, "", "line 19, column 3: hose.bore: it lacks bore or length"},
		{"lacks all of a port", `valves = ["27 mm", "1 in"]`, "", "line 22, column 3: port.valves: it lacks volume"},
		{"tiny valve", `"27 mm"`, `"2.7 mm"`, "line 23, column 11: port.valves: figure 1: \"2.7 mm\" is less than any valve's head"},
		{"a negative vacuum", `"78 ± 2 kPa / 23 inHg"`, `"-78 kPa"`, "line 8, column 11: pump.blanked: -78 kPa is negative"},
		{"a pump that lacks its flow", `free_flow = ["10 L/min", "0.35 cfm"]`, "", "line 5, column 3: pump.free_flow: it lacks its flow"},
	} {
		text := strings.Replace(goodParts, c.from, c.to, 1)
		if text == goodParts {
			t.Fatalf("%s: nothing to replace", c.name)
		}
		_, err := ReadParts(strings.NewReader(text), "few.toml")
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "parts list few.toml") {
			t.Errorf("%s: got %v\nwant %s", c.name, err, c.want)
		}
	}
	_, err := ReadParts(strings.NewReader("[[pump]]\nfree_flow = \"x\"\nblanked = \"y\"\n"), "two.toml")
	var all Faults
	if !errors.As(err, &all) || len(all) != 2 {
		t.Errorf("two faults: got %v", err)
	}
	if _, err := ReadParts(strings.NewReader(""), "none.toml"); err == nil {
		t.Error("an empty list is read")
	}
}

// The engine of a parts list: what it says, and a word for each that can't be.
func TestEngineOfParts(t *testing.T) {
	const rest = "[[port]]\nvalves = [\"27 mm\"]\n[[pump]]\nfree_flow = \"10 L/min\"\nblanked = \"78 kPa\"\n[[gauge]]\ndivision = \"1 inHg\"\n[[hose]]\nbore = \"6 mm\"\nlength = \"0.6 m\"\n[engine]\n"
	p, err := ReadParts(strings.NewReader(rest+"bore = \"2.835 in\"\nstroke = \"73.7 ± 0.2 mm\"\ncompression_ratio = 9.5\ncranking = \"250 rpm\"\nintake_closes = \"50 deg\"\nvalves = [\"27 mm\", \"23 mm\"]\ncost = \"3 %\"\n"), "x.toml")
	if err != nil {
		t.Fatal(err)
	}
	if e := p.Engine; math.Abs(e.Bore.Value-72e-3) > 1e-5 || e.Stroke.Spread == 0 || e.Ratio.Value != 9.5 || !e.Cranking.Known || !e.IntakeCloses.Known || len(e.Heads) != 2 || e.Share != 0.03 {
		t.Errorf("%+v", e)
	}
	for _, c := range []struct{ lines, want string }{
		{"stroke = \"70 mm\"", "line 11, column 2: engine.bore: it lacks its bore"},
		{"bore = \"72 mm\"\nstroke = \"80 mm\"\nrod = \"30 mm\"", "engine.rod: a rod of 30 mm does not reach round a stroke of 80 mm"},
		{"bore = \"0 mm\"", "engine.bore: 0 mm is not above zero"},
		{"bore = \"72 mm\"\ncompression_ratio = 0.9", "engine.compression_ratio: a compression ratio of 0.9 is none"},
		{"bore = \"72 mm\"\ncranking = \"30000 rpm\"", "engine.cranking: "},
		{"bore = \"72 mm\"\ncost = \"90 %\"", "engine.cost: 90 % of the cranking pressure can't be a limit"},
		{"bore = \"72 mm\"\nstrok = \"70 mm\"", "did you mean stroke"},
	} {
		if _, err := ReadParts(strings.NewReader(rest+c.lines+"\n"), "x.toml"); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want %q", c.lines, err, c.want)
		}
	}
	if _, err := ReadParts(strings.NewReader(strings.Replace(rest, "[engine]", "[[engine]]", 1)+"bore = \"72 mm\"\n"), "x.toml"); err == nil || !strings.Contains(err.Error(), "there is one [engine] only") {
		t.Errorf("two engines: %v", err)
	}
}

// A form says the same as a file, and its faults name the item.
func TestFillParts(t *testing.T) {
	form := Form{
		"":      {{"fittings": "20 ± 8 cm3"}},
		"air":   {{"altitude": "240 m"}},
		"pump":  {{}, {"name": "small", "free_flow": "10 L/min / 0.35 cfm", "blanked": "78 kPa", "have": "yes"}, {"curve": "0 kPa, 10 L/min / 78 kPa, 0 L/min"}},
		"gauge": {{"division": "1 inHg"}},
		"hose":  {{"bore": "6 mm", "length": "0.6 m"}},
		"port":  {{"valves": "27 mm / 1 in"}},
	}
	p, err := FillParts(form)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Pumps) != 2 || len(p.Pumps[0].Flows) != 2 || !p.Pumps[0].Have || len(p.Pumps[1].Pump.Curve) != 2 || len(p.Ports[0].Heads) != 2 || p.Air.Altitude.Value != 240 {
		t.Errorf("%+v", p)
	}
	for key, spoil := range map[string]func(){
		"pump.1.free_flow": func() { form["pump"][1]["free_flow"] = "10 m" },
		"pump.1.blanked":   func() { form["pump"][1]["blanked"] = "" },
		"hose":             func() { form["hose"] = nil },
	} {
		keep := map[string]string{}
		for k, v := range form["pump"][1] {
			keep[k] = v
		}
		hose := form["hose"]
		spoil()
		_, err := FillParts(form)
		var all Faults
		if !errors.As(err, &all) || all[0].Key != key {
			t.Errorf("want a fault at %s, got %v", key, err)
		}
		form["pump"][1], form["hose"] = keep, hose
	}
}

// Every key of a parts list stands in docs/rig.md.
func TestPartsKeysInDocs(t *testing.T) {
	page, err := os.ReadFile("../../docs/rig.md")
	if err != nil {
		t.Fatal(err)
	}
	for kind, keys := range partsKeys {
		for _, k := range keys {
			if !strings.Contains(string(page), "`"+k+"`") {
				t.Errorf("docs/rig.md lacks %s of [%s]", k, kind)
			}
		}
	}
}

// The example of the folder examples is read.
func TestExampleParts(t *testing.T) {
	f, err := os.Open("../../examples/parts/small-four-valve.toml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := ReadParts(f, "example")
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Pumps) != 5 || len(p.Gauges) != 3 || len(p.Hoses) != 3 || len(p.Ports) != 2 {
		t.Errorf("%d pumps, %d gauges, %d hoses, %d ports", len(p.Pumps), len(p.Gauges), len(p.Hoses), len(p.Ports))
	}
}

func FuzzReadParts(f *testing.F) {
	f.Add(goodParts)
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ReadParts(strings.NewReader(text), "fuzz")
		if err == nil && (len(p.Pumps) == 0 || len(p.Ports) == 0) {
			t.Error("a list without pump or port is read")
		}
	})
}

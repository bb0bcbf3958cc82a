package report

import (
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/internal/rigfile"
	"seatproof/rig"
	"seatproof/unit"
)

// exampleChoice is the choice of a parts list of the folder examples.
func exampleChoice(t *testing.T, list string, change func(*check.Parts)) *check.Choice {
	t.Helper()
	f, err := os.Open("../../examples/parts/" + list)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := rigfile.ReadParts(f, list)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&p)
	}
	c, err := check.Choose(p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The words hold no figure that is none, and no more than two digits where two do.
func TestChoiceWords(t *testing.T) {
	inHg, _ := UnitNamed("inHg")
	for _, list := range []string{"1-pump.toml", "2-gauge.toml", "3-hose.toml", "small-four-valve.toml"} {
		c := exampleChoice(t, list, nil)
		for _, s := range []Style{{}, {Unit: inHg}, {Full: true}} {
			var b strings.Builder
			if err := WriteChoice(&b, Choice(c, s), s); err != nil {
				t.Fatal(err)
			}
			if m := regexp.MustCompile(`NaN|Inf|%!|\{\}|  ,|\d\.\d{6}`).FindString(b.String()); m != "" {
				t.Errorf("%s: %q in\n%s", list, m, b.String())
			}
			for _, want := range []string{"Take: ", "Best first", "Parts\n", "In this order", "Altitude", "Before the first port", "Cautions", "Guessed"} {
				if !strings.Contains(b.String(), want) {
					t.Errorf("%s lacks %q", list, want)
				}
			}
			if s.Unit.Name == "inHg" && strings.Contains(b.String(), " kPa at the limit") {
				t.Errorf("%s: kPa where inHg were asked for", list)
			}
		}
	}
}

// The limit stands in the chart where its leak is, and each pump's line
// falls all the way.
func TestChoiceChart(t *testing.T) {
	c := exampleChoice(t, "1-pump.toml", nil)
	svg, legend := chooseChart(c, Style{}, chooseSheet)
	if len(legend) != 4 || !legend[0].Best || legend[0].Name != c.Parts.Pumps[c.Rigs[0].Pump].Name {
		t.Errorf("legend %v", legend)
	}
	if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
		t.Error("the chart has a point that is none")
	}
	limit := c.Rigs[0].Ports[0].Limit * cm3min
	x := axis{from: 1, to: 1e6, a: chooseSheet.left, b: chooseSheet.right, log: true}
	m := regexp.MustCompile(`class="limit" d="M([\d.]+) `).FindStringSubmatch(svg)
	if m == nil {
		t.Fatal("no limit")
	}
	if at, _ := strconv.ParseFloat(m[1], 64); math.Abs(at-x.at(limit)) > 0.01 {
		t.Errorf("the limit, %.3g cm³/min, stands at %g px, want %g", limit, at, x.at(limit))
	}
	lines := regexp.MustCompile(`class="thin" d="M([^"]+)"`).FindAllStringSubmatch(svg, -1)
	if len(lines) != 4 {
		t.Fatalf("%d lines, want 4", len(lines))
	}
	for i, l := range lines {
		nums := regexp.MustCompile(`[\d.]+`).FindAllString(l[1], -1)
		last := 0.0
		for k := 1; k < len(nums); k += 2 {
			v, _ := strconv.ParseFloat(nums[k], 64)
			if v < last {
				t.Errorf("line %d rises at point %d", i+1, k/2)
			}
			last = v
		}
	}
}

// The tee stands behind a thin hose and before a wide one, and never between pump
// and valve.
func TestPlumbing(t *testing.T) {
	order := func(svg string) string {
		m := regexp.MustCompile(`aria-label="From top to bottom: ([^"]*)"`).FindStringSubmatch(svg)
		if m == nil {
			t.Fatal("no words")
		}
		return m[1]
	}
	for _, c := range []struct {
		bore float64
		want string
	}{
		{1.5e-3, "pump, filter or trap, shut-off valve, hose, gauge tee, plate and pad, port"},
		{8e-3, "pump, filter or trap, shut-off valve, gauge tee, hose, plate and pad, port"},
	} {
		x := exampleChoice(t, "3-hose.toml", func(p *check.Parts) {
			p.Hoses = p.Hoses[:1]
			p.Hoses[0].Hose = rig.Hose{Bore: unit.Exactly(c.bore), Length: unit.Exactly(1)}
		})
		if got := order(plumbingSketch(x, &x.Rigs[0], Style{}, true)); got != c.want {
			t.Errorf("bore %g mm: %s, want %s", c.bore*1e3, got, c.want)
		}
		words := strings.Join(Choice(x, Style{}).Plumbing, " ")
		if c.bore < 2e-3 != strings.Contains(words, "hose, gauge tee, plate") {
			t.Errorf("bore %g mm: %s", c.bore*1e3, words)
		}
	}
}

// With nothing to weigh there is no drawing, and the words say so.
func TestChoiceOfNothing(t *testing.T) {
	c := exampleChoice(t, "3-hose.toml", func(p *check.Parts) { p.Pumps[0].Pump.Blanked = unit.Exactly(780e3) })
	out := Choice(c, Style{})
	var b strings.Builder
	if err := WriteChoice(&b, out, Style{}); err != nil || out.Pick != nil || !strings.Contains(b.String(), "no rig to weigh") || out.Chart != "" {
		t.Errorf("%v, %s", err, b.String())
	}
	if err := WritePlumbing(&b, c, Style{}); err == nil {
		t.Error("a rig of nothing is drawn")
	}
}

// Whatever parts of any size come together, words, figures and drawings hold
// nothing that is no figure.
func TestChoiceOfAnything(t *testing.T) {
	dice := rand.New(rand.NewPCG(7, 7))
	between := func(lo, hi float64) float64 { return lo * math.Pow(hi/lo, dice.Float64()) }
	weighed := 0
	for range 120 {
		p := check.Parts{Air: rig.Air{Altitude: unit.Exactly(between(1, 4000))}, Name: "<any> & all"}
		for range 2 {
			pump := check.PumpPart{Name: "p", Power: between(0.1, 1e4), Pump: rig.Pump{FreeFlow: unit.Exactly(between(1e-7, 3e-2)), Blanked: unit.Exactly(between(1e3, 2e5))}}
			if dice.IntN(3) == 0 {
				pump.Pump.Curve = []rig.PumpPoint{{Flow: between(1e-6, 1e-2)}, {Vacuum: unit.Vacuum(between(1e3, 1e5))}}
			}
			pump.ReadHere = dice.IntN(2) == 0
			p.Pumps = append(p.Pumps, pump)
			p.Gauges = append(p.Gauges, check.GaugePart{Name: "g", Gauge: rig.Gauge{Division: between(1, 2e4), Span: rig.Span{High: between(1e3, 1e6), Known: true}}})
			p.Hoses = append(p.Hoses, check.HosePart{Name: "h", Hose: rig.Hose{Bore: unit.Exactly(between(1e-4, 5e-2)), Length: unit.Exactly(between(1e-2, 50))}})
			p.Ports = append(p.Ports, check.PortPart{Name: "port", Volume: unit.Exactly(between(1e-6, 1e-2)), Limit: between(1e-9, 1e-4)})
		}
		c, err := check.Choose(p)
		if err != nil {
			continue
		}
		out := Choice(c, Style{})
		all, err := json.Marshal(out)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := WriteChoice(&b, out, Style{}); err != nil {
			t.Fatal(err)
		}
		b.Write(all)
		if len(c.Rigs) > 0 {
			weighed++
			for _, write := range []func(io.Writer, *check.Choice, Style) error{WriteChoiceChart, WriteChoiceRanges, WritePlumbing} {
				if err := write(&b, c, Style{}); err != nil {
					t.Fatal(err)
				}
			}
		}
		for _, bad := range []string{"NaN", "Inf", "%!"} {
			if i := strings.Index(b.String(), bad); i >= 0 {
				t.Fatalf("%q of %+v", b.String()[max(0, i-60):i+len(bad)], p)
			}
		}
	}
	if weighed < 60 {
		t.Errorf("only %d of 120 were weighed", weighed)
	}
}

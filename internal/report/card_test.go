package report

import (
	"bytes"
	"errors"
	"math"
	"os"
	"os/exec" // pdftotext, which says what a reader of PDF makes of the card
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/head"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

const testInHg = 3386.389 // Pa, NIST SP 811

// testCard is a card of made-up figures: no figure of it is computed.
func testCard(kinds int) WallCard {
	p := func(x float64) *float64 { x *= testInHg; return &x }
	line := check.CardLine{
		CardPort: check.CardPort{Name: "Intake port", Valves: []float64{27e-3, 27e-3}},
		Drop:     0.05 * testInHg, From: 22.25 * testInHg, Below: p(22.25),
		Holds: []check.CardHold{{By: rig.HeldLightSpring, For: 30, Lose: p(1.25), Over: p(6.5)}, {By: rig.HeldThumb, For: 15, Lose: p(0.5)}},
	}
	weak := line
	weak.Name, weak.Reading = "Exhaust port", p(21.5)
	weak.Valves = []float64{23.5e-3}
	dumb := line
	dumb.Name, dumb.Holds, dumb.Below = "Port", []check.CardHold{{By: rig.HeldOwnSpring, For: 120}}, nil
	all := []check.CardLine{line, weak, dumb, line, line}
	return WallCard{
		Card:  &check.Card{Unit: "inHg", Step: testInHg / 4, Needle: true, Blank: check.CardBlank{Reach: 23 * testInHg, For: 30, Lose: p(0.25)}, Ports: all[:kinds], AirLow: 98e3, AirHigh: 103e3},
		Title: "small-car head, 12 valves", Number: "QSH-0412", Rig: "12 V pump, needle gauge to ¼ inHg", Date: "12 June 2026", Invented: true, Version: "test",
	}
}

// The page is one of A5, and a reader of PDF gives its words and figures back,
// fractions and all.
func TestWallCardPDF(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing: tools/need.sh pdftotext poppler-utils")
		}
		t.Skip("pdftotext is not here; make full installs it")
	}
	var b, again bytes.Buffer
	if err := WriteWallCardPDF(&b, testCard(2)); err != nil {
		t.Fatal(err)
	}
	if err := WriteWallCardPDF(&again, testCard(2)); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("the same card twice is not the same file (%v)", err)
	}
	name := filepath.Join(t.TempDir(), "card.pdf")
	if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", name, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"Does the port hold?", "Never pump a port wet with fuel", "It must reach 23 inHg", "22¼ inHg", "1¼ inHg", "6½ inHg", "21½ inHg", "not below", "loses no more than", "leaks over",
		"two valves, 27 mm", "one valve, 23.5 mm", "can’t tell yet.", "98 to 103 kPa", "QSH-0412", "12 June 2026", "invented example", "1 / 1, A5"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in what pdftotext reads:\n%s", want, text)
		}
	}
	if n := strings.Count(string(out), "\f"); n != 1 {
		t.Errorf("%d pages, want 1", n)
	}
	// A5 is 148 by 210 mm (ISO 216), in points of 1/72 inch
	if !regexp.MustCompile(`/MediaBox \[0 0 419\.53 595\.28\]`).Match(b.Bytes()) {
		t.Errorf("no A5 page: %s", regexp.MustCompile(`/MediaBox[^\n]*`).Find(b.Bytes()))
	}
}

// The drawing stays on its page whatever the number of kinds, its text inside the
// frame; more kinds than a page holds are refused.
func TestWallCardFits(t *testing.T) {
	for kinds := 1; kinds <= MostKinds; kinds++ {
		a, err := testCard(kinds).draw()
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range a.marks {
			for _, p := range m.at {
				if p.x < cardFrame-0.01 || p.x+m.length > cardWide-cardFrame+0.01 || p.y < cardFrame-0.01 || p.y > cardHigh-cardFrame+0.01 {
					t.Errorf("%d kinds: %q at %.1f, %.1f, %.1f long, is outside the frame", kinds, m.text, p.x, p.y, m.length)
				}
			}
		}
	}
	var many *TooManyKinds
	if _, err := testCard(MostKinds + 1).draw(); !errors.As(err, &many) || many.Kinds != MostKinds+1 {
		t.Errorf("%d kinds: %v", MostKinds+1, err)
	}
}

func TestWallCardSVG(t *testing.T) {
	c := testCard(3)
	svg, err := WallCardSVG(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`role="img"`, `aria-label="Wall card: The blank must reach 23 inHg and lose no more than ¼ inHg in 30 s.`, ">1¼<", "the hold can’t tell"} {
		if !strings.Contains(svg, want) {
			t.Errorf("%s is not in the drawing", want)
		}
	}
	if strings.Contains(svg, "style=") {
		t.Error("a style attribute, which the sheets' policy forbids")
	}
}

// The words of every line, with and without each figure.
func TestWallCardWords(t *testing.T) {
	c := testCard(3)
	want := []string{
		"The blank must reach 23 inHg and lose no more than ¼ inHg in 30 s.",
		"Intake port, two valves, 27 mm: from 22¼ inHg or deeper; loses no more than 1¼ inHg in 30 s; leaks over 6½ inHg; leaks if it stands below 22¼ inHg.",
		"Exhaust port, one valve, 23.5 mm: not below 21½ inHg with the pump on; loses no more than 1¼ inHg in 30 s; leaks over 6½ inHg; leaks if it stands below 22¼ inHg.",
		"Port, two valves, 27 mm: from 22¼ inHg or deeper; the hold can’t tell in 120 s.",
	}
	for i, got := range c.Lines() {
		if got != want[i] {
			t.Errorf("got  %s\nwant %s", got, want[i])
		}
	}
	kpa := c
	k := *c.Card
	k.Unit, k.Step, k.Needle = "kPa", 200, false
	kpa.Card = &k
	if got := kpa.Figure(75400); got != "75.4 kPa" {
		t.Errorf("a display's figure: %s", got)
	}
	for _, l := range c.Ports {
		if rows := c.Rows(l); len(rows) < 2 {
			t.Errorf("%s: %v", l.Name, rows)
		}
	}
}

// Ports of one side with like valves and volume are one kind; others are told
// apart by their cylinders.
func TestCardPorts(t *testing.T) {
	j, faults := head.Layout(head.Scheme{Form: head.FormInline, Cylinders: 3, Valves: 4, IntakeHead: unit.Exactly(27e-3), ExhaustHead: unit.Exactly(23e-3), Bore: unit.Exactly(72e-3)})
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	got := CardPorts(&j, rig.Rig{})
	if len(got) != 2 || got[0].Name != "Intake port" || got[1].Name != "Exhaust port" || len(got[0].Valves) != 2 || got[1].Valves[0] != 23e-3 || !got[0].Guessed {
		t.Errorf("%+v", got)
	}
	j.Ports[0].Volume = unit.About(90e-6, 5e-6)
	var names []string
	for _, p := range CardPorts(&j, rig.Rig{}) {
		names = append(names, p.Name)
	}
	if want := "Intake port, cylinder 1; Intake port, cylinders 2 and 3; Exhaust port"; strings.Join(names, "; ") != want {
		t.Errorf("got %q, want %q", strings.Join(names, "; "), want)
	}
	if p := CardPorts(&j, rig.Rig{Port: rig.Port{Volume: unit.About(95e-6, 6e-6)}}); p[len(p)-1].Volume.Value != 95e-6 {
		t.Errorf("the rig's port goes before a guess: %+v", p)
	}
}

func TestCardValves(t *testing.T) {
	for _, c := range []struct {
		text  string
		names string
		sizes []float64
	}{
		{"27, 27 mm", "Port", []float64{27e-3, 27e-3}},
		{"33 mm", "Port", []float64{33e-3}},
		{"intake 27, 27 mm; exhaust: 23 mm;", "Intake port, Exhaust port", []float64{27e-3, 27e-3, 23e-3}},
		{"1.5 in", "Port", []float64{38.1e-3}},
	} {
		ports, err := CardValves(c.text, rig.Rig{})
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		var names []string
		var sizes []float64
		for _, p := range ports {
			names, sizes = append(names, p.Name), append(sizes, p.Valves...)
			if !p.Volume.Known || !p.Guessed {
				t.Errorf("%s: volume %+v", c.text, p.Volume)
			}
		}
		if strings.Join(names, ", ") != c.names || len(sizes) != len(c.sizes) {
			t.Errorf("%s: %v, %v", c.text, names, sizes)
			continue
		}
		for i := range sizes {
			if d := sizes[i] - c.sizes[i]; d > 1e-9 || d < -1e-9 {
				t.Errorf("%s: %v, want %v", c.text, sizes, c.sizes)
			}
		}
	}
	for _, text := range []string{"thirty", "27", "27 kPa", "27,, 27 mm"} {
		if p, err := CardValves(text, rig.Rig{}); err == nil {
			t.Errorf("%s: %+v, want an error", text, p)
		}
	}
}

// TestCardTakesTheHeadsLimit: what a head says of its limits comes to its wall
// card: its own gap of workmanship, a drop on the card's own pump, and where a
// limit can't be carried that is said, with the two usual ones in its place. A
// leak at workmanship's limit goes with the cube of the gap, less slip.
func TestCardTakesTheHeadsLimit(t *testing.T) {
	j, faults := head.Layout(head.Scheme{Form: head.FormInline, Cylinders: 1, Valves: 2, IntakeHead: unit.Exactly(27e-3), ExhaustHead: unit.Exactly(23e-3), Bore: unit.Exactly(72e-3)})
	if err := faults.Err(); err != nil {
		t.Fatal(err)
	}
	r := rig.Rig{
		Volume: unit.About(62e-6, 3e-6), RigLeak: unit.About(1e-8, 0.5e-8), Pump: rig.Pump{FreeFlow: unit.Exactly(10e-3 / 60), Blanked: unit.About(78e3, 1e3)},
		Gauge: rig.Gauge{Kind: rig.GaugeDigital, Unit: "kPa", Resolution: 100, Accuracy: unit.Exactly(0.005), Span: rig.Span{High: 100e3, Known: true}},
		Air:   rig.Air{Pressure: unit.About(101.3e3, 0.2e3), Temperature: unit.Exactly(293.15)},
	}
	card := func() (WallCard, check.CardLine, limit.Limit) {
		t.Helper()
		ports := CardPorts(&j, r)[:1]
		c, err := check.MakeCard(check.CardJob{Rig: r, Ports: ports, Engine: EngineLimit(&j), Held: rig.HeldOwnSpring})
		if err != nil {
			t.Fatal(err)
		}
		by, _ := c.Ports[0].Rules.Decides(0)
		return WallCard{Card: c}, c.Ports[0], by
	}
	_, usual, _ := card()
	j.Limit.Gap, j.Limit.NoCost = unit.Exactly(2e-6), true
	_, l, by := card()
	if by.Kind != limit.ByWorkmanship || by.Gap != 2e-6 || !(l.One < 0.4*usual.One && l.One > 0.29*usual.One) {
		t.Errorf("a gap of 2 µm: %.3g cm³/min by %+v, of the usual 3 µm %.3g", l.One*cm3min, by, usual.One*cm3min)
	}
	j.Limit.NoCost = false
	j.Limit.Basis, j.Limit.Drop = limit.ByDrop, unit.Exactly(6.77e3)
	// 2 inHg on 10 L/min and 78 kPa: 870 cm³/min of an opening (docs/model.md 7)
	_, l, by = card()
	if by.Kind != limit.ByDrop || math.Abs(by.Opening*cm3min/870-1) > 0.05 || l.One != by.Seep || l.Instead != "" {
		t.Errorf("a drop of 2 inHg: %.4g cm³/min by %+v", l.One*cm3min, by)
	}
	r.Pump.FreeFlow = unit.Measured{}
	c, l, by := card()
	if by.Kind == limit.ByDrop || !strings.Contains(strings.Join(c.Lines(), "\n"), "Not by the limit chosen for this head, a drop below the blanked reading: the pump's flow is not known.") || len(c.Guessed()) == 0 {
		t.Errorf("a drop on a pump not known: %+v, %v", by, c.Lines())
	}
	j.Limit.Basis, j.Limit.Good = limit.ByGoodPort, j.Ports[0].ID
	c, l, _ = card()
	if l.Instead == "" || !strings.Contains(LimitWords(l), "in place of the one chosen") {
		t.Errorf("a port known good without tests: %s", c.Line(l))
	}
}

// TestCardOthers: of a cylinder of which one kind of port is named the other is
// guessed, so that its valves have their part of what the engine can spare: the
// limit is then about that with both named, or stricter, and the card says so.
func TestCardOthers(t *testing.T) {
	r := rig.Rig{
		Volume: unit.About(62e-6, 3e-6), RigLeak: unit.About(1e-8, 0.5e-8), Pump: rig.Pump{FreeFlow: unit.Exactly(10e-3 / 60), Blanked: unit.About(78e3, 1e3)},
		Gauge: rig.Gauge{Kind: rig.GaugeDigital, Unit: "kPa", Resolution: 100, Accuracy: unit.Exactly(0.005), Span: rig.Span{High: 100e3, Known: true}},
		Air:   rig.Air{Pressure: unit.About(101.3e3, 0.2e3), Temperature: unit.Exactly(293.15)},
	}
	made := func(valves string) (WallCard, float64) {
		t.Helper()
		ports, err := CardValves(valves, r)
		if err != nil {
			t.Fatal(err)
		}
		e := check.Engine{Others: CardOthers(ports)}
		e.Bore = unit.Exactly(39e-3)
		c, err := check.MakeCard(check.CardJob{Rig: r, Ports: ports, Engine: e, Held: rig.HeldOwnSpring})
		if err != nil {
			t.Fatal(err)
		}
		return WallCard{Card: c}, c.Ports[0].One
	}
	whole, both := made("intake 19, 19 mm; exhaust 17, 17 mm")
	if w := strings.Join(whole.Lines(), " "); strings.Contains(w, "not named") || strings.Contains(w, "guessed;") && strings.Contains(w, "other valves") {
		t.Errorf("with both named: %s", w)
	}
	for valves, least := range map[string]float64{"intake 19, 19 mm": 0.95, "19, 19 mm": 0.85} {
		c, one := made(valves)
		if one > 1.03*both || one < least*both {
			t.Errorf("%s: %.3g cm³/min a valve, with the exhaust named %.3g", valves, one*cm3min, both*cm3min)
		}
		if w := strings.Join(c.Lines(), " "); !strings.Contains(w, "The cylinder's other valves were not named: taken as 2 of ") || !strings.Contains(w, "other valves guessed") || len(c.Guessed()) == 0 {
			t.Errorf("%s: %s", valves, w)
		}
	}
	if got := CardOthers([]check.CardPort{{Name: "Port", Valves: []float64{27e-3, 27e-3, 27e-3}}}); len(got) != 2 || math.Abs(got[0]/27e-3-0.345/0.315) > 1e-9 {
		t.Errorf("beside three of 27 mm: %v", got)
	}
}

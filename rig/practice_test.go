package rig

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"seatproof/gas"
)

// usualTest is a test of 157 cm³ that leaks 50 cm³/min, half as an opening,
// half as a seep: 2 s vented, 10 s pull, 30 s hold, 2 s vented.
func usualTest(t testing.TB) (Closed, []Step) {
	t.Helper()
	o, err := gas.OpeningFor(25*cm3min, gas.StatedVacuum, room, roomTemp, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	s, err := gas.SeepFor(25*cm3min, gas.StatedVacuum, room, roomTemp, math.Pi*27e-3, 0.3e-3)
	if err != nil {
		t.Fatal(err)
	}
	c := Closed{Volume: 157e-6, AirPressure: room, AirTemp: roomTemp, Tau: 0.3, Leak: Inflow(room, roomTemp, o, s), Pump: pumpOf(10, 78e3)}
	vent := Inflow(room, roomTemp, gas.Opening{Area: 3e-6})
	return c, []Step{{For: 2}, {For: 10, Pumping: true}, {For: 30}, {For: 2, Inflow: vent}}
}

func shownOf(t testing.TB, c Closed, g Shown, steps []Step) []float64 {
	t.Helper()
	r := mustRun(t, c, steps...)
	var times []float64
	for i := range 880 {
		times = append(times, float64(i)*0.05)
	}
	out, err := g.Watch(r, times, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Every practice shows in a usual test, and the more the stronger it is. The
// table of docs/model.md gives the largest difference that each makes within the
// hold, to the vacuum shown, and the loss in its first 15 s: as measured here.
func TestPracticeShows(t *testing.T) {
	doc, err := os.ReadFile("../docs/model.md")
	if err != nil {
		t.Fatal(err)
	}
	c, steps := usualTest(t)
	plain := shownOf(t, c, Shown{}, steps)
	loss := func(v []float64) float64 { return v[250] - v[540] } // 12.5 to 27 s
	names := map[string]bool{}
	for _, p := range PracticeTable() {
		if names[p.Name] || p.What == "" || p.Unit == "" || p.Source == "" {
			t.Errorf("%s: twice, or without words", p.Name)
		}
		names[p.Name] = true
		last, lastX := 0.0, 0.0
		var cells []string
		for _, x := range p.Strengths() {
			if !(x > lastX) {
				t.Errorf("%s: strength %v after %v", p.Name, x, lastX)
			}
			lastX = x
			cc, g := c, Shown{}
			p.Apply(x, &cc, &g)
			got := shownOf(t, cc, g, steps)
			worst := 0.0
			for i := 250; i < 840; i++ {
				worst = math.Max(worst, math.Abs(got[i]-plain[i]))
			}
			if !(worst > 0.2) || !(worst > 0.99*last) {
				t.Errorf("%s, %v %s: %v Pa after %v", p.Name, x, p.Unit, worst, last)
			}
			last = worst
			cells = append(cells, fmt.Sprintf("%.2g (%s %%)", worst/1e3, signed(100*(loss(got)/loss(plain)-1))))
		}
		line := strings.Join(cells, ", ")
		t.Logf("%-18s %s", p.Name, line)
		row := regexp.MustCompile(`(?m)^\| ` + "`" + regexp.QuoteMeta(p.Name) + "`" + ` \|.*$`).FindString(string(doc))
		if row == "" {
			t.Errorf("%s: no row in docs/model.md", p.Name)
		} else if !strings.Contains(row, line) {
			t.Errorf("%s: docs/model.md says\n%s\nmeasured\n%s", p.Name, row, line)
		}
	}
	if c.Effects != nil {
		t.Error("the plain volume was changed")
	}
}

// signed prints a figure with its sign and one decimal; what rounds to none has
// no sign.
func signed(x float64) string {
	if x = math.Round(10 * x); x == 0 {
		return "0"
	}
	return fmt.Sprintf("%+.3g", x/10)
}

// Practices add up, and one put on a copy leaves the first as it was.
func TestPracticeAddsUp(t *testing.T) {
	c, steps := usualTest(t)
	g := Shown{}
	all := PracticeTable()
	for _, p := range all[:len(all)-1] {
		p.Apply(p.Usual, &c, &g)
	}
	films, yields := len(c.Effects.Films), len(c.Effects.Yields)
	if films != 1 || yields != 4 || c.Effects.Residue == nil || c.Effects.Back == nil || g.Play == 0 {
		t.Fatalf("got %+v, %+v", c.Effects, g)
	}
	mustRun(t, c, steps...)
	other := c
	for _, p := range all {
		if p.Name == "pad-creeps" || p.Name == "room-drifts" {
			p.Apply(p.Strong, &other, &g)
		}
	}
	if len(c.Effects.Yields) != yields || len(other.Effects.Yields) != yields+2 || c.Effects.Room.Drift == other.Effects.Room.Drift {
		t.Error("effects of one volume were changed through another")
	}
}

// A test of 70 s with every effect on is computed in well under 50 ms; the bound
// here is wide, for machines that are slow or busy.
func TestEffectsAreQuick(t *testing.T) {
	c, steps := everything(t)
	least := time.Hour
	for range 3 {
		from := time.Now()
		mustRun(t, c, steps...)
		least = min(least, time.Since(from))
	}
	if least > 500*time.Millisecond {
		t.Errorf("70 s with every effect took %v", least)
	}
}

func everything(t testing.TB) (Closed, []Step) {
	t.Helper()
	c, steps := usualTest(t)
	c.Mix = 0.5
	g := Shown{}
	for _, p := range PracticeTable() {
		p.Apply(p.Usual, &c, &g)
	}
	steps[2].For = 56
	return c, steps
}

func BenchmarkRunPlain(b *testing.B) {
	c, steps := usualTest(b)
	c.Mix = 0.5
	steps[2].For = 56
	for b.Loop() {
		mustRun(b, c, steps...)
	}
}

func BenchmarkRunEveryEffect(b *testing.B) {
	c, steps := everything(b)
	for b.Loop() {
		mustRun(b, c, steps...)
	}
}

func BenchmarkWatch(b *testing.B) {
	c, steps := everything(b)
	r := mustRun(b, c, steps...)
	var times []float64
	for i := range 7000 {
		times = append(times, float64(i)*0.01)
	}
	for b.Loop() {
		if _, err := (Shown{Lag: 0.1, Play: 100, Friction: 50}).Watch(r, times, 2e-3); err != nil {
			b.Fatal(err)
		}
	}
}

// Any few practices in any strength, at sea level and at 1,600 m, on a small and
// a large volume, tight or leaking much, are computed: no error, no NaN, the
// pressure within what can be.
func TestPracticeMixes(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	table := PracticeTable()
	for range 60 {
		pa := []float64{room, 83524}[r.IntN(2)]
		o, err := gas.OpeningFor(math.Pow(10, 3*r.Float64())*cm3min, gas.StatedVacuum, pa, roomTemp, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		c := Closed{Volume: (60 + 340*r.Float64()) * 1e-6, AirPressure: pa, AirTemp: roomTemp, Tau: 0.1 + r.Float64(), Mix: r.Float64() * float64(r.IntN(2)), Leak: Inflow(pa, roomTemp, o)}
		rho := gas.Density(pa, roomTemp)
		c.Pump = func(p float64) float64 { return rho * 10 * litreMin * math.Max(0, 1-(pa-p)/(0.75*pa)) }
		var names []string
		g := Shown{}
		for range 1 + r.IntN(6) {
			p := table[r.IntN(len(table))]
			p.Apply(p.Strengths()[r.IntN(3)], &c, &g)
			names = append(names, p.Name)
		}
		vent := Inflow(pa, roomTemp, gas.Opening{Area: 3e-6})
		run, err := c.Run([]Step{{For: 2}, {For: 8, Pumping: true}, {For: 30}, {For: 2, Inflow: vent}, {For: 8, Pumping: true}, {For: 20}})
		if err != nil {
			t.Errorf("%v: %v", names, err)
			continue
		}
		for at := 0.0; at < 70; at += 0.2 {
			if p, temp := run.Pressure(at); !(p > 0.2*pa && p < pa+400) || !(temp > 150 && temp < 420) {
				t.Errorf("%v: %.0f Pa and %.1f K at %.1f s, the room at %.0f", names, p, temp, at, pa)
				break
			}
		}
	}
}

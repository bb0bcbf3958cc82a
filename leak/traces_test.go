package leak

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

var update = flag.Bool("update", false, "write testdata/traces again from the forward model")

// card is an invented trace for testdata/traces: a test, what its file says to
// expect, and how the text of the file is spoilt afterwards.
type card struct {
	test
	without string // parts of the small rig that are left out
	expect  string // "answer" or "refusal CODE"
	warns   string // every warning, or "none"
	source  string // "hold" or "steady", of an answer
	truth   bool   // the interval holds the true flow
	spoil   func(rows []string) []string
	on      func(tr *trace.Trace)
}

// cards are the traces of testdata/traces by name.
func cards() map[string]card {
	c := map[string]card{}
	add := func(name, expect, warns string, change func(c *card)) {
		k := card{test: sound(), expect: expect, warns: warns, truth: true}
		k.seed = uint64(len(c) + 1)
		if expect == "answer" {
			k.source = "hold"
		}
		change(&k)
		c[name] = k
	}
	// every refusal
	add("no-pull", "refusal no-pull", "none", func(c *card) { c.free, c.noise = 1e-6, 40 })
	add("no-pull-noisy", "refusal no-pull", "none", func(c *card) { c.free, c.noise, c.step = 1e-6, 300, 100 })
	add("no-vacuum", "refusal no-vacuum", "none", func(c *card) { c.flow, c.blanked, c.free = 2000, 4, 4 })
	add("gauge-zero", "refusal gauge-zero", "none", func(c *card) { c.zero = 6e3 })
	add("no-zero", "refusal no-zero", "none", func(c *card) {
		c.on = func(tr *trace.Trace) { window(tr, 9, 30) }
	})
	add("gauge-stuck-throughout", "refusal gauge-stuck", "none", func(c *card) {
		c.on = func(tr *trace.Trace) {
			for i := range tr.Value {
				tr.Value[i] = 41e3
			}
		}
	})
	add("gauge-stuck-in-the-pull", "refusal gauge-stuck", "none", func(c *card) {
		c.on = func(tr *trace.Trace) {
			at := slices.IndexFunc(tr.Value, func(x float64) bool { return x > 40e3 })
			for i := at; i < len(tr.Value); i++ { // until it is vented
				tr.Value[i] = math.Min(tr.Value[i], tr.Value[at])
			}
		}
		c.free = 4
	})
	add("clock-back", "refusal clock-back", "none", func(c *card) {
		c.spoil = func(rows []string) []string { return append(rows[:500], rows[300:]...) }
	})
	add("hold-too-short", "refusal hold-too-short", "none", func(c *card) { c.hold, c.rate = 1.6, 50 })
	add("hold-too-short-and-sparse", "refusal hold-too-short", "none", func(c *card) { c.hold, c.rate = 2.7, 5 })
	add("too-deep", "refusal too-deep", "none", func(c *card) {
		c.also = func(_, v float64) float64 { return 0.45 * v }
	})
	add("too-few-samples", "refusal too-few-samples", "none", func(c *card) { c.hold, c.rate, c.pull, c.vented, c.after = 12, 0.5, 20, 8, 8 })
	add("one-row", "refusal too-few-samples", "none", func(c *card) {
		c.spoil = func(rows []string) []string { return rows[:1] }
	})
	add("seven-rows", "refusal too-few-samples", "none", func(c *card) {
		c.spoil = func(rows []string) []string {
			var out []string
			for i := range 7 {
				out = append(out, rows[i*90])
			}
			return out
		}
	})
	add("no-hold", "refusal no-hold", "none", func(c *card) {
		c.without = "pump"
		c.on = func(tr *trace.Trace) { window(tr, 0, 11.5) }
	})

	// every warning
	add("good", "answer", "none", func(*card) {})
	add("zero-from-the-rig", "answer", "none", func(c *card) {
		c.on = func(tr *trace.Trace) { window(tr, 9, 30) }
		c.without = "no zero"
	})
	add("no-hold-with-a-pump", "answer", "no-hold steady-alone", func(c *card) {
		c.flow, c.source = 900, "steady"
		c.on = func(tr *trace.Trace) { window(tr, 0, 11.5) }
	})
	add("rows-dropped", "answer", "rows-dropped", func(c *card) {
		c.spoil = func(rows []string) []string {
			rows[100], rows[200] = "ERROR,", "10.05,nan"
			rows[350] = rows[350][:strings.IndexByte(rows[350], ',')] + ",out of range"
			return rows
		}
	})
	add("one-row-out-of-order", "answer", "rows-dropped", func(c *card) {
		c.spoil = func(rows []string) []string {
			rows[300] = rows[100]
			return rows
		}
	})
	add("spikes", "answer", "spikes", func(c *card) {
		c.on = func(tr *trace.Trace) {
			tr.Value[20] += 20e3 // vented
			tr.Value[400] -= 30e3
			tr.Value[500] += 15e3
		}
	})
	add("gaps", "answer", "gaps", func(c *card) {
		c.on = func(tr *trace.Trace) {
			tr.Time, tr.Value = slices.Delete(tr.Time, 400, 430), slices.Delete(tr.Value, 400, 430)
		}
	})
	add("jitter", "answer", "jitter", func(c *card) {
		c.on = func(tr *trace.Trace) { // stamps up to a third of an interval off
			k := uint32(7)
			for i := range tr.Time[1:] {
				k = k*1664525 + 1013904223
				tr.Time[i+1] += (float64(k>>16)/65536 - 0.5) * 0.66 / c.rate
			}
		}
	})
	add("readings-disagree", "answer", "readings-disagree", func(c *card) {
		c.flow, c.hold, c.truth = 700, 8, false // the owner's volume is three times the port's
		c.volume, c.pull = 60, 15
		c.without = "volume 180"
	})
	add("extrapolated", "answer", "extrapolated", func(c *card) { c.blanked, c.free = 36, 6 })
	add("law-misfit", "answer", "law-misfit", func(c *card) {
		c.truth = false
		c.also = func(at, _ float64) float64 { // a hose that is moved about
			if at > 14 && at < 30 {
				return 250 * math.Sin(at*2.2)
			}
			return 0
		}
	})
	add("fall-stops", "answer", "fall-stops", func(c *card) {
		c.flow, c.vapour, c.vapourTau, c.hold = 12, 2e3, 4, 40
		c.without = "wetting"
	})
	add("fast-hold", "answer", "fast-hold", func(c *card) {
		c.flow, c.hold, c.rate, c.tau, c.free = 3200, 4, 100, 0.5, 20
	})
	add("fast-hold-under-two-seconds", "answer", "fast-hold", func(c *card) {
		c.flow, c.hold, c.rate, c.tau, c.free, c.share = 3600, 1.6, 100, 0.5, 20, 1
	})
	add("hold-breaks", "answer", "hold-breaks", func(c *card) {
		c.flow, c.hold, c.film = 60, 30, 9
	})
	add("hold-breaks-near-the-vent", "answer", "hold-breaks", func(c *card) { c.flow, c.hold, c.film = 60, 30, 26 })
	add("slowing", "answer", "fall-stops slowing", func(c *card) {
		c.flow, c.vapour, c.vapourTau, c.hold = 12, 900, 12, 40
	})
	add("drift", "answer", "drift", func(c *card) {
		c.flow, c.hold, c.after = 4, 30, 4
		c.also = func(at, _ float64) float64 { return -8 * at }
		c.truth = false
	})
	add("oiled", "answer", "oiled", func(c *card) { c.without = "dryness" })
	add("wet-port", "answer", "wet-port", func(c *card) { c.without = "dry, wet with water" })
	add("bare-valves", "answer", "bare-valves", func(c *card) { c.without = "held" })
	add("valves-held-by-nothing", "answer", "bare-valves", func(c *card) { c.without = "held by nothing" })
	add("pull-cut-short-with-a-pump", "answer", "no-hold steady-alone still-rising", func(c *card) {
		c.source = "steady"
		c.on = func(tr *trace.Trace) { window(tr, 0, 4) }
	})
	return c
}

// window keeps the points of a trace between two times.
func window(tr *trace.Trace, from, to float64) {
	i, _ := slices.BinarySearch(tr.Time, from)
	j, _ := slices.BinarySearch(tr.Time, to)
	tr.Time, tr.Value = tr.Time[i:j], tr.Value[i:j]
}

// smallRig is the rig of the traces, but for what the file says is left out.
func smallRig(t *testing.T, without string) rig.Rig {
	t.Helper()
	r := sound().rig()
	r.Pump.FreeFlow = unit.Measured{} // each trace has a pump of its own: see card.write
	switch without {
	case "", "nothing":
	case "pump":
		r.Pump = rig.Pump{}
	case "held":
		r.Port.Held = rig.HeldNotSaid
	case "held by nothing":
		r.Port.Held = rig.HeldNothing
	case "dryness":
		r.Port.WetWith = rig.WetOil
	case "dry, wet with water":
		r.Port.WetWith = rig.WetWater
	case "wetting":
		r.Port.WetWith = rig.WetNotSaid
	case "no zero":
		r.Gauge.Zero = unit.About(0, 100)
	case "volume 180":
		r.Volume, r.Port.Volume = unit.About(62e-6, 1e-6), unit.About(118e-6, 3e-6)
	default:
		t.Fatalf("unknown part of the rig: %q", without)
	}
	return r
}

// write returns the file of a card.
func (c card) write(t *testing.T, name string) []byte {
	t.Helper()
	tr := c.trace(t)
	if c.on != nil {
		c.on(tr)
	}
	without := c.without
	if without == "" {
		without = "nothing"
	}
	tr.Header = trace.Header{Rig: "small rig", Port: name, Held: "own-spring", Others: []string{
		"origin: invented by the forward model with noise, leak/traces_test.go; no such port exists",
		"expect: " + c.expect,
		"warnings: " + c.warns,
		"without: " + without,
		fmt.Sprintf("pump: %g L/min, %g kPa", c.free, c.blanked),
	}}
	if c.expect == "answer" {
		tr.Header.Others = append(tr.Header.Others, "source: "+c.source)
		if c.truth {
			tr.Header.Others = append(tr.Header.Others, fmt.Sprintf("truth: %g cm3/min", c.flow))
		}
	}
	var b bytes.Buffer
	if err := trace.Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	if c.spoil == nil {
		return b.Bytes()
	}
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	head := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "time") }) + 1
	lines = append(lines[:head:head], c.spoil(slices.Clone(lines[head:]))...)
	return []byte(strings.Join(lines, "\n") + "\n")
}

// TestTraces reads every file of testdata/traces and compares with what its
// header expects: refusal or answer, and every warning.
func TestTraces(t *testing.T) {
	all := cards()
	if *update {
		for name, c := range all {
			if err := os.WriteFile(filepath.Join("testdata", "traces", name+".csv"), c.write(t, name), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	files, err := filepath.Glob("testdata/traces/*")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".csv")
		seen[name] = true
		t.Run(name, func(t *testing.T) { checkTraceFile(t, file) })
	}
	for name := range all {
		if !seen[name] {
			t.Errorf("%s: no such file in testdata/traces; write it with -update", name)
		}
	}
}

// codes are all refusals and warnings; each must have a trace that shows it.
var (
	refusals = []RefusalCode{NoPull, NoVacuum, GaugeZero, NoZero, GaugeStuck, ClockBack, HoldTooShort, TooDeep, TooFewSamples, NoHold}
	warnings = []WarningCode{
		RowsDropped, Spikes, Gaps, Jitter, ReadingsDiffer, Extrapolated, LawMisfit, FallStops, HoldBreaks, Slowing, Drift, Oiled, WetPort,
		FastHold, BareValves, NeverShutOff, SteadyAlone, StillRising,
	}
)

func TestEveryCodeHasATrace(t *testing.T) {
	var expect, warns []string
	for _, c := range cards() {
		expect = append(expect, c.expect)
		warns = append(warns, strings.Fields(c.warns)...)
	}
	for _, r := range refusals {
		if !slices.Contains(expect, "refusal "+string(r)) {
			t.Errorf("no trace is refused with %s", r)
		}
	}
	for _, w := range warnings {
		if !slices.Contains(warns, string(w)) {
			t.Errorf("no trace warns %s", w)
		}
	}
}

func checkTraceFile(t *testing.T, file string) {
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tr, err := trace.Read(f, trace.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	says := map[string]string{}
	for _, line := range tr.Header.Others {
		key, rest, ok := strings.Cut(line, ": ")
		if !ok || !slices.Contains([]string{"origin", "expect", "warnings", "without", "source", "truth", "pump"}, key) {
			t.Fatalf("unknown expectation %q", line)
		}
		says[key] = rest
	}
	for _, key := range []string{"origin", "expect", "warnings", "without", "pump"} {
		if says[key] == "" {
			t.Fatalf("the header does not say %s", key)
		}
	}
	r := smallRig(t, says["without"])
	if r.Pump.Blanked.Known {
		var free, blanked float64
		if _, err := fmt.Sscanf(says["pump"], "%g L/min, %g kPa", &free, &blanked); err != nil {
			t.Fatalf("pump: %q: %v", says["pump"], err)
		}
		r.Pump.FreeFlow = unit.About(free*1e-3/60, 0.1*free*1e-3/60)
		r.Pump.Blanked = unit.About(blanked*1e3, 0.015*blanked*1e3)
	}
	rd := Read(tr, r, Options{})
	checkReading(t, rd)
	got := "answer"
	if rd.Refusal != nil {
		got = "refusal " + string(rd.Refusal.Code)
	}
	if got != says["expect"] {
		t.Errorf("got %s (%+v), want %s; phases %+v", got, rd.Refusal, says["expect"], rd.Phases)
	}
	var codes []string
	for _, w := range rd.Warnings {
		codes = append(codes, string(w.Code))
	}
	want := strings.Fields(says["warnings"])
	if says["warnings"] == "none" {
		want = nil
	}
	slices.Sort(codes)
	slices.Sort(want)
	if !slices.Equal(codes, want) {
		t.Errorf("got warnings %q (%+v), want %q", codes, rd.Warnings, want)
	}
	if says["expect"] != "answer" || rd.Leak == nil {
		return
	}
	if string(rd.Source) != says["source"] {
		t.Errorf("answered from %q, want %q", rd.Source, says["source"])
	}
	if text := says["truth"]; text != "" {
		q, err := strconv.ParseFloat(strings.TrimSuffix(text, " cm3/min"), 64)
		if err != nil {
			t.Fatal(err)
		}
		if !holds(rd.Leak, q*cm3min) {
			t.Errorf("got %.4g (%.4g to %.4g) cm³/min, true %v", rd.Leak.Median/cm3min, rd.Leak.Low/cm3min, rd.Leak.High/cm3min, q)
		}
	}
}

// What a refusal or a warning must carry for its message: figures and places.
func TestFiguresOfRefusals(t *testing.T) {
	read := func(name string) *Reading {
		t.Helper()
		c := cards()[name]
		tr, err := trace.Read(bytes.NewReader(c.write(t, name)), trace.ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		r := smallRig(t, c.without)
		return Read(tr, r, Options{})
	}
	check := func(name string, ok func(*Refusal) bool) {
		t.Helper()
		if f := read(name).Refusal; f == nil || !ok(f) || f.Error() != "read trace: "+string(f.Code) {
			t.Errorf("%s: got %+v", name, f)
		}
	}
	between := func(x, lo, hi float64) bool { return x >= lo && x <= hi }
	check("gauge-zero", func(f *Refusal) bool { return between(f.Figure, 5900, 6100) && f.Other == 5e3 })
	check("too-deep", func(f *Refusal) bool { return between(f.Figure, 102e3, 120e3) && between(f.Other, 101e3, 102e3) })
	check("gauge-stuck-throughout", func(f *Refusal) bool { return f.Figure == 41e3 })
	check("clock-back", func(f *Refusal) bool { return f.Line > 500 && f.Figure > 5 })
	check("hold-too-short", func(f *Refusal) bool { return between(f.Figure, 1, 2) && f.Other > 20 })
	check("too-few-samples", func(f *Refusal) bool { return between(f.Figure, 1, 7) })
	check("one-row", func(f *Refusal) bool { return f.Figure == 1 })
	check("no-vacuum", func(f *Refusal) bool { return between(f.Figure, 500, 5000) })
	warn := func(name string, code WarningCode, ok func(Warning) bool) {
		t.Helper()
		for _, w := range read(name).Warnings {
			if w.Code == code {
				if !ok(w) {
					t.Errorf("%s: got %+v", name, w)
				}
				return
			}
		}
		t.Errorf("%s: no warning %s", name, code)
	}
	warn("rows-dropped", RowsDropped, func(w Warning) bool { return w.Count == 3 && w.Line > 100 && w.Line < 120 })
	warn("spikes", Spikes, func(w Warning) bool { return w.Count == 3 })
	warn("gaps", Gaps, func(w Warning) bool { return w.Count == 1 && between(w.Figure, 1.4, 1.7) })
	warn("extrapolated", Extrapolated, func(w Warning) bool { return between(w.Figure, 30e3, 37e3) })
	warn("valves-held-by-nothing", BareValves, func(w Warning) bool { return w.Count == 1 })
	warn("bare-valves", BareValves, func(w Warning) bool { return w.Count == 0 })
	// the flow at the deepest vacuum seen is told first
	if d := read("extrapolated").Deepest; d == nil || !between(d.Vacuum, 30e3, 37e3) || !(d.Flow.Median < 50*cm3min) {
		t.Errorf("extrapolated: deepest %+v", d)
	}
}

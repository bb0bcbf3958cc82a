package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"seatproof/rig"
)

const (
	title  = "Inline three, twelve valves"
	number = "EX-3"

	perMinute = 1e-6 / 60 // cm³/min in m³/s
	inHg      = 3386.389  // Pa, NIST SP 811, inch of mercury, conventional
)

// The rig as it is. Its owner states what rigFile says.
const (
	air        = 100.63e3 // Pa
	airTemp    = 293.45   // K
	rigVolume  = 61.1e-6  // m³
	rigLeak    = 0.7      // cm³/min at 50 kPa
	freeFlow   = 9.7e-3 / 60
	blanked    = 77.3e3 // Pa, on an average pull
	scatter    = 0.006  // of the blanked reading from pull to pull, sd
	gaugeGain  = 0.0012 // of the reading
	gaugeBow   = -60.0  // Pa at mid-scale
	gaugeZero  = 130.0  // Pa
	gaugeLag   = 0.06   // s
	gaugeNoise = 35.0   // Pa, sd
	gaugeStep  = 50.0   // Pa
	gaugeSpan  = 100e3  // Pa
)

// rigFile is what the rig's owner knows of it.
const rigFile = `# invented example: the rig of the example head, as its owner states it
name = "bench rig, small pump"
volume = "62 ± 2.5 cm3"           # hose, fitting, plate: filled with water
rig_leak = "0.6 ± 0.3 cm3/min"    # with a blank on it, at 50 kPa

[port]
volume = "95 ± 6 cm3"             # one port poured full before its seats were cut; the others are like it
held = "own-spring"
wet_with = "nothing"
head_temperature = "20 ± 2 °C"

[pump]
free_flow = "10 L/min"
blanked = "77.4 ± 1.2 kPa"        # as read here, today; 78 kPa at sea level
after_shut_off = "stopped"

[hose]
bore = "6 mm"
length = "0.6 m"
gauge_at = "port"

[gauge]
kind = "digital"
span = "0..100 kPa"
accuracy = "0.5 %"
resolution = "0.05 kPa"
response = "0.06 s"

[air]
pressure = "100.6 ± 0.1 kPa"      # here, not reduced to sea level
temperature = "20 °C"
`

// betweenTests is how tests of one port scatter: the standard deviation of the
// leak's logarithm from one to the next, valve turned and dropped and plate put
// down again in between. Common practice, no source.
const betweenTests = 0.25

// port is the truth of a port.
type port struct {
	name     string
	valve    float64 // m, head of each of its two valves
	leak     float64 // cm³/min at 50 kPa, both valves; about which its tests scatter
	share    float64 // opening's part of it at 50 kPa
	edge     float64 // of the opening: 0 rounded, 1 sharp
	volume   float64 // m³
	tau, mix float64 // s, wall time constant; conduction's part
	state    string  // of its seats, as its owner wrote into the files; "": nothing
	wet      *rig.Residue
	film     *film
	handheld bool   // recorded by the second logger
	verdict  string // what its tests together should come to
	warns    string // what the answer should warn of; "" where of nothing
	tests    []test
	masks    []mask // tests with a valve's seat greased off, made after them
}

// mask is a test of a port with one of its valves sealed off, or both: what is
// left of its leak.
type mask struct {
	masked string  // "left", "right", "left and right"
	leak   float64 // cm³/min at 50 kPa, of what stayed open; about which its test scatters
	share  float64 // opening's part of it
	test
}

// film is oil that closes all of a leak but a part, until it gives way.
type film struct {
	viscosity, gap, length float64 // Pa s, m, m: how long it holds, see rig.Film
	past                   float64 // cm³/min that it does not hold back
}

// test is one test of a port.
type test struct {
	started string
	vented  float64 // s, before the pull
	pull    float64 // s
	hold    float64 // s
	frozen  float64 // s into the pull at which the shown value stops; 0: never
}

// ports are the six ports, in the order of the head.
var ports = []port{
	{name: "cylinder 1 intake", valve: 27e-3, leak: 4.2, share: 0.3, edge: 0.5, volume: 96.8e-6, tau: 0.34, mix: 0.4,
		state: "dry", verdict: "holds", tests: []test{
			{started: "2026-03-14T10:02:10", vented: 3.4, pull: 14.1, hold: 49},
			{started: "2026-03-14T10:04:26", vented: 3.0, pull: 13.5, hold: 47},
			{started: "2026-03-14T10:06:31", vented: 3.2, pull: 13.8, hold: 51},
		}},
	{name: "cylinder 1 exhaust", valve: 23e-3, leak: 140, share: 0.97, edge: 0.4, volume: 92.7e-6, tau: 0.29, mix: 0.3,
		film: &film{viscosity: 0.2, gap: 1e-6, length: 1.2e-3, past: 36}, verdict: "leaks", warns: "hold-breaks", tests: []test{
			{started: "2026-03-14T10:09:41", vented: 2.8, pull: 13.2, hold: 47},
		}},
	{name: "cylinder 2 intake", valve: 27e-3, leak: 95, share: 0, volume: 97.5e-6, tau: 0.37, mix: 0.5,
		state: "dry", verdict: "leaks", tests: []test{
			{started: "2026-03-14T10:13:22", vented: 3.1, pull: 12.6, hold: 58},
			{started: "2026-03-14T10:15:40", vented: 2.7, pull: 13.3, hold: 55},
		}, masks: []mask{ // its left valve passes 91, its right one 3, and 1 comes by a guide
			{"left", 4, 0.3, test{started: "2026-03-14T10:41:12", vented: 3.0, pull: 13.6, hold: 50}},
			{"right", 92, 0, test{started: "2026-03-14T10:44:35", vented: 2.9, pull: 13.1, hold: 53}},
			{"left and right", 1, 0.5, test{started: "2026-03-14T10:48:03", vented: 3.3, pull: 13.9, hold: 49}},
		}},
	{name: "cylinder 2 exhaust", valve: 23e-3, leak: 7, share: 0.5, edge: 0.5, volume: 93.4e-6, tau: 0.31, mix: 0.4,
		state: "dry", verdict: "refused", tests: []test{
			{started: "2026-03-14T10:19:05", vented: 2.9, pull: 12.8, hold: 48, frozen: 1.3},
		}},
	{name: "cylinder 3 intake", valve: 27e-3, leak: 6, share: 0.2, edge: 0.6, volume: 95.9e-6, tau: 0.33, mix: 0.4,
		state: "dry", wet: &rig.Residue{Liquid: rig.WetIsopropanol, Volume: 0.1e-6, Tau: 9, Start: 0.8}, handheld: true,
		verdict: "holds", warns: "fall-stops", tests: []test{
			{started: "2026-03-14T10:26:30", vented: 3.6, pull: 15, hold: 47},
		}},
	{name: "cylinder 3 exhaust", valve: 23e-3, leak: 15, share: 0.4, edge: 0.7, volume: 91.9e-6, tau: 0.28, mix: 0.3,
		state: "dry", verdict: "can't tell yet", tests: []test{
			{started: "2026-03-14T10:30:18", vented: 3.2, pull: 13.7, hold: 49},
			{started: "2026-03-14T10:32:25", vented: 3.5, pull: 13.1, hold: 48},
			{started: "2026-03-14T10:34:41", vented: 2.9, pull: 14.4, hold: 46},
		}},
}

// job is one trace to make: a test, its port with the leak of that day, and
// where chance begins.
type job struct {
	port
	test
	file   string
	level  float64 // cm³/min, of the port
	start  uint64
	masked string
}

// jobs returns a job a test, in the order of the head. Where a port has
// several, each has a leak of its own, drawn about the port's. The stream of
// chance, 4, is one of whose draws none is unusual; in others tests of one port
// are alike to 1 % or differ by half.
func jobs() []job {
	var all []job
	for i, p := range ports {
		chance := rand.New(rand.NewPCG(uint64(i+1), 4))
		level := p.leak
		for k, t := range p.tests {
			if len(p.tests) > 1 {
				p.leak = threeFigures(level * math.Exp(betweenTests*chance.NormFloat64()))
			}
			file := strings.ReplaceAll(p.name, " ", "-")
			if k > 0 {
				file += fmt.Sprintf("-%d", k+1)
			}
			all = append(all, job{p, t, file + ".csv", level, uint64(len(all) + 1), ""})
		}
	}
	return all
}

// maskJobs returns a job for each test with a mask, likewise. Their stream of
// chance is 5.
func maskJobs() []job {
	var all []job
	for i, p := range ports {
		chance := rand.New(rand.NewPCG(uint64(i+1), 5))
		for _, m := range p.masks {
			p.leak, p.share = threeFigures(m.leak*math.Exp(betweenTests*chance.NormFloat64())), m.share
			file := strings.ReplaceAll(p.name+" "+m.masked, " ", "-") + "-masked.csv"
			all = append(all, job{p, m.test, file, m.leak, uint64(100 + len(all)), m.masked})
		}
	}
	return all
}

// threeFigures rounds to three significant figures, so that truth.csv is exact.
func threeFigures(x float64) float64 {
	to := math.Pow(10, 2-math.Floor(math.Log10(x)))
	return math.Round(x*to) / to
}

const truthHead = "file,leak (cm3/min at 50 kPa),opening share,edge,port volume (cm3),rig volume (cm3),wall time constant (s),conduction mix,what else,leak of the port (cm3/min),port should come to,should warn of"

// truth returns the trace's line of truth.csv.
func (j job) truth() string {
	verdict := j.verdict
	if j.masked != "" { // what is left open is judged by itself
		verdict = map[bool]string{true: "leaks", false: "holds"}[j.level > 23]
	}
	return fmt.Sprintf("%s,%g,%g,%g,%.1f,%.1f,%g,%g,%s,%g,%s,%s", j.file, j.leak, j.share, j.edge, j.volume*1e6, rigVolume*1e6, j.tau, j.mix, j.also(), j.level, verdict, orNothing(j.warns))
}

// also says what beside leaking and warming the trace was made with.
func (j job) also() string {
	switch {
	case j.masked != "":
		return j.masked + " masked"
	case j.wet != nil:
		return fmt.Sprintf("%.2g cm3 of %s in the port; time constant %g s", j.wet.Volume*1e6, j.wet.Liquid, j.wet.Tau)
	case j.film != nil:
		return fmt.Sprintf("an oil film: %g cm3/min until it gives way", j.film.past)
	case j.frozen > 0:
		return "shown value stands still"
	}
	return orNothing("")
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

package main

import "fmt"

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

// port is the truth of a port and of the test made on it.
type port struct {
	file, name string
	valve      float64 // m, head of each of its two valves
	started    string
	leak       float64 // cm³/min at 50 kPa, both valves
	share      float64 // opening's part of it at 50 kPa
	edge       float64 // of the opening: 0 rounded, 1 sharp
	volume     float64 // m³, of the port
	tau, mix   float64 // s, wall time constant; conduction's part
	vented     float64 // s, before the pull
	pull, hold float64 // s
	frozen     float64 // s into the pull at which the shown value stops; 0: never
	handheld   bool    // recorded by the second logger
	verdict    string  // what the test should come to
}

// ports are the six ports, in the order of the head.
var ports = []port{
	{file: "cylinder-1-intake.csv", name: "cylinder 1 intake", valve: 27e-3, started: "2026-03-14T10:02:10",
		leak: 4.2, share: 0.3, edge: 0.5, volume: 96.8e-6, tau: 0.34, mix: 0.4, vented: 3.4, pull: 14.1, hold: 49, verdict: "holds"},
	{file: "cylinder-1-exhaust.csv", name: "cylinder 1 exhaust", valve: 23e-3, started: "2026-03-14T10:05:41",
		leak: 160, share: 1, edge: 0.4, volume: 92.7e-6, tau: 0.29, mix: 0.3, vented: 2.8, pull: 13.2, hold: 47, verdict: "leaks"},
	{file: "cylinder-2-intake.csv", name: "cylinder 2 intake", valve: 27e-3, started: "2026-03-14T10:09:22",
		leak: 95, share: 0, volume: 97.5e-6, tau: 0.37, mix: 0.5, vented: 3.1, pull: 12.6, hold: 58, verdict: "leaks"},
	{file: "cylinder-2-exhaust.csv", name: "cylinder 2 exhaust", valve: 23e-3, started: "2026-03-14T10:13:05",
		leak: 7, share: 0.5, edge: 0.5, volume: 93.4e-6, tau: 0.31, mix: 0.4, vented: 2.9, pull: 12.8, hold: 48, frozen: 1.3, verdict: "refused"},
	{file: "cylinder-3-intake.csv", name: "cylinder 3 intake", valve: 27e-3, started: "2026-03-14T10:21:30",
		leak: 8.1, share: 0.2, edge: 0.6, volume: 95.9e-6, tau: 0.33, mix: 0.4, vented: 3.6, pull: 15, hold: 47, handheld: true, verdict: "holds"},
	{file: "cylinder-3-exhaust.csv", name: "cylinder 3 exhaust", valve: 23e-3, started: "2026-03-14T10:25:18",
		leak: 15, share: 0.4, edge: 0.7, volume: 91.9e-6, tau: 0.28, mix: 0.3, vented: 3.2, pull: 13.7, hold: 49, verdict: "can't tell yet"},
}

const truthHead = "file,leak (cm3/min at 50 kPa),opening share,edge,port volume (cm3),rig volume (cm3),wall time constant (s),conduction mix,should come to"

// truth returns the port's line of truth.csv.
func (p port) truth() string {
	return fmt.Sprintf("%s,%g,%g,%g,%.1f,%.1f,%g,%g,%s", p.file, p.leak, p.share, p.edge, p.volume*1e6, rigVolume*1e6, p.tau, p.mix, p.verdict)
}

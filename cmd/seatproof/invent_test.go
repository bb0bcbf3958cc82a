package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
)

// Traces invented for the scripts: the forward model with noise, on a rig of
// 62 + 95 cm³ with a pump of 10 L/min that reaches 78 kPa.

const smallRig = `name = "small rig"
volume = "62 ± 2 cm3"
rig_leak = "0.5 ± 0.2 cm3/min"
[port]
volume = "95 ± 5 cm3"
held = "own-spring"
wet_with = "nothing"
[pump]
free_flow = "10 L/min"
blanked = "78 ± 1 kPa"
after_shut_off = "stopped"
[hose]
bore = "6 mm"
length = "0.5 m"
gauge_at = "port"
[gauge]
kind = "digital"
span = "0..100 kPa"
accuracy = "0.5 %"
resolution = "0.05 kPa"
response = "0.05 s"
[air]
pressure = "101.3 ± 0.1 kPa"
temperature = "20 °C"
`

const (
	room     = 101.3e3
	roomTemp = 293.15
	perMin   = 1e-6 / 60 // cm³/min in m³/s
)

// invent returns a test of a port with a leak of q cm³/min at 50 kPa, half
// opening and half seep: 3 s vented, 20 s pulled, hold s held, 3 s vented, at
// 50 Hz.
func invent(t testing.TB, port string, q, hold float64, seed uint64) []byte {
	t.Helper()
	return inventAt(t, port, q, hold, 0.02, seed)
}

// inventAt is invent with a sampling interval dt [s].
func inventAt(t testing.TB, port string, q, hold, dt float64, seed uint64) []byte {
	t.Helper()
	r50 := (room - gas.StatedVacuum) / room
	flow := func(q, p float64) float64 { // kg/s
		r := p / room
		shape := 0.5*gas.Psi(r)/gas.Psi(r50) + 0.5*(1-r*r)/(1-r50*r50)
		return gas.FreeAirMass(q*perMin*shape, room, roomTemp)
	}
	c := rig.Closed{
		Volume: 157e-6, AirPressure: room, AirTemp: roomTemp, Tau: 0.3,
		Leak: func(p float64) float64 { return flow(q+0.5, p) },
		Pump: func(p float64) float64 {
			return gas.FreeAirMass(max(0, 10e-3/60*(1-(room-p)/78e3)), room, roomTemp)
		},
	}
	vent := func(p float64) float64 { return 3e-6 * max(0, room-p) / 1e2 }
	run, err := c.Run([]rig.Step{{For: 20, Pumping: true}, {For: hold}, {For: 3, Inflow: vent}})
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(seed, 1))
	tr := &trace.Trace{Kind: trace.Vacuum, Header: trace.Header{
		Rig: "small rig", Port: port, Held: "own-spring", Started: "2026-03-14T10:00:00", Others: []string{"invented"},
	}}
	for at := 0.0; at < 3+20+hold+3; at += dt {
		p := room
		if at > 3 {
			p, _ = run.Pressure(at - 3)
		}
		v := room - p + 60*rnd.NormFloat64()
		tr.Time = append(tr.Time, float64(len(tr.Time))*dt)
		tr.Value = append(tr.Value, 50*float64(int(v/50+1000.5)-1000))
	}
	var b bytes.Buffer
	if err := trace.Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// inventAll writes rig, traces and an example head into dir.
func inventAll(t testing.TB, dir string) {
	t.Helper()
	put := func(name string, b []byte) {
		t.Helper()
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("rig.toml", []byte(smallRig))
	tight, bad := invent(t, "cylinder 1 intake", 5, 40, 1), invent(t, "cylinder 1 exhaust", 150, 30, 2)
	edge := invent(t, "cylinder 2 intake", 22, 40, 3)
	put("tight.csv", tight)
	put("bad.csv", bad)
	put("edge.csv", edge)
	put("short.csv", invent(t, "cylinder 2 exhaust", 400, 1.2, 4))
	// tests of one port, and the repeats of a shop: two ports of three tests
	again := map[string][]byte{"again-1.csv": invent(t, "cylinder 2 intake", 12, 30, 11), "again-2.csv": invent(t, "cylinder 2 intake", 14, 30, 12), "again-3.csv": invent(t, "cylinder 2 intake", 11, 30, 13)}
	for name, b := range again {
		put(name, b)
		put("shop/c2-intake/"+name, b)
	}
	for i, q := range []float64{40, 50, 37} {
		put(fmt.Sprintf("shop/c1-exhaust/%d.csv", i+1), invent(t, "cylinder 1 exhaust", q, 20, uint64(21+i)))
	}
	put("shop/c1-intake/1.csv", tight)
	put("shop/notes.md", []byte("no recording"))
	put("shop/c1-exhaust/copy.csv", append([]byte("# another name\n"), invent(t, "cylinder 1 exhaust", 40, 20, 21)...))
	put("blank.csv", invent(t, "blank", 0, 60, 31))
	put("known.csv", invent(t, "known leak", 30, 30, 32))
	put("odd.csv", invent(t, "cylinder 2 intake", 900, 30, 14))
	put("thumb.csv", bytes.Replace(again["again-2.csv"], []byte("held: own-spring"), []byte("held: thumb"), 1))
	var flat bytes.Buffer
	fmt.Fprintln(&flat, "time (s),vacuum (kPa)")
	for i := range 600 {
		fmt.Fprintf(&flat, "%.2f,%.2f\n", float64(i)*0.1, 0.05*float64(i%2))
	}
	put("flat.csv", flat.Bytes())
	put("one.csv", []byte("time (s),vacuum (kPa)\n0,12\n"))
	put("empty.csv", nil)
	put("binary.csv", []byte{0, 1, 2, 255, 254, 0, 0, 7, 8, 9, 0, 0, 200, 201})
	put("head/rig.toml", []byte(smallRig))
	put("head/c1-intake.csv", tight)
	put("head/c1-exhaust.csv", bad)
	put("head/c2-intake.csv", edge)
	put("head/c2-exhaust.csv", flat.Bytes())
	put("shop/flat.csv", flat.Bytes())
	put("several/rig.toml", []byte(smallRig))
	put("several/ports.csv", []byte("file,port,valve diameter (mm)\ntight.csv,cylinder 1 intake,27\n"+
		"again-1.csv,cylinder 2 intake,27\nagain-2.csv,cylinder 2 intake,27\nagain-3.csv,cylinder 2 intake,27\n"))
	put("several/tight.csv", tight)
	for name, b := range again {
		put("several/"+name, b)
	}
	put("head/ports.csv", []byte("# title Inline two, eight valves\n# number T-1\nfile,port,valve diameter (mm)\n"+
		"c1-intake.csv,cylinder 1 intake,27\nc1-exhaust.csv,cylinder 1 exhaust,23\n"+
		"c2-intake.csv,cylinder 2 intake,27\nc2-exhaust.csv,cylinder 2 exhaust,23\n"))
}

package check

import (
	"fmt"
	"math"
	"sort"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
)

// way is the way from a leak through hose and pump to a reading, worked out
// once for a pump and a hose: states of the pull from the blanked reading to no
// vacuum at all. It goes from the pump backwards, so that nothing needs solving:
// the vacuum at the pump gives the flow, flow and hose the vacuum at the port,
// and both together the leak that draws just that.
type way struct {
	pa, ta  float64
	curve   *rig.Curve
	hose    gas.Pipe
	rigLeak float64 // m³/s at 50 kPa

	pump, port, flow, leak []float64 // Pa, Pa, m³/s, m³/s at 50 kPa; vacuum falling, leak rising
	time                   []float64 // s for 1 m³ to get from no vacuum to each state
}

// states of a way; they lie closer near the blanked reading, where small leaks
// are.
const states = 240

// way works a way out.
func (c *Choice) way(curve *rig.Curve, h rig.Hose) (*way, error) {
	w := &way{pa: c.Pressure, ta: c.Temp, curve: curve, hose: gas.Pipe{Diameter: h.Bore.Value, Length: h.Length.Value}, rigLeak: c.Parts.RigLeak.Value}
	if b := curve.Blanked(); !(b < w.pa) {
		return nil, fmt.Errorf("a vacuum of %.3g kPa is deeper than the room's air pressure, %.4g kPa", b/1e3, w.pa/1e3)
	}
	top, err := w.blanked()
	if err != nil {
		return nil, err
	}
	for i := 0; i < states; i++ {
		s := float64(i) / (states - 1)
		if !w.add(top * (1 - s*s)) {
			break
		}
	}
	if len(w.port) < 3 {
		return nil, fmt.Errorf("the hose passes next to nothing of what the pump draws: is its bore right?")
	}
	w.pullDowns()
	return w, nil
}

// blanked returns the vacuum [Pa] at which the pump draws just the rig leak.
func (w *way) blanked() (float64, error) {
	b := w.curve.Blanked()
	if w.rigLeak == 0 {
		return b, nil
	}
	rest := func(v float64) float64 { return w.curve.Flow(v) - w.rigLeak*seepShape(v, w.pa) }
	if rest(0) <= 0 || rest(0.05*b) <= 0 {
		return 0, fmt.Errorf("the rig leak is more than the pump draws")
	}
	return num.FindRoot(rest, 0.05*b, b, 1e-6)
}

// add appends the state at a vacuum at the pump [Pa]; false where the hose
// passes no more: the port is open to the room.
func (w *way) add(pump float64) bool {
	q := w.curve.Flow(pump)
	p, err := w.hose.Upstream(gas.FreeAirMass(q, w.pa, w.ta), w.pa-pump, w.ta)
	if err != nil || p > w.pa {
		return false
	}
	port := w.pa - p
	shape := openingShape(port, w.pa)
	if !(shape > 0) && port <= 0 && len(w.port) > 0 {
		return false
	}
	leak := math.Max(0, q-w.rigLeak*seepShape(port, w.pa)) / math.Max(shape, 1e-9)
	if n := len(w.leak); n > 0 && leak <= w.leak[n-1] {
		leak = w.leak[n-1] * (1 + 1e-12)
	}
	w.pump, w.port, w.flow, w.leak = append(w.pump, pump), append(w.port, port), append(w.flow, q), append(w.leak, leak)
	return true
}

// seepShape is the flow of a seep at a vacuum [Pa] over that at 50 kPa, slip
// left out.
func seepShape(v, pa float64) float64 {
	p := pa - v
	s := pa - gas.StatedVacuum
	return (pa*pa - p*p) / (pa*pa - s*s)
}

// openingShape is the flow of a rounded opening at a vacuum [Pa] over that at
// 50 kPa.
func openingShape(v, pa float64) float64 {
	return gas.Psi((pa-math.Max(0, v))/pa) / gas.Psi((pa-gas.StatedVacuum)/pa)
}

// at interpolates y over the leaks at q [m³/s]; beyond the last it is that of
// the last state.
func (w *way) at(y []float64, q float64) float64 {
	i := sort.SearchFloat64s(w.leak, q)
	switch {
	case i == 0:
		return y[0]
	case i == len(w.leak):
		return y[i-1]
	}
	f := (q - w.leak[i-1]) / (w.leak[i] - w.leak[i-1])
	return y[i-1] + f*(y[i]-y[i-1])
}

// reading returns what the gauge shows [Pa] of a leak in the pull.
func (w *way) reading(q float64, atPump bool) float64 {
	if atPump {
		return w.at(w.pump, q)
	}
	return w.at(w.port, q)
}

// leakAt returns the leak [m³/s] that lets the gauge fall so far [Pa] below the
// blanked reading; +Inf where none does.
func (w *way) leakAt(drop float64, atPump bool) float64 {
	y := w.port
	if atPump {
		y = w.pump
	}
	want := y[0] - drop
	i := sort.Search(len(y), func(i int) bool { return y[i] <= want })
	switch {
	case i == len(y):
		return math.Inf(1)
	case i == 0:
		return w.leak[0]
	}
	f := (y[i-1] - want) / (y[i-1] - y[i])
	return w.leak[i-1] + f*(w.leak[i]-w.leak[i-1])
}

package check

import (
	"math"

	"seatproof/gas"
)

// pullDowns fills the times to each state. With the gas at the room's
// temperature throughout,
//
//	V dv/dt = pa q(v),   t = (V/pa) ∫ dv/q(v)
//
// and between two states q is taken as a straight line in v, for which the
// integral is Δv ln(q1/q2)/(q1 - q2): exact for a pump of two numbers on a hose
// without loss. There it is t = (V v0/(pa q0)) ln(1/(1 - v/v0)), the pumping down
// at constant speed S = q0 pa/v0 of the vacuum trade's textbooks, with the pump's
// own end pressure.
func (w *way) pullDowns() {
	n := len(w.port)
	w.time = make([]float64, n)
	last := n - 1
	// from no vacuum to the last state, whose flow is nearly that with none
	w.time[last] = math.Max(0, w.port[last]) / w.flow[last] / w.pa
	for i := last - 1; i >= 0; i-- {
		w.time[i] = w.time[i+1] + stretch(w.port[i]-w.port[i+1], w.flow[i], w.flow[i+1])/w.pa
	}
}

// stretch is ∫ dv/q over dv, q a straight line from a to b.
func stretch(dv, a, b float64) float64 {
	switch {
	case dv <= 0:
		return 0
	case !(a > 0): // the flow ends here: it never gets there
		return math.Inf(1)
	case math.Abs(a-b) <= 1e-9*b:
		return dv / b
	}
	return dv * math.Log(b/a) / (b - a)
}

// PullDown returns the time [s] in which a volume [m³] gets to a part of the
// blanked reading.
func (w *way) pullDown(volume, part float64) float64 {
	want := part * w.port[0]
	for i := range w.port {
		if w.port[i] > want {
			continue
		}
		if i == 0 {
			return volume * w.time[0]
		}
		// within the stretch the flow is a straight line
		f := (want - w.port[i]) / (w.port[i-1] - w.port[i])
		q := w.flow[i] + f*(w.flow[i-1]-w.flow[i])
		return volume * (w.time[i] + stretch(want-w.port[i], q, w.flow[i])/w.pa)
	}
	return volume * w.time[len(w.time)-1]
}

// left returns the vacuum [Pa] that is left of v0 [Pa] after t [s] of hold on a
// volume [m³] with an opening that leaks q [m³/s] at 50 kPa, the gas at the
// room's temperature: choked, the pressure rises in a straight line,
//
//	p = p0 + pa q*/V t,  q* the choked flow
//
// and past r* = 0.5283 sqrt(1 - r^(2/7)) falls in one and reaches nothing in
// finite time. Source: docs/model.md §3.
func left(v0, q, t, volume, pa float64) float64 {
	choked := q * gas.PsiMax / gas.Psi((pa-gas.StatedVacuum)/pa) // m³/s
	k := choked / gas.PsiMax / volume                            // 1/s: area sqrt(R Ta)/V
	r := (pa - v0) / pa
	if r < gas.CriticalRatio {
		rise := k * gas.PsiMax // of r, 1/s
		until := (gas.CriticalRatio - r) / rise
		if t <= until {
			return pa * (1 - r - rise*t)
		}
		t -= until
		r = gas.CriticalRatio
	}
	s := math.Sqrt(1-math.Pow(r, 2./7)) - k*t/math.Sqrt(7)
	if s <= 0 {
		return 0
	}
	return pa * (1 - math.Pow(1-s*s, 3.5))
}

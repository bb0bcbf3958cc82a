package crosscheck

import (
	"errors"
	"math"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/unit"
)

// psi is a pound-force on the square inch [Pa].
const psi = 0.45359237 * 9.80665 / (0.0254 * 0.0254)

// StandardSupply is the supply of the standard test [Pa above the room]: 80 psi.
// Source: FAA AC 43.13-1B chapter 8; Lycoming SI 1191A.
const StandardSupply = 80 * psi

// Restrictor is the orifice between the two gauges of a leak-down tester.
type Restrictor struct {
	Name string
	Area unit.Measured // m², effective: discharge coefficient times hole
}

// Discharge coefficients (95 %): of the standard restrictor, whose entry is coned
// (from memory), and of a hole somebody drilled, which may be sharp or a short
// tube (0.60 to 0.92 in handbooks).
var (
	ConedCd   = unit.About(0.8, 0.1)
	DrilledCd = unit.About(0.75, 0.15)
)

// The standard restrictors: 0.040 in and 0.060 in, each 0.250 in long with a 60°
// entry. Which for which engine: by bore, below 5.00 in and from there, in Change
// 1 of 2001; by displacement in the older text; makers overrule both.
// Source: FAA AC 43.13-1B chapter 8, paragraph 8-14.
var (
	Restrictor040, _ = Bored("0.040 in", unit.Exactly(0.040*0.0254), ConedCd)
	Restrictor060, _ = Bored("0.060 in", unit.Exactly(0.060*0.0254), ConedCd)
)

// Bored returns the restrictor of a round bore [m] and its discharge coefficient:
// A = Cd pi d²/4. The error is an *[InputError].
func Bored(name string, bore, cd unit.Measured) (Restrictor, error) {
	switch {
	case !(bore.Known && bore.Value > 0 && bore.Value < 0.02 && bore.Spread >= 0):
		return Restrictor{}, wrong("orifice", "an orifice of %.4g mm can't be: give its bore, above 0 and below 20 mm", bore.Value*1e3)
	case !(cd.Known && cd.Value > 0 && cd.Value <= 1 && cd.Spread >= 0):
		return Restrictor{}, wrong("coefficient", "a discharge coefficient of %.4g can't be: it is above 0 and at most 1", cd.Value)
	}
	a := cd.Value * math.Pi / 4 * bore.Value * bore.Value
	return Restrictor{name, unit.About(a, a*math.Hypot(cd.Spread/cd.Value, 2*bore.Spread/bore.Value))}, nil
}

// ByKnownLeak returns the restrictor of a tester whose second gauge shows second
// [Pa above the room] with a known leak on it at the supply: an opening that draws
// known [m³/s of free air] at 50 kPa vacuum in the air of p. Nothing of its own
// restrictor need be known. The error is an *[InputError].
func ByKnownLeak(name string, supply, second, known unit.Measured, p Port) (Restrictor, error) {
	if !(known.Known && known.Value > 0 && known.Spread >= 0) {
		return Restrictor{}, wrong("known leak", "a known leak of %.4g m³/s can't be: give its flow, above 0", known.Value)
	}
	t := LeakDown{Supply: supply, Restrictor: Restrictor{Area: unit.Exactly(1e-6)}}
	if err := t.check(&p); err != nil {
		return Restrictor{}, err
	}
	if !(second.Known && second.Value > 0 && second.Value < supply.Value) {
		return Restrictor{}, wrong("second", "with the known leak on it the second gauge has to show more than 0 and less than the supply")
	}
	states, err := p.states(nil, 0)
	if err != nil {
		return Restrictor{}, err
	}
	var logs, squares float64
	for _, s := range states {
		s.Share = 1
		w, err := s.way(drawn(known, s.u[3]))
		if err != nil {
			return Restrictor{}, err
		}
		ps := p.Room + drawn(supply, s.u[0])
		pc := min(p.Room+second.Value+second.SD()*normal(s.u[1]), ps-1e-3*supply.Value)
		m, err := w.MassFlow(max(pc, p.Room+1), p.Room, p.Temp)
		if err != nil {
			return Restrictor{}, err
		}
		one, err := gas.Opening{Area: 1}.MassFlow(ps, max(pc, p.Room+1), p.Temp)
		if err != nil {
			return Restrictor{}, err
		}
		x := math.Log(m / one)
		logs, squares = logs+x, squares+x*x
	}
	n := float64(len(states))
	mean := logs / n
	sd := math.Sqrt(max(0, squares/n-mean*mean))
	a := math.Exp(mean)
	return Restrictor{name, unit.About(a, num.Z95*sd*a)}, nil
}

// LeakDown is a differential compression test (leak-down): air at the supply goes
// through the restrictor into a cylinder at top dead centre; the second gauge
// shows what the cylinder holds.
type LeakDown struct {
	Supply     unit.Measured // Pa above the room
	Restrictor Restrictor
	Gauge      float64 // Pa, ± (95 %) of the second gauge; 0: none
	// Rings is the effective area [m²] by which air goes past the rings; not Known:
	// nobody knows, the forecast is of the valves alone, and the leak found backwards
	// holds the rings.
	Rings unit.Measured
}

// LeakDownForecast is what the second gauge will show.
type LeakDownForecast struct {
	Second Interval // Pa above the room
	Lost   Interval // 1 - second/supply: what many gauges show in per cent
}

func (t *LeakDown) check(p *Port) error {
	switch {
	case !t.Supply.Known || !(t.Supply.Value > 0):
		return wrongPressure("supply", "a supply of %s is not above the room's air pressure: nothing would flow", t.Supply.Value)
	case t.Supply.Value > 3e6 || !(t.Supply.Spread >= 0 && t.Supply.Spread < t.Supply.Value):
		return wrongPressure("supply", "a supply of %s ± %s can't be meant: %s is usual", t.Supply.Value, t.Supply.Spread, StandardSupply)
	case !t.Restrictor.Area.Known || !(t.Restrictor.Area.Value > 0):
		return wrong("orifice", "the restrictor has no opening: give its bore, above 0")
	case !(t.Gauge >= 0):
		return wrong("second", "the ± of the second gauge can't be below 0")
	case t.Rings.Known && !(t.Rings.Value >= 0 && t.Rings.Spread >= 0):
		return wrong("rings", "the rings' area can't be below 0")
	}
	return p.check()
}

// Between returns the absolute pressure [Pa] between two elements in line, from p1
// to p2 [Pa, absolute], the air at t [K] before each: where what comes in goes out.
// It needs p1 >= p2.
func Between(in, out gas.Element, p1, p2, t float64) (float64, error) {
	if p1 == p2 {
		return p1, nil
	}
	var failed error
	p, err := num.FindRoot(func(p float64) float64 {
		a, err := in.MassFlow(p1, p, t)
		b, err2 := out.MassFlow(p, p2, t)
		if failed == nil && (err != nil || err2 != nil) {
			failed = errors.Join(err, err2)
		}
		return a - b
	}, p2, p1, 0)
	if failed != nil {
		return 0, failed
	}
	return p, err
}

// several are elements side by side.
type several []gas.Element

func (s several) MassFlow(p1, p2, t float64) (float64, error) {
	sum := 0.0
	for _, e := range s {
		m, err := e.MassFlow(p1, p2, t)
		if err != nil {
			return 0, err
		}
		sum += m
	}
	return sum, nil
}

// Forecast returns what the second gauge shows for a cylinder with these leaks,
// one of each port it has. Without leaks of the valves it shows the supply, unless
// rings are given. The leak's sizes are taken as the vacuum test left them: tens of
// bar press the valve harder on its seat, and may close some of it. The error is an
// *[InputError] or of package gas.
func (t LeakDown) Forecast(leaks ...Leak) (LeakDownForecast, error) {
	if len(leaks) == 0 {
		return LeakDownForecast{}, wrong("leak", "no leak rate is known: test the cylinder's ports first")
	}
	all := make([][]state, len(leaks))
	for i := range leaks {
		if err := t.check(&leaks[i].Port); err != nil {
			return LeakDownForecast{}, err
		}
		var err error
		if all[i], err = leaks[i].states(leaks[i].Draws, leaks[i].Again); err != nil {
			return LeakDownForecast{}, err
		}
	}
	second, lost := make([]float64, samples), make([]float64, samples)
	for k := range samples {
		s := &all[0][k]
		var out several
		for i := range leaks {
			x := &all[i][apart(k, i)]
			w, err := x.way(x.Flow * leaks[i].Part.At(x.u[5]))
			if err != nil {
				return LeakDownForecast{}, err
			}
			out = append(out, w)
		}
		if t.Rings.Known && t.Rings.Value > 0 {
			out = append(out, gas.Opening{Area: drawn(t.Rings, s.u[4])})
		}
		supply := drawn(t.Supply, s.u[0])
		p, err := Between(gas.Opening{Area: drawn(t.Restrictor.Area, s.u[1])}, out, s.room+supply, s.room, s.temp)
		if err != nil {
			return LeakDownForecast{}, err
		}
		second[k] = max(0, p-s.room+t.Gauge/num.Z95*normal(s.u[2]))
		lost[k] = max(0, 1-second[k]/supply)
	}
	return LeakDownForecast{intervalOf(second), intervalOf(lost)}, nil
}

// Leak returns the leak that a reading of the second gauge [Pa above the room]
// means: everything that leaves the cylinder, taken as one leak at its valves of
// unknown way of flowing. The rings are in it unless they are given, so for the
// valves it is a bound from above. The error is an *[InputError] or of package gas.
func (t LeakDown) Leak(second unit.Measured, p Port) (Bound, error) {
	if err := t.check(&p); err != nil {
		return Bound{}, err
	}
	switch {
	case !second.Known || !(second.Value >= 0) || !(second.Spread >= 0):
		return Bound{}, wrong("second", "the second gauge can't show less than the room: give what it shows above it")
	case second.Value > t.Supply.Value+t.Supply.Spread+second.Spread:
		return Bound{}, wrongPressure("second", "the second gauge can't show more than the supply, %s against %s: check which gauge is which", second.Value, t.Supply.Value)
	}
	states, err := p.states(nil, 0)
	if err != nil {
		return Bound{}, err
	}
	flows := make([]float64, len(states))
	for k := range states {
		s := &states[k]
		ps := s.room + drawn(t.Supply, s.u[0])
		pc := s.room + second.Value + math.Hypot(second.Spread, t.Gauge)/num.Z95*normal(s.u[2])
		pc = min(ps, max(s.room, pc))
		in, err := gas.Opening{Area: drawn(t.Restrictor.Area, s.u[1])}.MassFlow(ps, pc, s.temp)
		if err != nil {
			return Bound{}, err
		}
		if t.Rings.Known && t.Rings.Value > 0 {
			m, err := gas.Opening{Area: drawn(t.Rings, s.u[4])}.MassFlow(pc, s.room, s.temp)
			if err != nil {
				return Bound{}, err
			}
			in = max(0, in-m)
		}
		flows[k], err = flowWhere(func(flow float64) (float64, error) {
			w, err := s.way(flow)
			if err != nil {
				return 0, err
			}
			out, err := w.MassFlow(pc, s.room, s.temp)
			return out - in, err
		})
		if err != nil {
			return Bound{}, err
		}
	}
	return boundOf(flows), nil
}

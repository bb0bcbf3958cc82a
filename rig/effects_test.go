package rig

import (
	"math"
	"testing"

	"seatproof/gas"
)

func pumpOf(litres, blanked float64) func(p float64) float64 {
	return func(p float64) float64 {
		return gas.Density(room, roomTemp) * litres * litreMin * math.Max(0, 1-(room-p)/blanked)
	}
}

// bench is a port of 150 cm³ that does not leak, on a pump of 10 L/min and 78 kPa.
func bench(e *Effects) Closed {
	return Closed{Volume: 150e-6, AirPressure: room, AirTemp: roomTemp, Tau: 0.3, Pump: pumpOf(10, 78e3), Effects: e}
}

// Effects that are all off are no effects: the same run, to the solver's
// tolerance.
func TestEffectsOffIsThePlainRun(t *testing.T) {
	for _, mix := range []float64{0, 0.6} {
		plain := bench(nil)
		plain.Leak, plain.WallTemp, plain.Mix = openingLeak(0.02e-6), 298, mix
		off := plain
		off.Effects = new(Effects)
		vent := Inflow(room, roomTemp, gas.Opening{Area: 3e-6})
		steps := []Step{{For: 2}, {For: 8, Pumping: true}, {For: 30}, {For: 2, Inflow: vent}}
		a, b := mustRun(t, plain, steps...), mustRun(t, off, steps...)
		for at := 0.0; at < 42; at += 0.11 {
			// a warm wall lifts the plain run's pressure over the room's once vented
			p, pt := a.Pressure(at)
			q, qt := b.Pressure(at)
			if p > room {
				continue
			}
			near(t, "pressure", q, p, 0.05)
			near(t, "temperature", qt, pt, 2e-4)
		}
		near(t, "vacuum of a plain run", a.Vacuum(20), room-pressure(a, 20), 0)
	}
}

// Handbook vapour pressures at 20 °C, kPa: water 2.339 (steam tables; 7.384 at
// 40 °C), acetone 24.6, isopropanol 4.4 (handbooks, from memory).
func TestVapourPressure(t *testing.T) {
	for _, p := range []struct {
		l            Liquid
		t, want, tol float64
	}{
		{WetWater, 293.15, 2339, 15},
		{WetWater, 313.15, 7384, 40},
		{WetWater, 373.15, 101325, 200}, // boils
		{WetAcetone, 293.15, 24.6e3, 300},
		{WetAcetone, 329.2, 101325, 700}, // boils at 56.05 °C
		{WetIsopropanol, 293.15, 4400, 150},
		{WetIsopropanol, 355.4, 101325, 1500}, // boils at 82.3 °C
		{WetPetrol, 293.15, 45e3, 1},
		{WetWhiteSpirit, 447.3, 101325, 700}, // n-decane boils at 174.1 °C
		{WetWhiteSpirit, 293.15, 125, 15},
		{WetNothing, 293.15, 0, 0},
		{WetNotSaid, 293.15, 2339, 15},
	} {
		near(t, string(p.l), VapourPressure(p.l, p.t), p.want, p.tol)
	}
	for l := range fluids {
		last := 0.0
		for at := 0.0; at < 400; at += 5 {
			p := VapourPressure(l, at)
			if !(p >= last) || math.IsInf(p, 0) {
				t.Errorf("%s at %v K: %v Pa after %v", l, at, p, last)
			}
			last = p
		}
	}
}

// 0.05 mL of petrol's light ends make about 8 kPa in 150 cm³ (docs/model.md,
// §3), if nothing stops them; ten times as much as water's vapour pressure.
func TestAllVapour(t *testing.T) {
	near(t, "petrol", AllVapour(WetPetrol, 0.05e-6, 150e-6, roomTemp), 8e3, 600)
	// by hand: 1 mmol of water is 0.018051 mL, 2437.4 J/m³ in 1 L
	near(t, "water", AllVapour(WetWater, 0.018015e-3/998, 1e-3, roomTemp), 2437.38, 0.05)
	near(t, "dry", AllVapour(WetNothing, 1, 1, 300), 0, 0)
}

// In a closed volume that holds no leak the vapour rises as psat (1 -
// exp(-t/Tau)) while any liquid is left, and stops at n R T/V when it is gone
// (closed forms, isothermal).
func TestVapourFillsVolume(t *testing.T) {
	for _, l := range []Liquid{WetWater, WetAcetone, WetIsopropanol, WetPetrol} {
		c := Closed{Volume: 150e-6, AirPressure: room, AirTemp: roomTemp, Tau: soon,
			Effects: &Effects{Residue: &Residue{Liquid: l, Volume: 1e-6, Tau: 8}}}
		c.Pump = pulledTo2(c, 20e3, 0.01)
		r := mustRun(t, c, Step{For: 0.01, Pumping: true}, Step{For: 60})
		psat := VapourPressure(l, roomTemp)
		const from = 0.011 // a moment after, when the gas is at the wall's temperature
		pv0, left0 := r.Vapour(from)
		p0 := pressure(r, from)
		for _, after := range []float64{0.5, 3, 8, 20, 59} {
			pv, left := r.Vapour(from + after)
			want := psat + (pv0-psat)*math.Exp(-after/8)
			near(t, string(l)+", vapour", pv, want, 2e-6*psat)
			near(t, string(l)+", total", pressure(r, from+after)-p0, pv-pv0, 0.01)
			near(t, string(l)+", liquid gone is vapour", AllVapour(l, left0-left, c.Volume, roomTemp), pv-pv0, 0.02)
		}
	}
	// runs dry
	c := Closed{Volume: 150e-6, AirPressure: room, AirTemp: roomTemp, Tau: soon,
		Effects: &Effects{Residue: &Residue{Liquid: WetPetrol, Volume: 0.02e-6, Tau: 8}}}
	c.Pump = pulledTo2(c, 20e3, 0.001)
	r := mustRun(t, c, Step{For: 0.001, Pumping: true}, Step{For: 60})
	full := AllVapour(WetPetrol, 0.02e-6, c.Volume, roomTemp)
	pv, left := r.Vapour(60)
	near(t, "vapour of all the petrol", pv, full, 1e-3*full)
	near(t, "petrol left", left, 0, 1e-12)
	psat := VapourPressure(WetPetrol, roomTemp)
	pv, _ = r.Vapour(0.3)
	near(t, "before it ran dry", pv, psat*-math.Expm1(-0.3/8), 0.005*psat*0.3/8)
}

func pulledTo2(c Closed, p, seconds float64) func(float64) float64 {
	pulledTo(&c, p, seconds)
	return c.Pump
}

// Vented, the vapour drives the mixture out and never lifts the pressure; each
// pull takes it away, so that a wet port falls the same while liquid is left and
// less from pull to pull then.
func TestVapourLeavesWithTheAir(t *testing.T) {
	c := bench(&Effects{Residue: &Residue{Liquid: WetPetrol, Volume: 0.3e-6, Tau: 60}})
	vent := Inflow(room, roomTemp, gas.Opening{Area: 3e-6})
	var steps []Step
	for range 5 {
		steps = append(steps, Step{For: 8, Pumping: true}, Step{For: 30}, Step{For: 2, Inflow: vent})
	}
	steps = append([]Step{{For: 10}}, steps...)
	r := mustRun(t, c, steps...)
	for at := 0.0; at < 210; at += 0.1 {
		if p := pressure(r, at); p > room+60 {
			t.Fatalf("%.0f Pa above the room's at %.1f s", p-room, at)
		}
	}
	if pv, _ := r.Vapour(10); pv < 1e3 {
		t.Errorf("after 10 s in the open port %v Pa of vapour", pv)
	}
	last, first := math.Inf(1), 0.0
	for pull := range 5 {
		at := 10 + float64(pull)*40 + 8
		rise := pressure(r, at+29) - pressure(r, at+1.5)
		if !(rise < 1.01*last) {
			t.Errorf("pull %d: rises by %.0f Pa, the one before by %.0f", pull+1, rise, last)
		}
		if last = rise; pull == 0 {
			first = rise
		}
	}
	if first < 5e3 || last > first/10 {
		t.Errorf("the first hold rises by %.0f Pa, the last by %.0f", first, last)
	}
}

// Times of docs/model.md §3 (derived: t = 6 mu L²/(h² v)).
func TestFilmTimes(t *testing.T) {
	for _, p := range []struct{ gap, length, want, tol float64 }{
		{15e-6, 35e-3, 44, 0.5},
		{2e-6, 1.2e-3, 3, 0.15},
		{1e-6, 1.2e-3, 12, 0.5},
	} {
		near(t, "film holds", Film{Viscosity: 0.1, Gap: p.gap, Length: p.length}.Time(75e3), p.want, p.tol)
	}
}

// A film counts the vacuum from the pull on: it gives way when ∫ v dt is 6 mu
// L²/h², and holds its part of the leak, and only that, until then.
func TestFilmGivesWay(t *testing.T) {
	behind, beside := openingLeak(0.004e-6), openingLeak(0.001e-6)
	f := Film{Viscosity: 0.1, Gap: 1e-6, Length: 1.2e-3, Leak: behind}
	c := bench(&Effects{Films: []Film{f}})
	c.Leak = beside
	r := mustRun(t, c, Step{For: 2}, Step{For: 8, Pumping: true}, Step{For: 40})
	sum, broke := 0.0, 0.0
	const h = 1e-3
	for at := h / 2; at < 50 && broke == 0; at += h {
		if sum += h * r.Vacuum(at) / (6 * 0.1 * f.Length * f.Length / (f.Gap * f.Gap)); sum >= 1 {
			broke = at + h/2
		}
	}
	near(t, "moved, at the break", r.Moved(0, broke), 1, 1e-4)
	if broke < 10 || broke > 20 {
		t.Fatalf("gave way after %v s, want in the hold, 12 s after the pull began or later", broke)
	}
	// before and after it the runs of a plain leak
	before, after := bench(nil), bench(nil)
	before.Leak = beside
	after.Leak = func(p float64) float64 { return beside(p) + behind(p) }
	rb := mustRun(t, before, Step{For: 2}, Step{For: 8, Pumping: true}, Step{For: 40})
	for at := 2.0; at < broke; at += 0.1 {
		near(t, "before the break", pressure(r, at), pressure(rb, at), 0.2)
	}
	slope := func(at float64) float64 {
		return (pressure(r, at+0.5) - pressure(r, at-0.5)) * c.Volume / (gas.R * roomTemp)
	}
	for at := broke + 6; at < 49; at += 3 {
		near(t, "flow after the break", slope(at)/after.Leak(pressure(r, at)), 1, 0.01)
	}
}

// A creep compliance known in closed form: a volume that yields raises the
// pressure of a settled, closed gas as p = m R T/(V - e), with e the answer of
// spring and dashpot to the vacuum itself. Where it yields little the vacuum
// hardly moves and e = E v/100 kPa (1 - exp(-t/Tau)).
func TestPadCreeps(t *testing.T) {
	const volume, lost, tau = 10e-6, 0.1, 12.0
	c := Closed{Volume: 500e-6, AirPressure: room, AirTemp: roomTemp, Tau: soon, Effects: &Effects{Yields: []Yield{{volume * lost, tau}}}}
	c.Pump = pulledTo2(c, 25e3, 0.01)
	r := mustRun(t, c, Step{For: 0.01, Pumping: true}, Step{For: 60})
	p0 := pressure(r, 0.0101)
	for _, after := range []float64{1, 5, 12, 30, 59} {
		v := room - p0
		e := volume * lost * v / 1e5 * -math.Expm1(-after/tau)
		near(t, "pressure over its first", pressure(r, 0.01+after)/p0-1, e/(c.Volume-e), 5e-3*e/c.Volume)
	}
}

// With no heat from the wall the work of a wall that gives way warms the gas:
// p V^gamma stays (the adiabate, any text).
func TestYieldIsWork(t *testing.T) {
	c := Closed{Volume: 100e-6, AirPressure: room, AirTemp: roomTemp, Tau: never, Effects: &Effects{Yields: []Yield{{30e-6, 2}}}}
	c.Pump = pulledTo2(c, 40e3, 0.5)
	r := mustRun(t, c, Step{For: 0.5, Pumping: true}, Step{For: 20})
	p0, t0 := r.Pressure(0.5)
	for at := 0.5; at < 20; at += 1.5 {
		p, temp := r.Pressure(at)
		// mass stays, so V ~ T/p
		near(t, "p V^gamma", p*math.Pow(temp/t0*p0/p, gas.Gamma), p0, 1e-5*p0)
	}
	if p, _ := r.Pressure(20); p < p0+2e3 {
		t.Errorf("the pressure rose by %v Pa only", p-p0)
	}
}

// Pad and hose share their volume out and lose all of it at last.
func TestYieldsShareOut(t *testing.T) {
	sum := func(ys []Yield) (v float64) {
		for _, y := range ys {
			v += y.Volume
		}
		return v
	}
	near(t, "pad", sum(Pad(20e-6, 0.1, 10)), 2e-6, 1e-18)
	var h Hose
	near(t, "no hose", sum(h.Yields(0.14, 0.4, 5)), 0, 0)
	h.Bore.Value, h.Bore.Known, h.Length.Value, h.Length.Known = 8e-3, true, 0.3, true
	// 15.08 cm³ of soft silicone give 14 %
	near(t, "hose", sum(h.Yields(0.14, 0.4, 5)), 2.111e-6, 1e-9)
	near(t, "its late part", h.Yields(0.14, 0.4, 5)[1].Volume/sum(h.Yields(0.14, 0.4, 5)), 0.4, 1e-12)
}

// A store empties towards Henry's share with its own time constant, and the
// volume gains what it loses: free air S (1 - p/pa)(1 - exp(-t/Tau)), the
// pressure hardly moving.
func TestStoreGivesOff(t *testing.T) {
	const stored, tau = 0.2e-6, 15.0
	c := Closed{Volume: 500e-6, AirPressure: room, AirTemp: roomTemp, Tau: soon, Effects: &Effects{Store: Store{stored, tau}}}
	c.Pump = pulledTo2(c, 25e3, 0.001)
	r := mustRun(t, c, Step{For: 0.001, Pumping: true}, Step{For: 80})
	const from = 0.0011 // when the gas is at the wall's temperature
	p0 := pressure(r, from)
	for _, after := range []float64{1, 5, 15, 79} {
		want := stored * (1 - p0/room) * -math.Expm1(-after/tau) * room / c.Volume
		near(t, "rise", pressure(r, from+after)-p0, want, 2e-3*want)
	}
}

// A head that cools takes the pressure of a closed gas with it: p/T stays.
func TestWallMoves(t *testing.T) {
	c := bench(&Effects{Wall: Wall{Fade: 40}})
	c.Tau, c.WallTemp = 1e-3, 313.15
	r := mustRun(t, c, Step{For: 3, Pumping: true}, Step{For: 60})
	p0, t0 := r.Pressure(10)
	for at := 10.0; at < 63; at += 5 {
		p, temp := r.Pressure(at)
		near(t, "temperature", temp, roomTemp+20*math.Exp(-at/40), 1e-3)
		near(t, "p/T", p/temp, p0/t0, 1e-6*p0/t0)
	}
	c = bench(&Effects{Wall: Wall{Drift: -0.02}})
	c.Tau, c.Mix = 0.05, 0.5
	r = mustRun(t, c, Step{For: 3, Pumping: true}, Step{For: 60})
	p0, t0 = r.Pressure(5)
	p1, t1 := r.Pressure(60)
	// the gas trails the wall by y tau of drift
	near(t, "drift", t1, roomTemp-0.02*60, 2e-3)
	near(t, "p/T", p1/t1, p0/t0, 1e-6*p0/t0)
}

// A valve that leaks back flows only while the pump does not draw.
func TestBackOnlyWhenShutOff(t *testing.T) {
	slot, err := gas.SeepFor(5e-6/60, gas.StatedVacuum, room, roomTemp, 5e-3, 5e-3)
	if err != nil {
		t.Fatal(err)
	}
	back := Inflow(room, roomTemp, slot)
	with, without := bench(&Effects{Back: back}), bench(new(Effects))
	leaks := without
	leaks.Leak = back
	steps := []Step{{For: 1}, {For: 9, Pumping: true}, {For: 30}}
	a, b, l := mustRun(t, with, steps...), mustRun(t, without, steps...), mustRun(t, leaks, steps...)
	near(t, "steady", pressure(a, 9.99), pressure(b, 9.99), 0.01)
	if pressure(l, 9.99) < pressure(b, 9.99)+20 {
		t.Error("the same flow as a leak does not lift the steady reading: the test shows nothing")
	}
	slope := (pressure(a, 39) - pressure(a, 38)) * 150e-6 / (gas.R * roomTemp)
	near(t, "flow in the hold", slope/back(pressure(a, 38.5)), 1, 1e-3)
}

// A gauge of vacuum shows the room's moves, a gas shut in does not.
func TestRoomMoves(t *testing.T) {
	c := bench(&Effects{Room: Room{Drift: 0.5, Step: -30, At: 20}})
	r := mustRun(t, c, Step{For: 10, Pumping: true}, Step{For: 30})
	p := pressure(r, 18)
	near(t, "pressure shut in", pressure(r, 39), p, 0.01)
	near(t, "drift", r.Vacuum(19)-r.Vacuum(15), 2, 0.01)
	near(t, "door", r.Vacuum(20.01)-r.Vacuum(19.99), -30+0.01, 0.01)
	near(t, "room", r.Room(30), room+15-30, 1e-9)
	near(t, "vacuum", r.Vacuum(39), room+19.5-30-p, 0.01)
	// vented, the gas follows the room
	open := bench(&Effects{Room: Room{Drift: -2}})
	r = mustRun(t, open, Step{For: 20})
	near(t, "vented", r.Vacuum(19), 0, 1)
}

// What can't be is an error that names it.
func TestEffectsRefused(t *testing.T) {
	nan := math.NaN()
	leak := openingLeak(1e-9)
	for name, e := range map[string]*Effects{
		"residue of nothing": {Residue: &Residue{Liquid: WetNothing, Volume: 1e-6, Tau: 1}},
		"residue, no tau":    {Residue: &Residue{Liquid: WetWater, Volume: 1e-6}},
		"residue below none": {Residue: &Residue{Liquid: WetWater, Volume: -1, Tau: 1}},
		"residue, start":     {Residue: &Residue{Liquid: WetWater, Tau: 1, Start: 2}},
		"film without leak":  {Films: []Film{{Viscosity: 0.1, Gap: 1e-6, Length: 1e-3}}},
		"film without gap":   {Films: []Film{{Viscosity: 0.1, Length: 1e-3, Leak: leak}}},
		"yield without tau":  {Yields: []Yield{{Volume: 1e-6}}},
		"yields it all":      {Yields: []Yield{{Volume: 149e-6, Tau: 1}}},
		"store without tau":  {Store: Store{Gas: 1e-6}},
		"wall not a number":  {Wall: Wall{Drift: nan}},
		"room not a number":  {Room: Room{Step: nan}},
	} {
		c := bench(e)
		if r, err := c.Run([]Step{{For: 1}}); err == nil {
			t.Errorf("%s: got %v Pa and no error", name, pressure(r, 0.5))
		}
	}
	r := mustRun(t, bench(&Effects{Residue: &Residue{Liquid: WetWater, Volume: 1e-6, Tau: 1, Start: 1}}))
	if pv, left := r.Vapour(3); math.Abs(pv-VapourPressure(WetWater, roomTemp)) > 1e-9 || math.Abs(left-1e-6) > 1e-18 {
		t.Errorf("no steps: got %v Pa of vapour, %v m³ left", pv, left)
	}
}

// Mass and energy balance with everything on, by quadrature of the flows along
// the computed run: air and vapour that stay are what flowed in, evaporated and
// was pumped off; their energy is what these brought, the wall's heat and the
// work of the walls that gave way.
func TestEffectsBalance(t *testing.T) {
	const hose, late = 3e-6, 4.0
	leak := Inflow(room, roomTemp, gas.Opening{Area: 0.01e-6})
	c := bench(&Effects{
		Residue: &Residue{Liquid: WetIsopropanol, Volume: 0.2e-6, Tau: 10},
		Yields:  []Yield{{hose, late}},
		Wall:    Wall{Fade: 30},
	})
	c.Leak, c.WallTemp = leak, 303
	r := mustRun(t, c, Step{For: 5, Pumping: true}, Step{For: 20})
	m := r.model
	moles := room * c.Volume / (gasConstant * roomTemp)
	const cv = 2.5 * gasConstant
	state := func(at float64) (air, vapour, liquid, energy float64) {
		y := r.at(at)
		p, temp := r.Pressure(at)
		volume := c.Volume * (1 - y[m.yield])
		_, left := r.Vapour(at)
		n := p * volume / (gasConstant * temp)
		return y[0] * moles, n - y[0]*moles, left * 785 / 0.06010, n * cv * temp
	}
	for _, leg := range []struct {
		from, to float64
		pumping  bool
	}{{0, 5, true}, {5, 25, false}} {
		a0, v0, l0, e0 := state(leg.from + 1e-9)
		a1, v1, l1, e1 := state(leg.to - 1e-9)
		var in, outAir, outVapour, energy float64
		h := (leg.to - leg.from) / 4000
		for i := range 4000 {
			at := leg.from + (float64(i)+0.5)*h
			y := r.at(at)
			p, temp := r.Pressure(at)
			const molar = gasConstant / gas.R // kg/mol of air
			f := leak(p) / molar
			w := 0.0
			if leg.pumping {
				w = c.Pump(p) / molar
			}
			pv, _ := r.Vapour(at)
			tw, _ := m.wall(at)
			tw *= roomTemp
			_, left0 := r.Vapour(at - h/2)
			_, left1 := r.Vapour(at + h/2)
			wet := (left0 - left1) * 785 / 0.06010 / h
			in += f * h
			outAir += w * (1 - pv/p) * h
			outVapour += w * pv / p * h
			shrink := (hose*(room-p)/1e5 - y[m.yield]*c.Volume) / late // m³/s
			energy += h * (1.4*cv*(f*roomTemp+wet*tw-w*temp) + moles*cv/c.Tau*(tw-temp) + p*shrink)
		}
		near(t, "air", a1-a0, in-outAir, 1e-5*moles)
		near(t, "vapour", v1-v0, l0-l1-outVapour, 1e-5*moles)
		near(t, "energy", e1-e0, energy, 2e-5*e0)
	}
}

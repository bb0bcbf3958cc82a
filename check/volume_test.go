package check

import (
	"math"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

var exactGauge = rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(1e-12), Resolution: 1e-9}

// TestSyringe: Boyle's law. 60 cm³ at 60 kPa absolute and 5 cm³ more stand at
// 60·60/65 = 55.3846 kPa; pushed in, at 60·60/55 = 65.4545.
func TestSyringe(t *testing.T) {
	air := unit.Exactly(100e3)
	for _, step := range []float64{5e-6, -5e-6} {
		p2 := 60e3 * 60e-6 / (60e-6 + step)
		r, err := SyringeVolume(day, []Syringe{{unit.About(step, 1e-12), unit.Exactly(40e3), unit.Exactly(100e3 - p2)}}, air, exactGauge)
		if err != nil {
			t.Fatal(err)
		}
		agree(t, "volume", r.Value.Value, 60e-6, 1e-15)
		if r.Kind != KindVolume || r.Method != BySyringe || r.Dim != unit.VolumeDim {
			t.Errorf("%+v", r)
		}
	}
	// the wrong way round
	if _, err := SyringeVolume(day, []Syringe{{unit.Exactly(5e-6), unit.Exactly(44.6e3), unit.Exactly(40e3)}}, air, exactGauge); err == nil {
		t.Error("drawn out the vacuum deepens")
	}
}

// TestSyringeGUM: propagation by hand (GUM 5.1.2): V = dV p2/(p1 - p2) with p1 =
// 60 kPa u 100 Pa, p2 = 55.3846 kPa u 100 Pa, dV = 5 cm³ u 0.05 cm³, p1 and p2 from
// readings whose errors are their own.
func TestSyringeGUM(t *testing.T) {
	p1, dv := 60e3, 5e-6
	p2 := p1 * 60 / 65
	u := 100.0
	r, err := SyringeVolume(day, []Syringe{{unit.About(dv, 1.959963984540054*0.05e-6), unit.About(100e3-p1, 1.959963984540054*u), unit.About(100e3-p2, 1.959963984540054*u)}}, unit.Exactly(100e3), exactGauge)
	if err != nil {
		t.Fatal(err)
	}
	// cm³: dV/ddV = 12 -> 0.6; dV/dp1 = -dV p2/(p1-p2)² = -0.0130 -> 1.3; dV/dp2 = 0.01408 -> 1.408333
	d := p1 - p2
	want := math.Sqrt(sq(p2/d*0.05e-6) + sq(dv*p2/d/d*u) + sq(dv*p1/d/d*u))
	agree(t, "by hand", want, 2.00833e-6, 1e-10)
	agree(t, "u(V)", r.Value.SD(), want, 1e-9*want)
	sum := 0.0
	for _, s := range r.Shares {
		sum += s.Share
	}
	agree(t, "shares", sum, 1, 1e-6)
	if r.Shares[0].Input != "readings" {
		t.Errorf("shares %v", r.Shares)
	}
}

// TestSyringeSame: what is the same in all steps is not averaged away, readings are.
func TestSyringeSame(t *testing.T) {
	g := rig.Gauge{Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(0.01), Resolution: 200}
	step := func(v1 float64) Syringe {
		p1 := 100e3 - v1
		return Syringe{unit.About(5e-6, 0.1e-6), unit.Exactly(v1), unit.Exactly(100e3 - p1*60/65)}
	}
	one, err := SyringeVolume(day, []Syringe{step(40e3)}, unit.About(100e3, 100), g)
	if err != nil {
		t.Fatal(err)
	}
	var many []Syringe
	for range 100 {
		many = append(many, step(40e3))
	}
	all, err := SyringeVolume(day, many, unit.About(100e3, 100), g)
	if err != nil {
		t.Fatal(err)
	}
	if all.Value.Spread >= one.Value.Spread || all.Value.Spread < 0.02*60e-6 {
		t.Errorf("one ± %v, a hundred ± %v: the syringe's 2 %% stays", one.Value.Spread, all.Value.Spread)
	}
	off := step(40e3)
	off.After.Value -= 1500
	r, err := SyringeVolume(day, []Syringe{step(40e3), step(45e3), off}, unit.About(100e3, 100), g)
	if err != nil || r.Verdict != Unsure {
		t.Errorf("steps that differ: %v, %v", r.Verdict, err)
	}
}

// TestSlope: 4 ± 0.08 kPa in 15 ± 0.15 s, by hand 266.67 Pa/s ± 2 and 1 %; without a ±
// of its own a fall is two readings off by up to half a step of 100 Pa each.
func TestSlope(t *testing.T) {
	s := Slope(unit.About(4e3, 80), unit.About(15, 0.15), exactGauge)
	agree(t, "slope", s.Value, 4e3/15.0, 1e-9)
	agree(t, "its ±", s.Spread/s.Value, math.Sqrt(0.02*0.02+0.01*0.01), 1e-9)
	g := exactGauge
	g.Resolution = 100
	s = Slope(unit.Exactly(4e3), unit.Exactly(15), g)
	agree(t, "± of two readings", s.Spread*15, 1.96*math.Sqrt2*100/math.Sqrt(12), 0.05)
}

// TestTwoHolds: a choked opening makes a straight line of slope pa q/V: 0.5 mm, 0.5
// L, 20 °C: 7903.5613104 Pa/s (closed form), q = 2.340063 L/min (198.6306 m/s times
// the area).
func TestTwoHolds(t *testing.T) {
	q := 2.340063e-3 / 60
	h := TwoHolds{Without: unit.Exactly(120), With: unit.Exactly(120 + 7903.5613104), Known: unit.Exactly(q), Air: unit.Exactly(101325)}
	r, err := TwoHoldVolume(day, h, exactGauge)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "volume", r.Value.Value, 0.5e-3, 0.5e-9)
	// by hand: 10 % of q, 2 % of the difference, 0.5 % of pa
	h.Known.Spread, h.Air.Spread = 0.1*q, 0.005*101325
	h.With.Spread = 0.02 * 7903.5613104
	r, err = TwoHoldVolume(day, h, exactGauge)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "± by hand", r.Value.Spread/r.Value.Value, math.Sqrt(0.1*0.1+0.02*0.02+0.005*0.005), 1e-9)
	if r.Value.Spread/r.Value.Value < 0.1 {
		t.Error("better than the known leak")
	}
	h.Room, h.Wall = unit.Exactly(290), unit.Exactly(299)
	warm, _ := TwoHoldVolume(day, h, exactGauge)
	agree(t, "a warm head", warm.Value.Value/r.Value.Value, 299.0/290, 1e-12)
	h.Without = unit.Exactly(9000)
	if _, err := TwoHoldVolume(day, h, exactGauge); err == nil {
		t.Error("a leak that does not leak gives no volume")
	}
}

// TestVolumeByReadings: q over the volume is what a hold tells.
func TestVolumeByReadings(t *testing.T) {
	read := func(q, rel float64) *leak.Reading {
		return &leak.Reading{Leak: &leak.Interval{Median: q, Low: q * (1 - rel), High: q * (1 + rel)}, Source: leak.FromHold}
	}
	known := leak.Interval{Median: 30e-6 / 60, Low: 27e-6 / 60, High: 33e-6 / 60}
	// taken as 100 cm³, 60 in truth: the readings are 100/60 too large
	r, err := VolumeByReadings(day, read(2e-6/60/0.6, 0.1), read(32e-6/60/0.6, 0.02), 100e-6, known)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "volume", r.Value.Value, 60e-6, 1e-12)
	agree(t, "±", r.Value.Spread/r.Value.Value, math.Sqrt(0.1*0.1+sq(math.Hypot(0.2, 0.64)/30)), 1e-9)
	if _, err := VolumeByReadings(day, read(2e-6, 0.1), read(1e-6, 0.1), 100e-6, known); err == nil {
		t.Error("the other way round")
	}
}

// TestWater: 62 g at 20 °C are 62.11 cm³ (998.2 kg/m³); a hose of 4 mm and 1 m holds
// 12.57 cm³, of which anything to 14 % goes under vacuum.
func TestWater(t *testing.T) {
	h := rig.Hose{Bore: unit.Exactly(4e-3), Length: unit.Exactly(1)}
	r, err := WaterVolume(day, Water{Mass: unit.About(62e-3, 0.5e-3), Temp: unit.Exactly(293.15)}, h)
	if err != nil {
		t.Fatal(err)
	}
	soft := 0.14 * math.Pi / 4 * 16e-6
	agree(t, "volume", r.Value.Value, 62e-3/998.2-soft/2, 1e-11)
	rho := 0.3
	agree(t, "±", r.Value.Spread, math.Sqrt(sq(0.5e-3/998.2)+sq(62e-3*rho/998.2/998.2)+sq(1.959964*soft/2/math.Sqrt(3))), 2e-9)
	stiff, err := WaterVolume(day, Water{Volume: unit.About(62e-6, 1e-6), Soft: unit.About(0, 0)}, h)
	if err != nil {
		t.Fatal(err)
	}
	agree(t, "stiff", stiff.Value.Value, 62e-6, 1e-15)
	if _, err := WaterVolume(day, Water{}, h); err == nil {
		t.Error("no water")
	}
}

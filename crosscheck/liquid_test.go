package crosscheck

import (
	"math"
	"testing"

	"seatproof/gas"
	"seatproof/unit"
)

func liquid(t *testing.T, code string) Liquid {
	t.Helper()
	l, err := LiquidOf(code)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Plane Poiseuille flow: a slot of 100 mm × 2 µm × 1.5 mm under 20 mm of a liquid of
// 780 kg/m³ passes so many mL/h; viscosities of White (petrol, kerosene), IAPWS 2008
// (water) and the data page of isopropyl alcohol.
func TestSlotFlowOfLiquids(t *testing.T) {
	slot := gas.Seep{Width: 0.1, Gap: 2e-6, Length: 1.5e-3}
	dp := 780 * gas.Gravity * 0.02
	near(t, "pressure", dp, 152.984, 1e-5)
	for _, c := range []struct {
		name           string
		viscosity, mLh float64
	}{{"water", 1.0016e-3, 0.0244383}, {"petrol", 0.31e-3, 0.0789593}, {"kerosene", 1.92e-3, 0.0127486}, {"isopropanol", 2.3703e-3, 0.0103267}} {
		near(t, c.name, SeepLiquid(slot, c.viscosity, dp)*3600e6, c.mLh, 5e-6)
	}
}

// The same from the gas: q = Q 2 mu_gas dp/(mu_liq (p1² - p2²)), Q [Pa m³/s] by the
// plain law (isothermal laminar leaks: Levenspiel, Engineering Flow and Heat
// Exchange, 4.1.8).
func TestSlotFlowFromGas(t *testing.T) {
	slot := gas.Seep{Width: 0.1, Gap: 2e-6, Length: 1.5e-3, NoSlip: true, NoInertia: true}
	p1, p2 := 101325.0, 20000.0
	m, err := slot.MassFlow(p1, p2, temp)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "gas", m*gas.R*temp, 1.209113e-2, 1e-6)
	near(t, "liquid", m*gas.R*temp*2*gas.Viscosity(temp)*152.984/(1.0016e-3*(p1*p1-p2*p2)), SeepLiquid(slot, 1.0016e-3, 152.984), 1e-12)
}

// Young and Laplace in a slot of 10 µm: 2 sigma/h for a wetting liquid.
func TestCapillaryPressure(t *testing.T) {
	for _, c := range []struct {
		name           string
		sigma, pascals float64
	}{{"water", 72.75e-3, 14550}, {"isopropanol", 21.7e-3, 4340}, {"petrol", 22e-3, 4400}, {"kerosene", 28e-3, 5600}} {
		near(t, c.name, Draws(c.sigma, 0, 10e-6), c.pascals, 1e-12)
	}
	// Petrol at a square edge: 0 at a contact angle of 0, 0.8 kPa at 10°; behind a
	// relief of 15 to 30° nothing (docs/model.md, the same leak in other tests).
	for _, c := range []struct{ theta, beta, pascals float64 }{{0, 90, 0}, {10, 90, 764.05}, {0, 15, 0}, {10, 30, 0}} {
		got := Holds(22e-3, c.theta*degree, c.beta*degree, 10e-6)
		if math.Abs(got-c.pascals) > 0.01 {
			t.Errorf("held at %g° behind %g°: %.2f Pa, want %.2f", c.theta, c.beta, got, c.pascals)
		}
	}
	if Holds(72.75e-3, 60*degree, 90*degree, 10e-6) < 12000 {
		t.Error("water at 60° on a square edge is held by sigma sqrt(3)/h, 12.6 kPa")
	}
}

// The orifice law where weight decides, Sampson's where viscosity does.
func TestOpeningLiquid(t *testing.T) {
	big := gas.Opening{Area: 1e-6}
	near(t, "a large opening", OpeningLiquid(big, 1e-3, 1000, 500), 1e-6*math.Sqrt(2*500/1000.0), 0.03)
	small := gas.Opening{Area: math.Pi / 4 * 1e-12}
	near(t, "a hole of 1 µm", OpeningLiquid(small, 1e-3, 1000, 500), 1e-18*500/(24*1e-3), 1e-3)
	if OpeningLiquid(big, 1e-3, 1000, -1) != 0 || OpeningLiquid(gas.Opening{}, 1e-3, 1000, 1) != 0 {
		t.Error("nothing drives it, or there is none: nothing flows")
	}
	sharp := gas.Opening{Area: 1e-6, Edge: 1, Reference: (room - 50e3) / room}
	if q := OpeningLiquid(sharp, 1e-3, 1000, 500); !(q < 0.9*OpeningLiquid(big, 1e-3, 1000, 500)) {
		t.Errorf("a sharp edge passes less at a small drop than it does at 50 kPa: %g", q)
	}
}

// Common practice, no source: a slow leak shows with a liquid only after minutes.
// 5 to 20 cm³/min is slow: a good seat to its limit; gas shows it in a second.
func TestSlowLeakShowsAfterMinutes(t *testing.T) {
	for _, code := range []string{"white-spirit", "kerosene", "isopropanol", "petrol"} {
		for _, q := range []float64{5, 10, 20} {
			f, err := LiquidTest{Liquid: liquid(t, code), Head: unit.Exactly(0.03)}.Forecast(exact(q*cm3, 0, 0))
			if err != nil {
				t.Fatal(err)
			}
			if f.Drop.Median < 60 {
				t.Errorf("%s: %g cm³/min drops after %.0f s, want minutes", code, q, f.Drop.Median)
			}
			if f.Paper.Median > f.Drop.Median {
				t.Errorf("%s: a paper is wet after %.0f s, a drop comes after %.0f", code, f.Paper.Median, f.Drop.Median)
			}
		}
	}
	water, err := LiquidTest{Liquid: liquid(t, "water"), Head: unit.Exactly(0.03)}.Forecast(exact(10*cm3, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	if water.Drop.Never < 0.5 {
		t.Errorf("water on a metal that it hardly wets comes as a drop with chance %.2f: it should mostly be held", 1-water.Drop.Never)
	}
	if big, err := (LiquidTest{Liquid: liquid(t, "white-spirit"), Head: unit.Exactly(0.03)}).Forecast(exact(2000*cm3, 1, 0)); err != nil || big.Drop.Median > 20 {
		t.Errorf("2000 cm³/min of opening drops after %.0f s, %v: want seconds", big.Drop.Median, err)
	}
}

// Dry for a minute says little: usually far more than the vacuum test would find.
func TestDryBoundsLoosely(t *testing.T) {
	test := LiquidTest{Liquid: liquid(t, "white-spirit"), Head: unit.About(0.03, 0.01)}
	minute, err := test.Leak(SeenDry, unit.Exactly(60), air)
	if err != nil {
		t.Fatal(err)
	}
	if !minute.UpperOnly || minute.High < 23*cm3 {
		t.Errorf("dry for 60 s bounds the leak at %.3g cm³/min: looser than a limit of 23 was expected", minute.High/cm3)
	}
	hour, err := test.Leak(SeenDry, unit.Exactly(3600), air)
	if err != nil {
		t.Fatal(err)
	}
	if hour.High >= minute.High {
		t.Errorf("an hour dry bounds at %.3g, a minute at %.3g", hour.High/cm3, minute.High/cm3)
	}
}

// Forwards and backwards: the leak whose drop comes at the median of the forecast
// is in the bound of that drop; more leak, less time.
func TestLiquidRoundTrip(t *testing.T) {
	test := LiquidTest{Liquid: liquid(t, "kerosene"), Head: unit.About(0.03, 0.005)}
	was := math.Inf(1)
	for _, q := range []float64{5, 50, 500} {
		for _, share := range []float64{0, 0.7} {
			f, err := test.Forecast(exact(q*cm3, share, 0.5))
			if err != nil {
				t.Fatal(err)
			}
			for seen, at := range map[Seen]float64{SeenDrop: f.Drop.Median, SeenPaper: f.Paper.Median} {
				if math.IsInf(at, 1) {
					continue
				}
				b, err := test.Leak(seen, unit.Exactly(at), air)
				if err != nil {
					t.Fatal(err)
				}
				if b.Low > q*cm3 || !b.LowerOnly && b.High < q*cm3 {
					t.Errorf("%g cm³/min, share %g: %s after %.3g s means %.3g to %.3g cm³/min", q, share, seen, at, b.Low/cm3, b.High/cm3)
				}
			}
			if share == 0 {
				if f.Drop.Median >= was {
					t.Errorf("%g cm³/min drops no sooner than less", q)
				}
				was = f.Drop.Median
			}
		}
	}
	none, err := test.Forecast(exact(0, 0, 0))
	if err != nil || none.Drop.Never != 1 || !math.IsInf(none.Paper.Low, 1) {
		t.Errorf("no leak: %+v, %v", none, err)
	}
}

func TestLiquidRefuses(t *testing.T) {
	_, err := LiquidOf("sea water")
	refused(t, err, "liquid")
	_, err = LiquidTest{Head: unit.Exactly(0.02)}.Forecast(exact(1e-6, 0, 0))
	refused(t, err, "liquid")
	good := LiquidTest{Liquid: liquid(t, "water"), Head: unit.Exactly(0.02)}
	for _, head := range []unit.Measured{{}, unit.Exactly(0), unit.Exactly(-0.02), unit.Exactly(5)} {
		_, err = LiquidTest{Liquid: good.Liquid, Head: head}.Forecast(exact(1e-6, 0, 0))
		refused(t, err, "head")
	}
	_, err = good.Forecast(Leak{Port: air})
	refused(t, err, "leak")
	for _, after := range []unit.Measured{{}, unit.Exactly(-5), unit.Exactly(0), unit.Exactly(math.Inf(1))} {
		_, err = good.Leak(SeenDry, after, air)
		refused(t, err, "after")
	}
	_, err = good.Leak("damp", unit.Exactly(60), air)
	refused(t, err, "seen")
	_, err = good.Leak(SeenDry, unit.Exactly(60), Port{Room: room, Temp: temp, Seat: Seat{Contact: unit.Exactly(-1)}})
	refused(t, err, "contact width")
}

// Every liquid has a source, and properties that are those of a liquid.
func TestLiquids(t *testing.T) {
	for _, l := range Liquids {
		if l.Source == "" || l.Name == "" || l.Viscosity.Low < 0.1e-3 || l.Viscosity.High > 5e-3 || l.Density.Low < 600 || l.Density.High > 1000 || l.Tension.Low < 15e-3 || l.Tension.High > 75e-3 || l.Angle.High > math.Pi/2 {
			t.Errorf("%+v", l)
		}
	}
}

package check_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

const (
	inHg   = 3386.389 // Pa, NIST SP 811
	perMin = 1e-6 / 60
)

// bench is a home builder's rig: a 10 L/min pump and a needle to ¼ inHg.
func bench() rig.Rig {
	return rig.Rig{
		Volume: unit.About(62e-6, 3e-6), RigLeak: unit.About(0.6*perMin, 0.3*perMin),
		Pump:  rig.Pump{FreeFlow: unit.Exactly(10e-3 / 60), Blanked: unit.About(22.9*inHg, 0.3*inHg)},
		Gauge: rig.Gauge{Kind: rig.GaugeNeedle, Unit: "inHg", Class: 1.6, Division: 0.5 * inHg, Span: rig.Span{High: 30 * inHg, Known: true}},
		Air:   rig.Air{Pressure: unit.About(100.6e3, 0.2e3), Temperature: unit.Exactly(293.15)},
	}
}

func twoValves() []check.CardPort {
	return []check.CardPort{{Name: "Intake port", Volume: unit.About(95e-6, 20e-6), Valves: []float64{27e-3, 27e-3}}}
}

// truth is a rig and a port as they are.
type truth struct {
	rigVolume, portVolume, rigLeak, flow, blanked float64
	gain, tau, share, edge                        float64
	pa, ta                                        float64
}

// trueTo draws what is behind a stated rig: each figure normal about what was
// stated, as its ± says.
func trueTo(r rig.Rig, p check.CardPort, chance *rand.Rand) truth {
	draw := func(m unit.Measured) float64 { return m.Value + m.SD()*chance.NormFloat64() }
	acc := 1.13 * r.Gauge.Class / 100
	if r.Gauge.Accuracy.Known {
		acc = r.Gauge.Accuracy.Value
	}
	t := truth{
		rigVolume: max(draw(r.Volume), 10e-6), portVolume: max(draw(p.Volume), 10e-6), rigLeak: max(draw(r.RigLeak), 0),
		flow: r.Pump.FreeFlow.Value * math.Exp(0.1*chance.NormFloat64()), blanked: draw(r.Pump.Blanked),
		gain: acc / 1.96 * chance.NormFloat64(), tau: 0.32 * math.Exp(0.9*chance.NormFloat64()),
		edge: chance.Float64(), pa: draw(r.Air.Pressure), ta: r.Air.Temperature.Value,
	}
	t.share = []float64{0, 1, chance.Float64()}[chance.IntN(3)]
	return t
}

// hold runs a port that leaks q [m³/s at 50 kPa] through pull and hold and
// returns what the gauge showed at the shut-off and t [s] later, to no step.
func (x truth) hold(tb testing.TB, q, t float64) (from, to float64, run *rig.Run) {
	tb.Helper()
	opening, err := gas.OpeningFor(q*x.share, gas.StatedVacuum, x.pa, x.ta, x.edge)
	if err != nil {
		tb.Fatal(err)
	}
	seep, err := gas.SeepFor(q*(1-x.share), gas.StatedVacuum, x.pa, x.ta, math.Pi*27e-3, 1.2e-3)
	if err != nil {
		tb.Fatal(err)
	}
	weep, err := gas.SeepFor(x.rigLeak, gas.StatedVacuum, x.pa, x.ta, 5e-3, 5e-3)
	if err != nil {
		tb.Fatal(err)
	}
	c := rig.Closed{
		Volume: x.rigVolume + x.portVolume, AirPressure: x.pa, AirTemp: x.ta, Tau: x.tau,
		Leak: rig.Inflow(x.pa, x.ta, opening, seep, weep),
		Pump: func(p float64) float64 {
			return gas.FreeAirMass(x.flow, x.pa, x.ta) * math.Max(0, 1-(x.pa-p)/x.blanked)
		},
	}
	const pull = 40
	run, err = c.Run([]rig.Step{{For: pull, Pumping: true}, {For: t}})
	if err != nil {
		tb.Fatal(err)
	}
	return (1 + x.gain) * run.Vacuum(pull), (1 + x.gain) * run.Vacuum(pull+t), run
}

// A port that loses just what the card allows, on a rig that is as stated, is
// said to hold by the estimator that reads the same needle and watch, and one
// that loses what the card condemns to leak, whichever way the leak flows.
func TestCardsFigures(t *testing.T) {
	chance := rand.New(rand.NewPCG(7, 1))
	rigs := 12
	if testing.Short() {
		rigs = 3
	}
	tried := 0
	for i := range rigs {
		r, ports := someRig(chance, i)
		c, err := check.MakeCard(check.CardJob{Rig: r, Ports: ports})
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range c.Ports {
			for _, h := range l.Holds {
				for _, want := range []limit.Verdict{limit.Holds, limit.Leaks} {
					figure := h.Lose
					if want == limit.Leaks {
						figure = h.Over
					}
					if figure == nil {
						continue
					}
					x := truth{rigVolume: r.Volume.Value, portVolume: l.Volume.Value, rigLeak: r.RigLeak.Value, flow: r.Pump.FreeFlow.Value,
						blanked: r.Pump.Blanked.Value, tau: 0.3, share: float64(i % 2), edge: 0.5, pa: r.Air.Pressure.Value, ta: 293.15}
					q := leakThatLoses(t, x, *figure, h.For)
					from, to, _ := x.hold(t, q, h.For)
					if from < l.From-c.Step || math.Abs(from-to-*figure) > 0.02*c.Step+1 {
						continue // such a port never gets there, or the whole vacuum goes
					}
					tried++
					// what eye and watch make of it: a loss of just the figure
					from = c.Step * math.Round(from/c.Step)
					r.Port = rig.Port{Volume: l.Volume, Held: h.By, WetWith: rig.WetNothing, HeadTemperature: unit.About(293.15, 8)}
					rd := leak.Read(&trace.Trace{Kind: trace.Vacuum, Hand: []trace.HandReading{{Value: from}, {Time: h.For, Value: from - *figure}}}, r, leak.Options{})
					over := rd.ChanceOver(l.One)
					if want == limit.Leaks {
						over = rd.ChanceOver(l.All)
					}
					if got := limit.Judge(over, false); got != want {
						t.Errorf("rig %d, %s, %s for %g s: lost %.3g kPa of %.3g, judged %s (chance of being over %.3g), want %s", i, l.Name, h.By, h.For, *figure/1e3, from/1e3, got, over, want)
					}
					// the leak behind it must be on the side that the card says
					if want == limit.Holds && q > l.One || want == limit.Leaks && q < l.All {
						t.Errorf("rig %d, %s, %s for %g s: a loss of %.3g kPa is %.3g cm³/min, limits %.3g and %.3g, card says %s", i, l.Name, h.By, h.For, *figure/1e3, q/perMin, l.One/perMin, l.All/perMin, want)
					}
				}
			}
		}
	}
	if tried < 2*rigs {
		t.Errorf("only %d figures tried on %d rigs", tried, rigs)
	}
}

// leakThatLoses returns the leak that loses so much [Pa] in t [s].
func leakThatLoses(tb testing.TB, x truth, lose, t float64) float64 {
	low, high := 0.0, 4000*perMin
	for range 18 {
		m := (low + high) / 2
		if from, to, _ := x.hold(tb, m, t); from-to < lose {
			low = m
		} else {
			high = m
		}
	}
	return (low + high) / 2
}

// someRig returns the i-th of a row of rigs: strong and weak pumps, needles and
// displays, one and two valves, good and poor knowledge.
func someRig(chance *rand.Rand, i int) (rig.Rig, []check.CardPort) {
	r := bench()
	between := func(a, b float64) float64 { return a * math.Pow(b/a, chance.Float64()) }
	r.Pump.FreeFlow = unit.Exactly(between(1e-3, 40e-3) / 60)
	b := between(60e3, 88e3)
	r.Pump.Blanked = unit.About(b, between(0.003, 0.04)*b)
	v := between(30e-6, 150e-6)
	r.Volume = unit.About(v, between(0.02, 0.15)*v)
	r.RigLeak = unit.About(between(0.2, 3)*perMin, 0.4*perMin)
	if i%3 == 1 {
		r.Gauge = rig.Gauge{Kind: rig.GaugeDigital, Unit: "kPa", Resolution: 100, Accuracy: unit.Exactly(between(0.002, 0.01)), Span: rig.Span{High: 100e3, Known: true}}
	}
	p := between(20e-6, 300e-6)
	ports := []check.CardPort{{Name: "Port", Volume: unit.About(p, between(0.05, 0.3)*p), Valves: []float64{between(18e-3, 50e-3)}}}
	if i%2 == 0 {
		ports[0].Valves = append(ports[0].Valves, ports[0].Valves[0])
	}
	return r, ports
}

// Of ports that leak more than their limits the card clears at most 5 %, and of
// those within one valve's limit it condemns at most 5 %, whatever is behind the
// rig as stated. The ports drawn are the hard ones, up to twice over or under.
func TestCardIsSafe(t *testing.T) {
	if testing.Short() {
		t.Skip("the long form alone has enough ports to count")
	}
	chance := rand.New(rand.NewPCG(11, 2))
	var over, cleared, under, condemned int
	for i := range 12 {
		r, ports := someRig(chance, i)
		c, err := check.MakeCard(check.CardJob{Rig: r, Ports: ports})
		if err != nil {
			t.Fatal(err)
		}
		l := c.Ports[0]
		for k := range 40 {
			x := trueTo(r, l.CardPort, chance)
			factor := math.Exp(0.7 * chance.Float64())
			q := l.All * factor
			if k%2 == 1 {
				q = l.One / factor
			}
			h := l.Holds[k/2%len(l.Holds)]
			from, to, _ := x.hold(t, q, h.For)
			read := func(v float64) float64 { return c.Step * math.Round(v/c.Step+0.3*chance.NormFloat64()) }
			lost := read(from) - read(to)
			start := read(from)
			holds := start >= l.From && h.Lose != nil && lost <= *h.Lose && (l.Reading == nil || start >= *l.Reading)
			leaks := h.Over != nil && lost > *h.Over || l.Below != nil && start < *l.Below
			if k%2 == 0 {
				over++
				if holds {
					cleared++
				}
			} else {
				under++
				if leaks {
					condemned++
				}
			}
		}
	}
	t.Logf("over the limits: %d of %d cleared; within: %d of %d condemned", cleared, over, condemned, under)
	if cleared > over/20 || condemned > under/20 {
		t.Errorf("over the limits: %d of %d cleared; within: %d of %d condemned; want at most 5 %% of each", cleared, over, condemned, under)
	}
}

// The figures are whole steps of the gauge, a weak pump's reading speaks and a
// strong one's doesn't.
func TestCardShape(t *testing.T) {
	r := bench()
	c, err := check.MakeCard(check.CardJob{Rig: r, Ports: twoValves()})
	if err != nil {
		t.Fatal(err)
	}
	whole := func(name string, v *float64) {
		if v != nil && math.Abs(*v/c.Step-math.Round(*v/c.Step)) > 1e-6 {
			t.Errorf("%s: %g is not a whole number of steps of %g", name, *v, c.Step)
		}
	}
	l := c.Ports[0]
	if c.Unit != "inHg" || math.Abs(c.Step-inHg/4) > 1 {
		t.Errorf("unit %s, step %g Pa, want ¼ inHg", c.Unit, c.Step)
	}
	if l.Reading != nil {
		t.Errorf("a 10 L/min pump and a ½ inHg needle tell a limit of %.3g cm³/min by the reading", l.One/perMin)
	}
	whole("from", &l.From)
	whole("below", l.Below)
	whole("blank", &c.Blank.Reach)
	whole("blank lose", c.Blank.Lose)
	for _, h := range l.Holds {
		whole("lose", h.Lose)
		whole("over", h.Over)
		if h.Lose == nil || h.Over == nil || *h.Over <= *h.Lose {
			t.Errorf("%s: %+v, want two figures, the second larger", h.By, h)
		}
		if h.By == rig.HeldThumb && h.For != check.ThumbFor {
			t.Errorf("a thumb for %g s", h.For)
		}
	}
	r.Pump.FreeFlow = unit.Exactly(0.4e-3 / 60)
	if c, err = check.MakeCard(check.CardJob{Rig: r, Ports: twoValves()}); err != nil {
		t.Fatal(err)
	} else if l := c.Ports[0]; l.Reading == nil || *l.Reading > r.Pump.Blanked.Value {
		t.Errorf("a 0.4 L/min pump's reading says nothing at %.3g cm³/min", l.One/perMin)
	}
	r.Pump.FreeFlow = unit.Measured{}
	if c, err = check.MakeCard(check.CardJob{Rig: r, Ports: twoValves()}); err != nil {
		t.Fatal(err)
	} else if l := c.Ports[0]; l.Reading != nil || l.Below != nil || !l.Tells() {
		t.Errorf("no pump known: %+v", l)
	}
}

// A rig that knows its volume worse gets stricter figures, not looser ones.
func TestCardWidens(t *testing.T) {
	r := bench()
	good, err := check.MakeCard(check.CardJob{Rig: r, Ports: twoValves(), Unit: "kPa"})
	if err != nil {
		t.Fatal(err)
	}
	poor := twoValves()
	poor[0].Volume.Spread = 60e-6
	bad, err := check.MakeCard(check.CardJob{Rig: r, Ports: poor, Unit: "kPa"})
	if err != nil {
		t.Fatal(err)
	}
	for i, h := range good.Ports[0].Holds {
		b := bad.Ports[0].Holds[i]
		if h.For == b.For && b.Lose != nil && *b.Lose > *h.Lose || h.For == b.For && b.Over != nil && *b.Over < *h.Over {
			t.Errorf("%s: known well %g, %g; known badly %g, %g", h.By, *h.Lose, *h.Over, *b.Lose, *b.Over)
		}
	}
}

func TestCardRefuses(t *testing.T) {
	no := bench()
	no.Pump.Blanked = unit.Measured{}
	high := bench()
	high.Air.Pressure = unit.Exactly(52e3)
	bare := twoValves()
	bare[0].Valves = nil
	unpoured := twoValves()
	unpoured[0].Volume = unit.Measured{}
	for _, c := range []struct {
		name string
		job  check.CardJob
		want string
	}{
		{"no blanked reading", check.CardJob{Rig: no, Ports: twoValves()}, "blanked reading"},
		{"no port", check.CardJob{Rig: bench()}, "no port"},
		{"no valve", check.CardJob{Rig: bench(), Ports: bare}, "no valve"},
		{"no volume", check.CardJob{Rig: bench(), Ports: unpoured}, "volume"},
		{"thin air", check.CardJob{Rig: high, Ports: twoValves()}, "air pressure"},
	} {
		if _, err := check.MakeCard(c.job); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// TestCardCondemnsNoSoundPort: a rig whose blank reaches just what the card asks
// for is used, and a port that does not leak stands there with the blank; a port
// at its limits stands lower by what that moves the needle. Neither is condemned
// by the reading.
func TestCardCondemnsNoSoundPort(t *testing.T) {
	r := bench()
	r.Pump.Blanked = unit.About(77.4e3, 1.2e3)
	r.Gauge = rig.Gauge{Kind: rig.GaugeDigital, Unit: "kPa", Resolution: 50, Accuracy: unit.Exactly(0.005), Span: rig.Span{High: 100e3, Known: true}}
	ports := []check.CardPort{{Name: "Intake port", Volume: unit.About(95e-6, 6e-6), Valves: []float64{19e-3, 19e-3}, Typed: limit.Plain(limit.ByOwn, 6.2*perMin, 0)}}
	said := 0
	for i := range 5 {
		if i > 0 {
			r, ports = someRig(rand.New(rand.NewPCG(5, uint64(i))), i)
		}
		c, err := check.MakeCard(check.CardJob{Rig: r, Ports: ports})
		if err != nil {
			t.Fatal(err)
		}
		l := c.Ports[0]
		if l.Below == nil {
			continue
		}
		said++
		// the pump's curve from its free flow to its blanked reading is straight
		lowest := c.Blank.Reach * (1 - l.All/r.Pump.FreeFlow.Value)
		if *l.Below > lowest+c.Step {
			t.Errorf("rig %d: the blank must reach %.2f kPa, where a port at its limits stands at %.2f; the card condemns below %.2f", i, c.Blank.Reach/1e3, lowest/1e3, *l.Below/1e3)
		}
		if *l.Below > c.Blank.Reach {
			t.Errorf("rig %d: the blank must reach %.2f kPa, and what stands below %.2f leaks", i, c.Blank.Reach/1e3, *l.Below/1e3)
		}
	}
	if said < 2 {
		t.Errorf("only %d rigs condemn by the reading", said)
	}
}

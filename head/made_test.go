package head

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"testing"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

const cm3min = 1e-6 / 60 // m³/s

// reading is what a made trace says: a leak q [cm³/min], lognormal with sd u of
// the logarithm, in a room of 101.3 kPa and 20 °C.
func reading(q, u float64) *leak.Reading {
	r := &leak.Reading{Room: 101325, RoomTemp: 293.15, Source: leak.FromHold, Kind: leak.KindUnresolved}
	const n = 100
	for i := range n {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/n-1)
		r.Draws = append(r.Draws, leak.Draw{Flow: q * cm3min * math.Exp(u*z), Share: 0.5, Edge: 0.5})
	}
	r.Leak = &leak.Interval{Median: q * cm3min, Low: q * cm3min * math.Exp(-1.96*u), High: q * cm3min * math.Exp(1.96*u)}
	r.Budget = []leak.BudgetLine{{Input: "samples", Share: 0.6}, {Input: "volume", Share: 0.4}}
	at := func(over float64) float64 {
		lo, hi := math.Log(q*cm3min)-9, math.Log(q*cm3min)+9
		for range 22 {
			if m := (lo + hi) / 2; r.ChanceOver(math.Exp(m)) > over {
				lo = m
			} else {
				hi = m
			}
		}
		return math.Exp(lo)
	}
	r.TestedAgain = againOf(u, func() leak.Interval {
		return leak.Interval{Median: at(0.5) / (q * cm3min), Low: at(0.975) / (q * cm3min), High: at(0.025) / (q * cm3min)}
	})
	r.TestedAgain.Median *= q * cm3min
	r.TestedAgain.Low *= q * cm3min
	r.TestedAgain.High *= q * cm3min
	r.FallRate = &leak.Interval{Median: q, Low: q * 0.95, High: q * 1.05}
	return r
}

// againOf returns the interval of one more test over the flow: it goes by u alone,
// and takes two milliseconds to find, ten times that under the race detector.
func againOf(u float64, find func() leak.Interval) *leak.Interval {
	agains.Lock()
	defer agains.Unlock()
	i, had := agains.of[u]
	if !had {
		i = find()
		agains.of[u] = i
	}
	return &i
}

var agains = struct {
	sync.Mutex
	of map[float64]leak.Interval
}{of: map[float64]leak.Interval{}}

func refused() *leak.Reading {
	return &leak.Reading{Refusal: &leak.Refusal{Code: leak.GaugeStuck}, Room: 101325}
}

// asItRuns is a test that counts for the sign-off.
var asItRuns = Conditions{Held: rig.HeldOwnSpring, Wet: rig.WetNothing, Guide: GuideOpen, Plugged: Yes, State: StateCleaned}

// book is a head in the making of a test: three cylinders, four valves each, 27
// mm and 23.5 mm.
type book struct {
	Records
}

func newBook(t testing.TB) *book {
	t.Helper()
	j, f := Layout(Scheme{
		Form: FormInline, Cylinders: 3, Valves: 4, Bore: unit.Exactly(72e-3), Stroke: unit.Exactly(81.8e-3),
		IntakeHead: unit.Exactly(27e-3), ExhaustHead: unit.Exactly(23.5e-3), Plugs: []string{"injector hole"},
	})
	if len(f) > 0 {
		t.Fatal(f)
	}
	j.ID = "j1"
	return &book{Records{Job: j}}
}

// port returns the port of a cylinder and side.
func (b *book) port(cylinder int, side Side) *Port {
	for i := range b.Job.Ports {
		if p := &b.Job.Ports[i]; p.Side == side && slices.Contains(p.Cylinders, cylinder) {
			return p
		}
	}
	return nil
}

// test adds a test at a time, in minutes.
func (b *book) test(at int64, p *Port, r *leak.Reading, change ...func(c *Conditions)) string {
	c := asItRuns
	for _, f := range change {
		f(&c)
	}
	id := fmt.Sprintf("t%d", len(b.Tests)+1)
	b.Tests = append(b.Tests, Tested{Test{ID: id, JobID: "j1", PortID: p.ID, At: at * 60000, Conditions: c}, r})
	return id
}

func (b *book) work(at int64, kind WorkKind, valves ...string) {
	b.Work = append(b.Work, Work{ID: fmt.Sprintf("w%d", len(b.Work)+1), JobID: "j1", At: at * 60000, Kind: kind, Valves: valves})
}

func (b *book) card() *Card { return CardOf(b.Records) }

// of returns the card of a port.
func (c *Card) of(p *Port) *PortCard {
	for i := range c.Ports {
		if c.Ports[i].ID == p.ID {
			return &c.Ports[i]
		}
	}
	return nil
}

func (c *Card) valve(id string) *ValveCard {
	for i := range c.Valves {
		if c.Valves[i].ID == id {
			return &c.Valves[i]
		}
	}
	return nil
}

// pumpOf is a pump of that flow [L/min] and 78 kPa, a straight line.
func pumpOf(t testing.TB, flow float64) *rig.Curve {
	t.Helper()
	c, err := rig.Pump{FreeFlow: unit.Exactly(flow * 1e-3 / 60), Blanked: unit.Exactly(78e3)}.Here(101325)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

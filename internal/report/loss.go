package report

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"seatproof/engine"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/unit"
)

// CostShare is the part of the cranking peak that all valves of a cylinder may
// cost together, where nobody says otherwise: an engineering choice.
const CostShare = limit.UsualShare

// lossDraws is how many draws of a leak a loss is reckoned with.
const lossDraws = 192

// LossLeak is what is known of one leak: equally likely draws of it.
type LossLeak struct {
	Name   string // of its port; "" for the only one
	Kind   leak.Kind
	Draws  []leak.Draw    // as many as LeakDraws makes
	Told   *leak.Interval // what the reading says of it, shown in the draws' place; nil: there is none
	Upper  bool           // only "less than" can be said of it
	Intake bool           // of an intake port: at idle it stands at the manifold's pressure
	Room   float64        // Pa, K: the air of its test; 0: that of LossAsk
	Temp   float64
}

// LossCylinder is a cylinder with its leaks.
type LossCylinder struct {
	Name   string // "cylinder 2"; "" for the only one
	Number int    // as its maker counts; 0 for the only one
	Leaks  []LossLeak
	Untold []string // ports whose leak is not known, and why: "intake port, not tested"
}

// LossAsk is what losses are reckoned from.
type LossAsk struct {
	Engine    engine.Given
	Square    bool     // bore and stroke are not known, only what the piston sweeps: they are taken as alike
	Guessed   []string // figures of the engine that nobody gave, by their key in [lossInputs]
	Cylinders []LossCylinder
	Share     float64 // of the cranking peak, the cost limit; 0: [CostShare]
	Room      float64 // Pa
	Temp      float64 // K
}

// Loss is what leaks cost an engine.
type Loss struct {
	Ask       LossAsk
	Cylinders []CylinderLoss // those with a leak, in the order asked
	Worst     int            // index of the one that loses most on the starter; -1: none has a leak
	Limit     engine.CostLimit
	Curve     engine.Curve
	Widest    []LossGuess // of what was guessed, the widest first
	Others    []LossOther
}

// CylinderLoss is what its leaks cost one cylinder.
type CylinderLoss struct {
	LossCylinder
	All  LossLeak      // the leaks together
	Flow leak.Interval // of all, at 50 kPa
	Cost engine.Loss
	Over float64 // chance of costing more than the limit
}

// LossGuess is a figure of the engine that nobody gave, and how many times as wide
// it makes the interval of what is lost on the starter, or of the run it bears on.
type LossGuess struct {
	Key     string
	Widened float64
}

// LossOther is the worst cylinder's leak in another cylinder, made like this one.
type LossOther struct {
	Swept float64         // m³
	Lost  engine.Estimate // of the cranking peak
	Gone  bool            // the leak is more than its open valve passes: nothing is left, and Lost is not told
	Limit engine.CostLimit
}

// otherCylinders are those of the small table [m³].
var otherCylinders = []float64{50e-6, 90e-6, 150e-6, 250e-6, 450e-6, 600e-6}

// lossInput is a figure of the engine.
type lossInput struct {
	key, name string
	dim       unit.Dimension
	unit      string
	of        func(*engine.Given) *unit.Measured
	run       int // 0: bears on all runs, 1 idle, 2 top speed
}

var lossInputs = []lossInput{
	{"bore", "bore", unit.LengthDim, "mm", func(g *engine.Given) *unit.Measured { return &g.Bore }, 0},
	{"stroke", "stroke", unit.LengthDim, "mm", func(g *engine.Given) *unit.Measured { return &g.Stroke }, 0},
	{"rod", "connecting rod", unit.LengthDim, "mm", func(g *engine.Given) *unit.Measured { return &g.Rod }, 0},
	{"ratio", "compression ratio", unit.RatioDim, "1", func(g *engine.Given) *unit.Measured { return &g.Ratio }, 0},
	{"intake_closes", "intake closing", unit.AngleDim, "°", func(g *engine.Given) *unit.Measured { return &g.IntakeCloses }, 0},
	{"cranking", "cranking speed", unit.SpeedDim, "r/min", func(g *engine.Given) *unit.Measured { return &g.Cranking }, 0},
	{"idle", "idle speed", unit.SpeedDim, "r/min", func(g *engine.Given) *unit.Measured { return &g.Idle }, 1},
	{"top_speed", "top speed", unit.SpeedDim, "r/min", func(g *engine.Given) *unit.Measured { return &g.TopSpeed }, 2},
}

// LeakDraws returns equally likely draws of a leak that is given as a figure [m³/s
// at 50 kPa] with its ±, a normal cut at zero. The way of flowing is as stated;
// where it is not known every share is as likely as another. The edge is between
// rounded and sharp. The points are those of a sequence that fills evenly, so the
// same figure gives the same draws.
func LeakDraws(m unit.Measured, kind leak.Kind) []leak.Draw {
	out := make([]leak.Draw, lossDraws)
	sd := m.SD()
	// additive recurrence on the root of x⁴ = x + 1: three dimensions, each spread to
	// the middles of as many equal parts, so that the mean is that of the figure
	spread := func(a float64) []float64 {
		u, order := make([]float64, lossDraws), make([]int, lossDraws)
		for i := range u {
			_, u[i] = math.Modf(0.5 + a*float64(i+1))
			order[i] = i
		}
		slices.SortFunc(order, func(i, k int) int { return cmp.Compare(u[i], u[k]) })
		for rank, i := range order {
			u[i] = (float64(rank) + 0.5) / lossDraws
		}
		return u
	}
	const a = 1 / 1.2207440846057596
	edges, flows, shares := spread(a), spread(a*a), spread(a*a*a)
	for i := range out {
		d := leak.Draw{Flow: m.Value, Edge: edges[i]}
		if sd > 0 {
			least := 0.5 * math.Erfc(m.Value/sd/math.Sqrt2)
			p := least + (1-least)*flows[i]
			d.Flow = math.Max(0, m.Value+sd*math.Sqrt2*math.Erfinv(2*p-1))
		}
		switch kind {
		case leak.KindOpening:
			d.Share = 1
		case leak.KindSeep:
		default:
			d.Share = shares[i]
		}
		out[i] = d
	}
	return out
}

// shuffled returns the draws of leaks set beside each other at random: what is not
// known of one says nothing of another.
func shuffled(leaks []LossLeak) [][]leak.Draw {
	out := make([][]leak.Draw, len(leaks))
	if len(leaks) == 1 { // as they are: those of a figure fill evenly
		out[0] = leaks[0].Draws
		return out
	}
	dice := rand.New(rand.NewPCG(7, 0))
	for i, l := range leaks {
		out[i] = make([]leak.Draw, len(l.Draws))
		for k, from := range dice.Perm(len(l.Draws)) {
			out[i][k] = l.Draws[from]
		}
	}
	return out
}

// tight says that a leak is none at all.
func (l *LossLeak) tight() bool {
	return !slices.ContainsFunc(l.Draws, func(d leak.Draw) bool { return d.Flow > 0 })
}

// together returns the leaks of a cylinder as one: flows add; the share is that of
// the openings' flow in all, the edge their mean by flow.
func together(leaks []LossLeak) LossLeak {
	if len(leaks) == 1 {
		return leaks[0]
	}
	all := LossLeak{Draws: make([]leak.Draw, lossDraws), Upper: true}
	beside := shuffled(leaks)
	for i, l := range leaks {
		switch {
		case l.tight():
		case all.Kind == "":
			all.Kind = l.Kind
		case l.Kind != all.Kind:
			all.Kind = leak.KindUnresolved
		}
		all.Upper = all.Upper && l.Upper
		for k, d := range beside[i] {
			t := &all.Draws[k]
			open, more := t.Flow*t.Share, d.Flow*d.Share
			if open+more > 0 {
				t.Edge = (open*t.Edge + more*d.Edge) / (open + more)
			}
			if t.Flow += d.Flow; t.Flow > 0 {
				t.Share = (open + more) / t.Flow
			}
		}
	}
	return all
}

// thinned returns as many draws as a loss is reckoned with.
func thinned(draws []leak.Draw) []leak.Draw {
	if len(draws) == 0 {
		return nil
	}
	out := make([]leak.Draw, lossDraws)
	for i := range out {
		out[i] = draws[(2*i+1)*len(draws)/(2*lossDraws)]
	}
	return out
}

// LossOf reckons what leaks cost an engine, with what each guess widens, the curve
// and the same leak in other cylinders. The error is that of package engine: an
// engine or a leak that can't be.
func LossOf(a LossAsk) (*Loss, error) {
	l, err := CylinderCosts(a)
	if err != nil {
		return nil, err
	}
	if l.Worst >= 0 {
		if err := l.guesses(&l.Cylinders[l.Worst]); err != nil {
			return nil, err
		}
	}
	flows := l.flows()
	for range 8 { // beyond what the open valve passes there is no curve
		var over *engine.Fault
		if l.Curve, err = l.Ask.Engine.Curve(flows, l.Ask.Room, l.Ask.Temp); !errors.As(err, &over) {
			break
		}
		flows = between(flows[0], flows[len(flows)-1]/1.5)
	}
	if err != nil {
		return nil, err
	}
	return l, l.others()
}

// CylinderCosts is [LossOf] without the curve, other cylinders, and what each guess
// widens: a third of the work.
func CylinderCosts(a LossAsk) (*Loss, error) {
	if a.Share == 0 {
		a.Share = CostShare
	}
	a.Engine.Room, a.Engine.Temp = a.Room, a.Temp
	l := &Loss{Ask: a, Worst: -1}
	var err error
	if l.Limit, err = a.Engine.CostLimit(a.Share, a.Room, a.Temp); err != nil {
		return nil, err
	}
	for _, c := range a.Cylinders {
		if len(c.Leaks) == 0 {
			continue
		}
		x := CylinderLoss{LossCylinder: c, All: together(c.Leaks)}
		if x.Cost, err = a.Engine.Loss(a.valves(c.Leaks)...); err != nil {
			return nil, named(c.Name, err)
		}
		x.Flow, x.Over = flowOf(x.All), l.chanceOver(x.All)
		if l.Worst < 0 || x.Cost.Cranking.Share.Median > l.Cylinders[l.Worst].Cost.Cranking.Share.Median {
			l.Worst = len(l.Cylinders)
		}
		l.Cylinders = append(l.Cylinders, x)
	}
	return l, nil
}

func named(name string, err error) error {
	if name == "" {
		return err
	}
	return fmt.Errorf("%s: %w", name, err)
}

// worst is the cylinder that loses most; nil where none has a leak.
func (l *Loss) worst() *CylinderLoss {
	if l.Worst < 0 {
		return nil
	}
	return &l.Cylinders[l.Worst]
}

// valves are the draws of a cylinder's leaks as package engine takes them, each
// with the air of its own test and the side of its port.
func (a *LossAsk) valves(leaks []LossLeak) [][]engine.Leak {
	out := make([][]engine.Leak, len(leaks))
	for i, draws := range shuffled(leaks) {
		l := &leaks[i]
		room, temp := l.Room, l.Temp
		if room == 0 {
			room = a.Room
		}
		if temp == 0 {
			temp = a.Temp
		}
		for _, d := range draws {
			out[i] = append(out[i], engine.Leak{Flow: d.Flow, Share: d.Share, Edge: d.Edge, Room: room, Temp: temp, Intake: l.Intake})
		}
	}
	return out
}

// flowOf is the interval of a leak's flow: the reading's own where it is one
// reading's, so that one leak has one figure.
func flowOf(l LossLeak) leak.Interval {
	if l.Told != nil {
		return *l.Told
	}
	x := make([]float64, len(l.Draws))
	for i, d := range l.Draws {
		x[i] = d.Flow
	}
	slices.Sort(x)
	at := func(p float64) float64 {
		k := p*float64(len(x)) - 0.5
		i := int(math.Max(0, math.Min(float64(len(x)-2), math.Floor(k))))
		return x[i] + (x[i+1]-x[i])*math.Max(0, math.Min(1, k-float64(i)))
	}
	return leak.Interval{Median: at(0.5), Low: at(0.025), High: at(0.975)}
}

// chanceOver is the chance that a leak costs more than the limit: of each draw by
// the limit of its share, whose logarithm is normal.
func (l *Loss) chanceOver(all LossLeak) float64 {
	sum := 0.0
	for _, d := range all.Draws {
		if d.Flow <= 0 {
			continue
		}
		sd := d.Share*l.Limit.OpeningSD + (1-d.Share)*l.Limit.SeepSD
		z := math.Log(d.Flow / l.Limit.At(d.Share))
		switch {
		case sd > 0:
			sum += 0.5 * math.Erfc(-z/sd/math.Sqrt2)
		case z > 0:
			sum++
		}
	}
	return sum / float64(len(all.Draws))
}

// guesses says by how much each guess widens what the worst cylinder loses.
func (l *Loss) guesses(c *CylinderLoss) error {
	for _, in := range lossInputs {
		if !slices.Contains(l.Ask.Guessed, in.key) {
			continue
		}
		g := l.Ask.Engine
		in.of(&g).Spread = 0
		with, reckon := c.Cost.Cranking, g.CrankingLoss
		switch in.run {
		case 1:
			with, reckon = c.Cost.Idle, g.IdleLoss
		case 2:
			with, reckon = c.Cost.Top, g.TopLoss
		}
		without, err := reckon(l.Ask.valves(c.Leaks)...)
		if err != nil {
			return err
		}
		l.Widest = append(l.Widest, LossGuess{in.key, widened(with.Share, without.Share)})
	}
	slices.SortStableFunc(l.Widest, func(a, b LossGuess) int { return cmp.Compare(b.Widened, a.Widened) })
	return nil
}

// widened is the ratio of widths of two intervals, at least 1.
func widened(with, without engine.Estimate) float64 {
	a, b := with.High-with.Low, without.High-without.Low
	if !(a > b) || !(b > 0) {
		return 1
	}
	return a / b
}

// flows are the leak rates of the curve [m³/s]: from a twentieth of the limit as a
// seep to ten times that as an opening, with the leaks at hand inside.
func (l *Loss) flows() []float64 {
	low, high := l.Limit.Seep/20, l.Limit.Opening*10
	for _, c := range l.Cylinders {
		low, high = math.Min(low, math.Max(c.Flow.Median/2, l.Limit.Seep/200)), math.Max(high, c.Flow.High*1.5)
	}
	return between(low, high)
}

// between are the leak rates of a curve, evenly spaced in their logarithm.
func between(low, high float64) []float64 {
	const n = 60
	out := make([]float64, n)
	for i := range out {
		out[i] = low * math.Pow(high/low, float64(i)/(n-1))
	}
	return out
}

// others reckons the worst cylinder's leak in other cylinders: this one, made
// larger or smaller in all its lengths.
func (l *Loss) others() error {
	g := l.Ask.Engine
	swept := math.Pi / 4 * g.Bore.Value * g.Bore.Value * g.Stroke.Value
	for _, v := range otherCylinders {
		k := math.Cbrt(v / swept)
		other := g
		for _, m := range []*unit.Measured{&other.Bore, &other.Stroke, &other.Rod, &other.SeatWidth, &other.Contact} {
			m.Value, m.Spread = k*m.Value, k*m.Spread
		}
		o := LossOther{Swept: v}
		var err error
		if o.Limit, err = other.CostLimit(l.Ask.Share, l.Ask.Room, l.Ask.Temp); err != nil {
			return fmt.Errorf("in a cylinder of %.0f cm³: %w", v*1e6, err)
		}
		if c := l.worst(); c != nil {
			cost, err := other.CrankingLoss(l.Ask.valves(c.Leaks)...)
			var over *engine.Fault
			var unsolved *engine.NotSolved
			o.Gone = errors.As(err, &over) || errors.As(err, &unsolved)
			if err != nil && !o.Gone {
				return fmt.Errorf("in a cylinder of %.0f cm³: %w", v*1e6, err)
			}
			o.Lost = cost.Share
		}
		l.Others = append(l.Others, o)
	}
	return nil
}

package check

import (
	"fmt"
	"math"
	"slices"

	"seatproof/engine"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// solver asks the estimator what it would say of readings by eye.
type solver struct {
	rig     rig.Rig
	card    *Card
	wrong   float64 // largest chance of a wrong verdict
	top     float64 // Pa, the deepest a hold may begin
	guesses []string

	engine        Engine
	cost          *engine.CostLimit // nil: no engine was said
	engineGuesses []string
}

// line works out what a card says of one kind of port.
func (s *solver) line(p CardPort, held rig.Held) (CardLine, error) {
	l := CardLine{CardPort: p, Drop: math.NaN()}
	if len(p.Valves) == 0 {
		return l, fmt.Errorf("wall card: %s: it has no valve; give the diameter of each valve's head", p.Name)
	}
	if !p.Volume.Known || p.Volume.Value <= 0 {
		return l, fmt.Errorf("wall card: %s: its volume is not known; pour one such port full and give that", p.Name)
	}
	if p.Volume.Spread == 0 {
		l.Volume.Spread = cardPort * p.Volume.Value
	}
	s.rig.Port.Volume, s.rig.Port.VolumeGuessed = l.Volume, p.Guessed
	if err := s.limits(&l); err != nil {
		return l, err
	}
	s.reading(&l)
	ways := []rig.Held{rig.HeldLightSpring, rig.HeldThumb}
	switch held {
	case rig.HeldThumb:
		ways = []rig.Held{rig.HeldThumb, rig.HeldLightSpring}
	case rig.HeldOwnSpring:
		ways = []rig.Held{rig.HeldOwnSpring}
	case rig.HeldNothing:
		ways = []rig.Held{rig.HeldNothing}
	}
	for _, w := range ways {
		l.Holds = append(l.Holds, s.hold(l, w))
	}
	return l, nil
}

// reading works out what the steady reading alone can say.
func (s *solver) reading(l *CardLine) {
	c, b := s.card, s.rig.Pump.Blanked
	l.From = c.down(shallowest * b.Value)
	curve, err := s.rig.Pump.Here(s.rig.Air.Pressure.Value)
	if err != nil {
		return // the blanked reading is there, so the flow is what is missing
	}
	l.Drop = dropOf(curve, l.One)
	sure := int(math.Floor((b.Value-b.Spread)/c.Step + 1e-6)) // a rig whose blank shows this is used too
	// On that rig too a port at the limits of all its valves stands no lower.
	most := int(math.Floor((b.Value-b.Spread-dropOf(curve, l.All))/c.Step + 1e-6))
	least := int(math.Ceil(6e3 / c.Step))
	// the greatest reading that leaks
	if k, ok := outermost(most, min(least, most), func(k int) bool { _, all := s.steady(l, k); return 1-all <= s.wrong }); ok {
		x := float64(k) * c.Step
		l.Below = &x
		l.From = math.Max(l.From, x)
	}
	// the least reading that holds: worth something if a port that does not leak
	// always stands there
	if one, _ := s.steady(l, sure); one <= s.wrong {
		k, _ := outermost(least, sure, func(k int) bool { one, _ := s.steady(l, k); return one <= s.wrong })
		x := float64(k) * c.Step
		l.Reading, l.From = &x, math.Max(l.From, x)
	}
}

// dropOf returns how far below the blanked reading [Pa] a pump stands that draws
// so much [m³/s].
func dropOf(curve *rig.Curve, flow float64) float64 {
	low, high := 0.0, curve.Blanked()
	for range 60 {
		if m := (low + high) / 2; curve.Flow(m) > flow {
			low = m
		} else {
			high = m
		}
	}
	return curve.Blanked() - high
}

// hold works out a hold by one way of keeping the valves on their seats, the
// shortest that shows enough steps.
func (s *solver) hold(l CardLine, by rig.Held) CardHold {
	s.rig.Port.Held = by
	lengths := SpringFor[:]
	if by == rig.HeldThumb {
		lengths = []float64{ThumbFor}
	}
	var best CardHold
	for _, t := range lengths {
		h := CardHold{By: by, For: t}
		per := s.rig.Air.Pressure.Value * t / (s.rig.Volume.Or(unit.Exactly(60e-6)).Value + l.Volume.Value) / s.card.Step
		bound := int(per*l.One) + 2
		if k, ok := outermost(bound, 0, func(k int) bool { one, _ := s.judge(l, l.From, k, t); return one <= s.wrong }); ok {
			x := float64(k) * s.card.Step
			h.Lose = &x
		}
		// what remains of the vacuum must still be a vacuum
		last := int((l.From - 6e3) / s.card.Step)
		first := min(int(per*l.All), last)
		if k, ok := outermost(first, last, func(k int) bool { _, all := s.judge(l, s.top, k, t); return 1-all <= s.wrong }); ok {
			x := float64(k) * s.card.Step
			h.Over = &x
		}
		if best.For == 0 || !best.Tells() && h.Tells() || h.Tells() && *best.Lose < enoughSteps*s.card.Step {
			best = h
		}
		if best.Tells() && *best.Lose >= enoughSteps*s.card.Step {
			break
		}
	}
	return best
}

// outermost returns the number nearest to from, between from and to, at which ok
// is true, where it is true from some number on towards to; false where it is
// not even at to.
func outermost(from, to int, ok func(int) bool) (int, bool) {
	if ok(from) {
		return from, true
	}
	if from == to || !ok(to) {
		return 0, false
	}
	no, yes := from, to
	for no-yes > 1 || yes-no > 1 {
		if m := (no + yes) / 2; ok(m) {
			yes = m
		} else {
			no = m
		}
	}
	return yes, true
}

// steady returns the chances of being over the limit of one valve and of all, by
// the steady reading of k steps alone.
func (s *solver) steady(l *CardLine, k int) (one, all float64) {
	return s.ask(l, []trace.HandReading{{Value: float64(k) * s.card.Step}})
}

// judge returns the same by a hold from a vacuum that lost k steps in t [s].
func (s *solver) judge(l CardLine, from float64, k int, t float64) (one, all float64) {
	return s.ask(&l, []trace.HandReading{{Value: from}, {Time: t, Value: from - float64(k)*s.card.Step}})
}

// ask returns the chances by readings, NaN where the estimator has none.
func (s *solver) ask(l *CardLine, hand []trace.HandReading) (one, all float64) {
	r := leak.Read(&trace.Trace{Kind: trace.Vacuum, Hand: hand}, s.rig, leak.Options{})
	if r.Leak == nil {
		return math.NaN(), math.NaN()
	}
	for _, g := range r.Guessed {
		if !slices.Contains(s.guesses, g.Input) {
			s.guesses = append(s.guesses, g.Input)
		}
	}
	return l.overLimits(r.ChanceOver)
}

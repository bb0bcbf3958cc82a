package check

import (
	"math"

	"seatproof/rig"
	"seatproof/unit"
)

// faultRule is what gives a fault away: the strength is the telling figure over
// what it takes to be told.
type faultRule struct {
	code  FaultCode
	after []FaultCode // faults that explain the same; if one of them was found this is not told
	find  func(s *summary, m *Memory, r rig.Rig) (strength float64, evidence []Sentence)
}

// What it takes to be told, beside the ± of the memory. Each lies well above what
// sound days of the study do and at or below half of what a careful person would
// call a fault; docs/accuracy.md has the table they were set by.
const (
	tellZero     = 250.0 // Pa; a quarter of a percent of a usual span
	tellDrift    = 220.0 // Pa over the day
	tellJump     = 120.0 // Pa
	tellLag      = 0.5   // s
	tellBlanked  = 0.025 // of the blanked reading
	tellSlower   = 1.18  // times as long to pull down
	tellBend     = 1.22  // the early part of a pull against the late one
	tellRigLeak  = 1.0 * cm3PerMin
	tellPassing  = 1.3 * cm3PerMin
	tellMoisture = 100.0 // Pa that fades in a port's hold
	tellPad      = 95.0  // Pa, the same of a blank
)

// Rules in order: what the gauge does first, since it colours all else.
var faultRules = []faultRule{
	{FaultLagging, nil, func(s *summary, m *Memory, _ rig.Rig) (float64, []Sentence) {
		was := m.Vent.Or(unit.About(0.5, 0.5))
		if math.IsNaN(s.vent) {
			return 0, nil
		}
		return (s.vent - was.Value) / (was.Spread + tellLag), []Sentence{
			say("Vented, the gauge took {} to fall from 40 to 10 %; it was {}.", seconds(s.vent), seconds(was.Value)),
		}
	}},
	{FaultSticky, []FaultCode{FaultLagging}, func(s *summary, _ *Memory, r rig.Rig) (float64, []Sentence) {
		step := math.Max(r.Gauge.Resolution, r.Gauge.Division/2)
		return s.jump / math.Max(tellJump, math.Max(4.5*s.noise, 2.5*step)), []Sentence{
			say("In holds the gauge fell in jumps of about {}, in a fifth of a second each, where its rate about them was slow.", pascals(s.jump)),
		}
	}},
	{FaultDrift, []FaultCode{FaultLagging, FaultSticky}, func(s *summary, _ *Memory, _ rig.Rig) (float64, []Sentence) {
		return math.Abs(s.zeroMoves) / math.Max(tellDrift, 4*s.zeroSD), []Sentence{
			say("Before the pulls, vented, the gauge moved by {} from the first to the last, with {} of scatter about that.", pascals(s.zeroMoves), pascals(s.zeroSD)),
		}
	}},
	{FaultOffset, []FaultCode{FaultDrift, FaultSticky}, func(s *summary, m *Memory, _ rig.Rig) (float64, []Sentence) {
		if math.IsNaN(s.zero) {
			return 0, nil
		}
		off := s.zero - m.Zero.Value
		return math.Abs(off) / math.Max(tellZero, 1.5*m.Zero.Spread), []Sentence{
			say("Vented, the gauge showed {}; it was {}.", pascals(s.zero), pascals(m.Zero.Value)),
			say("It moved by {} through the day: an offset, no drift.", pascals(s.zeroMoves)),
		}
	}},
	{FaultHose, []FaultCode{FaultLagging}, func(s *summary, m *Memory, r rig.Rig) (float64, []Sentence) {
		early, late, ok := slower(s, m)
		if !ok {
			return 0, nil
		}
		ev := []Sentence{say("On a blank 15 to 45 % of the pull took {} times as long as it did, 60 to 90 % {} times.", times(early), times(late))}
		if r.Hose.GaugeAt != rig.GaugeAtPort && early < 0.75 && late > 1.3*early {
			return math.Log(late/early) / math.Log(1.3), append(ev, say("The gauge at the pump got there at once while the port did not."))
		}
		if early < tellSlower {
			return 0, nil
		}
		return math.Log(early/late) / math.Log(tellBend), append(ev, say("Most is lost where the flow is greatest, so something is in its way."))
	}},
	{FaultPump, []FaultCode{FaultLagging, FaultHose}, func(s *summary, m *Memory, _ rig.Rig) (float64, []Sentence) {
		early, late, ok := slower(s, m)
		if !ok {
			return 0, nil
		}
		return math.Log(math.Min(early, late)) / math.Log(tellSlower), []Sentence{
			say("On a blank 15 to 45 % of the pull took {} times as long as it did, 60 to 90 % {} times: the pump draws less all along.", times(early), times(late)),
		}
	}},
	{FaultValves, []FaultCode{FaultLagging, FaultPump, FaultHose}, func(s *summary, m *Memory, r rig.Rig) (float64, []Sentence) {
		if !m.Blanked.Known || math.IsNaN(s.blanked) {
			return 0, nil
		}
		was := m.Blanked.Value * airOf(r) / m.Air // the pump reaches a ratio
		spread := m.Blanked.Spread * airOf(r) / m.Air
		ev := []Sentence{say("The blanked reading is {}; in this air it was {}.", pascals(s.blanked), pascals(was))}
		early, late, ok := slower(s, m)
		if ok && math.Max(early, late) > tellSlower {
			return 0, nil
		}
		if ok {
			ev = append(ev, say("The pull took {} times as long as it did: the flow is there.", times(early)))
		}
		return (was - s.blanked) / math.Max(tellBlanked*was, 1.25*spread), ev
	}},
	{FaultShutOff, []FaultCode{FaultLagging, FaultSticky}, func(s *summary, _ *Memory, _ rig.Rig) (float64, []Sentence) {
		if math.IsNaN(s.running) || math.IsNaN(s.stopped) {
			return 0, nil
		}
		return (s.stopped - s.running) / math.Max(tellPassing, 4*s.rigLeakSD), []Sentence{
			say("The blank fell by {} with the pump stopped and by {} with it running on.", flow(s.stopped), flow(s.running)),
		}
	}},
	{FaultFitting, []FaultCode{FaultLagging, FaultSticky, FaultShutOff, FaultPad}, func(s *summary, m *Memory, _ rig.Rig) (float64, []Sentence) {
		if !m.RigLeak.Known || math.IsNaN(s.rigLeak) {
			return 0, nil
		}
		ev := []Sentence{say("With a blank on it the rig leaks {}; it was {}.", flow(s.rigLeak), flow(m.RigLeak.Value))}
		if math.IsNaN(s.running) {
			ev = append(ev, say("No blank was held with the pump running on, so it may be the shut-off valve as well."))
		}
		return (s.rigLeak - m.RigLeak.Value) / math.Max(tellRigLeak, math.Max(1.5*m.RigLeak.Spread, 5*s.rigLeakSD)), ev
	}},
	{FaultPad, []FaultCode{FaultLagging, FaultSticky}, func(s *summary, m *Memory, _ rig.Rig) (float64, []Sentence) {
		if math.IsNaN(s.slowBlank) {
			return 0, nil
		}
		was := m.Slowing.Or(unit.About(0, 60))
		return (s.slowBlank - was.Value) / math.Max(tellPad, 1.5*math.Hypot(was.Spread, 2*s.slowBlankSD)), []Sentence{
			say("On a blank {} more fell at first in the hold than a leak makes of it, and faded; it was {}.", pascals(s.slowBlank), pascals(was.Value)),
		}
	}},
	{FaultMoisture, []FaultCode{FaultLagging, FaultSticky, FaultPad}, func(s *summary, _ *Memory, _ rig.Rig) (float64, []Sentence) {
		if math.IsNaN(s.slowPort) {
			return 0, nil
		}
		ev := []Sentence{say("Ports fell by {} more at first than a leak makes of it, and that faded; the blank by {}.", pascals(s.slowPort), pascals(s.slowBlank))}
		if s.slowAgain < s.slowFirst {
			ev = append(ev, say("A port pulled again lost {} after {}: it dries.", pascals(s.slowAgain), pascals(s.slowFirst)))
		}
		return s.slowPort / math.Max(tellMoisture, 3.5*s.slowPortSD), ev
	}},
}

// slower returns how many times as long as it did the early and the late part of
// a pull took.
func slower(s *summary, m *Memory) (early, late float64, ok bool) {
	if !m.Early.Known || !m.Late.Known || math.IsNaN(s.early) || math.IsNaN(s.late) {
		return 1, 1, false
	}
	return s.early / m.Early.Value, s.late / m.Late.Value, true
}

func pascals(x float64) Figure { return exactly(x, unit.PressureDim) }
func seconds(x float64) Figure { return exactly(x, unit.TimeDim) }
func flow(x float64) Figure    { return exactly(x, unit.FlowDim) }
func times(x float64) Figure   { return exactly(x, 0) }

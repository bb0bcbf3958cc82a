package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/unit"
)

// OnKnownLeak is the steady reading on a known leak.
type OnKnownLeak struct {
	Name   string
	Vacuum unit.Measured // Pa, as the gauge shows it ([AsRead]), zero taken off
	Flow   unit.Measured // m³/s of free air through the leak itself at that vacuum
}

// PumpCurve returns the pump's curve from steady readings on known leaks: where the
// reading stands still, the pump moves what the known leak and the rig's own, taken as
// a seep, let in. With the blanked reading of the rig that ends it, where the flow is
// nothing; the flow with no vacuum is carried on from the two points nearest to it, or
// the rig's free flow if it lies between that and what the first point lets through.
// Value is that flow; its ± is the root mean square of the points', relative, their
// vacuum's scatter by the curve's slope counted. A curve on which the flow grows with
// the vacuum fails.
func PumpCurve(at time.Time, points []OnKnownLeak, r rig.Rig) (Result, error) {
	pa, _ := RoomOf(r)
	var pts []OnKnownLeak
	for i, p := range points {
		if err := finite(fmt.Sprintf("pump curve: point %d", i+1), p.Vacuum, p.Flow); err != nil {
			return Result{}, err
		}
		if !(p.Flow.Value > 0) || !(p.Vacuum.Value >= 0) {
			return Result{}, fmt.Errorf("pump curve: point %d: a flow of %.3g L/min at %.3g kPa of vacuum is none of a pump", i+1, p.Flow.Value*6e4, p.Vacuum.Value/1e3)
		}
		p.Flow.Value += r.RigLeak.Or(unit.Exactly(0)).Value * seepShape(p.Vacuum.Value, pa)
		pts = append(pts, p)
	}
	if b := r.Pump.Blanked; b.Known && !r.Pump.RatedAt.Known {
		pts = append(pts, OnKnownLeak{"a blank", b, unit.About(0, 0)})
	}
	if len(pts) < 2 {
		return Result{}, fmt.Errorf("pump curve: one point: take the blanked reading too, and two known leaks or more")
	}
	slices.SortStableFunc(pts, func(a, b OnKnownLeak) int { return cmp.Compare(a.Vacuum.Value, b.Vacuum.Value) })
	res := Result{Kind: KindPump, At: at, Dim: unit.FlowDim, Verdict: Passed}
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		if b.Vacuum.Value-a.Vacuum.Value <= 0 || b.Flow.Value > a.Flow.Value {
			if b.Flow.Value-b.Flow.Spread > a.Flow.Value+a.Flow.Spread || b.Vacuum.Value == a.Vacuum.Value {
				res.Verdict = Failed
				res.Evidence = append(res.Evidence, say("At {} it moves {}, and deeper, at {}, {}: a pump moves less as the vacuum deepens.",
					exactly(a.Vacuum.Value, unit.PressureDim), of(a.Flow, res.Dim), exactly(b.Vacuum.Value, unit.PressureDim), of(b.Flow, res.Dim)))
				res.Do = "One of these known leaks is not what it is said to be, or was blocked: check it, and take both points again."
			}
			b.Flow.Value = a.Flow.Value // within their doubt they are one
			pts[i] = b
		}
	}
	first, next := pts[0], pts[1]
	free := first.Flow.Value
	if d := next.Vacuum.Value - first.Vacuum.Value; d > 0 {
		free += (first.Flow.Value - next.Flow.Value) / d * first.Vacuum.Value
	}
	if f := r.Pump.FreeFlow; f.Known && f.Value > first.Flow.Value && f.Value < free {
		free = f.Value
	}
	rel := 0.0
	scatter := r.Pump.Blanked.Spread
	for i, p := range pts {
		if !(p.Flow.Value > 0) {
			continue
		}
		j := min(i+1, len(pts)-1)
		k := max(j-1, 0)
		slope := 0.0
		if d := pts[j].Vacuum.Value - pts[k].Vacuum.Value; d > 0 {
			slope = (pts[k].Flow.Value - pts[j].Flow.Value) / d
		}
		v := math.Max(p.Vacuum.Spread, num.Z95*readingSD(r.Gauge))
		rel += (sq(p.Flow.Spread) + sq(slope*math.Hypot(v, scatter))) / sq(p.Flow.Value) / float64(len(points))
	}
	rel = math.Sqrt(rel)
	if first.Vacuum.Value > 0 {
		res.Curve = append(res.Curve, rig.PumpPoint{Flow: free})
	}
	for _, p := range pts {
		if n := len(res.Curve); n > 0 && float64(res.Curve[n-1].Vacuum) >= p.Vacuum.Value {
			continue
		}
		res.Curve = append(res.Curve, rig.PumpPoint{Vacuum: unit.Vacuum(p.Vacuum.Value), Flow: p.Flow.Value})
	}
	res.Value = unit.About(free, rel*free)
	res.Evidence = append(res.Evidence, say(fmt.Sprintf("%d points; with no vacuum it moves {}.", len(pts)), of(res.Value, res.Dim)))
	if f := r.Pump.FreeFlow; f.Known && math.Abs(f.Value-free) > math.Max(rel*free, 0.3*f.Value) {
		res.Evidence = append(res.Evidence, say("Stated is a free flow of {}: these leaks do not say so.", of(f, res.Dim)))
	}
	if worst, at := bend(pts, free); worst != 0 {
		way := "more"
		if worst < 0 {
			way = "less"
		}
		res.Evidence = append(res.Evidence, say("At {} it moves {} "+way+" than a straight line between its ends.",
			exactly(at, unit.PressureDim), exactly(math.Abs(worst), unit.RatioDim)))
	}
	if len(points) == 1 {
		res.Verdict = worst(res.Verdict, Found)
		res.Evidence = append(res.Evidence, say("One known leak: its bend can't be seen. Two or three tell it."))
	}
	return res, nil
}

// bend returns by which part of the straight line's flow the curve leaves the line
// between free flow and its last point most, and at which vacuum.
func bend(pts []OnKnownLeak, free float64) (part, at float64) {
	end := pts[len(pts)-1]
	for _, p := range pts[:len(pts)-1] {
		line := free + (end.Flow.Value-free)*p.Vacuum.Value/end.Vacuum.Value
		if line > 0 && math.Abs(p.Flow.Value/line-1) > math.Abs(part) {
			part, at = p.Flow.Value/line-1, p.Vacuum.Value
		}
	}
	return part, at
}

// HoseEnds are the gauge's readings at both ends of the hose while a flow goes
// through it: one gauge moved, or two.
type HoseEnds struct {
	AtPump, AtPort unit.Measured // Pa of vacuum
	Flow           unit.Measured // m³/s of free air; not known: the pump's at AtPump
}

// HoseLoss returns the bore with which the hose acts [m], from the vacuum lost
// along it and its length: that of the pipe (gas.Pipe) that loses as much. It
// fails if that is surely below nine tenths of the bore stated: blocked, kinked, or
// a fitting narrower than the hose. A loss below what the gauge tells gives no
// value, and passes.
func HoseLoss(at time.Time, e HoseEnds, r rig.Rig) (Result, error) {
	const what = "hose"
	if err := finite(what, e.AtPump, e.AtPort, r.Hose.Length); err != nil {
		return Result{}, fmt.Errorf("%w: it takes the readings at both ends and the hose's length", err)
	}
	pa, ta := RoomOf(r)
	flow := e.Flow
	if !flow.Known {
		c, err := r.Pump.Here(pa)
		if err != nil {
			return Result{}, fmt.Errorf("%s: state the flow, or the pump: %w", what, err)
		}
		rel := 0.0
		if c.Guessed() {
			rel = 0.3
		}
		if f := r.Pump.FreeFlow; f.Known && f.Value > 0 {
			rel = math.Hypot(rel, f.Spread/f.Value)
		}
		q := c.Flow(e.AtPump.Value)
		flow = unit.About(q, rel*q)
	}
	if flow.Spread == 0 {
		flow.Spread = 0.1 * flow.Value // as flow meters and hands are: a guess
	}
	loss := unit.About(e.AtPump.Value-e.AtPort.Value, num.Z95*math.Hypot(sdOf(e.AtPump, r.Gauge), sdOf(e.AtPort, r.Gauge)))
	res := Result{Kind: KindHose, At: at, Dim: unit.LengthDim, Verdict: Found}
	res.Evidence = []Sentence{say("Along it {} of vacuum is lost, with {} going through.", of(loss, unit.PressureDim), of(flow, unit.FlowDim))}
	if loss.Value < -loss.Spread {
		return res, fmt.Errorf("%s: the vacuum is deeper at the port than at the pump: swap the readings, or check both gauges' zero", what)
	}
	if loss.Value <= loss.Spread {
		res.Verdict = Passed
		res.Evidence = append(res.Evidence, say("That is no more than the gauge can tell."))
		return res, nil
	}
	bore := func(flow, loss, length float64) (float64, error) {
		p1 := pa - e.AtPump.Value + loss
		mdot := gas.FreeAirMass(flow, pa, ta)
		d, err := num.FindRoot(func(lnD float64) float64 {
			m, err := gas.Pipe{Diameter: math.Exp(lnD), Length: length}.MassFlow(p1, p1-loss, ta)
			if err != nil {
				return math.NaN()
			}
			return math.Log(math.Max(m, 1e-30) / mdot)
		}, math.Log(1e-4), math.Log(0.1), 1e-9)
		return math.Exp(d), err
	}
	d, err := bore(flow.Value, loss.Value, r.Hose.Length.Value)
	if err != nil {
		return res, fmt.Errorf("%s: no bore between 0.1 and 100 mm loses as much with such a flow: check figures and units", what)
	}
	p := relatives{}
	for _, in := range []struct {
		name       string
		f, l, long float64
		relativeSD float64
	}{
		{"flow", 1, 0, 0, flow.SD() / flow.Value},
		{"gauge", 0, 1, 0, loss.SD() / loss.Value},
		{"length", 0, 0, 1, r.Hose.Length.SD() / r.Hose.Length.Value},
	} {
		const h = 0.02
		x, err := bore(flow.Value*(1+h*in.f), loss.Value*(1+h*in.l), r.Hose.Length.Value*(1+h*in.long))
		if err != nil {
			return res, err
		}
		p[in.name] = math.Abs(x/d-1) / h * in.relativeSD
	}
	res.value(d, p)
	res.Evidence = append(res.Evidence, say("It acts as a bore of {}.", of(res.Value, res.Dim)))
	if b := r.Hose.Bore; b.Known {
		res.Evidence = append(res.Evidence, say("Stated is {}.", of(b, res.Dim)))
		res.Verdict = Unsure
		switch u := math.Hypot(res.Value.SD(), b.SD()); {
		case (0.9*b.Value-res.Value.Value)/math.Max(u, 1e-12) > 1.645:
			res.Verdict = Failed
			res.Do = "Look for a kink, a blocked filter, or a fitting narrower than the hose; or put the gauge at the port."
		case (res.Value.Value-0.9*b.Value)/math.Max(u, 1e-12) > 1.645:
			res.Verdict = Passed
		}
	}
	res.leading()
	return res, nil
}

// RoomOf returns air pressure [Pa] and temperature [K] of the room, guessed where
// not known, as package leak guesses them.
func RoomOf(r rig.Rig) (pa, ta float64) {
	pa, ta = 98e3, 293.15
	if r.Air.Altitude.Known {
		if p, err := gas.StandardPressure(r.Air.Altitude.Value); err == nil {
			pa = p
		}
	}
	if r.Air.Pressure.Known {
		pa = r.Air.Pressure.Value
	}
	if r.Air.Temperature.Known {
		ta = r.Air.Temperature.Value
	}
	return pa, ta
}

// AirOf returns the air pressure of a rig's room [Pa]: as given, by altitude give or
// take the weather, else a guess; see [RoomOf].
func AirOf(r rig.Rig) unit.Measured {
	pa, _ := RoomOf(r)
	switch {
	case r.Air.Pressure.Known:
		return r.Air.Pressure
	case r.Air.Altitude.Known:
		return unit.About(pa, 2e3)
	}
	return unit.About(pa, 5e3)
}

// warmHead is how far head and room may differ [K] without a word: 3.4 % of the
// leak rate goes with 10 K.
const warmHead = 3.0

// HeadTemperature compares the head with the room [K]. Free air is counted at the
// room's temperature, the gas has the head's: a head 10 K warmer reads 3.4 % high,
// and one that cools makes its own fall. It passes within 3 K.
func HeadTemperature(at time.Time, head, room unit.Measured) (Result, error) {
	if err := finite("head temperature", head, room); err != nil {
		return Result{}, err
	}
	if head.Value < 243 || head.Value > 393 || room.Value < 243 || room.Value > 333 {
		return Result{}, fmt.Errorf("head temperature: %.0f °C in a room at %.0f °C: can that be? Check figures and units", head.Value-273.15, room.Value-273.15)
	}
	guess := func(m unit.Measured) unit.Measured {
		if m.Spread == 0 {
			m.Spread = 1 // a thermometer laid on
		}
		return m
	}
	head, room = guess(head), guess(room)
	d := head.Value - room.Value
	r := Result{Kind: KindHead, At: at, Value: head, Dim: unit.TemperatureDim}
	r.Verdict = beyond(d, math.Hypot(head.SD(), room.SD()), warmHead)
	way := "warmer"
	if d < 0 {
		way = "colder"
	}
	r.Evidence = []Sentence{say("The head is at {}, the room at {}.", of(head, r.Dim), of(room, r.Dim)),
		say(fmt.Sprintf("%.0f K "+way+": {} of the leak rate, which is put right as far as both are known.", math.Abs(d)), exactly(0.034*math.Abs(d)/10, unit.RatioDim))}
	if r.Verdict == Failed {
		r.Do = "Wait until the head is at the room's temperature: one that still cools makes a fall of its own."
	}
	return r, nil
}

// PartChanged says that a part was changed: older checks that hang on it say
// nothing any more.
func PartChanged(at time.Time, p Part) Result {
	return Result{Kind: KindPart, At: at, Part: p, Verdict: Found, Evidence: []Sentence{say("The " + string(p) + " was changed: older checks that hang on it say nothing any more.")}}
}

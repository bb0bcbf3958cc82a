package check

import (
	"math"

	"seatproof/rig"
)

// weigh says what one rig tells apart.
func (c *Choice) weigh(w *way, pump, gauge, hose int) Candidate {
	p := &c.Parts
	g, h := p.Gauges[gauge].Gauge, p.Hoses[hose].Hose
	x := Candidate{Pump: pump, Gauge: gauge, Hose: hose, way: w, GaugeAtPump: h.GaugeAt == rig.GaugeAtPump}
	x.Blanked = w.port[0]
	x.Volume = p.Fittings.Value + math.Pi/4*h.Bore.Value*h.Bore.Value*h.Length.Value
	x.Division = g.Resolution
	x.Step = g.Resolution
	if g.Division > 0 && g.Resolution == 0 {
		x.Division, x.Step = g.Division, g.Division/2
	}
	accuracy := 0.0113 * g.Class // the limit of a class is rectangular, GUM 4.3.7
	if g.Accuracy.Known {
		accuracy = g.Accuracy.Value
	}
	x.Uncertainty = math.Hypot(accuracy*g.Span.Width(), 1.96/math.Sqrt(12)*x.Division) // ± half a division, rectangular
	// a pump keeps its pressure ratio, so that what it scatters goes as the air too
	x.Scatter = p.Pumps[pump].Pump.Blanked.Spread * c.Pressure / p.Pumps[pump].rated(c.Pressure)
	if !p.Pumps[pump].Pump.Blanked.Known { // a curve ends there
		x.Scatter = usualScatter * x.Blanked
	}
	x.Pegged = x.Blanked > g.Span.High
	x.Price = price(p.Pumps[pump].Cost, p.Gauges[gauge].Cost, p.Hoses[hose].Cost)
	for _, q := range c.Questions {
		x.Questioned = x.Questioned || q.Part == PartPump && q.Index == pump || q.Part == PartGauge && q.Index == gauge
	}
	x.Score, x.Tells = math.Inf(1), TellsByThumb
	for i, port := range p.Ports {
		s := c.sight(&x, port)
		x.Ports = append(x.Ports, s)
		// the port that it sees least of speaks for it
		if tells, score := s.tells(&x), c.score(&x, s); tells > x.Tells || tells == x.Tells && score < x.Score {
			x.Tells, x.Score, x.Worst = tells, score, i
		}
	}
	return x
}

// price is what has to be bought; NaN where one of the parts has no price.
func price(all ...Cost) float64 {
	sum := 0.0
	for _, c := range all {
		switch {
		case c.Have:
		case c.Price > 0:
			sum += c.Price
		default:
			return math.NaN()
		}
	}
	return sum
}

func (c *Choice) sight(x *Candidate, port PortPart) Sight {
	w := x.way
	s := Sight{Limit: port.Limit, Volume: x.Volume + port.Volume.Value}
	at := x.GaugeAtPump
	deepest := w.reading(0, at)

	fall := func(q, t float64) float64 {
		v0 := w.at(w.port, q)
		return v0 - left(v0, q, t, s.Volume, w.pa)
	}
	loses := func(what, t float64) float64 { // the leak that loses so much; +Inf: none
		return rising(func(q float64) float64 { return fall(q, t) - what }, s.Limit)
	}
	seen := tooQuick
	if g := c.Parts.Gauges[x.Gauge].Gauge; g.Kind == rig.GaugeDigital || g.Resolution > 0 {
		seen = tooQuickForSensor
	}
	quick := rising(func(q float64) float64 { return fall(q, seen) - w.at(w.port, q)/2 }, s.Limit)
	s.Thumb = Range{loses(2*x.Division, thumbHold), quick}
	s.Minute = Range{loses(2*x.Division, longHold), quick}
	perFall := s.Volume / w.pa
	s.ThumbStep, s.MinuteStep = perFall*x.Step/thumbHold, perFall*x.Step/longHold

	s.SteadyFloor = w.leakAt(x.Scatter, at)
	s.SteadyStep = w.leakAt(math.Hypot(x.Scatter, x.Step), at)
	s.Steady = Range{w.leakAt(math.Max(2*x.Uncertainty, x.Scatter), at), w.leakAt(plainDrop*deepest, at)}
	if math.IsInf(s.Steady.High, 1) { // the hose passes no more: the port is open to the room
		s.Steady.High = w.leak[len(w.leak)-1]
	}
	if x.Pegged {
		s.Steady = Range{}
	}

	for _, m := range multiples {
		q := m * s.Limit
		d := Drop{Times: m, Leak: q, Needle: deepest - w.reading(q, at), Lost15: fall(q, thumbHold), Lost60: fall(q, longHold)}
		d.Below, d.Over = q < s.Steady.Low, q > s.Steady.High
		s.Drops = append(s.Drops, d)
	}
	s.PullDown = w.pullDown(s.Volume, pulledDown)
	ten := 10 * s.Limit
	s.HoseAt = w.at(w.flow, ten)
	s.HoseLoss = w.at(w.pump, ten) - w.at(w.port, ten)
	return s
}

// rising returns where a rising function of the leak becomes zero, near a guess;
// +Inf where it does not below a million times it.
func rising(f func(float64) float64, near float64) float64 {
	hi := near
	for n := 0; f(hi) < 0; n++ {
		if hi *= 4; n > 10 {
			return math.Inf(1)
		}
	}
	lo := hi / 4
	for n := 0; f(lo) >= 0 && n < 15; n++ {
		hi, lo = lo, lo/4
	}
	a, b := math.Log(lo), math.Log(hi)
	for range 30 {
		m := (a + b) / 2
		if f(math.Exp(m)) < 0 {
			a = m
		} else {
			b = m
		}
	}
	return math.Exp((a + b) / 2)
}

// tells returns the class of a rig on one kind of port. A vacuum that does not
// reach 50 kPa has to be carried there by a law that nobody knows, and is no
// better than the limit alone.
func (s Sight) tells(x *Candidate) Tells {
	t := TellsNothing
	switch {
	case s.Thumb.holds(s.Limit / 2):
		t = TellsByThumb
	case s.Minute.holds(s.Limit / 2):
		t = TellsInAMinute
	case s.Minute.holds(s.Limit) || s.Steady.holds(s.Limit):
		t = TellsTheLimit
	}
	if x.Blanked < shallow {
		t = max(t, TellsTheLimit)
	}
	return t
}

// What makes a rig awkward: common practice, no source.
const (
	shallow  = 50e3 // Pa: leaks are stated at 50 kPa of vacuum
	deep     = 60e3 // Pa: what lets a hold fall a little without going below that
	patience = 10.0 // s to pull down
)

// score weighs what a rig sees of a port: over leaks from half the limit to a
// hundred limits, how finely the better of hold and steady reading resolves each
// (a part of the leak, from 1 % to all of it, on a log scale from 2 to 0); less
// for a pull that takes long or stays shallow.
func (c *Choice) score(x *Candidate, s Sight) float64 {
	guessed := x.way.curve.Guessed()
	sum, weights := 0.0, 0.0
	for _, m := range multiples {
		q := m * s.Limit
		part := 1.0
		if s.Thumb.holds(q) {
			part = math.Min(part, s.ThumbStep/q)
		}
		if s.Minute.holds(q) { // a minute asks for more patience, or the valve's own spring
			part = math.Min(part, 2*s.MinuteStep/q)
		}
		if s.Steady.holds(q) {
			steady := s.SteadyStep / q
			if guessed {
				steady = math.Hypot(steady, straightLine)
			}
			part = math.Min(part, steady)
		}
		weight := 1.0
		switch {
		case m <= 2:
			weight = 2 // here the verdict is made
		case m > 10:
			weight = 0.5 // it leaks, whatever the figure
		}
		sum -= weight * math.Log10(math.Max(0.01, math.Min(1, part)))
		weights += weight
	}
	score := sum / weights
	// The pull is seen first: a leak of ten limits should move the needle, and
	// between needle and hold no leak should be left out.
	if s.Steady.Any() {
		score -= 0.25 * math.Max(0, math.Log10(s.Steady.Low/(10*s.Limit)))
		score -= 0.3 * math.Max(0, math.Log10(s.Steady.Low/s.Thumb.High))
	} else {
		score -= 0.5
	}
	if s.PullDown > patience {
		score -= 0.2 * math.Log2(math.Min(s.PullDown, 1e3)/patience)
	}
	if x.Blanked < deep {
		score -= 0.3 * (deep - x.Blanked) / 10e3
	}
	return score
}

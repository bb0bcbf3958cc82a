package check

import (
	"cmp"
	"math"
	"slices"

	"seatproof/rig"
	"seatproof/unit"
)

// Memory is what a rig did on its earlier, sound days: what today is held
// against. ± is what a single day differs by.
type Memory struct {
	Air         float64       // Pa, of those days
	Zero        unit.Measured // Pa
	Blanked     unit.Measured // Pa
	RigLeak     unit.Measured // m³/s
	Early, Late unit.Measured // s of a blank's pull, 15 to 45 and 60 to 90 % of its steady reading
	Vent        unit.Measured // s, 40 to 10 %
	Slowing     unit.Measured // Pa that fades in a blank's hold
}

// Remember learns from the recordings of sound days of one rig; nil where they
// hold no blank.
func Remember(days ...Day) *Memory {
	var all apart
	air := 0.0
	for _, d := range days {
		a := takeApart(d)
		all.looks, all.vents = append(all.looks, a.looks...), append(all.vents, a.vents...)
		all.jumps, all.noise = append(all.jumps, a.jumps...), append(all.noise, a.noise...)
		air += airOf(d.Rig) / float64(len(days))
	}
	s := sumUp(all)
	if s.blanks == 0 {
		return nil
	}
	return &Memory{
		Air: air, Zero: around(s.zero, 100, 0), Blanked: around(s.blanked, 2.5*s.blankedSD, 0.012),
		RigLeak: around(s.rigLeak, 0.5*cm3PerMin, 0.25), Early: around(s.early, 0.05, 0.10), Late: around(s.late, 0.05, 0.08), Vent: around(s.vent, 0.2, 0.4),
		Slowing: around(s.slowBlank, math.Hypot(20, 2*s.slowBlankSD), 0.3),
	}
}

// around is a figure with what a single day differs by, an absolute and a
// relative part of 95 %. Common practice, no source.
func around(x, absolute, relative float64) unit.Measured {
	if math.IsNaN(x) {
		return unit.Measured{}
	}
	return unit.About(x, math.Hypot(absolute, relative*x))
}

// stated stands in for a memory where there is none.
func stated(r rig.Rig) *Memory {
	m := &Memory{Air: airOf(r), Zero: unit.About(0, 200)}
	if r.Gauge.Zero.Known {
		m.Zero = unit.About(r.Gauge.Zero.Value, math.Hypot(r.Gauge.Zero.Spread, 100))
	}
	if b := r.Pump.Blanked; b.Known && !r.Pump.RatedAt.Known {
		m.Blanked = unit.About(b.Value, math.Max(b.Spread, 0.015*b.Value))
	}
	if r.RigLeak.Known {
		m.RigLeak = unit.About(r.RigLeak.Value, math.Hypot(r.RigLeak.Spread, 0.5*cm3PerMin))
	}
	return m
}

const cm3PerMin = 1e-6 / 60 // m³/s

// summary is a day in a few figures; NaN where it does not say.
type summary struct {
	blanks                  int
	zero, zeroMoves, zeroSD float64 // Pa: mean, how far it went from the first to the last pull, scatter about that
	noise                   float64
	blanked, blankedSD      float64 // Pa
	early, late, vent       float64 // s
	rigLeak, rigLeakSD      float64 // m³/s, pump as it usually is
	running, stopped        float64 // m³/s, of the blank
	jump                    float64 // Pa
	slowBlank, slowBlankSD  float64 // Pa
	slowPort, slowPortSD    float64
	slowFirst, slowAgain    float64 // Pa, of the first and the last pull of a port pulled twice
	dropBlank               float64
}

func sumUp(a apart) summary {
	s := summary{slowFirst: math.NaN(), slowAgain: math.NaN()}
	var zeros, times, blanked, early, late, leak, running, stopped, slowB, slowP, drops []float64
	var sdB, sdP, leakSD []float64
	var tight []look
	byName := map[string][]look{}
	for _, l := range a.looks {
		if !math.IsNaN(l.zero) {
			zeros, times = append(zeros, l.zero), append(times, l.at)
		}
		if l.on != OnAPort {
			if !math.IsNaN(l.early) && !math.IsNaN(l.late) {
				early, late = append(early, l.early), append(late, l.late)
			}
		}
		if l.on == OnABlank {
			s.blanks++
			blanked = append(blanked, l.steady)
			drops = append(drops, l.drop)
			leak, leakSD = append(leak, l.flow), append(leakSD, l.flowSD)
			if l.running {
				running = append(running, l.flow)
			} else {
				stopped = append(stopped, l.flow)
			}
			slowB, sdB = append(slowB, l.slowing), append(sdB, l.slowingSD)
		}
		if l.on == OnAPort && l.lost < 0.3*l.steady {
			tight = append(tight, l)
			byName[l.name] = append(byName[l.name], l)
		}
	}
	// a leak bends the fall by its own law: the tightest half of the ports tells best
	slices.SortFunc(tight, func(a, b look) int { return cmp.Compare(a.lost-a.slowing, b.lost-b.slowing) })
	for _, l := range tight[:(len(tight)+1)/2] {
		slowP, sdP = append(slowP, l.slowing), append(sdP, l.slowingSD)
	}
	mean := func(x []float64) float64 {
		if len(x) == 0 {
			return math.NaN()
		}
		return middle(x)
	}
	s.zero, s.noise, s.blanked, s.early, s.late, s.vent = mean(zeros), mean(a.noise), mean(blanked), mean(early), mean(late), mean(a.vents)
	s.blankedSD = spreadOf(blanked)
	s.rigLeak, s.rigLeakSD = mean(leak), mean(leakSD)
	s.running, s.stopped = mean(running), mean(stopped)
	s.slowBlank, s.slowBlankSD, s.slowPort, s.slowPortSD = mean(slowB), mean(sdB)/math.Sqrt(float64(max(1, len(sdB)))), mean(slowP), mean(sdP)/math.Sqrt(float64(max(1, len(sdP))))
	s.dropBlank = mean(drops)
	jumps := slices.Sorted(slices.Values(a.jumps))
	if n := len(jumps); n > 0 {
		s.jump = jumps[max(0, n-2)] // of the second worst recording
	}
	if len(zeros) >= 3 {
		slope, _ := fall(times, zeros, 0)
		s.zeroMoves = -slope * (times[len(times)-1] - times[0])
		var rest []float64
		for i := range zeros {
			rest = append(rest, zeros[i]+slope*times[i])
		}
		s.zeroSD = spreadOf(rest)
	}
	for _, ls := range byName {
		if len(ls) > 1 && (math.IsNaN(s.slowFirst) || ls[0].slowing > s.slowFirst) {
			s.slowFirst, s.slowAgain = ls[0].slowing, ls[len(ls)-1].slowing
		}
	}
	return s
}

// spreadOf is the standard deviation of a few figures, 0 of fewer than two.
func spreadOf(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	m, ss := 0.0, 0.0
	for _, v := range x {
		m += v / float64(len(x))
	}
	for _, v := range x {
		ss += (v - m) * (v - m)
	}
	return math.Sqrt(ss / float64(len(x)-1))
}

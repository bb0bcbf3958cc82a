package check

import (
	"math"
	"time"

	"seatproof/rig"
	"seatproof/unit"
)

// What a check past its days is widened by (95 %), in the place of what was found
// then: guesses, common practice, no source.
const (
	oldBlanked = blankedGuess // of the reading
	oldRigLeak = 1e-6 / 60    // m³/s, and as much as the leak itself
	oldPump    = 0.15         // of the flow
)

// Apply returns the rig as its checks say it is at now: of each kind the newest
// ([Current]), in the place of what the rig states. What is past its days is
// widened by a guess of how far it may have moved since; what was never checked
// stays as stated, or guessed. r and results are not changed.
//
// A gauge's line takes the place of its accuracy. A rig leak found with the pump in
// another state than the rig's is put right by the shut-off valve's seep, where
// that was checked. Applied twice it is the same as once.
func Apply(r rig.Rig, results []Result, now time.Time) rig.Rig {
	all := Current(results, now)
	seep := standingOf(all, KindShutOff)
	for _, s := range all {
		if s.Result == nil || s.Result.Verdict == Failed && s.Kind == KindPump {
			continue
		}
		s.apply(&r, seep)
	}
	return r
}

func (s Standing) apply(r *rig.Rig, seep Standing) {
	c := s.Result
	v := c.Value
	widen := func(by float64) {
		if s.Old {
			v.Spread = math.Hypot(v.Spread, by)
		}
	}
	if !v.Known {
		return
	}
	switch s.Kind {
	case KindZero:
		limit, _ := limitOf(r.Gauge)
		widen(limit / 2)
		r.Gauge.Zero = v
	case KindGauge:
		if c.Line == nil {
			return
		}
		l := *c.Line
		if c.Verdict != Failed {
			l = withAccuracy(l, r.Gauge)
		}
		if s.Old { // its correction is still the best guess, and as sure as the gauge
			acc, _ := accuracyOf(r.Gauge)
			cov := l.Correlation * l.Offset.Spread * l.Slope.Spread
			l.Slope.Spread = math.Hypot(l.Slope.Spread, acc)
			l.Bow = unit.Measured{}
			if p := l.Offset.Spread * l.Slope.Spread; p > 0 {
				l.Correlation = cov / p
			}
		}
		r.Gauge.Line = &l
	case KindBlanked:
		widen(oldBlanked * v.Value)
		r.Pump.Blanked, r.Pump.RatedAt = v, unit.Measured{}
	case KindRigLeak:
		widen(math.Hypot(v.Value, oldRigLeak))
		r.RigLeak = c.inState(v, r.Pump.AfterShutOff, seep)
	case KindVolume:
		r.Volume = v
	case KindPump:
		if len(c.Curve) < 2 {
			return
		}
		widen(oldPump * v.Value)
		r.Pump.Curve = append([]rig.PumpPoint(nil), c.Curve...)
		r.Pump.FreeFlow = v
	case KindHose:
		r.Hose.Bore = v
	case KindHead:
		if !s.Old {
			r.Port.HeadTemperature = v
		}
	}
}

// withAccuracy joins a line with what was known of the gauge before, a slope of
// nothing within its accuracy, so that a blunt check never makes a good gauge worse.
// A gauge that has left its class is not known to be anything.
//
//	K = C e2/(C22 + acc²),  line += K (0 - slope),  C -= K e2' C
func withAccuracy(l rig.GaugeLine, g rig.Gauge) rig.GaugeLine {
	acc, span := accuracyOf(g)
	u1, u2 := l.Offset.Spread, l.Slope.Spread // all in 95 %: the ratios are the same
	c12 := l.Correlation * u1 * u2
	whole := u2*u2 + acc*acc
	if !(whole > 0) {
		return l
	}
	k1, k2 := c12/whole, u2*u2/whole
	slope := l.Slope.Value
	l.Offset = unit.About(l.Offset.Value-k1*slope, math.Sqrt(math.Max(0, u1*u1-k1*c12)))
	l.Slope = unit.About(slope*(1-k2), u2*math.Sqrt(1-k2))
	l.Correlation = 0
	if p := l.Offset.Spread * l.Slope.Spread; p > 0 {
		l.Correlation = math.Max(-1, math.Min(1, c12*(1-k2)/p))
	}
	if l.Bow.Known {
		l.Bow.Value = math.Min(l.Bow.Value, acc/2*span)
	}
	return l
}

// inState puts a rig leak right for the state of the pump in which tests are made.
func (c *Result) inState(v unit.Measured, tests rig.PumpState, seep Standing) unit.Measured {
	if seep.Result == nil || !seep.Result.Value.Known || c.Pump == rig.PumpNotSaid || tests == rig.PumpNotSaid || c.Pump == tests {
		return v
	}
	by := seep.Result.Value
	if tests == rig.PumpRunning { // nothing stands behind the valve to seep back
		by.Value = -by.Value
	}
	return unit.About(math.Max(0, v.Value+by.Value), math.Hypot(v.Spread, by.Spread))
}

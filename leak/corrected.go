package leak

import (
	"math"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// A gauge that was checked has a line (rig.GaugeLine, GUM H.3): its readings are
// corrected by it before anything else, so that all that is told is of what the
// gauge stood at, and the line's covariance stands in the place of the accuracy.

// correct puts a reading of vacuum [Pa] right.
func (k *known) correct(v float64) float64 {
	if k.line == nil {
		return v
	}
	return v + k.line.Offset.Value + k.line.Slope.Value*v
}

// correctDepth puts a depth of a trace right. An absolute gauge's line is of the
// vacuum below the room, whose pressure a depth of it lies below by.
func (k *known) correctDepth(d float64, kind trace.Kind) float64 {
	if kind == trace.Absolute {
		return k.correct(d+k.pa) - k.pa
	}
	return k.correct(d)
}

// correctDepths returns a trace's depths put right.
func (k *known) correctDepths(depth []float64, kind trace.Kind) []float64 {
	if k.line == nil {
		return depth
	}
	out := make([]float64, len(depth)) // the trace's own may be behind them
	for i, d := range depth {
		out[i] = k.correctDepth(d, kind)
	}
	return out
}

// correctZero returns the vented reading as a corrected one: as stated, or, where
// the line alone speaks of it, nothing, as surely as the line says.
func (k *known) correctZero(zero unit.Measured) unit.Measured {
	switch {
	case k.line == nil:
		return zero
	case zero.Known:
		return unit.About(k.correct(zero.Value), zero.Spread*math.Abs(1+k.line.Slope.Value))
	default:
		return unit.About(0, k.line.Offset.Spread)
	}
}

// zeroSDAt is the sd of a zero that the line alone tells, for readings about the
// vacuum v: with the gain's it makes up the line's own doubt there, covariance and
// all, u1² + 2 r v u1 u2 + v² u2².
func (k *known) zeroSDAt(v float64) float64 {
	u1, u2 := k.line.Offset.SD(), k.line.Slope.SD()
	return math.Sqrt(math.Max(0, u1*u1+2*k.line.Correlation*v*u1*u2))
}

// correctRig puts right what the rig states as read on its own gauge: the blanked
// reading, unless that is a data sheet's.
func correctRig(r rig.Rig) rig.Rig {
	if l := r.Gauge.Line; l != nil && r.Pump.Blanked.Known && !r.Pump.RatedAt.Known {
		f := 1 + l.Slope.Value // its zero is off already
		r.Pump.Blanked.Value *= f
		r.Pump.Blanked.Spread *= math.Abs(f)
	}
	return r
}

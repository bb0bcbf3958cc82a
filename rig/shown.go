package rig

import (
	"fmt"
	"math"
)

// Shown turns the true vacuum into what a gauge shows, sample by sample. Each
// part is off at its zero value. In this order: lag, play, friction, then
//
//	zero + drift t + (1 + gain) x + bow span 4 xi (1 - xi),  xi = x/span
//
// then noise and rounding to a step. Call Next with the samples in order; a
// copy made before the first call starts afresh.
type Shown struct {
	Lag      float64        // s, first order
	Play     float64        // Pa, width of the loop between rising and falling (backlash)
	Friction float64        // Pa by which the needle lags before it jumps
	Gain     float64        // of the reading
	Bow      float64        // of Span, at its middle
	Span     float64        // Pa; 0: 100 kPa
	Zero     float64        // Pa
	Drift    float64        // Pa/s of the zero, from the first sample on
	Step     float64        // Pa
	Noise    func() float64 // Pa, one draw a call; nil: none

	going        bool
	time         float64
	last, lagged float64
	slack        float64 // what comes out of the play
	needle       float64
}

// Next returns what is shown [Pa] at a moment dt [s] after the last call, when
// the true vacuum is v [Pa]; in between it is taken as a straight line, for
// which the lag is exact. The first call only sets the gauge, at rest, in the
// middle of its play. dt below 0 counts as 0.
func (s *Shown) Next(dt, v float64) float64 {
	dt = math.Max(0, dt)
	if !s.going {
		s.going = true
		s.last, s.lagged, s.slack, s.needle = v, v, v, v
	} else {
		s.time += dt
		s.lagged = s.delay(dt, v)
		s.last = v
		s.slack = math.Max(s.lagged-s.Play/2, math.Min(s.slack, s.lagged+s.Play/2))
		if math.Abs(s.slack-s.needle) >= s.Friction {
			s.needle = s.slack
		}
	}
	span := s.Span
	if span == 0 {
		span = 100e3
	}
	xi := s.needle / span
	out := s.Zero + s.Drift*s.time + (1+s.Gain)*s.needle + s.Bow*span*4*xi*(1-xi)
	if s.Noise != nil {
		out += s.Noise()
	}
	if s.Step > 0 {
		out = math.Round(out/s.Step) * s.Step
	}
	return out
}

// delay returns the lagged vacuum after a straight piece to v:
//
//	y = v - T k + (y0 - v0 + T k) exp(-dt/T),  k = (v - v0)/dt
func (s *Shown) delay(dt, v float64) float64 {
	switch {
	case s.Lag <= 0:
		return v
	case dt == 0:
		return s.lagged
	}
	tk := s.Lag * (v - s.last) / dt
	return v - tk + (s.lagged-s.last+tk)*math.Exp(-dt/s.Lag)
}

// Watch returns what the gauge shows of a run at the given times [s], which
// rise. Between them it steps at most fine [s], for its lag, play and friction;
// only the samples asked for draw noise. The gauge rests at the first time.
func (s Shown) Watch(r *Run, times []float64, fine float64) ([]float64, error) {
	if !(fine > 0) {
		return nil, fmt.Errorf("watch a run: step %.4g s must be above 0", fine)
	}
	noise := s.Noise
	out := make([]float64, len(times))
	for i, t := range times {
		if i > 0 {
			from := times[i-1]
			if !(t >= from) {
				return nil, fmt.Errorf("watch a run: time %d, %.6g s, lies before the one before it", i+1, t)
			}
			n := int(math.Ceil((t - from) / fine))
			s.Noise = nil
			for k := 1; k < n; k++ {
				s.Next((t-from)/float64(n), r.Vacuum(from+(t-from)*float64(k)/float64(n)))
			}
			s.Noise = noise
			out[i] = s.Next((t-from)/float64(max(n, 1)), r.Vacuum(t))
			continue
		}
		out[i] = s.Next(0, r.Vacuum(t))
	}
	return out, nil
}

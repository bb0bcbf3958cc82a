package rig

import (
	"math"
	"testing"
)

// The answer of a first-order lag to a ramp is k (t - T (1 - exp(-t/T))) (any
// text on control), whatever the steps it is taken in, since they are straight.
func TestShownLagOnARamp(t *testing.T) {
	const lag, k = 0.2, 5e3
	for _, dt := range []float64{0.001, 0.05, 0.3, 1} {
		s := Shown{Lag: lag}
		s.Next(0, 0)
		for i := 1; float64(i)*dt < 3.01; i++ {
			at := float64(i) * dt
			near(t, "ramp, lagged", s.Next(dt, k*at), k*(at+lag*math.Expm1(-at/lag)), 1e-8)
		}
	}
	s := Shown{Lag: lag}
	s.Next(0, 1e3)
	near(t, "at rest", s.Next(0.1, 1e3), 1e3, 0)
	// a step of the vacuum itself, as a steep piece, then 1 - exp(-t/T)
	s.Next(1e-9, 2e3)
	near(t, "a step after one lag", s.Next(lag, 2e3), 2e3-1e3/math.E, 1e-4)
}

// Driven round a closed loop, play gives two straight branches one width apart,
// of area width times (stroke - width) (the play operator of any text on
// hysteresis).
func TestShownPlayLoop(t *testing.T) {
	const width, stroke, n = 600.0, 40e3, 4000
	s := Shown{Play: width}
	s.Next(0, 0)
	area, last := 0.0, 0.0
	for lap := range 2 {
		area = 0
		for i := 1; i <= 2*n; i++ {
			v := stroke * (1 - math.Abs(1-float64(i)/n))
			y := s.Next(0.01, v)
			switch {
			case lap == 1 && i == n/2:
				near(t, "rising branch", y, v-width/2, 1e-9)
			case lap == 1 && i == n+n/2:
				near(t, "falling branch", y, v+width/2, 1e-9)
			}
			area += (y + last) / 2 * stroke / n * map[bool]float64{true: 1, false: -1}[i <= n]
			last = y
		}
	}
	near(t, "area of the loop", -area, width*(stroke-width), 1e-6*width*stroke)
	// a swing smaller than the width does not show
	s.Next(0.01, 10e3)
	y := s.Next(0.01, 10.2e3)
	near(t, "inside the play", s.Next(0.01, 10.2e3-500), y, 0)
}

// On a steady fall a sticking needle makes a staircase: it stands until it is
// off by the friction, then jumps to the truth.
func TestShownFrictionStairs(t *testing.T) {
	const stick, start, fall = 400.0, 70e3, 25.0
	s := Shown{Friction: stick}
	y := s.Next(0, start)
	jumps := 0
	for i := 1; i <= 2000; i++ {
		v := start - fall*float64(i)
		now := s.Next(0.1, v)
		near(t, "tread", now, start-stick*math.Floor((start-v)/stick), 0)
		if now != y {
			near(t, "riser", y-now, stick, 0)
			jumps++
		}
		y = now
	}
	if want := int(fall * 2000 / stick); jumps != want {
		t.Errorf("got %d jumps, want %d", jumps, want)
	}
}

// Gain, bow, zero, drift and step, by hand.
func TestShownScale(t *testing.T) {
	s := Shown{Gain: 0.01, Bow: 0.005, Zero: 200, Drift: 2}
	s.Next(0, 0)
	// 50 kPa: 50,500 + 500 + 200 + 20 after 10 s
	near(t, "middle of the span", s.Next(10, 50e3), 51220, 1e-9)
	// 25 kPa of a span of 50 kPa is its middle: 25,250 + 250 + 200
	s = Shown{Gain: 0.01, Bow: 0.005, Zero: 200, Span: 50e3}
	near(t, "middle of a short span", s.Next(0, 25e3), 25700, 1e-9)
	s = Shown{Step: 100}
	near(t, "rounded up", s.Next(0, 50e3+51), 50100, 1e-9)
	near(t, "rounded down", s.Next(1, 50e3+49), 50e3, 1e-9)
	n := 0.0
	s = Shown{Noise: func() float64 { n++; return n }}
	s.Next(0, 5)
	near(t, "noise, second draw", s.Next(1, 5), 7, 0)
	if (&Shown{}).Next(0, 123.4) != 123.4 || (&Shown{}).Next(-1, 7) != 7 {
		t.Error("a perfect gauge shows something else than the vacuum")
	}
}

// Watch is Next over a run: against the lag's own integral of the computed
// vacuum.
func TestShownWatch(t *testing.T) {
	c := Closed{Volume: 0.15e-3, AirPressure: room, AirTemp: roomTemp, Tau: 0.3, Leak: openingLeak(0.02e-6)}
	c.Pump = pumpOf(10, 78e3)
	r := mustRun(t, c, Step{For: 1}, Step{For: 5, Pumping: true}, Step{For: 5})
	var times []float64
	for i := range 110 {
		times = append(times, float64(i)*0.1)
	}
	const lag = 0.15
	got, err := Shown{Lag: lag}.Watch(r, times, 1e-3)
	if err != nil {
		t.Fatal(err)
	}
	for i, at := range times {
		if i%7 != 0 {
			continue
		}
		// ∫ v(t - u) exp(-u/T)/T du by the midpoint rule
		want, h := 0.0, 2e-4
		for u := h / 2; u < 14*lag; u += h {
			if at-u > 0 {
				want += h * r.Vacuum(at-u) * math.Exp(-u/lag) / lag
			}
		}
		near(t, "lagged run", got[i], want, 5)
	}
	if _, err := (Shown{}).Watch(r, []float64{1, 0.5}, 1e-3); err == nil {
		t.Error("times that fall: no error")
	}
	if _, err := (Shown{}).Watch(r, times, 0); err == nil {
		t.Error("no step: no error")
	}
}

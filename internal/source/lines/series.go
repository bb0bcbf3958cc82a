package lines

import (
	"math"
	"slices"
	"time"
)

// series is how one figure moves from line to line.
type series struct {
	n         int
	last      float64
	low, high float64
	ups       int // steps up
	downs     int
	steps     []float64 // up or down
	whole     bool      // never a fraction
	at        time.Time
	first     time.Time
	firstX    float64
	timed     int
}

func (s *series) add(x float64) {
	if s.n == 0 {
		s.low, s.high, s.whole = x, x, true
	} else {
		d := x - s.last
		s.steps = append(s.steps, d)
		if d > 0 {
			s.ups++
		} else if d < 0 {
			s.downs++
		}
	}
	s.low, s.high = math.Min(s.low, x), math.Max(s.high, x)
	s.whole = s.whole && x == math.Trunc(x)
	s.last = x
	s.n++
}

// arrived says when the figure just added came in.
func (s *series) arrived(at time.Time) {
	if s.timed == 0 {
		s.first, s.firstX = at, s.last
	}
	s.at = at
	s.timed++
}

// steady says whether the figure goes up by much the same from line to line, as
// a clock does, but for a restart now and then.
func (s *series) steady() bool {
	if s.ups < fewest-1 || s.downs*20 > len(s.steps) || s.ups*10 < len(s.steps)*8 {
		return false
	}
	sorted := slices.Clone(s.steps)
	slices.Sort(sorted)
	mid := sorted[len(sorted)/2]
	if mid <= 0 {
		return false
	}
	// three in four steps within a half of the median
	near := 0
	for _, d := range sorted {
		if math.Abs(d-mid) <= 0.5*mid {
			near++
		}
	}
	return near*4 >= len(sorted)*3
}

// step returns the median step.
func (s *series) step() float64 {
	if len(s.steps) == 0 {
		return 0
	}
	sorted := slices.Clone(s.steps)
	slices.Sort(sorted)
	return sorted[len(sorted)/2]
}

// counts says whether the figure goes up by one a line.
func (s *series) counts() bool { return s.whole && s.step() == 1 && s.steady() }

// clockUnit returns the unit of a clock, as a name, from how it moved while
// this machine's did; "" where none fits.
func (s *series) clockUnit() string {
	if s.timed < fewest || s.downs > 0 {
		return ""
	}
	passed := s.at.Sub(s.first).Seconds()
	if passed < 0.2 || s.last <= s.firstX {
		return ""
	}
	rate := (s.last - s.firstX) / passed
	for _, u := range []struct {
		name string
		rate float64
	}{{"s", 1}, {"ms", 1e3}, {"µs", 1e6}} {
		if rate > u.rate/1.6 && rate < u.rate*1.6 {
			return u.name
		}
	}
	return ""
}

// still says whether the figure never moved.
func (s *series) still() bool { return s.n > 1 && s.low == s.high }

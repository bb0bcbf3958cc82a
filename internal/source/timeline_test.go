package source

import (
	"math"
	"testing"
	"time"
)

// feed puts clocks that arrive at given moments [s] onto a timeline.
func feed(t *testing.T, arrivals, clocks []float64) (out []float64, codes []Code) {
	t.Helper()
	start := time.Now()
	var line Timeline
	for i, a := range arrivals {
		c := math.NaN()
		if clocks != nil {
			c = clocks[i]
		}
		x, notices := line.Stamp(start.Add(time.Duration(a*1e9)), c)
		out = append(out, x)
		for _, n := range notices {
			codes = append(codes, n.Code)
		}
	}
	return out, codes
}

func every(step float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = step * float64(i)
	}
	return x
}

func TestTimelineClocks(t *testing.T) {
	const millis32, micros32 = 4294967.296, 4294.967296 // 2³² ms, 2³² µs
	shift := func(x []float64, by float64) []float64 {
		out := make([]float64, len(x))
		for i := range x {
			out[i] = x[i] + by
		}
		return out
	}
	wrap := func(x []float64, period float64) []float64 {
		out := make([]float64, len(x))
		for i := range x {
			out[i] = math.Mod(x[i], period)
		}
		return out
	}
	// a buffer holds samples back: arrivals in bunches of five
	bunched := every(0.1, 100)
	for i := range bunched {
		bunched[i] = 0.5 * math.Ceil((bunched[i]+0.01)/0.5)
	}
	restart := every(0.1, 100)
	for i := 50; i < 100; i++ {
		restart[i] = 0.3 + 0.1*float64(i-50)
	}
	away := every(0.1, 100) // the machine waited 2 s for the board that started again
	for i := 50; i < 100; i++ {
		away[i] += 2
	}
	leap := every(0.1, 100)
	for i := 50; i < 100; i++ {
		leap[i] += 1000
	}
	for _, c := range []struct {
		name     string
		arrivals []float64
		clocks   []float64
		last     float64 // what the clock must say at the end, from its first figure
		within   float64
		codes    []Code
	}{
		{"steady", every(0.1, 100), every(0.1, 100), 9.9, 1e-9, nil},
		{"held back by a buffer", bunched, every(0.1, 100), 9.9, 1e-9, nil},
		{"runs 1 % fast", every(0.1, 100), every(0.101, 100), 9.999, 1e-9, nil},
		{"32 bits of ms", every(0.1, 100), wrap(shift(every(0.1, 100), millis32-5), millis32), 9.9, 1e-6, nil},
		{"32 bits of µs", every(0.1, 100), wrap(shift(every(0.1, 100), micros32-5), micros32), 9.9, 1e-6, nil},
		{"16 bits of ms", every(1, 200), wrap(every(1, 200), 65.536), 199, 1e-6, nil},
		{"midnight", every(1, 100), wrap(shift(every(1, 100), 86350), 86400), 99, 1e-6, nil},
		{"restart", away, restart, 11.9, 0.2, []Code{ClockBack}},
		{"leap", every(0.1, 100), leap, 9.9, 0.2, []Code{ClockJump}},
		{"stands", every(0.1, 100), make([]float64, 100), 0, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, codes := feed(t, c.arrivals, c.clocks)
			if got := out[len(out)-1] - out[0]; math.Abs(got-c.last) > c.within {
				t.Errorf("the clock went on by %g s, want %g", got, c.last)
			}
			for i := 1; i < len(out); i++ {
				if out[i] < out[i-1] {
					t.Errorf("went back at sample %d: %g, %g", i, out[i-1], out[i])
				}
			}
			if len(codes) != len(c.codes) || len(codes) > 0 && codes[0] != c.codes[0] {
				t.Errorf("told %v, want %v", codes, c.codes)
			}
		})
	}
}

func TestTimelineWithoutClock(t *testing.T) {
	out, codes := feed(t, every(0.1, 10), nil)
	if !math.IsNaN(out[9]) || codes != nil {
		t.Error("got", out[9], codes)
	}
}

// A board that was unplugged counts on from somewhere else, be it later than
// before: the time it was away is known from the arrivals.
func TestTimelineBridgesABreak(t *testing.T) {
	start := time.Now()
	var line Timeline
	line.Stamp(start, 2.0)
	line.Stamp(start.Add(100*time.Millisecond), 2.1)
	line.Break()
	got, _ := line.Stamp(start.Add(60*time.Second), 5.0)
	if want := 2.1 + 59.9; math.Abs(got-want) > 1e-6 {
		t.Errorf("the clock says %g, want %g", got, want)
	}
}

// Samples of one read share out the time since the one before.
func TestTimelineBatch(t *testing.T) {
	start := time.Now()
	var line Timeline
	if at, step := line.Batch(start, 10); !at.Equal(start) || step != 0 {
		t.Errorf("the first batch was spread: %v, %v", at.Sub(start), step)
	}
	at, step := line.Batch(start.Add(16*time.Millisecond), 8)
	if step != 2*time.Millisecond || at.Sub(start) != 2*time.Millisecond {
		t.Errorf("got first after %v, step %v; want 2 ms each", at.Sub(start), step)
	}
}

// A wall clock that was set is told, and moves no sample: time.Time keeps a
// monotonic reading, which Sub goes by.
func TestTimelineWallClock(t *testing.T) {
	a := time.Now()
	b := a.Add(time.Second)
	if by := stepped(a, b); math.Abs(by) > 1e-6 {
		t.Errorf("no step, but %g s told", by)
	}
	// without a monotonic reading there is nothing to tell it by
	if by := stepped(a.Round(0), b.Round(0).Add(time.Hour)); by != 0 {
		t.Errorf("told %g s", by)
	}
}

func TestElapsed(t *testing.T) {
	at := time.Now()
	a, b := Sample{At: at, Clock: 3}, Sample{At: at.Add(2 * time.Second), Clock: 4.5}
	if got := Elapsed(a, b); got != 1.5 {
		t.Error("by the own clock:", got)
	}
	b.Clock = math.NaN()
	if got := Elapsed(a, b); got != 2 {
		t.Error("by arrival:", got)
	}
}

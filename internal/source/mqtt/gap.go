package mqtt

import (
	"fmt"
	"math"

	"seatproof/internal/source"
)

// gaps finds messages that never came, by a counter that goes up by one a
// message or by a clock that goes on evenly.
type gaps struct {
	counted bool
	counter float64

	timed int     // steps of the clock that were seen
	clock float64 // NaN none yet
	usual float64 // s a step, running mean
	off   float64 // s that steps are off it, running mean
}

// Bounds of gaps.
const (
	manySteps = 16   // of a clock, before a long one can be told
	even      = 0.25 // as a share of the usual step, that steps of an even clock are off
	longStep  = 2.5  // usual steps are a gap
	leap      = 1e6  // messages are no gap but another counter
)

// count takes the next counter. again says that the message came before: QoS 1
// may bring one twice.
func (g *gaps) count(n float64) (again bool, told []source.Notice) {
	before, some := g.counter, g.counted
	g.counter, g.counted = n, true
	if !some {
		return false, nil
	}
	step := n - before
	if step < 0 {
		for _, bits := range []float64{1 << 8, 1 << 16, 1 << 32} {
			// it stood near its end and stands near its beginning
			if before < bits && before > bits*0.9 && n < bits*0.1 {
				step += bits
				break
			}
		}
	}
	switch {
	case step == 0:
		return true, nil
	case step < 0:
		return false, []source.Notice{{Code: source.ClockBack, Detail: fmt.Sprintf("its counter went back from %.0f to %.0f: it started again", before, n)}}
	case step > leap:
		return false, []source.Notice{{Code: source.ClockJump, Detail: fmt.Sprintf("its counter leapt from %.0f to %.0f", before, n)}}
	case step > 1:
		return false, []source.Notice{missing(step-1, fmt.Sprintf("its counter went from %.0f to %.0f", before, n))}
	}
	return false, nil
}

// time takes the next clock [s]; NaN: the message had none. Where there is a
// counter it is not asked.
func (g *gaps) time(clock float64) []source.Notice {
	if math.IsNaN(clock) {
		return nil
	}
	if g.timed == 0 && g.usual == 0 && math.IsNaN(g.clock) {
		g.clock = clock
		return nil
	}
	step := clock - g.clock
	g.clock = clock
	if step <= 0 {
		return nil // a restart or a second figure of the same moment: the timeline's
	}
	if g.timed >= manySteps && g.off < even*g.usual && step > longStep*g.usual {
		return []source.Notice{missing(math.Round(step/g.usual)-1, fmt.Sprintf("about so many, as its clock went on by %.4g s where %.4g s is usual", step, g.usual))}
	}
	g.timed++
	if g.timed == 1 {
		g.usual = step
		return nil
	}
	g.off += (math.Abs(step-g.usual) - g.off) / 16
	g.usual += (step - g.usual) / 16
	return nil
}

// broke says that the connection was lost: what is missing then is no surprise.
func (g *gaps) broke() { g.counted, g.clock, g.timed, g.usual, g.off = false, math.NaN(), 0, 0, 0 }

func missing(n float64, why string) source.Notice {
	words := fmt.Sprintf("%.0f messages are missing", n)
	if n == 1 {
		words = "1 message is missing"
	}
	return source.Notice{Code: source.Missing, Detail: words + ": " + why, Count: int(n)}
}

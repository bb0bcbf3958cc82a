package leak

import (
	"math"

	"seatproof/trace"
)

// bin is a mean of consecutive samples of the hold.
type bin struct {
	time   float64 // s after the shut-off, mean
	width2 float64 // s², variance of the times in it
	value  float64 // Pa, vacuum as read, not zeroed
	n      float64 // samples
	sd     float64 // Pa, of the mean
}

// binsWanted is about how many bins a long hold is cut into. Early ones are
// narrower, so that cold gas and the gauge's lag are seen.
const binsWanted = 90

// makeBins cuts points first..last of a trace into bins. A bin spans at most
// 3 % of the time since shutOff (or one sample), at most 1/binsWanted of the
// hold, and at most maxFall of the value.
func makeBins(t *trace.Trace, depth []float64, first, last int, shutOff, maxFall float64) []bin {
	end := t.Time[last] - shutOff
	longest := end / binsWanted
	bins := make([]bin, 0, binsWanted+48)
	for i := first; i <= last; {
		t0 := t.Time[i] - shutOff
		width := math.Min(longest, math.Max(0.05*t0, 0.004))
		j := i
		var n, st, stt, sv float64
		for j <= last {
			dt := t.Time[j] - shutOff - t0
			if j > i && (dt > width || math.Abs(depth[j]-depth[i]) > maxFall && dt > 0) {
				break
			}
			c := 1.0
			if t.Count != nil {
				c = float64(t.Count[j])
			}
			n += c
			st += c * dt
			stt += c * dt * dt
			sv += c * (depth[j] - depth[i])
			j++
		}
		b := bin{time: t0 + st/n, value: depth[i] + sv/n, n: n}
		b.width2 = math.Max(0, stt/n-(st/n)*(st/n))
		bins = append(bins, b)
		i = j
	}
	return bins
}

// weigh sets the sd of every bin from the noise of one sample and the gauge's
// step. Noise smaller than the step leaves an error that more samples don't
// average away: the mean of rounded values is off by up to 0.29 step
// · exp(-2 pi² (noise/step)²), with the period of the step; its share of bins
// counts as one error per half step fallen.
func weigh(bins []bin, noise, step float64) {
	stuck := roundingSD(noise, step)
	n := float64(len(bins))
	total := math.Abs(bins[len(bins)-1].value - bins[0].value)
	perBin := total / math.Max(1, n-1)
	for i := range bins {
		fall := perBin
		if i > 0 {
			fall = math.Abs(bins[i].value - bins[i-1].value)
		}
		together := 1.0
		if step > 0 {
			together = math.Min(n, math.Max(1, 0.5*step/math.Max(math.Max(fall, perBin/2), 1e-9)))
		}
		bins[i].sd = math.Sqrt(noise*noise/bins[i].n + stuck*stuck*together)
	}
}

// roundingSD is the sd of what rounding to a step leaves in the mean of many
// samples of that noise.
func roundingSD(noise, step float64) float64 {
	if step <= 0 {
		return 0
	}
	x := noise / step
	return step / math.Sqrt(12) * math.Exp(-2*math.Pi*math.Pi*x*x)
}

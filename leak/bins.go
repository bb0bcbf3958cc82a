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
const binsWanted = 64

// makeBins cuts points first..last of a trace into bins. A bin spans at most
// 7 % of the time since the shut-off (or one sample), 1/binsWanted of the hold,
// and the time in which the smoothed value falls by maxFall. Where a bin ends
// does not depend on the noise of the samples in it: that would bias their mean.
func makeBins(t *trace.Trace, depth []float64, first, last int, shutOff, maxFall float64) []bin {
	longest := (t.Time[last] - shutOff) / binsWanted
	rate := coarseFall(t.Time[first:last+1], depth[first:last+1])
	bins := make([]bin, 0, 2*binsWanted)
	for i := first; i <= last; {
		t0 := t.Time[i] - shutOff
		width := math.Min(longest, math.Max(0.07*t0, 0.008))
		width = math.Min(width, maxFall/rate(t.Time[i]))
		j := i
		var n, st, stt, sv float64
		for j <= last {
			dt := t.Time[j] - shutOff - t0
			if j > i && dt > width {
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

// coarseFall returns how fast a series changes [Pa/s, > 0] about a time, from
// means over a sixtieth of it (at least four points) on either side.
func coarseFall(t, u []float64) func(at float64) float64 {
	const pieces = 60
	size := max(4, len(t)/pieces)
	var mt, mu []float64
	for i := 0; i < len(t); i += size {
		j := min(i+size, len(t))
		var st, su float64
		for k := i; k < j; k++ {
			st += t[k]
			su += u[k]
		}
		mt = append(mt, st/float64(j-i))
		mu = append(mu, su/float64(j-i))
	}
	at := 1
	return func(x float64) float64 {
		for at < len(mt)-1 && mt[at] < x {
			at++
		}
		if at >= len(mt) || mt[at] <= mt[at-1] {
			return 1e-9
		}
		return math.Abs(mu[at]-mu[at-1])/(mt[at]-mt[at-1]) + 1e-9
	}
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

package study

import (
	"fmt"
	"math"

	"seatproof/trace"
)

// chanceTable holds the log likelihood of one sample against its distance from
// the model: of the gauge's step where the noise is under half of one, else of
// a normal density with the step's own variance added.
type chanceTable struct {
	noise, step float64
	quantised   bool
	variance    float64   // Pa², of a sample, where not quantised
	logs        []float64 // at |u| = i/perUnit
	perUnit     float64
	last        float64
}

func newChanceTable(noise, step float64) *chanceTable {
	c := &chanceTable{noise: noise, step: step, quantised: noise < step/2}
	c.variance = noise*noise + step*step/12
	if !c.quantised {
		return c
	}
	s := noise / step
	c.last = 0.5 + 9*s
	const points = 6000
	c.perUnit = points / c.last
	c.logs = make([]float64, points+2)
	for i := range c.logs {
		u := float64(i) / c.perUnit
		// Phi((u+.5)/s) - Phi((u-.5)/s), from the side that keeps its digits
		p := (math.Erfc((u-0.5)/(s*math.Sqrt2)) - math.Erfc((u+0.5)/(s*math.Sqrt2))) / 2
		c.logs[i] = math.Log(p)
	}
	return c
}

// log returns the log likelihood of a sample d [Pa] away from the model.
func (c *chanceTable) log(d float64) float64 {
	if !c.quantised {
		return -d * d / (2 * c.variance)
	}
	u := math.Abs(d) / c.step
	x := u * c.perUnit
	if u < c.last {
		i := int(x)
		return c.logs[i] + (x-float64(i))*(c.logs[i+1]-c.logs[i])
	}
	s := c.noise / c.step
	edge, here := (c.last-0.5)/s, (u-0.5)/s
	return c.logs[len(c.logs)-2] - (here*here-edge*edge)/2
}

// level is what samples at one constant value say about it: mean and sd [Pa].
type level struct{ mean, sd float64 }

// levelOf returns the posterior (flat prior) of the constant behind the
// samples, by summing over a grid.
func levelOf(samples []float64, c *chanceTable) level {
	mean := 0.0
	for _, v := range samples {
		mean += v
	}
	n := float64(len(samples))
	mean /= n
	if !c.quantised {
		return level{mean, math.Sqrt(c.variance / n)}
	}
	count := map[float64]float64{}
	for _, v := range samples {
		count[v]++
	}
	const points = 801
	width := c.step
	var logs [points]float64
	best := math.Inf(-1)
	for i := range logs {
		l := mean + width*(2*float64(i)/(points-1)-1)
		for v, k := range count {
			logs[i] += k * c.log(v-l)
		}
		best = math.Max(best, logs[i])
	}
	var s0, s1, s2 float64
	for i, l := range logs {
		p := math.Exp(l - best)
		u := width * (2*float64(i)/(points-1) - 1)
		s0 += p
		s1 += p * u
		s2 += p * u * u
	}
	s1 /= s0
	return level{mean + s1, math.Sqrt(math.Max(s2/s0-s1*s1, 1e-12))}
}

// noiseOf returns the sd of one sample [Pa], the step's own scatter in it, by
// the second differences of stretches that are smooth: their variance is six
// times a sample's.
func noiseOf(stretches ...[]float64) float64 {
	sum, n := 0.0, 0
	for _, s := range stretches {
		for i := 2; i < len(s); i++ {
			d := s[i] - 2*s[i-1] + s[i-2]
			sum += d * d
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum / 6 / float64(n))
}

// recording is the part of a trace that the yardstick fits.
type recording struct {
	vented, steady []float64 // Pa, as shown
	time, value    []float64 // hold: s after the stated shut-off, Pa as shown
	weight         []float64 // samples in each
	holdNoise      []float64 // samples for the noise, from where the hold is smooth
	end            float64   // s after the stated shut-off
	shut           float64   // s, the stated shut-off in the trace's time
	interval       float64   // s
	step           float64   // Pa
	zero           level
	start          level
	chance         *chanceTable
}

// recordingOf cuts a trace into its vented, steady and held samples. The
// yardstick is told where the shut-off and the end of the hold are, within
// doubt samples; it need not find phases.
func recordingOf(t Truth, tr *trace.Trace, doubt float64) (*recording, error) {
	n := tr.Len()
	if tr.Kind != trace.Vacuum || tr.Count != nil || n < 20 {
		return nil, fmt.Errorf("yardstick: needs single samples of vacuum, at least 20, got %d of %q", n, tr.Kind)
	}
	r := &recording{shut: t.ShutOff, interval: (tr.Time[n-1] - tr.Time[0]) / float64(n-1), step: tr.Step}
	rough := math.Max(noiseOf(tr.Value), 1)
	// vented: until 0.25 s before the first sample of the pull
	first := 0
	for first < n && tr.Value[first] < tr.Value[0]+math.Max(1000, 6*math.Min(rough, 500)) {
		first++
	}
	if first == n {
		return nil, fmt.Errorf("yardstick: no pull among %d samples", n)
	}
	for i := range n {
		if tr.Time[i] < tr.Time[first]-0.25 {
			r.vented = append(r.vented, tr.Value[i])
		}
	}
	if len(r.vented) < 3 {
		return nil, fmt.Errorf("yardstick: only %d vented samples", len(r.vented))
	}
	zero := 0.0
	for _, v := range r.vented {
		zero += v / float64(len(r.vented))
	}
	from := t.ShutOff - doubt*r.interval
	to := t.ShutOff + t.Hold - doubt*r.interval
	var time, value []float64
	for i := range n {
		switch ti := tr.Time[i]; {
		case ti >= from-1 && ti < from:
			r.steady = append(r.steady, tr.Value[i])
		case ti >= from && ti < to:
			time = append(time, ti-t.ShutOff)
			value = append(value, tr.Value[i])
		}
	}
	if len(r.steady) < 3 || len(value) < 8 {
		return nil, fmt.Errorf("yardstick: %d steady and %d held samples", len(r.steady), len(value))
	}
	start := 0.0
	for _, v := range r.steady {
		start += v / float64(len(r.steady))
	}
	floor := math.Max(2000, 0.03*(start-zero)) + zero
	keep := len(value)
	for i := 2; i+2 < len(value); i++ {
		if (value[i-2]+value[i-1]+value[i]+value[i+1]+value[i+2])/5 < floor {
			keep = i
			break
		}
	}
	time, value = time[:keep], value[:keep]
	r.end = time[keep-1] + 2*r.interval
	r.holdNoise = value
	for i, ti := range time {
		if ti > 0.5 {
			r.holdNoise = value[i:]
			break
		}
	}
	sd := noiseOf(r.vented, r.steady, r.holdNoise)
	noise := math.Sqrt(math.Max(sd*sd-r.step*r.step/12, 0))
	r.setNoise(math.Max(noise, 0.15*r.step))
	r.group(time, value)
	return r, nil
}

// setNoise takes the noise and what follows from it.
func (r *recording) setNoise(noise float64) {
	r.chance = newChanceTable(math.Max(noise, 1e-3), r.step)
	r.zero = levelOf(r.vented, r.chance)
	r.start = levelOf(r.steady, r.chance)
}

// group takes the held samples, the later ones of a long and dense hold as
// means of four: there the curve is straight over so short a time.
func (r *recording) group(time, value []float64) {
	dense := !r.chance.quantised && len(value) > 3000 && r.interval < 0.012
	for i := 0; i < len(time); {
		k := 1
		if dense && time[i] > 3 && i+4 <= len(time) {
			k = 4
		}
		var t, v float64
		for j := range k {
			t += time[i+j]
			v += value[i+j]
		}
		r.time = append(r.time, t/float64(k))
		r.value = append(r.value, v/float64(k))
		r.weight = append(r.weight, float64(k))
		i += k
	}
}

// gauge is what a gauge adds to the vacuum it shows.
type gauge struct {
	zero, gain, bow, span float64
}

// reads returns the reading at the vacuum v [Pa].
func (g gauge) reads(v float64) float64 {
	return g.zero + v*(1+g.gain+4*g.bow*(1-v/g.span))
}

// vacuum returns the vacuum behind a reading, and its slope against it.
func (g gauge) vacuum(reading float64) (v, slope float64) {
	v = reading - g.zero
	d := 1.0
	for range 3 {
		d = 1 + g.gain + 4*g.bow*(1-2*v/g.span)
		v -= (g.reads(v) - reading) / d
	}
	return v, 1 / d
}

// logLikelihood returns that of the held samples for a computed hold whose
// shut-off was late seconds after the stated one.
func (r *recording) logLikelihood(w *curve, g gauge, start, late float64) float64 {
	sum := 0.0
	i, n := 0, len(w.at)
	lin, sq := 1+g.gain+4*g.bow, -4*g.bow/g.span
	normal := !r.chance.quantised
	for k, t := range r.time {
		u := t - late
		v := start
		if u > 0 {
			for i+1 < n && w.at[i+1] <= u {
				i++
			}
			v = w.shownAt(i, u-w.at[i])
		}
		d := r.value[k] - g.zero - v*(lin+sq*v)
		if normal {
			sum += r.weight[k] * d * d
		} else {
			sum += r.chance.log(d)
		}
	}
	if normal {
		return -sum / (2 * r.chance.variance)
	}
	return sum
}

package leak

import (
	"math"
	"sort"

	"seatproof/num"
)

// Between-test scatter before a shop has repeats of its own: the sd of the
// logarithm of the leak between tests is itself lognormal, median 0.3, 95 %
// 0.12 to 0.8 (a guess from common practice, no source).
const (
	betweenMedian = 0.3
	betweenLogSD  = 0.5 // ln(0.8/0.3)/1.96
)

// again returns draws of one more test of this port, valve lifted, turned and
// dropped, plate put down again, given this one test. The port's own level lies
// one between-test scatter from this test and the next test one more from that,
// so the logarithm moves by sqrt(2) sigma_b. Several tests: [Together].
func again(draws []Draw, s *Scatter) []float64 {
	out := make([]float64, len(draws))
	seq := num.NewSequence(2)
	var u [2]float64
	for i, d := range draws {
		seq.Next(u[:])
		sigma := s.quantile(u[0])
		out[i] = d.Flow * math.Exp(math.Sqrt2*sigma*normalQuantile(u[1]))
	}
	sort.Float64s(out)
	return out
}

// ChanceOver returns the chance that this port, tested again, leaks more than
// limit [m³/s of free air at 50 kPa vacuum]; NaN where the reading has no leak
// rate. It is computed from the draws: each counts with its normal tail; that of
// several tests from their joint posterior.
func (r *Reading) ChanceOver(limit float64) float64 {
	return r.ChanceOverAt(func(float64) float64 { return limit })
}

// ChanceOverAt is [Reading.ChanceOver] of a limit that goes by the opening's share
// [0..1] of the leak: each draw is held against that of its own share. Several
// tests together keep no draws; there the shares of the middle test are taken,
// whatever the flow.
func (r *Reading) ChanceOverAt(limit func(share float64) float64) float64 {
	if r.Repeats != nil {
		if r.Share == nil {
			return r.Repeats.chanceOver(limit(0.5))
		}
		at, same := r.shareQuantiles(), true
		for _, s := range at {
			same = same && limit(s) == limit(at[0])
		}
		if same {
			return r.Repeats.chanceOver(limit(at[0]))
		}
		sum := 0.0
		for _, s := range at {
			sum += r.Repeats.chanceOver(limit(s)) / float64(len(at))
		}
		return sum
	}
	if len(r.Draws) == 0 {
		return math.NaN()
	}
	const k = 16
	var sigma [k]float64
	for i := range sigma {
		sigma[i] = math.Sqrt2 * r.scatter.quantile((float64(i)+0.5)/k)
	}
	over, n := 0.0, 0.0
	for i := 0; i < len(r.Draws); i += everyDraw(r.Draws) {
		n++
		q, most := r.Draws[i].Flow, limit(r.Draws[i].Share)
		if most <= 0 {
			over++
		} else if q > 0 {
			x := math.Log(q / most)
			for _, s := range sigma {
				over += num.NormalCDF(x/s) / k
			}
		}
	}
	return math.Min(1, over/n)
}

// shareQuantiles returns five equally likely shares of the opening, straight
// between the ends and the median of its interval.
func (r *Reading) shareQuantiles() (out [5]float64) {
	for i := range out {
		z := normalQuantile((float64(i)+0.5)/5) / 1.96
		to := r.Share.High
		if z < 0 {
			to = r.Share.Low
		}
		out[i] = r.Share.Median + math.Abs(z)*(to-r.Share.Median)
	}
	return out
}

// everyDraw is the step in which a chance goes through draws: they are in no
// order that matters, and 250 are enough.
func everyDraw(draws []Draw) int { return 1 + len(draws)/250 }

// finish sets what follows from the draws of a leak rate.
func (rd *reader) finish() {
	out := rd.out
	out.scatter, out.seat = rd.o.Scatter, rd.o.Seat
	g := again(out.Draws, out.scatter)
	t := equalTailed(g)
	if out.UpperLimitOnly {
		t.Low, t.High = 0, math.Max(quantile(g, 0.95), out.Leak.High)
	}
	out.TestedAgain = &t
	rd.compareSteady()
	if !rd.k.hasVolume && out.Source != FromSteady {
		rd.withoutVolume()
	}
	out.own = ownOf(out)
}

package check

import (
	"fmt"
	"math"
	"time"

	"seatproof/num"
	"seatproof/rig"
	"seatproof/unit"
)

// Chart is an individuals chart: limits at the mean ± 3/1.128 mean moving ranges
// (2.66), which one sound point in 370 lies outside of.
type Chart struct {
	Mean        float64 `json:"mean"`
	MovingRange float64 `json:"moving_range"` // mean of |x_i - x_i-1|
	Lower       float64 `json:"lower"`
	Upper       float64 `json:"upper"`
	Out         []int   `json:"out,omitempty"` // indices of points outside
}

// d2 is the mean range of two normal figures over their standard deviation, as
// charts tabulate it (ISO 7870-2; NIST/SEMATECH e-Handbook 6.3.2.2); 2/sqrt(pi).
const d2 = 1.128

// Individuals returns the individuals chart of x, in the order in which it came.
// It needs two figures. Source: ISO 7870-2; NIST/SEMATECH e-Handbook 6.3.2.2.
func Individuals(x []float64) (Chart, error) {
	var c Chart
	if len(x) < 2 {
		return c, fmt.Errorf("individuals chart: %d figures: it takes two", len(x))
	}
	c.Mean, _ = meanOf(x)
	for i := 1; i < len(x); i++ {
		c.MovingRange += math.Abs(x[i]-x[i-1]) / float64(len(x)-1)
	}
	w := 3 / d2 * c.MovingRange
	c.Lower, c.Upper = c.Mean-w, c.Mean+w
	for i, v := range x {
		if v < c.Lower || v > c.Upper {
			c.Out = append(c.Out, i)
		}
	}
	return c, nil
}

const (
	chartFrom    = 5    // pulls that make a chart worth reading (common practice, no source)
	blankedGuess = 0.03 // ± of a blanked reading from pull to pull where nothing tells (common practice, no source)
	driftWorth   = 0.005
)

// BlankedSeries takes the blanked reading from pulls on a blank [Pa, zero taken
// off], in the order in which they were made. Its ± is that of one more pull,
//
//	t s sqrt(1 + 1/n)
//
// t for 95 % and n-1 degrees of freedom, t s at least the gauge's resolution; one
// pull takes 3 %, a guess, and two or three no more than it. A series that drifts, its slope not nothing with 99 %
// and worth half a per cent over the series, gives the line's last point. The verdict
// is the chart's: no point outside, no drift.
func BlankedSeries(at time.Time, pulls []float64, r rig.Rig) (Result, error) {
	n := len(pulls)
	if n == 0 {
		return Result{}, fmt.Errorf("blanked reading: no pull")
	}
	deepest := 106e3 // more than any room's air
	if p := r.Air.Pressure; p.Known {
		acc, span := accuracyOf(r.Gauge)
		deepest = p.Value + p.Spread + acc*span
	}
	for i, v := range pulls {
		if !(v >= 1e3 && v <= deepest) {
			return Result{}, fmt.Errorf("blanked reading: pull %d shows %.3g kPa of vacuum: no air pressure here allows that, or the pump did not draw; check figure and unit", i+1, v/1e3)
		}
	}
	res := Result{Kind: KindBlanked, At: at, Dim: unit.PressureDim, Verdict: Found}
	mean, s := meanOf(pulls)
	own := num.Z95 * readingSD(r.Gauge)
	guess := math.Max(blankedGuess*mean, own)
	if n == 1 {
		res.Value = unit.About(mean, guess)
		res.Evidence = []Sentence{say("One pull stood at {}; how pulls scatter is not told by one: 3 % is taken, a guess.", exactly(mean, res.Dim))}
		res.Do = "Pull four times more: the scatter is what limits the steady reading."
		return res, nil
	}
	spread := math.Max(factor(n-1)*s, own) * math.Sqrt(1+1/float64(n))
	if n < 4 { // so few can't say that it is worse than pumps are
		spread = math.Min(spread, math.Max(guess, num.Z95*s))
	}
	res.Value = unit.About(mean, spread)
	c, err := Individuals(pulls)
	if err != nil {
		return res, err
	}
	res.Chart = &c
	res.Evidence = append(res.Evidence, say(fmt.Sprintf("%d pulls: {}, for one more pull.", n), of(res.Value, res.Dim)))
	if n >= chartFrom {
		res.Verdict = Passed
		for _, i := range c.Out {
			res.Verdict = Failed
			res.Evidence = append(res.Evidence, say(fmt.Sprintf("Pull %d, {}, lies outside what the others allow: {} to {}.", i+1),
				exactly(pulls[i], res.Dim), exactly(c.Lower, res.Dim), exactly(c.Upper, res.Dim)))
			res.Do = "Find out what that pull had: a plate not flat on its pad, a valve not quite open. Then take the series again."
		}
	} else {
		res.Evidence = append(res.Evidence, say("Fewer than five pulls: a chart of them tells little yet."))
	}
	if n >= 4 {
		if err := res.drift(pulls, r); err != nil {
			return res, err
		}
	}
	return res, nil
}

// drift looks for a drift over the series.
func (res *Result) drift(pulls []float64, r rig.Rig) error {
	x := make([]float64, len(pulls))
	for i := range x {
		x[i] = float64(i)
	}
	n := len(pulls)
	f, err := FitLine(x, pulls, float64(n-1), readingSD(r.Gauge))
	if err != nil {
		return err
	}
	t := factor(n - 2)
	sure, err := num.StudentQuantile(0.995, float64(n-2))
	if err != nil {
		return err
	}
	whole := f.Slope * float64(n-1)
	if math.Abs(f.Slope) <= sure*f.SlopeSD || math.Abs(whole) < driftWorth*res.Value.Value {
		return nil
	}
	res.Value = unit.About(f.Intercept, math.Max(t*math.Hypot(math.Max(f.S, readingSD(r.Gauge)), f.InterceptSD), math.Abs(f.Slope)))
	way, why := "rose", "The pump warms up: let it run five minutes on the blank, then take the series again."
	if whole < 0 {
		way, why = "fell", "A pump that loses depth as it runs gets hot, or its valves tire: let it cool, then take the series again."
	}
	res.Verdict, res.Do = Failed, why
	res.Evidence = append([]Sentence{say("The reading "+way+" by {} over the series, which is more than scatter; its last, {}, is taken.",
		exactly(math.Abs(whole), res.Dim), of(res.Value, res.Dim))}, res.Evidence...)
	return nil
}

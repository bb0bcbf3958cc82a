package study

import (
	"math"
	"sort"

	"seatproof/leak"
)

// Tally is what a number of outcomes come to.
type Tally struct {
	Drawn, Answered int
	Refused         map[leak.RefusalCode]int
	Held            int // this trace's interval holds the true leak
	Above, Below    int // it lies above or below the interval
	UpperLimit      int // answered "less than"

	Shares, SharesHeld int // true share between 0 and 1
	Pure, PureHeld     int // true share exactly 0 or 1, within 0.001 of the interval
	Named, NamedWrong  int
	Misfits, Vapours   int     // warnings of law-misfit and fall-stops
	FromSteady         int     // answered by the steady reading
	Width, Error       float64 // medians, relative to the true leak
	MeanBias           float64 // mean of (median - truth)/truth, 5 % trimmed at either end
}

// Count tallies outcomes; those that could not be simulated are left out.
func Count(out []Outcome) Tally {
	t := Tally{Refused: map[leak.RefusalCode]int{}}
	var widths, errs, signed []float64
	for _, o := range out {
		if o.Err != nil {
			continue
		}
		t.Drawn++
		r, q := o.Reading, o.Truth.Flow
		if r.Refusal != nil || r.Leak == nil {
			if r.Refusal != nil {
				t.Refused[r.Refusal.Code]++
			}
			continue
		}
		t.Answered++
		low := r.Leak.Low
		if r.UpperLimitOnly {
			t.UpperLimit++
			low = 0
		}
		switch {
		case q > r.Leak.High:
			t.Above++
		case q < low:
			t.Below++
		default:
			t.Held++
		}
		if r.Source == leak.FromSteady {
			t.FromSteady++
		}
		widths = append(widths, (r.Leak.High-low)/q)
		errs = append(errs, math.Abs(r.Leak.Median-q)/q)
		signed = append(signed, (r.Leak.Median-q)/q)
		t.countShare(r, o.Truth.Share)
		for _, w := range r.Warnings {
			switch w.Code {
			case leak.LawMisfit:
				t.Misfits++
			case leak.FallStops:
				t.Vapours++
			}
		}
	}
	t.Width, t.Error = Middle(widths), Middle(errs)
	sort.Float64s(signed)
	cut := len(signed) / 20
	if n := len(signed) - 2*cut; n > 0 {
		for _, x := range signed[cut : len(signed)-cut] {
			t.MeanBias += x / float64(n)
		}
	}
	return t
}

// countShare counts share and kind.
func (t *Tally) countShare(r *leak.Reading, s float64) {
	if r.Share == nil {
		return
	}
	if s > 0 && s < 1 {
		t.Shares++
		if s >= r.Share.Low && s <= r.Share.High {
			t.SharesHeld++
		}
	} else {
		t.Pure++
		if s >= r.Share.Low-1e-3 && s <= r.Share.High+1e-3 {
			t.PureHeld++
		}
	}
	wrong := false
	switch r.Kind {
	case leak.KindOpening:
		wrong = s <= 0.8
	case leak.KindSeep:
		wrong = s >= 0.2
	case leak.KindMixed:
		wrong = s < 0.2 || s > 0.8
	default:
		return
	}
	t.Named++
	if wrong {
		t.NamedWrong++
	}
}

// Middle returns the median of x, which it sorts; 0 of none.
func Middle(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sort.Float64s(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// Rate returns k of n as a fraction with its counting error sqrt(p(1-p)/n).
func Rate(k, n int) (p, err float64) {
	if n == 0 {
		return 0, 0
	}
	p = float64(k) / float64(n)
	return p, math.Sqrt(p * (1 - p) / float64(n))
}

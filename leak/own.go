package leak

import (
	"math"

	"seatproof/num"
)

// ownError is a reading as several tests of one port take it: its errors parted
// into those of its own and those that all tests on the rig share, which do not
// average and do not show as scatter.
type ownError struct {
	median float64 // m³/s
	mean   float64 // m³/s, of a normal that is not cut at zero
	sd     float64 // m³/s, own: samples, gauge zero, vapour
	shift  float64 // m³/s, common and added: sd
	factor float64 // common and multiplied: sd of the logarithm
}

// ownsOf returns the errors of readings that all have a leak rate. A steady
// reading beside a hold shares next to none of the hold's common errors: all of
// its errors are its own there, and it has the little weight of a blunt reading.
func ownsOf(readings []*Reading) []ownError {
	steady := 0
	out := make([]ownError, len(readings))
	for i, r := range readings {
		out[i] = *ownOf(r)
		if r.Source == FromSteady {
			steady++
		}
	}
	if steady == 0 || steady == len(readings) {
		return out
	}
	for i, r := range readings {
		if o := &out[i]; r.Source == FromSteady {
			o.sd = math.Hypot(math.Hypot(o.sd, o.shift), o.factor*o.median)
			o.shift, o.factor = 0, 0
		}
	}
	return out
}

// ownInputs are a test's own; addedInputs are common and add to the flow,
// whatever it is. All others are common and multiply it.
var (
	ownInputs   = []string{inputNoise, inputZero, inputVapour}
	addedInputs = []string{inputRigLeak, inputWall, inputLag, inputBlanked}
)

// normalBelow is the own relative sd up to which a test counts as normal in the
// logarithm.
const normalBelow = 0.25

// ownOf parts the errors of a reading, nil where it has no leak rate. The
// posterior of a small leak is a normal cut at zero; the normal's own mean and
// sd are found from those of the draws. A reading without a budget has nothing
// but common errors: that makes the joint answer no narrower than one.
func ownOf(r *Reading) *ownError {
	if r.own != nil {
		return r.own
	}
	if r.Refusal != nil || r.Leak == nil || len(r.Draws) == 0 {
		return nil
	}
	n, sum, sum2 := float64(len(r.Draws)), 0.0, 0.0
	for _, d := range r.Draws {
		sum += d.Flow
	}
	mean := sum / n
	for _, d := range r.Draws {
		sum2 += (d.Flow - mean) * (d.Flow - mean)
	}
	sd := math.Sqrt(sum2 / n)
	if !(mean > 0) || !(sd >= 0) || math.IsInf(mean+sd, 0) {
		return nil
	}
	o := ownError{median: math.Max(r.Leak.Median, 1e-6*mean), mean: mean}
	whole := math.Max(sd, 1e-6*mean)
	if whole > 0.3*mean {
		o.mean, whole = uncut(mean, whole)
	}
	own, added := 0.0, 0.0
	for _, b := range r.Budget {
		switch {
		case contains(ownInputs, b.Input):
			own += b.Share
		case contains(addedInputs, b.Input):
			added += b.Share
		}
	}
	if len(r.Budget) == 0 && r.UpperLimitOnly {
		added = 1
	}
	o.sd, o.shift = whole*math.Sqrt(own), whole*math.Sqrt(added)
	if f := whole * math.Sqrt(math.Max(0, 1-own-added)) / mean; f < 0.5 {
		o.factor = math.Sqrt(math.Log1p(f * f))
	} else { // no factor of a leak that may be none
		o.shift = math.Hypot(o.shift, f*mean)
	}
	o.sd = math.Max(o.sd, 1e-4*mean)
	return &o
}

func contains(names []string, name string) bool {
	for _, n := range names {
		if n == name {
			return true
		}
	}
	return false
}

// uncut returns mean and sd of the normal which, cut at zero, has the mean and
// the sd given:
//
//	mean = sigma (a + l), sd² = sigma² (1 - a l - l²),  l = phi(a)/Phi(a), a = mu/sigma
//
// sd/mean falls from 1 to 0 as a rises; a is held to -3 and more.
func uncut(mean, sd float64) (mu, sigma float64) {
	of := func(a float64) (m, s float64) {
		l := num.NormalDensity(a) / num.NormalCDF(a)
		return a + l, math.Sqrt(math.Max(0, 1-a*l-l*l))
	}
	lo, hi := -3.0, 40.0
	for range 60 {
		a := (lo + hi) / 2
		if m, s := of(a); s*mean > sd*m {
			lo = a
		} else {
			hi = a
		}
	}
	m, _ := of(lo)
	sigma = mean / m
	return lo * sigma, sigma
}

// relative is the own sd over the leak.
func (o *ownError) relative() float64 { return o.sd / o.median }

// plain says whether the reading may be taken as normal in the logarithm.
func (o *ownError) plain() bool { return o.relative() < normalBelow }

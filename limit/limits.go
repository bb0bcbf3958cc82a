package limit

import (
	"errors"
	"math"
)

// Kind is a rule by which a leak is judged.
type Kind string

// The kinds. Workmanship and cost stand side by side, the stricter decides; a
// person may choose one of the others in their place.
const (
	ByWorkmanship Kind = "workmanship"
	ByCost        Kind = "cost"
	ByMaker       Kind = "maker"     // the engine maker's figure
	ByOwn         Kind = "own"       // a figure of the person's own
	ByDrop        Kind = "drop"      // the needle may stand so far below the blanked reading
	ByGoodPort    Kind = "good-port" // no more than a port that is known to be good, times a factor
)

// Kinds are all of them, in the order in which they are shown.
var Kinds = []Kind{ByWorkmanship, ByCost, ByMaker, ByOwn, ByDrop, ByGoodPort}

// Words returns the kind in the words of every screen and sheet.
func (k Kind) Words() string {
	switch k {
	case ByWorkmanship:
		return "workmanship"
	case ByCost:
		return "cost"
	case ByMaker:
		return "the maker's figure"
	case ByOwn:
		return "a figure of one's own"
	case ByDrop:
		return "a drop below the blanked reading"
	case ByGoodPort:
		return "a port known good"
	}
	return string(k)
}

// Reason says why a limit of this kind is set, as a sentence.
func (k Kind) Reason() string {
	switch k {
	case ByWorkmanship:
		return "A well-cut seat leaks no more, whatever the engine, and seats that leak burn. The gap is this program's engineering choice, no standard's."
	case ByCost:
		return "More takes too much of this engine's cranking pressure, all valves of a cylinder together."
	case ByMaker:
		return "The engine maker asks for it."
	case ByOwn:
		return "Typed in for this head."
	case ByDrop:
		return "A habit of the trade (common practice, no source), translated for this pump: on a larger one the same drop means a larger leak."
	case ByGoodPort:
		return "A port that is known to be good, tested on this rig in the same way, is the measure."
	}
	return ""
}

// Limit is the largest leak of one valve by one rule, m³/s of free air at a
// vacuum of 50 kPa. Most rules don't ask how a leak flows, and have the same
// figure twice. The cost of a leak and the needle it moves do: there Opening is
// the limit of one that flows like a nozzle, Seep of one that flows as through a
// thin slot.
type Limit struct {
	Kind                Kind
	Opening, Seep       float64 // m³/s
	OpeningSD, SeepSD   float64 // sd of their logarithms, from what was guessed
	All                 float64 // m³/s, cost only: of all valves of the cylinder together, as a seep
	AllOpening          float64 // and as an opening
	Share               float64 // cost only: of cranking pressure
	Gap, Diameter, Drop float64 // workmanship: m, and of the valve's head, m; drop: Pa
}

// Plain returns a limit that does not ask how a leak flows.
func Plain(kind Kind, flow, sd float64) Limit {
	return Limit{Kind: kind, Opening: flow, Seep: flow, OpeningSD: sd, SeepSD: sd}
}

// At returns the limit [m³/s] of a leak of which the opening has the part share
// [0..1] of the flow at 50 kPa. Shares of cost add up, and so do flows into a
// pump, so that
//
//	1/q = share/q_opening + (1 - share)/q_seep
func (l Limit) At(share float64) float64 {
	if l.Opening == l.Seep {
		return l.Seep
	}
	s := math.Min(1, math.Max(0, share))
	return 1 / (s/l.Opening + (1-s)/l.Seep)
}

// SD returns the sd of the logarithm of [Limit.At]; the doubts of both ends are
// taken as one.
func (l Limit) SD(share float64) float64 {
	if l.OpeningSD == l.SeepSD {
		return l.SeepSD
	}
	s := math.Min(1, math.Max(0, share))
	at := l.At(s)
	return at * (s/l.Opening*l.OpeningSD + (1-s)/l.Seep*l.SeepSD)
}

// Valve holds the limits that decide about one valve, those set aside left out.
type Valve []Limit

// Decides returns the strictest limit of a leak with that share of an opening;
// ok is false for a valve without limits.
func (v Valve) Decides(share float64) (l Limit, ok bool) {
	for i := range v {
		if !ok || v[i].At(share) < l.At(share) {
			l, ok = v[i], true
		}
	}
	return l, ok
}

// At returns what the strictest limit allows [m³/s]; 0 without limits.
func (v Valve) At(share float64) float64 {
	l, ok := v.Decides(share)
	if !ok {
		return 0
	}
	return l.At(share)
}

// Quantiles is in how many steps the doubt of limits is gone through.
const Quantiles = 9

// Factors returns by what the strictest limit at that share may have to be
// multiplied, in [Quantiles] equally likely steps, for the limits are lognormal
// and the least of them decides:
//
//	P(least > x) = Π (1 - Φ((ln x - ln q_i)/sd_i))
//
// Limits that lie near each other pull the least below either. The doubts of the
// rules are independent of each other. exact is true where there is no doubt, and
// every factor 1.
func (v Valve) Factors(share float64) (f [Quantiles]float64, exact bool) {
	for i := range f {
		f[i] = 1
	}
	least, doubt := v.At(share), 0.0
	for i := range v {
		doubt = math.Max(doubt, v[i].SD(share))
	}
	if !(least > 0) || !(doubt > 0) {
		return f, true
	}
	var logs, sds []float64
	lo, hi := 0.0, 6*doubt
	for i := range v {
		l, sd := math.Log(v[i].At(share)/least), v[i].SD(share)
		if l > 6*(sd+doubt) {
			continue // never the least
		}
		logs, sds = append(logs, l), append(sds, sd)
		lo, hi = math.Min(lo, l-6*sd), math.Min(hi, l+6*sd)
	}
	above := func(x float64) float64 {
		p := 1.0
		for i, l := range logs {
			switch {
			case sds[i] > 0:
				p *= math.Erfc((x-l)/(sds[i]*math.Sqrt2)) / 2
			case x >= l:
				return 0
			}
		}
		return p
	}
	for i := range f {
		want := 1 - (float64(i)+0.5)/Quantiles
		a, b := lo, hi
		for range 40 {
			if m := (a + b) / 2; above(m) > want {
				a = m
			} else {
				b = m
			}
		}
		f[i] = math.Exp((a + b) / 2)
	}
	return f, false
}

// SharedBy returns a valve's part of what all valves of its cylinder may leak
// together, by the diameters of their heads [m]:
//
//	q · d / Σ d
//
// Seats of one gap leak in proportion to their diameters, so each has its like
// part. 0 where a diameter is not above zero.
func SharedBy(all, diameter float64, heads []float64) float64 {
	sum := 0.0
	for _, d := range heads {
		if !(d > 0) {
			return 0
		}
		sum += d
	}
	if !(diameter > 0) || !(sum > 0) {
		return 0
	}
	return all * diameter / sum
}

// Port holds the limits of the valves that are open to one port, in any order: of
// one cylinder or of two.
type Port []Valve

// At returns the least limit of one of the valves at that share of an opening,
// which of them has it, and the sum of all [m³/s]. Within one clears all of
// them; above the sum at least one leaks; between, a mask is asked for. which is
// -1 where no valve has a limit.
func (p Port) At(share float64) (one, all float64, which int) {
	which = -1
	for i, v := range p {
		l := v.At(share)
		if l > 0 && (which < 0 || l < one) {
			one, which = l, i
		}
		all += l
	}
	return one, all, which
}

// errShare and others say what a figure of a limit can't be.
var (
	errShareNone = errors.New("a share of 0 % lets no leak pass: give 0.1 to 50 %, 2 % is the usual choice, or set the cost limit aside")
	errShareOver = errors.New("this share is not of cranking pressure that an engine could do without: give 0.1 to 50 %, 2 % is the usual choice")
)

// UsualShare is the cost limit's share of cranking pressure where nobody said
// another: an engineering choice, shown as one.
const UsualShare = 0.02

// CheckShare says whether a share of cranking pressure [0..1] can be a limit: from
// a thousandth to a half.
func CheckShare(share float64) error {
	switch {
	case !(share >= 0.001):
		return errShareNone
	case share > 0.5:
		return errShareOver
	}
	return nil
}

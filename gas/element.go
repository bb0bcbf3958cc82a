package gas

import (
	"fmt"
	"math"
)

// Element is anything air flows through: an [Opening], a [Seep], an
// [Annulus], a [Conductance] or a [Pipe].
type Element interface {
	// MassFlow returns the mass flow [kg/s] from p1 to p2 [Pa, absolute] with
	// the upstream air at t1 [K]. It needs 1e12 >= p1 >= p2 >= 0, t1 from 1 to
	// 1e5, and an element whose own figures are in their range, else the error
	// is a *[RangeError]. The flow is never negative and never NaN, is 0 at
	// p1 = p2, and grows with p1 and falls with p2. Safe for concurrent use.
	MassFlow(p1, p2, t1 float64) (float64, error)
}

// RangeError reports a figure outside the range in which a law holds.
type RangeError struct {
	Op    string  // what was being computed: "opening", "standard pressure", ...
	Field string  // which figure
	Value float64 // SI
	Want  string  // what it has to be
}

func (e *RangeError) Error() string {
	return fmt.Sprintf("%s: %s %g must be %s", e.Op, e.Field, e.Value, e.Want)
}

// The two demands nearly every figure meets.
const (
	wantPositive    = "above 0 and finite"
	wantNotNegative = "0 or more and finite"
)

// ask is one figure with its demand, for [check].
type ask struct {
	field string
	value float64
	zero  bool // 0 is allowed
}

// check returns a *RangeError for the first figure that is not finite, below
// 0, or 0 where that is not allowed.
func check(op string, asks ...ask) error {
	for _, a := range asks {
		switch {
		case a.value > 0 && !math.IsInf(a.value, 0):
		case a.zero && a.value == 0:
		case a.zero:
			return &RangeError{Op: op, Field: a.field, Value: a.value, Want: wantNotNegative}
		default:
			return &RangeError{Op: op, Field: a.field, Value: a.value, Want: wantPositive}
		}
	}
	return nil
}

// Range in which MassFlow answers; wide enough for a flame at 100 bar.
const (
	maxPressure                    = 1e12 // Pa
	minTemperature, maxTemperature = 1.0, 1e5
)

// checkFlow checks the arguments of MassFlow. One chain of comparisons on the
// common path: a solver calls this often.
func checkFlow(op string, p1, p2, t1 float64) error {
	switch {
	case p1 >= p2 && p2 >= 0 && p1 <= maxPressure && t1 >= minTemperature && t1 <= maxTemperature:
		return nil
	case !(t1 >= minTemperature && t1 <= maxTemperature):
		return &RangeError{Op: op, Field: "upstream temperature", Value: t1, Want: "between 1 and 100,000 K"}
	case !(p1 >= 0 && p1 <= maxPressure):
		return &RangeError{Op: op, Field: "upstream pressure", Value: p1, Want: "0 or more and below 1e12 Pa"}
	case !(p2 >= 0):
		return &RangeError{Op: op, Field: "downstream pressure", Value: p2, Want: "0 or more"}
	}
	return &RangeError{Op: op, Field: "downstream pressure", Value: p2, Want: fmt.Sprintf("at most the upstream one, %g: flow goes the other way", p1)}
}

// finite passes a computed flow on, or reports sizes so far from any real ones
// that the arithmetic broke down.
func finite(op string, flow float64) (float64, error) {
	if math.IsNaN(flow) || math.IsInf(flow, 0) {
		return 0, &RangeError{Op: op, Field: "computed flow", Value: flow, Want: "finite: the sizes are beyond what can be computed"}
	}
	return flow, nil
}

// FreeAir returns the volume flow [m³/s] that the mass flow mdot [kg/s] is as
// the air stands in a room at pa [Pa], ta [K]: mdot R ta/pa.
func FreeAir(mdot, pa, ta float64) float64 { return mdot * R * ta / pa }

// FreeAirMass returns the mass flow [kg/s] that a free-air flow q [m³/s] is in
// a room at pa [Pa], ta [K]: the inverse of [FreeAir].
func FreeAirMass(q, pa, ta float64) float64 { return q * pa / (R * ta) }

// FreeAirAt returns the free-air flow [m³/s] that e draws from a room at pa
// [Pa], ta [K] into a vacuum [Pa]. It needs 0 <= vacuum <= pa; errors are
// *[RangeError].
func FreeAirAt(e Element, vacuum, pa, ta float64) (float64, error) {
	if err := checkRoom("free-air flow", vacuum, pa, ta); err != nil {
		return 0, err
	}
	mdot, err := e.MassFlow(pa, pa-vacuum, ta)
	if err != nil {
		return 0, err
	}
	return FreeAir(mdot, pa, ta), nil
}

// checkRoom checks a vacuum in a room.
func checkRoom(op string, vacuum, pa, ta float64) error {
	if err := check(op, ask{"air pressure", pa, false}, ask{"room temperature", ta, false}, ask{"vacuum", vacuum, true}); err != nil {
		return err
	}
	if vacuum > pa {
		return &RangeError{Op: op, Field: "vacuum", Value: vacuum, Want: fmt.Sprintf("no deeper than the air pressure, %g", pa)}
	}
	return checkFlow(op, pa, pa-vacuum, ta)
}

// checkInverse checks a flow that an inverse law is to explain.
func checkInverse(op string, flow, vacuum, pa, ta float64) error {
	if err := checkRoom(op, vacuum, pa, ta); err != nil {
		return err
	}
	if err := check(op, ask{"flow", flow, true}); err != nil {
		return err
	}
	if vacuum == 0 {
		return &RangeError{Op: op, Field: "vacuum", Value: vacuum, Want: "above 0: nothing flows without one"}
	}
	return nil
}

// sizeFor returns the size x in [lo, hi] at which the growing function flow(x)
// is want, to 1e-14 of x, by bisection in its logarithm: some fifty calls, and
// sizes are found once a leak. False if want is not between the ends.
func sizeFor(flow func(x float64) float64, want, lo, hi float64) (float64, bool) {
	if !(flow(lo) <= want && flow(hi) >= want) {
		return 0, false
	}
	a, b := math.Log(lo), math.Log(hi)
	for b-a > 1e-14 {
		u := (a + b) / 2
		if !(u > a && u < b) {
			break
		}
		if flow(math.Exp(u)) <= want {
			a = u
		} else {
			b = u
		}
	}
	return math.Exp((a + b) / 2), true
}

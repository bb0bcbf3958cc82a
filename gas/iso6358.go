package gas

import "math"

// Reference atmosphere of ISO 8778, in which ISO 6358 states C: 20 °C,
// 100 kPa, 65 % relative humidity.
const (
	ANRDensity     = 1.185  // kg/m³ (ISO 6358-1; from memory)
	ANRTemperature = 293.15 // K
	ANRPressure    = 100e3  // Pa
)

// Conductance is a flow path described by ISO 6358-1: a hose barb, a shut-off
// valve, a calibrated jet with papers.
type Conductance struct {
	C float64 // m³/(s Pa), sonic conductance; 1 L/(s bar) is 1e-8
	B float64 // critical pressure ratio, 0 <= b < 1
}

// MassFlow returns the mass flow [kg/s] from p1 to p2 [Pa, absolute], with the
// upstream air at t1 [K]:
//
//	mdot = C rho0 p1 sqrt(T0/t1) · [1 if r <= b, else sqrt(1 - ((r-b)/(1-b))²)],  r = p2/p1
//
// with rho0 and T0 of the reference atmosphere. Its slope against p2 has no
// bound at r = 1. Errors as for [Element]; also if b is outside [0, 1).
// Source: ISO 6358-1:2013, with the subsonic index 0.5.
func (c Conductance) MassFlow(p1, p2, t1 float64) (float64, error) {
	const op = "conductance"
	if err := checkFlow(op, p1, p2, t1); err != nil {
		return 0, err
	}
	if err := c.check(op); err != nil {
		return 0, err
	}
	if p1 == p2 {
		return 0, nil
	}
	return finite(op, c.C*c.unitFlow(p1, p2, t1))
}

func (c Conductance) unitFlow(p1, p2, t1 float64) float64 {
	flow := ANRDensity * p1 * math.Sqrt(ANRTemperature/t1)
	if r := p2 / p1; r > c.B {
		x := (1 - r) / (1 - c.B) // 1 - ((r-b)/(1-b))² = x (2 - x): no cancellation near r = 1
		flow *= math.Sqrt(x * (2 - x))
	}
	return flow
}

func (c Conductance) check(op string) error {
	if err := check(op, ask{"sonic conductance", c.C, true}); err != nil {
		return err
	}
	if !(c.B >= 0 && c.B < 1) {
		return &RangeError{Op: op, Field: "critical pressure ratio", Value: c.B, Want: "0 or more and below 1"}
	}
	return nil
}

// conductancePerArea is C [m³/(s Pa)] of a nozzle of 1 m²: the choked flows of
// both laws are equal.
var conductancePerArea = PsiMax / (ANRDensity * math.Sqrt(R*ANRTemperature))

// Area returns the effective area [m²] of the nozzle that passes the same when
// choked: C rho0 sqrt(R T0)/psi*, the pneumatic rule S [mm²] = 5.02 C [L/(s bar)].
func (c Conductance) Area() float64 { return c.C / conductancePerArea }

// Conductance returns the ISO 6358 figures of the opening taken as a nozzle:
// the C of its area and b = 0.5283. The ellipse then differs from the nozzle by
// at most 0.15 % of the choked flow.
func (o Opening) Conductance() Conductance {
	return Conductance{C: o.Area * conductancePerArea, B: CriticalRatio}
}

// ConductanceFor returns the path of critical ratio b that draws the free-air
// flow [m³/s] from a room at pa [Pa], ta [K] into a vacuum [Pa]. Errors as for
// [OpeningFor].
func ConductanceFor(flow, vacuum, pa, ta, b float64) (Conductance, error) {
	const op = "conductance from flow"
	if err := checkInverse(op, flow, vacuum, pa, ta); err != nil {
		return Conductance{}, err
	}
	c := Conductance{B: b}
	if err := c.check(op); err != nil {
		return Conductance{}, err
	}
	var err error
	c.C, err = finite(op, FreeAirMass(flow, pa, ta)/c.unitFlow(pa, pa-vacuum, ta))
	return c, err
}

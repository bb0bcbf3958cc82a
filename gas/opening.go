package gas

import "math"

// Opening is a leak that flows like a nozzle: a nick, a jet, a lifted valve.
//
// Real edges lie between a rounded nozzle (Edge 0), whose effective area is
// the same at every pressure ratio, and a sharp one (Edge 1), whose
// discharge coefficient rises with the pressure drop. Area is the *effective*
// area, discharge coefficient times hole, as it is at a vacuum of 50 kPa.
type Opening struct {
	Area float64 // m², effective, at the pressure ratio Reference
	Edge float64 // 0 rounded .. 1 sharp

	// Reference is the pressure ratio at which Area is the effective area. 0
	// means that of a vacuum of 50 kPa below the upstream pressure, which is
	// right when the upstream is the room of the test. Set it to the test's
	// own ratio, (pa - 50 kPa)/pa, to carry a leak to another room or into an
	// engine.
	Reference float64
}

// MassFlow returns the mass flow [kg/s] through the opening from p1 to p2
// [Pa, absolute], with the upstream air at t1 [K]:
//
//	mdot = A p1/sqrt(R t1) psi(max(r, 0.5283)) [1 + edge (Cd(r)/Cd(r50) - 1)],  r = p2/p1
//
// with psi of [Psi], Cd of [SharpEdgeCd] (r not held at the critical ratio
// there: a sharp edge goes on passing more when the nozzle would be choked),
// r50 the Reference. Errors as for [Element]; also if Area is negative, or
// Edge or Reference outside [0, 1].
// Source: docs/model.md §1, opening.
func (o Opening) MassFlow(p1, p2, t1 float64) (float64, error) {
	const op = "opening"
	if err := checkFlow(op, p1, p2, t1); err != nil {
		return 0, err
	}
	if err := o.check(op); err != nil {
		return 0, err
	}
	if p1 == p2 {
		return 0, nil
	}
	return finite(op, o.Area*o.unitFlow(p1, p2, t1))
}

// unitFlow is the mass flow per effective area; the arguments are in range.
func (o Opening) unitFlow(p1, p2, t1 float64) float64 {
	r := p2 / p1
	flow := p1 / math.Sqrt(R*t1) * Psi(r)
	if o.Edge != 0 {
		r50 := o.Reference
		if r50 == 0 {
			r50 = math.Max(0, (p1-StatedVacuum)/p1)
		}
		flow *= 1 + o.Edge*(SharpEdgeCd(r)/SharpEdgeCd(r50)-1)
	}
	return flow
}

func (o Opening) check(op string) error {
	if err := check(op, ask{"area", o.Area, true}); err != nil {
		return err
	}
	if !(o.Edge >= 0 && o.Edge <= 1) {
		return &RangeError{Op: op, Field: "edge", Value: o.Edge, Want: "between 0 (rounded) and 1 (sharp)"}
	}
	if !(o.Reference >= 0 && o.Reference <= 1) {
		return &RangeError{Op: op, Field: "reference ratio", Value: o.Reference, Want: "between 0 and 1"}
	}
	return nil
}

// Diameter returns the diameter [m] of the round nozzle (discharge
// coefficient 1) that passes the same: sqrt(4 A/pi).
func (o Opening) Diameter() float64 { return math.Sqrt(4 * o.Area / math.Pi) }

// OpeningFor returns the opening that draws the free-air flow [m³/s] from a
// room at pa [Pa], ta [K] into a vacuum [Pa]: the inverse of [FreeAirAt] for an
// opening of the given edge. Errors are *[RangeError]: flow below 0, vacuum not
// above 0 or deeper than the air pressure, edge outside [0, 1].
func OpeningFor(flow, vacuum, pa, ta, edge float64) (Opening, error) {
	const op = "opening from flow"
	if err := checkInverse(op, flow, vacuum, pa, ta); err != nil {
		return Opening{}, err
	}
	o := Opening{Edge: edge}
	if err := o.check(op); err != nil {
		return Opening{}, err
	}
	var err error
	o.Area, err = finite(op, FreeAirMass(flow, pa, ta)/o.unitFlow(pa, pa-vacuum, ta))
	return o, err
}

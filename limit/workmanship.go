package limit

import (
	"fmt"
	"math"

	"seatproof/gas"
)

// The workmanship limit's two choices. They are the engineering choices of
// this program, shown as such, not figures of a standard.
const (
	WorkmanshipGap     = 3e-6   // m, cube-mean gap round the contact of a good seat
	WorkmanshipContact = 1.2e-3 // m, along the flow; part of the limit, not of the seat
)

// Workmanship returns the largest leak [m³/s of free air at a vacuum of 50 kPa]
// of a well-cut seat, whatever the engine: the seep through a cube-mean gap
// [m] all round the valve head's diameter [m] (the seat's, if that is given)
// over 1.2 mm of contact, slip at the walls and inertia included, in a room at
// pa [Pa], ta [K]:
//
//	w = pi·diameter, h = gap, L = 1.2 mm
//
// 27 mm and 3 µm at 101.3 kPa and 20 °C give 23 cm³/min. It scales with the
// diameter. The contact width of the seat at hand enters the gap that is
// reported, not the limit. The error is a *[gas.RangeError] or names the
// figure that no valve has: diameters from 5 to 200 mm and gaps up to 50 µm
// are taken. Source: docs/model.md, sections 1 (seep) and 6 (limits).
func Workmanship(diameter, gap, pa, ta float64) (float64, error) {
	if !(diameter >= 5e-3 && diameter <= 0.2) {
		return 0, fmt.Errorf("workmanship limit: valve diameter %.4g mm is not between 5 and 200 mm", diameter*1e3)
	}
	if !(gap > 0 && gap <= 50e-6) {
		return 0, fmt.Errorf("workmanship limit: gap %.4g µm is not above 0 and up to 50 µm", gap*1e6)
	}
	if !(pa > gas.StatedVacuum) {
		return 0, fmt.Errorf("workmanship limit: air pressure %.4g kPa is below the 50 kPa at which leaks are stated", pa*1e-3)
	}
	seat := gas.Seep{Width: math.Pi * diameter, Gap: gap, Length: WorkmanshipContact}
	mass, err := seat.MassFlow(pa, pa-gas.StatedVacuum, ta)
	if err != nil {
		return 0, fmt.Errorf("workmanship limit: %w", err)
	}
	return mass / gas.Density(pa, ta), nil
}

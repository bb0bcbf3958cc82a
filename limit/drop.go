package limit

import (
	"fmt"
	"math"

	"seatproof/gas"
	"seatproof/rig"
)

// TooDeepError says that a drop is as deep as the blanked reading, or deeper.
type TooDeepError struct{ Drop, Blanked float64 } // Pa

func (e *TooDeepError) Error() string {
	return fmt.Sprintf("a drop of %.3g kPa below a blanked reading of %.3g kPa leaves no vacuum", e.Drop/1e3, e.Blanked/1e3)
}

// OfDrop returns the leak [m³/s of free air at 50 kPa] with which the needle
// stands drop [Pa] below the blanked reading, pump on, in a room at pa [Pa], ta
// [K]: the pump's curve is the leak there, carried to 50 kPa by the law of an
// opening and by that of a seep,
//
//	pump(v_blanked - drop) = leak(v_blanked - drop)
//
// 2 inHg on a pump of 10 L/min and 78 kPa are 870 cm³/min of an opening. A drop
// that leaves no vacuum is a *[TooDeepError]. Source: docs/model.md, sections 2
// and 7.
func OfDrop(drop float64, pump *rig.Curve, pa, ta float64) (opening, seep float64, err error) {
	v := pump.Blanked() - drop
	if !(drop > 0) {
		return 0, 0, fmt.Errorf("limit of a drop: a drop of %.3g kPa is none: it is above zero", drop/1e3)
	}
	if !(v > 0.05*pump.Blanked()) {
		return 0, 0, &TooDeepError{drop, pump.Blanked()}
	}
	q := pump.Flow(v)
	if !(q > 0) {
		return 0, 0, fmt.Errorf("limit of a drop: the pump draws nothing at %.3g kPa", v/1e3)
	}
	if opening, err = carried(q, v, gas.StatedVacuum, 1, pa, ta); err == nil {
		seep, err = carried(q, v, gas.StatedVacuum, 0, pa, ta)
	}
	if err != nil {
		return 0, 0, fmt.Errorf("limit of a drop: %w", err)
	}
	return opening, seep, nil
}

// DropOf returns how far below the blanked reading [Pa] the needle stands, pump
// on, with a leak of flow [m³/s at 50 kPa], an opening (share 1) or a seep (0).
// Source: as [OfDrop].
func DropOf(flow, share float64, pump *rig.Curve, pa, ta float64) (float64, error) {
	lo, hi := 0.001*pump.Blanked(), pump.Blanked()
	for range 40 {
		v := (lo + hi) / 2
		q, err := carried(flow, gas.StatedVacuum, v, share, pa, ta)
		if err != nil {
			return 0, fmt.Errorf("drop of a limit: %w", err)
		}
		if pump.Flow(v) > q {
			lo = v
		} else {
			hi = v
		}
	}
	return pump.Blanked() - (lo+hi)/2, nil
}

// carried returns the free-air flow at the vacuum to of a leak that passes flow at
// the vacuum from, by the law of a rounded opening or of a seep round a usual
// seat.
func carried(flow, from, to, share, pa, ta float64) (float64, error) {
	if share >= 1 {
		o, err := gas.OpeningFor(flow, from, pa, ta, 0)
		if err != nil {
			return 0, err
		}
		return gas.FreeAirAt(o, to, pa, ta)
	}
	s, err := gas.SeepFor(flow, from, pa, ta, math.Pi*usualSeat, WorkmanshipContact)
	if err != nil {
		return 0, err
	}
	return gas.FreeAirAt(s, to, pa, ta)
}

// usualSeat is the diameter [m] of a seat where the law alone is asked for.
const usualSeat = 27e-3

// GapOf returns the cube-mean gap [m] round a valve's head of that diameter [m]
// over 1.2 mm of contact that passes flow [m³/s at 50 kPa]: the inverse of
// [Workmanship], and a limit of any kind in its terms.
func GapOf(flow, diameter, pa, ta float64) (float64, error) {
	s, err := gas.SeepFor(flow, gas.StatedVacuum, pa, ta, math.Pi*diameter, WorkmanshipContact)
	if err != nil {
		return 0, fmt.Errorf("gap of a limit: %w", err)
	}
	return s.Gap, nil
}

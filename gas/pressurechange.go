package gas

// PressureChange returns the mean molar flow [mol/s] into a closed volume [m³]
// whose gas went from p1 [Pa, absolute], t1 [K] to p2, t2 in dt [s]:
//
//	n = volume/Ru (p2/t2 - p1/t1)/dt
//
// It is negative for a volume that loses gas. It needs a positive volume,
// positive temperatures, pressures of 0 or more and dt > 0, else the error is
// a *[RangeError]. Gas that warms by 1 K looks like a leak: give both
// temperatures. Source: 40 CFR 1065.644.
func PressureChange(volume, p1, t1, p2, t2, dt float64) (float64, error) {
	const op = "pressure change"
	if err := check(op,
		ask{"volume", volume, false},
		ask{"first pressure", p1, true}, ask{"first temperature", t1, false},
		ask{"second pressure", p2, true}, ask{"second temperature", t2, false},
		ask{"time", dt, false},
	); err != nil {
		return 0, err
	}
	return finite(op, volume/GasConstant*(p2/t2-p1/t1)/dt)
}

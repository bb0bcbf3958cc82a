package unit

// ToSI returns the figure x of a unit in SI units. The error is one of
// [UnknownUnitError] and [UnknownPrefixError].
func ToSI(x float64, unit string) (float64, error) {
	u, err := lookup(unit, unit, 0)
	if err != nil {
		return 0, err
	}
	return u.ToSI(x), nil
}

// FromSI returns the SI figure x in a unit. Errors as [ToSI].
func FromSI(x float64, unit string) (float64, error) {
	u, err := lookup(unit, unit, 0)
	if err != nil {
		return 0, err
	}
	return u.FromSI(x), nil
}

// ToSIDifference returns the difference x of two figures of a unit in SI
// units: it differs from [ToSI] for °C and °F only. Errors as [ToSI].
func ToSIDifference(x float64, unit string) (float64, error) {
	u, err := lookup(unit, unit, 0)
	if err != nil {
		return 0, err
	}
	return u.ToSIDifference(x), nil
}

// FromSIDifference returns the difference x of two SI figures in a unit.
// Errors as [ToSI].
func FromSIDifference(x float64, unit string) (float64, error) {
	u, err := lookup(unit, unit, 0)
	if err != nil {
		return 0, err
	}
	return u.FromSIDifference(x), nil
}

// Convert returns the figure x of one unit in another. Errors as [ToSI], and
// [WrongUnitError] if the two don't measure the same.
func Convert(x float64, from, to string) (float64, error) {
	f, err := lookup(from, from, 0)
	if err != nil {
		return 0, err
	}
	t, err := lookup(to, to, f.Dim)
	if err != nil {
		return 0, err
	}
	if f.Name == t.Name {
		return x, nil
	}
	return t.FromSI(f.ToSI(x)), nil
}

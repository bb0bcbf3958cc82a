package gas

import "math"

// The standard atmosphere up to 11 km.
const (
	SeaLevelPressure    = 101325.0 // Pa (ISO 2533:1975)
	SeaLevelTemperature = 288.15   // K (ISO 2533:1975)
	Gravity             = 9.80665  // m/s² (ISO 2533:1975, ISO 80000-3)

	lapseRate   = 0.0065    // K/m
	earthRadius = 6356766.0 // m, nominal, for geopotential altitude

	lowestAltitude, highestAltitude = -2000.0, 11000.0 // m, the layer of this lapse rate in ISO 2533
)

var atmosphereExponent = Gravity / (R * lapseRate) // 5.25588

// StandardTemperature returns the temperature [K] of the standard atmosphere
// at the geopotential altitude h [m]: 288.15 - 0.0065 h. It needs
// -2000 <= h <= 11000, else the error is a *[RangeError].
// Source: ISO 2533:1975.
func StandardTemperature(h float64) (float64, error) {
	if err := checkAltitude("standard temperature", h); err != nil {
		return 0, err
	}
	return SeaLevelTemperature - lapseRate*h, nil
}

// StandardPressure returns the air pressure [Pa] of the standard atmosphere at
// the geopotential altitude h [m]: 101325 (1 - 0.0065 h/288.15)^5.25588. Range
// and errors as for [StandardTemperature]. Weather moves the real pressure by
// 2 kPa either way. Source: ISO 2533:1975.
func StandardPressure(h float64) (float64, error) {
	if err := checkAltitude("standard pressure", h); err != nil {
		return 0, err
	}
	return SeaLevelPressure * math.Pow(1-lapseRate*h/SeaLevelTemperature, atmosphereExponent), nil
}

// AltitudeAt returns the geopotential altitude [m] at which the standard
// atmosphere has the pressure p [Pa]: the inverse of [StandardPressure]. The
// error is a *[RangeError] where that is outside -2000 to 11000 m.
func AltitudeAt(p float64) (float64, error) {
	const op = "altitude from pressure"
	if err := check(op, ask{"air pressure", p, false}); err != nil {
		return 0, err
	}
	h := SeaLevelTemperature / lapseRate * (1 - math.Pow(p/SeaLevelPressure, 1/atmosphereExponent))
	const slack = 1e-6 // so that the ends themselves survive rounding
	if h < lowestAltitude-slack || h > highestAltitude+slack {
		return 0, &RangeError{Op: op, Field: "air pressure", Value: p, Want: "that of an altitude between -2000 and 11000 m"}
	}
	return math.Min(math.Max(h, lowestAltitude), highestAltitude), nil
}

// Geopotential returns the geopotential altitude [m] of the geometric one z
// [m], as a tape or a map gives it: r0 z/(r0 + z). They differ by 0.5 m at
// 1,800 m. Source: ISO 2533:1975, r0 = 6356766 m.
func Geopotential(z float64) (float64, error) {
	if !(z >= 1.01*lowestAltitude && z <= 1.01*highestAltitude) {
		return 0, altitudeError("geopotential altitude", z)
	}
	return earthRadius * z / (earthRadius + z), nil
}

// Geometric returns the geometric altitude [m] of the geopotential one h [m]:
// the inverse of [Geopotential].
func Geometric(h float64) (float64, error) {
	if err := checkAltitude("geometric altitude", h); err != nil {
		return 0, err
	}
	return earthRadius * h / (earthRadius - h), nil
}

func checkAltitude(op string, h float64) error {
	if !(h >= lowestAltitude && h <= highestAltitude) {
		return altitudeError(op, h)
	}
	return nil
}

func altitudeError(op string, h float64) error {
	return &RangeError{Op: op, Field: "altitude", Value: h, Want: "between -2000 and 11000 m"}
}

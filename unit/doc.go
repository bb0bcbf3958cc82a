// Package unit reads and prints figures with units and doubt: "95 ± 6 cm³",
// "21½ inHg", "0,62 mm".
//
// The two things most callers need:
//
//	q, err := unit.Parse("95 ± 6 cm3", unit.VolumeDim) // q.Value 95e-6 m³, q.Spread 6e-6 m³
//	s := unit.Format(q.Measured, unit.VolumeDim, "cm³", 2) // "95 ± 6 cm³"
//
// Inside the program every figure is in SI units: Pa, m³/s, m, m³, K, s, rad,
// rad/s, 1. Units exist only where a person or a file speaks. A `±` is always
// the half-width of a 95 % interval.
//
// A bare figure ("62") is refused by [Parse], for it does not say what it
// means; an input field that shows a unit uses [ParseIn]. Absolute pressure
// and vacuum are types of their own ([Pressure], [Vacuum]); the text "50 kPa"
// is the same for both, the caller knows which one it asked for.
//
// How figures are read:
//
//   - A point is always the decimal point: 101.325 kPa.
//   - A comma is the decimal comma (0,62 mm), but a single comma with one to
//     three digits before it (not starting with 0) and exactly three behind
//     it ("1,234") could be one and a bit or a thousand and a bit: refused.
//   - Where point and comma both occur the last is the decimal sign, the other
//     groups thousands: 1,234.5 and 1.234,5 are the same.
//   - Two or more of one kind group thousands: 1,234,567. Groups must be
//     whole: 12,34.5 is refused.
//   - A blank, or a thin or no-break space, may group thousands before the
//     decimal sign, as ISO 80000-1 has it: 101 325 Pa.
//   - Fractions as needle gauges show them: 21½, 21 1/2, 3/8.
//   - NaN, infinity and figures beyond ±1e15 are refused.
//
// Unit symbols are case-sensitive, since mPa and MPa differ. A spelling that
// no unit has exactly (KPA, inhg, MBAR) is looked up again without regard to
// case, first among the everyday units, then among all; if more than one fits
// (MPA) it is refused. SI prefixes from nano to giga go with Pa, bar, m, s, L,
// K, Hz, rad and Torr. A slash makes a flow of any volume and time: mL/h.
//
// Factors are those of NIST SP 811 (2008), appendix B.8, from their
// definitions where these are exact.
package unit

package rig

// Film is a film of oil that closes a slot until the vacuum has drawn it
// through, then gives way. A plug that fills a slot of gap h and length L moves
// as plane flow of the length still wet, so it leaves after
//
//	t = 6 mu L²/(h² v)
//
// at a steady vacuum v, and in general when ∫ v h²/(6 mu L²) dt reaches 1, the
// pull counted. Over the next 2 % of that the leak opens smoothly. The pull of
// the oil's own surface (2 sigma/h: 30 kPa in 2 µm) and the film it leaves
// behind are left out. Source: plane Poiseuille flow, derived.
type Film struct {
	Viscosity float64 // Pa s; motor oil at 20 °C about 0.1 to 0.3, from memory
	Gap       float64 // m
	Length    float64 // m, along the flow

	// Leak is the flow in [kg/s] at the absolute pressure p that the film holds
	// back. What it does not hold back belongs in Closed.Leak.
	Leak func(p float64) float64
}

// opens is the part of its way over which the leak opens behind a film.
const opens = 0.02

// Time returns how long [s] the film holds at a steady vacuum [Pa].
func (f Film) Time(vacuum float64) float64 { return 1 / f.pace(vacuum) }

// pace returns how fast the film moves [1/s].
func (f Film) pace(vacuum float64) float64 {
	return vacuum * f.Gap * f.Gap / (6 * f.Viscosity * f.Length * f.Length)
}

// open returns which part of the leak flows once the film has moved so far.
func (f Film) open(moved float64) float64 {
	x := (moved - 1) / opens
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	}
	return x * x * (3 - 2*x)
}

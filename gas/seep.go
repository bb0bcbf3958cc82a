package gas

import "math"

// Seep is a leak that flows like viscous flow through a thin slot: the gap
// between valve and seat, where the leak goes all round. Round a seat Width is
// pi times its diameter and Length the width of the contact.
type Seep struct {
	Width  float64 // m, across the flow
	Gap    float64 // m, between the walls; of an uneven gap the cube mean
	Length float64 // m, along the flow

	// For checks against the plain laws of textbooks: leave out the slip at
	// the walls, or the inertia of the flow.
	NoSlip, NoInertia bool
}

// MassFlow returns the mass flow [kg/s] through the slot from p1 to p2 [Pa,
// absolute], with the air at t1 [K] throughout:
//
//	p1² - p2² = a mdot (1 + Re h/(12 L))
//	a = 2 mu R t1/G,  G = w h³/(12 L) (1 + 6 lambda/h),  Re = 2 mdot/(w mu)
//
// lambda the mean free path at (p1+p2)/2; and never more than the choked flow
// of an opening of w h. Slip is of first order: below about 0.3 µm in room air
// (lambda/h above 0.2) the law reads low. Errors as for [Element].
// Source: docs/model.md §1, seep; plane Poiseuille flow with first-order slip.
func (s Seep) MassFlow(p1, p2, t1 float64) (float64, error) {
	const op = "seep"
	if err := checkFlow(op, p1, p2, t1); err != nil {
		return 0, err
	}
	if err := check(op, ask{"gap", s.Gap, true}, ask{"width", s.Width, false}, ask{"length", s.Length, false}); err != nil {
		return 0, err
	}
	return finite(op, slot{s.Width, s.Length, 1, s.NoSlip, s.NoInertia}.flow(s.Gap, p1, p2, t1))
}

// SeepFor returns the slot of the given width and length [m] whose gap makes
// it draw the free-air flow [m³/s] from a room at pa [Pa], ta [K] into a vacuum
// [Pa]: the inverse of [FreeAirAt] for a seep, slip and inertia included.
// Errors are *[RangeError], also where the gap would be beyond 10 mm.
func SeepFor(flow, vacuum, pa, ta, width, length float64) (Seep, error) {
	const op = "seep from flow"
	if err := checkInverse(op, flow, vacuum, pa, ta); err != nil {
		return Seep{}, err
	}
	if err := check(op, ask{"width", width, false}, ask{"length", length, false}); err != nil {
		return Seep{}, err
	}
	h, err := slot{width: width, length: length, factor: 1}.gapFor(op, flow, vacuum, pa, ta)
	return Seep{Width: width, Gap: h, Length: length}, err
}

// Annulus is the gap between a valve's stem and its guide.
type Annulus struct {
	Stem         float64 // m, diameter
	Clearance    float64 // m, diametral: guide bore less stem
	Length       float64 // m, of the guide
	Eccentricity float64 // 0 stem in the middle .. 1 stem against the wall
}

// MassFlow returns the mass flow [kg/s] through the gap, as a [Seep] of
// w = pi Stem and h = Clearance/2 whose G is (1 + 1.5 e²) times greater.
// Errors as for [Element]; also if Eccentricity is outside [0, 1].
// Source: docs/model.md §1, annulus; the factor is the classic one of an
// eccentric thin annulus.
func (a Annulus) MassFlow(p1, p2, t1 float64) (float64, error) {
	const op = "annulus"
	if err := checkFlow(op, p1, p2, t1); err != nil {
		return 0, err
	}
	if err := check(op, ask{"clearance", a.Clearance, true}, ask{"stem diameter", a.Stem, false}, ask{"length", a.Length, false}); err != nil {
		return 0, err
	}
	if err := checkEccentricity(op, a.Eccentricity); err != nil {
		return 0, err
	}
	return finite(op, a.slot().flow(a.Clearance/2, p1, p2, t1))
}

func (a Annulus) slot() slot {
	return slot{width: math.Pi * a.Stem, length: a.Length, factor: 1 + 1.5*a.Eccentricity*a.Eccentricity}
}

func checkEccentricity(op string, e float64) error {
	if !(e >= 0 && e <= 1) {
		return &RangeError{Op: op, Field: "eccentricity", Value: e, Want: "between 0 and 1"}
	}
	return nil
}

// AnnulusFor returns the annulus whose clearance makes it draw the free-air
// flow [m³/s] from a room at pa [Pa], ta [K] into a vacuum [Pa]. Errors as for
// [SeepFor].
func AnnulusFor(flow, vacuum, pa, ta, stem, length, eccentricity float64) (Annulus, error) {
	const op = "annulus from flow"
	if err := checkInverse(op, flow, vacuum, pa, ta); err != nil {
		return Annulus{}, err
	}
	if err := check(op, ask{"stem diameter", stem, false}, ask{"length", length, false}); err != nil {
		return Annulus{}, err
	}
	if err := checkEccentricity(op, eccentricity); err != nil {
		return Annulus{}, err
	}
	a := Annulus{Stem: stem, Length: length, Eccentricity: eccentricity}
	h, err := a.slot().gapFor(op, flow, vacuum, pa, ta)
	a.Clearance = 2 * h
	return a, err
}

// slot is what Seep and Annulus share; factor multiplies G.
type slot struct {
	width, length, factor float64
	noSlip, noInertia     bool
}

// flow is the mass flow for a gap h; the arguments are in range.
func (s slot) flow(h, p1, p2, t1 float64) float64 {
	if h == 0 || p1 == p2 {
		return 0
	}
	mu := Viscosity(t1)
	g := s.width * h * h * h / (12 * s.length) * s.factor
	sum := p1 + p2
	if !s.noSlip {
		sum += 12 * MeanFreePath(1, t1) / h // sum (1 + 6 lambda/h), lambda going as 2/sum
	}
	m := g * (p1 - p2) * sum / (2 * mu * R * t1)
	if !s.noInertia {
		// m (1 + c m) = plain law, in the form that keeps its digits at small c
		c := h / (6 * s.length * s.width * mu)
		m = 2 * m / (1 + math.Sqrt(1+4*c*m))
	}
	return math.Min(m, s.width*h*p1/math.Sqrt(R*t1)*PsiMax)
}

// Range of gaps that an inverse looks in: far below a molecule to 10 mm.
const minGap, maxGap = 1e-14, 1e-2

func (s slot) gapFor(op string, flow, vacuum, pa, ta float64) (float64, error) {
	if flow == 0 {
		return 0, nil
	}
	want := FreeAirMass(flow, pa, ta)
	h, ok := sizeFor(func(h float64) float64 { return s.flow(h, pa, pa-vacuum, ta) }, want, minGap, maxGap)
	if !ok {
		return 0, &RangeError{Op: op, Field: "flow", Value: flow, Want: "what a gap of up to 10 mm can pass: the leak is no seep, or width and length are wrong"}
	}
	return h, nil
}

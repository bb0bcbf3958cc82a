package leak

import (
	"math"
	"sync"

	"seatproof/gas"
)

// The flow of a leak against the pressure ratio r = p/pa is made of four
// shapes, so that shares and edges enter the hold as plain
// coefficients (docs/model.md §4):
//
//	opening  psi(r)/psi(r50)
//	edge     opening · (Cd(r)/Cd(r50) - 1)        zero at 50 kPa
//	seep     (1-r²)/(1-r50²)
//	slip     (1-r)/(1-r50) - seep                 zero at 50 kPa
//
// each as free-air flow, 1 (or 0) at a vacuum of 50 kPa. Inertia bends the seep:
// its drive D (seep and slip, 1 at 50 kPa) gives a flow m with
//
//	m + i m² = (1 + i) D,  i = Re h/(12 L) at 50 kPa
//
// and the force on the valve closes its gap, so that what the seat itself passes
// goes as (F/F50)^-3n, F the force at the vacuum there (docs/model.md §1).
type flowTable [tableSize + 1][4]float64

const tableSize = 4096

// flowShapes is the table of psi/psi*, psi/psi*·Cd, 1-r² and 1-r on an even
// grid of r in [0, 1]; it depends on nothing and is made once.
var flowShapes = sync.OnceValue(func() *flowTable {
	t := new(flowTable)
	for i := range t {
		r := float64(i) / tableSize
		psi := gas.Psi(r) / gas.PsiMax
		t[i] = [4]float64{psi, psi * gas.SharpEdgeCd(r), 1 - r*r, 1 - r}
	}
	return t
})

// law is the flow of a leak over the volume [1/s] against p/pa at one air
// pressure.
type law struct {
	table            *flowTable
	psi50, cd50      float64    // psi/psi* and Cd at r50
	seep50, linear50 float64    // 1-r50², 1-r50
	c                [4]float64 // coefficients of the table's columns
	seep             float64    // the seep at 50 kPa
	inertia          float64    // its inertia number there
	load             float64    // 3n: by which power of the valve's force it goes
	force, lift      float64    // F/F50 = force - lift r
}

// newLaw returns the law for the air pressure pa [Pa], without a leak. What
// presses the valve beside the vacuum is given as the vacuum [Pa] that would
// press it as hard.
func newLaw(pa, preload float64) law {
	r50 := (pa - gas.StatedVacuum) / pa
	return law{
		table:    flowShapes(),
		psi50:    gas.Psi(r50) / gas.PsiMax,
		cd50:     gas.SharpEdgeCd(r50),
		seep50:   1 - r50*r50,
		linear50: 1 - r50,
		force:    (pa + preload) / (gas.StatedVacuum + preload),
		lift:     pa / (gas.StatedVacuum + preload),
	}
}

// setShapes sets the leak.
func (l *law) setShapes(k shapes) {
	l.c = [4]float64{
		(k[0] - k[1]) / l.psi50,
		k[1] / (l.psi50 * l.cd50),
		(k[2] - k[3]) / l.seep50,
		k[3] / l.linear50,
	}
	l.seep, l.inertia, l.load = k[2], 0, 0
	if k[2] > 0 && k[4] > 0 {
		l.inertia = k[4] / k[2]
	}
	if k[2] > 0 {
		l.load = 3 * k[5] / k[2]
	}
}

// loaded returns (F/F50)^-load at the pressure ratio r: near 1 under a spring,
// where the first terms of its series do.
func (l *law) loaded(r float64) float64 {
	u := l.force - l.lift*r - 1
	if math.Abs(u) < 0.15 {
		x := l.load * u * (1 - u*(0.5-u*(1.0/3-u/4)))
		if math.Abs(x) < 0.3 {
			return 1 - x*(1-x*(0.5-x*(1.0/6-x/24)))
		}
		return math.Exp(-x)
	}
	return math.Exp(-l.load * math.Log(math.Max(1+u, leastForce)))
}

// leastForce is the least force on a valve, of that at 50 kPa: it lies on its
// seat by its own weight.
const leastForce = 0.01

// flow returns the flow at the pressure ratio r.
func (l *law) flow(r float64) float64 {
	if !(r < 1) { // also where a wild step of the search made it no number
		return 0
	}
	if r < 0 {
		r = 0
	}
	u := r * tableSize
	i := int(u)
	w := u - float64(i)
	a, b := &l.table[i], &l.table[i+1]
	d := l.c[2]*(a[2]+w*(b[2]-a[2])) + l.c[3]*(a[3]+w*(b[3]-a[3]))
	if e := l.inertia; e > 1e-9 {
		x := 4 * e * (1 + e) * d / l.seep
		d = l.seep * 2 * (1 + e) * d / l.seep / (1 + math.Sqrt(1+x))
	}
	if l.load != 0 {
		d *= l.loaded(r)
	}
	return l.c[0]*(a[0]+w*(b[0]-a[0])) + l.c[1]*(a[1]+w*(b[1]-a[1])) + d
}

// slipWeight returns the weight of the slip shape for a gap h [m] in air of pa
// [Pa] and ta [K]: a slot's flow goes as (1-r²) + kappa·2(1-r), kappa = 6
// lambda(pa)/h, which is normalised to 1 at 50 kPa.
func slipWeight(h, pa, ta float64) float64 {
	kappa := 6 * gas.MeanFreePath(pa, ta) / h
	r50 := (pa - gas.StatedVacuum) / pa
	return 2 * kappa / (1 + r50 + 2*kappa)
}

// besselZeros are the first zeros of J0; conduction in a cylinder cools in
// modes of weight 4/j² and rate j²/8 over tau (equal mean time).
var besselZeros = [...]float64{2.404825557695773, 5.520078110286311, 8.653727912911013}

const modes = 1 + len(besselZeros)

// wallModes returns weight and rate of each mode of the wall's heat: one
// exponential (film) of weight 1-mix and the conduction series of weight mix.
func wallModes(mix float64) (weight, rate [modes]float64) {
	weight[0], rate[0] = 1-mix, 1
	for k, j := range besselZeros {
		weight[k+1] = mix * 4 / (j * j)
		rate[k+1] = j * j / 8
	}
	return weight, rate
}

// thermal is the state of the gas in the volume: its mass over that of the
// same volume of room air, and how far each mode of its temperature is from
// the wall's, over the room's temperature.
type thermal struct {
	mass  float64
	delta [modes]float64
}

// holdModel is the closed volume after shut-off.
type holdModel struct {
	law          law
	wall         float64 // Tw/Ta
	tau          float64 // s, at room density
	weight, rate [modes]float64
}

func (m *holdModel) temperature(s *thermal) float64 {
	t := m.wall
	for k := range s.delta {
		t += m.weight[k] * s.delta[k]
	}
	return t
}

// fastestFlow bounds the flow over the volume [1/s]: no gauge sees such a fall,
// and a wild step of the search must end.
const fastestFlow = 200

// run integrates the hold from state s at time from and writes the pressure
// over the room's, p/pa, at the times (rising, after from) into out, with its
// slope [1/s] into slope when that is not nil. The law's flows are over the
// volume, 1/s.
//
// The mass is carried by the trapezium rule and the modes exactly for a source
// that is linear over a step (an exponential integrator), so that a step may
// be long against tau once the gas has settled.
func (m *holdModel) run(s thermal, from float64, times, out, slope []float64) {
	t := from
	theta := m.temperature(&s)
	x := s.mass * theta
	f := m.law.flow(x)
	for i, to := range times {
		for t < to {
			h := to - t
			f = math.Min(f, fastestFlow)
			// a step moves the pressure by 2.5 % of the room's at most
			if lim := 0.025 / (f*1.4 + 1e-12); h > lim {
				h /= math.Ceil(h / lim)
			}
			// and is short against tau while the gas is unsettled
			if off := math.Abs(theta - m.wall); off > 2e-4 {
				if lim := m.tau * s.mass * 0.02 / off; h > lim && lim > 0 {
					h /= math.Min(math.Ceil(h/lim), 16)
				}
			}
			massP := s.mass + h*f
			z := h / m.tau * 2 / (s.mass + massP)
			src0 := (gas.Gamma - theta) * m.tau * f
			var decay, phi [modes]float64
			thetaP := m.wall
			for k := range decay {
				if m.weight[k] == 0 {
					continue
				}
				decay[k] = math.Exp(-m.rate[k] * z)
				phi[k] = (1 - decay[k]) / m.rate[k]
				thetaP += m.weight[k] * (s.delta[k]*decay[k] + src0*phi[k])
			}
			fP := m.law.flow(massP * thetaP)
			s.mass += h * (f + fP) / 2
			src1 := (gas.Gamma - thetaP) * m.tau * fP
			theta = m.wall
			for k := range decay {
				if m.weight[k] == 0 {
					continue
				}
				s.delta[k] = s.delta[k]*decay[k] + src0*phi[k] + (src1-src0)*(1-phi[k]/z)/m.rate[k]
				theta += m.weight[k] * s.delta[k]
			}
			x = s.mass * theta
			f = m.law.flow(x)
			t += h
			if to-t < 1e-12 {
				t = to
			}
		}
		out[i] = x
		if slope != nil {
			slope[i] = m.slope(&s, theta, f)
		}
	}
}

// slope returns d(p/pa)/dt [1/s].
func (m *holdModel) slope(s *thermal, theta, f float64) float64 {
	d := f * theta
	for k := range s.delta {
		d += m.weight[k] * ((gas.Gamma-theta)*f - m.rate[k]*s.delta[k]/m.tau)
	}
	return d
}

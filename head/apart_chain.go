package head

import (
	"math"
	"math/rand/v2"
)

// chain is a walk through the posterior of an [apartSystem].
type chain struct {
	s      *apartSystem
	x, y   []float64 // m³/s, all above zero; y is tried
	open   [][]int   // of each test, which openings were
	beta   float64   // of the added common error, in its sd
	node   int       // of sigma_b
	big    float64   // m³/s, the largest any opening may have
	none   float64   // m³/s, what counts as nothing
	chance *rand.Rand
}

// Exponents a of the prior, by opening: seats and guides leak as they may, while
// what is left when all are sealed off is most often next to nothing. Chosen by
// how often intervals hold the truth, see TestApartHoldsTheTruth.
const seatExponent, restExponent = 0.7, 0.3

func (c *chain) begin() {
	for _, t := range c.s.tests {
		c.big = math.Max(c.big, t.e.Mean+3*t.e.Own+3*t.e.Added)
	}
	c.big *= 20 // six times sigma_b = 0.5
	c.none = 1e-8 * c.big
	for i := range c.x {
		c.x[i] = math.Max(c.x[i], 1e-4*c.big)
	}
	c.y = make([]float64, len(c.x))
	c.open = make([][]int, len(c.s.tests))
	for i, t := range c.s.tests {
		for j, r := range t.row {
			if r > 0 {
				c.open[i] = append(c.open[i], j)
			}
		}
	}
}

// density is the log of prior and likelihood, up to a constant.
func (c *chain) density(x []float64, beta float64) float64 {
	sum, a, d := 0.0, 0.0, -beta*beta/2
	for i, q := range x {
		sum += q
		e := seatExponent
		if i == c.s.rest {
			e = restExponent
		}
		a += e
		if e != 1 {
			d += (e - 1) * math.Log(q+c.none)
		}
	}
	d -= a * math.Log(sum)
	sigma := c.s.sigma[c.node]
	for i := range c.s.tests {
		flow := c.none
		for _, j := range c.open[i] {
			flow += x[j]
		}
		d += likelihood(&c.s.tests[i].e, flow, sigma, beta)
	}
	return d
}

// step moves every unknown once: each by itself, between pairs of them with their
// sum kept, and all together by one factor.
func (c *chain) step() {
	n := len(c.x)
	for i := range n {
		c.times(1, func(y []float64, f float64) { y[i] *= f })
	}
	for range n {
		i, k := c.chance.IntN(n), c.chance.IntN(n)
		if i == k {
			continue
		}
		y := c.y
		c.slice(-c.x[i], c.x[k], func(d float64) float64 {
			copy(y, c.x)
			y[i], y[k] = math.Max(c.none, y[i]+d), math.Max(c.none, y[k]-d)
			return c.density(y, c.beta)
		}, func(float64) { copy(c.x, y) })
	}
	c.times(float64(n), func(y []float64, f float64) {
		for i := range y {
			y[i] *= f
		}
	})
	c.slice(-6-c.beta, 6-c.beta,
		func(d float64) float64 { return c.density(c.x, c.beta+d) },
		func(d float64) { c.beta += d })
	c.spread()
}

// times multiplies some of x, n of them, by a factor: a step in the logarithm,
// whose measure adds n of it.
func (c *chain) times(n float64, by func(y []float64, f float64)) {
	lo := -4.6 * c.chance.Float64() // placed by chance, or steps back were less likely
	y := c.y
	c.slice(lo, lo+4.6, func(d float64) float64 {
		copy(y, c.x)
		by(y, math.Exp(d))
		for i := range y {
			if y[i] < c.none || y[i] > c.big {
				return math.Inf(-1)
			}
		}
		return c.density(y, c.beta) + n*d
	}, func(float64) { copy(c.x, y) })
}

// slice moves by some d from lo to hi, which hold 0: any whose density is above a
// level drawn below that of here, as likely as any other; what is tried and found
// below narrows the way. take is called with the last that density saw.
func (c *chain) slice(lo, hi float64, density func(d float64) float64, take func(d float64)) {
	level := density(0) - c.chance.ExpFloat64()
	for range 100 {
		d := lo + (hi-lo)*c.chance.Float64()
		if density(d) >= level {
			take(d)
			return
		}
		if d < 0 {
			lo = d
		} else {
			hi = d
		}
	}
}

// spread moves sigma_b by up to three nodes.
func (c *chain) spread() {
	was := c.node
	to := was + c.chance.IntN(7) - 3
	if to < 0 || to >= len(c.s.sigma) || to == was || c.s.prior[to] == 0 {
		return
	}
	at := c.density(c.x, c.beta)
	c.node = to
	if math.Log(c.chance.Float64()) > c.density(c.x, c.beta)-at+math.Log(c.s.prior[to]/c.s.prior[was]) {
		c.node = was
	}
}

package head

import (
	"math"
	"math/rand/v2"
	"slices"
)

// chain is a walk through the posterior of an [apartSystem].
type chain struct {
	s      *apartSystem
	x, y   []float64 // m³/s, all above zero; y is tried
	rows   []chainRow
	beta0  float64 // that the rows are prepared for, and the node; -1: none
	node0  int
	beta   float64              // of the added common error, in its sd
	node   int                  // of sigma_b
	steps  [][gridSteps]float64 // of each node, [spreadBy]
	big    float64              // m³/s, the largest any opening may have
	none   float64              // m³/s, what counts as nothing
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
	c.steps = make([][gridSteps]float64, len(c.s.sigma))
	for i, sigma := range c.s.sigma {
		c.steps[i] = *spreadBy(sigma)
	}
	c.node0 = -1
	for i, t := range c.s.tests {
		at := slices.IndexFunc(c.rows, func(r chainRow) bool { return slices.Equal(c.s.tests[r.tests[0]].row, t.row) })
		if at < 0 {
			at = len(c.rows)
			row := chainRow{}
			for j, r := range t.row {
				if r > 0 {
					row.open = append(row.open, j)
				}
			}
			c.rows = append(c.rows, row)
		}
		c.rows[at].tests = append(c.rows[at].tests, i)
	}
}

// chainRow is the tests that left the same openings open. Those that are lognormal
// are one: base - half (ln flow - mean)²; the others are gone through each time.
type chainRow struct {
	open, tests      []int
	small            []int
	base, half, mean float64
}

// prepare sums the lognormal tests of each row for an added common error and the
// node of sigma_b.
func (c *chain) prepare(beta float64) {
	if c.node0 == c.node && c.beta0 == beta {
		return
	}
	c.node0, c.beta0 = c.node, beta
	sigma := c.s.sigma[c.node]
	for r := range c.rows {
		row := &c.rows[r]
		row.small, row.base, row.half = row.small[:0], 0, 0
		var wy, wyy float64
		for _, i := range row.tests {
			e := &c.s.tests[i].e
			own, read, plain := e.Own, e.Mean-beta*e.Added, false
			if read > 0 {
				own /= read
				plain = own < smallOwn
			}
			if !plain {
				row.small = append(row.small, i)
				continue
			}
			u2 := sigma*sigma + own*own
			w, y := 1/(2*u2), math.Log(read)
			row.half += w
			wy, wyy = wy+w*y, wyy+w*y*y
			row.base -= math.Log(read/e.Own) + math.Log(u2)/2
		}
		if row.half > 0 {
			row.mean = wy / row.half
			row.base -= wyy - wy*row.mean
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
	c.prepare(beta)
	for r := range c.rows {
		row := &c.rows[r]
		flow := c.none
		for _, j := range row.open {
			flow += x[j]
		}
		d += row.base
		if row.half > 0 {
			z := math.Log(flow) - row.mean
			d -= row.half * z * z
		}
		for _, i := range row.small {
			d += likelihood(&c.s.tests[i].e, flow, c.s.sigma[c.node], beta, &c.steps[c.node])
		}
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

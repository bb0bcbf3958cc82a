package head

import (
	"math"

	"seatproof/leak"
)

// smallOwn is the part of a leak below which its own error makes it lognormal as a
// whole; as in package leak.
const smallOwn = 0.25

// likelihood returns the log of how likely what was read is where the openings
// pass flow [m³/s] as read: the true flow of a test lognormal about it with
// sigma, the test's own error normal, the added common one beta of its sd. A leak
// whose own error is a small part of it is lognormal as a whole; of a small leak
// the true flow is integrated out on a grid, whose steps multiply a flow by what
// [spreadBy] says of sigma: a chain asks for it thousands of times.
func likelihood(e *leak.Errors, flow, sigma, beta float64, by *[gridSteps]float64) float64 {
	read := e.Mean - beta*e.Added
	if own := e.Own / read; read > 0 && own < smallOwn {
		u2 := sigma*sigma + own*own
		z := math.Log(read / flow)
		return -z*z/(2*u2) - math.Log(read/e.Own) - math.Log(u2)/2
	}
	sum := 0.0
	for i := range apartGrid {
		d := (read - flow*by[i]) / e.Own
		if d*d < 1500 { // else nothing, to the last bit
			sum += apartGrid[i].w * math.Exp(-d*d/2)
		}
	}
	return math.Log(sum + 1e-300)
}

// spreadBy is what the steps of the grid multiply a flow by.
func spreadBy(sigma float64) *[gridSteps]float64 {
	var by [gridSteps]float64
	for i := range by {
		by[i] = math.Exp(sigma * apartGrid[i].z)
	}
	return &by
}

const gridSteps = 15

// apartGrid parts a standard normal evenly from -3.5 to 3.5.
var apartGrid = func() (g [gridSteps]struct{ z, w float64 }) {
	sum := 0.0
	for i := range g {
		g[i].z = float64(i-gridSteps/2) / 2
		g[i].w = math.Exp(-g[i].z * g[i].z / 2)
		sum += g[i].w
	}
	for i := range g {
		g[i].w /= sum
	}
	return g
}()

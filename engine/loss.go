package engine

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Loss is what leaks cost a cylinder, cranking, at idle and at top speed.
type Loss struct{ Cranking, Idle, Top RunLoss }

// RunLoss is the loss in one run: of the peak [Pa] while cranking, of the
// indicated work [J] from intake closing to exhaust opening at idle and top speed.
type RunLoss struct {
	Without, With Estimate // without and with the leaks
	Trapped       Estimate // kg at top dead centre, with the leaks
	TrappedShare  Estimate // of the trapped mass lost, 0..1
	Share         Estimate // lost, 0..1
}

// Estimate is a figure with its 95 % interval.
type Estimate struct{ Median, Low, High float64 }

// leastPoints is how many points of the engine's design are solved at least.
const leastPoints = 96

// Loss returns what leaks cost, per equally likely draw of each valve's leak, the
// engine's own doubt included. Draw n of one valve goes with draw n of the others;
// every valve needs the same number. The engine runs in its own room, else in that of
// the first leak's test.
//
// Draws are paired with a Latin hypercube over the engine's figures, fixed by its
// seed: the same input gives the same answer. Few draws are used in turn until 96
// cylinders are solved, with and without; of more than 400, 400 spread evenly.
//
// Errors: *[Fault], *[NotSolved].
func (g Given) Loss(valves ...[]Leak) (Loss, error) {
	var out Loss
	for k, to := range []*RunLoss{&out.Cranking, &out.Idle, &out.Top} {
		var err error
		if *to, err = g.runLoss(kind(k), valves); err != nil {
			return Loss{}, err
		}
	}
	return out, nil
}

// CrankingLoss is [Given.Loss] of the starter's run alone.
func (g Given) CrankingLoss(valves ...[]Leak) (RunLoss, error) { return g.runLoss(cranking, valves) }

// IdleLoss is [Given.Loss] of idle alone.
func (g Given) IdleLoss(valves ...[]Leak) (RunLoss, error) { return g.runLoss(idle, valves) }

// TopLoss is [Given.Loss] of top speed alone.
func (g Given) TopLoss(valves ...[]Leak) (RunLoss, error) { return g.runLoss(top, valves) }

// runLoss returns what leaks cost in one run.
func (g Given) runLoss(k kind, valves [][]Leak) (RunLoss, error) {
	var out RunLoss
	if err := g.check(); err != nil {
		return out, err
	}
	if len(valves) == 0 || len(valves[0]) == 0 {
		return out, &Fault{Field: "leak", Shown: "(none)", Want: "be given", Do: "test a valve first; a tight one is a leak of 0"}
	}
	draws := len(valves[0])
	for _, v := range valves {
		if len(v) != draws {
			return out, fault("draws of a valve", float64(len(v)), "", 1, "be as many as of the others, "+figure(float64(draws)), "take the same number from each posterior")
		}
	}
	n := min(max(draws, leastPoints), 400)
	design := hypercube(n)
	leaks := make([]Leak, len(valves))
	without, with, trapped, share, massShare := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		j := i % draws
		if draws > n {
			j = i * draws / n
		}
		for v := range valves {
			leaks[v] = valves[v][j]
		}
		pa, ta := leaks[0].Room, leaks[0].Temp
		if g.Room > 0 {
			pa = g.Room
		}
		if g.Temp > 0 {
			ta = g.Temp
		}
		c, speed := g.at(design[i], k)
		r := k.run(speed, pa, ta)
		a, err := c.solve(r, nil, limitTolerance, k != cranking)
		if err != nil {
			return out, err
		}
		b, err := c.solve(r, leaks, limitTolerance, k != cranking)
		if err != nil {
			return out, err
		}
		without[i], with[i] = a.Work, b.Work
		if k == cranking {
			without[i], with[i] = a.Peak, b.Peak
		}
		trapped[i], massShare[i] = b.Trapped, 1-b.Trapped/a.Trapped
		share[i] = 1 - with[i]/without[i]
	}
	return RunLoss{Without: estimate(without), With: estimate(with), Trapped: estimate(trapped), TrappedShare: estimate(massShare), Share: estimate(share)}, nil
}

// estimate sorts v and takes its quantiles.
func estimate(v []float64) Estimate {
	slices.Sort(v)
	at := func(p float64) float64 {
		u := p * float64(len(v)-1)
		i := min(int(u), len(v)-2)
		return v[i] + (u-float64(i))*(v[i+1]-v[i])
	}
	return Estimate{Median: at(0.5), Low: at(0.025), High: at(0.975)}
}

// hypercube returns n points, normal in each figure, stratified and shuffled by a
// fixed seed.
func hypercube(n int) []point {
	rnd := rand.New(rand.NewPCG(7, 1968))
	out := make([]point, n)
	for f := range doubts {
		for i, j := range rnd.Perm(n) {
			out[i][f] = math.Sqrt2 * math.Erfinv(2*(float64(j)+0.5)/float64(n)-1)
		}
	}
	return out
}

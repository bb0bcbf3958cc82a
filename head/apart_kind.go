package head

import (
	"math"
	"slices"
)

// apartTold is a set of openings whose leak together tells how it flows.
type apartTold struct {
	row   []float64 // as of [apartTest]
	share float64   // the opening's
}

// shareOf returns the least share of an opening with which an unknown can flow
// where the openings are x. Of all that flows as through a slot, which is (1-s) Q
// of a told set that passes Q, it has all at most:
//
//	share >= 1 - (1-s) Q/x,  and no less than 0
//
// so that the valve that makes the leak flows as the leak does, and a small one
// beside it is taken as a seep.
func (s *apartSystem) shareOf(i int, x []float64) float64 {
	share := 0.0
	for _, t := range s.told {
		if t.row[i] > 0 && x[i] > 0 {
			share = math.Max(share, 1-(1-t.share)*dotted(t.row, x)/x[i])
		}
	}
	return share
}

// apartLimit is the strictest limit of a valve, the median of a lognormal, at even
// steps of the opening's share from 0 to 1.
type apartLimit struct{ flow, doubt [shareSteps + 1]float64 }

// apartLimit returns that of a valve; where nothing tells how the port leaks only
// that of a seep is worked out, and stands for all.
func (j *Job) apartLimit(id string, s *apartSystem) (l apartLimit) {
	rules := j.rulesOf([]string{id}, s.room, s.temp)
	if len(rules[0]) == 0 {
		return l
	}
	for i := range l.flow {
		if i > 0 && len(s.told) == 0 {
			l.flow[i], l.doubt[i] = l.flow[0], l.doubt[0]
			continue
		}
		l.flow[i], l.doubt[i] = leastOf(rules[0], float64(i)/shareSteps)
	}
	return l
}

// at returns the limit at a share, straight between the steps in its logarithm.
func (l *apartLimit) at(share float64) (flow, doubt float64) {
	x := shareSteps * math.Min(1, math.Max(0, share))
	i := min(int(x), shareSteps-1)
	x -= float64(i)
	return l.flow[i] * math.Pow(l.flow[i+1]/l.flow[i], x), l.doubt[i] + x*(l.doubt[i+1]-l.doubt[i])
}

// leastApart is the least limit of several valves, with the doubt of the one that
// has it.
func leastApart(of []apartLimit) (l apartLimit) {
	for i := range l.flow {
		l.flow[i] = math.Inf(1)
		for k := range of {
			if q := of[k].flow[i]; q > 0 && q < l.flow[i] {
				l.flow[i], l.doubt[i] = q, of[k].doubt[i]
			}
		}
	}
	return l
}

// usualLimit is a valve's limit in the middle of the draws.
func (a *Apart) usualLimit(i int, l *apartLimit) float64 {
	if len(a.system.told) == 0 || len(a.draws) == 0 || !(l.flow[0] > 0) {
		return l.flow[0]
	}
	shares := make([]float64, len(a.draws))
	for d := range a.draws {
		shares[d] = a.system.shareOf(i, a.draws[d].x)
	}
	slices.Sort(shares)
	flow, _ := l.at(shares[len(shares)/2])
	return flow
}

package head

import (
	"math"
	"testing"
)

// TestStrictWhereThereIsNoSeat: what comes by no seat is judged as strictly as the
// seats, and the doubt of the limit it is held against counts.
func TestStrictWhereThereIsNoSeat(t *testing.T) {
	a := &Apart{Rest: &OpeningLeak{Over: 0.96}}
	if !a.restLeaks() {
		t.Error("a chance of 96 % does not condemn")
	}
	a.strict = true
	if a.restLeaks() {
		t.Error("strict, a chance of 96 % condemns")
	}
	a.Rest.Over = 0.04
	if w := (&portWork{valves: map[string]Standing{"v1": Holds}, masked: []*group{{}}, apart: a}); portStanding(w) != CantTellYet {
		t.Error("strict, a port holds with 4 % that what is left does not")
	}
	var x, y apartLimit
	for i := range x.flow {
		x.flow[i], x.doubt[i], y.flow[i], y.doubt[i] = 3, 0.3, 4, 0.1
	}
	if l := leastApart([]apartLimit{y, x}); l.flow[0] != 3 || math.Abs(l.doubt[0]-0.3) > 1e-12 {
		t.Errorf("the least limit is %g, its doubt %g", l.flow[0], l.doubt[0])
	}
}

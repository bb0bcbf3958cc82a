package session

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"seatproof/leak"
	"seatproof/limit"
)

// What ends a hold goes by how the leak flows where the trace tells it, as the
// job's card does: of two valves that may pass 10 cm³/min each as a seep and 150 as
// an opening, 12 as an opening are decided, and otherwise not. Half and half is
// 1/(0.5/150 + 0.5/10) = 18.75 for one, 37.5 for both.
func TestEnoughByKind(t *testing.T) {
	const cm3min = 1e-6 / 60
	v := limit.Valve{{Kind: limit.ByCost, Opening: 150 * cm3min, Seep: 10 * cm3min}}
	l := Look{Limit: 10 * cm3min, All: 20 * cm3min, Limits: limit.Port{v, v}}
	for _, c := range []struct {
		kind     leak.Kind
		share    float64
		one, all float64 // cm³/min
		want     Reason
	}{
		{leak.KindUnresolved, 0.95, 10, 20, ""},
		{leak.KindOpening, 1, 150, 300, Decided},
		{leak.KindSeep, 0, 10, 20, ""},
		{leak.KindMixed, 0.5, 18.75, 37.5, ""},
	} {
		r := &leak.Reading{Kind: c.kind, Share: &leak.Interval{Median: c.share, Low: c.share, High: c.share}}
		const q = 12 * cm3min
		r.Leak = &leak.Interval{Median: q, Low: 0.8 * q, High: 1.2 * q}
		r.TestedAgain = &leak.Interval{Median: q, Low: 0.5 * q, High: 2 * q}
		for i := range 100 {
			z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/100-1)
			r.Draws = append(r.Draws, leak.Draw{Flow: q * math.Exp(0.07*z), Share: c.share})
		}
		one, all := l.limitsFor(r)
		if math.Abs(one/cm3min-c.one) > 1e-3 || math.Abs(all/cm3min-c.all) > 1e-3 {
			t.Errorf("%s: limits %.4f and %.4f cm³/min, want %g and %g", c.kind, one/cm3min, all/cm3min, c.one, c.all)
		}
		if got, _ := Enough([]Estimate{EstimateOf(r, one, 5)}, false, 30); got != c.want {
			t.Errorf("%s: %q, want %q", c.kind, got, c.want)
		}
		bare := Look{Limit: l.Limit, All: l.All} // a plan without them
		if one, all := bare.limitsFor(r); one != l.Limit || all != l.All {
			t.Errorf("%s: a plan of two figures goes by %g and %g", c.kind, one, all)
		}
	}
	// A plan is kept in the journal and comes back with them.
	var back Port
	text, err := json.Marshal(Port{ID: "p1", Limit: l.Limit, Limits: l.Limits})
	if err == nil {
		err = json.Unmarshal(text, &back)
	}
	if err != nil || !reflect.DeepEqual(back.Limits, l.Limits) {
		t.Errorf("kept %s: %v", text, err)
	}
}

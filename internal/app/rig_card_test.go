package app

import (
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/unit"
)

// TestCardRefusesByFlag: what can't be of the engine is named by the flag that
// said it.
func TestCardRefusesByFlag(t *testing.T) {
	for _, c := range []struct {
		valve, ratio float64
		want         string
	}{{19e-3, 11, ""}, {60e-3, 11, "--valves"}, {19e-3, 100, "--ratio"}, {19e-3, 0, ""}} {
		ask := check.CardJob{Ports: []check.CardPort{{Name: "Port", Valves: []float64{c.valve}}}}
		ask.Engine.Bore = unit.Exactly(39e-3)
		if c.ratio > 0 {
			ask.Engine.Ratio = unit.Exactly(c.ratio)
		}
		err := (&RigCardJob{Ratio: "as typed"}).fits(ask)
		if (err == nil) != (c.want == "") || err != nil && !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

package check

import (
	"math"
	"strings"
	"testing"

	"seatproof/limit"
	"seatproof/unit"
)

// TestChooseTakesTheStricter: a large cylinder's ports are limited by workmanship,
// a small one's by what it can spare, shared among its valves by diameter; a typed
// limit stands whatever the engine.
func TestChooseTakesTheStricter(t *testing.T) {
	parts := func(bore float64, heads ...float64) Parts {
		p := plainParts()
		p.Ports = []PortPart{{Name: "intake port", Heads: heads[:1]}, {Name: "exhaust port", Heads: heads[1:]}}
		p.Engine = Engine{}
		p.Engine.Bore, p.Engine.Stroke, p.Engine.Ratio = unit.Exactly(bore), unit.Exactly(bore), unit.Exactly(9.5)
		return p
	}
	for _, c := range []struct {
		bore, intake, exhaust float64
		by                    limit.Kind
	}{{86e-3, 34e-3, 29e-3, limit.ByWorkmanship}, {72e-3, 27e-3, 23e-3, limit.ByWorkmanship}, {39e-3, 19e-3, 17e-3, limit.ByCost}} {
		choice, err := Choose(parts(c.bore, c.intake, c.exhaust))
		if err != nil {
			t.Fatal(err)
		}
		all := 0.0
		for _, p := range choice.Parts.Ports {
			by, ok := p.LimitedBy()
			if !ok || by.Kind != c.by || len(p.Rules) != 2 || math.Abs(p.Limit/math.Min(p.Rules[0].Seep, p.Rules[1].Seep)-1) > 1e-12 {
				t.Errorf("bore %g mm, %s: limit %.3g by %q of %+v, want %q", c.bore*1e3, p.Name, p.Limit*6e7, by.Kind, p.Rules, c.by)
			}
			all += p.Rules[1].Seep
		}
		if whole := choice.Parts.Ports[0].Rules[1].All; math.Abs(all/whole-1) > 1e-9 {
			t.Errorf("the valves' parts make %.4g of %.4g", all, whole)
		}
		said := ""
		for _, g := range choice.Guessed {
			said += g.Text + "\n"
		}
		if !strings.Contains(said, "of the engine, for the cost limit: connecting rod, intake closing, cranking speed") {
			t.Errorf("guessed:\n%s", said)
		}
	}
	typed := parts(30e-3, 15e-3, 13e-3)
	typed.Ports[0].Limit = 5e-7
	choice, err := Choose(typed)
	if err != nil {
		t.Fatal(err)
	}
	if p := choice.Parts.Ports[0]; p.Limit != 5e-7 || len(p.Rules) != 0 {
		t.Errorf("a typed limit became %+v", p)
	}
	bad := parts(72e-3, 27e-3, 23e-3)
	bad.Engine.Rod = unit.Exactly(30e-3)
	if _, err := Choose(bad); err == nil || !strings.Contains(err.Error(), "connecting rod 30 mm must be longer") {
		t.Errorf("a rod too short: %v", err)
	}
}

package report

import (
	"testing"

	"seatproof/crosscheck"
)

// Small shares stand in one table by one rule.
func TestSmallShares(t *testing.T) {
	for _, c := range []struct {
		i             crosscheck.Interval
		figure, scope string
		cost          string
	}{
		{crosscheck.Interval{Median: 0.00015, Low: 0.00005, High: 0.0004}, "under 0.1 %", "", "under 0.1 % lost"},
		{crosscheck.Interval{Median: 0.0004, Low: 0.00005, High: 0.0024}, "under 0.1 %", "up to 0.24", "under 0.1 % lost (up to 0.24)"},
		{crosscheck.Interval{Median: 0.003, Low: 0.0004, High: 0.0062}, "0.30 %", "under 0.1 to 0.62", "0.30 % lost (under 0.1 to 0.62)"},
		{crosscheck.Interval{Median: 0.14, Low: 0.1, High: 0.2}, "14 %", "10 to 20", "14 % lost (10 to 20)"},
	} {
		if f := PercentFigure(c.i); f.Figure != c.figure || f.Range != c.scope {
			t.Errorf("%v: %+v, want %q (%q)", c.i, f, c.figure, c.scope)
		}
		if got := CostWords(c.i); got != c.cost {
			t.Errorf("%v: %q, want %q", c.i, got, c.cost)
		}
	}
}

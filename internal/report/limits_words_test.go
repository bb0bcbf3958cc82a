package report

import (
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/limit"
)

// What a limit costs is straight in the leak only while it is small: past 5 % no
// figure is given.
func TestLimitMeansOnlyWhatIsStraight(t *testing.T) {
	x := head.PortLimit{}
	x.Kind, x.One, x.CostSeep, x.CostOpening = limit.ByMaker, 500e-6/60, 0.83, 0.031
	words := strings.Join(Style{Unit: KPa}.meansOf(&x), "; ")
	for _, want := range []string{"more than 5.0\u00a0% of cranking pressure as a seep", "3.1\u00a0% as an opening"} {
		if !strings.Contains(words, want) {
			t.Errorf("%q lacks %q", words, want)
		}
	}
}

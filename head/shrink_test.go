package head

import (
	"os"
	"regexp"
	"testing"

	"seatproof/leak"
)

// Every input of leak's budget has a step that shrinks it, and no other.
func TestEveryInputHasAStep(t *testing.T) {
	b, err := os.ReadFile("../leak/known.go")
	if err != nil {
		t.Fatal(err)
	}
	inputs := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\s+input\w+\s+=\s+"([^"]+)"`).FindAllStringSubmatch(string(b), -1) {
		inputs[m[1]] = true
	}
	if len(inputs) < 8 {
		t.Fatalf("%d inputs found in leak: the test looks in the wrong place", len(inputs))
	}
	for in := range inputs {
		if s, ok := StepFor(in); !ok || s.Do == "" || s.Reason == "" {
			t.Errorf("input %q: no step and reason", in)
		}
	}
	for in := range steps {
		if !inputs[in] {
			t.Errorf("step for %q, which leak never names", in)
		}
	}
}

// Where this trace's own interval is most of the doubt, the step goes by its
// largest input; where the scatter from test to test is, by one more test.
func TestShrink(t *testing.T) {
	for _, c := range []struct {
		trace, again leak.Interval
		want         string
	}{
		{leak.Interval{Median: 10, Low: 6, High: 17}, leak.Interval{Median: 10, Low: 5, High: 20}, "measure the volume"},
		{leak.Interval{Median: 10, Low: 9, High: 11}, leak.Interval{Median: 10, Low: 5, High: 20}, OneMoreTest},
	} {
		r := &leak.Reading{Leak: &c.trace, TestedAgain: &c.again, Budget: []leak.BudgetLine{{Input: "volume", Share: 0.8}}}
		if s := Shrink(r); s.Do != c.want {
			t.Errorf("%v in %v: %q, want %q", c.trace, c.again, s.Do, c.want)
		}
	}
	if s := Shrink(&leak.Reading{}); s.Do != OneMoreTest {
		t.Errorf("nothing known: %q", s.Do)
	}
}

package study

import "testing"

// Stopping a hold when the session says that will do must not make it surer of
// itself than it may be: over practice ports with leaks about the limit, this
// trace's 95 % interval holds the test's own leak in 91 % of the stopped traces
// at least, and at most 2.5 % of the verdicts are wrong. docs/accuracy.md has
// the figures of the long run; so few as here may stray by chance.
func TestStopping(t *testing.T) {
	n := 120
	if testing.Short() {
		n = 24
	}
	const limitFlow = 20 * cm3min
	all := RunStopped(n, limitFlow, 2027)
	for i, s := range all {
		if s.Err != nil {
			t.Fatalf("port %d: %v", i, s.Err)
		}
	}
	c := CountStopped(all, limitFlow)
	t.Logf("%+v", c)
	if c.Answered < n/2 {
		t.Errorf("only %d of %d holds were stopped and answered", c.Answered, n)
	}
	if got := float64(c.Covered) / float64(c.Answered); !testing.Short() && got < 0.91 {
		t.Errorf("%d of %d stopped traces held their leak: %.1f %%, want 91", c.Covered, c.Answered, 100*got)
	}
	if got := float64(c.Wrong) / float64(c.Answered); !testing.Short() && got > 0.025 {
		t.Errorf("%d of %d stopped traces judged wrongly", c.Wrong, c.Answered)
	}
	if c.MeanHold > 0.8*stoppedHold {
		t.Errorf("held %.1f s on average: nothing is gained on %v", c.MeanHold, stoppedHold)
	}
}

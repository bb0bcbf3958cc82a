package main

import (
	"fmt"

	"seatproof/internal/session"
	"seatproof/internal/study"
)

// stopping prints what comes of holds that end when the session says that will
// do, beside the whole hold of the same tests.
func stopping(n int, seed uint64) {
	const limitFlow = 20e-6 / 60
	fmt.Printf("\nholds that are stopped early (%d practice ports, 4 to 100 cm³/min, limit 20, seed %d)\n", n, seed)
	fmt.Println("| | tests | answered | this trace's interval holds | judged | wrongly | median width | mean hold, s |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- |")
	c := study.CountStopped(study.RunStopped(n, limitFlow, seed), limitFlow)
	fmt.Printf("| stopped | %d | %d | %s | %s | %s | %.3f | %.1f |\n", c.Stopped, c.Answered, rate(c.Covered, c.Answered), rate(c.Decided, c.Answered), rate(c.Wrong, c.Answered), c.Width, c.MeanHold)
	fmt.Printf("| 30 s | %d | %d | %s | %s | %s | %.3f | 30 |\n", c.Ports, c.FixedAnswered, rate(c.FixedCovered, c.FixedAnswered), rate(c.FixedDecided, c.FixedAnswered), rate(c.FixedWrong, c.FixedAnswered), c.FixedWidth)
	for _, why := range []session.Reason{session.Decided, session.RepeatOnly, session.NoSharper, session.TimeIsUp, ""} {
		fmt.Printf("  %q: %d\n", why, c.Reasons[why])
	}
}

package main

import (
	"fmt"
	"math"

	"seatproof/internal/study"
	"seatproof/limit"
)

// benches prints what a home bench and a shop's come to, n ports each after one,
// two and three tests, by a limit of 20 cm³/min.
func benches(n int, seed uint64) {
	fmt.Printf("\ntwo benches (%d ports each; leaks of 1 to 6.7 and 60 to 400 cm³/min, limit 20, seed %d)\n", n, seed)
	fmt.Println("| bench | tests | answered | these tests: high/low | tested again: high/low | level held | next test held | undecided | wrongly decided |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
	const limitFlow = 20e-6 / 60
	for _, b := range []study.Bench{study.HomeBench, study.ShopBench} {
		for tests := 1; tests <= 3; tests++ {
			var level, again []float64
			answered, held, next, undecided, wrong := 0, 0, 0, 0, 0
			all := study.RunPorts(b, n, tests, limitFlow, seed)
			for _, p := range all {
				if p.Verdict != limit.Holds && p.Verdict != limit.Leaks {
					undecided++
				} else if (p.Verdict == limit.Leaks) != (p.Level > limitFlow) {
					wrong++
				}
				if p.Err != nil || p.Reading.Refusal != nil || p.Reading.Leak == nil {
					continue
				}
				answered++
				l, a := p.Reading.Leak, p.Reading.TestedAgain
				if p.Level <= l.High && p.Level >= l.Low {
					held++
				}
				if p.Next <= a.High && p.Next >= a.Low {
					next++
				}
				if !p.Reading.UpperLimitOnly {
					level, again = append(level, l.High/math.Max(l.Low, 1e-12)), append(again, a.High/math.Max(a.Low, 1e-12))
				}
			}
			levelHeld := rate(held, answered)
			if tests == 1 {
				levelHeld = "–" // one trace says nothing of the level
			}
			fmt.Printf("| %s | %d | %d of %d | %.2f | %.2f | %s | %s | %s | %s |\n", b, tests, answered, len(all),
				study.Middle(level), study.Middle(again), levelHeld, rate(next, answered), rate(undecided, len(all)), rate(wrong, len(all)))
		}
	}
}

package main

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
)

type mark struct {
	tol, time, err float64
	calls          int
}

// table prints, from the lines kept of both sides, every solver's work against
// precision, and the ratio at an error of 1e-6.
func table(file string) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	all := map[[2]string]map[float64]*mark{}
	for s := bufio.NewScanner(f); s.Scan(); {
		if strings.HasPrefix(s.Text(), "#") {
			continue
		}
		var solver, name string
		var tol, us, peak, trapped, work float64
		var calls int
		if _, err := fmt.Sscan(s.Text(), &solver, &name, &tol, &us, &peak, &trapped, &work, &calls); err != nil {
			return fmt.Errorf("%s: %q: %w", file, s.Text(), err)
		}
		k := [2]string{name, solver}
		if all[k] == nil {
			all[k] = map[float64]*mark{}
		}
		m := all[k][tol]
		if m == nil {
			m = &mark{tol, us, math.Max(peak, trapped), calls}
			all[k][tol] = m
		}
		m.time = math.Min(m.time, us) // the least of the turns
	}
	for _, name := range []string{"motored", "fired"} {
		fmt.Printf("\n%s: µs a cycle at which the error of peak and trapped mass is, and stays, under\n\n| solver | 1e-4 | 1e-5 | 1e-6 | 1e-7 | 1e-8 | 1e-9 |\n| --- | --- | --- | --- | --- | --- | --- |\n", name)
		best := map[bool]float64{true: math.Inf(1), false: math.Inf(1)}
		var names []string
		for k := range all {
			if k[0] == name {
				names = append(names, k[1])
			}
		}
		slices.Sort(names)
		for _, solver := range names {
			var line []mark
			for _, m := range all[[2]string{name, solver}] {
				line = append(line, *m)
			}
			fmt.Print("| ", solver)
			for e := -4; e >= -9; e-- {
				t := within(line, math.Pow(10, float64(e))*1.0001)
				if math.IsInf(t, 0) {
					fmt.Print(" | not reached")
				} else {
					fmt.Printf(" | %.0f", t)
				}
				if e == -6 {
					best[solver == "ours"] = math.Min(best[solver == "ours"], t)
				}
			}
			fmt.Println(" |")
		}
		fmt.Printf("\nat 1e-6: ours %.0f µs, the best of CVODE %.0f µs, %.1f times\n", best[true], best[false], best[false]/best[true])
	}
	return nil
}

// within returns the least time of the tolerances from which on every finer one
// keeps the error: a lucky hit of a coarse one does not count.
func within(line []mark, err float64) float64 {
	slices.SortFunc(line, func(a, b mark) int { return int(math.Copysign(1, a.tol-b.tol)) }) // finest first
	least := math.Inf(1)
	for _, m := range line {
		if m.err > err {
			break
		}
		least = math.Min(least, m.time)
	}
	return least
}

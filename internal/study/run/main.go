// Command run makes the accuracy study and prints its tables: `make study`.
package main

import (
	"flag"
	"fmt"
	"os"
	"time"

	"seatproof/internal/study"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
)

// bins are the sizes of leak studied [cm³/min].
var bins = study.Bins

// runs are the families studied, each over all bins.
var runs = []struct {
	name   string
	family study.Family
	n      int // traces a bin
}{
	{"openings, seeps and mixtures, a third each", study.Family{}, 1500},
	{"shares drawn uniformly", study.Family{Shares: "uniform"}, 500},
	{"the wall's heat in any part by conduction", study.Family{Mix: true}, 300},
	{"vapour drawn from its prior", study.Family{Vapour: true}, 300},
	{"rig says nothing of liquids", study.Family{Wet: true}, 300},
}

func main() {
	only := flag.Int("only", -1, "run only this family")
	part := flag.Float64("part", 1, "part of the traces")
	seed := flag.Uint64("seed", 2026, "seed of the draws")
	pairs := flag.Int("yardstick", 200, "traces set beside the brute-force posterior; 0: none")
	keep := flag.String("keep", "", "file that keeps the yardstick's answers, so that a stopped run goes on")
	dry := flag.Bool("dry", false, "the yardstick takes a port that was said to be dry at its word")
	each := flag.Int("practices", 300, "traces of each effect of real ports and rigs in each strength; 0: none")
	like := flag.String("like", "", "only effects whose name holds this")
	stops := flag.Int("stopped", 1000, "practice ports whose hold is stopped when it has told enough; 0: none")
	faultDays := flag.Int("faults", 300, "days of each fault of a rig, and five times as many sound ones; 0: none")
	flag.Parse()
	for i, r := range runs {
		if *only >= 0 && i != *only {
			continue
		}
		n := max(1, int(float64(r.n)**part))
		fmt.Printf("\n%s (%d traces a bin, seed %d)\n", r.name, n, *seed)
		fmt.Println("| leak, cm³/min | answered | refused | interval holds | above, below | share holds | pure share holds | named, wrong | misfit, vapour warned | median width | median error | mean bias |")
		fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |")
		for _, b := range bins {
			start := time.Now()
			f := r.family
			f.Low, f.High = b[0], b[1]
			print(b, study.Count(study.Run(f, n, *seed)))
			fmt.Fprintf(os.Stderr, "%s %g-%g: %.0f s\n", r.name, b[0], b[1], time.Since(start).Seconds())
		}
	}
	if *each > 0 {
		practices(*each, *like, *seed)
		if *like == "" {
			off(*each, *seed)
			benches(*each, *seed)
		}
	}
	if *faultDays > 0 {
		faults(*faultDays, *seed)
	}
	if *stops > 0 {
		stopping(*stops, *seed)
	}
	if *pairs > 0 {
		besideYardstick(*pairs, *seed, *keep, *dry)
	}
}

// besideYardstick prints how the estimator's error and width compare, trace by
// trace, with those of the brute-force posterior.
func besideYardstick(n int, seed uint64, file string, dry bool) {
	c := study.Comparison{File: file, Options: study.BruteOptions{Dry: dry}, Progress: func(done, total int) {
		fmt.Fprintf(os.Stderr, "yardstick %d of %d\n", done, total)
	}}
	all, err := c.Run(n, seed, func(tr *trace.Trace, g rig.Rig) (median, low, high float64, ok bool) {
		r := leak.Read(tr, g, leak.Options{})
		if r.Leak == nil {
			return 0, 0, 0, false
		}
		return r.Leak.Median, r.Leak.Low, r.Leak.High, true
	})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	fmt.Printf("\nbeside the yardstick (%d traces, seed %d, dry %v)\n", n, seed, dry)
	fmt.Println("| leak, cm³/min | compared | median width ratio | its middle 80 % | median error ratio | estimator holds | yardstick holds | not converged |")
	fmt.Println("| --- | --- | --- | --- | --- | --- | --- | --- |")
	for i := range len(bins) + 1 {
		var width, wrong []float64
		held, bruteHeld, loose := 0, 0, 0
		for _, p := range all {
			if p.Err != nil || !p.OK || i < len(bins) && p.Bin != bins[i] {
				continue
			}
			if !p.Brute.Converged {
				loose++
				continue
			}
			width = append(width, p.WidthRatio())
			wrong = append(wrong, p.ErrorRatio())
			q := p.Truth.Flow
			if q >= p.Low && q <= p.High {
				held++
			}
			if q >= p.Brute.Low && q <= p.Brute.High {
				bruteHeld++
			}
		}
		name := "all"
		if i < len(bins) {
			name = fmt.Sprintf("%g to %g", bins[i][0], bins[i][1])
		}
		fmt.Printf("| %s | %d | %.3f | %s | %.3f | %d | %d | %d |\n", name, len(width), study.Middle(width), middle80(width), study.Middle(wrong), held, bruteHeld, loose)
	}
	for _, p := range all {
		switch {
		case p.Err != nil:
			fmt.Printf("  trace %d left out: %v\n", p.Index, p.Err)
		case !p.OK:
			fmt.Printf("  trace %d left out: the estimator refused\n", p.Index)
		case !p.Brute.Converged:
			fmt.Printf("  trace %d left out: chains did not agree (R-hat %.3f, %.0f draws)\n", p.Index, p.Brute.RHat, p.Brute.Effective)
		}
	}
}

// middle80 writes the range of the middle 80 % of x, which is sorted.
func middle80(x []float64) string {
	if len(x) < 10 {
		return "–"
	}
	k := len(x) / 10
	return fmt.Sprintf("%.2f to %.2f", x[k], x[len(x)-1-k])
}

func print(b [2]float64, t study.Tally) {
	refused := t.Drawn - t.Answered
	fmt.Printf("| %g to %g | %d | %s | %s | %d, %d | %s of %d | %s of %d | %d, %s | %d, %d | %.3f | %.4f | %+.4f |\n",
		b[0], b[1], t.Answered, rate(refused, t.Drawn), rate(t.Held, t.Answered), t.Above, t.Below,
		rate(t.SharesHeld, t.Shares), t.Shares, rate(t.PureHeld, t.Pure), t.Pure,
		t.Named, rate(t.NamedWrong, t.Named), t.Misfits, t.Vapours, t.Width, t.Error, t.MeanBias)
	for code, n := range t.Refused {
		fmt.Printf("  refused %s: %d\n", code, n)
	}
}

// rate writes k of n in per cent with its counting error.
func rate(k, n int) string {
	if n == 0 {
		return "–"
	}
	p, e := study.Rate(k, n)
	return fmt.Sprintf("%.1f ± %.1f %%", 100*p, 100*e)
}

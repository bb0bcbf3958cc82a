package study

import (
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"sort"
	"sync"
	"time"

	"seatproof/rig"
	"seatproof/trace"
)

// Reader is the estimator under test: it gives the median and the 95 % interval
// of a trace's leak [m³/s], or false where it refuses.
type Reader func(tr *trace.Trace, g rig.Rig) (median, low, high float64, ok bool)

// Comparison says what is compared, and where its yardsticks are kept.
type Comparison struct {
	Family  Family // Low and High are set from Bins
	Bins    [][2]float64
	Options BruteOptions // its Seed is set for each trace
	// File is a CSV file that keeps a line a trace; those found in it that
	// belong to the same trace are not computed again, so a run that was
	// stopped goes on where it was. Empty: none is kept.
	File     string
	Workers  int                   // 0: one a core
	Progress func(done, total int) // called as traces are done, never by two at once; nil: none

	brute func(Truth, rig.Rig, *trace.Trace, BruteOptions) (Yardstick, error) // for tests; nil: Brute
}

// Bins are the sizes of leak [cm³/min] that the studies draw from.
var Bins = [][2]float64{{2, 20}, {20, 200}, {200, 2000}, {2000, 4000}}

// Pair is one trace with the yardstick's answer and the estimator's.
type Pair struct {
	Index             int
	Bin               [2]float64 // cm³/min
	Truth             Truth
	Brute             Kept
	Median, Low, High float64 // m³/s, the estimator's
	OK                bool    // it answered
	Err               error   // the trace could not be drawn, or has no yardstick
}

// WidthRatio returns the estimator's interval over the yardstick's.
func (p Pair) WidthRatio() float64 { return (p.High - p.Low) / (p.Brute.High - p.Brute.Low) }

// ErrorRatio returns the distance of the estimator's median from the truth over
// that of the yardstick's.
func (p Pair) ErrorRatio() float64 {
	return math.Abs(p.Median-p.Truth.Flow) / math.Abs(p.Brute.Median-p.Truth.Flow)
}

// Compare is [Comparison.Run] over [Bins] with the usual family, all cores and
// full runs of the yardstick, nothing kept.
func Compare(n int, seed uint64, read Reader) ([]Pair, error) {
	return Comparison{}.Run(n, seed, read)
}

// Run draws n traces, the bins in turn, reads each by the yardstick and by the
// estimator, and returns a pair for each, in order; pair i depends on seed and
// i alone. The estimator is always asked anew. The error is about the file
// only; a trace that has no yardstick says so in its pair.
func (c Comparison) Run(n int, seed uint64, read Reader) ([]Pair, error) {
	if len(c.Bins) == 0 {
		c.Bins = Bins
	}
	if c.Workers <= 0 {
		c.Workers = runtime.NumCPU()
	}
	if c.brute == nil {
		c.brute = Brute
	}
	kept, err := readKept(c.File)
	if err != nil {
		return nil, err
	}
	out := make([]Pair, n)
	next := make(chan int)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var wrong []error
	done := 0
	for range c.Workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				p, key, fresh := c.pair(i, seed, read, kept)
				mu.Lock()
				out[i] = p
				done++
				if fresh && c.File != "" {
					if err := keep(c.File, key, i, seed, p); err != nil {
						wrong = append(wrong, err)
					}
				}
				if c.Progress != nil {
					c.Progress(done, n)
				}
				mu.Unlock()
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out, errors.Join(wrong...)
}

// pair makes one; fresh says that its yardstick was computed now.
func (c Comparison) pair(i int, seed uint64, read Reader, kept map[string]Kept) (p Pair, key string, fresh bool) {
	f := c.Family
	p.Index, p.Bin = i, c.Bins[i%len(c.Bins)]
	f.Low, f.High = p.Bin[0], p.Bin[1]
	truth, g, tr, err := Draw(rand.New(rand.NewPCG(seed, uint64(i))), f)
	p.Truth = truth
	if err != nil {
		p.Err = err
		return p, "", false
	}
	key = fingerprint(truth, g, tr, c.Options.filled())
	p.Median, p.Low, p.High, p.OK = read(tr, g)
	if k, ok := kept[key]; ok {
		p.Brute = k
		return p, key, false
	}
	o := c.Options
	o.Seed = seed ^ uint64(i)<<20
	start := time.Now()
	y, err := c.brute(truth, g, tr, o)
	if err != nil {
		p.Err = err
		return p, key, false
	}
	p.Brute = Kept{
		Median: y.Median, Low: y.Low, High: y.High, Upper: y.Upper,
		ShareMedian: y.Share.Median, ShareLow: y.Share.Low, ShareHigh: y.Share.High,
		RHat: math.Max(y.RHat, y.ShareRHat), Effective: y.Effective, Seconds: time.Since(start).Seconds(),
		Calls: y.Calls, Converged: y.Converged,
	}
	return p, key, true
}

// Ratios are what pairs come to.
type Ratios struct {
	Pairs     int // compared: drawn, answered, yardstick converged
	Refused   int // the estimator gave no answer
	Loose     int // the yardstick did not converge
	Failed    int // no trace or no yardstick
	BruteHeld int // the yardstick's interval holds the truth, of Pairs
	// Medians over the pairs, with their counting error (half the distance
	// between the order statistics that hold the middle 68 %).
	Width, WidthError float64
	Error, ErrorError float64
}

// Sum returns the ratios of the pairs whose truth lies in the bin [cm³/min];
// of all with a bin of {0, 0}.
func Sum(pairs []Pair, bin [2]float64) Ratios {
	var r Ratios
	var widths, errs []float64
	for _, p := range pairs {
		if bin != [2]float64{} && p.Bin != bin {
			continue
		}
		switch {
		case p.Err != nil:
			r.Failed++
			continue
		case !p.OK:
			r.Refused++
			continue
		case !p.Brute.Converged:
			r.Loose++
			continue
		}
		r.Pairs++
		if q := p.Truth.Flow; q >= p.Brute.Low && q <= p.Brute.High {
			r.BruteHeld++
		}
		widths = append(widths, p.WidthRatio())
		errs = append(errs, p.ErrorRatio())
	}
	r.Width, r.WidthError = medianOf(widths)
	r.Error, r.ErrorError = medianOf(errs)
	return r
}

// medianOf returns the median and its counting error, 0 and +Inf of nothing.
func medianOf(x []float64) (m, e float64) {
	if len(x) == 0 {
		return 0, math.Inf(1)
	}
	sort.Float64s(x)
	at := func(p float64) float64 {
		u := math.Min(math.Max(p, 0), 1) * float64(len(x)-1)
		i := min(int(u), len(x)-1)
		j := min(i+1, len(x)-1)
		return x[i] + (u-float64(i))*(x[j]-x[i])
	}
	d := 0.5 / math.Sqrt(float64(len(x)))
	return at(0.5), (at(0.5+d) - at(0.5-d)) / 2
}

// Agreement is one trace read by the yardstick twice, from independent draws.
type Agreement struct {
	Truth Truth
	One   Yardstick
	Two   Yardstick
	Err   error
}

// WidthDiffers returns by what part the two widths differ.
func (a Agreement) WidthDiffers() float64 {
	w1, w2 := a.One.High-a.One.Low, a.Two.High-a.Two.Low
	return math.Abs(w1-w2) / ((w1 + w2) / 2)
}

// MedianDiffers returns by what part of the mean width the two medians differ.
func (a Agreement) MedianDiffers() float64 {
	w := (a.One.High - a.One.Low + a.Two.High - a.Two.Low) / 2
	return math.Abs(a.One.Median-a.Two.Median) / w
}

// Agree reads n traces of the family, the bins [cm³/min] in turn, by the
// yardstick twice each: the check of its convergence that its own figures can't
// give. On one core.
func Agree(n int, seed uint64, f Family, bins [][2]float64, o BruteOptions) []Agreement {
	out := make([]Agreement, n)
	for i := range out {
		a := &out[i]
		b := bins[i%len(bins)]
		f.Low, f.High = b[0], b[1]
		t, g, tr, err := Draw(rand.New(rand.NewPCG(seed, uint64(i))), f)
		if err != nil {
			a.Err = err
			continue
		}
		a.Truth = t
		var errOne, errTwo error
		o.Seed = 1
		a.One, errOne = Brute(t, g, tr, o)
		o.Seed = 2
		a.Two, errTwo = Brute(t, g, tr, o)
		a.Err = errors.Join(errOne, errTwo)
	}
	return out
}

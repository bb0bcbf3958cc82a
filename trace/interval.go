package trace

import (
	"math"
	"slices"
)

// gapIntervals is how many usual intervals a pause must exceed to be a gap.
const gapIntervals = 5

// intervals gathers the sampling intervals. While every sample is kept they
// follow from the times; once neighbours are averaged, they are counted in
// classes 0.1 % wide, so that a file of any length takes the same memory.
type intervals struct {
	scale    float64 // to seconds
	counting bool
	last     float64
	longest  float64
	class    []uint32
	zero     uint64
}

// Classes are the 2^10 steps between powers of two, from 2^-40 to 2^40 of the
// unit of the file.
const (
	classBits = 10
	lowClass  = (1023 - 40) << classBits
	classes   = 80 << classBits
)

func (c *intervals) add(t float64) {
	if !c.counting {
		return
	}
	c.count(t - c.last)
	c.last = t
}

func (c *intervals) count(d float64) {
	if d <= 0 {
		c.zero++
		return
	}
	c.longest = max(c.longest, d)
	k := int(math.Float64bits(d)>>(52-classBits)) - lowClass
	c.class[min(max(k, 0), classes-1)]++
}

// startCounting begins to count in classes, with the intervals between times
// and the next one.
func (c *intervals) startCounting(times []float64, next float64) {
	c.counting = true
	c.class = make([]uint32, classes)
	for i := 1; i < len(times); i++ {
		c.count(times[i] - times[i-1])
	}
	if len(times) > 0 {
		c.count(next - times[len(times)-1])
	}
	c.last = next
}

// report fills in what is known about the sampling intervals; times are in
// seconds.
func (c *intervals) report(f *Faults, times []float64) {
	if c.counting {
		c.reportClasses(f)
		return
	}
	if len(times) < 2 {
		return
	}
	d := make([]float64, len(times)-1)
	for i := range d {
		d[i] = times[i+1] - times[i]
	}
	f.Interval = median(d)
	if f.Interval <= 0 {
		return
	}
	limit := gapIntervals * f.Interval * (1 + 1e-9)
	for i := range d {
		x := times[i+1] - times[i]
		if x > limit {
			f.Gaps++
			f.LongestGap = max(f.LongestGap, x)
		}
		d[i] = math.Abs(x - f.Interval)
	}
	f.Jitter = 1.4826 * median(d) / f.Interval
}

// reportClasses does the same from the classes.
func (c *intervals) reportClasses(f *Faults) {
	type class struct {
		middle float64
		n      uint64
	}
	var all []class
	total := c.zero
	if c.zero > 0 {
		all = append(all, class{0, c.zero})
	}
	for k, n := range c.class {
		if n > 0 {
			low := math.Float64frombits(uint64(k+lowClass) << (52 - classBits))
			high := math.Float64frombits(uint64(k+lowClass+1) << (52 - classBits))
			all = append(all, class{(low + high) / 2, uint64(n)})
			total += uint64(n)
		}
	}
	half := func() float64 {
		var sum uint64
		for _, x := range all {
			if sum += x.n; 2*sum >= total {
				return x.middle
			}
		}
		return 0
	}
	mid := half()
	f.Interval = mid * c.scale
	if mid <= 0 {
		return
	}
	for i, x := range all {
		if x.middle > gapIntervals*mid {
			f.Gaps += int(x.n)
		}
		all[i].middle = math.Abs(x.middle - mid)
	}
	if c.longest > gapIntervals*mid {
		f.LongestGap = c.longest * c.scale
	}
	slices.SortFunc(all, func(a, b class) int {
		switch {
		case a.middle < b.middle:
			return -1
		case a.middle > b.middle:
			return 1
		}
		return 0
	})
	f.Jitter = 1.4826 * half() / mid
}

// median returns the middle of x (the mean of the two middle ones for an even
// number), 0 for none. It changes the order of x.
func median(x []float64) float64 {
	n := len(x)
	if n == 0 {
		return 0
	}
	m := nth(x, n/2)
	if n%2 == 1 {
		return m
	}
	below := slices.Max(x[:n/2])
	return below + (m-below)/2
}

// nth returns the k-th smallest of x, counted from 0, and puts no larger ones
// before it and no smaller ones behind it (Hoare's selection).
func nth(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for lo < hi {
		// the middle one of three, so that ordered input is quick
		a, b, c := x[lo], x[(lo+hi)/2], x[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}

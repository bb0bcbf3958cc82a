package session

import (
	"math"
	"slices"
)

const (
	binWidth  = 0.02 // s, at least: of faster samples a bin is a mean
	binsKept  = 1024 // 20 s and more
	bendsKept = 144  // second differences that the noise is taken from
	atOnce    = 6    // bins that are enough to speak of a noise
)

// bins are the last seconds of a gauge, as means over 20 ms or single samples
// where they come more slowly. A bin that stands out from both its neighbours
// is a spike and takes their median.
type bins struct {
	time, u [binsKept]float64 // rings
	n       int               // bins made so far

	sum, sumTime, from float64 // of the bin that is filling
	count              int

	last   float64 // the last sample
	lastAt float64 // s, its time
	any    bool
	step   float64 // Pa, smallest difference between samples that was seen; 0: none
	said   float64 // Pa, resolution as stated
	bends  [bendsKept]float64
	nbends int
	noise  float64 // Pa, sd of one bin
}

// add takes a sample and says whether it ended a bin.
func (b *bins) add(t, u float64) bool {
	if b.any {
		if d := math.Abs(u - b.last); d > 1e-6 && (b.step == 0 || d < b.step) {
			b.step = d
		}
	}
	b.last, b.any = u, true
	gap := math.Max(0, t-b.lastAt)
	b.lastAt = t
	if b.count == 0 {
		b.from = t
	}
	b.sum += u
	b.sumTime += t
	b.count++
	// the bin ends with the sample that fills it: of slow samples each is one
	if t-b.from+gap < binWidth {
		return false
	}
	b.push(b.sumTime/float64(b.count), b.sum/float64(b.count))
	b.sum, b.sumTime, b.count = 0, 0, 0
	return true
}

func (b *bins) push(t, u float64) {
	i := b.n % binsKept
	b.time[i], b.u[i] = t, u
	b.n++
	if b.n >= 3 {
		m := middle(b.val(0), b.val(1), b.val(2))
		if b.noise > 0 && math.Abs(b.val(1)-m) > 6*b.noise+2*b.grain() {
			b.u[(b.n-2)%binsKept] = m
		}
	}
}

// at and val are the time and the value of the bin k before the last.
func (b *bins) at(k int) float64  { return b.time[(b.n-1-k)%binsKept] }
func (b *bins) val(k int) float64 { return b.u[(b.n-1-k)%binsKept] }

// held is how many bins can be looked back at.
func (b *bins) held() int { return min(b.n, binsKept) }

// grain is the gauge's step [Pa].
func (b *bins) grain() float64 { return math.Max(b.said, b.step) }

// level is the median of the last three bins.
func (b *bins) level() float64 {
	if b.n < 3 {
		return b.val(0)
	}
	return middle(b.val(0), b.val(1), b.val(2))
}

// learn takes the last bins' bend for the noise: called where the gauge should
// stand still or move evenly.
func (b *bins) learn() {
	if b.n < 3 {
		return
	}
	d := b.val(0) - 2*b.val(1) + b.val(2)
	b.bends[b.nbends%bendsKept] = d * d
	b.nbends++
	if b.nbends > atOnce && b.nbends%12 != 0 {
		return
	}
	s := slices.Clone(b.bends[:min(b.nbends, bendsKept)])
	slices.Sort(s)
	// the smaller four fifths of squares of a normal figure have a mean of
	// 0.4377 of the whole's: what lies above may be spikes and bends
	k := max(1, len(s)*4/5)
	sum := 0.0
	for _, x := range s[:k] {
		sum += x
	}
	b.noise = math.Sqrt(sum / float64(k) / (6 * 0.4377))
}

// window is how many bins make a time [s], at least atLeast, at most what is held.
func (b *bins) window(seconds float64, atLeast int) int {
	n := b.held()
	if n < 2 {
		return n
	}
	k := 1
	for k < n-1 && b.at(0)-b.at(k) < seconds {
		k++
	}
	return min(n, max(atLeast, k))
}

// slope is the least-squares slope [Pa/s] over the last n bins and its sd.
func (b *bins) slope(n int) (slope, sd float64) {
	if n < 2 {
		return 0, math.Inf(1)
	}
	t0 := b.at(0)
	var st, su, stt, stu float64
	for k := range n {
		t, u := b.at(k)-t0, b.val(k)
		st, su, stt, stu = st+t, su+u, stt+t*t, stu+t*u
	}
	f := float64(n)
	den := stt - st*st/f
	if den <= 0 {
		return 0, math.Inf(1)
	}
	return (stu - st*su/f) / den, math.Hypot(b.noise, 0.3*b.grain()) / math.Sqrt(den)
}

// mean is the mean of bins from..from+n-1, counted back from the last.
func (b *bins) mean(from, n int) float64 {
	sum := 0.0
	for k := from; k < from+n; k++ {
		sum += b.val(k)
	}
	return sum / float64(n)
}

// reach is the smallest and the largest of the last n bins.
func (b *bins) reach(n int) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for k := range n {
		low, high = math.Min(low, b.val(k)), math.Max(high, b.val(k))
	}
	return low, high
}

func middle(a, b, c float64) float64 {
	return math.Max(math.Min(a, b), math.Min(math.Max(a, b), c))
}

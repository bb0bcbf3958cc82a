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
	gapLeast  = 0.5  // s without a sample after which what came before is not looked at
)

// bins are the last seconds of a gauge, as middle means over 20 ms or single
// samples where they come more slowly. A bin that stands out from the one before it
// waits for the next: if it stands out from that too it is a spike, and takes
// the median of the three. After a gap they begin anew.
type bins struct {
	time, u [binsKept]float64 // rings
	n       int               // bins made so far
	after   int               // bins made before the last gap
	pushed  float64           // s, when the last mean came
	pace    float64           // s from one to the next, as usual

	odd     bool // a bin stands out, and waits
	oddTime float64
	oddU    float64

	filling       []float64 // samples of the bin to come
	sumTime, from float64

	last   float64 // the last sample
	lastAt float64 // s, its time
	any    bool
	step   float64 // Pa, smallest difference between samples that was seen; 0: none
	said   float64 // Pa, resolution as stated
	bends  [bendsKept]float64
	nbends int
	noise  float64 // Pa, sd of one bin
}

// add takes a sample and says whether a bin was made.
func (b *bins) add(t, u float64) bool {
	if b.any {
		if d := math.Abs(u - b.last); d > 1e-6 && (b.step == 0 || d < b.step) {
			b.step = d
		}
	}
	b.last, b.any = u, true
	gap := math.Max(0, t-b.lastAt)
	b.lastAt = t
	if len(b.filling) == 0 {
		b.from = t
	}
	b.filling = append(b.filling, u)
	b.sumTime += t
	// the bin ends with the sample that fills it: of slow samples each is one
	if t-b.from+gap < binWidth {
		return false
	}
	made := b.push(b.sumTime/float64(len(b.filling)), b.mid(b.filling))
	b.filling, b.sumTime = b.filling[:0], 0
	return made
}

// push takes a mean and says whether a bin was made.
func (b *bins) push(t, u float64) bool {
	gap := t - b.pushed
	if b.pace > 0 && gap > math.Max(gapLeast, 6*b.pace) {
		b.after, b.odd = b.n, false
	} else if b.pushed > 0 {
		b.pace += (gap - b.pace) / math.Min(16, float64(b.n))
	}
	b.pushed = t
	was := b.odd
	if was {
		m := middle(b.val(0), b.oddU, u)
		if math.Abs(b.oddU-m) <= b.far() {
			m = b.oddU
		}
		b.put(b.oddTime, m)
	}
	b.odd = b.held() > 0 && b.noise > 0 && math.Abs(u-b.val(0)) > b.far()
	if b.odd {
		b.oddTime, b.oddU = t, u
		return was
	}
	b.put(t, u)
	return true
}

func (b *bins) put(t, u float64) {
	i := b.n % binsKept
	b.time[i], b.u[i] = t, u
	b.n++
}

// far is how far [Pa] a bin stands out from its neighbour that may be a spike.
func (b *bins) far() float64 { return 6*b.noise + 2*b.grain() }

// at and val are the time and the value of the bin k before the last.
func (b *bins) at(k int) float64  { return b.time[(b.n-1-k)%binsKept] }
func (b *bins) val(k int) float64 { return b.u[(b.n-1-k)%binsKept] }

// held is how many bins can be looked back at, to the last gap.
func (b *bins) held() int { return min(b.n-b.after, binsKept) }

// grain is the gauge's step [Pa].
func (b *bins) grain() float64 { return math.Max(b.said, b.step) }

// level is the median of the last three bins.
func (b *bins) level() float64 {
	if b.held() < 3 {
		return b.val(0)
	}
	return middle(b.val(0), b.val(1), b.val(2))
}

// learn takes the last bins' bend for the noise: called where the gauge should
// stand still or move evenly.
func (b *bins) learn() {
	if b.held() < 3 {
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

// spans says whether the last n bins are a window of a time [s], which they are
// not soon after a gap.
func (b *bins) spans(n int, seconds float64) bool {
	return n < b.held()-1 || b.at(0)-b.at(n-1) >= seconds
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

// mid is the mean of the middle half of x, which is sorted: samples that a bad
// line made of others do not count. Of two far apart it is the likelier.
func (b *bins) mid(x []float64) float64 {
	if len(x) == 2 && b.held() > 0 && b.noise > 0 && math.Abs(x[0]-x[1]) > b.far() {
		if math.Abs(x[0]-b.val(0)) < math.Abs(x[1]-b.val(0)) {
			return x[0]
		}
		return x[1]
	}
	slices.Sort(x)
	cut := (len(x) + 1) / 4
	sum := 0.0
	for _, v := range x[cut : len(x)-cut] {
		sum += v
	}
	return sum / float64(len(x)-2*cut)
}

func middle(a, b, c float64) float64 {
	return math.Max(math.Min(a, b), math.Min(math.Max(a, b), c))
}

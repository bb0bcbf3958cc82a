package trace

import "math"

// coarseStamps spreads rows whose stamps are coarser than the sampling, say
// ten rows with the same full second. A logger cuts a stamp off, so rows that
// share one were taken evenly within the time to the next:
//
//   - It applies where a third of the rows (of the first 4,096) repeat the
//     stamp before, and groups usually hold two rows or more; a row doubled
//     now and then keeps its stamp.
//   - A group is spread from its stamp on over the time to the next stamp, but
//     over no more than the usual step between stamps (a pause stays a pause).
//   - The first group, and one after a pause, may have begun in mid-step: if it
//     is small it is spread at the usual spacing so that it ends at the next
//     stamp; the last one, and one before a pause, likewise from its stamp on.
//
// The rows still count as repeated.
type coarseStamps struct {
	on    bool
	step  float64 // usual time between different stamps
	group float64 // usual number of rows to a stamp
	out   []float64
}

// look decides from the first rows.
func (c *coarseStamps) look(t []float64) {
	repeats := 0
	for i := 1; i < len(t); i++ {
		if t[i] == t[i-1] {
			repeats++
		}
	}
	if 3*repeats < len(t) {
		return
	}
	var steps, sizes []float64
	begin := 0
	for i := 1; i < len(t); i++ {
		if t[i] != t[i-1] {
			steps = append(steps, t[i]-t[i-1])
			if begin > 0 { // not the first group, which may have begun in mid-step
				sizes = append(sizes, float64(i-begin))
			}
			begin = i
		}
	}
	if len(steps) < 2 {
		return
	}
	c.step, c.group = median(steps), median(sizes)
	c.on = c.group >= 2
}

// groupStart returns the first row of the group that row to-1 belongs to.
func groupStart(t []float64, to int) int {
	g := to - 1
	for g > 0 && t[g-1] == t[g] {
		g--
	}
	return g
}

// spread returns the times of rows from..to-1 of t, spread out. first and last
// say whether the file's first and last row are among them.
func (c *coarseStamps) spread(t []float64, from, to int, first, last bool) []float64 {
	c.out = c.out[:0]
	for i := from; i < to; {
		j := i + 1
		for j < to && t[j] == t[i] {
			j++
		}
		n := float64(j - i)
		room := c.step
		if j < len(t) {
			room = math.Min(room, t[j]-t[i])
		}
		atStart := first && i == 0 || i > 0 && t[i]-t[i-1] > 1.5*c.step
		atEnd := last && j == len(t) || j < len(t) && t[j]-t[i] > 1.5*c.step
		spacing, begin := room/n, t[i]
		if (atStart || atEnd) && n < c.group {
			spacing = room / c.group
		}
		if atStart && !atEnd && n < c.group {
			begin += room - n*spacing
		}
		for k := range j - i {
			c.out = append(c.out, begin+float64(k)*spacing)
		}
		i = j
	}
	return c.out
}

package trace

import "slices"

// decimator keeps at most a fixed number of points. While there are few, each
// row is a point; when they become too many, neighbours are averaged pairwise
// (time and value, weighted by the samples in each), and from then on points
// are means of twice as many rows.
type decimator struct {
	most      int // even
	t, v      []float64
	n         []int32 // samples in each point; nil while each has one
	rows      int     // rows that make a point
	inBlock   int
	sumT      float64 // of the block, about its first time
	sumV      float64 // about its first value
	sumN      int64
	t1, v1    float64
	intervals intervals
}

// expect makes room for n more rows, and for some to follow if they are not
// the final ones.
func (d *decimator) expect(n int, final bool) {
	if d.rows > 1 {
		return
	}
	if !final {
		n = max(5*n, len(d.t))
	}
	if room := min(len(d.t)+n, d.most); room > cap(d.t) {
		d.t = slices.Grow(d.t, room-len(d.t))
		d.v = slices.Grow(d.v, room-len(d.v))
	}
}

// add takes one row that stands for n samples. Times must not fall.
func (d *decimator) add(t, v float64, n int32) {
	d.intervals.add(t)
	if d.rows == 1 {
		if len(d.t) < d.most {
			if n != 1 && d.n == nil {
				d.n = ones(len(d.t), cap(d.t))
			}
			if d.n != nil {
				d.n = append(d.n, n)
			}
			d.t = append(d.t, t)
			d.v = append(d.v, v)
			return
		}
		d.intervals.startCounting(d.t, t)
		d.halve()
	}
	if d.inBlock == 0 {
		d.t1, d.v1 = t, v
		d.sumT, d.sumV, d.sumN = 0, 0, 0
	}
	d.sumT += (t - d.t1) * float64(n)
	d.sumV += (v - d.v1) * float64(n)
	d.sumN += int64(n)
	d.inBlock++
	if d.inBlock == d.rows {
		d.endBlock()
	}
}

func (d *decimator) endBlock() {
	if d.inBlock == 0 {
		return
	}
	d.inBlock = 0
	t := d.t1 + d.sumT/float64(d.sumN)
	if k := len(d.t); k > 0 {
		t = max(t, d.t[k-1]) // rounding must not make time fall
	}
	d.t = append(d.t, t)
	d.v = append(d.v, d.v1+d.sumV/float64(d.sumN))
	d.n = append(d.n, int32(min(d.sumN, 1<<31-1)))
	if len(d.t) == d.most {
		d.halve()
	}
}

// halve averages neighbours; the number of points is even here.
func (d *decimator) halve() {
	if d.n == nil {
		d.n = ones(len(d.t), len(d.t))
	}
	k := len(d.t) / 2
	for i := range k {
		a, b := float64(d.n[2*i]), float64(d.n[2*i+1])
		w := b / (a + b)
		t := d.t[2*i] + (d.t[2*i+1]-d.t[2*i])*w
		if i > 0 {
			t = max(t, d.t[i-1])
		}
		d.v[i] = d.v[2*i] + (d.v[2*i+1]-d.v[2*i])*w
		d.t[i] = t
		d.n[i] = int32(min(int64(d.n[2*i])+int64(d.n[2*i+1]), 1<<31-1))
	}
	d.t, d.v, d.n = d.t[:k], d.v[:k], d.n[:k]
	d.rows *= 2
}

// close ends the last block.
func (d *decimator) close() {
	if d.rows > 1 {
		d.endBlock()
	}
}

func (d *decimator) counts() []int32 { return d.n }

func ones(n, room int) []int32 {
	s := make([]int32, n, max(n, room))
	for i := range s {
		s[i] = 1
	}
	return s
}

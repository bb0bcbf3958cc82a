package trace

import (
	"math"
	"slices"
)

// findSpikes returns the rows from..to-1 of v that are spikes: single samples
// that
//
//   - lie on the same side of both neighbours,
//   - by more than three steps of the written grid,
//   - by more than eight local standard deviations (from the median of the
//     differences of neighbours within 16 rows, which a pull or a vent makes
//     large) and 2.5 times the fifth largest of those differences (a converter
//     that flickers between two of its steps has a small median),
//   - while three of the four samples around, with both neighbours nearly
//     equal, agree within a quarter of that height.
//
// The last keeps the turning point of a fast pull that is vented at once, the
// first sample of a vent, and an overshoot from being taken for spikes. And
// what is common is no spike: where more than one row in fifty (and more than
// five) stands out of both neighbours by half that height, none does.
func findSpikes(v []float64, from, to int, step float64) []int {
	var found []int
	lowest := math.Inf(1) // of the heights found
	const block = 64
	for a := max(from, 1); a < min(to, len(v)-1); a += block {
		b := min(a+block, min(to, len(v)-1))
		sum := math.Abs(v[a] - v[a-1])
		for i := a; i < b; i++ {
			sum += math.Abs(v[i+1] - v[i])
		}
		least := math.Max(3*step, 4*sum/float64(b-a+1)*float64(b-a)/block)
		for i := a; i < b; i++ {
			if h := height(v, i); h > least && isSpike(v, i, h, step) {
				found = append(found, i)
				lowest = min(lowest, h)
				i++ // its neighbour is none
			}
		}
	}
	if len(found) == 0 {
		return nil
	}
	var heights []float64
	for i := max(from, 1); i < min(to, len(v)-1); i++ {
		if h := height(v, i); h >= lowest/2 {
			heights = append(heights, h)
		}
	}
	slices.Sort(heights)
	rare := max(5, (to-from)/50)
	return slices.DeleteFunc(found, func(i int) bool {
		k, _ := slices.BinarySearch(heights, height(v, i)/2)
		return len(heights)-k > rare
	})
}

// height returns by how much sample i stands out of both its neighbours, 0 if
// it lies between them.
func height(v []float64, i int) float64 {
	d1, d2 := v[i]-v[i-1], v[i]-v[i+1]
	if d1*d2 <= 0 {
		return 0
	}
	return min(math.Abs(d1), math.Abs(d2))
}

// isSpike looks closer at sample i, which stands out by h.
func isSpike(v []float64, i int, h, step float64) bool {
	if math.Abs(v[i+1]-v[i-1]) > h/4 {
		return false
	}
	around := make([]float64, 0, 4)
	for _, k := range [4]int{i - 2, i - 1, i + 1, i + 2} {
		if k >= 0 && k < len(v) {
			around = append(around, v[k])
		}
	}
	if len(around) < 3 || narrowest3(around) > h/4 {
		return false
	}
	// local scatter, without the differences to the sample itself
	var d [32]float64
	n := 0
	for k := max(1, i-16); k < min(len(v), i+17); k++ {
		if k != i && k != i+1 && n < len(d) {
			d[n] = math.Abs(v[k] - v[k-1])
			n++
		}
	}
	// the median of |difference| of normal noise is 0.6745 √2 sd
	// rounding to the grid may hide half a step of it
	if h <= 8*(median(d[:n])+step/2)/0.9539 {
		return false
	}
	return n < 10 || h > 2.5*nth(d[:n], n-5)
}

// narrowest3 returns the smallest range of three of three or four values.
func narrowest3(x []float64) float64 {
	slices.Sort(x)
	w := x[2] - x[0]
	if len(x) == 4 {
		w = math.Min(w, x[3]-x[1])
	}
	return w
}

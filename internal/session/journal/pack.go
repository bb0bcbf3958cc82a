package journal

import (
	"encoding/binary"
	"errors"
	"math"
	"math/bits"
)

// Columns of figures, without loss. Times and pressures mostly lie on a grid
// (microseconds, thousandths of a pascal), and are then whole numbers of which
// the differences are kept; else each figure is kept as what differs in its
// bits from the one before.

var errShort = errors.New("a column ends early")

// onGrid says whether every figure is a whole number of 1/scale.
func onGrid(x []float64, scale float64) bool {
	for _, v := range x {
		k := math.Round(v * scale)
		if !(math.Abs(k) < 1<<52) || k/scale != v || k == 0 && math.Signbit(v) {
			return false
		}
	}
	return true
}

// appendGrid appends the differences of whole numbers, once or twice over.
func appendGrid(b []byte, x []float64, scale float64, twice bool) []byte {
	var last, slope int64
	for _, v := range x {
		k := int64(math.Round(v * scale))
		d := k - last
		if twice {
			b = binary.AppendVarint(b, d-slope)
			slope = d
		} else {
			b = binary.AppendVarint(b, d)
		}
		last = k
	}
	return b
}

func readGrid(b []byte, n int, scale float64, twice bool) ([]float64, []byte, error) {
	x := make([]float64, n)
	var last, slope int64
	for i := range x {
		d, k := binary.Varint(b)
		if k <= 0 {
			return nil, nil, errShort
		}
		b = b[k:]
		if twice {
			d += slope
			slope = d
		}
		last += d
		x[i] = float64(last) / scale
	}
	return x, b, nil
}

// appendBits appends figures as the bytes in which they differ from the one
// before: one byte that counts the zero bytes on the left (high half) and those
// kept (low half), then these.
func appendBits(b []byte, x []float64) []byte {
	var last uint64
	for _, v := range x {
		u := math.Float64bits(v)
		d := u ^ last
		last = u
		if d == 0 {
			b = append(b, 0)
			continue
		}
		left := bits.LeadingZeros64(d) / 8
		right := bits.TrailingZeros64(d) / 8
		n := 8 - left - right
		b = append(b, byte(left<<4|n))
		for i := range n {
			b = append(b, byte(d>>(8*(7-left-i))))
		}
	}
	return b
}

func readBits(b []byte, n int) ([]float64, []byte, error) {
	x := make([]float64, n)
	var last uint64
	for i := range x {
		if len(b) == 0 {
			return nil, nil, errShort
		}
		left, k := int(b[0]>>4), int(b[0]&15)
		if left+k > 8 || len(b) < 1+k {
			return nil, nil, errShort
		}
		var d uint64
		for j := range k {
			d |= uint64(b[1+j]) << (8 * (7 - left - j))
		}
		b = b[1+k:]
		last ^= d
		x[i] = math.Float64frombits(last)
	}
	return x, b, nil
}

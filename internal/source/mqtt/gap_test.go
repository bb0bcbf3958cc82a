package mqtt

import (
	"math"
	"testing"

	"seatproof/internal/source"
)

func TestCount(t *testing.T) {
	for _, c := range []struct {
		name  string
		in    []float64
		again int
		code  source.Code
		count int
	}{
		{"in order", []float64{5, 6, 7, 8}, 0, "", 0},
		{"one missing", []float64{5, 7}, 0, source.Missing, 1},
		{"many missing", []float64{5, 582}, 0, source.Missing, 576},
		{"twice", []float64{5, 5, 6}, 1, "", 0},
		{"8 bits over", []float64{254, 255, 0, 1}, 0, "", 0},
		{"16 bits over", []float64{65535, 0}, 0, "", 0},
		{"16 bits over, two missing", []float64{65534, 1}, 0, source.Missing, 2},
		{"32 bits over", []float64{math.MaxUint32, 0}, 0, "", 0},
		{"started again", []float64{5000, 0, 1}, 0, source.ClockBack, 0},
		{"back in the middle", []float64{200, 100}, 0, source.ClockBack, 0},
		{"another counter", []float64{5, 5e7}, 0, source.ClockJump, 0},
	} {
		var g gaps
		g.broke()
		again, told := 0, []source.Notice{}
		for _, n := range c.in {
			a, n := g.count(n)
			if a {
				again++
			}
			told = append(told, n...)
		}
		if again != c.again {
			t.Errorf("%s: %d came again, want %d", c.name, again, c.again)
		}
		if c.code == "" && len(told) > 0 || c.code != "" && (len(told) != 1 || told[0].Code != c.code || told[0].Count != c.count) {
			t.Errorf("%s: told %v", c.name, told)
		}
	}
}

func TestTimeGap(t *testing.T) {
	var g gaps
	g.broke()
	clock, told := 0.0, 0
	step := func(d float64) []source.Notice { clock += d; n := g.time(clock); told += len(n); return n }
	step(0)
	for i := range 40 {
		step(0.01 + 0.001*float64(i%3-1))
	}
	if told != 0 {
		t.Fatal("an even clock has no gap")
	}
	if n := step(0.51); len(n) != 1 || n[0].Code != source.Missing || n[0].Count < 49 || n[0].Count > 51 {
		t.Errorf("about 50 missing: told %v", n)
	}
	if n := step(0.01); n != nil {
		t.Errorf("after the gap: told %v", n)
	}
	// a sensor that speaks when something moves is not even
	g.broke()
	told = 0
	for i := range 200 {
		step([]float64{0.01, 0.2, 0.01, 1.5, 0.02}[i%5])
	}
	if told != 0 {
		t.Errorf("an uneven clock: %d gaps told", told)
	}
	if n := g.time(math.NaN()); n != nil {
		t.Errorf("no clock: told %v", n)
	}
}

package head

import (
	"testing"

	"seatproof/engine"
)

// A head of 32 valves with 300 tests, as kept: what a job card costs made anew, and
// after one port was tested again.
func BenchmarkCardOf(b *testing.B) {
	k := large()
	for b.Loop() {
		if c := k.card(); len(c.Ports) != 16 {
			b.Fatal(len(c.Ports))
		}
	}
}

func BenchmarkCardOfKept(b *testing.B) {
	k := large()
	k.Kept = new(Kept)
	k.Cost = costs{}.of
	k.card()
	last, other := &k.Tests[len(k.Tests)-1], reading(33, 0.07).Keep().Reading()
	for b.Loop() {
		last.Reading, other = other, last.Reading
		k.card()
	}
}

// costs keeps what leaks cost, as the sheets do.
type costs map[costAsked]engine.CostLimit

func (c costs) of(g engine.Given, share, pa, ta float64) (engine.CostLimit, error) {
	k := costAsked{g, share, pa, ta}
	if l, ok := c[k]; ok {
		return l, nil
	}
	l, err := g.CostLimit(share, pa, ta)
	c[k] = l
	return l, err
}

// large is that head.
func large() *book {
	j, _ := Layout(Scheme{Cylinders: 8, Valves: 4})
	j.ID = "j1"
	k := &book{Records{Job: j}}
	for i := range 300 {
		q := 6 + float64(i%23)*float64(i%7)
		k.test(int64(i), &k.Job.Ports[i%len(j.Ports)], reading(q, 0.05+0.02*float64(i%4)).Keep().Reading(), func(c *Conditions) {
			if i%3 == 0 {
				c.Guide = GuideClosed
			}
		})
	}
	k.work(150, WorkCut)
	return k
}

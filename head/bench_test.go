package head

import (
	"testing"
)

// A head of 32 valves with 300 tests, as kept: what a job card costs.
func BenchmarkCardOf(b *testing.B) {
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
	b.ResetTimer()
	for range b.N {
		if c := k.card(); len(c.Ports) != 16 {
			b.Fatal(len(c.Ports))
		}
	}
}

package leak_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"seatproof/internal/study"
	"seatproof/leak"
)

// BenchmarkRead reads a 70 s class trace at up to 250 Hz of each size of leak.
func BenchmarkRead(b *testing.B) {
	for _, c := range []struct{ low, high float64 }{{2, 20}, {20, 200}, {200, 2000}, {2000, 4000}} {
		b.Run(fmt.Sprintf("%g-%g", c.low, c.high), func(b *testing.B) {
			type one struct{ run func() }
			var all []one
			for i := range 8 {
				r := rand.New(rand.NewPCG(7, uint64(i)))
				_, g, tr, err := study.Draw(r, study.Family{Low: c.low, High: c.high, Rate: 250})
				if err != nil {
					b.Fatal(err)
				}
				all = append(all, one{func() { leak.Read(tr, g, leak.Options{}) }})
			}
			b.ResetTimer()
			for i := range b.N {
				all[i%len(all)].run()
			}
		})
	}
}

package study

import (
	"math/rand/v2"
	"runtime"
	"sync"

	"seatproof/leak"
	"seatproof/rig"
)

// Outcome is one trace read.
type Outcome struct {
	Truth   Truth
	Wet     rig.Liquid // as stated
	Reading *leak.Reading
	Err     error
}

// Run draws n tests of the family from the seed and reads each; outcome i
// depends on seed and i alone.
func Run(f Family, n int, seed uint64) []Outcome {
	out := make([]Outcome, n)
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				r := rand.New(rand.NewPCG(seed, uint64(i)))
				t, g, tr, err := Draw(r, f)
				o := Outcome{Truth: t, Wet: g.Port.WetWith, Err: err}
				if err == nil {
					o.Reading = leak.Read(tr, g, leak.Options{})
				}
				out[i] = o
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

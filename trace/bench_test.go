package trace

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
)

// longTrace returns an invented trace of 70 s at 250 Hz as a logger writes it:
// noise of 50 Pa, steps of 10 Pa, three decimals of time.
func longTrace() []byte {
	r := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	b.WriteString("# invented trace for tests\ntime (s),vacuum (kPa)\n")
	for i := range 17500 {
		t := float64(i) / 250
		v := 0.0
		switch {
		case t > 65:
		case t > 8:
			v = 78 - 0.5*(t-8)
		case t > 3:
			v = 78
		case t > 2:
			v = 78 * (t - 2)
		}
		fmt.Fprintf(&b, "%.3f,%.2f\n", t, v+0.05*r.NormFloat64())
	}
	return b.Bytes()
}

func BenchmarkRead17500Rows(b *testing.B) {
	text := longTrace()
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		tr, err := Read(bytes.NewReader(text), ReadOptions{})
		if err != nil || tr.Len() != 17500 {
			b.Fatalf("got %d points, %v", tr.Len(), err)
		}
	}
}

func BenchmarkReadJSONLines(b *testing.B) {
	var text bytes.Buffer
	for i := range 17500 {
		fmt.Fprintf(&text, "{\"t_s\":%.3f,\"vacuum_kpa\":%.2f}\n", float64(i)/250, float64(i%7)/100)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := Read(bytes.NewReader(text.Bytes()), ReadOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

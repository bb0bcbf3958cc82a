package lines

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"seatproof/internal/source"
)

// BenchmarkParse reads one line of each of some formats.
func BenchmarkParse(b *testing.B) {
	for _, name := range []string{"plain number", "time,value", "name: value unit; others", "json", "decimal comma, semicolons", "sentence with checksum"} {
		for _, c := range formats {
			if c.name != name {
				continue
			}
			got, err := Learn(rows(40, c.line))
			if err != nil {
				b.Fatal(err)
			}
			p := got[0].Pattern.Parser()
			line := []byte(c.line(7))
			b.Run(name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := p.Parse(line); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// lot is a wire that brings n lines as fast as they are taken, in pieces as a
// port gives them.
type lot struct{ n int }

func (l lot) Carry(ctx context.Context, in *Inlet) error {
	in.Opened("", true)
	var piece []byte
	for i := range l.n {
		piece = fmt.Appendf(piece, "%d,%.2f\r\n", i, 50+0.01*float64(i%100))
		if len(piece) > 480 {
			in.Bytes(piece)
			piece = piece[:0]
		}
	}
	in.Bytes(piece)
	return nil
}

type counter struct{ n int }

func (c *counter) Take(s []source.Sample) { c.n += len(s) }
func (c *counter) Tell(source.Notice)     {}

// BenchmarkSixteenSources runs sixteen sources side by side, from bytes to
// samples and watched, and reports the time a sample takes and how many times
// faster than 1,000 samples/s each that is.
func BenchmarkSixteenSources(b *testing.B) {
	const sources, lines = 16, 10000
	a, err := source.ParseAddress("x:#value=2,time=1,time_unit=ms,of=2,unit=kPa,reads=vacuum")
	if err != nil {
		b.Fatal(err)
	}
	total := 0
	start := time.Now()
	for b.Loop() {
		var work sync.WaitGroup
		counts := make([]counter, sources)
		for i := range sources {
			s, err := New(a, lot{lines})
			if err != nil {
				b.Fatal(err)
			}
			work.Go(func() {
				if err := source.Watch(s, source.Watching{Most: 1e9}).Run(b.Context(), &counts[i]); err != nil {
					b.Error(err)
				}
			})
		}
		work.Wait()
		for _, c := range counts {
			if c.n != lines {
				b.Fatalf("%d samples of %d lines", c.n, lines)
			}
			total += c.n
		}
	}
	each := time.Since(start).Seconds() / float64(total)
	b.ReportMetric(each*1e9, "ns/sample")
	b.ReportMetric(1/(each*sources*1000), "times-16x1000/s")
}

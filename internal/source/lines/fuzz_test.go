package lines

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"seatproof/internal/source"

	"pgregory.net/rapid"
)

// FuzzLearn learns from any lines. Nothing may panic, and what is learned,
// written as options, comes back and reads the last line without a figure that
// is not finite.
func FuzzLearn(f *testing.F) {
	for _, c := range formats {
		var b strings.Builder
		for _, h := range c.head {
			b.WriteString(h + "\n")
		}
		for i := range 6 {
			b.WriteString(c.line(i) + "\n")
		}
		f.Add(b.String())
	}
	f.Add("{\"a\":[1,{\"b\":\"2 kPa\"}]}\n[[[[[[[[[1]]]]]]]]]\n-\n+\n.5\n5.\n,,,\n((\n$*00\n")
	f.Fuzz(func(t *testing.T, text string) {
		var in []Line
		for l := range strings.SplitSeq(text, "\n") {
			in = append(in, Line{Text: l})
		}
		got, err := Learn(in)
		if err != nil {
			return
		}
		for _, c := range got {
			a, err := source.ParseAddress(source.Address{Kind: "x", Options: c.Options()}.String())
			if err != nil {
				t.Fatalf("%+v can't be written: %v", c.Pattern, err)
			}
			p, known, err := PatternOf(a)
			if err != nil || !known {
				t.Fatalf("%+v does not come back: %v", c.Pattern, err)
			}
			if p.String() != c.Pattern.String() {
				t.Fatalf("%s came back as %s", c.Pattern, p)
			}
			for _, l := range in {
				r, err := p.Parse([]byte(l.Text))
				if err == nil && (math.IsNaN(r.Value) || math.IsInf(r.Value, 0) || math.IsInf(r.Clock, 0)) {
					t.Fatalf("%q gave %+v", l.Text, r)
				}
			}
		}
	})
}

// FuzzScan takes any line apart in every setting.
func FuzzScan(f *testing.F) {
	for _, c := range formats {
		f.Add([]byte(c.line(7)))
	}
	f.Add([]byte("+\xe2\x88\x92"))
	f.Add([]byte("- "))
	f.Add([]byte("+     "))
	f.Fuzz(func(t *testing.T, line []byte) {
		before := bytes.Clone(line)
		for _, dec := range []byte{'.', ','} {
			for _, glued := range []bool{false, true} {
				s := scanner{dec: dec, glued: glued, units: newUnitCache()}
				for _, x := range s.scan(line) {
					if x.some && (math.IsNaN(x.x) || math.IsInf(x.x, 0)) {
						t.Fatalf("%q holds %g", line, x.x)
					}
				}
			}
		}
		if !bytes.Equal(line, before) {
			t.Fatalf("%q was changed into %q", before, line)
		}
	})
}

// Lines that are parted anywhere come out the same, whatever ends them.
func TestSplitterAnyPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.StringMatching(`[ -~]{1,30}`), 1, 10).Draw(t, "lines")
		end := rapid.SampledFrom([]string{"\n", "\r", "\r\n", "\n\r"}).Draw(t, "end")
		stream := strings.Join(want, end) + end
		var got []string
		s := splitter{got: func(l []byte) { got = append(got, string(l)) }, half: func([]byte) { t.Fatal("half") }, tooLong: func(int) { t.Fatal("too long") }}
		s.reset(true)
		for len(stream) > 0 {
			n := rapid.IntRange(1, len(stream)).Draw(t, "piece")
			s.write([]byte(stream[:n]))
			stream = stream[n:]
		}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Fatalf("got %q, want %q", got, want)
		}
	})
}

func TestSplitterOverlong(t *testing.T) {
	var got []string
	long := 0
	s := splitter{got: func(l []byte) { got = append(got, string(l)) }, half: func([]byte) {}, tooLong: func(n int) { long += n }}
	s.reset(true)
	piece := bytes.Repeat([]byte("x"), 1000)
	for range 10000 {
		s.write(piece)
	}
	if c := cap(s.line); c > 2*longestLine {
		t.Errorf("10 MB without a line end hold %d bytes", c)
	}
	s.write([]byte("\n78.3\n"))
	if long != 10_000_000 || len(got) != 1 || got[0] != "78.3" {
		t.Errorf("%d bytes told, lines %q", long, got)
	}
}

// A device that ends no lines, but pauses between them.
func TestSplitterPauses(t *testing.T) {
	var got []string
	s := splitter{got: func(l []byte) { got = append(got, string(l)) }, half: func([]byte) {}, tooLong: func(int) {}}
	s.reset(false)
	for range 6 {
		s.write([]byte("78.3 kPa "))
		s.pause()
	}
	if len(got) != 3 || got[0] != "78.3 kPa " {
		t.Errorf("got %q", got)
	}
}

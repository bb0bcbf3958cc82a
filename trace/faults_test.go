package trace

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"
)

const head = "time (s),vacuum (kPa)\n"

// rows writes rows of time and value.
func rows(t, v []float64) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range t {
		fmt.Fprintf(&b, "%.3f,%.2f\n", t[i], v[i])
	}
	return b.String()
}

func TestReadDropsRows(t *testing.T) {
	for _, c := range []struct {
		name, text string
		times      []float64
		rows       int
		dropped    int
		first      int
		why        string
	}{
		{"none", head + "0,1\n1,2\n", []float64{0, 1}, 2, 0, 0, ""},
		{"NaN", head + "0,1\n1,NaN\n2,3\n", []float64{0, 2}, 3, 1, 3, "not finite"},
		{"infinite", head + "0,1\n1,-Inf\n2,3\n", []float64{0, 2}, 3, 1, 3, "not finite"},
		{"too large for a float", head + "0,1\n1,1e999\n2,3\n", []float64{0, 2}, 3, 1, 3, "not a figure"},
		{"beyond reason", head + "0,1\n1,1e12\n2,3\n", []float64{0, 2}, 3, 1, 3, "beyond"},
		{"time beyond reason", head + "0,1\n1e300,1\n2,3\n", []float64{0, 2}, 3, 1, 3, "beyond"},
		{"empty cell", head + "0,1\n1,\n2,3\n", []float64{0, 2}, 3, 1, 3, "empty"},
		{"empty time", head + "0,1\n,7\n2,3\n", []float64{0, 2}, 3, 1, 3, "empty"},
		{"empty cells before tabs", "note\ttime (s)\tvacuum (kPa)\ttemp (°C)\n\t0\t1\t20\n\t1\tx\t20\n\t2\t3\t20\n", []float64{0, 2}, 3, 1, 3, "not a figure"},
		{"text", head + "0,1\n1,over\n2,3\n", []float64{0, 2}, 3, 1, 3, `"over" is not a figure`},
		{"text row", head + "0,1\nsensor lost\n2,3\n", []float64{0, 2}, 3, 1, 3, "has 1 of 2 cells"},
		{"short row", head + "0,1\n1\n2,3\n", []float64{0, 2}, 3, 1, 3, "has 1 of 2 cells"},
		{"long row", head + "0,1\n1,2,3\n2,3\n3,4\n", []float64{0, 2, 3}, 4, 1, 3, "has 3 cells instead of 2"},
		{"trailing delimiter", head + "0,1,\n1,2,\n", []float64{0, 1}, 2, 0, 0, ""},
		{"header again", head + "0,1\n" + head + "2,3\n", []float64{0, 2}, 3, 1, 3, "not a figure"},
		{"first row bad", head + "0,nan\n1,2\n2,3\n", []float64{0, 1}, 3, 1, 2, "not finite"},
		{"zero bytes at the end", head + "0,1\n1,2\n\x00\x00\x00\x00", []float64{0, 1}, 3, 1, 4, "cells"},
		{"other decimal mark", "time (s);vacuum (kPa)\n0,5;1,5\n1,5;1.234\n2,5;3\n", []float64{0, 2}, 3, 1, 3, "another decimal mark"},
		{"thousands", "time (s);vacuum (kPa)\n0;1.5\n1;1,234.5\n2;3.5\n", []float64{0, 2}, 3, 1, 3, "both a point and a comma"},
		{"one row out of order", head + "0,1\n1,2\n2,3\n1.5,9\n3,4\n4,5\n", []float64{0, 1, 2, 3, 4}, 6, 1, 5, "out of order"},
		{"two rows out of order", head + "0,1\n1,2\n2,3\n.5,9\n.6,9\n3,4\n", []float64{0, 1, 2, 3}, 6, 2, 5, "out of order"},
		{"one row jumped ahead", head + "0,1\n1,2\n50,3\n2,4\n3,5\n4,6\n5,7\n", []float64{0, 1, 2, 3, 4, 5}, 7, 1, 4, "out of order"},
		{"one row jumped ahead at the end", head + "0,1\n1,2\n2,3\n50,3\n3,4\n", []float64{0, 1, 2, 3}, 5, 1, 5, "out of order"},
		{"first row jumped ahead", head + "70,1\n1,2\n2,3\n3,4\n4,5\n", []float64{0, 1, 2, 3}, 5, 1, 2, "out of order"},
		{"out of order at the end", head + "0,1\n1,2\n2,3\n1,9\n", []float64{0, 1, 2}, 4, 1, 5, "out of order"},
		{"stamp of another day's form", "time,vacuum (kPa)\n12:00:00,1\n12:00:01,2\n2026-05-04 12:00:02,3\n12:00:03,4\n", []float64{0, 1, 3}, 4, 1, 4, "another kind"},
		{"false midnight", "time,vacuum (kPa)\n14:00:00,1\n14:00:01,2\n00:00:00,3\n14:00:03,4\n14:00:04,4\n", []float64{0, 1, 3, 4}, 5, 1, 4, "out of order"},
		{"JSON key missing", "{\"t_s\":0,\"vacuum_kpa\":1}\n{\"t_s\":1}\n{\"t_s\":2,\"vacuum_kpa\":null}\nwhat\n{\"t_s\":3,\"vacuum_kpa\":2}\n", []float64{0, 3}, 5, 3, 2, "empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := mustReadText(t, c.text, ReadOptions{})
			f := tr.Faults
			if f.Rows != c.rows || f.Dropped != c.dropped || f.FirstDropped != c.first || !strings.Contains(f.DroppedWhy, c.why) {
				t.Errorf("got %d rows, %d dropped from line %d: %s; want %d, %d, %d: %s", f.Rows, f.Dropped, f.FirstDropped, f.DroppedWhy, c.rows, c.dropped, c.first, c.why)
			}
			for i := range tr.Time {
				tr.Time[i] = math.Round(tr.Time[i]*1e6) / 1e6
			}
			if !slices.Equal(tr.Time, c.times) {
				t.Errorf("got times %v, want %v", tr.Time, c.times)
			}
			if f.ClockBackLine != 0 {
				t.Errorf("got clock back at line %d, want none", f.ClockBackLine)
			}
		})
	}
}

func TestReadStopsWhereClockSteppedBack(t *testing.T) {
	for _, c := range []struct {
		name, text string
		line       int
		by         float64
		points     int
	}{
		{"three rows go on", head + "0,1\n1,2\n2,3\n0.5,4\n1.5,5\n1.9,6\n", 5, 1.5, 3},
		// two rows out of order, then one at the last time again
		{"catches up at once", head + "0,1\n1,2\n2,3\n0,4\n1,5\n2,6\n3,7\n", 0, 0, 5},
		{"long before", head + "10,1\n11,2\n12,3\n0,4\n1,5\n2,6\n13,7\n", 5, 12, 3},
		{"runs backwards", head + "20,1\n19,2\n18,3\n17,4\n16,5\n15,6\n14,7\n13,8\n12,9\n11,9\n", 3, 1, 1},
		{"clock put back an hour", "time,vacuum (kPa)\n12:59:57,1\n12:59:58,1\n12:59:59,2\n12:00:00,3\n12:00:01,4\n12:00:02,5\n12:00:03,6\n", 5, 3599, 3},
	} {
		tr := mustReadText(t, c.text, ReadOptions{})
		f := tr.Faults
		if f.ClockBackLine != c.line {
			t.Errorf("%s: got line %d, want %d", c.name, f.ClockBackLine, c.line)
			continue
		}
		if math.Abs(f.ClockBackBy-c.by) > 1e-9 || tr.Len() != c.points {
			t.Errorf("%s: got by %v s, %d points; want %v, %d", c.name, f.ClockBackBy, tr.Len(), c.by, c.points)
		}
	}
}

func TestReadRepeatedStamps(t *testing.T) {
	tr := mustReadText(t, head+"0,1\n1,2\n1,2.5\n2,3\n3,4\n", ReadOptions{})
	if tr.Faults.Repeated != 1 || !slices.Equal(tr.Time, []float64{0, 1, 1, 2, 3}) {
		t.Errorf("a doubled row: got %d repeated, times %v", tr.Faults.Repeated, tr.Time)
	}
}

// Ten rows a second whose stamps are cut to the full second; recording began
// 0.6 s into one and paused for a minute.
func TestReadCoarseStamps(t *testing.T) {
	for _, n := range []int{300, 20_000} {
		var b strings.Builder
		b.WriteString("Time;Vacuum (kPa)\n")
		var want []float64
		for i := range n {
			x := 0.6 + float64(i)/10
			if i >= n/2 {
				x += 60
			}
			x = math.Round(x*10) / 10
			want = append(want, x-0.6)
			s := int(x + 1e-9)
			fmt.Fprintf(&b, "%02d:%02d:%02d;%d,5\n", 10+s/3600, s/60%60, s%60, i%50)
		}
		tr := mustReadText(t, b.String(), ReadOptions{})
		if tr.Len() != n {
			t.Fatalf("got %d points, want %d", tr.Len(), n)
		}
		bad := 0
		for i := range want {
			if math.Abs(tr.Time[i]-want[i]) > 0.021 {
				bad++
			}
		}
		if bad > 0 {
			t.Errorf("%d of %d times are off by more than 0.02 s", bad, n)
		}
		f := tr.Faults
		if math.Abs(f.Interval-0.1) > 1e-6 || f.Gaps != 1 || math.Abs(f.LongestGap-60.1) > 0.03 || f.Jitter > 0.01 {
			t.Errorf("got %+v, want an interval of 0.1 s and one gap of 60.1 s", f)
		}
		if f.Repeated < n*8/10 {
			t.Errorf("got %d repeated of %d", f.Repeated, n)
		}
	}
}

func TestReadGapsAndJitter(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var ts, vs []float64
	x := 0.0
	for i := range 1000 {
		ts = append(ts, x)
		vs = append(vs, float64(i%10))
		x += 0.1 + 0.01*r.NormFloat64()
		switch i {
		case 200:
			x += 0.7
		case 500:
			x += 3
		case 700:
			x += 0.2 // three intervals: no gap
		}
	}
	f := mustReadText(t, rows(ts, vs), ReadOptions{}).Faults
	if f.Gaps != 2 || math.Abs(f.LongestGap-3.1) > 0.05 {
		t.Errorf("got %d gaps, longest %v s, want 2, 3.1", f.Gaps, f.LongestGap)
	}
	if math.Abs(f.Interval-0.1) > 0.002 || math.Abs(f.Jitter-0.1) > 0.02 {
		t.Errorf("got interval %v, jitter %v, want 0.1, 0.1", f.Interval, f.Jitter)
	}
	// the same from the classes that count once neighbours are averaged
	g := mustReadText(t, rows(ts, vs), ReadOptions{MaxPoints: 64}).Faults
	if g.Gaps != 2 || math.Abs(g.LongestGap-f.LongestGap) > 1e-9 || math.Abs(g.Interval-f.Interval) > 0.001*f.Interval || math.Abs(g.Jitter-f.Jitter) > 0.01 {
		t.Errorf("got %+v when decimated, want %+v", g, f)
	}
}

// A test of fast pull, hold and vent with noise and steps, at several rates.
func quietTest(rate, noise, step float64, r *rand.Rand) (ts, vs []float64) {
	for i := range int(30 * rate) {
		t := float64(i) / rate
		v := 0.0
		switch {
		case t > 28.02:
		case t > 28:
			v = 70 * (28.02 - t) / 0.02
		case t > 10:
			v = 78 - 0.2*(t-10)
		case t > 3:
			v = 78 * -math.Expm1(-(t-3)/0.08)
		}
		v += noise * r.NormFloat64()
		if step > 0 {
			v = math.Round(v/step) * step
		}
		ts, vs = append(ts, t), append(vs, v)
	}
	return ts, vs
}

func TestSpikes(t *testing.T) {
	for _, rate := range []float64{4, 10, 50, 250} {
		for _, noise := range []float64{0, 0.02, 0.25} {
			for _, step := range []float64{0, 0.05, 0.5} {
				r := rand.New(rand.NewPCG(uint64(rate), uint64(noise*100+step*1000)))
				ts, vs := quietTest(rate, noise, step, r)
				tr := mustReadText(t, rows(ts, vs), ReadOptions{})
				if tr.Faults.Spikes != 0 || tr.Len() != len(ts) {
					t.Errorf("%v Hz, noise %v, step %v kPa: got %d spikes in a clean trace", rate, noise, step, tr.Faults.Spikes)
				}
				// three in the vented part, the pull's end and the hold
				spiked := slices.Clone(vs)
				at := []int{int(1.5 * rate), int(8 * rate), int(20 * rate)}
				for k, i := range at {
					spiked[i] += []float64{15, -30, 22}[k]
				}
				tr = mustReadText(t, rows(ts, spiked), ReadOptions{})
				if tr.Faults.Spikes != 3 || tr.Len() != len(ts)-3 {
					t.Errorf("%v Hz, noise %v, step %v kPa: got %d spikes, want 3", rate, noise, step, tr.Faults.Spikes)
				}
				for _, i := range at {
					if slices.ContainsFunc(tr.Time, func(x float64) bool { return math.Abs(x-ts[i]) < 1e-4 }) && tr.Faults.Spikes == 3 {
						t.Errorf("%v Hz, noise %v, step %v kPa: the spike at %v s was kept", rate, noise, step, ts[i])
					}
				}
			}
		}
	}
}

func TestNoSpikes(t *testing.T) {
	for _, c := range []struct {
		name string
		v    []float64
	}{
		{"pull vented at its end", []float64{0, 0, 0, 0, 40, 78, 30, 0, 0, 0, 0}},
		{"overshoot", []float64{0, 0, 0, 0, 80, 75, 75, 75, 75, 75}},
		{"one step up and back", []float64{0, 0, 0, 0, 0.5, 0, 0, 0, 0.5, 0, 0}},
		{"vent at once", []float64{78, 78, 78, 78, 0, 0, 0, 0}},
		{"flicker", []float64{5, 5.6, 5, 5.6, 5, 5, 5.6, 5, 5.6, 5, 5, 5, 5.6, 5}},
		{"first and last", []float64{50, 1, 1.1, 1, 1, 1.1, 1, 50}},
	} {
		var ts []float64
		for i := range c.v {
			ts = append(ts, float64(i)/10)
		}
		if f := mustReadText(t, rows(ts, c.v), ReadOptions{}).Faults; f.Spikes != 0 {
			t.Errorf("%s: got %d spikes in %v", c.name, f.Spikes, c.v)
		}
	}
}

// Spikes are found across the seams of the stretches the reader works in, and
// kept out of the means.
func TestSpikesAcrossChunks(t *testing.T) {
	n := 3 * chunkRows
	r := rand.New(rand.NewPCG(5, 6))
	var ts, vs []float64
	count := 0
	for i := range n {
		ts = append(ts, float64(i)/100)
		v := 50 + 0.05*r.NormFloat64()
		if i%101 == 100 || i == chunkRows-contextRows-1 || i == chunkRows-contextRows || i == chunkRows-1 {
			v += 40
			count++
		}
		vs = append(vs, v)
	}
	// two of them are neighbours, so are none
	if got := mustReadText(t, rows(ts, vs), ReadOptions{}).Faults.Spikes; got != count-2 {
		t.Errorf("got %d spikes, want %d", got, count-2)
	}
	vs[chunkRows-contextRows] = 50
	tr := mustReadText(t, rows(ts, vs), ReadOptions{MaxPoints: 256})
	if tr.Faults.Spikes != count-1 {
		t.Errorf("got %d spikes, want %d", tr.Faults.Spikes, count-1)
	}
	for i, v := range tr.Value {
		if math.Abs(v-50e3) > 100 {
			t.Fatalf("point %d: got %v Pa, a spike went into the mean", i, v)
		}
	}
}

func TestStep(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		name        string
		step, noise float64 // kPa
		format      string
		want        float64 // Pa
		tol         float64
	}{
		{"grid of the last decimal", 0.01, 0.05, "%.2f", 10, 1e-9},
		{"five of the last decimal", 0.05, 0.05, "%.2f", 50, 1e-9},
		{"noise below the step", 0.5, 0.1, "%.1f", 500, 1e-9},
		{"small noise, wide step", 0.1, 0.02, "%.3f", 100, 1e-9},
		{"large noise, small step", 0.01, 0.25, "%.3f", 10, 1e-9},
		{"converter's step", 0.0373, 0.1, "%.4f", 37.3, 0.01},
		{"converter's step, many digits", 1.0 / 37, 0.05, "%.6f", 1000.0 / 37, 0.001},
		{"no rounding", 0, 0.05, "%.4f", 0.1, 1e-9},
		{"all digits of a float", 0, 0.05, "%.17g", 0, 0},
	} {
		var b strings.Builder
		b.WriteString(head)
		for i := range 3000 {
			v := 20 + 0.01*float64(i) + c.noise*r.NormFloat64()
			if c.step > 0 {
				v = math.Round(v/c.step) * c.step
			}
			fmt.Fprintf(&b, "%.3f,"+c.format+"\n", float64(i)/100, v)
		}
		if got := mustReadText(t, b.String(), ReadOptions{}).Step; math.Abs(got-c.want) > c.tol {
			t.Errorf("%s: got %v Pa, want %v ± %v", c.name, got, c.want, c.tol)
		}
	}
}

func TestDecimation(t *testing.T) {
	const n, most = 10_007, 128
	var ts, vs []float64
	sum := 0.0
	for i := range n {
		ts = append(ts, float64(i)/100)
		vs = append(vs, math.Round(100*(20+float64(i)/500))/100)
		sum += vs[i]
	}
	text := rows(ts, vs)
	tr := mustReadText(t, text, ReadOptions{MaxPoints: most})
	if tr.Len() > most || tr.Len() < most/2 || len(tr.Count) != tr.Len() {
		t.Fatalf("got %d points, %d counts", tr.Len(), len(tr.Count))
	}
	total, mean, k := 0, 0.0, 0
	for i, c := range tr.Count {
		total += int(c)
		mean += float64(c) * tr.Value[i] / 1e3
		want := 0.0
		for range c {
			want += ts[k] / float64(c)
			k++
		}
		if math.Abs(tr.Time[i]-want) > 1e-9 {
			t.Fatalf("point %d: got time %v, want the mean of its samples %v", i, tr.Time[i], want)
		}
	}
	if total != n || math.Abs(mean-sum) > 1e-6*sum {
		t.Errorf("got %d samples, sum %v; want %d, %v", total, mean, n, sum)
	}
	for _, m := range []int{n, n + 1, 0} {
		if tr := mustReadText(t, text, ReadOptions{MaxPoints: m + m%2}); tr.Len() != n || tr.Count != nil {
			t.Errorf("at most %d points: got %d, counts %v", m, tr.Len(), tr.Count != nil)
		}
	}
}

// generator writes rows of an invented trace without end of memory.
type generator struct {
	row, rows int
	rest      []byte
	buf       []byte
}

func (g *generator) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		if len(g.rest) == 0 {
			if g.row > g.rows {
				break
			}
			g.rest = g.next()
		}
		k := copy(p[n:], g.rest)
		g.rest = g.rest[k:]
		n += k
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

func (g *generator) next() []byte {
	b := g.buf[:0]
	if g.row == 0 {
		b = append(b, head...)
	} else {
		i := g.row - 1
		b = appendThousandths(b, i*4) // 250 Hz
		b = append(b, ',')
		b = appendThousandths(b, 60_000+(i*7919)%97)
		b = append(b, '\n')
	}
	g.row++
	g.buf = b
	return b
}

func appendThousandths(b []byte, n int) []byte {
	var d [20]byte
	i := len(d)
	for k := 0; k < 4 || n > 0; k++ {
		if k == 3 {
			i--
			d[i] = '.'
		}
		i--
		d[i] = byte('0' + n%10)
		n /= 10
	}
	return append(b, d[i:]...)
}

func TestReadTenMillionRows(t *testing.T) {
	if testing.Short() {
		t.Skip("reads ten million rows")
	}
	const n = 10_000_000
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	tr, err := Read(&generator{rows: n, buf: make([]byte, 0, 64)}, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	total := 0
	for _, c := range tr.Count {
		total += int(c)
	}
	if tr.Len() > defaultMaxPoints || total != n || tr.Faults.Rows != n || tr.Faults.Dropped+tr.Faults.Spikes != 0 {
		t.Errorf("got %d points of %d samples, %+v", tr.Len(), total, tr.Faults)
	}
	if math.Abs(tr.Faults.Interval-0.004) > 0.004*0.001 {
		t.Errorf("got an interval of %v s, want 0.004", tr.Faults.Interval)
	}
	// All that was ever allocated, not only what was held at once: the points
	// take 20 bytes each.
	if used := after.TotalAlloc - before.TotalAlloc; used > 8*20*defaultMaxPoints {
		t.Errorf("allocated %d bytes, want at most %d", used, 8*20*defaultMaxPoints)
	}
}

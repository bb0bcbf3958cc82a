package report

import (
	"math"

	"seatproof/trace"
)

// Point is a point of a drawing: s, Pa of vacuum as the gauge showed it.
type Point struct{ Time, Vacuum float64 }

// Sketch is a trace thinned for drawing: of each stretch of time the deepest
// and the shallowest point are kept, so that no spike is lost.
type Sketch struct {
	All  []Point // the whole trace
	Hold []Point // the hold, finer
	Hand bool    // the points are readings by eye
}

const (
	sketchAll  = 700 // stretches of the whole trace
	sketchHold = 500 // of the hold
)

// NewSketch thins t; phases (of the reading) say where it is vented, which is
// zero of the drawing, and where the hold is. zero is what the trace's depth
// (trace.Depth) is with the port open [Pa], for a trace that is nowhere vented.
// The trace is not kept.
func NewSketch(t *trace.Trace, phases []trace.Phase, zero float64) Sketch {
	if len(t.Hand) > 0 {
		s := Sketch{Hand: true}
		for _, h := range t.Hand {
			s.All = append(s.All, Point{h.Time, h.Value})
		}
		s.Hold = s.All
		return s
	}
	depth := t.Depth()
	for _, p := range phases {
		if p.Name == trace.Vented && p.First >= 0 && p.First <= p.Last && p.Last < len(depth) {
			sum := 0.0
			for _, v := range depth[p.First : p.Last+1] {
				sum += v
			}
			zero = sum / float64(p.Last-p.First+1)
			break
		}
	}
	vacuum := func(i int) float64 { return depth[i] - zero }
	s := Sketch{All: thin(t.Time, vacuum, 0, t.Len()-1, sketchAll)}
	if h := holdOf(phases); h != nil && h.First >= 0 && h.Last < t.Len() {
		s.Hold = thin(t.Time, vacuum, h.First, h.Last, sketchHold)
	}
	return s
}

// holdOf returns the longest hold, or nil.
func holdOf(phases []trace.Phase) *trace.Phase {
	var hold *trace.Phase
	for i := range phases {
		p := &phases[i]
		if p.Name == trace.Hold && (hold == nil || p.To-p.From > hold.To-hold.From) {
			hold = p
		}
	}
	return hold
}

// thin keeps at most two points of each of n stretches between the points
// first and last, in the order they came.
func thin(time []float64, vacuum func(int) float64, first, last, n int) []Point {
	if last < first {
		return nil
	}
	if last-first < 2*n {
		out := make([]Point, 0, last-first+1)
		for i := first; i <= last; i++ {
			out = appendFinite(out, time[i], vacuum(i))
		}
		return out
	}
	out := make([]Point, 0, 2*n)
	total := last - first + 1
	for b := range n {
		from, to := first+b*total/n, first+(b+1)*total/n
		lo, hi := from, from
		for i := from; i < to; i++ {
			v := vacuum(i)
			if v < vacuum(lo) {
				lo = i
			}
			if v > vacuum(hi) {
				hi = i
			}
		}
		a, z := min(lo, hi), max(lo, hi)
		out = appendFinite(out, time[a], vacuum(a))
		if z != a {
			out = appendFinite(out, time[z], vacuum(z))
		}
	}
	return out
}

func appendFinite(out []Point, t, v float64) []Point {
	if math.IsNaN(t-t) || math.IsNaN(v-v) { // not a number, or endless
		return out
	}
	return append(out, Point{t, v})
}

// extent returns the least and largest time and vacuum; ok is false for an
// empty sketch.
func extent(p []Point) (t0, t1, v0, v1 float64, ok bool) {
	if len(p) == 0 {
		return 0, 0, 0, 0, false
	}
	t0, t1 = p[0].Time, p[0].Time
	v0, v1 = p[0].Vacuum, p[0].Vacuum
	for _, q := range p {
		t0, t1 = min(t0, q.Time), max(t1, q.Time)
		v0, v1 = min(v0, q.Vacuum), max(v1, q.Vacuum)
	}
	return t0, t1, v0, v1, true
}

var blocks = []rune("▁▂▃▄▅▆▇█")

// Sparkline draws the trace in block characters, width of them, deepest vacuum
// highest. It is empty where there is nothing to draw.
func (s Sketch) Sparkline(width int) string {
	t0, t1, _, top, ok := extent(s.All)
	if !ok || width < 1 || !(top > 0) || s.Hand || t1 <= t0 {
		return ""
	}
	sum, n := make([]float64, width), make([]int, width)
	for _, p := range s.All {
		c := min(width-1, int(float64(width)*(p.Time-t0)/(t1-t0)))
		sum[c] += p.Vacuum
		n[c]++
	}
	line := make([]rune, width)
	last := 0
	for c := range line {
		if n[c] > 0 {
			level := sum[c] / float64(n[c]) / top
			last = max(0, min(len(blocks)-1, int(math.Round(level*float64(len(blocks)-1)))))
		}
		line[c] = blocks[last] // a pause keeps the level before it
	}
	return string(line)
}

package report

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"seatproof/gas"
	"seatproof/leak"
	"seatproof/trace"
)

// A sketch of a long trace is small, in order, and keeps every spike.
func TestThinKeepsSpikes(t *testing.T) {
	tr := &trace.Trace{Kind: trace.Vacuum}
	const n = 100_000
	for i := range n {
		v := 50e3
		if i == 41_234 {
			v = 90e3
		}
		if i == 77_777 {
			v = -3e3
		}
		if i == 60_000 {
			v = math.NaN()
		}
		tr.Time = append(tr.Time, float64(i)/250)
		tr.Value = append(tr.Value, v)
	}
	s := NewSketch(tr, nil, 0)
	if len(s.All) > 2*sketchAll {
		t.Errorf("%d points, want at most %d", len(s.All), 2*sketchAll)
	}
	_, _, lo, hi, ok := extent(s.All)
	if !ok || lo != -3e3 || hi != 90e3 {
		t.Errorf("from %v to %v, want -3000 to 90000", lo, hi)
	}
	for i := 1; i < len(s.All); i++ {
		if s.All[i].Time < s.All[i-1].Time {
			t.Fatalf("time falls at point %d", i)
		}
	}
}

// The drawing's zero is the vented reading; absolute pressures become
// vacuums by it.
func TestSketchNought(t *testing.T) {
	tr := &trace.Trace{Kind: trace.Absolute, Time: []float64{0, 1, 2, 3}, Value: []float64{99.8e3, 100.2e3, 40e3, 45e3}}
	phases := []trace.Phase{{Name: trace.Vented, First: 0, Last: 1}, {Name: trace.Hold, From: 2, To: 3, First: 2, Last: 3}}
	s := NewSketch(tr, phases, -101325)
	if len(s.Hold) != 2 || math.Abs(s.Hold[0].Vacuum-60e3) > 1e-6 {
		t.Errorf("hold %v, want to begin at 60 kPa", s.Hold)
	}
	if s = NewSketch(tr, nil, -101325); math.Abs(s.All[2].Vacuum-61325) > 1e-6 {
		t.Errorf("not vented: %v, want 61.325 kPa", s.All[2])
	}
	if s = NewSketch(&trace.Trace{}, nil, 0); s.Sparkline(10) != "" || len(s.All) != 0 {
		t.Errorf("an empty trace gives %+v", s)
	}
}

func TestSparkline(t *testing.T) {
	s := Sketch{All: []Point{{0, 0}, {1, 0}, {2, 70e3}, {3, 70e3}, {9, 35e3}}}
	got := s.Sparkline(10)
	if got != "▁▁████████" && utf8.RuneCountInString(got) != 10 {
		t.Errorf("got %q", got)
	}
	if !strings.HasPrefix(got, "▁▁█") || !strings.HasSuffix(got, "▅") {
		t.Errorf("got %q, want low, high, and half at the end", got)
	}
	if (Sketch{All: []Point{{0, 0}, {1, 0}}}).Sparkline(10) != "" {
		t.Error("a trace that never left zero has a sparkline")
	}
}

// An opening, choked, makes the vacuum fall as a straight line: pa q/V a second
// (docs/model.md §3), here 20 cm³/min against 60 on 157 cm³.
func TestOtherHoldChoked(t *testing.T) {
	const room, vol, q = 101325.0, 157e-6, 20 * perCm3min
	rate := room * q / vol
	o := &Outcome{Room: room, Volume: vol, Reading: &leak.Reading{Share: &leak.Interval{Median: 1}}}
	for i := range 11 {
		o.Reading.Curve = append(o.Reading.Curve, leak.CurvePoint{Time: float64(i), Vacuum: 76e3 - rate*float64(i)})
	}
	for i, p := range o.other(q, 3*q, 0) {
		if want := 76e3 - 3*rate*float64(i); math.Abs(p.Vacuum-want) > 1e-6*want {
			t.Errorf("%d s: %.3f Pa, want %.3f", i, p.Vacuum, want)
		}
	}
	for i, p := range o.other(q, q, 0) {
		if got, want := p.Vacuum, o.Reading.Curve[i].Vacuum; math.Abs(got-want) > 1e-9*want {
			t.Errorf("the same leak moves the curve: %v, want %v", got, want)
		}
	}
	// Ahead of the fit it goes on, choked, in a straight line to the time asked for.
	ahead := o.other(q, 3*q, 30)
	if end, want := ahead[len(ahead)-1], 76e3-3*rate*30; end.Time != 30 || math.Abs(end.Vacuum-want) > 1e-6*want {
		t.Errorf("at 30 s: %+v, want %.3f Pa", end, want)
	}
	// Without a volume the curve itself says how fast a leak makes it fall.
	o.Volume = 0
	last := o.other(q, 3*q, 0)
	if want := 76e3 - 30*rate; math.Abs(last[10].Vacuum-want) > 1e-6*want {
		t.Errorf("volume from the curve: %.2f Pa, want %.2f", last[10].Vacuum, want)
	}
}

// Below choking a seep's fall is pa tanh(K pa t + atanh(p0/pa)) (closed form,
// docs/model.md §3): here against the drawing's integration.
func TestOtherHoldSeep(t *testing.T) {
	const room, vol, q, p0 = 101325.0, 157e-6, 300 * perCm3min, 25e3
	r50 := (room - gas.StatedVacuum) / room
	k := q / vol / (1 - r50*r50) // dr/dt = k (1 - r²)
	v := room - p0
	for i := 1; i <= 20; i++ {
		v = fallen(v, 0.5, q*room/vol, 0, room)
		if want := room - room*math.Tanh(k*0.5*float64(i)+math.Atanh(p0/room)); math.Abs(v-want) > 2e-4*room {
			t.Errorf("%.1f s: %.1f Pa, want %.1f", 0.5*float64(i), v, want)
		}
	}
}

func TestOtherHoldRefuses(t *testing.T) {
	curve := []leak.CurvePoint{{Time: 0, Vacuum: 70e3}, {Time: 1, Vacuum: 69e3}}
	for name, o := range map[string]*Outcome{
		"no curve":  {Room: 101325, Volume: 1e-4, Reading: &leak.Reading{}},
		"no room":   {Volume: 1e-4, Reading: &leak.Reading{Curve: curve}},
		"high room": {Room: 45e3, Volume: 1e-4, Reading: &leak.Reading{Curve: curve}},
	} {
		if got := o.other(1e-7, 2e-7, 0); got != nil {
			t.Errorf("%s: %v, want nothing to draw", name, got)
		}
	}
	o := &Outcome{Room: 101325, Volume: 1e-4, Reading: &leak.Reading{Curve: curve}}
	if o.other(math.NaN(), 1e-7, 0) != nil {
		t.Error("a leak that is no number is drawn")
	}
}

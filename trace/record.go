package trace

import (
	"math"
	"slices"

	"seatproof/unit"
)

const (
	chunkRows   = 4096
	contextRows = 24  // rows on either side that the spike finder looks at
	farthest    = 1e9 // Pa; nothing on a bench is further from nothing
	longestRun  = 1e11
	// lateRows is how many rows must go on from an earlier time before the
	// clock is taken to have stepped back.
	lateRows = 3
)

// recorder takes rows in the order of the file, sees to their times, leaves
// out what cannot be used, and hands the rest to the decimator.
//
// It keeps a stretch of rows in hand: spikes need their neighbours, and a row
// whose time is wrong is only known by those after it.
type recorder struct {
	scale     float64 // from times as read to seconds
	tMost     float64 // largest |time| and |value| as read that are believed
	vMost     float64
	lay       *layout
	shift     float64
	t, v      []float64 // rows in hand, in the units of the file
	w         []int32
	line      []int
	context   int // rows at the front that were handed on already
	late      []lateRow
	lateCount int // late rows in a row
	lateLine  int
	lateTime  float64
	stopped   bool
	started   bool
	t0        float64
	coarse    coarseStamps
	grid      gridFinder
	out       decimator
	faults    Faults
}

// lateRow is a row whose time lies before that of a row above it.
type lateRow struct {
	t, v float64
	w    int32
	line int
}

func newRecorder(l *layout, maxPoints int) *recorder {
	if maxPoints <= 0 {
		maxPoints = defaultMaxPoints
	}
	r := &recorder{
		lay:   l,
		scale: l.seconds(),
		vMost: math.Abs(l.pressureUnit().FromSI(farthest)),
		out:   decimator{most: max(2, maxPoints&^1), rows: 1},
	}
	r.tMost = longestRun / r.scale
	r.t = make([]float64, 0, chunkRows)
	r.v = make([]float64, 0, chunkRows)
	if l.ccol >= 0 {
		r.w = make([]int32, 0, chunkRows)
	}
	r.line = make([]int, 0, chunkRows)
	return r
}

// drop leaves out a row that could not be read.
func (r *recorder) drop(line int, f rowFault) {
	r.faults.Rows++
	r.faults.Dropped++
	if r.faults.FirstDropped == 0 || line < r.faults.FirstDropped {
		r.faults.FirstDropped, r.faults.DroppedWhy = line, r.lay.explain(f)
	}
}

// leaveOut leaves out a row that was counted already; why is only asked for
// the first one.
func (r *recorder) leaveOut(line int, why func() string) {
	r.faults.Dropped++
	if r.faults.FirstDropped == 0 || line < r.faults.FirstDropped {
		r.faults.FirstDropped, r.faults.DroppedWhy = line, why()
	}
}

func outOfOrder() string { return "its time is out of order" }

// add takes a row with its time and value in the units of the file.
func (r *recorder) add(line int, t, v float64, w int32) {
	r.faults.Rows++
	if !(math.Abs(v) <= r.vMost) || !(math.Abs(t) <= r.tMost) {
		r.leaveOut(line, func() string { return "its figures are beyond all reason" })
		return
	}
	n := len(r.t)
	if n > 0 {
		if r.lay.stamps {
			t = r.acrossMidnight(t, r.t[n-1])
		}
		if last := r.t[n-1]; t <= last || len(r.late) > 0 {
			if t < last || len(r.late) > 0 {
				r.addLate(lateRow{t, v, w, line})
				return
			}
			r.faults.Repeated++
		}
	}
	r.lateCount = 0
	r.push(line, t, v, w)
}

func (r *recorder) push(line int, t, v float64, w int32) {
	r.t = append(r.t, t)
	r.v = append(r.v, v)
	if r.w != nil {
		r.w = append(r.w, w)
	}
	r.line = append(r.line, line)
	if len(r.t) == chunkRows {
		r.flush(false)
	}
}

// acrossMidnight carries clock stamps on where they begin anew: from the last
// quarter of the day (of the hour, for mm:ss) into the first one.
func (r *recorder) acrossMidnight(t, last float64) float64 {
	period := r.lay.form.period()
	if period == 0 {
		return t
	}
	t += r.shift
	was := math.Mod(last, period)
	now := t - r.shift
	switch {
	case t < last && was > 0.75*period && now < 0.25*period:
		r.shift += period
		t += period
	case r.shift > 0 && t-last > 0.5*period && now > 0.75*period:
		// the row that seemed to be past midnight was not
		r.shift -= period
		t -= period
	}
	return t
}

// addLate takes a row while time is before that of the row above it. One or
// two such rows are out of order; from lateRows on, either the few rows before
// them jumped ahead, or the clock stepped back and stayed back.
func (r *recorder) addLate(row lateRow) {
	last := r.t[len(r.t)-1]
	if row.t >= last {
		for _, l := range r.late {
			r.leaveOut(l.line, outOfOrder)
		}
		r.late = r.late[:0]
		r.lateCount = 0
		if row.t == last {
			r.faults.Repeated++
		}
		r.push(row.line, row.t, row.v, row.w)
		return
	}
	if r.lateCount == 0 {
		r.lateLine, r.lateTime = row.line, row.t
	}
	r.lateCount++
	for k := len(r.late); k > 0 && r.late[k-1].t > row.t; k-- {
		r.leaveOut(r.late[k-1].line, outOfOrder)
		r.late = r.late[:k-1]
	}
	r.late = append(r.late, row)
	switch {
	case len(r.late) >= lateRows:
		if !r.jumpedAhead() {
			r.clockBack(r.late[0].line, last-r.late[0].t)
		}
	case r.lateCount >= 8:
		r.clockBack(r.lateLine, last-r.lateTime) // time runs backwards
	}
}

func (r *recorder) clockBack(line int, by float64) {
	r.faults.ClockBackLine = line
	r.faults.ClockBackBy = by * r.scale
	r.faults.Rows -= len(r.late)
	r.late = r.late[:0]
	r.stopped = true
}

// jumpedAhead looks for up to three rows before the late ones that lie far
// ahead of both their forerunner and the late rows; those are left out then,
// and the late rows are not late.
func (r *recorder) jumpedAhead() bool {
	n, first, final := len(r.t), r.late[0], r.late[len(r.late)-1]
	usual := 0.0
	if len(r.late) > 1 {
		usual = (final.t - first.t) / float64(len(r.late)-1)
	}
	for back := 1; back <= 3 && back <= n-r.context; back++ {
		k := n - back // the first row that may have jumped
		if k == 0 {
			if n > 2 || n > len(r.late) {
				return false
			}
		} else {
			if r.t[k-1] > first.t {
				continue
			}
			if k > 1 {
				usual = max(usual, r.t[k-1]-r.t[k-2])
			}
			if r.t[k]-r.t[k-1] <= 3*usual || r.t[k] <= final.t {
				return false
			}
		}
		for _, line := range r.line[k:] {
			r.leaveOut(line, outOfOrder)
		}
		r.t, r.v, r.line = r.t[:k], r.v[:k], r.line[:k]
		if r.w != nil {
			r.w = r.w[:k]
		}
		rows := slices.Clone(r.late)
		r.late = r.late[:0]
		r.lateCount = 0
		for _, l := range rows {
			if n := len(r.t); n > 0 && l.t == r.t[n-1] {
				r.faults.Repeated++
			}
			r.push(l.line, l.t, l.v, l.w)
		}
		return true
	}
	return false
}

// finish hands on what is left.
func (r *recorder) finish() {
	if len(r.late) > 0 && !r.jumpedAhead() {
		for _, l := range r.late {
			r.leaveOut(l.line, outOfOrder)
		}
		r.late = r.late[:0]
	}
	r.flush(true)
	r.out.close()
}

// flush hands rows on, all of them if final, else all but the last few whose
// neighbours are not yet known.
func (r *recorder) flush(final bool) {
	n := len(r.t)
	to := n
	if !final {
		to = n - contextRows
	}
	if n == 0 || to <= r.context {
		return
	}
	r.grid.look(r.v[r.context:to], r.lay.decimals)
	if !r.started {
		r.coarse.look(r.t[:to])
	}
	if r.coarse.on && !final {
		// only whole groups of equal stamps, unless one fills the chunk
		if g := groupStart(r.t, to); g > r.context && n-g < chunkRows/2 {
			to = g
		}
	}
	spikes := findSpikes(r.v, r.context, to, r.grid.spikeStep())
	r.faults.Spikes += len(spikes)
	times := r.t[r.context:to]
	if r.coarse.on {
		times = r.coarse.spread(r.t, r.context, to, !r.started, final)
	}
	if !r.started {
		if !r.lay.means || r.lay.ccol < 0 {
			r.t0 = times[0] // means were written with times since the first sample
		}
		r.started = true
	}
	r.out.expect(to-r.context, final)
	for i := r.context; i < to; i++ {
		if len(spikes) > 0 && spikes[0] == i {
			spikes = spikes[1:]
			continue
		}
		n := int32(1)
		if r.w != nil {
			n = r.w[i]
		}
		r.out.add(times[i-r.context]-r.t0, r.v[i], n)
	}
	// keep what the next rows need as neighbours
	from := max(0, to-contextRows)
	r.context = to - from
	r.t = r.t[:copy(r.t, r.t[from:])]
	r.v = r.v[:copy(r.v, r.v[from:])]
	if r.w != nil {
		r.w = r.w[:copy(r.w, r.w[from:])]
	}
	r.line = r.line[:copy(r.line, r.line[from:])]
}

// trace returns the points in SI units; values keep the sign of the file.
func (r *recorder) trace() *Trace {
	u := r.lay.pressureUnit()
	t := &Trace{Time: r.out.t, Value: r.out.v, Count: r.out.counts(), Faults: r.faults}
	if r.scale != 1 {
		tu := unit.UnitInfo{}
		if !r.lay.stamps {
			tu = r.lay.columns[r.lay.tcol].unit
		}
		for i, x := range t.Time {
			t.Time[i] = tu.ToSI(x)
		}
	}
	for i, x := range t.Value {
		t.Value[i] = u.ToSI(x)
	}
	if t.Len() > 0 {
		t.Step = math.Abs(u.ToSIDifference(r.grid.step()))
	}
	r.out.intervals.scale = r.scale
	r.out.intervals.report(&t.Faults, t.Time)
	return t
}

package trace

import "math"

// longestVent is how long [s] it takes at most to open a port to the room:
// slower, and nobody opened it (common practice, no source).
const longestVent = 2.0

// shortestFall is how long [s] a fall to the room must take to be a leak's
// where nothing else is known; opening a fitting empties the few hundred cm³
// of a port faster (common practice, no source).
const shortestFall = 0.4

// enoughHold is how much of a hold [s] is enough to read what came after a break.
const enoughHold = 3.2

// vent finds where the trace was opened to the room after the deepest point: the
// last point before the fall turned much steeper than before and went to the
// room's level. steep says whether such a turn was found; otherwise the index
// is end.
func (f *finder) vent(start, end int) (at int, steep bool) {
	w := 2
	if f.dt > 0 {
		w = max(2, int(0.03/f.dt))
	}
	// the steepest fall, looking back from the room's level
	from := max(start, end-max(8, int(4/math.Max(f.dt, 1e-6))))
	steepest, steepAt := 0.0, end
	for i := end; i >= from; i-- {
		j := min(i+w, len(f.u)-1)
		if j <= i || f.t[j] <= f.t[i] {
			continue
		}
		if d := (f.u[i] - f.u[j]) / (f.t[j] - f.t[i]); d > steepest {
			steepest, steepAt = d, i
		}
	}
	if steepest <= 0 {
		return end, false
	}
	// its onset: back to where the fall is an eighth of that
	onset := steepAt
	for onset > start {
		i := max(start, onset-w)
		if f.t[onset] <= f.t[i] || (f.u[i]-f.u[onset])/(f.t[onset]-f.t[i]) < steepest/8 {
			break
		}
		onset--
	}
	before := max(start, onset-f.window(1.0, 6))
	slopeBefore := math.Max(0, -f.s.slope(before, onset+1))
	drop := f.u[onset] - f.u[min(end+1, len(f.u)-1)]
	rough := 8 * math.Hypot(f.noise, 0.5*f.step) / (float64(w) * math.Max(f.dt, 1e-9)) // what noise alone can look like
	if drop < 2*f.tol || steepest < 4*slopeBefore+rough {
		return end, false
	}
	return onset, true
}

// isLeak says whether the steep fall from point at to point end can be a
// leak's, by its steepness where that is known, else by how long it takes.
func (f *finder) isLeak(at, end int) bool {
	w := f.window(0.05, 3)
	steepest := 0.0
	for i := at; i+w <= min(end+w, len(f.u)-1); i++ {
		steepest = math.Max(steepest, -f.s.slope(i, i+w))
	}
	if f.fastest > 0 {
		return steepest < f.fastest
	}
	return f.emptiesIn(at) >= shortestFall
}

// emptiesIn returns how long [s] it takes from point at until nine tenths of the
// vacuum are lost, or the trace ends.
func (f *finder) emptiesIn(at int) float64 {
	level := f.p.Room + 0.1*(f.u[at]-f.p.Room)
	i := at
	for i < len(f.u)-1 && f.u[i] > level {
		i++
	}
	return f.t[i] - f.t[at]
}

// quickens returns the last point of a hold before its fall quickens again on
// the way to the room: a leak's fall only slackens, so that is the vent. It
// returns end where it does not.
func (f *finder) quickens(off, end int, vented bool) int {
	w := f.window(0.12, 4)
	rough := math.Hypot(f.noise, 0.5*f.step)
	se := rough * math.Sqrt(12/float64(w)) / (float64(w) * math.Max(f.dt, 1e-9)) // of a slope over w points
	from := off + max(f.window(0.8, 6), 4*w)
	if f.dt > 0 {
		from = max(from, end-int(6/f.dt))
	}
	after := func(i int) float64 { return -f.s.slope(i, min(i+w, len(f.u)-1)+1) }
	// where it quickens most
	best, at := 8.0, end
	if vented {
		best = 5
	}
	for i := from; i <= end; i += max(1, w/6) {
		before := math.Max(0, -f.s.slope(i-3*w, i))
		if a := after(i); a > 1.6*before {
			if x := (a - 1.6*before) / (se + 0.02*a); x > best {
				best, at = x, i
			}
		}
	}
	if at == end {
		return end
	}
	// back to where it began to: where the fall is no faster than before
	back := max(off, at-f.window(2.5, 12))
	base := math.Max(0, -f.s.slope(back, max(back+2, at-f.window(0.8, 6))))
	for at > from && after(at) > 1.5*base+4*se {
		at--
	}
	at += w / 2 // the window that saw it first reaches just past it
	if f.u[min(at, end)]-f.u[end] < math.Max(8*f.noise, 4*f.step) {
		return end
	}
	return min(end, max(off+1, at))
}

// lasts says whether a fall that quickened at point e goes on for over 1.2 s to
// a vent that is steeper still, and has half of its vacuum left there: a hold
// that broke, not the vent.
func (f *finder) lasts(e, vent int) bool {
	return f.t[vent]-f.t[e] > 1.2 && f.u[vent]-f.p.Room > 0.5*(f.u[e]-f.p.Room)
}

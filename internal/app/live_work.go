package app

import (
	"context"
	"slices"
	"sync"
	"time"

	"seatproof/internal/session"
	"seatproof/internal/web"
	"seatproof/leak"
)

// estimating reads traces in one goroutine: of a test that goes on the newest
// question wins, one about a whole trace is never left out.
type estimating struct {
	r *liveRun

	mu    sync.Mutex
	queue []session.Look
	busy  bool
	wake  chan struct{}
}

func newEstimating(r *liveRun) *estimating { return &estimating{r: r, wake: make(chan struct{}, 1)} }

func (w *estimating) ask(l session.Look) {
	w.mu.Lock()
	defer w.mu.Unlock()
	// what is asked of a test anew stands in the place of what was asked
	w.queue = slices.DeleteFunc(w.queue, func(old session.Look) bool { return old.Test == l.Test && (l.Final || !old.Final) })
	w.queue = append(w.queue, l)
	signal(w.wake)
}

// idle says whether every question is answered.
func (w *estimating) idle() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.busy && len(w.queue) == 0
}

func (w *estimating) next() (session.Look, bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.queue) == 0 {
		return session.Look{}, false
	}
	l := w.queue[0]
	w.queue = w.queue[1:]
	w.busy = true
	return l, true
}

func (w *estimating) run() {
	for {
		l, ok := w.next()
		if !ok {
			select {
			case <-w.wake:
				continue
			case <-w.r.loopCtx.Done():
				return
			}
		}
		e, reading := session.ReadWhole(l, leak.Options{})
		answer := &web.LiveLooked{Look: l, Estimate: e, Reading: reading}
		done := make(chan struct{})
		in := liveInput{do: func() {
			w.r.answers[l.Test] = answer
			w.r.handle(session.Looked{At: w.r.now(), Test: l.Test, Final: l.Final, Estimate: e})
		}, done: done}
		if w.r.post(in) {
			select {
			case <-done:
			case <-w.r.loopCtx.Done():
			}
		}
		w.mu.Lock()
		w.busy = false
		w.mu.Unlock()
	}
}

// finish waits until every question is answered, or ctx ends: what is not is
// asked again when the run goes on.
func (w *estimating) finish(ctx context.Context) { await(ctx, w.idle) }

func await(ctx context.Context, ok func() bool) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for !ok() {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// job is something to be written to the records.
type job struct {
	file  *session.FileTest
	at    int64
	move  *session.MoveTest
	check *session.Filed
	so    session.Check
	step  string // of a check of the rig: what its tests come to by now
	end   bool   // the run is over: nothing of it is open
}

// filing writes to the records in one goroutine and in order. What they do not
// take is tried again until they do; a run that is cut short meanwhile files it
// when it goes on.
type filing struct {
	r *liveRun

	mu    sync.Mutex
	queue []job
	busy  bool
	wake  chan struct{}
}

func newFiling(r *liveRun) *filing { return &filing{r: r, wake: make(chan struct{}, 1)} }

func (w *filing) add(j job) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.queue = append(w.queue, j)
	signal(w.wake)
}

func (w *filing) idle() bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return !w.busy && len(w.queue) == 0
}

func (w *filing) finish(ctx context.Context) { await(ctx, w.idle) }

func (w *filing) run() {
	pause := 100 * time.Millisecond
	for {
		w.mu.Lock()
		var j job
		ok := len(w.queue) > 0
		if ok {
			j, w.busy = w.queue[0], true
		}
		w.mu.Unlock()
		if !ok {
			select {
			case <-w.wake:
				continue
			case <-w.r.loopCtx.Done():
				return
			}
		}
		err := w.write(j)
		w.mu.Lock()
		if err == nil {
			w.queue = w.queue[1:]
		}
		w.busy = false
		w.mu.Unlock()
		if err == nil {
			if pause > 100*time.Millisecond {
				pause = 100 * time.Millisecond
				w.r.post(liveInput{do: func() { w.r.trouble(1, "") }})
			}
			continue
		}
		what := w.r.live.trouble("what was tested can't be filed, and is tried again", err)
		w.r.post(liveInput{do: func() { w.r.trouble(1, what) }})
		select {
		case <-time.After(pause):
			pause = min(2*pause, 5*time.Second)
		case <-w.r.loopCtx.Done():
			return
		}
	}
}

// write does one job; done twice it is done once.
func (w *filing) write(j job) error {
	r, s := w.r, w.r.live.sheets
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	is := r.still()
	switch {
	case s == nil:
		return nil
	case j.file != nil:
		rec, err := s.FileLive(ctx, is, *j.file, j.at)
		if err == nil {
			r.post(liveInput{do: func() { r.records[j.file.Test] = rec }})
		}
		return err
	case j.move != nil:
		return s.MoveLive(ctx, is, j.move.Test, j.move.To)
	case j.check != nil:
		f := r.traceOf(j.check.Test)
		if f == nil {
			return nil
		}
		return s.CheckLive(ctx, is, *j.check, j.so, f.Traces[0], r.dateOf(*f))
	case j.step != "":
		tests, at := r.stepTests(j.step)
		return s.CheckStepLive(ctx, is, j.step, tests, at)
	case j.end:
		r.estimate.finish(ctx)
		w.mu.Lock()
		more := len(w.queue) > 1
		w.mu.Unlock()
		if more { // what the last readings told comes first
			w.add(j)
			return nil
		}
		return r.markEnded()
	}
	return nil
}

// still is what does not change of a run, safe from any goroutine.
func (r *liveRun) still() web.LiveRun {
	if n := r.shown.Load(); n != nil {
		return n.Run
	}
	return web.LiveRun{}
}

// traceOf returns a filed test, by way of the loop.
func (r *liveRun) traceOf(number int) (out *session.FileTest) {
	done := make(chan struct{})
	if !r.post(liveInput{do: func() {
		if f, ok := r.filed[number]; ok {
			out = &f
		}
	}, done: done}) {
		return nil
	}
	select {
	case <-done:
		return out
	case <-r.loopCtx.Done():
		return nil
	}
}

// stepTests returns the tests that a step of a check comes to, by way of the loop,
// and when the last was made: of a known leak, or of a step that wants one, the
// last counts.
func (r *liveRun) stepTests(step string) (out []session.FileTest, at int64) {
	done := make(chan struct{})
	gather := func() {
		many, v := false, r.state.View()
		for _, s := range v.Steps {
			many = many || s.ID == step && s.Wanted > 1
		}
		for _, f := range v.Filed {
			t, ok := r.filed[f.Test]
			if !ok || f.Port != step || f.Interrupted {
				continue
			}
			out = slices.DeleteFunc(out, func(old session.FileTest) bool { return !many || f.Known > 0 && old.Known == f.Known })
			out = append(out, t)
			at = r.dateOf(t)
		}
		slices.SortStableFunc(out, func(a, b session.FileTest) int { return a.Known - b.Known })
	}
	if !r.post(liveInput{do: gather, done: done}) {
		return nil, 0
	}
	select {
	case <-done:
		return out, at
	case <-r.loopCtx.Done():
		return nil, 0
	}
}

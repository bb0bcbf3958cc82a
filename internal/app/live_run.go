package app

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"seatproof/internal/session"
	"seatproof/internal/session/journal"
	"seatproof/internal/web"
	"seatproof/trace"
)

// liveRun is one run. What is not atomic or locked belongs to its loop.
type liveRun struct {
	live  *live
	id    string
	began time.Time // with base, where the session's time stands
	base  float64   // s of the session at began: more than 0 after a restart

	ctx     context.Context // of what feeds it
	quit    context.CancelFunc
	feeding sync.WaitGroup
	inbox   chan liveInput
	loopCtx context.Context
	endLoop context.CancelFunc
	looping sync.WaitGroup
	working sync.WaitGroup
	stopOne sync.Once
	stopErr error

	is       web.LiveRun
	kept     keptRun
	state    session.State
	writer   *journal.Writer
	writing  context.CancelFunc
	records  map[int]web.LiveRecord
	filed    map[int]session.FileTest // with the judged trace only
	drawn    float64                  // s, the last sample that was passed on
	ring     *ring
	shownAt  time.Time
	answers  map[int]*web.LiveLooked // by test, the newest
	told     string                  // target and stage that the sheets were told of
	troubles [2]string               // of the journal, of the records

	shown    atomic.Pointer[web.LiveNow]
	pretend  *practice  // nil: real sources
	relay    *liveRelay // nil: none
	clock    atomic.Uint64
	estimate *estimating
	filer    *filing
}

// liveInput is an event, or something to be done between events.
type liveInput struct {
	event session.Event
	do    func()
	done  chan struct{} // closed once it is done; may be nil
}

// prepare makes what feeds and drives the run.
func (r *liveRun) prepare() {
	r.ctx, r.quit = context.WithCancel(context.Background())
	r.loopCtx, r.endLoop = context.WithCancel(context.Background())
	r.answers = map[int]*web.LiveLooked{}
	r.ring = &ring{}
	r.estimate = newEstimating(r)
	r.filer = newFiling(r)
}

// zero is the moment of the session's time 0.
func (r *liveRun) zero() time.Time { return r.began.Add(-time.Duration(r.base * float64(time.Second))) }

// now is the session's time [s].
func (r *liveRun) now() float64 {
	if r.pretend != nil {
		return math.Float64frombits(r.clock.Load())
	}
	t := time.Since(r.zero()).Seconds()
	if h := r.live.hurry; h > 0 {
		t *= h
	}
	return math.Round(t*1e6) / 1e6
}

// start lets it run.
func (r *liveRun) start() {
	if r.writer != nil {
		var ctx context.Context
		ctx, r.writing = context.WithCancel(context.Background())
		r.working.Go(func() {
			_ = r.writer.Run(ctx, func(s journal.Status) {
				what := r.live.trouble("the journal of this run can't be written", s.Err)
				r.post(liveInput{do: func() { r.trouble(0, what) }})
			})
		})
	}
	r.looping.Go(r.loop)
	r.working.Go(r.estimate.run)
	r.working.Go(r.filer.run)
	if r.pretend != nil {
		r.feeding.Go(func() { r.pretend.run(r) })
	}
	if r.relay != nil {
		r.feeding.Go(r.runRelay)
	}
}

// put gives an event to the loop and waits for room, not for it to be done.
func (r *liveRun) put(e session.Event) {
	select {
	case r.inbox <- liveInput{event: e}:
	case <-r.loopCtx.Done():
	}
}

// post gives the loop something, whatever feeds have ended.
func (r *liveRun) post(in liveInput) bool {
	select {
	case r.inbox <- in:
		return true
	case <-r.loopCtx.Done():
		return false
	}
}

// wait gives an event to the loop and waits for it to be done.
func (r *liveRun) wait(ctx context.Context, e session.Event) error {
	done := make(chan struct{})
	if !r.post(liveInput{event: e, done: done}) {
		return web.ErrNoRun
	}
	select {
	case <-done:
		return nil
	case <-r.loopCtx.Done():
		return web.ErrNoRun
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (r *liveRun) key(ctx context.Context, k session.Key) error { return r.wait(ctx, k) }

// loop is the one goroutine that drives the session.
func (r *liveRun) loop() {
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case in := <-r.inbox:
			r.input(in)
		case <-tick.C:
			r.handle(session.Tick{At: r.now()})
			r.watched()
		case <-r.loopCtx.Done():
			for { // what came in is not lost
				select {
				case in := <-r.inbox:
					r.input(in)
				default:
					return
				}
			}
		}
	}
}

func (r *liveRun) input(in liveInput) {
	if in.event != nil {
		switch e := in.event.(type) {
		case session.Key:
			e.At = r.now()
			in.event = e
		case session.Looked:
			e.At = r.now()
			in.event = e
		}
		r.handle(in.event)
	}
	if in.do != nil {
		in.do()
		r.publish()
	}
	if in.done != nil {
		if in.event != nil {
			r.publish()
		}
		close(in.done)
	}
}

// handle puts an event into the journal and the session, and carries out what
// follows.
func (r *liveRun) handle(e session.Event) {
	if r.writer != nil {
		// what finds no room is counted by the journal, which tells it as well
		if err := r.writer.Append(e); err != nil && !errors.Is(err, journal.ErrFull) {
			r.live.log.Error("an event can't be kept", "run", r.id, "error", err.Error())
		}
	}
	var actions []session.Action
	r.state, actions = session.Step(r.state, e)
	r.carryOut(e, actions)
}

func (r *liveRun) carryOut(e session.Event, actions []session.Action) {
	var looked *web.LiveLooked
	var said []session.Action
	for _, a := range actions {
		if r.relay != nil {
			r.relay.said(r, a)
		}
		switch a := a.(type) {
		case session.Look:
			r.estimate.ask(a)
		case session.FileTest:
			r.file(a)
		case session.MoveTest:
			r.filer.add(job{move: &a})
			if f, ok := r.filed[a.Test]; ok {
				if l, ok := r.state.Look(a.Test, f.Traces[0], f.ShutAt); ok {
					r.estimate.ask(l)
				}
			}
		case session.ShowEstimate:
			looked = r.answers[a.Test]
			said = append(said, a)
		case session.ShowPhase:
		default:
			said = append(said, a)
		}
	}
	if l, ok := e.(session.Looked); ok && l.Final {
		r.checked(l.Test)
	}
	if len(said) > 0 || time.Since(r.shownAt) >= 50*time.Millisecond {
		r.publish()
	}
	at, vacuum := r.state.Recent(0, r.drawn)
	if n := len(at); n > 0 {
		r.drawn = at[n-1]
	}
	if len(at) == 0 && len(said) == 0 {
		return
	}
	now := r.state.Now()
	r.live.tell(func(x *liveReader) {
		if len(at) > 0 {
			x.points(now, at, vacuum)
		}
		if len(said) > 0 {
			x.did(now, said, looked)
		}
	})
	r.ring.add(at, vacuum)
}

// publish shows the run as it stands.
func (r *liveRun) publish() {
	r.shownAt = time.Now()
	n := &web.LiveNow{Run: r.is, View: r.state.View(), Records: make(map[int]web.LiveRecord, len(r.records))}
	for k, v := range r.records {
		n.Records[k] = v
	}
	r.shown.Store(n)
	if told := string(n.View.Stage) + n.View.Target; told != r.told {
		r.told = told
		if r.live.sheets != nil {
			r.live.sheets.TellLive()
		}
		if n.View.Stage == session.Over {
			r.quit() // nobody asks the gauge any more
			r.filer.add(job{end: true})
		}
	}
}

// file hands a test on to be filed, and keeps its judged trace for another look.
func (r *liveRun) file(a session.FileTest) {
	kept := a
	kept.Traces = []*trace.Trace{a.Traces[0]}
	r.filed[a.Test] = kept
	r.filer.add(job{file: &a, at: r.dateOf(a)})
	if len(r.is.Plan.Steps) > 0 && !a.Interrupted {
		r.filer.add(job{step: a.Port})
	}
}

// dateOf is when a test was made [ms since 1970 UTC]. A practice rig runs ahead
// of the day.
func (r *liveRun) dateOf(a session.FileTest) int64 {
	if r.pretend != nil {
		return time.Now().UnixMilli()
	}
	return r.is.Plan.Started + int64(1000*a.From)
}

// checked keeps what a test of the blank or the known leak told.
func (r *liveRun) checked(number int) {
	v := r.state.View()
	for _, f := range v.Filed {
		if len(v.Steps) == 0 && f.Test == number && (f.Port == string(session.OnBlank) || f.Port == string(session.OnKnown)) && f.Estimate != nil {
			r.filer.add(job{check: &f, so: v.Check})
		}
	}
}

// trouble says what can't be written; "" where it can again.
func (r *liveRun) trouble(of int, what string) {
	r.troubles[of] = what
	if r.is.Trouble = r.troubles[0]; r.is.Trouble == "" {
		r.is.Trouble = r.troubles[1]
	}
	if what != "" {
		r.live.log.Error("a run can't be written", "run", r.id, "what", what)
	}
}

// stop ends feeds, loop, readings, filing and journal, in this order.
func (r *liveRun) stop(ctx context.Context) error {
	r.stopOne.Do(func() {
		r.quit()
		r.feeding.Wait()
		r.estimate.finish(ctx)
		r.filer.finish(ctx)
		r.endLoop()
		r.looping.Wait()
		if r.writing != nil {
			r.writing()
		}
		r.working.Wait()
		if r.writer != nil {
			r.stopErr = r.writer.Close()
		}
	})
	return r.stopErr
}

// recentInto gives who joins the last two minutes.
func (r *liveRun) recentInto(x *liveReader) {
	x.anew(r.id)
	at, vacuum := r.ring.last()
	now := 0.0
	if n := r.shown.Load(); n != nil {
		now = n.View.Now
	}
	x.points(now, at, vacuum)
}

// ring keeps the last two minutes of the judged gauge as means.
type ring struct {
	mu         sync.Mutex
	at, vacuum []float64
}

func (g *ring) add(at, vacuum []float64) {
	if len(at) == 0 {
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	for i, t := range at {
		n := len(g.at)
		if n > 0 && t < g.at[n-1]+pointWidth/2 && t >= g.at[n-1] {
			continue // one of many in a mean's width stands for them
		}
		g.at, g.vacuum = append(g.at, t), append(g.vacuum, vacuum[i])
	}
	if n := len(g.at); n > 0 && g.at[0] < g.at[n-1]-1.5*shownLast {
		k := 0
		for k < n && g.at[k] < g.at[n-1]-shownLast {
			k++
		}
		g.at, g.vacuum = append([]float64(nil), g.at[k:]...), append([]float64(nil), g.vacuum[k:]...)
	}
}

func (g *ring) last() (at, vacuum []float64) {
	g.mu.Lock()
	defer g.mu.Unlock()
	k := 0
	for n := len(g.at); k < n && g.at[k] < g.at[n-1]-shownLast; k++ {
	}
	return append([]float64(nil), g.at[k:]...), append([]float64(nil), g.vacuum[k:]...)
}

// createJournal begins the journal of a run in a folder of its own.
func (r *liveRun) createJournal() error {
	if r.live.runs == "" {
		return nil
	}
	folder := filepath.Join(r.live.runs, r.id)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return diskFault(err)
	}
	if err := r.kept.write(folder); err != nil {
		return diskFault(err)
	}
	w, err := journal.Create(filepath.Join(folder, journalName))
	if err != nil {
		return diskFault(err)
	}
	r.writer = w
	return nil
}

func diskFault(err error) error {
	return &web.Fault{Status: 503, What: "the journal of the run can't be written: " + err.Error(), Do: "make room in the data folder, or check its permissions"}
}

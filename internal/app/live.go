package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"seatproof/internal/practise"
	"seatproof/internal/rigfile"
	"seatproof/internal/session"
	"seatproof/internal/source"
	"seatproof/internal/source/all"
	"seatproof/internal/web"
	"seatproof/rig"
)

// live runs tests from sensors: it opens the sources, drives the session, asks
// the estimator, keeps the journal and files what comes. One run at a time.
type live struct {
	runs   string  // folder of the journals; "": none is kept
	hurry  float64 // of tests: how many seconds of a session go by in one; 0: one
	log    *slog.Logger
	sheets *web.Server // files; set before the first run

	beginning sync.Mutex // one at a time
	current   atomic.Pointer[liveRun]
	stopped   atomic.Bool

	mu      sync.Mutex
	readers map[*liveReader]bool
}

func newLive(runs string, log *slog.Logger) *live {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &live{runs: runs, log: log, readers: map[*liveReader]bool{}}
}

// Kinds implements [web.Live].
func (l *live) Kinds() []web.LiveKind {
	var out []web.LiveKind
	for _, k := range all.Kinds() {
		if k.Name == "stdin" {
			continue // of a server it is nobody's
		}
		x := web.LiveKind{Name: k.Name, Words: k.Words, Example: k.Example, Page: k.Page, Options: []web.LiveOption{}}
		for _, o := range k.Options {
			x.Options = append(x.Options, web.LiveOption{Key: o.Key, Words: o.Words, Hint: o.Hint, Default: o.Default, Choice: append([]string{}, o.Choice...), Secret: o.Secret})
		}
		out = append(out, x)
	}
	return out
}

// Faults implements [web.Live].
func (l *live) Faults() []web.LiveFault {
	var out []web.LiveFault
	for _, f := range practise.Faults() {
		out = append(out, web.LiveFault{Code: f.Name, Word: f.Words, Port: f.Port})
	}
	return out
}

// PracticeRig implements [web.Live].
func (l *live) PracticeRig() (rig.Rig, string) {
	var b strings.Builder
	if err := rigfile.Write(&b, practise.Stated()); err != nil {
		l.log.Error("the practice rig can't be written", "error", err.Error())
	}
	return practise.Stated(), b.String()
}

// Now implements [web.Live].
func (l *live) Now() (web.LiveNow, bool) {
	r := l.current.Load()
	if r == nil {
		return web.LiveNow{}, false
	}
	if n := r.shown.Load(); n != nil {
		return *n, true
	}
	return web.LiveNow{}, false
}

// Key implements [web.Live].
func (l *live) Key(ctx context.Context, k session.Key) error {
	r := l.current.Load()
	if r == nil || l.stopped.Load() {
		return web.ErrNoRun
	}
	return r.key(ctx, k)
}

// Begin implements [web.Live].
func (l *live) Begin(ctx context.Context, p web.LivePlan) error {
	l.beginning.Lock()
	defer l.beginning.Unlock()
	if l.stopped.Load() {
		return errors.New("the program is ending")
	}
	if old := l.current.Load(); old != nil {
		if n := old.shown.Load(); n == nil || n.View.Stage != session.Over {
			return web.ErrUnderWay
		}
		old.stop(ctx)
	}
	id := newID()[:12]
	r := &liveRun{
		live: l, id: id, began: time.Now(), inbox: make(chan liveInput, 1024), records: map[int]web.LiveRecord{}, filed: map[int]session.FileTest{},
		is: web.LiveRun{ID: id, Job: p.Job.ID, Number: cmp.Or(p.Job.Number, p.Job.ID), By: p.By, RigID: p.RigID, Practise: p.Practise != nil, Conditions: p.Conditions},
	}
	r.kept = keptRun{Version: 1, ID: id, Job: p.Job.ID, Number: r.is.Number, By: p.By, RigID: p.RigID, Conditions: p.Conditions, Sources: p.Sources}
	plan := session.Plan{
		Run: id, Started: r.began.UnixMilli(), Rig: p.Rig, Ports: p.Ports, Known: p.Known, Strict: p.Job.Limit.Strict, Held: p.Conditions.Held,
		Steps: p.Steps,
	}
	r.prepare()
	if err := r.openRelay(p.Relay); err != nil {
		return err
	}
	var err error
	if p.Practise != nil {
		if err = r.setPractice(p, &plan); err != nil {
			return err
		}
	} else if plan.Sources, err = r.openSources(ctx, p.Sources); err != nil {
		r.quit()
		r.feeding.Wait()
		return err
	}
	if err := r.createJournal(); err != nil {
		r.quit()
		r.feeding.Wait()
		return err
	}
	r.is.Plan = plan
	l.current.Store(r)
	r.handle(session.Begin{Plan: plan})
	r.start()
	return nil
}

// openSources opens and runs the sources; what they give waits in the inbox. It
// returns what is known of them once each has said how its figures are to be
// read, or had its time.
func (r *liveRun) openSources(ctx context.Context, addresses []string) ([]session.SourcePlan, error) {
	var plans []session.SourcePlan
	var fields []web.FieldFault
	var first string
	wrong := func(i int, err error) {
		f := sourceFault(i, err)
		if first == "" {
			first = f.What
		}
		fields = append(fields, f)
	}
	var opened []source.Source
	for i, a := range addresses {
		s, err := all.Open(a)
		if err != nil {
			wrong(i, err)
		}
		opened = append(opened, s)
	}
	if len(fields) > 0 {
		return nil, &web.Fault{What: first, Fields: fields}
	}
	failed := make([]chan error, len(opened))
	for i, s := range opened {
		failed[i] = make(chan error, 1)
		r.feeding.Go(func() { r.runSource(i, addresses[i], s, failed[i]) })
	}
	patience := time.NewTimer(sourcePatience)
	defer patience.Stop()
	look := time.NewTicker(20 * time.Millisecond)
	defer look.Stop()
	gone := false
	for i, s := range opened {
		for {
			about := s.About()
			if about.Reads != "" || gone {
				if about.Reads == "" {
					wrong(i, &source.Fault{What: "nothing has come from it yet that says how its figures are to be read", Hint: "switch it on, or say unit and reads, as in #unit=kPa,reads=vacuum"})
				}
				plans = append(plans, session.SourcePlan{Name: cmp.Or(about.Name, shortAddress(addresses[i])), Reads: about.Reads, Step: about.Resolution})
				break
			}
			select {
			case err := <-failed[i]:
				wrong(i, err)
				return nil, &web.Fault{What: first, Fields: fields}
			case <-ctx.Done():
				return nil, ctx.Err()
			case <-patience.C:
				gone = true
			case <-look.C:
			}
		}
	}
	if len(fields) > 0 {
		return nil, &web.Fault{What: first, Fields: fields}
	}
	return plans, nil
}

const (
	sourcePatience = 4 * time.Second // for a source to say how it is read
	sourceAgain    = 2 * time.Second // before one that ended is opened again
)

func sourceFault(i int, err error) web.FieldFault {
	f := web.FieldFault{Field: "sources." + strconv.Itoa(i)}
	var known *source.Fault
	if errors.As(err, &known) {
		what := known.What
		if known.Key != "" {
			what = known.Key + ": " + what
		}
		if known.Err != nil {
			what += ": " + known.Err.Error()
		}
		f.What, f.Maybe = sentence(what), sentence(known.Hint)
		return f
	}
	f.What = sentence(err.Error())
	return f
}

// shortAddress names a source by its address, without options or passwords.
func shortAddress(text string) string {
	a, err := source.ParseAddress(text)
	if err != nil {
		return "gauge"
	}
	return a.Bare()
}

// runSource runs one source until the run ends; one that ends by itself is told
// and opened again.
func (r *liveRun) runSource(i int, address string, s source.Source, failed chan<- error) {
	var sink source.Sink = &liveSink{r: r, intake: session.Intake{Source: i, Began: r.zero()}}
	if r.relay != nil && i == 0 {
		sink = source.Tee(sink, r.relay.Sink(r.ctx))
	}
	for {
		err := s.Run(r.ctx, sink)
		if r.ctx.Err() != nil {
			return
		}
		detail := "it ended"
		if err != nil {
			detail = err.Error()
			select {
			case failed <- err:
			default:
			}
		}
		sink.Tell(source.Notice{At: time.Now(), Code: source.Lost, Detail: detail, Count: 1})
		select {
		case <-r.ctx.Done():
			return
		case <-time.After(sourceAgain):
		}
		if s, err = all.Open(address); err != nil { // it opened before
			r.live.log.Error("a source can't be opened again", "source", shortAddress(address), "error", err.Error())
			return
		}
	}
}

// liveSink brings what a source gives to the run. It waits when the run is
// behind: nothing is dropped.
type liveSink struct {
	r      *liveRun
	intake session.Intake
}

func (s *liveSink) Take(in []source.Sample) {
	e := s.intake.Take(in)
	if h := s.r.live.hurry; h > 0 {
		for i := range e.At {
			e.At[i] = math.Round(e.At[i]*h*1e6) / 1e6
		}
	}
	s.r.put(e)
}

func (s *liveSink) Tell(n source.Notice) {
	e := s.intake.Tell(n)
	if h := s.r.live.hurry; h > 0 {
		e.At *= h
	}
	s.r.put(e)
}

// Stop ends the run that is under way, which goes on when the program starts
// again.
func (l *live) Stop(ctx context.Context) error {
	l.stopped.Store(true)
	l.beginning.Lock()
	defer l.beginning.Unlock()
	r := l.current.Load()
	if r == nil {
		return nil
	}
	return r.stop(ctx)
}

// tell passes on what happened to whoever watches.
func (l *live) tell(do func(*liveReader)) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for r := range l.readers {
		do(r)
	}
}

func (l *live) trouble(what string, err error) string {
	if err == nil {
		return ""
	}
	return fmt.Sprintf("%s: %v", what, err)
}

// again opens a source of a run that goes on; one that is not there is told.
func (r *liveRun) again(i int, address string) {
	s, err := all.Open(address)
	if err != nil {
		r.live.log.Error("a source can't be opened again", "source", shortAddress(address), "error", err.Error())
		return
	}
	r.feeding.Go(func() { r.runSource(i, address, s, make(chan error, 1)) })
}

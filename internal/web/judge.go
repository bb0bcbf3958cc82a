package web

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// test is short for a test as it is kept.
type test = head.Test

// readings keeps what was computed: the same test on the same rig by the same
// limits gives the same answer.
type readings struct {
	mu    sync.Mutex
	known map[[32]byte]*report.Outcome
	order [][32]byte

	loading sync.Mutex
	asked   map[string]bool   // jobs whose kept readings were fetched
	fetched map[string][]byte // by test; each is taken once
}

// mostReadings is how many are kept; the oldest go first.
const mostReadings = 4000

func newReadings() *readings {
	return &readings{known: map[[32]byte]*report.Outcome{}, asked: map[string]bool{}, fetched: map[string][]byte{}}
}

func (rs *readings) get(key [32]byte) *report.Outcome {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	return rs.known[key]
}

func (rs *readings) put(key [32]byte, o *report.Outcome) {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	if _, ok := rs.known[key]; !ok {
		rs.order = append(rs.order, key)
	}
	rs.known[key] = o
	if len(rs.order) > mostReadings {
		delete(rs.known, rs.order[0])
		rs.order = rs.order[1:]
		clear(rs.asked) // it may be wanted again, and is still kept
	}
}

// bench is what the tests of a head are judged on.
type bench struct {
	job   head.Job
	rigs  map[string]string // rig files by identity
	style report.Style

	checks map[string][]check.Result // of each rig, oldest first
	now    time.Time
}

// speaks is when the checks speak that count for a test: at the end of its day,
// or now.
func (b *bench) speaks(t *test) time.Time {
	y, m, d := time.UnixMilli(t.At).Date()
	if end := time.Date(y, m, d+1, 0, 0, 0, -1, b.now.Location()); end.Before(b.now) {
		return end
	}
	return b.now
}

func (s *Server) bench(ctx context.Context, j head.Job) (bench, error) {
	b := bench{job: j, rigs: map[string]string{}, style: s.style(ctx), checks: map[string][]check.Result{}, now: s.Now()}
	rigs, err := list[head.Rig](ctx, s.Keeper, Query{Kind: kindRig})
	if err != nil {
		return b, err
	}
	for _, r := range rigs {
		b.rigs[r.ID] = r.V.File
	}
	checks, err := s.checks(ctx)
	for _, c := range slices.Backward(checks) {
		if r, ok := resultOf(c.V); ok {
			b.checks[c.V.RigID] = append(b.checks[c.V.RigID], r)
		}
	}
	return b, err
}

// read reads one test; what was read before comes from what is kept. Without a
// limit: what a port comes to is package head's to say.
func (s *Server) read(ctx context.Context, b bench, t kept[test]) (*report.Outcome, error) {
	var port head.Port
	if i := slices.IndexFunc(b.job.Ports, func(p head.Port) bool { return p.ID == t.V.PortID }); i >= 0 {
		port = b.job.Ports[i]
	}
	key := readingKey(b, t, port)
	if o := s.readings.get(key); o != nil {
		return o, nil
	}
	o := &report.Outcome{File: t.V.ID, Held: t.V.Conditions.Held}
	if port.ID != "" {
		o.Port = b.job.PortName(port.ID)
	}
	if s.recall(ctx, t, key, o) {
		s.readings.put(key, o)
		return o, nil
	}
	r, faults := s.ReadRig(b.rigs[t.V.RigID])
	if len(faults) > 0 {
		o.Err = fmt.Errorf("the rig's file can't be read: %s", faults[0].Problem)
		return o, nil
	}
	r = check.Apply(r, b.checks[t.V.RigID], b.speaks(&t.V))
	r.Port.Held, r.Port.WetWith = t.V.Conditions.Held, t.V.Conditions.Wet
	if port.ID != "" && (port.Volume.Known || !r.Port.Volume.Known) {
		r.Port.Volume, r.Port.VolumeGuessed = b.job.VolumeOr(&port)
	}
	_, body, err := s.Keeper.OpenBlob(ctx, t.V.TraceID)
	if err != nil {
		return nil, err
	}
	defer body.Close()
	tr, err := trace.Read(body, trace.ReadOptions{Columns: t.V.Columns, AirPressure: room(r)})
	if err != nil {
		o.Err = err
		s.readings.put(key, o)
		return o, nil
	}
	small := session.ReadTold(tr, r, leak.Options{}, t.V.ShutOff).Keep() // thousands are held: small ones
	rd := small.Reading()
	o.Reading, o.Faults, o.Started = rd, tr.Faults, tr.Header.Started
	o.Room, o.RigLeak = rd.Room, r.RigLeak.Value
	if r.Volume.Known && r.Port.Volume.Known {
		o.Volume = r.Volume.Value + r.Port.Volume.Value
	}
	zero := r.Gauge.Zero.Value
	if tr.Kind == trace.Absolute {
		zero = -o.Room
	}
	o.Sketch = report.NewSketch(tr, rd.Phases, zero)
	s.readings.put(key, o)
	s.retain(ctx, t, key, o, small)
	return o, nil
}

func readingKey(b bench, t kept[test], port head.Port) [32]byte {
	h := sha256.New()
	var volume unit.Measured
	if port.ID != "" {
		volume, _ = b.job.VolumeOr(&port)
	}
	told := []any{t.V.TraceID, t.V.Columns, t.V.Conditions, t.V.CheckID, b.rigs[t.V.RigID], port.ID, volume}
	for _, x := range check.Current(b.checks[t.V.RigID], b.speaks(&t.V)) {
		if x.Result != nil {
			told = append(told, x.Kind, x.Result.At.UnixMilli(), x.Old, x.Result.Value, x.Result.Line, x.Result.Curve)
		}
	}
	if t.V.ShutOff != nil {
		told = append(told, *t.V.ShutOff)
	}
	_ = json.NewEncoder(h).Encode(told)
	return [32]byte(h.Sum(nil))
}

// room is the air pressure [Pa] of a rig's room; 0 where nothing is known.
func room(r rig.Rig) float64 {
	switch {
	case r.Air.Pressure.Known:
		return r.Air.Pressure.Value
	case r.Air.Altitude.Known:
		if p, err := gas.StandardPressure(r.Air.Altitude.Value); err == nil {
			return p
		}
	}
	return 0
}

// readAll reads tests on all cores, in their order.
func (s *Server) readAll(ctx context.Context, b bench, tests []kept[test]) ([]*report.Outcome, error) {
	out := make([]*report.Outcome, len(tests))
	errs := make([]error, len(tests))
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(runtime.GOMAXPROCS(0), len(tests)) {
		wg.Go(func() {
			for i := range next {
				out[i], errs[i] = s.read(ctx, b, tests[i])
			}
		})
	}
	for i := range tests {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// stream is a text as a reader that is closed.
func stream(text string) io.Reader { return strings.NewReader(text) }

// cards keeps what a job came to until one of its records changes: reading many
// tests together takes longer than all else of a card.
type cards struct {
	mu   sync.Mutex
	made map[string]madeCard // by job
}

type madeCard struct {
	key  [32]byte
	card *head.Card
}

// of returns the card for records whose revisions make key, made anew where they
// changed.
func (c *cards) of(job string, key [32]byte, make func() *head.Card) *head.Card {
	c.mu.Lock()
	m, ok := c.made[job]
	c.mu.Unlock()
	if ok && m.key == key {
		return m.card
	}
	m = madeCard{key, make()}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.made[job] = m
	return m.card
}

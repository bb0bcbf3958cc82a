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

	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// test is a test with what a corrected preview said of its file.
type test struct {
	head.Test
	Columns string `json:"columns,omitempty"`
}

// judged is a reading with its chances of being over the limit of one valve and
// of all valves of its port.
type judged struct {
	*report.Outcome
	overOne, overAll float64
}

// readings keeps what was computed: the same test on the same rig by the same
// limits gives the same answer.
type readings struct {
	mu    sync.Mutex
	known map[[32]byte]*judged
	order [][32]byte
}

// mostReadings is how many are kept; the oldest go first.
const mostReadings = 4000

func newReadings() *readings { return &readings{known: map[[32]byte]*judged{}} }

func (rs *readings) get(key [32]byte) *judged {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	return rs.known[key]
}

func (rs *readings) put(key [32]byte, j *judged) {
	rs.mu.Lock()
	defer rs.mu.Unlock()
	if _, ok := rs.known[key]; !ok {
		rs.order = append(rs.order, key)
	}
	rs.known[key] = j
	if len(rs.order) > mostReadings {
		delete(rs.known, rs.order[0])
		rs.order = rs.order[1:]
	}
}

// bench is what the tests of a head are judged on.
type bench struct {
	job   head.Job
	rigs  map[string]string // rig files by identity
	style report.Style
}

func (s *Server) bench(ctx context.Context, j head.Job) (bench, error) {
	b := bench{job: j, rigs: map[string]string{}, style: s.style(ctx)}
	rigs, err := list[head.Rig](ctx, s.Keeper, Query{Kind: kindRig})
	if err != nil {
		return b, err
	}
	for _, r := range rigs {
		b.rigs[r.ID] = r.V.File
	}
	return b, nil
}

// limits are those of a port: of its smallest valve, and of all its valves.
type limits struct {
	one, all    float64 // m³/s
	diameter    float64 // m, of the smallest valve
	workmanship bool
	guessed     bool // the diameter was
}

// guessedHeads is the valve head diameter guessed where none was given, as a
// part of the bore, by how many valves a side has (common practice, no source).
var guessedHeads = map[int]float64{1: .42, 2: .35, 3: .28}

func limitsOf(j head.Job, p head.Port, pa, ta float64) (limits, error) {
	var l limits
	gap := j.Limit.Gap.Or(unit.Exactly(limit.WorkmanshipGap)).Value
	for _, v := range j.Valves {
		if !slices.Contains(p.Valves, v.ID) {
			continue
		}
		if j.Limit.Flow.Known {
			l.one = j.Limit.Flow.Value
			l.all += l.one
			continue
		}
		d := v.Head.Value
		if !v.Head.Known {
			l.guessed = true
			n := 0
			for _, o := range j.Valves {
				if o.Cylinder == v.Cylinder && o.Side == v.Side {
					n++
				}
			}
			d = guessedHeads[min(3, max(1, n))] * j.Engine.Bore.Or(unit.Exactly(80e-3)).Value
			if v.Side == head.Exhaust {
				d *= .86
			}
		}
		q, err := limit.Workmanship(d, gap, pa, ta)
		if err != nil {
			return l, err
		}
		l.workmanship = true
		if l.one == 0 || q < l.one {
			l.one, l.diameter = q, d
		}
		l.all += q
	}
	return l, nil
}

// read reads one test; what was read before comes from what is kept.
func (s *Server) read(ctx context.Context, b bench, t kept[test]) (*judged, error) {
	var port head.Port
	if i := slices.IndexFunc(b.job.Ports, func(p head.Port) bool { return p.ID == t.V.PortID }); i >= 0 {
		port = b.job.Ports[i]
	}
	key := readingKey(b, t, port)
	if j := s.readings.get(key); j != nil {
		return j, nil
	}
	o := &report.Outcome{File: t.V.ID, Port: report.PortName(port), Held: t.V.Conditions.Held}
	j := &judged{Outcome: o}
	if port.ID == "" {
		o.Port = ""
	}
	r, faults := s.ReadRig(b.rigs[t.V.RigID])
	if len(faults) > 0 {
		o.Err = fmt.Errorf("the rig's file can't be read: %s", faults[0].Problem)
		return j, nil
	}
	r.Port.Held, r.Port.WetWith = t.V.Conditions.Held, t.V.Conditions.Wet
	if port.Volume.Known {
		r.Port.Volume = port.Volume
	}
	_, body, err := s.Keeper.OpenBlob(ctx, t.V.TraceID)
	if err != nil {
		return nil, err
	}
	defer body.Close()
	tr, err := trace.Read(body, trace.ReadOptions{Columns: t.V.Columns, AirPressure: room(r)})
	if err != nil {
		o.Err = err
		s.readings.put(key, j)
		return j, nil
	}
	rd := leak.Read(tr, r, leak.Options{})
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
	if err := j.judge(b.job, port); err != nil {
		return nil, err
	}
	rd.Draws = nil
	s.readings.put(key, j)
	return j, nil
}

func readingKey(b bench, t kept[test], port head.Port) [32]byte {
	h := sha256.New()
	enc := json.NewEncoder(h)
	_ = enc.Encode([]any{t.V.TraceID, t.V.Columns, t.V.Conditions.Held, t.V.Conditions.Wet, b.rigs[t.V.RigID], port, b.job.Limit, b.job.Engine.Bore})
	for _, v := range b.job.Valves {
		if slices.Contains(port.Valves, v.ID) {
			_ = enc.Encode([]any{v.Head, v.Side})
		}
	}
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

// judge sets limit, chances and verdict. A port holds when all its leak would
// still be within one valve's limit; it leaks when even all its valves at their
// limits would pass less; between the two nothing can be told from outside.
func (j *judged) judge(job head.Job, port head.Port) error {
	r := j.Reading
	j.overOne, j.overAll = 2, 2 // tells nothing
	if port.ID == "" || r == nil {
		return nil
	}
	l, err := limitsOf(job, port, r.Room, r.RoomTemp)
	if err != nil || l.one == 0 {
		return err
	}
	j.Limit = &report.Limit{Flow: l.one, Workmanship: l.workmanship, Diameter: l.diameter}
	if r.Leak == nil || r.Refusal != nil {
		return nil
	}
	j.overOne, j.overAll = r.ChanceOver(l.one), r.ChanceOver(l.all)
	over := j.overOne
	j.Over = &over
	j.Verdict = limit.CantTellYet
	switch {
	case limit.Judge(j.overOne, job.Limit.Strict) == limit.Holds:
		j.Verdict = limit.Holds
	case limit.Judge(j.overAll, job.Limit.Strict) == limit.Leaks && !r.UpperLimitOnly:
		j.Verdict = limit.Leaks
	}
	return nil
}

// between says that only a masked valve could tell more: the leak is surely
// more than one valve's limit, and may be within two.
func (j *judged) between() bool {
	return j.Verdict == limit.CantTellYet && j.overOne >= .5 && j.overAll < .95 && j.Reading != nil
}

// together reads several like tests of a port as one.
func together(job head.Job, port head.Port, all []*judged) (*judged, error) {
	if len(all) == 1 {
		return all[0], nil
	}
	out := &judged{Outcome: &report.Outcome{Port: report.PortName(port)}}
	var tests []leak.Test
	var index []int
	for i, o := range all {
		out.Each = append(out.Each, o.Outcome)
		if o.Err != nil || o.Reading == nil {
			out.Err = o.Err
			continue
		}
		tests = append(tests, leak.Test{Name: fmt.Sprintf("test %d", i+1), Reading: o.Reading})
		index = append(index, i)
	}
	if len(tests) == 0 {
		return out, nil
	}
	out.Err = nil
	out.Reading = leak.Together(tests, nil)
	out.Middle = index[0]
	if rep := out.Reading.Repeats; rep != nil {
		out.Middle = index[rep.Middle]
	} else {
		// one of them answers alone, and its chances are known
		for i, o := range all {
			if o.Answered() {
				return all[i], nil
			}
		}
	}
	m := all[out.Middle]
	out.Held, out.Faults, out.Sketch, out.Room, out.Volume, out.RigLeak = m.Held, m.Faults, m.Sketch, m.Room, m.Volume, m.RigLeak
	return out, out.judge(job, port)
}

// readAll reads tests on all cores, in their order.
func (s *Server) readAll(ctx context.Context, b bench, tests []kept[test]) ([]*judged, error) {
	out := make([]*judged, len(tests))
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

// like says whether two tests were made alike: only those are read together.
func like(a, b head.Conditions) bool {
	return a.Held == b.Held && a.Wet == b.Wet && a.Guide == b.Guide && (a.Plugged == head.No) == (b.Plugged == head.No)
}

// stream is a text as a reader that is closed.
func stream(text string) io.Reader { return strings.NewReader(text) }

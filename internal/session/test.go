package session

import (
	"maps"
	"sort"
	"time"

	"seatproof/internal/source"
	"seatproof/trace"
)

const (
	shortPull = 3   // s that a pull without vacuum or hold must last to be worth filing
	someHold  = 2   // s of hold that are worth filing when the pump draws again
	keepPull  = 60  // s of a pull that never ends which stay in memory, at its beginning
	keepLast  = 300 // s and at its end
)

// pull begins a test, on what is on the plate now.
func (m *machine) pull(at float64) {
	if t := m.test; t != nil {
		if t.held == 0 || at-t.held < someHold {
			t.held, t.steady, t.looks, t.asked, t.calls, t.reason = 0, 0, nil, 0, 0, "" // pulled on
			return
		}
		// held, and pulled again without venting: two tests
		m.end(at)
	}
	m.finishTail(at)
	m.leaveStanding()
	m.tests++
	t := &test{number: m.tests, port: m.target(), known: m.knownOn(), pulled: at, before: maps.Clone(m.gauges[0].troubles)}
	// from where the gauge had come to rest: the fall of the vent before it
	// belongs to the test before
	from := max(at-m.plan.Manner.Lead, m.gauges[0].watch.rested)
	for range m.gauges {
		t.first = append(t.first, from)
	}
	m.test = t
	m.say(Say{Code: SayPulling, Port: t.port, Test: t.number})
}

// hold begins the hold of a test.
func (m *machine) hold(at float64, told bool) {
	t := m.test
	if t == nil || t.held > 0 {
		return
	}
	t.held, t.told = at, told
	m.do(Call{Seconds: 0, Vacuum: m.gauges[0].watch.Level()})
}

// vented ends a test; one that never pulled is none.
func (m *machine) vented(at float64) {
	t := m.test
	if t == nil {
		return
	}
	deepest := m.gauges[0].watch.Deepest()
	if t.held == 0 && at-t.pulled < shortPull && (deepest < realVacuum || t.steady == 0) {
		m.test = nil
		m.tests--
		m.say(Say{Code: SayNothingPulled, Port: t.port})
		return
	}
	m.end(at)
}

// end closes a test; its vented tail is still to come.
func (m *machine) end(at float64) {
	m.test.ended = at
	m.test, m.ended = nil, m.test
}

// tail files a test whose vented tail is in.
func (m *machine) tail() {
	if t := m.ended; t != nil && m.now >= t.ended+m.plan.Manner.Tail {
		m.finishTail(m.now)
	}
}

// finishTail files a test that has ended, with what tail came in until a time.
func (m *machine) finishTail(until float64) {
	t := m.ended
	if t == nil {
		return
	}
	m.ended = nil
	m.file(t, min(until, t.ended+m.plan.Manner.Tail), false)
}

// interrupt files what is under way as far as it went.
func (m *machine) interrupt() {
	m.finishTail(m.now)
	t := m.test
	if t == nil {
		return
	}
	m.test = nil
	if t.held == 0 && t.steady == 0 { // cut off on its way down: no reading can come of it
		m.tests--
		m.say(Say{Code: SayNothingPulled, Port: t.port})
		return
	}
	t.ended = m.gauges[0].lastAt
	m.file(t, t.ended, true)
	m.say(Say{Code: SayInterrupted, Port: t.port, Test: t.number})
}

// file files a test with its samples up to a time, and asks for its reading.
func (m *machine) file(t *test, until float64, cut bool) {
	f := Filed{
		Test: t.number, Port: t.port, Known: t.known, From: t.first[0], Pulled: t.pulled, Ended: t.ended, Enough: t.reason, Looks: len(t.looks),
		Interrupted: cut, Cut: t.cut, Check: m.check,
	}
	if t.held > 0 {
		f.Held = t.ended - t.held
	}
	for code, n := range m.gauges[0].troubles {
		if k := n - t.before[code]; k > 0 {
			if f.Troubles == nil {
				f.Troubles = map[source.Code]int{}
			}
			f.Troubles[code] = k
		}
	}
	a := FileTest{Filed: f}
	for i := range m.gauges {
		a.Traces = append(a.Traces, m.traceOf(t, i, until))
	}
	if tr := a.Traces[0]; tr.Len() > 0 {
		f.From = a.Traces[0].Time[0] + m.baseOf(t, 0)
		a.From = f.From
	}
	a.ShutAt = m.shutAt(t)
	m.filed = append(m.filed, f)
	m.do(a)
	if !cut {
		m.say(Say{Code: SayFiled, Port: t.port, Test: t.number})
	}
	l := m.lookAt(t, true)
	l.Held, l.Trace = f.Held, a.Traces[0]
	m.do(l)
	m.made(f)
}

// lookAt asks the estimator about the trace of a test so far.
func (m *machine) lookAt(t *test, final bool) Look {
	l := Look{Test: t.number, Port: t.port, Final: final, Limit: m.limitOf(t.port), All: m.allOf(t.port), Limits: m.limitsOf(t.port), From: m.baseOf(t, 0), Rig: m.rigFor(t.port), ShutAt: m.shutAt(t)}
	if !final {
		l.Trace = m.traceOf(t, 0, m.now)
	}
	return l
}

// shutAt is when a person said that the pump was shut off, in the trace's time.
func (m *machine) shutAt(t *test) *float64 {
	if !t.told || t.held == 0 {
		return nil
	}
	x := t.held - m.baseOf(t, 0)
	return &x
}

// baseOf is the time 0 of a test's trace of gauge i [s].
func (m *machine) baseOf(t *test, i int) float64 {
	g := m.gauges[i]
	if k := sort.SearchFloat64s(g.time, t.first[i]); k < len(g.time) {
		return g.time[k]
	}
	return t.first[i]
}

// traceOf is the raw trace of a test as gauge i saw it, until a time.
func (m *machine) traceOf(t *test, i int, until float64) *trace.Trace {
	g := m.gauges[i]
	a := sort.SearchFloat64s(g.time, t.first[i])
	z := sort.Search(len(g.time), func(k int) bool { return g.time[k] > until })
	z = max(a, z)
	tr := &trace.Trace{Kind: g.plan.Reads, Value: g.value[a:z:z], Step: g.watch.bins.grain()}
	tr.Time = make([]float64, z-a)
	for k := range tr.Time {
		tr.Time[k] = g.time[a+k] - g.time[a]
	}
	tr.Header = trace.Header{
		Rig: m.plan.Rig.Name, Port: m.nameOf(t.port), Held: string(m.plan.Held), Gauge: g.plan.Name,
		Started: time.UnixMilli(m.plan.Started + int64(1000*m.baseOf(t, i))).UTC().Format("2006-01-02T15:04:05.000Z"),
	}
	tr.Faults = faultsOf(tr.Time)
	return tr
}

func (m *machine) nameOf(target string) string {
	if i := m.plan.port(target); i >= 0 {
		return m.plan.Ports[i].Name
	}
	if i := m.plan.step(target); i >= 0 && m.plan.Steps[i].Name != "" {
		return m.plan.Steps[i].Name
	}
	return target
}

// faultsOf counts what a logger's file would show of its times.
func faultsOf(t []float64) trace.Faults {
	f := trace.Faults{Rows: len(t)}
	if len(t) < 3 {
		return f
	}
	d := make([]float64, 0, len(t)-1)
	for i := 1; i < len(t); i++ {
		if x := t[i] - t[i-1]; x > 0 {
			d = append(d, x)
		} else {
			f.Repeated++
		}
	}
	if len(d) == 0 {
		return f
	}
	s := append([]float64(nil), d...)
	sort.Float64s(s)
	f.Interval = s[len(s)/2]
	for _, x := range d {
		if x > 5*f.Interval && x > 0.2 {
			f.Gaps++
			f.LongestGap = max(f.LongestGap, x)
		}
	}
	return f
}

// shorten keeps a pull that never ends within bounds: its middle is left to the
// journal.
func (m *machine) shorten(t *test) {
	for i, g := range m.gauges {
		n := len(g.time)
		if n == 0 || g.time[n-1]-t.pulled-t.cut < 2*keepLast+keepPull {
			continue
		}
		a := sort.SearchFloat64s(g.time, t.pulled+keepPull)
		z := sort.SearchFloat64s(g.time, g.time[n-1]-keepLast)
		if a >= z {
			continue
		}
		if i == 0 {
			t.cut += g.time[z] - g.time[a]
		}
		g.time = append(append([]float64(nil), g.time[:a]...), g.time[z:]...)
		g.value = append(append([]float64(nil), g.value[:a]...), g.value[z:]...)
	}
}

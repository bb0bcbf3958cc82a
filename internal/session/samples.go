package session

import (
	"math"
	"sort"

	"seatproof/internal/source"
	"seatproof/trace"
)

const (
	clockSlack = 0.5 // s that a source's clock may differ from ours before it is set anew
	longGap    = 30  // s without samples after which the phases are found anew
)

// take takes samples of a source.
func (m *machine) take(e Samples) {
	if e.Source < 0 || e.Source >= len(m.gauges) || len(e.Value) == 0 || len(e.At) != len(e.Value) || e.Clock != nil && len(e.Clock) != len(e.Value) {
		return
	}
	g := m.gauges[e.Source]
	if g.stale || !g.seen && g.got > 0 {
		m.say(Say{Code: SayBack, Source: g.plan.Name})
	}
	g.stale, g.seen = false, true
	if g.trouble == source.Lost || g.trouble == source.Stalled {
		g.trouble, g.detail = "", ""
	}
	for i, v := range e.Value {
		at := e.At[i]
		if !(at >= g.lastAt) { // NaN too
			at = g.lastAt
		}
		if at > g.lastAt+longGap && g.got > 0 {
			m.lostSight(e.Source, at)
		}
		clock := math.NaN()
		if e.Clock != nil {
			clock = e.Clock[i]
		}
		t := g.timeOf(at, clock)
		g.lastAt = at
		g.got++
		if !valid(v) {
			g.bad++
			continue
		}
		g.time, g.value = append(g.time, t), append(g.value, v)
		if g.watch.Add(t, v) {
			m.changed(e.Source)
		}
	}
	if m.test == nil && m.ended == nil {
		g.forget(g.lastAt - m.lead())
	}
}

// timeOf is the time of a sample in the session: by the source's own clock,
// which knows better than the wire when it was taken, unless that clock has
// been set, has started again, runs away or stands still. It does not fall.
func (g *gauge) timeOf(at, clock float64) float64 {
	t := at
	if valid(clock / 100) { // within three centuries of seconds
		if clock != g.clock {
			g.clock, g.ticked = clock, at
		}
		if at-g.ticked < clockSlack/2 {
			if t = clock + g.offset; !g.clocked || math.Abs(t-at) > clockSlack {
				g.offset, g.clocked = at-clock, true
				t = at
			}
		}
	}
	if n := len(g.time); n > 0 && t < g.time[n-1] {
		t = g.time[n-1]
	}
	return t
}

// forget lets go of samples before t, now and then.
func (g *gauge) forget(t float64) {
	n := len(g.time)
	if n < 64 || g.time[n/2] > t {
		return
	}
	k := sort.SearchFloat64s(g.time, t)
	// a copy, since traces that were handed out share the memory
	g.time, g.value = append([]float64(nil), g.time[k:]...), append([]float64(nil), g.value[k:]...)
}

// lostSight begins the phases of a gauge anew after a long silence. A test
// that was under way is filed as far as it went.
func (m *machine) lostSight(i int, at float64) {
	g := m.gauges[i]
	if i == 0 {
		m.interrupt()
	}
	old := g.watch
	g.watch = NewWatch(g.plan.Reads, g.plan.Step)
	g.watch.bins.step = old.bins.step
	g.clocked = false
	if m.test == nil && m.ended == nil {
		g.time, g.value = nil, nil
	}
	if i == 0 {
		m.do(ShowPhase{Source: 0, Phase: "", Since: at})
	}
}

// changed takes note of a new phase of a gauge.
func (m *machine) changed(i int) {
	p, since := m.gauges[i].watch.Phase()
	m.do(ShowPhase{Source: i, Phase: p, Since: since})
	if i != 0 || m.stage == Over {
		return
	}
	switch p {
	case trace.Pull:
		m.pull(since)
	case trace.Steady:
		if m.test != nil {
			m.test.steady = since
		}
	case trace.Hold:
		m.hold(since, false)
	case trace.Vented:
		m.vented(since)
	}
}

// aging notices a source that gives nothing new.
func (m *machine) aging() {
	for _, g := range m.gauges {
		if age := m.now - g.lastAt; age > m.plan.Manner.Stale && !g.stale {
			g.stale = true
			if g.got > 0 {
				m.say(Say{Code: SayStale, Source: g.plan.Name, Figures: map[string]float64{"age": age}})
			}
		}
	}
}

// notice takes what a source told.
func (m *machine) notice(e Notice) {
	if e.Source < 0 || e.Source >= len(m.gauges) {
		return
	}
	g := m.gauges[e.Source]
	if g.troubles == nil {
		g.troubles = map[source.Code]int{}
	}
	g.troubles[e.Code] += max(1, e.Count)
	switch e.Code {
	case source.Connected:
		if g.trouble == source.Lost || g.trouble == source.Stalled {
			g.trouble, g.detail = "", ""
		}
		return
	case source.ClockBack, source.ClockJump:
		g.clocked = false
	case source.Lost:
		g.seen = false
	}
	if g.trouble != e.Code || e.Code == source.Lost || e.Code == source.ClockStep {
		m.say(Say{Code: SayTrouble, Source: g.plan.Name, Detail: string(e.Code), Figures: map[string]float64{"count": float64(max(1, e.Count))}})
	}
	g.trouble, g.detail = e.Code, e.Detail
}

// resumed goes on after the session was away: what was under way is filed as
// far as it went, since nobody saw what happened meanwhile.
func (m *machine) resumed(e Resumed) {
	away := 0.0
	for i, g := range m.gauges {
		if g.got == 0 {
			continue
		}
		if i == 0 {
			away = e.At - g.lastAt
		}
		if e.At-g.lastAt > 2 {
			m.lostSight(i, e.At)
		} else {
			g.clocked = false
		}
	}
	m.say(Say{Code: SayResumed, Port: m.target(), Figures: map[string]float64{"away": away, "cut": float64(e.Cut)}})
}

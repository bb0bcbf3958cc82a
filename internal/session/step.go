package session

import "math"

// Step takes a state and what happened, and returns the state after it and
// what is to be done, in that order. The state that is handed in is spent. The
// same state and event always give the same.
func Step(s State, e Event) (State, []Action) {
	m := &machine{State: s}
	if b, ok := e.(Begin); ok {
		m.begin(b)
		return m.State, m.out
	}
	if m.plan == nil {
		return m.State, nil
	}
	if t := e.when(); t > m.now && !math.IsInf(t, 0) { // never back
		m.now = t
	}
	switch e := e.(type) {
	case Samples:
		m.take(e)
	case Notice:
		m.notice(e)
	case Key:
		m.key(e)
	case Looked:
		m.looked(e)
	case Resumed:
		m.resumed(e)
	}
	m.pass()
	return m.State, m.out
}

// machine is a step being made.
type machine struct {
	State
	out []Action
}

func (m *machine) do(a Action) { m.out = append(m.out, a) }
func (m *machine) say(s Say)   { m.do(s) }

// begin sets out with a plan.
func (m *machine) begin(b Begin) {
	p := b.Plan
	p.Manner = p.Manner.defaults()
	m.State = State{plan: &p, now: b.At, stage: OnBlank}
	for _, s := range p.Sources {
		m.gauges = append(m.gauges, &gauge{plan: s, watch: NewWatch(s.Reads, s.Step), lastAt: b.At})
	}
	if p.smallest() == 0 {
		m.check.Blank = NoMeans // nothing to hold it to; the blank is still asked for
	}
	if len(p.Steps) > 0 {
		m.beginSteps()
		return
	}
	m.say(Say{Code: SayPutOn, Port: string(OnBlank)})
}

// pass does what is due by now.
func (m *machine) pass() {
	m.aging()
	m.tail()
	m.standing()
	t := m.test
	if t == nil {
		return
	}
	how := m.plan.Manner
	switch {
	case t.held > 0:
		m.holding(t)
	case t.steady > 0:
		if !t.shutSaid && m.now-t.steady >= how.SteadyFor {
			t.shutSaid = true
			code := SayShutOffNow
			if m.plan.holdOf(t.port) == 0 {
				code = SayVentNow
			}
			m.say(Say{Code: code, Port: t.port, Figures: map[string]float64{"vacuum": m.gauges[0].watch.Level()}})
		}
		m.pumpOn(t, t.steady)
	default:
		m.pumpOn(t, t.pulled)
	}
}

// pumpOn notices a pump that runs on and on.
func (m *machine) pumpOn(t *test, since float64) {
	how := m.plan.Manner
	if m.now-since >= how.PumpTooLong+float64(t.warned)*how.PumpAgain {
		t.warned++
		m.do(PumpTooLong{Port: t.port, For: m.now - since, Times: t.warned})
	}
	m.shorten(t)
}

// holding looks at a hold when it is time to, and counts aloud.
func (m *machine) holding(t *test) {
	how := m.plan.Manner
	how.Hold = m.plan.holdOf(t.port)
	into := m.now - t.held
	if next := float64(t.calls+1) * how.Call; into >= next && into < 3600 {
		t.calls = int(into / how.Call)
		m.do(Call{Seconds: float64(t.calls) * how.Call, Vacuum: m.gauges[0].watch.Level()})
	}
	if k := t.asked; k < len(lookTimes) && into >= lookTimes[k] && lookTimes[k] < how.Hold {
		for t.asked < len(lookTimes) && into >= lookTimes[t.asked] {
			t.asked++
		}
		l := m.lookAt(t, false)
		l.Held = into
		m.do(l)
	}
	if t.reason == "" && into >= how.Hold {
		m.enough(t, TimeIsUp)
	}
}

// enough says that a hold will do.
func (m *machine) enough(t *test, why Reason) {
	t.reason = why
	say := Say{Code: SayThatWillDo, Port: t.port, Test: t.number, Detail: string(why), Figures: map[string]float64{"held": m.now - t.held}}
	m.say(say)
}

// looked takes what the estimator made of a trace.
func (m *machine) looked(e Looked) {
	if e.Final {
		for i := range m.filed {
			if f := &m.filed[i]; f.Test == e.Test {
				est := e.Estimate
				f.Estimate = &est
				m.do(ShowEstimate{Test: f.Test, Port: f.Port, Estimate: est})
				m.judge(f)
			}
		}
		return
	}
	t := m.test
	if t == nil || t.number != e.Test || t.held == 0 {
		return // it is over: the whole trace is judged now
	}
	t.looks = append(t.looks, e.Estimate)
	m.do(ShowEstimate{Test: t.number, Port: t.port, Estimate: e.Estimate})
	if m.stage == OnCheck {
		return // a step's hold is as long as it was planned
	}
	if why, ok := Enough(t.looks, m.plan.Strict, m.plan.Manner.Hold); ok && t.reason == "" {
		m.enough(t, why)
	}
}

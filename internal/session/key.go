package session

import "slices"

// key does what a person wants. A test that is under way keeps the port it was
// begun on, wherever the session goes meanwhile.
func (m *machine) key(e Key) {
	if m.stage == Over && e.Do != Refile {
		m.say(Say{Code: SayNotNow, Detail: string(e.Do)})
		return
	}
	switch e.Do {
	case Next:
		m.next()
	case Again:
		m.again()
	case GoTo:
		if m.stage == OnCheck {
			m.goToStep(e.Port)
			return
		}
		m.goTo(e.Port)
	case Skip:
		m.skip()
	case Refile:
		m.refile(e.Test, e.Port)
	case ShutOff:
		m.shutOff(e.At)
	case Finish:
		m.finish()
	default:
		m.say(Say{Code: SayNotNow, Detail: string(e.Do)})
	}
}

// next goes to the next port; from a check only when it is passed.
func (m *machine) next() {
	switch m.stage {
	case OnBlank, OnKnown:
		done := m.check.Blank
		if m.stage == OnKnown {
			done = m.check.Known
		}
		if !done.dealt() || done == NoMeans && m.check.BlankTest == 0 {
			m.say(Say{Code: SayCheckFirst, Port: string(m.stage)})
			return
		}
		m.onward()
	case OnCheck:
		m.nextStep()
	case OnPorts:
		if m.at+1 >= len(m.plan.Ports) {
			m.say(Say{Code: SayLastPort, Port: m.target()})
			return
		}
		m.at++
		m.say(Say{Code: SayPutOn, Port: m.target()})
	}
}

// goTo goes to a port; the checks come first.
func (m *machine) goTo(id string) {
	i := m.plan.port(id)
	switch {
	case m.stage != OnPorts:
		m.say(Say{Code: SayCheckFirst, Port: string(m.stage)})
	case i < 0:
		m.say(Say{Code: SayNoSuchPort, Detail: id})
	default:
		m.at = i
		m.say(Say{Code: SayPutOn, Port: id})
	}
}

// skip leaves out the check that is asked for. What it showed before stays.
func (m *machine) skip() {
	switch m.stage {
	case OnBlank:
		if m.check.Blank != Passed {
			m.check.Blank = Skipped
		}
	case OnKnown:
		if m.check.Known != Passed {
			m.check.Known = Skipped
		}
	case OnCheck:
		m.skipStep()
		return
	default:
		m.say(Say{Code: SayNotNow, Detail: string(Skip)})
		return
	}
	m.say(Say{Code: SaySkipped, Port: string(m.stage)})
	m.onward()
}

// refile files a test under another port. Its raw trace is as it was; it is
// read anew, since another port may have another limit and volume.
func (m *machine) refile(number int, to string) {
	if m.plan.port(to) < 0 {
		m.say(Say{Code: SayNoSuchPort, Detail: to})
		return
	}
	if t := m.test; t != nil && (number == t.number || number == 0 && len(m.filed) == 0) {
		m.moveUnderWay(t, to)
		return
	}
	if t := m.ended; t != nil && (number == t.number || number == 0) {
		m.moveUnderWay(t, to)
		return
	}
	i := len(m.filed) - 1
	if number != 0 {
		i = slices.IndexFunc(m.filed, func(f Filed) bool { return f.Test == number })
	}
	if i < 0 || m.filed[i].Port == to {
		m.say(Say{Code: SayNoSuchTest, Test: number, Port: to})
		return
	}
	m.filed = slices.Clone(m.filed)
	f := &m.filed[i]
	from := f.Port
	f.Moved = append(slices.Clone(f.Moved), from)
	f.Port = to
	f.Estimate = nil // made by another limit, and perhaps another volume
	m.unjudge(from, f.Test)
	m.do(MoveTest{Test: f.Test, From: from, To: to})
	m.say(Say{Code: SayRefiled, Port: from, To: to, Test: f.Test})
}

// moveUnderWay changes the port of a test that is not filed yet.
func (m *machine) moveUnderWay(t *test, to string) {
	if from := t.port; from != to {
		t.port = to
		m.say(Say{Code: SayRefiled, Port: from, To: to, Test: t.number})
	}
}

// unjudge takes back what a test said of a check, once it belongs elsewhere.
func (m *machine) unjudge(from string, number int) {
	c := &m.check
	if from == string(OnBlank) && c.BlankTest == number && c.Blank != Skipped && c.Blank != NoMeans {
		c.Blank, c.BlankTest, c.RigLeak, c.BlankChance = NotYet, 0, nil, 0
	}
	if from == string(OnKnown) && c.KnownTest == number && c.Known != Skipped && c.Known != NoMeans {
		c.Known, c.KnownTest, c.KnownLeak = NotYet, 0, nil
	}
}

// shutOff takes a person's word that the pump has been shut off.
func (m *machine) shutOff(at float64) {
	t := m.test
	if t == nil || t.held > 0 || at < t.pulled || !m.gauges[0].watch.ShutOff(at) {
		m.say(Say{Code: SayNotNow, Detail: string(ShutOff)})
		return
	}
	m.do(ShowPhase{Source: 0, Phase: m.phase(), Since: at})
	m.hold(at, true)
}

// finish ends the run; a test under way is filed as far as it went.
func (m *machine) finish() {
	m.interrupt()
	m.stage = Over
	m.say(Say{Code: SayDone})
}

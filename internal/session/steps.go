package session

import (
	"maps"

	"seatproof/leak"
	"seatproof/trace"
)

// A check of the rig is a run without ports: its targets are the steps of the
// check, in the order of the plan. Each can be left out, and gone back to. What
// a step's traces come to is not said here: whoever drives the run gives them
// to package check.

// Place is what is under the plate in a step of a check.
type Place string

// The places.
const (
	Open       Place = "open"       // nothing: the gauge stands open to the room
	Blanked    Place = "blank"      // a flat and clean blank
	OnAKnown   Place = "known-leak" // a known leak
	openFor          = 10.0         // s of a gauge open to the room that make its zero, where the plan does not say
	openSettle       = 1.5          // s after a vent before a gauge counts as standing
)

// CheckStep is one step of a check of the rig.
type CheckStep struct {
	ID    string      `json:"id"`
	Name  string      `json:"name,omitempty"`
	On    Place       `json:"on"`
	Tests int         `json:"tests,omitempty"` // that are wanted; 0: one
	Hold  float64     `json:"hold,omitempty"`  // s; 0: none, vented from the steady reading. Of an open gauge: how long it stands
	Runs  bool        `json:"runs,omitempty"`  // the pump runs on behind the shut valve
	Known []KnownLeak `json:"known,omitempty"` // one after the other; with them as many tests are wanted
}

// KnownLeak is a known leak that is put on in a step.
type KnownLeak struct {
	Name string        `json:"name"`
	Flow leak.Interval `json:"flow"`          // m³/s of free air at 50 kPa
	Way  string        `json:"way,omitempty"` // what it is made of, as whoever drives the run names it
}

// wanted is how many tests of a step there are to be.
func (c *CheckStep) wanted() int { return max(1, c.Tests, len(c.Known)) }

// stepState is where a step stands.
type stepState struct {
	made    int // tests filed, of known leaks those that were on
	at      int // of the known leaks, the one that is next
	skipped bool
	since   float64 // s, from when an open gauge counts
}

// StepView is a step as a screen shows it.
type StepView struct {
	ID      string  `json:"id"`
	On      Place   `json:"on"`
	Made    int     `json:"made"`
	Wanted  int     `json:"wanted"`
	Hold    float64 `json:"hold,omitempty"`
	Runs    bool    `json:"runs,omitempty"`
	Known   int     `json:"known,omitempty"`   // which known leak is next, from 1
	Stands  float64 `json:"stands,omitempty"`  // s that the open gauge has stood
	Skipped bool    `json:"skipped,omitempty"` // left out
	Here    bool    `json:"here,omitempty"`    // it is asked for now
}

// step returns the index of a step; -1: there is none.
func (p *Plan) step(id string) int {
	for i := range p.Steps {
		if p.Steps[i].ID == id {
			return i
		}
	}
	return -1
}

// on says what is under the plate for a target: [OnBlank], [OnKnown], or a port.
func (p *Plan) on(target string) string {
	if i := p.step(target); i >= 0 {
		if p.Steps[i].On == OnAKnown {
			return string(OnKnown)
		}
		return string(OnBlank)
	}
	return target
}

// holdOf is how long a target is to be held [s]; 0: not at all.
func (p *Plan) holdOf(target string) float64 {
	if i := p.step(target); i >= 0 {
		return p.Steps[i].Hold
	}
	return p.Manner.Hold
}

// beginSteps sets out with a check of the rig.
func (m *machine) beginSteps() {
	m.stage, m.at = OnCheck, 0
	m.check = Check{Blank: NoMeans, Known: NoMeans}
	m.steps = make([]stepState, len(m.plan.Steps))
	m.atStep(0)
}

// atStep goes to a step.
func (m *machine) atStep(i int) {
	m.at = i
	m.steps[i].since = m.now
	m.steps[i].skipped = false
	m.say(Say{Code: SayPutOn, Port: m.target(), Test: m.knownOn()})
}

// knownOn is which known leak the step at hand wants, from 1; 0: none.
func (m *machine) knownOn() int {
	if m.stage != OnCheck || len(m.plan.Steps[m.at].Known) == 0 {
		return 0
	}
	return 1 + min(m.steps[m.at].at, len(m.plan.Steps[m.at].Known)-1)
}

// nextStep goes on from a step that has a test.
func (m *machine) nextStep() {
	if m.steps[m.at].made == 0 && (m.test == nil || m.test.port != m.target()) && (m.ended == nil || m.ended.port != m.target()) {
		m.say(Say{Code: SayCheckFirst, Port: m.target()})
		return
	}
	m.onStep()
}

// onStep goes on to the next step, or ends the run.
func (m *machine) onStep() {
	if m.at+1 >= len(m.plan.Steps) {
		m.finish()
		return
	}
	m.atStep(m.at + 1)
}

// skipStep leaves a step out. What was tested in it stays.
func (m *machine) skipStep() {
	m.steps[m.at].skipped = m.steps[m.at].made == 0
	m.say(Say{Code: SaySkipped, Port: m.target()})
	m.onStep()
}

// goToStep goes to any step.
func (m *machine) goToStep(id string) {
	i := m.plan.step(id)
	if i < 0 {
		m.say(Say{Code: SayNoSuchPort, Detail: id})
		return
	}
	m.atStep(i)
}

// again asks for the same once more; of known leaks the one that was on last.
func (m *machine) again() {
	if m.stage == OnCheck {
		s := &m.steps[m.at]
		s.at, s.since = max(0, s.at-1), m.now
		if m.plan.Steps[m.at].On == Open {
			s.made = 0
		}
	}
	m.say(Say{Code: SayPutOn, Port: m.target(), Detail: string(Again), Test: m.knownOn()})
}

// made counts a test that was filed in its step.
func (m *machine) made(f Filed) {
	i := m.plan.step(f.Port)
	if i < 0 || f.Interrupted {
		return
	}
	s, p := &m.steps[i], &m.plan.Steps[i]
	if f.Known > 0 { // one that is put on again is no further one
		s.made, s.at = max(s.made, f.Known), f.Known
	} else {
		s.made++
	}
	switch {
	case m.stage != OnCheck || i != m.at:
	case s.made >= p.wanted():
		m.say(Say{Code: SayStepDone, Port: f.Port, To: m.following()})
	case len(p.Known) > 0:
		m.say(Say{Code: SayPutOn, Port: f.Port, Test: m.knownOn()})
	}
}

// lead is how much of a gauge that is open to the room is kept [s].
func (m *machine) lead() float64 {
	lead := m.plan.Manner.Lead
	if m.stage == OnCheck && m.plan.Steps[m.at].On == Open {
		lead = max(lead, m.standFor()+2)
	}
	return lead
}

func (m *machine) standFor() float64 {
	if h := m.plan.Steps[m.at].Hold; h > 0 {
		return h
	}
	return openFor
}

// stood is how long the gauge has stood open to the room in the step at hand
// [s], and since when.
func (s State) stood() (from, long float64) {
	if s.stage != OnCheck || s.plan.Steps[s.at].On != Open || s.test != nil || s.ended != nil || len(s.gauges) == 0 {
		return 0, 0
	}
	w := s.gauges[0].watch
	if s.phase() != trace.Vented || w.sinking {
		return 0, 0
	}
	from = max(s.steps[s.at].since, w.since)
	if w.settles > 0 {
		from = max(from, w.rested+openSettle)
	}
	return from, max(0, s.gauges[0].lastAt-from)
}

// standing files what an open gauge showed, once it has stood long enough.
func (m *machine) standing() {
	from, long := m.stood()
	if long == 0 || m.steps[m.at].made > 0 || long < m.standFor() {
		return
	}
	m.tests++
	t := &test{number: m.tests, port: m.target(), pulled: from, ended: m.gauges[0].lastAt, before: maps.Clone(m.gauges[0].troubles)}
	for range m.gauges {
		t.first = append(t.first, from)
	}
	m.file(t, t.ended, false)
}

// leaveStanding goes on from the step of the open gauge when the pump is
// switched on: the person is at the next one.
func (m *machine) leaveStanding() {
	if m.stage != OnCheck || m.plan.Steps[m.at].On != Open || m.at+1 >= len(m.plan.Steps) {
		return
	}
	m.steps[m.at].skipped = m.steps[m.at].made == 0
	m.atStep(m.at + 1)
}

// stepViews shows the steps.
func (s State) stepViews() []StepView {
	var out []StepView
	for i := range s.plan.Steps {
		p, x := &s.plan.Steps[i], s.steps[i]
		v := StepView{ID: p.ID, On: p.On, Made: x.made, Wanted: p.wanted(), Hold: p.Hold, Runs: p.Runs, Skipped: x.skipped, Here: s.stage == OnCheck && i == s.at}
		if len(p.Known) > 0 {
			v.Known = 1 + min(x.at, len(p.Known)-1)
		}
		if v.Here {
			_, v.Stands = s.stood()
		}
		out = append(out, v)
	}
	return out
}

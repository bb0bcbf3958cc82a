package session

import (
	"seatproof/check"
	"seatproof/internal/source"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// State is a session as it stands. It is handed to [Step], which gives back the
// next one; the one handed in is spent, since they share memory.
type State struct {
	plan   *Plan // nil: nothing has begun
	now    float64
	stage  Stage
	at     int // index of the port in the plan, in stage Ports; of the step, in stage Check
	check  Check
	gauges []*gauge
	test   *test // the one that is being made; nil: none
	ended  *test // the one whose vented tail is still coming in
	filed  []Filed
	tests  int // numbers given so far
	steps  []stepState
}

// Stage is where a run stands.
type Stage string

// The stages, in order.
const (
	Idle    Stage = ""           // nothing has begun
	OnBlank Stage = "blank"      // a blank is asked for
	OnKnown Stage = "known-leak" // a known leak is asked for
	OnPorts Stage = "ports"
	OnCheck Stage = "check" // the steps of a check of the rig, instead of all these
	Over    Stage = "over"
)

// Outcome is what became of a check.
type Outcome string

// The outcomes.
const (
	NotYet  Outcome = ""
	Passed  Outcome = "passed"
	Failed  Outcome = "failed"
	Unsure  Outcome = "unsure"
	Skipped Outcome = "skipped"
	NoMeans Outcome = "no-means" // no known leak was given, or no limit
)

// Check is the check that a run begins with.
type Check struct {
	Blank       Outcome        `json:"blank"`
	BlankTest   int            `json:"blank_test,omitempty"` // the last test that spoke of it
	BlankChance float64        `json:"blank_chance"`         // that the rig leaks more than a tenth of the smallest limit
	RigLeak     *leak.Interval `json:"rig_leak,omitempty"`   // m³/s, of the blank
	Known       Outcome        `json:"known"`
	KnownTest   int            `json:"known_test,omitempty"`
	KnownLeak   *leak.Interval `json:"known_leak,omitempty"` // m³/s, as it was read
}

// Filed is a test that was filed.
type Filed struct {
	Test        int                 `json:"test"`            // its number, from 1
	Port        string              `json:"port"`            // identity, or [OnBlank] or [OnKnown], or a step's
	Known       int                 `json:"known,omitempty"` // of a step with known leaks: which of them was on, from 1
	From        float64             `json:"from"`            // s, its first sample
	Ended       float64             `json:"ended"`           // when it was vented, or pulled again, or cut short
	Pulled      float64             `json:"pulled"`
	Held        float64             `json:"held"`             // s of hold; 0: none was seen
	Enough      Reason              `json:"enough,omitempty"` // why it was said that the hold will do
	Looks       int                 `json:"looks,omitempty"`  // at the hold while it went on
	Interrupted bool                `json:"interrupted,omitempty"`
	Cut         float64             `json:"cut,omitempty"`      // s of its steady reading that only the journal holds
	Check       Check               `json:"check"`              // as it stood when it was filed
	Troubles    map[source.Code]int `json:"troubles,omitempty"` // what the judged source told during it
	Moved       []string            `json:"moved,omitempty"`    // ports it was filed under before
	Estimate    *Estimate           `json:"estimate,omitempty"` // of the whole trace; nil: not yet
}

// gauge is a source as the session sees it.
type gauge struct {
	plan     SourcePlan
	watch    *Watch
	time     []float64 // s, kept samples: only ever appended to, or replaced
	value    []float64
	offset   float64 // s, session's time less its own clock's
	clocked  bool    // offset is known
	clock    float64 // s, its own clock's last, and when it was last seen to move
	ticked   float64
	lastAt   float64 // s, when the last sample came in
	got      int     // samples so far
	bad      int     // figures that can't be a gauge's
	seen     bool    // a sample came since it was last lost
	stale    bool    // said so
	trouble  source.Code
	detail   string
	troubles map[source.Code]int
}

// test is one pull and what follows.
type test struct {
	number   int
	port     string
	known    int       // of a step with known leaks: which of them is on, from 1
	first    []float64 // s, of each gauge: from when its samples belong to it
	pulled   float64   // s
	steady   float64   // s; 0: not yet
	held     float64   // s, shut-off; 0: not yet
	ended    float64   // s; 0: not yet
	told     bool      // the shut-off was said by a person
	shutSaid bool      // it was said that it is time to shut off
	looks    []Estimate
	asked    int // looks asked for
	calls    int
	reason   Reason
	warned   int // times the running pump was noticed
	cut      float64
	before   map[source.Code]int // troubles at its beginning
}

// target names what is on the plate: a port's identity, or the check.
func (s State) target() string {
	switch s.stage {
	case OnPorts:
		return s.plan.Ports[s.at].ID
	case OnCheck:
		return s.plan.Steps[s.at].ID
	}
	return string(s.stage)
}

// limitOf is the limit [m³/s] that a target is judged by.
func (s State) limitOf(target string) float64 {
	switch target {
	case string(OnBlank):
		return s.plan.smallest() / 10
	case string(OnKnown):
		return 0
	}
	if i := s.plan.port(target); i >= 0 {
		return s.plan.Ports[i].Limit
	}
	return 0
}

// allOf is the limit [m³/s] of all valves of a target together; 0: as its limit.
func (s State) allOf(target string) float64 {
	if i := s.plan.port(target); i >= 0 {
		return s.plan.Ports[i].All
	}
	return 0
}

// limitsOf are the limits of a target's valves; none where it has no such.
func (s State) limitsOf(target string) limit.Port {
	if i := s.plan.port(target); i >= 0 {
		return s.plan.Ports[i].Limits
	}
	return nil
}

// rigFor is the rig as it is for a target: of a blank all that leaks is the
// rig's; of others the rig leaks what the blank showed today, where it did.
func (s State) rigFor(target string) rig.Rig {
	r := s.plan.Rig
	r.Port.Held = s.plan.Held
	switch s.plan.on(target) {
	case string(OnBlank):
		return check.OnBlank(r)
	case string(OnKnown):
		r = check.OnKnownLeakOf(r)
	default:
		if i := s.plan.port(target); i >= 0 && s.plan.Ports[i].Volume > 0 {
			r.Port.Volume = unit.Exactly(s.plan.Ports[i].Volume)
			r.Port.Volume.Spread = s.plan.Rig.Port.Volume.Spread
			if x := s.plan.Ports[i].Spread; x > 0 {
				r.Port.Volume.Spread = x
			}
		}
	}
	if b := s.check.RigLeak; b != nil && s.check.Blank == Passed {
		half := (b.High - b.Low) / 2
		r.RigLeak = unit.Exactly((b.High + b.Low) / 2)
		r.RigLeak.Spread = half
	}
	return r
}

// phase is that of the first gauge, by which the tests go.
func (s State) phase() trace.PhaseName {
	if len(s.gauges) == 0 {
		return ""
	}
	p, _ := s.gauges[0].watch.Phase()
	return p
}

// Now returns the session's time [s].
func (s State) Now() float64 { return s.now }

// Plan returns the plan of the run, and whether there is one.
func (s State) Plan() (Plan, bool) {
	if s.plan == nil {
		return Plan{}, false
	}
	return *s.plan, true
}

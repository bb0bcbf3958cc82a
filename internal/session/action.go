package session

import (
	"encoding/json"
	"fmt"

	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
)

// Action is what whoever drives the session is to do.
type Action interface{ name() string }

// Say is a sentence to be said and shown: a code and its parts. Words come from
// elsewhere.
type Say struct {
	Code    SayCode            `json:"code"`
	Port    string             `json:"port,omitempty"`   // identity, or [OnBlank] or [OnKnown], or a step's
	To      string             `json:"to,omitempty"`     // a second one
	Test    int                `json:"test,omitempty"`   // number of the test it is about
	Source  string             `json:"source,omitempty"` // name of a source
	Detail  string             `json:"detail,omitempty"`
	Figures map[string]float64 `json:"figures,omitempty"` // SI
}

// SayCode names a sentence.
type SayCode string

// What may be said.
const (
	SayPutOn         SayCode = "put-on"          // Port goes under the plate
	SayPulling       SayCode = "pulling"         // a pull of Port has begun
	SayShutOffNow    SayCode = "shut-off-now"    // it is steady
	SayVentNow       SayCode = "vent-now"        // it is steady, and no hold is wanted of it
	SayStepDone      SayCode = "step-done"       // Port, a step of a check, has as many tests as are wanted; To: the next
	SayThatWillDo    SayCode = "that-will-do"    // the hold has told enough; Detail is the Reason
	SayFiled         SayCode = "filed"           // Test is filed under Port
	SayRefiled       SayCode = "refiled"         // Test moved from Port to To
	SayNothingPulled SayCode = "nothing-pulled"  // the vacuum was too small or too short to be a test
	SayCheckFirst    SayCode = "check-first"     // the check that Port names is asked for, or skip it
	SaySkipped       SayCode = "skipped"         // the check that Port names was skipped
	SayNoKnownLeak   SayCode = "no-known-leak"   // none was given: the check is left out
	SayBlankHolds    SayCode = "blank-holds"     // figures: chance
	SayBlankLeaks    SayCode = "blank-leaks"     // figures: chance, low, high
	SayBlankUnsure   SayCode = "blank-unsure"    // figures: chance, low, high; Detail: the refusal
	SayKnownRight    SayCode = "known-right"     // the known leak was called leaking, and right
	SayKnownLow      SayCode = "known-low"       // it read too low
	SayKnownHigh     SayCode = "known-high"      // it read too high
	SayKnownNotAbove SayCode = "known-not-above" // it can't be told from the blank
	SayKnownUnsure   SayCode = "known-unsure"    // no reading came of it; Detail: the refusal
	SayLastPort      SayCode = "last-port"       // there is none after Port
	SayDone          SayCode = "done"            // the run is over
	SayNoSuchPort    SayCode = "no-such-port"    // Detail: what was asked for
	SayNoSuchTest    SayCode = "no-such-test"
	SayNotNow        SayCode = "not-now"     // Detail: what was asked for
	SayTrouble       SayCode = "trouble"     // Source, Detail: what a source told
	SayStale         SayCode = "stale"       // Source gives nothing new; figures: age
	SayBack          SayCode = "back"        // Source is there again
	SayResumed       SayCode = "resumed"     // figures: away, cut
	SayInterrupted   SayCode = "interrupted" // Test was cut short and is filed as far as it went
)

// SayCodes lists every code, for those who have a word for each.
func SayCodes() []SayCode {
	return []SayCode{
		SayPutOn, SayPulling, SayShutOffNow, SayVentNow, SayStepDone, SayThatWillDo, SayFiled, SayRefiled, SayNothingPulled, SayCheckFirst,
		SaySkipped, SayNoKnownLeak, SayBlankHolds, SayBlankLeaks, SayBlankUnsure, SayKnownRight, SayKnownLow,
		SayKnownHigh, SayKnownNotAbove, SayKnownUnsure, SayLastPort, SayDone, SayNoSuchPort, SayNoSuchTest, SayNotNow,
		SayTrouble, SayStale, SayBack, SayResumed, SayInterrupted,
	}
}

// ShowPhase says that the phase of a gauge changed.
type ShowPhase struct {
	Source int             `json:"source"`
	Phase  trace.PhaseName `json:"phase"`
	Since  float64         `json:"since"` // s
}

// Call is one of the count aloud: seconds into the hold, and the vacuum then.
type Call struct {
	Seconds float64 `json:"seconds"`
	Vacuum  float64 `json:"vacuum"` // Pa
}

// PumpTooLong says that the pump seems to have been left running on a port that
// has been steady for so long [s], for the Times-th time.
type PumpTooLong struct {
	Port  string  `json:"port"`
	For   float64 `json:"for"`
	Times int     `json:"times"`
}

// Look asks for the estimator: give the trace to [Read], and what it returns to
// [Step] as [Looked]. The trace is shared and must not be changed.
type Look struct {
	Test   int          `json:"test"`
	Port   string       `json:"port"`
	Final  bool         `json:"final"`         // of the whole trace, once it is filed
	Held   float64      `json:"held"`          // s into the hold
	Limit  float64      `json:"limit"`         // m³/s; 0: none
	All    float64      `json:"all,omitempty"` // m³/s, of all its valves together; 0: as Limit
	Limits limit.Port   `json:"-"`             // of its valves, where the trace tells how it leaks
	From   float64      `json:"from"`          // s of the session at the trace's time 0
	Rig    rig.Rig      `json:"-"`
	Trace  *trace.Trace `json:"-"`
	ShutAt *float64     `json:"-"` // s in the trace's time, when a person said so
}

// ShowEstimate is the live estimate of a hold.
type ShowEstimate struct {
	Test     int      `json:"test"`
	Port     string   `json:"port"`
	Estimate Estimate `json:"estimate"`
}

// FileTest files a test, with all its raw samples, under a port. Run and number
// are its identity: after a crash it may be asked for again.
type FileTest struct {
	Filed
	Traces []*trace.Trace `json:"-"`              // one a source, the judged first
	ShutAt *float64       `json:"shut,omitempty"` // s in the trace's time, when a person said so
}

// MoveTest files a test under another port. Its reading was made by the old
// port's limit and volume: read its raw trace anew and give it back as a final
// [Looked].
type MoveTest struct {
	Test int    `json:"test"`
	From string `json:"from"`
	To   string `json:"to"`
}

func (Say) name() string          { return "say" }
func (ShowPhase) name() string    { return "phase" }
func (Call) name() string         { return "call" }
func (PumpTooLong) name() string  { return "pump-too-long" }
func (Look) name() string         { return "look" }
func (ShowEstimate) name() string { return "estimate" }
func (FileTest) name() string     { return "file" }
func (MoveTest) name() string     { return "move" }

// MarshalAction writes an action as JSON, its kind under "do".
func MarshalAction(a Action) ([]byte, error) {
	b, err := json.Marshal(a)
	if err != nil {
		return nil, fmt.Errorf("write action %s: %w", a.name(), err)
	}
	head := fmt.Sprintf(`{"do":%q`, a.name())
	if len(b) > 2 {
		head += ","
	}
	return append([]byte(head), b[1:]...), nil
}

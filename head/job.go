// Package head keeps the books of a cylinder head: what it is, how it lies on
// the bench, its ports and valves, the tests made of them, the work done, and
// what all that comes to.
//
// Start with [Job], a head as it was booked in, and [CardOf], which says of every
// port what holds, what leaks and what to do next. [Layout] makes a whole head
// from a few figures, [PlanOf] draws it in plan. Everything a person did not say is a unit.Measured that is
// not Known; rules guess it, wide, and mark it. No I/O: times are handed in, in
// milliseconds since 1970 UTC, and so are identities.
package head

import (
	"encoding/json"

	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// Job is one head on the bench.
type Job struct {
	ID       string `json:"id"`
	Number   string `json:"number"` // the owner's label, as on the bench: "QSH-0412"
	Title    string `json:"title"`  // "Small-car head, inline three"
	Owner    string `json:"owner"`
	Initials string `json:"initials"` // who works on it
	Opened   int64  `json:"opened"`   // ms since 1970 UTC
	Notes    string `json:"notes"`
	Invented bool   `json:"invented"` // an example: no such head exists

	Engine Engine  `json:"engine"`
	Lie    Lie     `json:"lie"`
	Ports  []Port  `json:"ports"`  // in the order of cylinders
	Valves []Valve `json:"valves"` // likewise
	Limit  Limit   `json:"limit"`
	RigID  string  `json:"rig"` // the rig it is tested on

	reckon *reckoner // what limits are found with; nil: the job alone
}

// Engine is what is known of the engine a head is of. SI; optional but for the
// number of cylinders of this head.
type Engine struct {
	Cylinders        int           `json:"cylinders"` // of this head
	Numbers          []int         `json:"numbers"`   // of its cylinders as its maker counts, from the end at which he starts; none: 1, 2, 3 …
	Form             Form          `json:"form"`
	SameSide         bool          `json:"same_side"` // intake and exhaust ports open on one side of the head
	Bore             unit.Measured `json:"bore"`      // m
	Stroke           unit.Measured `json:"stroke"`    // m
	Rod              unit.Measured `json:"rod"`       // m, length of the connecting rod
	Chamber          unit.Measured `json:"chamber"`   // m³
	CompressionRatio unit.Measured `json:"compression_ratio"`
	IntakeCloses     unit.Measured `json:"intake_closes"` // rad after bottom dead centre
	Cranking         unit.Measured `json:"cranking"`      // rad/s, of the crankshaft
	Idle             unit.Measured `json:"idle"`          // rad/s, of the crankshaft
	TopSpeed         unit.Measured `json:"top_speed"`     // rad/s, of the crankshaft
}

// Form is how the cylinders of an engine stand. The zero value means not known.
type Form string

// The forms. A head of a vee or flat engine is one bank of it.
const (
	FormNotSaid Form = ""
	FormInline  Form = "inline"
	FormVee     Form = "vee"
	FormFlat    Form = "flat"
)

// Lie is how the head lies before the person. Zero: nobody said, and the drawing
// asks.
type Lie struct {
	Said       bool   `json:"said"`
	ChambersUp bool   `json:"chambers_up"` // else the cam side is up
	FirstLeft  bool   `json:"first_left"`  // the end at which its maker starts to count lies left
	IntakeAway bool   `json:"intake_away"` // the intake side is away from the person
	Landmark   string `json:"landmark"`    // at the end at which its maker starts to count: "timing chain"
}

// Side says which way a port or a valve serves.
type Side string

// The sides.
const (
	Intake  Side = "intake"
	Exhaust Side = "exhaust"
)

// Port is one opening on the face of the head, which the plate closes.
type Port struct {
	ID        string        `json:"id"`        // within the job: "p1"
	Cylinders []int         `json:"cylinders"` // as its maker counts; two for a siamesed port
	Side      Side          `json:"side"`
	Part      string        `json:"part"`   // "" or which of several on that side: "left", "right"; see [Valve].Place
	Valves    []string      `json:"valves"` // identities of the valves it feeds
	Plugs     []string      `json:"plugs"`  // other openings that must be plugged: "injector hole"
	Volume    unit.Measured `json:"volume"` // m³

	// Since is when its valves were last grouped otherwise [ms since 1970 UTC]; 0:
	// never. Tests made before lapse, for they were of another port.
	Since int64 `json:"since,omitempty"`
}

// Valve is one valve with its seat and guide.
type Valve struct {
	ID        string        `json:"id"` // within the job: "v1"
	Cylinder  int           `json:"cylinder"`
	Side      Side          `json:"side"`
	Place     string        `json:"place"`           // "" or which of several: "left", "middle", "right", as it is with the maker's first end at the left
	Head      unit.Measured `json:"head_diameter"`   // m
	Stem      unit.Measured `json:"stem_diameter"`   // m
	Contact   unit.Measured `json:"contact_width"`   // m
	SeatAngle unit.Measured `json:"seat_angle"`      // rad
	FaceAngle unit.Measured `json:"face_angle"`      // rad
	Guide     unit.Measured `json:"guide_length"`    // m
	Clearance unit.Measured `json:"guide_clearance"` // m, diametral
	Seal      string        `json:"seal"`            // stem seal, in the person's words
	Coating   Coating       `json:"coating"`         // lapping is out of the question for some
}

// Coating is what keeps a valve from being lapped. The zero value means not
// known.
type Coating string

// The coatings.
const (
	CoatingNotSaid  Coating = ""
	CoatingNone     Coating = "none"
	CoatingHard     Coating = "coated"
	CoatingNitrided Coating = "nitrided"
	CoatingTitanium Coating = "titanium"
	CoatingHollow   Coating = "hollow"
)

// Limit says which leak of a valve is too much: workmanship and cost side by
// side, the stricter decides; or a basis of the person's own in their place.
type Limit struct {
	Flow   unit.Measured `json:"flow"` // m³/s of free air at 50 kPa: the maker's figure or one's own; known and no basis said: it decides
	Gap    unit.Measured `json:"gap"`  // m, cube-mean gap of the workmanship limit; not known: 3 µm
	Strict bool          `json:"strict"`

	Cost   unit.Measured `json:"cost"`    // 0..1 of cranking pressure, all valves of a cylinder together; not known: 2 %
	NoCost bool          `json:"no_cost"` // the cost limit is set aside
	Basis  limit.Kind    `json:"basis"`   // "": workmanship and cost; what decides in their place
	Drop   unit.Measured `json:"drop"`    // Pa below the blanked reading, for that basis
	Good   string        `json:"good"`    // identity of the port known good, for that basis
}

// Conditions are how a test was made. Only like is compared with like.
type Conditions struct {
	Held    rig.Held   `json:"held"`
	Wet     rig.Liquid `json:"wet_with"` // nothing: dry
	Guide   Guide      `json:"guide"`
	Turned  bool       `json:"turned"`  // the valve was lifted, turned and dropped since the last test
	Placed  bool       `json:"placed"`  // the plate was put down again since the last test
	Plugged Answer     `json:"plugged"` // other openings of the port
	State   State      `json:"state"`
	Masked  []string   `json:"masked"` // identities of the valves sealed off on purpose
}

// Guide says whether a valve's guide was open to the room.
type Guide string

// The guides. The zero value means not known.
const (
	GuideNotSaid Guide = ""
	GuideOpen    Guide = "open"
	GuideClosed  Guide = "closed-off"
)

// Answer is yes, no, or not said.
type Answer string

// The answers.
const (
	NotSaid Answer = ""
	Yes     Answer = "yes"
	No      Answer = "no"
)

// State is what had been done to the valves of a port when it was tested. The
// zero value means not known.
type State string

// The states, in the order in which a head goes through them.
const (
	StateNotSaid   State = ""
	StateAsFound   State = "as-found"
	StateCleaned   State = "cleaned"
	StateCut       State = "cut"
	StateLapped    State = "lapped"
	StateAssembled State = "assembled"
)

// Source is where a test's figures came from.
type Source string

// The sources.
const (
	FromFile    Source = "file"    // a logger's recording
	FromSession Source = "session" // a run of tests, live from a sensor
	FromCount   Source = "count"   // read at the calls of the count
	FromMarks   Source = "marks"   // tapped as the needle passed marks
	FromTable   Source = "table"   // a table of time and reading
	FromSteady  Source = "steady"  // the steady reading alone
)

// Test is one test of one port, or one that is not filed yet.
type Test struct {
	ID         string     `json:"id"`
	JobID      string     `json:"job"`  // "": in the tray
	PortID     string     `json:"port"` // "": in the tray
	At         int64      `json:"at"`   // ms since 1970 UTC, when it was made
	By         string     `json:"by"`   // initials
	Source     Source     `json:"source"`
	RigID      string     `json:"rig"`
	CheckID    string     `json:"check"` // the rig check it leans on
	Conditions Conditions `json:"conditions"`
	TraceID    string     `json:"trace"`              // the samples as they came
	Beside     []Beside   `json:"beside,omitempty"`   // what other gauges showed meanwhile: recorded, not judged
	Columns    string     `json:"columns,omitempty"`  // what their columns hold, where a person corrected it: [trace.ReadOptions]
	ShutOff    *float64   `json:"shut_off,omitempty"` // s in the recording's time, when a person said that the pump was shut off; nil: nobody did
	Note       string     `json:"note"`
}

// Beside is what another gauge showed during a test.
type Beside struct {
	Gauge   string `json:"gauge"` // its name
	TraceID string `json:"trace"`
}

// Work is something done to valves between tests: their verdicts lapse.
type Work struct {
	ID     string   `json:"id"`
	JobID  string   `json:"job"`
	Valves []string `json:"valves"` // identities; none: all of the head
	At     int64    `json:"at"`     // ms since 1970 UTC
	By     string   `json:"by"`
	Kind   WorkKind `json:"kind"`
	Note   string   `json:"note"`
}

// WorkKind is what was done. Only what touches seat, guide or valve lapses a
// verdict; a plate put down again or a valve turned is told with the test.
type WorkKind string

// The kinds of work.
const (
	WorkCleaned   WorkKind = "cleaned"
	WorkLapped    WorkKind = "lapped"
	WorkCut       WorkKind = "seat cut"
	WorkValveNew  WorkKind = "valve replaced"
	WorkGuideNew  WorkKind = "guide replaced"
	WorkSeatNew   WorkKind = "seat replaced"
	WorkAssembled WorkKind = "assembled"
	WorkOther     WorkKind = "other"
)

// Rig is a rig as its owner keeps it: what a rig file says, with a name.
type Rig struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	File string `json:"file"` // the rig file (TOML), as written
}

// Check is a dated check of a rig.
type Check struct {
	ID      string `json:"id"`
	RigID   string `json:"rig"`
	At      int64  `json:"at"` // ms since 1970 UTC
	By      string `json:"by"`
	Kind    string `json:"kind"` // one of [CheckKinds]
	Words   string `json:"words"`
	TraceID string `json:"trace,omitempty"` // its samples, where it was made in a session

	Step   string              `json:"step,omitempty"`   // by which way it was made; "": in words only
	Run    string              `json:"run,omitempty"`    // of which session it is
	Fields map[string]string   `json:"fields,omitempty"` // what was typed, as it was
	Rows   []map[string]string `json:"rows,omitempty"`   // and of a table
	Traces []string            `json:"traces,omitempty"` // its samples, pull by pull
	Result json.RawMessage     `json:"result,omitempty"` // what came of it
}

// CheckKinds are the kinds of check, as package check names them.
var CheckKinds = []string{"gauge zero", "gauge", "blanked reading", "rig leak", "known leak", "volume", "pump curve", "shut-off valve", "hose", "dryness", "head temperature", "part changed"}

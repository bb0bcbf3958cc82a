package check

import (
	"strconv"
	"strings"
	"time"

	"seatproof/rig"
	"seatproof/unit"
)

// Kind is what of the rig a check is about. Of one kind the newest speaks.
type Kind string

// The kinds.
const (
	KindZero    Kind = "gauge zero"
	KindGauge   Kind = "gauge" // its line: what it reads against what is
	KindBlanked Kind = "blanked reading"
	KindRigLeak Kind = "rig leak" // a blank must hold
	KindKnown   Kind = "known leak"
	KindVolume  Kind = "volume"
	KindPump    Kind = "pump curve"
	KindShutOff Kind = "shut-off valve"
	KindDry     Kind = "dryness"
	KindHead    Kind = "head temperature"
	KindHose    Kind = "hose"
	KindPart    Kind = "part changed" // no measurement: from then on older checks of what hung on it say nothing
)

// Kinds are all kinds, in the order in which a rig is checked.
var Kinds = []Kind{KindZero, KindGauge, KindBlanked, KindRigLeak, KindKnown, KindVolume, KindPump, KindShutOff, KindHose, KindDry, KindHead, KindPart}

// Method is how a check was made, where its kind has more than one way.
type Method string

// The methods.
const (
	BySecondGauge Method = "second gauge"
	ByColumn      Method = "water column"
	BySyringe     Method = "syringe"
	ByTwoHolds    Method = "two holds"
	ByWater       Method = "water"
	ByHold        Method = "hold"
	ByHand        Method = "by hand" // its value as a person states it
)

// Verdict is what came of a check.
type Verdict string

// The verdicts.
const (
	Found  Verdict = "found" // a figure, with no bar to pass
	Passed Verdict = "passed"
	Failed Verdict = "failed"
	Unsure Verdict = "can't tell yet"
)

// Result is what a check gave. It is plain data, to be kept as it is.
type Result struct {
	Kind     Kind           `json:"kind"`
	Method   Method         `json:"method,omitempty"`
	At       time.Time      `json:"at"` // when it was made, in the place's own time
	Value    unit.Measured  `json:"value"`
	Dim      unit.Dimension `json:"-"` // of Value; 0: it has none. In JSON its SI unit, "unit"
	Verdict  Verdict        `json:"verdict"`
	Evidence []Sentence     `json:"evidence"`     // what was seen, most telling first
	Do       string         `json:"do,omitempty"` // what to do about it, a sentence
	Days     Days           `json:"days"`         // how long it is trusted; 0: as usual for its kind
	Shares   []Share        `json:"shares,omitempty"`

	// What a single value can't hold, nil where the kind has none.
	Line  *rig.GaugeLine  `json:"line,omitempty"`  // of the gauge
	Curve []rig.PumpPoint `json:"curve,omitempty"` // of the pump, vacuum rising; Value is then its flow with no vacuum
	Chart *Chart          `json:"chart,omitempty"` // of the blanked series
	Pump  rig.PumpState   `json:"pump,omitempty"`  // after the shut-off, of a rig leak
	Part  Part            `json:"part,omitempty"`  // that was changed
}

// Share is an input's share of the variance of a value; a result's add to 1.
type Share struct {
	Input string  `json:"input"`
	Share float64 `json:"share"`
}

// Part is a part of the rig that may be changed.
type Part string

// The parts.
const (
	PartPump  Part = "pump"
	PartGauge Part = "gauge"
	PartHose  Part = "hose"
	PartPlate Part = "plate"
	PartValve Part = "shut-off valve"
)

// Figure is a figure in a sentence.
type Figure struct {
	Is  unit.Measured  `json:"is"`
	Dim unit.Dimension `json:"-"` // 0: a bare number. In JSON its SI unit, "unit"
}

// Sentence is a sentence of evidence whose figures take the units of the screen:
// every {} of its text stands for the next figure.
type Sentence struct {
	Text    string   `json:"text"`
	Figures []Figure `json:"figures,omitempty"`
}

// In returns the sentence with its figures as show writes them.
func (s Sentence) In(show func(Figure) string) string {
	parts := strings.Split(s.Text, "{}")
	var b strings.Builder
	for i, p := range parts {
		b.WriteString(p)
		if i < len(parts)-1 && i < len(s.Figures) {
			b.WriteString(show(s.Figures[i]))
		}
	}
	return b.String()
}

// String returns the sentence in kPa, cm³, cm³/min, mm, °C and seconds.
func (s Sentence) String() string { return s.In(Figure.String) }

// String writes the figure in the unit that screens show first.
func (f Figure) String() string {
	if f.Dim == 0 {
		return strconv.FormatFloat(f.Is.Value, 'g', 3, 64)
	}
	u := screenUnit[f.Dim]
	if f.Dim == unit.FlowDim && f.Is.Value >= aLitre {
		u = "L/min"
	}
	digits := 2 // of a ±, which rounds the figure too
	if f.Is.Spread == 0 && f.Dim != unit.RatioDim && f.Dim != unit.FlowDim {
		digits = 3
	}
	return unit.Format(f.Is, f.Dim, u, digits)
}

// aLitre is from which flow [m³/s] on it is told in L/min: a pump's, no leak's.
const aLitre = 1e-3 / 60

var screenUnit = map[unit.Dimension]string{
	unit.PressureDim: "kPa", unit.FlowDim: "cm³/min", unit.LengthDim: "mm", unit.VolumeDim: "cm³",
	unit.TemperatureDim: "°C", unit.TimeDim: "s", unit.RatioDim: "%",
}

// say makes a sentence.
func say(text string, f ...Figure) Sentence { return Sentence{text, f} }

// of makes a figure of a dimension; exactly one without ±.
func of(m unit.Measured, d unit.Dimension) Figure { return Figure{m, d} }
func exactly(x float64, d unit.Dimension) Figure  { return Figure{unit.Exactly(x), d} }
